"""Contours drawn twice: the same within SAME_MM, whatever their direction and start (trade.md 1.8)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from pipeline.geometry.contour import Contour

SAME_MM = 0.01
"""Contours that lie nowhere further apart than this are one."""


def repeats(contours: Sequence[Contour]) -> list[int]:
    """For each contour the index of the first one that is the same, its own where there is none."""
    bounds = np.array([c.bounds for c in contours]).reshape(-1, 4)
    first = list(range(len(contours)))
    order = np.argsort(bounds[:, 0], kind="stable").tolist()
    lines: dict[int, shapely.Geometry] = {}
    for n, k in enumerate(order):
        for j in reversed(order[:n]):
            if bounds[k, 0] - bounds[j, 0] > SAME_MM:
                break
            if first[j] == j and np.abs(bounds[k] - bounds[j]).max() <= SAME_MM:
                low, high = min(j, k), max(j, k)
                if contours[low].closed == contours[high].closed and _same(contours, low, high, lines):
                    first[high] = low
                    for other, f in enumerate(first):
                        if f == high:
                            first[other] = low
                    break
    return first


def _same(contours: Sequence[Contour], a: int, b: int, lines: dict[int, shapely.Geometry]) -> bool:
    for k in (a, b):
        if k not in lines:
            lines[k] = _line(contours[k])
            shapely.prepare(lines[k])
    return all(
        bool(shapely.dwithin(lines[p], shapely.points(shapely.get_coordinates(lines[q])), SAME_MM).all())
        for p, q in ((a, b), (b, a))
    )


def _line(c: Contour) -> shapely.Geometry:
    xy = c.flatten()[0]
    return shapely.LinearRing(xy) if c.closed and len(xy) > 2 else shapely.LineString(xy)


def lying_on(lines: Sequence[Contour], contours: Sequence[Contour]) -> list[bool]:
    """For each open line whether all of it lies within SAME_MM of the contours."""
    if not lines or not contours:
        return [False] * len(lines)
    # A regular polygon of 64 sides about the buffer's circles lies at most 0.3 % inside them.
    wide = [_line(c).buffer(SAME_MM * 1.003, quad_segs=16) for c in contours]
    tree = shapely.STRtree(wide)
    found = []
    for line in map(_line, lines):
        about = [wide[k] for k in sorted(tree.query(line, predicate="intersects").tolist())]
        found.append(bool(about) and bool(shapely.covers(shapely.union_all(about), line)))
    return found
