"""The export form of a contour: runs of ``free`` segments refitted by few tangent-continuous arcs.

A run is a stretch of free segments that join smoothly. It is covered by spans (`spans.py`), each as
long as it can be: a span is a biarc between two points of the fine chain, and it fits when every point of
the chain between them (vertices and points within each arc) lies within the tolerance. Corners, and lines
and arcs that were drawn as such, stay as they are.

With the chain's own tangents at its ends a biarc is κ'h³/324 off where a single arc is κ'h³/125, so
tangent continuity would cost 1.455 times the arcs. But arcs whose ends lie on the curve meet smoothly if
each joint is turned from the curve by κ'h²/12. So the spans' end tangents are turned a little, where
nothing drawn fixes them, and the cost sinks to about 1.2 on smooth curves.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import overload

import numpy as np

from pipeline.geometry.biarcs import CURVE_MM, along
from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.curves import SMOOTH_DEG
from pipeline.geometry.region import Part, Region, region
from pipeline.geometry.spans import Piece, Run, covered, peak

TOLERANCE_MM = 0.005
ROUNDING_MM = 2e-6
"""What six decimals of a coordinate and twelve of a bulge can move a curve."""
STRAIGHT_MM = 5000.0
"""Arcs of a larger radius are written as lines where that breaks no tangent (common practice, no source)."""
INSIDE = 8
"""Steps, at least, of each fine arc at which the fit is measured and may end."""
STEP_MM = 0.25
"""Longest step: where curvature jumps by 0.01/mm a peak between two points stays under 1e-4 mm (κh²/8)."""

NEAR_MM = 2e-5
"""Points of a chain nearer than this are one: far under any tolerance, far over the last decimal."""


@overload
def fitted(shape: Contour, tolerance_mm: float = ...) -> Contour: ...
@overload
def fitted(shape: Region, tolerance_mm: float = ...) -> Region: ...
def fitted(shape: Contour | Region, tolerance_mm: float = TOLERANCE_MM) -> Contour | Region:
    """The same contour or region in few lines and arcs, within ``tolerance_mm`` of the mathematical curve.

    Tangent breaks stay under ``SMOOTH_DEG`` wherever the shape is smooth. Raises ValueError when the
    tolerance is too small for what the chains themselves keep.
    """
    margin = 0.995 * (tolerance_mm - CURVE_MM - ROUNDING_MM)  # a little for the peaks between the points
    if not margin >= CURVE_MM / 4:
        raise ValueError(f"a tolerance of {tolerance_mm:g} mm is too small; at least {2 * CURVE_MM:g} is needed")
    if isinstance(shape, Contour):
        return _contour(shape, margin)
    return region(Part(_contour(p.outer, margin), tuple(_contour(h, margin) for h in p.holes)) for p in shape)


def _contour(c: Contour, margin: float) -> Contour:
    if not c.free[: len(c)].any():
        return c
    bound, smooth = _bounds(c)
    loop = not bound.any()
    start = int(np.argmax(_bend(c))) if loop else int(np.argmax(bound))
    if start:
        c, bound, smooth = c.rolled(start), np.roll(bound, -start), np.roll(smooth, -start)
    edges = [0, *(int(v) for v in np.flatnonzero(bound) if v), len(c)]
    pieces: list[Piece] = []
    for first, last in pairwise(edges):
        if c.free[first]:
            pieces += covered(_run(c, first, last, smooth), margin)
        else:
            x, y = c.xy[first].tolist()
            pieces.append(Piece(x=x, y=y, bulge=float(c.bulge[first]), smooth=bool(smooth[first])))
    xy = [(p.x, p.y) for p in pieces]
    free = [len(p.px) > 0 for p in pieces]
    bulge = _with_lines(pieces, [*xy, tuple(c.ends[-1].tolist())], margin, c.closed)
    if not c.closed:
        xy, bulge, free = [*xy, tuple(c.xy[-1].tolist())], [*bulge, 0.0], [*free, False]
    return Contour(np.array(xy), np.array(bulge), np.array(free), c.closed)


def _bounds(c: Contour) -> tuple[Bools, Bools]:
    """Vertices (len,) at which a run of free segments begins or ends, and those where tangents meet."""
    free = c.free[: len(c)]
    leaves, arrives = c.tangents()
    came = np.roll(arrives, 1, axis=0)
    turn = np.arctan2(came[:, 0] * leaves[:, 1] - came[:, 1] * leaves[:, 0], (came * leaves).sum(axis=1))
    smooth = np.abs(turn) <= math.radians(SMOOTH_DEG)
    if not c.closed:
        smooth[0] = False
    return ~(smooth & free & np.roll(free, 1)), smooth


def _bend(c: Contour) -> Floats:
    """Curvature at each vertex of a closed contour, the mean of its two arcs', unsigned, 1/mm."""
    chord = np.hypot(*(c.ends - c.starts).T)
    curvature = 4 * c.bulge / (chord * (1 + c.bulge**2))
    bend: Floats = np.abs(curvature + np.roll(curvature, 1)).round(9) / 2
    return bend


