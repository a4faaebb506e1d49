"""Bought parts from a spreadsheet's CSV, one a row.

The first row names the columns: ``name`` and any of ``count, mass, x, y, z, price, measured, length,
width, height, keep_out, thread, hole, round``. Columns may be separated by commas or, as spreadsheets of many
countries do, by semicolons with decimal commas. An empty cell means the default. Numbers may carry a unit.
"""

from __future__ import annotations

import re

from pipeline.core.errors import refuse
from pipeline.core.place import Place
from pipeline.intake.reading import Reading, unknown_name
from pipeline.intake.yaml_nodes import Entry, Items, Leaf, Table, scalar

COLUMNS = (
    "name", "count", "mass", "x", "y", "z", "price", "measured", "length", "width", "height", "keep_out",
    "thread", "hole", "round",
)  # fmt: skip
_DECIMAL_COMMA = re.compile(r"([-+]?\d+),(\d+(?:\s*[A-Za-z].*)?)")
_QUOTED = re.compile(r'\s*"((?:[^"]|"")*)"\s*')
MAX_ROWS = 2000


def hardware_table(text: str, file: str, reading: Reading) -> Table:
    """The rows as the table that `hardware:` would hold, ready to be converted, with places in the CSV."""
    lines = [line.rstrip("\r") for line in text.split("\n")]
    rows = [(n, line) for n, line in enumerate(lines, start=1) if line.strip()]
    top = Place(file=file)
    if not rows:
        raise refuse("The file is empty.", place=top, expected=f"a first row with {', '.join(COLUMNS)}")
    if len(rows) > MAX_ROWS:
        raise refuse(f"There are more than {MAX_ROWS:,} rows.", place=top)
    first, header = rows[0]
    separator = ";" if header.count(";") > header.count(",") else ","
    columns = _cells(header, first, separator, file)
    for leaf in columns:
        if leaf.raw.lower() not in COLUMNS:
            unknown_name(leaf.raw, leaf.place, COLUMNS, "the parts list", reading)
    names = [leaf.raw.lower() for leaf in columns]
    if "name" not in names:
        reading.wrong("No column is called `name`.", columns[0].place, expected=", ".join(COLUMNS))
    found: dict[str, Entry] = {}
    for number, line in rows[1:]:
        cells = _cells(line, number, separator, file)
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
    return Table(entries=tuple(found.values()), place=top)


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


def _cells(line: str, number: int, separator: str, file: str) -> list[Leaf]:
    """The cells of one line. A quoted cell may hold the separator; quotes in it are doubled."""
    cells: list[Leaf] = []
    at = 0
    while at <= len(line):
        in_quotes = _QUOTED.match(line, at)
        if in_quotes and line[in_quotes.end() : in_quotes.end() + 1] in ("", separator):
            raw, start, end = in_quotes.group(1).replace('""', '"').strip(), in_quotes.start(1), in_quotes.end()
        else:
            end = line.find(separator, at)
            end = len(line) if end < 0 else end
            raw = line[at:end].strip()
            start = end - len(line[at:end].lstrip()) if raw else at
        decimal = _DECIMAL_COMMA.fullmatch(raw) if separator == ";" else None
        if decimal:
            raw = f"{decimal.group(1)}.{decimal.group(2)}"
        value = scalar({"yes": "true", "no": "false"}.get(raw.lower(), raw.lower())) if raw else None
        is_text = isinstance(value, str) or value is None
        place = Place(file=file, line=number, column=start + 1, text=line)
        cells.append(Leaf(value=raw if is_text else value, raw=raw, place=place))
        at = end + 1
    return cells
