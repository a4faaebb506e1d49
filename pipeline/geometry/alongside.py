"""An outer edge by its arc length: places on it, stretches of it, and where a follower's way is broken.

Arc length runs anticlockwise as seen from the front, with the wood on the left, from the edge's foremost point:
that of the largest x (of several the one of the smallest y). So it doesn't depend on where a drawing began.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.parallel import stretch
from pipeline.geometry.region import Region
from pipeline.geometry.segments import segments_of
from pipeline.geometry.wobble import Walk

Interval = tuple[float, float]
"""(from, to) in mm with 0 ≤ from < length and from < to ≤ from + length: it may run on past the zero."""

LEAST_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rim:
    """A closed contour with its zero: ``zero`` mm from its first vertex."""

    contour: Contour
    walk: Walk
    zero: float

    @staticmethod
    def of(c: Contour) -> Rim:
        """The rim of a closed contour, zero at its foremost point."""
        walk = Walk.of(c)
        return Rim(contour=c, walk=walk, zero=_foremost(c, walk))

    @property
    def length(self) -> float:
        return self.walk.length

    def at(self, s: Floats) -> tuple[Floats, Floats]:
        """Points and unit tangents (m, 2) at arc lengths."""
        return self.walk.at(np.asarray(s, dtype=np.float64) + self.zero)

    def point(self, s: float) -> tuple[float, float]:
        x, y = self.at(np.array([s]))[0][0].tolist()
        return x + 0.0, y + 0.0

    def locate(self, x: float, y: float) -> tuple[float, float]:
        """(arc length, distance) of the place on the rim that lies nearest to a point."""
        s, mm = located(self.contour, self.walk, x, y)
        return _round_about(s - self.zero, self.length), mm

    def stretch(self, interval: Interval) -> Contour:
        """The open contour of an interval; the whole closed one for all of it."""
        if whole(interval, self.length):
            return self.contour
        first = (interval[0] + self.zero) % self.length
        return stretch(self.contour, first, first + interval[1] - interval[0])


def located(c: Contour, walk: Walk, x: float, y: float) -> tuple[float, float]:
    """(mm from the first vertex, distance) of the place on a contour nearest to a point, exact."""
    segs = segments_of([c])
    n = np.arange(len(segs))
    points = np.tile([x, y], (len(segs), 1))
    s, _ = segs.along(n, points)
    s = np.clip(s, 0.0, segs.length)
    feet = np.stack([segs.at(n, s), segs.p, segs.q])
    mm = np.hypot(*(feet - points[None]).transpose(2, 0, 1))
    kind, k = np.unravel_index(int(np.argmin(mm)), mm.shape)
    along = (s[k], 0.0, segs.length[k])[int(kind)]
    return float(walk.stops[k] + along), float(mm[kind, k])


def _foremost(c: Contour, walk: Walk) -> float:
    """Arc length from the first vertex of the point with the largest x, of several the smallest y."""
    segs = segments_of([c])
    spots = [(segs.p[:, 0], segs.p[:, 1], walk.stops[:-1])]
    arcs = np.flatnonzero(segs.bulge)
    if len(arcs):
        tips = segs.centre[arcs] + np.stack([segs.radius[arcs], np.zeros(len(arcs))], axis=1)
        s, off = segs.along(arcs, tips)
        on = (s > 0) & (s < segs.length[arcs]) & (np.abs(off) < 1e-6)
        spots.append((tips[on, 0], tips[on, 1], walk.stops[arcs[on]] + s[on]))
    x, y, s = (np.concatenate(column) for column in zip(*spots, strict=True))
    front = np.flatnonzero(x > x.max() - 1e-6)
    return float(s[front[np.lexsort((s[front], y[front]))[0]]])


def _round_about(s: float, length: float) -> float:
    s %= length
    return 0.0 if length - s < LEAST_MM else s


# -- intervals on a ring -----------------------------------------------------------------------------
def whole(interval: Interval, length: float) -> bool:
    return interval[1] - interval[0] >= length - LEAST_MM


def merged(intervals: Iterable[Interval], length: float) -> tuple[Interval, ...]:
    """The union of some intervals, apart from one another, by where they begin."""
    flat: list[Interval] = []
    for a, b in intervals:
        if b - a >= length - LEAST_MM:
            return ((0.0, length),)
        first = a % length
        last = first + b - a
        flat += [(first, last)] if last <= length else [(first, length), (0.0, last - length)]
    joined: list[list[float]] = []
    for a, b in sorted(flat):
        if joined and a <= joined[-1][1] + LEAST_MM:
            joined[-1][1] = max(joined[-1][1], b)
        else:
            joined.append([a, b])
    return _over_zero([(a, b) for a, b in joined if b - a > LEAST_MM], length)


def without(intervals: Sequence[Interval], holes: Sequence[Interval], length: float) -> tuple[Interval, ...]:
    """What of some intervals lies in none of the others."""
    left = _flat(merged(intervals, length), length)
    for a, b in _flat(merged(holes, length), length):
        left = [
            piece for p, q in left for piece in ((p, min(q, a)), (max(p, b), q)) if piece[1] - piece[0] > LEAST_MM
        ]
    return _over_zero(sorted(left), length)


def common(one: Sequence[Interval], two: Sequence[Interval], length: float) -> tuple[Interval, ...]:
    """What lies in both."""
    rest = without([(0.0, length)], two, length)
    return without(one, rest, length)


def _flat(intervals: Iterable[Interval], length: float) -> list[Interval]:
    found: list[Interval] = []
    for a, b in intervals:
        found += [(a, b)] if b <= length else [(a, length), (0.0, b - length)]
    return sorted(found)


def _over_zero(flat: list[Interval], length: float) -> tuple[Interval, ...]:
    """Two pieces that meet at the zero are one."""
    if len(flat) > 1 and flat[0][0] < LEAST_MM and flat[-1][1] > length - LEAST_MM:
        return (*flat[1:-1], (flat[-1][0], length + flat[0][1]))
    return tuple(flat)


# -- mouths ------------------------------------------------------------------------------------------
def mouths(rim: Rim, region: Region) -> tuple[Interval, ...]:
    """Where a plan region breaks through the rim: intervals of it that lie inside the region."""
    points, _ = rim.contour.flatten()
    ring = shapely.linestrings(np.vstack([points, points[:1]]))
    inside = shapely.intersection(ring, region.polygon)
    found: list[Interval] = []
    for line in shapely.get_parts(shapely.line_merge(inside)):
        if shapely.length(line) < LEAST_MM:
            continue
        ends = shapely.get_coordinates(line)[[0, -1]]
        (a, _), (b, _) = (rim.locate(float(x), float(y)) for x, y in ends)
        long = float(shapely.length(line))
        if long > rim.length - 0.01:
            return ((0.0, rim.length),)
        forward = (b - a) % rim.length
        ahead = abs(forward - long) <= abs(rim.length - forward - long)
        found.append((a, a + forward) if ahead else (b, b + rim.length - forward))
    return merged(found, rim.length)


def widened(intervals: Sequence[Interval], by_mm: float, length: float) -> tuple[Interval, ...]:
    """The intervals with ``by_mm`` more at both ends."""
    return merged([(a - by_mm, b + by_mm) for a, b in intervals], length)


# -- the line inside -----------------------------------------------------------------------------------
def inner_lines(rim: Rim, inside: Region, by_mm: float, interval: Interval) -> tuple[Contour, ...]:
    """The part of the parallel ``inside`` (the region ``by_mm`` in) that runs beside an interval of the rim."""
    mine = [c for p in inside.parts for c in (p.outer,)]
    if not mine:
        return ()
    if whole(interval, rim.length):
        return tuple(mine)
    ends = []
    for s in interval:
        (at,), (way,) = rim.at(np.array([s]))
        ends.append(at + by_mm * np.array([-way[1], way[0]]))
    best = min(mine, key=lambda c: min(located(c, Walk.of(c), *map(float, e))[1] for e in ends))
    walk = Walk.of(best)
    a, b = (located(best, walk, float(x), float(y))[0] for x, y in ends)
    if abs(a - b) < LEAST_MM:
        return ()
    return (stretch(best, a % walk.length, b if b > a else b + walk.length),)
