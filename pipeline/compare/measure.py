"""How far a contour moved: outward and inward, where, on the mean, and what area came and went.

Distances are measured on the exact lines and arcs, both ways: from the new contour to the old one and from the old
to the new, so that a horn that is gone counts with its whole length (trade.md 12.2). Sides are told on the
flattened forms, areas by difference of these with slivers under SAME_MM left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.deviation import ruler
from pipeline.geometry.segments import Segments, segments_of

SAME_MM = 0.005
"""Smaller changes are none (trade.md 12.2)."""
SPACING_MM = 0.5
LEAST, MOST = 8, 2000
"""Points on each line or arc: at most SPACING_MM apart, within these numbers."""
PEAKS, ROUNDS, FINER = 8, 9, 4
"""So many of the worst places are looked at closely, so often, each time so much finer."""
FLAT_MM = 0.002
NEAREST = 64
FLAT_TOP_MM = 1e-6
"""Where the distance is the same over a stretch, its middle is told."""

Point = tuple[float, float]
Ints = NDArray[np.int64]
Ruler = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The largest move one way: its length in mm, where it ends (on the new line where that moved out of the old
    one's area, on the old line where that was left), and the nearest point of the other line."""

    mm: float = 0.0
    at: Point = (0.0, 0.0)
    other: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How a closed contour differs from what it was. ``outward`` and ``inward`` are of what it encloses;
    ``rms_mm`` is the mean square distance of the new line from the old one; areas in mm²."""

    outward: Worst
    inward: Worst
    rms_mm: float
    added_mm2: float
    removed_mm2: float

    @property
    def worst(self) -> Worst:
        return self.outward if self.outward.mm >= self.inward.mm else self.inward

    @property
    def is_same(self) -> bool:
        return self.worst.mm < SAME_MM


def spread(old: Contour, new: Contour) -> Spread:
    """How a closed contour moved from ``old`` to ``new``. Raises ValueError when one of them is open."""
    if not (old.closed and new.closed):
        raise ValueError("only what is closed has an outside")
    if _equal(old, new):
        return Spread(outward=Worst(), inward=Worst(), rms_mm=0.0, added_mm2=0.0, removed_mm2=0.0)
    areas = [_polygon(c) for c in (old, new)]
    here, there = _samples(new), _samples(old)
    to_old, to_new = ruler(old), ruler(new)
    away, back = to_old(here.points), to_new(there.points)
    outside = ~shapely.contains_xy(areas[0], here.points)
    inside = shapely.contains_xy(areas[1], there.points)
    found = []
    for side, other in ((outside, inside), (~outside, ~inside)):
        a, b = _peak(here, away, side, to_old, old), _peak(there, back, other, to_new, new)
        found.append(b if b.mm > a.mm + 1e-9 else a)
    added, removed = (_area(shapely.difference(a, b)) for a, b in ((areas[1], areas[0]), (areas[0], areas[1])))
    return Spread(
        outward=found[0],
        inward=found[1],
        rms_mm=math.sqrt(float(np.sum(away**2 * here.step) / np.sum(here.step))),
        added_mm2=added,
        removed_mm2=removed,
    )


def apart(old: Contour, new: Contour) -> Worst:
    """The largest distance between two lines, open or closed, both ways."""
    if _equal(old, new):
        return Worst()
    found = []
    for one, other in ((new, old), (old, new)):
        samples, to_other = _samples(one), ruler(other)
        everywhere = np.ones(len(samples.points), dtype=np.bool_)
        found.append(_peak(samples, to_other(samples.points), everywhere, to_other, other))
    return max(found, key=lambda w: w.mm)


def spot(at: Point, decimals: int = 2) -> str:
    """A place in words: ``(15.50, -45.00)``, without a minus before zero."""
    x, y = (round(v, decimals) + 0.0 for v in at)
    return f"({x:.{decimals}f}, {y:.{decimals}f})"


def signed(value: float, decimals: int = 1) -> str:
    """A difference with its sign: ``+2.4``, ``-116.6``, ``+0.0``, never ``-0.0``."""
    return f"{round(value, decimals) + 0.0:+.{decimals}f}"


def clock(at: Point, centre: Point) -> str:
    """The direction from a centre as on a clock face: 12 is up (+y), 3 is right (+x)."""
    dx, dy = at[0] - centre[0], at[1] - centre[1]
    if math.hypot(dx, dy) < 1e-9:
        return "the middle"
    hour = round(math.degrees(math.atan2(dx, dy)) / 30.0) % 12
    return f"{hour or 12} o'clock"


def along_mm(contour: Contour, at: Point) -> float:
    """Arc length in mm to the point nearest ``at``, from the contour's foremost point (the largest x, where
    the nut lies; of several the highest), anticlockwise."""
    c = contour if contour.area >= 0 or not contour.closed else contour.reversed()
    segs = segments_of((c,))
    line = _samples(c)
    first = line.points[np.lexsort((-np.round(line.points[:, 1], 6), -np.round(line.points[:, 0], 6)))[0]]
    starts = np.concatenate([[0.0], np.cumsum(segs.length)[:-1]])
    found = [float(starts[i] + s) for i, s in (_foot(segs, first), _foot(segs, np.array(at)))]
    whole = float(segs.length.sum())
    gone = (found[1] - found[0]) % whole
    return 0.0 if whole - gone < 1e-6 else gone


def polygon_of(contours: tuple[Contour, ...]) -> shapely.Geometry:
    """What closed contours enclose, even-odd, flattened for pictures and areas; empty without any."""
    shape: shapely.Geometry = shapely.Polygon()
    for c in sorted((c for c in contours if c.closed), key=lambda c: -abs(c.area)):
        shape = shapely.symmetric_difference(shape, _polygon(c))
    return shape


# -- parts -------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """Points along a contour: which segment, how far along it, and the length each stands for."""

    segments: Segments
    which: Ints
    s: Floats
    step: Floats
    points: Floats


def _samples(c: Contour) -> _Samples:
    segs = segments_of((c,))
    steps = np.clip(np.ceil(segs.length / SPACING_MM), LEAST, MOST).astype(np.int64)
    which = np.repeat(np.arange(len(segs)), steps)
    first = np.repeat(np.cumsum(steps) - steps, steps)
    step = (segs.length / steps)[which]
    s = (np.arange(len(which)) - first) * step
    return _Samples(segs, which, s, step, segs.at(which, s))


def _peak(line: _Samples, far: Floats, side: Bools, to_other: Ruler, other: Contour) -> Worst:
    """The largest distance among samples on one side: the middle of the longest stretch that has it, or else the
    worst places looked at ever more closely."""
    picked = np.flatnonzero(side)
    if not len(picked):
        return Worst()
    flat = picked[far[picked] >= far[picked].max() - FLAT_TOP_MM]
    if len(flat) > 2 * PEAKS:
        runs = np.split(flat, np.flatnonzero(np.diff(flat) > 1) + 1)
        run = max(runs, key=len)
        i = run[len(run) // 2]
        x, y = line.points[i].tolist()
        return Worst(mm=float(far[i]), at=(x, y), other=nearest_on(other, (x, y)))
    best = picked[np.argsort(-far[picked], kind="stable")[:PEAKS]]
    which, s, width, top = line.which[best], line.s[best], line.step[best], far[best]
    rows = np.arange(len(best))
    limit = line.segments.length[which]
    for _ in range(ROUNDS):
        near = np.clip(s[:, None] + width[:, None] * np.linspace(-1.0, 1.0, 2 * FINER + 1), 0.0, limit[:, None])
        spots = line.segments.at(np.repeat(which, near.shape[1]), near.reshape(-1))
        found = to_other(spots).reshape(near.shape)
        k = np.argmax(found, axis=1)
        s, top = near[rows, k], found[rows, k]
        width = width / FINER
    i = int(np.argmax(np.round(top, 9)))
    x, y = line.segments.at(which[i : i + 1], s[i : i + 1])[0].tolist()
    return Worst(mm=float(top[i]), at=(x, y), other=nearest_on(other, (x, y)))


def nearest_on(contour: Contour, at: Point) -> Point:
    """The point of a contour nearest to another one."""
    segs = segments_of((contour,))
    i, s = _foot(segs, np.array(at))
    x, y = segs.at(np.array([i]), np.array([s]))[0].tolist()
    return x, y


def _foot(segs: Segments, point: Floats) -> tuple[int, float]:
    """The segment nearest to a point, and how far along it the nearest spot lies in mm."""
    boxes = segs.boxes
    away = np.hypot(*np.maximum(np.maximum(boxes[:, :2] - point, point - boxes[:, 2:]), 0.0).T)
    pick = np.argsort(away, kind="stable")[:NEAREST]
    s, _ = segs.along(pick, np.repeat(point[None], len(pick), axis=0))
    spots = [np.clip(s, 0.0, segs.length[pick]), np.zeros(len(pick)), segs.length[pick]]
    gaps = np.stack([np.hypot(*(segs.at(pick, v) - point).T) for v in spots])
    k, n = np.unravel_index(int(np.argmin(np.round(gaps, 9))), gaps.shape)
    return int(pick[n]), float(spots[k][n])


def _polygon(c: Contour) -> shapely.Geometry:
    shape = shapely.Polygon(c.flatten(FLAT_MM)[0])
    shape = shape if shape.is_valid else shapely.make_valid(shape)
    shapely.prepare(shape)
    return shape


def _area(shape: shapely.Geometry) -> float:
    """Area without what is thinner than SAME_MM everywhere."""
    parts = [p for p in shapely.get_parts(shape) if p.area and not p.buffer(-SAME_MM / 2, quad_segs=2).is_empty]
    return float(sum(p.area for p in parts))


def _equal(a: Contour, b: Contour) -> bool:
    """True when both have the same vertices and bulges from the same start."""
    return (
        a.closed == b.closed
        and a.xy.shape == b.xy.shape
        and bool(np.abs(a.xy - b.xy).max() < 1e-5 and np.abs(a.bulge - b.bulge).max() < 1e-7)
    )
