"""parts.csv and sequence.csv: plain tables that any spreadsheet opens, and none of them runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.steps.values import WorkLine

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
SEQUENCE_COLUMNS = ("n", "work", "piece", "face", "cutter", "who", "because", "kind", "caution", "price", "day")


def parts_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    """The parts list: one line a row, columns in the order in which the rows first name them."""
    columns = list(dict.fromkeys(key for row in rows for key in row))
    return _csv(columns, ([row.get(c) for c in columns] for row in rows))


def sequence_csv(work: Iterable[WorkLine]) -> str:
    """The order of work, one line a step of it."""
    return _csv(SEQUENCE_COLUMNS, ([getattr(line, c) for c in SEQUENCE_COLUMNS] for line in work))


def cell(value: Any) -> str:
    """A value as a cell: numbers as numbers, words that a spreadsheet would take for a formula behind a quote."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int():
            return str(value)
        case float():
            return f"{round(value, 6) + 0.0:.6f}".rstrip("0").rstrip(".")
        case list() | tuple():
            return cell(" x ".join(cell(v) for v in value))
        case _:
            # Control signs could end a cell early in some readers; leading blanks could hide a formula.
            text = "".join(c if c >= " " or c == "\t" else " " for c in str(value))
            return "'" + text if text.lstrip(" \t").startswith(_STARTS_A_FORMULA) or text[:1] == "\t" else text


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(c) for c in columns])
    writer.writerows([cell(v) for v in row] for row in rows)
    return out.getvalue()