def _run(c: Contour, first: int, last: int, smooth: Bools) -> Run:
    """Segments first … last − 1 as points with tangents."""
    n = len(c)
    k = np.arange(first, last)
    starts, ends, bulges = c.starts[k], c.ends[k], c.bulges[k]
    turns = np.ceil(4 * np.arctan(np.abs(bulges)) / math.radians(4))
    lengths = np.ceil(np.hypot(*(ends - starts).T) / STEP_MM)
    steps = np.maximum(np.maximum(INSIDE, turns), lengths).astype(np.int64)
    owner = np.repeat(np.arange(len(k)), steps)
    place = np.arange(len(owner)) - (np.cumsum(steps) - steps)[owner]
    points, tangents = along(starts[owner], ends[owner], bulges[owner], place / steps[owner])
    points = np.concatenate([points, ends[-1:]])
    leaves, arrives = c.tangents()
    # At a vertex the mean of both tangents; the ends of the run take those of what they join.
    vertex = np.flatnonzero(place == 0)[1:]
    mean = leaves[k[1:]] + arrives[k[:-1]]
    tangents[vertex] = mean / np.hypot(*mean.T)[:, None]
    after = last % n
    meets = (bool(smooth[first]), bool(smooth[after]) and (c.closed or last < n))
    tangents[0] = arrives[first - 1] if meets[0] else leaves[first]
    tangents = np.concatenate([tangents, (leaves[after] if meets[1] else arrives[last - 1])[None]])
    if after == first and meets[0]:  # a loop meets itself
        tangents[-1] = tangents[0]
    keep = _apart(points)
    if not keep.all():
        points, tangents = points[keep], tangents[keep]
        # A hook at a corner is passed over: the curve leaves (or arrives) along what is left of it.
        if not (keep[1] or meets[0]):
            tangents[0] = _unit(points[1] - points[0])
        if not (keep[-2] or meets[1]):
            tangents[-1] = _unit(points[-1] - points[-2])
    x, y, tx, ty = (np.ascontiguousarray(v) for v in (*points.T, *tangents.T))
    return Run(x=x, y=y, tx=tx, ty=ty, meets=meets)


def _apart(points: Floats) -> Bools:
    """Which points (n,) to keep so that neighbours are NEAR_MM apart; the first and last always."""
    keep = np.ones(len(points), dtype=np.bool_)
    near = np.flatnonzero(np.hypot(*np.diff(points, axis=0).T) < NEAR_MM)
    if len(near):
        kept = points[0]
        for k in range(int(near[0]), len(points) - 1):
            keep[k] = k == 0 or math.dist(points[k], kept) >= NEAR_MM
            kept = points[k] if keep[k] else kept
        back = len(points) - 2
        while back > 0 and math.dist(points[back], points[-1]) < NEAR_MM:
            keep[back] = False
            back -= 1
    return keep


def _unit(v: Floats) -> Floats:
    unit: Floats = v / np.hypot(*v)
    return unit


def _with_lines(pieces: list[Piece], at: list[tuple[float, ...]], margin: float, closed: bool) -> list[float]:
    """Bulges of the pieces, with 0 for free arcs so flat that a line does as well."""
    bulges = [p.bulge for p in pieces]
    n = len(pieces)
    for k, p in enumerate(pieces):
        dx, dy = at[k + 1][0] - p.x, at[k + 1][1] - p.y
        chord, b = math.hypot(dx, dy), abs(p.bulge)
        if not len(p.px) or b == 0 or chord * (1 + b * b) / (4 * b) <= STRAIGHT_MM:
            continue
        if peak((p.px - p.x) * dy - (p.py - p.y) * dx) > margin * chord:
            continue
        here = math.atan2(dy, dx)
        breaks = []
        if p.smooth:
            breaks.append(here - _heading(at, bulges, (k - 1) % n, 1))
        if k + 1 < n or closed:
            follower = (k + 1) % n
            if pieces[follower].smooth:
                breaks.append(_heading(at, bulges, follower, -1) - here)
        if all(abs(math.remainder(t, math.tau)) <= 0.9 * math.radians(SMOOTH_DEG) for t in breaks):
            bulges[k] = 0.0
    return bulges


def _heading(at: list[tuple[float, ...]], bulges: list[float], k: int, end: int) -> float:
    """Direction of segment k at its start (end −1) or its end (end +1), rad."""
    dx, dy = at[k + 1][0] - at[k][0], at[k + 1][1] - at[k][1]
    return math.atan2(dy, dx) + end * 2 * math.atan(bulges[k])
