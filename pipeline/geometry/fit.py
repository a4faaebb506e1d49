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
import shapely

from pipeline.geometry.biarcs import CURVE_MM, along
from pipeline.geometry.bound import bounds
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

PEAKS = 0.995
TRIES = 8
NEAR_MM = 2e-5
"""Points of a chain nearer than this are one: far under any tolerance, far over the last decimal."""


class FitFailed(ValueError):
    """A curve that no few arcs follow closely enough: ``at`` (x, y), ``error_mm`` of the worst segment (None
    where it would cross itself), ``allowed_mm``."""

    def __init__(self, at: tuple[float, float], allowed_mm: float, error_mm: float | None = None) -> None:
        self.at, self.allowed_mm, self.error_mm = at, allowed_mm, error_mm
        wrong = "it would cross itself" if error_mm is None else f"it would be wrong by {error_mm:.4f} mm"
        super().__init__(
            f"The curve near ({at[0]:.3f}, {at[1]:.3f}) can't be drawn by lines and arcs within "
            f"{allowed_mm:.4f} mm: {wrong}."
        )


@overload
def fitted(shape: Contour, tolerance_mm: float = ...) -> Contour: ...
@overload
def fitted(shape: Region, tolerance_mm: float = ...) -> Region: ...
def fitted(shape: Contour | Region, tolerance_mm: float = TOLERANCE_MM) -> Contour | Region:
    """The same contour or region in few lines and arcs, within ``tolerance_mm`` of the mathematical curve.

    Proved, not hoped for: every segment's distance from what it stands for is bounded both ways (`bound.py`),
    runs where the bound is over are fitted again more tightly, and so is what would cross itself. Tangent
    breaks stay under ``SMOOTH_DEG`` wherever the shape is smooth. Raises FitFailed where the tolerance can't
    be kept, ValueError when it is too small for what the chains themselves keep.
    """
    allowed = tolerance_mm - CURVE_MM - ROUNDING_MM
    if not allowed >= CURVE_MM / 4:
        raise ValueError(f"a tolerance of {tolerance_mm:g} mm is too small; at least {2 * CURVE_MM:g} is needed")
    if isinstance(shape, Contour):
        return _contour(shape, allowed)
    return region(_part(p, allowed) for p in shape)


def _part(part: Part, allowed: float) -> Part:
    """A part whose edges, fitted one by one, don't meet each other."""
    edges = (part.outer, *part.holes)
    if not any(c.free.any() for c in edges):
        return part
    share = 1.0
    for _ in range(TRIES):
        outer, *holes = (_contour(c, allowed, share) for c in edges)
        fit = Part(outer, tuple(holes))
        if not holes or shapely.is_valid(fit.polygon) or not shapely.is_valid(part.polygon):
            return fit
        share /= 4
    raise FitFailed(_crossing(fit.polygon), allowed)


def _contour(c: Contour, allowed: float, share: float = 1.0) -> Contour:
    """A contour fitted with ``share`` of what is allowed, and less where that doesn't do."""
    if not c.free[: len(c)].any():
        return c
    bound, smooth = _bounds(c)
    loop = not bound.any()
    start = int(np.argmax(_bend(c))) if loop else int(np.argmax(bound))
    if start:
        c, bound, smooth = c.rolled(start), np.roll(bound, -start), np.roll(smooth, -start)
    runs = list(pairwise([0, *(int(v) for v in np.flatnonzero(bound) if v), len(c)]))
    margins = [PEAKS * share * allowed] * len(runs)  # a little for the peaks between the points
    done: list[list[Piece]] = [[] for _ in runs]
    for _ in range(TRIES):
        for k, (first, last) in enumerate(runs):
            if not done[k]:
                done[k] = _fitted_run(c, first, last, smooth, margins[k])
        pieces = [p for lot in done for p in lot]
        fit = _joined(c, pieces, min(margins))
        far = bounds(c, fit, np.array([p.upto for p in pieces]))
        owner = np.repeat(np.arange(len(runs)), [len(lot) for lot in done])
        over = np.flatnonzero(far > allowed)
        for k in np.unique(owner[over]).tolist():
            margins[k] *= 0.98 * allowed / max(far[owner == k].max(), allowed)
            done[k] = []
        if not len(over):
            if not c.closed or _simple(fit) or not _simple(c):
                return fit
            margins, done = [m / 4 for m in margins], [[] for _ in runs]
    worst = int(np.argmax(far))
    if far[worst] > allowed:
        x, y = fit.starts[worst].tolist()
        raise FitFailed((x, y), allowed, float(far[worst]))
    raise FitFailed(_crossing(shapely.Polygon(fit.flatten()[0])), allowed)


def _fitted_run(c: Contour, first: int, last: int, smooth: Bools, margin: float) -> list[Piece]:
    if c.free[first]:
        return covered(_run(c, first, last, smooth), margin)
    x, y = c.xy[first].tolist()
    return [Piece(x=x, y=y, bulge=float(c.bulge[first]), smooth=bool(smooth[first]), upto=float(last))]


def _joined(c: Contour, pieces: list[Piece], margin: float) -> Contour:
    xy = [(p.x, p.y) for p in pieces]
    free = [len(p.px) > 0 for p in pieces]
    bulge = _with_lines(pieces, [*xy, tuple(c.ends[-1].tolist())], margin, c.closed)
    if not c.closed:
        xy, bulge, free = [*xy, tuple(c.xy[-1].tolist())], [*bulge, 0.0], [*free, False]
    return Contour(np.array(xy), np.array(bulge), np.array(free), c.closed)


def _simple(c: Contour) -> bool:
    return bool(shapely.is_valid(shapely.Polygon(c.flatten()[0])))


def _crossing(shape: shapely.Geometry) -> tuple[float, float]:
    """Where GEOS says that a polygon crosses itself ("…[x y]")."""
    x, y = shapely.is_valid_reason(shape).split("[")[1].rstrip("]").split()
    return float(x), float(y)


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
    fraction = place / steps[owner]
    points, tangents = along(starts[owner], ends[owner], bulges[owner], fraction)
    points = np.concatenate([points, ends[-1:]])
    places = np.append(k[owner] + fraction, float(last))
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
        points, tangents, places = points[keep], tangents[keep], places[keep]
        # A hook at a corner is passed over: the curve leaves (or arrives) along what is left of it.
        if not (keep[1] or meets[0]):
            tangents[0] = _unit(points[1] - points[0])
        if not (keep[-2] or meets[1]):
            tangents[-1] = _unit(points[-1] - points[-2])
    x, y, tx, ty = (np.ascontiguousarray(v) for v in (*points.T, *tangents.T))
    return Run(x=x, y=y, tx=tx, ty=ty, place=places, meets=meets)


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
