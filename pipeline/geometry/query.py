"""Measuring regions: how far apart, whether one covers the other, where it gets thin."""

from __future__ import annotations

import math

import numpy as np
import shapely

from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import FLATTEN_MM, Contour, Floats
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Part, Region
from pipeline.geometry.segments import SAME_MM, Ints, Segments, crossings, segments_of

Point = tuple[float, float]

CORNER_RAD = math.radians(150)
"""A rest that turns less than this round one end is a corner a cutter can't reach, not a thin place."""


def nearest_boundary(region: Region, x: float, y: float) -> tuple[float, Point]:
    """(mm, point): how far the nearest point of the boundary lies from (x, y), and that point. Exact.

    Raises ValueError on an empty region.
    """
    _not_empty(region)
    segs = segments_of(region.contours)
    mm, foot = feet(segs, np.arange(len(segs)), np.tile([x, y], (len(segs), 1)))
    k = int(mm.argmin())
    return float(mm[k]), (float(foot[k, 0]), float(foot[k, 1]))


def distance(a: Region, b: Region) -> tuple[float, Point]:
    """(mm, point on a): the least distance between the two boundaries, exact for lines and arcs.

    0 where they meet. A region within the other counts too: its wall is measured. Raises ValueError
    when one is empty.
    """
    _not_empty(a)
    _not_empty(b)
    rough = shapely.distance(a.polygon.boundary, b.polygon.boundary) + 4 * FLATTEN_MM
    one, two = segments_of(a.contours), segments_of(b.contours)
    box_a, box_b = (shapely.box(*s.boxes.T) for s in (one, two))
    i, j = shapely.STRtree(box_b).query(box_a, predicate="dwithin", distance=rough)
    mm, points = _between(one, i, two, j)
    k = int(mm.argmin())
    return float(mm[k]), (float(points[k, 0]), float(points[k, 1]))


def covers(a: Region, b: Region, slack_mm: float = 0.0) -> bool:
    """Whether no point of b lies further than ``slack_mm`` outside of a (within two hundredths of the slack,
    and never finer than the flattening)."""
    if not b:
        return True
    if not a:
        return False
    wide = shapely.buffer(a.polygon, max(slack_mm, 0.0) + 2 * FLATTEN_MM, quad_segs=32)
    return bool(shapely.covers(wide, b.polygon))


def thin_places(region: Region, width_mm: float) -> tuple[Point, ...]:
    """Where the region is thinner than ``width_mm``: one point in each such place, sorted.

    These are the rests that a disc of that width can't reach. A rest at one convex corner, however
    sharp up to 30°, is only a corner and doesn't count.
    """
    reached = offset(offset(region, -width_mm / 2), width_mm / 2)
    rests = difference(region, reached)
    edges = segments_of(region.contours)
    found = [_spot(p) for p in rests.parts if _is_thin(p, edges, reached)]
    return tuple(sorted(found))


def _is_thin(rest: Part, edges: Segments, reached: Region) -> bool:
    segs = segments_of([rest.outer])
    mouth = np.array([_on_none(edges, m) for m in segs.middle])
    runs = int(np.sum(mouth & ~np.roll(mouth, 1)))
    if rest.holes or runs > 1:
        return True
    if runs == 0:
        # No mouth at all: a whole part that vanished, or a rest too shallow to tell.
        return not reached or shapely.distance(rest.polygon, reached.polygon) > 2 * FLATTEN_MM
    return _turning(rest.outer, ~mouth) > CORNER_RAD


def _on_none(edges: Segments, point: Floats) -> bool:
    mm, _ = feet(edges, np.arange(len(edges)), np.tile(point, (len(edges), 1)))
    return float(mm.min()) > 10 * SAME_MM


def _turning(c: Contour, on_edge: np.typing.NDArray[np.bool_]) -> float:
    """How far the contour turns along the segments of one run, corners within it included, in radians."""
    leaving, arriving = c.tangents()
    ahead = np.roll(leaving, -1, axis=0)
    cross = arriving[:, 0] * ahead[:, 1] - arriving[:, 1] * ahead[:, 0]
    corner = np.arctan2(cross, np.sum(arriving * ahead, axis=1))
    within = on_edge & np.roll(on_edge, -1)
    return float(np.sum(4 * np.arctan(c.bulges[on_edge])) + np.sum(corner[within]))


