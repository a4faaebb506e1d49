"""Looks for the wall at which chambers leave a blank of the wanted mass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from pipeline.geometry.region import Region
from pipeline.steps.chambers_plan import LEAST_CELL_MM2, Box, Ground

STEP_MM = 0.001
"""The wall is looked for in whole steps of this."""
ENOUGH_G = 0.1
"""What is aimed at; WITHIN_G is what must be reached."""
WITHIN_G = 1.0
SLACK_MM2 = 2.0
"""What flattening may change of the area of a chamber that is about as small as one may be."""
TRIES = 4
"""Exact chambers that are made at most: each corrects what flattening got wrong of the one before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Chambers as solved: exact regions, the wall behind them, the webs between them, what of them was filled
    again where a wall alone takes too much or too little, and how many were too small."""

    cells: tuple[Region, ...]
    wall_mm: float
    webs: tuple[Box, ...] = ()
    filled: tuple[Box, ...] = ()
    dropped: int = 0

    @property
    def area(self) -> float:
        return sum(c.area for c in self.cells)


def planned(
    exact: Ground[Region], flat: Ground[Any], wall_mm: float, webs: Sequence[Box], filled: Sequence[Box] = ()
) -> Plan:
    """The exact chambers at one wall. Which are too small is taken from the flattened ones, so that both agree."""
    rough, _ = flat.cells(wall_mm, [*webs, *filled])
    cells, dropped = exact.cells(wall_mm, [*webs, *filled], LEAST_CELL_MM2 - SLACK_MM2)
    kept = [c for c in cells if any(shapely.intersection(c.polygon, r).area > r.area / 2 for r in rough)]
    dropped += len(cells) - len(kept)
    return Plan(cells=tuple(kept), wall_mm=wall_mm, webs=tuple(webs), filled=tuple(filled), dropped=dropped)


def sized(exact: Ground[Region], flat: Ground[Any], full: Plan, area_mm2: float, g_per_mm2: float) -> Plan:
    """The chambers whose areas sum to ``area_mm2``, as near as they come; ``full`` is the plan at the least wall.

    The area falls as the wall grows, so the wall is halved in on. Where it falls at once (a neck closes for the
    cutter, a chamber gets smaller than a bore), the wall just before is taken and the end of one chamber filled;
    where that doesn't help either, the smallest chamber is given up and the wall looked for again.
    """
    aim, best = area_mm2, full
    for _ in range(TRIES):
        wall, filled = _searched(flat, full, aim, ENOUGH_G / g_per_mm2)
        plan = planned(exact, flat, wall, full.webs, filled)
        if abs(plan.area - area_mm2) < abs(best.area - area_mm2):
            best = plan
        if abs(plan.area - area_mm2) * g_per_mm2 <= 2 * ENOUGH_G:
            break
        aim += area_mm2 - plan.area
    return best


def _searched(flat: Ground[Any], full: Plan, aim: float, enough: float) -> tuple[float, list[Box]]:
    """(wall, what is filled) on flattened shapes, the summed area within ``enough`` of ``aim`` where that can be,
    else as near as was found."""
    given_up: list[Box] = []
    best: tuple[float, float, list[Box]] | None = None
    while True:
        webs = [*full.webs, *given_up]
        wall, off = _walled(flat, full.wall_mm, webs, aim, enough)
        end = None
        if abs(off) > enough:
            end = _filled(flat, wall, webs, aim, enough)
        if best is None or abs(off) < best[0] or end:
            best = (0.0 if end else abs(off), wall, [*given_up, *([end] if end else [])])
        cells, _ = flat.cells(full.wall_mm, webs)
        if best[0] <= enough or sum(p.area for p in cells) < aim or not cells:
            return best[1], best[2]
        x0, y0, x1, y1 = min(cells, key=lambda p: (p.area, p.bounds)).bounds
        given_up.append((math.floor(x0) - 1.0, math.floor(y0) - 1.0, math.ceil(x1) + 1.0, math.ceil(y1) + 1.0))


def _walled(
    flat: Ground[Any], least: float, webs: Sequence[Box], aim: float, enough: float
) -> tuple[float, float]:
    """(wall, area too much): the wall that comes within ``enough`` of ``aim``, else the one just before the area
    falls below it at once."""

    def off(k: int) -> float:
        return _total(flat, _at(least, k), webs) - aim

    x0, y0, x1, y1 = flat.inside.bounds
    low, high = 0, math.ceil(max(x1 - x0, y1 - y0) / 2 / STEP_MM)
    too_much = off(low)
    if too_much <= 0:
        return least, too_much
    too_little, last = -aim, 0.0
    while high - low > 1:
        middle = _between(low, high, too_much, too_little, last)
        now = off(middle)
        last = (middle - low) / (high - low) if now >= 0 else (high - middle) / (high - low)
        if now >= 0:
            low, too_much = middle, now
        else:
            high, too_little = middle, now
    return (_at(least, high), too_little) if -too_little <= enough < too_much else (_at(least, low), too_much)


def _between(low: int, high: int, too_much: float, too_little: float, last: float) -> int:
    """The whole step to be tried next: where a straight line between the two ends crosses zero, else the middle
    when the last try took off less than half. It is nudged toward the farther end, so that both ends close in."""
    if last < 0.5 and last > 0.0:
        return (low + high) // 2
    at = low + (high - low) * too_much / (too_much - too_little)
    nudged = at + 1.0 if at - low < high - at else at - 1.0
    return min(max(round(nudged), low + 1), high - 1)


def _at(least: float, k: int) -> float:
    return round(least + k * STEP_MM, 3)


def _total(flat: Ground[Any], wall: float, webs: Sequence[Box]) -> float:
    cells, _ = flat.cells(wall, webs)
    return float(sum(p.area for p in cells))


def _filled(flat: Ground[Any], wall: float, webs: Sequence[Box], aim: float, enough: float) -> Box | None:
    """The end of a chamber to be filled so that ``aim`` is left; the largest chamber, its longer side first."""
    cells, _ = flat.cells(wall, webs)
    for cell in sorted(cells, key=lambda p: (-p.area, p.bounds)):
        x0, y0, x1, y1 = cell.bounds
        along = (x1 - x0, y1 - y0)
        for axis, far in sorted(((0, True), (0, False), (1, True), (1, False)), key=lambda s: -along[s[0]]):
            low, high = 0.0, along[axis]
            while high - low > STEP_MM:
                middle = (low + high) / 2
                more = _total(flat, wall, [*webs, _end(cell.bounds, axis, far, middle)]) >= aim
                low, high = (middle, high) if more else (low, middle)
            box = _end(cell.bounds, axis, far, low)
            if abs(_total(flat, wall, [*webs, box]) - aim) <= enough:
                return box
    return None


def _end(bounds: Box, axis: int, far: bool, depth_mm: float) -> Box:
    """The last ``depth_mm`` of a box along x (axis 0) or y, at its far or near end, and 1 mm past its sides."""
    low, high = [bounds[0] - 1.0, bounds[1] - 1.0], [bounds[2] + 1.0, bounds[3] + 1.0]
    if far:
        low[axis] = bounds[axis + 2] - depth_mm
    else:
        high[axis] = bounds[axis] + depth_mm
    return round(low[0], 3), round(low[1], 3), round(high[0], 3), round(high[1], 3)
