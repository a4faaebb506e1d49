"""How far two shapes lie apart at most, measured both ways on the exact curves (Hausdorff distance).

Points are taken densely along one shape, and each is measured to the exact lines and arcs of the
other; a search tree of short chords says which ones can be nearest. Then the worst places are looked at
ever more closely. Sampling alone gives a lower bound (outside_checks.md B9); the closer look brings it
to about 1e-5 mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.biarcs import along, circle_distance
from pipeline.geometry.contour import FLATTEN_MM, Contour, Floats
from pipeline.geometry.region import Region

SPACING_MM = 0.5
"""Points are at most this far apart, and at least ``LEAST`` lie on each segment."""
LEAST = 3
MOST = 4000
PLACES = 64
"""So many of the worst places are looked at closely."""
ROUNDS = 8
"""of looking closely, each four times finer."""

Ints = NDArray[np.int64]
Shape: TypeAlias = Contour | Region | Sequence[Contour]


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """The largest distance in mm from either shape to the other, and the point it was measured from."""

    worst_mm: float
    at_mm: tuple[float, float]


def deviation(a: Shape, b: Shape) -> Deviation:
    """The largest distance between two contours, or two sets of contours, both ways.

    Raises ValueError when exactly one of them is empty; two empty ones don't deviate.
    """
    first, second = _Arcs.of(a), _Arcs.of(b)
    if not len(first.p) and not len(second.p):
        return Deviation(worst_mm=0.0, at_mm=(0.0, 0.0))
    if not len(first.p) or not len(second.p):
        raise ValueError("a shape can't be compared with nothing")
    return max(_one_way(first, second), _one_way(second, first), key=lambda d: d.worst_mm)


def distances(points: Floats, shape: Shape) -> Floats:
    """Exact distance (n,) of each point (n, 2) from the nearest line or arc of a shape.

    Raises ValueError when the shape is empty.
    """
    return ruler(shape)(points)


def ruler(shape: Shape) -> Callable[[Floats], Floats]:
    """`distances` from one shape, prepared once to be asked often. Raises ValueError when the shape is empty."""
    arcs = _Arcs.of(shape)
    if not len(arcs.p):
        raise ValueError("nothing is at no distance")
    tree = shapely.STRtree(shapely.linestrings(arcs.chords))
    return lambda points: _distances(points, arcs, tree)


@dataclass(frozen=True, slots=True, eq=False)
class _Arcs:
    """The segments of a shape: starts, ends (n, 2), bulges (n,); and its chords (m, 2, 2) with their
    segment (m,)."""

    p: Floats
    q: Floats
    bulge: Floats
    chords: Floats
    owner: Ints

    @staticmethod
    def of(shape: Shape) -> _Arcs:
        if isinstance(shape, Contour):
            contours: Sequence[Contour] = (shape,)
        else:
            contours = shape.contours if isinstance(shape, Region) else shape
        if not contours:
            none = np.empty((0, 2))
            return _Arcs(none, none, np.empty(0), np.empty((0, 2, 2)), np.empty(0, dtype=np.int64))
        chords, owner, count = [], [], 0
        for c in contours:
            points, segment = c.flatten()
            ends = np.roll(points, -1, axis=0) if c.closed else points[1:]
            chords.append(np.stack([points[: len(ends)], ends], axis=1))
            owner.append(segment + count)
            count += len(c)
        return _Arcs(
            np.concatenate([c.starts for c in contours]),
            np.concatenate([c.ends for c in contours]),
            np.concatenate([c.bulges for c in contours]),
            np.concatenate(chords),
            np.concatenate(owner),
        )


def _one_way(a: _Arcs, b: _Arcs) -> Deviation:
    """The largest distance of a point of a from b."""
    tree = shapely.STRtree(shapely.linestrings(b.chords))
    length = np.hypot(*(a.q - a.p).T) * (1 + a.bulge**2)  # at least the arc's length, up to half a turn
    steps = np.clip(np.ceil(length / SPACING_MM), LEAST, MOST).astype(np.int64)
    # Both ends of every segment, as an open one has no follower.
    segment = np.repeat(np.arange(len(steps)), steps + 1)
    first = np.cumsum(steps + 1) - (steps + 1)
    fraction = (np.arange(len(segment)) - first[segment]) / steps[segment]
    far = _distances(_points(a, segment, fraction), b, tree)
    rim = np.concatenate([[-np.inf], far, [-np.inf]])
    peaks = np.flatnonzero((far >= rim[:-2]) & (far >= rim[2:]))
    peaks = peaks[np.argsort(-far[peaks], kind="stable")[:PLACES]]
    segment, fraction = segment[peaks], fraction[peaks]
    step = 1.0 / steps[segment]
    best = far[peaks]
    rows = np.arange(len(peaks))
    for _ in range(ROUNDS):
        within = np.repeat(best + step * length[segment], 9)
        step = step / 4
        near = np.clip(fraction[:, None] + step[:, None] * np.arange(-4, 5), 0.0, 1.0)
        points = _points(a, np.repeat(segment, 9), near.reshape(-1))
        around = _distances(points, b, tree, within).reshape(-1, 9)
        top = np.argmax(around, axis=1)
        fraction, best = near[rows, top], around[rows, top]
    k = int(np.argmax(best))
    x, y = _points(a, segment[k : k + 1], fraction[k : k + 1])[0]
    return Deviation(worst_mm=float(best[k]), at_mm=(float(x), float(y)))


def _points(a: _Arcs, segment: Ints, fraction: Floats) -> Floats:
    return along(a.p[segment], a.q[segment], a.bulge[segment], fraction)[0]


def _distances(points: Floats, b: _Arcs, tree: shapely.STRtree, within: Floats | None = None) -> Floats:
    """Distance (n,) of points (n, 2) from the nearest exact segment of b, known to be ``within`` (n,)."""
    spots = shapely.points(points)
    if within is None:
        within = tree.query_nearest(spots, return_distance=True, all_matches=False)[1]
    reach = within + 2 * FLATTEN_MM + 1e-9  # a segment that can be nearest has a chord within this
    spot, chord = tree.query(spots, predicate="dwithin", distance=reach)
    pair = np.unique(spot * np.int64(len(b.p)) + b.owner[chord])
    spot, segment = pair // len(b.p), pair % len(b.p)
    exact = segment_distance(points[spot], b.p[segment], b.q[segment], b.bulge[segment])
    far = np.full(len(points), np.inf)
    np.minimum.at(far, spot, exact)
    return far


def segment_distance(points: Floats, p: Floats, q: Floats, bulge: Floats) -> Floats:
    """Exact distance (n,) of each point (n, 2) from the line or arc p→q with its bulge."""
    chord = np.hypot(*(q - p).T)
    real = chord > 0
    start = along(p, np.where(real[:, None], q, p + 1.0), bulge, np.zeros(len(p)))[1]
    stop = along(p, np.where(real[:, None], q, p + 1.0), bulge, np.ones(len(p)))[1]
    after = ((points - p) * start).sum(axis=1) >= 0
    before = ((points - q) * stop).sum(axis=1) <= 0
    # Beside the arc: between the radii to its ends; past half a turn that is all but the wedge outside.
    beside = real & np.where(np.abs(bulge) <= 1, after & before, after | before)
    curvature = 4 * bulge / (np.where(real, chord, 1.0) * (1 + bulge**2))
    round_distance = np.abs(circle_distance(points - p, start, curvature))
    end_distance = np.minimum(np.hypot(*(points - p).T), np.hypot(*(points - q).T))
    nearest: Floats = np.where(beside, round_distance, end_distance)
    return nearest
