"""Bought parts from a spreadsheet's CSV, one a row.

The first row names the columns: ``name`` and any of ``count, mass, x, y, z, price, measured, length,
width, height, keep_out, thread, hole, round``. Columns may be separated by commas or, as spreadsheets of many
countries do, by semicolons with decimal commas. An empty cell means the default. Numbers may carry a unit.
"""

from __future__ import annotations

from pipeline.core.place import Place
from pipeline.intake.csv_cells import rows_of
from pipeline.intake.reading import Reading, unknown_name
from pipeline.intake.yaml_nodes import Entry, Items, Leaf, Table

COLUMNS = (
    "name", "count", "mass", "x", "y", "z", "price", "measured", "length", "width", "height", "keep_out",
    "thread", "hole", "round",
)  # fmt: skip


def hardware_table(text: str, file: str, reading: Reading) -> Table:
    """The rows as the table that `hardware:` would hold, ready to be converted, with places in the CSV."""
    columns, rows = rows_of(text, file, COLUMNS)
    for leaf in columns:
        if leaf.raw.lower() not in COLUMNS:
            unknown_name(leaf.raw, leaf.place, COLUMNS, "the parts list", reading)
    names = [leaf.raw.lower() for leaf in columns]
    if "name" not in names:
        reading.wrong("No column is called `name`.", columns[0].place, expected=", ".join(COLUMNS))
    found: dict[str, Entry] = {}
    for cells in rows:
        if len(cells) > len(names):
            extra = cells[len(names)]
            reading.wrong("This row has more cells than the first row has names.", extra.place)
            continue
        row = {name: cell for name, cell in zip(names, cells, strict=False) if cell.raw}
        part = row.get("name")
        if part is None:
            reading.wrong("This part has no name.", cells[0].place)
        elif part.raw in found:
            line_before = found[part.raw].key_place.line
            reading.wrong(f'"{part.raw}" stands twice; the first is in line {line_before}.', part.place)
        else:
            found[part.raw] = Entry(key=part.raw, key_place=part.place, value=_part(row, part.place, reading))
    return Table(entries=tuple(found.values()), place=Place(file=file))


def _part(row: dict[str, Leaf], place: Place, reading: Reading) -> Table:
    entries = [
        Entry(key=name, key_place=cell.place, value=cell)
        for name, cell in row.items()
        if name in ("count", "mass", "price", "measured", "keep_out", "thread", "hole", "round")
    ]
    at = [row[axis] for axis in "xyz" if axis in row]
    if len(at) == 3:
        entries.append(Entry(key="at", key_place=at[0].place, value=Items(items=tuple(at), place=at[0].place)))
    elif at:
        reading.wrong("A place needs x, y and z.", at[0].place, remedy="fill all three cells, or none.")
    size = [row[side] for side in ("length", "width", "height") if side in row]
    if size:
        entries.append(
            Entry(key="size", key_place=size[0].place, value=Items(items=tuple(size), place=size[0].place))
        )
    return Table(entries=tuple(entries), place=place)
