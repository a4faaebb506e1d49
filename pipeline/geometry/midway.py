"""The curve midway between two lines that nearly agree, such as a half and the mirror image of the other half."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from pipeline.geometry.biarcs import biarcs
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.curves import SMOOTH_DEG
from pipeline.geometry.query import feet
from pipeline.geometry.segments import Ints, Segments, segments_of
from pipeline.geometry.wobble import Walk, breaks

SPACING_MM = 1.0
LEAST = 16
SAME_MM = 1e-4
"""Lines nearer than this are the same: the first one is taken as it is."""
CORNER_DEG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Midway:
    """The curves midway, and how far the two lines lie apart: in the mean and at most, and where."""

    contours: tuple[Contour, ...]
    mean_mm: float
    worst_mm: float
    at_mm: tuple[float, float]


def midway(first: Sequence[Contour], second: Sequence[Contour]) -> Midway:
    """For each contour of the first its points halfway to the nearest ones of the second.

    Corners stay corners. Raises ValueError when there is nothing to compare.
    """
    if not first or not second:
        raise ValueError("one of the two lines is missing")
    other = _Line(second)
    made = [_middle(c, other) for c in first]
    far = np.concatenate([m[1] for m in made])
    at = np.concatenate([m[2] for m in made])
    worst = int(np.argmax(far))
    same = float(far[worst]) <= SAME_MM
    return Midway(
        contours=tuple(first) if same else tuple(m[0] for m in made),
        mean_mm=float(far.mean()),
        worst_mm=float(far[worst]),
        at_mm=(float(at[worst, 0]), float(at[worst, 1])),
    )


class _Line:
    def __init__(self, contours: Sequence[Contour]) -> None:
        self.segments: Segments = segments_of(contours)
        chords, owners, count = [], [], 0
        corners = []
        for c in contours:
            points, owner = c.flatten()
            ends = np.roll(points, -1, axis=0) if c.closed else points[1:]
            chords.append(np.stack([points[: len(ends)], ends], axis=1))
            owners.append(owner + count)
            count += len(c)
            corners.append(c.xy[: len(c)][np.abs(breaks(c)) > math.radians(CORNER_DEG)])
        self.owner: Ints = np.concatenate(owners)
        self.corners: Floats = np.concatenate(corners)
        self.tree = shapely.STRtree(shapely.linestrings(np.concatenate(chords)))

    def feet(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """Distances (m,), nearest points and the tangents there (m, 2)."""
        spot, chord = self.tree.query_nearest(shapely.points(points), all_matches=False)
        k = self.owner[chord[np.argsort(spot, kind="stable")]]
        far, foot = feet(self.segments, k, points)
        s = self.segments
        d = s.q[k] - s.p[k]
        radius = foot - s.centre[k]
        round_ = np.stack([-radius[:, 1], radius[:, 0]], axis=1) * np.sign(s.bulge[k])[:, None]
        tangent = np.where((s.bulge[k] != 0)[:, None], round_, d)
        return far, foot, tangent / np.hypot(tangent[:, 0], tangent[:, 1])[:, None]

    def corner_near(self, point: Floats, within: float) -> Floats | None:
        if not len(self.corners):
            return None
        far = np.hypot(*(self.corners - point).T)
        k = int(np.argmin(far))
        return self.corners[k] if float(far[k]) <= within else None


def _middle(c: Contour, other: _Line) -> tuple[Contour, Floats, Floats]:
    """The curve midway from c, the distances (m,) of its points from the other and those points (m, 2)."""
    turn = np.abs(breaks(c)) > math.radians(SMOOTH_DEG)
    walk = Walk.of(c)
    at = [float(s) for s in walk.stops[:-1][turn]]
    whole = c.closed and not at
    stops = [0.0, walk.length] if not at or not c.closed else []
    stops = sorted({*stops, *at}) if not c.closed or whole else [*at, at[0] + walk.length]
    xy: list[Floats] = []
    bulges: list[Floats] = []
    fars: list[Floats] = []
    seen: list[Floats] = []
    for a, b in pairwise(stops):
        n = max(LEAST, math.ceil((b - a) / SPACING_MM))
        s = np.linspace(a, b, n + 1)
        # The tangents at both ends are those of this stretch.
        points = walk.at(s)[0]
        inner = walk.at(np.clip(s, a + 1e-7, b - 1e-7))[1]
        far, foot, tangent = other.feet(points)
        tangent = np.where(((tangent * inner).sum(axis=1) < 0)[:, None], -tangent, tangent)
        middle = (points + foot) / 2
        way = inner + tangent
        if not whole:
            for end in (0, -1):
                meant = other.corner_near(points[end], 3 * float(far.max()) + 1.0)
                if meant is not None and (c.closed or ((end, a) != (0, 0.0) and (end, b) != (-1, walk.length))):
                    middle[end] = (points[end] + meant) / 2
                    way[end] = middle[1] - middle[0] if end == 0 else middle[-1] - middle[-2]
        way = way / np.maximum(np.hypot(*way.T), 1e-12)[:, None]
        joint, bulge = biarcs(np.stack([middle[:-1], middle[1:]], axis=1), np.stack([way[:-1], way[1:]], axis=1))
        xy.append(np.stack([middle[:-1], joint], axis=1).reshape(-1, 2))
        bulges.append(bulge.reshape(-1))
        fars.append(far)
        seen.append(points)
        last = middle[-1]
    points, bulge = np.concatenate(xy), np.concatenate(bulges)
    free = np.ones(len(points), dtype=np.bool_)
    if not c.closed:
        points, bulge, free = np.vstack([points, last]), np.append(bulge, 0.0), np.append(free, False)
    return Contour(points, bulge, free, c.closed), np.concatenate(fars), np.concatenate(seen)
