"""Which area contours enclose: by a fill rule, or nested even-odd (SVG 2, painting).

A simple contour, and contours that nest without touching, come through untouched. Where they cross
themselves or each other, exact curves are cut at their crossings and the winding number decides.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.boolean import union
from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.nodes import noded
from pipeline.geometry.region import EMPTY, Part, Region, region
from pipeline.geometry.segments import Segments, near_pairs, segments_of
from pipeline.geometry.tidy import is_sliver
from pipeline.geometry.trace import area_of
from pipeline.intake.drawing.contours import NoContour

TOUCH_MM = 0.01
"""Contours that overlap by a strip no wider than this touch: they don't cross."""
TANGLED = 20
"""So many meetings a segment are a scribble: no drawing of a thing comes near, and its area takes for ever."""

Ints = np.typing.NDArray[np.int64]
Geometries = np.typing.NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Crossing:
    """Two contours (or one with itself) cross at ``at``: no area is certain."""

    first: int
    second: int
    at: tuple[float, float]


def by_rule(contours: Sequence[Contour], even_odd: bool) -> Region:
    """The inside of closed contours by a fill rule: nonzero unless ``even_odd``."""
    if not contours:
        return EMPTY
    rings = _rings(contours)
    if _simple(contours, rings).all() and not _meetings(rings):
        return _by_nesting(contours, rings, even_odd)
    return _by_winding(contours, even_odd)


def nested(contours: Sequence[Contour]) -> Region | Crossing:
    """The area of unfilled closed contours, nested even-odd; the crossing where they aren't nested."""
    if not contours:
        return EMPTY
    rings = _rings(contours)
    simple = _simple(contours, rings)
    for i in np.flatnonzero(~simple).tolist():
        if not _only_spikes(contours[i]):
            return Crossing(i, i, _where_invalid(contours[i]))
    meetings = _meetings(rings)
    for i, j in meetings:
        at = _real_crossing(contours[i], contours[j])
        if at is not None:
            return Crossing(i, j, at)
    if meetings or not simple.all():
        return _by_winding(contours, True)
    return _by_nesting(contours, rings, True)


def united(regions: Sequence[Region]) -> Region:
    """All regions together; those that meet no other one are left exactly as they are."""
    filled = [r for r in regions if r]
    if len(filled) < 2:
        return filled[0] if filled else EMPTY
    shapes = [r.polygon for r in filled]
    i, j = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    above = list(range(len(filled)))  # each leads to the first of those it hangs together with

    def first(k: int) -> int:
        while above[k] != k:
            above[k] = above[above[k]]
            k = above[k]
        return k

    for a, b in zip(i.tolist(), j.tolist(), strict=True):
        low, high = sorted((first(a), first(b)))
        above[high] = low
    groups: dict[int, list[Region]] = {}
    for k, r in enumerate(filled):
        groups.setdefault(first(k), []).append(r)
    together = (g[0] if len(g) == 1 else union(*g) for g in groups.values())
    return region(part for r in together for part in r.parts)


def _rings(contours: Sequence[Contour]) -> Geometries:
    """The flattened contours as rings; None where one has fewer than three points."""
    flat = [c.flatten()[0] for c in contours]
    return np.array([shapely.LinearRing(xy) if len(xy) > 2 else None for xy in flat], dtype=object)


def _simple(contours: Sequence[Contour], rings: Geometries) -> Bools:
    """Which contours cross nowhere and enclose something."""
    empty = np.array([is_sliver(c) for c in contours], dtype=np.bool_)
    simple: Bools = shapely.is_simple(rings) & ~empty
    return simple


def _only_spikes(c: Contour) -> bool:
    """Runs to and fro on itself but encloses one certain area: as much as its signed area says."""
    inside = _by_winding([c], False)
    return abs(inside.area - abs(c.area)) <= 1e-6 * c.length


def _where_invalid(c: Contour) -> tuple[float, float]:
    reason = shapely.is_valid_reason(shapely.Polygon(c.flatten()[0]))
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    x, y = (float(found[1]), float(found[2])) if found else c.xy[0].tolist()
    return x, y


