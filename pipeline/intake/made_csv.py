"""What was cut, from a spreadsheet's CSV beside the made register (``heron.made.csv``), one piece a row.

The first row names the columns: ``piece`` and ``revision`` and any of the others below. ``A``, ``B`` and ``C``
are the dimensions that a page of the shop sheet asks to be gauged; where a piece has several pages, ``page``
names the one they were written on. ``glued`` says yes for a glued blank, whose ``measured`` is its thickness,
and ``machined`` which of its faces are done. An empty cell means that nothing is known.
"""

from __future__ import annotations

from pipeline.core.place import Place
from pipeline.intake.csv_cells import rows_of
from pipeline.intake.reading import Reading, unknown_name
from pipeline.intake.yaml_nodes import Entry, Items, Leaf, Table

SPREADSHEET = ".csv"
GAUGES = ("A", "B", "C")
COLUMNS = (
    "piece", "revision", "date", "count", "measured", "length", "width", "condition", "glued", "machined", "page",
    *GAUGES,
)  # fmt: skip


def made_items(text: str, file: str, reading: Reading) -> Items:
    """The rows as the list that `made:` would hold, ready to be converted, with places in the CSV."""
    columns, rows = rows_of(text, file, COLUMNS)
    names: list[str] = []
    for leaf in columns:
        name = leaf.raw.upper() if leaf.raw.upper() in GAUGES else leaf.raw.lower()
        if name not in COLUMNS:
            unknown_name(leaf.raw, leaf.place, COLUMNS, "the made register", reading)
        elif name in names:
            reading.wrong(f"The column `{name}` stands twice.", leaf.place)
        names.append(name)
    lacking = [needed for needed in ("piece", "revision") if needed not in names]
    for needed in lacking:
        reading.wrong(f"No column is called `{needed}`.", columns[0].place, expected=", ".join(COLUMNS))
    found: list[Table] = []
    if lacking:
        return Items(items=(), place=Place(file=file))
    for cells in rows:
        if len(cells) > len(names):
            reading.wrong("This row has more cells than the first row has names.", cells[len(names)].place)
            continue
        row = {name: cell for name, cell in zip(names, cells, strict=False) if cell.raw and name in COLUMNS}
        found.append(_piece(row, cells[0].place, reading))
    return Items(items=tuple(found), place=Place(file=file))


def _piece(row: dict[str, Leaf], place: Place, reading: Reading) -> Table:
    entries = [
        Entry(key=name, key_place=cell.place, value=_text(cell) if name in ("piece", "revision", "date") else cell)
        for name, cell in row.items()
        if name not in (*GAUGES, "length", "width", "machined", "condition")
    ]
    if "condition" in row:
        cell = row["condition"]
        entries.append(Entry(key="condition", key_place=cell.place, value=_text(cell)))
    gauged = tuple(Entry(key=g, key_place=row[g].place, value=row[g]) for g in GAUGES if g in row)
    if gauged:
        at = gauged[0].key_place
        entries.append(Entry(key="gauged", key_place=at, value=Table(entries=gauged, place=at)))
    size = [row[side] for side in ("length", "width") if side in row]
    if len(size) == 2:
        entries.append(
            Entry(key="size", key_place=size[0].place, value=Items(items=tuple(size), place=size[0].place))
        )
    elif size:
        reading.wrong("A size needs both length and width.", size[0].place, remedy="fill both cells, or neither.")
    if "machined" in row:
        cell = row["machined"]
        words = cell.raw.replace("+", " ").replace("/", " ").replace(",", " ").replace("and", " ").split()
        faces = tuple(Leaf(value=w.lower(), raw=w, place=cell.place) for w in words)
        entries.append(Entry(key="machined", key_place=cell.place, value=Items(items=faces, place=cell.place)))
    return Table(entries=tuple(entries), place=place)


def _text(cell: Leaf) -> Leaf:
    """A cell whose number is meant as words: a date of 2027, a piece called 3."""
    return Leaf(value=cell.raw, raw=cell.raw, place=cell.place)
