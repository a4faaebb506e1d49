"""The order of work at two revisions: what is new, gone, different, or done at another time."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

_NUMBERS = re.compile(r"-?\d+(\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkChange:
    """One line of work: ``what`` is ``added``, ``gone``, ``changed`` or ``moved``; ``old`` and ``new`` say it
    with its number in the order, "" where it isn't there."""

    what: str
    piece: str
    old: str
    new: str


def order_changes(old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]) -> tuple[WorkChange, ...]:
    """The lines that differ, in the new order; none where one of the orders isn't known.

    Lines of the same work on the same piece that differ in numbers alone are one line, changed.
    """
    if not old or not new:
        return ()
    a, b = [_key(v) for v in old], [_key(v) for v in new]
    gone: dict[tuple[str, ...], list[int]] = {}
    added: list[int] = []
    for op, i0, i1, j0, j1 in SequenceMatcher(a=a, b=b, autojunk=False).get_opcodes():
        if op != "equal":
            for i in range(i0, i1):
                gone.setdefault(_rough(old[i]), []).append(i)
            added += range(j0, j1)
    found: list[WorkChange] = []
    for j in added:
        there = gone.get(_rough(new[j]), [])
        match = next((i for i in there if a[i] == b[j]), there[0] if there else None)
        if match is None:
            found.append(WorkChange(what="added", piece=_piece(new[j]), old="", new=_said(new[j])))
            continue
        there.remove(match)
        what = "moved" if a[match] == b[j] else "changed"
        found.append(WorkChange(what=what, piece=_piece(new[j]), old=_said(old[match]), new=_said(new[j])))
    left = sorted(i for rows in gone.values() for i in rows)
    return (*found, *(WorkChange(what="gone", piece=_piece(old[i]), old=_said(old[i]), new="") for i in left))


def _key(row: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(str(row.get(k, "")) for k in ("work", "piece", "face", "cutter"))


def _rough(row: Mapping[str, Any]) -> tuple[str, ...]:
    """A line without its numbers and its cutter: what makes it the same work."""
    return _NUMBERS.sub("#", str(row.get("work", ""))), str(row.get("piece", "")), str(row.get("face", ""))


def _piece(row: Mapping[str, Any]) -> str:
    return str(row.get("piece", ""))


def _said(row: Mapping[str, Any]) -> str:
    tail = ", ".join(str(row[k]) for k in ("piece", "face", "cutter") if row.get(k))
    return f"{row.get('n', '')}. {row.get('work', '')}" + (f" ({tail})" if tail else "")
