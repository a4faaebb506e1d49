"""Small curls: where a contour crosses itself and runs round less than a square millimetre (trade.md 1.8)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.segments import Segments, crossings, near_pairs, segments_of

LOOP_MM2 = 1.0
"""Loops that enclose less are slips of the hand."""
SHARE = 0.1
"""… unless they are more than this share of what is left without them: then it is a small figure eight."""
MANY = 200
"""A contour that crosses itself more often is a scribble, and nobody can say which of its loops were meant."""
APART_MM = 1e-4
"""Neighbours meet in their common vertex: only what lies further from it is a crossing."""


@dataclass(frozen=True, slots=True)
class Curl:
    """A loop that was cut off at ``at``: ``area`` in mm², ``reach`` mm that it got away from there."""

    area: float
    at: tuple[float, float]
    reach: float


def without_curls(c: Contour) -> tuple[Contour, tuple[Curl, ...]]:
    """A closed contour without its small loops, the least first; itself where it crosses nowhere."""
    curls: list[Curl] = []
    while True:
        xy = c.flatten()[0]
        if not c.closed or len(xy) < 3 or shapely.is_simple(shapely.LinearRing(xy)):
            return c, tuple(curls)
        cut = _least(c)
        if cut is None:
            return c, tuple(curls)
        c, curl = cut
        curls.append(curl)


def _least(c: Contour) -> tuple[Contour, Curl] | None:
    """The contour without its smallest loop, None when no loop is small or there are too many."""
    segs = segments_of([c])
    i, j = near_pairs(segs)
    if len(i) > MANY * len(segs):
        return None
    pair, points, _ = crossings(segs, i, j)
    i, j = i[pair], j[pair]
    s, t = segs.along(i, points)[0], segs.along(j, points)[0]
    inside = (s >= 0) & (s <= segs.length[i]) & (t >= 0) & (t <= segs.length[j])
    n = len(segs)
    for a, b, shared in ((i, j, segs.q[i]), (j, i, segs.p[i])):
        beside = (a + 1) % n == b
        inside &= ~beside | (np.hypot(*(points - shared).T) > APART_MM)
    if np.count_nonzero(inside) > MANY:
        return None
    run = np.concatenate([[0.0], np.cumsum(segs.length)])
    best: tuple[float, Contour, Curl] | None = None
    for k in np.flatnonzero(inside).tolist():
        way = run[j[k]] + t[k] - run[i[k]] - s[k]
        on = _round(segs, int(i[k]), s[k], int(j[k]), t[k], points[k])
        off = _round(segs, int(j[k]), t[k], int(i[k]), s[k], points[k])
        loop, rest = (on, off) if way <= run[-1] - way else (off, on)
        if loop is None or rest is None:
            continue
        area = abs(loop.area)
        if area >= LOOP_MM2 or area > SHARE * abs(rest.area) or (best and best[0] <= area):
            continue
        reach = float(np.hypot(*(loop.xy - points[k]).T).max())
        best = area, rest, Curl(area, (float(points[k, 0]), float(points[k, 1])), reach)
    return (best[1], best[2]) if best else None


def _round(segs: Segments, i: int, s: float, j: int, t: float, at: Floats) -> Contour | None:
    """The closed contour from ``at``, ``s`` mm along segment i, on to ``t`` mm along segment j, which is there
    too. None when nothing of a length lies between."""
    n = len(segs)
    middle = [k % n for k in range(i + 1, j if j > i else j + n)]
    starts = np.vstack([at, segs.p[middle], segs.p[j]])
    bulge = np.concatenate([[0.0], segs.bulge[middle], [0.0]])
    for place, k, length, far in ((0, i, segs.length[i] - s, segs.q[i]), (-1, j, t, segs.p[j])):
        if segs.bulge[k]:
            chord = np.hypot(*(far - at))
            bulge[place] = segs.part_bulge(np.array([k]), np.array([length]), np.array([chord]))[0]
    free = np.concatenate([[segs.free[i]], segs.free[middle], [segs.free[j]]])
    long = np.hypot(*(np.roll(starts, -1, axis=0) - starts).T) > 0
    if long.sum() < 2:
        return None
    return Contour(starts[long], bulge[long], free[long])
