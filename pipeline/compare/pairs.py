"""Which line of the new state is which line of the old one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.compare.measure import SAME_MM, Point
from pipeline.compare.state import Line

FAR_MM = 25.0
"""A hole that is gone and one of its size within this are the same hole, moved (our own judgement)."""
AS_FIT_MM = 1e-4
"""Circles nearer than this are one circle drawn twice: an index hole shown in a second set-up."""

Classes = dict[tuple[str, str], list[Line]]
Pair = tuple[Line | None, Line | None]


@dataclass(frozen=True, slots=True)
class Round:
    """A hole: its middle and its diameter in mm."""

    x: float
    y: float
    diameter: float

    @property
    def at(self) -> Point:
        return self.x, self.y


def hole_of(line: Line) -> Round | None:
    """The round hole that a line is, None where it is something else."""
    found = line.contour.circle() if line.work in ("CUT_INSIDE", "DRILL", "INDEX") else None
    return Round(found[0], found[1], 2 * found[2]) if found else None


def classes(lines: Sequence[Line]) -> Classes:
    """Lines by (kind, face): what can be the same thing at all. A through line counts alike from either face."""
    found: Classes = {}
    holes = [h for line in lines if line.work != "INDEX" and line.goes_through and (h := hole_of(line))]
    for line in lines:
        kind = kind_of(line)
        hole = hole_of(line)
        if (
            kind == "index"
            and hole
            and any(
                math.dist(hole.at, h.at) < AS_FIT_MM and abs(hole.diameter - h.diameter) < AS_FIT_MM for h in holes
            )
        ):
            continue  # it is bored in another set-up of the same piece
        found.setdefault((kind, "" if line.goes_through else line.face), []).append(line)
    return found


def kind_of(line: Line) -> str:
    """``outside``, ``opening``, ``hole``, ``blind hole``, ``index``, ``pocket``, ``groove``, ``score``,
    ``carve line`` or ``engraving``."""
    match line.work:
        case "CUT_OUTSIDE":
            return "outside"
        case "CUT_INSIDE":
            return "hole" if line.contour.circle() else "opening"
        case "DRILL":
            return "hole" if line.through else "blind hole"
        case "POCKET" | "RAMP":
            return "pocket"
        case "CARVE_LINE":
            return "carve line"
        case "ENGRAVE":
            return "engraving"
        case _:
            return line.work.lower()


def paired(kind: str, old: Sequence[Line], new: Sequence[Line]) -> list[Pair]:
    """Old and new lines of one class, in the order of the new ones; then what is gone."""
    if kind in ("hole", "blind hole", "index"):
        links = _holes([_round(v) for v in old], [_round(v) for v in new])
    else:
        links = _shapes(old, new)
    back = {j: i for i, j in links.items()}
    pairs: list[Pair] = [(old[back[j]] if j in back else None, line) for j, line in enumerate(new)]
    return pairs + [(line, None) for i, line in enumerate(old) if i not in links]


def _round(line: Line) -> Round:
    hole = hole_of(line)
    if hole is None:  # a drilled shape that is no circle: its box stands in
        x0, y0, x1, y1 = line.contour.bounds
        return Round((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0)
    return hole


def _holes(old: Sequence[Round], new: Sequence[Round]) -> dict[int, int]:
    """First holes in the same place, whatever their size; then of one size within FAR_MM; the nearest first."""
    links: dict[int, int] = {}
    ranked = sorted(
        (math.dist(a.at, b.at), abs(a.diameter - b.diameter), i, j)
        for i, a in enumerate(old)
        for j, b in enumerate(new)
    )
    for same_place, same_size in ((SAME_MM, True), (None, False), (FAR_MM, True)):
        for away, size, i, j in ranked:
            near = away < (same_place if same_place is not None else old[i].diameter / 2)
            if i not in links and j not in links.values() and near and (size < SAME_MM or not same_size):
                links[i] = j
    return links


def _shapes(old: Sequence[Line], new: Sequence[Line]) -> dict[int, int]:
    """The nearest boxes first, as long as they overlap; a single one left on either side of a like size, too."""
    if not old or not new:
        return {}
    a, b = (np.array([v.contour.bounds for v in lines]) for lines in (old, new))
    off = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2)
    links: dict[int, int] = {}
    for at in np.argsort(off, axis=None, kind="stable").tolist():
        i, j = divmod(at, len(new))
        if i not in links and j not in links.values() and _overlap(a[i].tolist(), b[j].tolist()):
            links[i] = j
    left = [i for i in range(len(old)) if i not in links], [j for j in range(len(new)) if j not in links.values()]
    if len(left[0]) == len(left[1]) == 1 and _alike(a[left[0][0]].tolist(), b[left[1][0]].tolist()):
        links[left[0][0]] = left[1][0]
    return links


def _overlap(a: Sequence[float], b: Sequence[float]) -> bool:
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def _alike(a: Sequence[float], b: Sequence[float]) -> bool:
    sizes = [(v[2] - v[0], v[3] - v[1]) for v in (a, b)]
    return all(abs(p - q) <= 0.1 * max(p, q) for p, q in zip(*sizes, strict=True))