def _meetings(rings: Geometries) -> list[tuple[int, int]]:
    """Pairs of contours whose lines touch or cross."""
    if len(rings) < 2:
        return []
    i, j = shapely.STRtree(rings).query(rings, predicate="intersects")
    return sorted((a, b) for a, b in zip(i.tolist(), j.tolist(), strict=True) if a < b)


def _real_crossing(a: Contour, b: Contour) -> tuple[float, float] | None:
    """Where two simple contours cross; None when they lie side by side or one in the other."""
    p, q = (shapely.make_valid(shapely.Polygon(c.flatten()[0])) for c in (a, b))
    strip = TOUCH_MM * min(a.length, b.length) / 2
    both, only_p, only_q = p & q, p - q, q - p
    if min(both.area, only_p.area, only_q.area) <= strip:
        return None
    spot = shapely.get_coordinates(shapely.boundary(p) & shapely.boundary(q))
    return float(spot[0, 0]), float(spot[0, 1])


def _by_nesting(contours: Sequence[Contour], rings: Geometries, even_odd: bool) -> Region:
    """Simple contours that neither touch nor cross: a contour is an edge where the rule changes."""
    discs = shapely.polygons(rings)
    size = shapely.area(discs).tolist()
    order = sorted(range(len(contours)), key=lambda k: -size[k])
    shapely.prepare(discs)
    spots = shapely.points([c.xy[0] for c in contours])
    inner, outer = shapely.STRtree(discs).query(spots, predicate="within")
    around: dict[int, set[int]] = {k: set() for k in range(len(contours))}
    for i, o in zip(inner.tolist(), outer.tolist(), strict=True):
        if i != o:
            around[i].add(o)
    turn = [1 if c.area > 0 else -1 for c in contours]

    def painted(members: set[int]) -> bool:
        return len(members) % 2 == 1 if even_odd else sum(turn[m] for m in members) != 0

    edges = {k for k in order if painted(around[k]) != painted(around[k] | {k})}
    holes: dict[int, list[Contour]] = {k: [] for k in edges if painted(around[k] | {k})}
    for k in order:
        if k in edges and k not in holes:
            parent = min((e for e in around[k] if e in edges), key=lambda e: size[e])
            holes[parent].append(contours[k])
    return region(Part(contours[k], tuple(hs)) for k, hs in holes.items())


def _by_winding(contours: Sequence[Contour], even_odd: bool) -> Region:
    flat = [c.flatten()[0] for c in contours]

    def inside(points: Floats) -> Bools:
        turns = np.zeros(len(points), dtype=np.int64)
        for xy in flat:
            turns += _winding(points, xy)
        chosen: Bools = turns % 2 == 1 if even_odd else turns != 0
        return chosen

    segs = segments_of(contours)
    if is_tangled(segs):
        raise NoContour("its lines cross each other too often for a certain area")
    return area_of(noded(segs), inside)


def is_tangled(segs: Segments) -> bool:
    """Whether lines and arcs meet each other so often that they are a scribble."""
    return len(near_pairs(segs)[0]) > TANGLED * len(segs) + 1000


def _winding(points: Floats, xy: Floats) -> Ints:
    """Winding number of a closed polygon (n, 2) about points (k, 2): signed crossings of a ray to +x."""
    p, q = xy, np.roll(xy, -1, axis=0)
    result = np.zeros(len(points), dtype=np.int64)
    step = max(1, 4_000_000 // max(len(xy), 1))
    for at in range(0, len(points), step):
        x, y = points[at : at + step, 0, None], points[at : at + step, 1, None]
        side = (q[:, 0] - p[:, 0]) * (y - p[:, 1]) - (x - p[:, 0]) * (q[:, 1] - p[:, 1])
        up = (p[:, 1] <= y) & (q[:, 1] > y) & (side > 0)
        down = (p[:, 1] > y) & (q[:, 1] <= y) & (side < 0)
        result[at : at + step] = up.sum(axis=1) - down.sum(axis=1)
    return result
