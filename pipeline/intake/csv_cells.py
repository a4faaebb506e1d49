"""The cells of a spreadsheet's CSV, each with its place: for parts lists and made registers.

Columns may be separated by commas or, as spreadsheets of many countries do, by semicolons with decimal commas.
"""

from __future__ import annotations

import re

from pipeline.core.errors import refuse
from pipeline.core.place import Place
from pipeline.intake.yaml_nodes import Leaf, scalar

_DECIMAL_COMMA = re.compile(r"([-+]?\d+),(\d+(?:\s*[A-Za-z].*)?)")
_QUOTED = re.compile(r'\s*"((?:[^"]|"")*)"\s*')
MAX_ROWS = 2000


def rows_of(text: str, file: str, columns: tuple[str, ...]) -> tuple[list[Leaf], list[list[Leaf]]]:
    """The cells of the first row, and those of every other row that isn't empty.

    ``columns`` are told where there is no row at all. Raises Refused for an empty file or one with too many rows.
    """
    lines = [line.rstrip("\r") for line in text.removeprefix("\ufeff").split("\n")]
    rows = [(n, line) for n, line in enumerate(lines, start=1) if line.strip(" \t,;")]
    top = Place(file=file)
    if not rows:
        raise refuse("The file is empty.", place=top, expected=f"a first row with {', '.join(columns)}")
    if len(rows) > MAX_ROWS:
        raise refuse(f"There are more than {MAX_ROWS:,} rows.", place=top)
    first, header = rows[0]
    separator = ";" if header.count(";") > header.count(",") else ","
    return cells(header, first, separator, file), [cells(line, n, separator, file) for n, line in rows[1:]]


def cells(line: str, number: int, separator: str, file: str) -> list[Leaf]:
    """The cells of one line. A quoted cell may hold the separator; quotes in it are doubled."""
    found: list[Leaf] = []
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
        found.append(Leaf(value=raw if is_text else value, raw=raw, place=place))
        at = end + 1
    return found