def _spot(rest: Part) -> Point:
    centre = shapely.centroid(rest.polygon)
    point = centre if shapely.contains(rest.polygon, centre) else shapely.point_on_surface(rest.polygon)
    return float(point.x), float(point.y)


def _not_empty(region: Region) -> None:
    if not region:
        raise ValueError("an empty region has no boundary to measure from")


def feet(segs: Segments, i: Ints, points: Floats) -> tuple[Floats, Floats]:
    """Distances (k,) of ``points`` from the segments ``i`` and the nearest points there (k, 2)."""
    s, _ = segs.along(i, points)
    within = (s >= 0) & (s <= segs.length[i])
    foot = segs.at(i, np.clip(s, 0, segs.length[i]))
    p, q = segs.p[i], segs.q[i]
    to_p, to_q = np.hypot(*(points - p).T), np.hypot(*(points - q).T)
    end = np.where((to_p <= to_q)[:, None], p, q)
    foot = np.where(within[:, None], foot, end)
    return np.hypot(*(points - foot).T), foot


def _between(a: Segments, i: Ints, b: Segments, j: Ints) -> tuple[Floats, Floats]:
    """Least distances of segment pairs and the points on a. The least lies at a crossing, at an end of
    one of the two, or where a straight line through a centre meets both at right angles."""
    a, b = a[i], b[j]
    n = np.arange(len(i))
    mm, points = feet(a, n, b.p)
    for tried in (feet(a, n, b.q), _end(b, n, a.p), _end(b, n, a.q)):
        mm, points = _nearer(mm, points, *tried)
    for on_a, on_b in _common_normals(a, b):
        off_a, near_a = feet(a, n, on_a)
        off_b, near_b = feet(b, n, on_b)
        ok = (off_a < SAME_MM) & (off_b < SAME_MM)
        mm, points = _nearer(mm, points, np.where(ok, np.hypot(*(near_a - near_b).T), np.inf), near_a)
    both = Segments(*(np.concatenate([getattr(a, x), getattr(b, x)]) for x in Segments.__slots__))
    pair, at, _ = crossings(both, n, n + len(n))
    hit = (feet(a, pair, at)[0] < SAME_MM) & (feet(b, pair, at)[0] < SAME_MM)
    mm[pair[hit]], points[pair[hit]] = 0.0, at[hit]
    return mm, points


def _end(b: Segments, n: Ints, ends: Floats) -> tuple[Floats, Floats]:
    return feet(b, n, ends)[0], ends


def _nearer(mm: Floats, points: Floats, other: Floats, there: Floats) -> tuple[Floats, Floats]:
    less = other < mm
    return np.where(less, other, mm), np.where(less[:, None], there, points)


def _common_normals(a: Segments, b: Segments) -> list[tuple[Floats, Floats]]:
    """Pairs of points, one on each full curve, whose connection stands square on both (nan where none)."""
    curved_a, curved_b = (a.bulge != 0)[:, None], (b.bulge != 0)[:, None]

    def unit(v: Floats) -> Floats:
        length: Floats = np.hypot(v[:, 0], v[:, 1])
        one: Floats = v / np.where(length > 0, length, np.nan)[:, None]
        return one

    def foot(point: Floats, line: Segments) -> Floats:
        u = unit(line.q - line.p)
        on_line: Floats = line.p + u * np.sum((point - line.p) * u, axis=1)[:, None]
        return on_line

    from_a = np.where(curved_b, b.centre, foot(a.centre, b)) - a.centre
    from_b = np.where(curved_a, a.centre, foot(b.centre, a)) - b.centre
    ra, rb = a.radius[:, None], b.radius[:, None]
    at_a = [np.where(curved_a, a.centre + unit(from_a) * ra * s, foot(b.centre, a)) for s in (1, -1)]
    at_b = [np.where(curved_b, b.centre + unit(from_b) * rb * s, foot(a.centre, b)) for s in (1, -1)]
    lines = ~(curved_a | curved_b)
    return [(np.where(lines, np.nan, p), np.where(lines, np.nan, q)) for p in at_a for q in at_b]
