"""One smooth run of a fine chain covered by few biarcs, each as long as the tolerance allows."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.contour import Floats

ALIKE = math.radians(0.02)
"""Where one arc takes the place of a biarc, its tangents may be this far off at smooth ends, rad."""
WIDEST = math.radians(2)
"""Tangents are turned by at most this, rad."""
LENGTHS = np.array([1.0, 0.95, 0.9, 0.85, 0.78, 0.7])
TILTS = np.array([0.1, 0.5, 0.9])
"""Shares of the longest span, and of the turns with which it fits, that are tried for where it ends."""
COARSE = 2.0 * 1.4 ** np.arange(-5.0, 1.0)
FINE = np.arange(1.0, 6.0) / 6
PROBES = np.arange(1, 7) / 7
"""Where a span is measured while it is sought; what is taken is measured at all its points."""
GUESS = 64
EMPTY = np.empty(0)
Ints = NDArray[np.int64]
T = TypeVar("T", float, Floats)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Points (n,) of a smooth stretch close together, its unit tangents there, and their ``place`` on the chain:
    the number of a segment plus the fraction of its sweep.

    ``meets``: must the tangent at start and at end be kept (no corner there)?
    """

    x: Floats
    y: Floats
    tx: Floats
    ty: Floats
    place: Floats
    meets: tuple[bool, bool]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A segment of the result: its start, its bulge, and the points (m,) of the chain it stands for
    (none for a drawn line or arc), up to the place ``upto``. ``smooth``: without a corner at its start?"""

    x: float
    y: float
    bulge: float
    smooth: bool
    upto: float
    px: Floats = field(default_factory=lambda: EMPTY)
    py: Floats = field(default_factory=lambda: EMPTY)


@dataclass(frozen=True, slots=True)
class Cut:
    """Where spans meet: point ``k`` of the run, with the chain's tangent turned by ``tilt`` rad."""

    k: int
    tilt: float


def covered(run: Run, margin_mm: float) -> list[Piece]:
    """The run as arcs that meet tangentially, within ``margin_mm`` of all its points."""
    last = len(run.x) - 1
    cuts, reach = [_first(run, margin_mm)], 0
    while cuts[-1].k < last:
        cut, reach = _next(run, cuts[-1], reach, margin_mm)
        cuts.append(cut)
    if len(cuts) > 2:  # what is left over at the end may be tiny: share it with the span before
        cuts[-2] = _even(run, cuts[-3], cuts[-1], margin_mm) or cuts[-2]
    pieces: list[Piece] = []
    for a, b in pairwise(cuts):
        pieces += _single(run, a, b, margin_mm) or _double(run, a, b)
    return pieces


def _first(run: Run, margin: float) -> Cut:
    """The start: with the chain's tangent, or at a corner with the one that reaches farthest."""
    if run.meets[0]:
        return Cut(0, 0.0)
    reach = int(_reaches(run, np.zeros(1, dtype=np.int64), np.zeros(1), GUESS, margin)[0])
    size = math.hypot(float(run.x[reach] - run.x[0]), float(run.y[reach] - run.y[0]))
    # Arcs in a row with their ends on the curve are turned from it by κ'h²/12, about 10 · margin / size.
    tilts = np.clip(np.array([0.0, -10.0, 10.0, -20.0, 20.0]) * margin / max(size, margin), -WIDEST, WIDEST)
    reaches = _reaches(run, np.zeros(len(tilts), dtype=np.int64), tilts, reach, margin)
    return Cut(0, float(tilts[int(np.argmax(reaches))]))


def _next(run: Run, a: Cut, reach: int, margin: float) -> tuple[Cut, int]:
    """Where the span from ``a`` ends, and how far the one after it will reach at most.

    The longest span leaves no choice of the tangent at its end and serves the next one badly, so a few
    lengths and tangents are tried, and the pair after which the next span reaches farthest is taken.
    """
    last = len(run.x) - 1
    reach = reach or int(_reaches(run, np.array([a.k]), np.array([a.tilt]), GUESS, margin)[0])
    end = Cut(last, 0.0)
    if reach == last:
        low, high = _tilts(run, np.array([a.k]), np.array([a.tilt]), np.array([last]), margin)
        end = Cut(last, 0.0 if run.meets[1] else min(max(0.0, float(low[0])), float(high[0])))
        if _error(run, a, end) <= margin:
            return end, last
        reach = last - 1
    while reach > a.k + 1:
        length = reach - a.k
        k = a.k + np.unique(np.maximum(1, np.rint(length * LENGTHS).astype(np.int64)))
        low, high = _tilts(run, np.full(len(k), a.k), np.full(len(k), a.tilt), k, margin)
        k, low, high = k[low <= high], low[low <= high], high[low <= high]
        tilts = np.concatenate(
            [low[:, None] + (high - low)[:, None] * TILTS, np.clip(0, low, high)[:, None]], axis=1
        )
        ks, tilts = np.repeat(k, tilts.shape[1]), tilts.reshape(-1)
        onward = _reaches(run, ks, tilts, length, margin)
        for c in np.lexsort([np.abs(tilts), -ks, -onward]):
            b = Cut(int(ks[c]), float(tilts[c]))
            if _error(run, a, b) <= margin:
                return b, int(onward[c])
        reach = a.k + length // 2
    return (Cut(a.k + 1, 0.0) if a.k + 1 < last else end), 0


def _even(run: Run, a: Cut, c: Cut, margin: float) -> Cut | None:
    """A cut half way between two, if spans to and from it fit."""
    k = (a.k + c.k) // 2
    low, high = _tilts(run, np.array([a.k]), np.array([a.tilt]), np.array([k]), margin)
    for tilt in (float(low[0] + high[0]) / 2, min(max(0.0, float(low[0])), float(high[0]))):
        b = Cut(k, tilt)
        if a.k < k and _error(run, a, b) <= margin and _error(run, b, c) <= margin:
            return b
    return None


def _reaches(run: Run, k: Ints, tilt: Floats, length: int, margin: float) -> Ints:
    """The last point (n,) that a span from each start (n,) can end at; ``length`` is a first guess.

    Two rounds: a few lengths up to twice the guess, then a few between the last that fits and the first
    that doesn't. A start from which none fits reaches its neighbour.
    """
    last = len(run.x) - 1
    rows = np.arange(len(k))
    fits = np.minimum(k + 1, last)
    ends = k[:, None] + np.rint(length * COARSE).astype(np.int64)
    for _ in range(2):
        ends = np.clip(ends, fits[:, None], last)
        n = ends.shape[1]
        low, high = _tilts(run, np.repeat(k, n), np.repeat(tilt, n), ends.reshape(-1), margin)
        good = (low <= high).reshape(-1, n)
        if run.meets[1]:
            good &= (ends < last) | ((low <= 0) & (high >= 0)).reshape(-1, n)
        first_bad = np.where(good.all(axis=1), n, np.argmin(good, axis=1))
        fails = np.where(first_bad < n, ends[rows, np.minimum(first_bad, n - 1)], ends[:, -1])
        fits = np.where(first_bad > 0, ends[rows, np.maximum(first_bad - 1, 0)], fits)
        ends = fits[:, None] + np.rint((fails - fits)[:, None] * FINE).astype(np.int64)
    return fits


def _tilts(run: Run, a: Ints, tilt: Floats, b: Ints, margin: float) -> tuple[Floats, Floats]:
    """The least and largest turns (n,) of the tangents at points b with which the spans from points a,
    where the tangents are turned by ``tilt``, fit. Least > largest: none.

    To first order in the turn, which moves a biarc sideways by turn · chord · shape(u), u along the
    chord: −u²/2 up to its middle, then 1.5 (u − ½)² − (u − ½)/2 − ⅛. Measured at ``PROBES`` points each.
    """
    c, s = np.cos(tilt), np.sin(tilt)
    ux, uy = run.tx[a] * c - run.ty[a] * s, run.tx[a] * s + run.ty[a] * c
    wx, wy = run.tx[b], run.ty[b]
    x0, y0, x1, y1 = run.x[a], run.y[a], run.x[b], run.y[b]
    vx, vy = x1 - x0, y1 - y0
    vv = vx * vx + vy * vy
    ahead, behind = vx * ux + vy * uy, vx * wx + vy * wy
    possible = (ahead > 0) & (behind > 0)
    on = np.where(possible, ahead + behind, 1.0)
    reach = vv / (on + np.sqrt(on * on + 2 * np.maximum(0.0, 1 - ux * wx - uy * wy) * vv))
    ax, ay, bx, by = x0 + reach * ux, y0 + reach * uy, x1 - reach * wx, y1 - reach * wy
    jx, jy, sx, sy = (ax + bx) / 2, (ay + by) / 2, bx - ax, by - ay
    first = _curvature(ux, uy, jx - x0, jy - y0)
    second = _curvature(wx, wy, jx - x1, jy - y1)
    at = a[:, None] + ((b - a)[:, None] * PROBES).astype(np.int64)
    x, y = run.x[at], run.y[at]
    late = x * sx[:, None] + y * sy[:, None] > (jx * sx + jy * sy)[:, None]
    dx, dy = x - np.where(late, x1[:, None], x0[:, None]), y - np.where(late, y1[:, None], y0[:, None])
    tx, ty = np.where(late, wx[:, None], ux[:, None]), np.where(late, wy[:, None], uy[:, None])
    half = np.where(late, second[:, None], first[:, None]) / 2
    g = (dx * dx + dy * dy) * half - (dy * tx - dx * ty)
    off = g * (1 - half * g)
    along = ((x - x0[:, None]) * vx[:, None] + (y - y0[:, None]) * vy[:, None]) / np.maximum(vv, 1e-30)[:, None]
    v = along - 0.5
    shape = np.where(v < 0, -0.5 * along * along, 1.5 * v * v - 0.5 * v - 0.125)
    sway = np.minimum(shape, -1e-9) * np.sqrt(vv + 1e-12)[:, None]  # it moves all points to the same side
    possible &= (run.tx[at] * vx[:, None] + run.ty[at] * vy[:, None]).min(axis=1) > 0
    low = np.where(possible, np.maximum(((margin - off) / sway).max(axis=1), -WIDEST), 1.0)
    high = np.where(possible, np.minimum(((-margin - off) / sway).min(axis=1), WIDEST), -1.0)
    return low, high


def _error(run: Run, a: Cut, b: Cut) -> float:
    """Largest distance of all points between two cuts from their biarc; inf where it would fold back."""
    i, j = a.k, b.k
    x0, y0, ux, uy = _end(run, a)
    x1, y1, wx, wy = _end(run, b)
    vx, vy = x1 - x0, y1 - y0
    onward = (run.tx[i + 1 : j] * vx + run.ty[i + 1 : j] * vy).min(initial=math.inf)
    if min(vx * ux + vy * uy, vx * wx + vy * wy, onward) <= 0:
        return math.inf
    if j == i + 1:
        return 0.0
    jx, jy, sx, sy = _joint(x0, y0, ux, uy, x1, y1, wx, wy)
    x, y = run.x[i : j + 1], run.y[i : j + 1]
    late = int(np.count_nonzero(x * sx + y * sy < jx * sx + jy * sy))
    off = np.empty(len(x))
    off[:late] = _off(x[:late] - x0, y[:late] - y0, ux, uy, _curvature(ux, uy, jx - x0, jy - y0))
    off[late:] = _off(x[late:] - x1, y[late:] - y1, wx, wy, _curvature(wx, wy, jx - x1, jy - y1))
    return peak(off)


def _end(run: Run, c: Cut) -> tuple[float, float, float, float]:
    tx, ty = float(run.tx[c.k]), float(run.ty[c.k])
    cos, sin = math.cos(c.tilt), math.sin(c.tilt)
    return float(run.x[c.k]), float(run.y[c.k]), tx * cos - ty * sin, tx * sin + ty * cos


def _joint(
    x0: float, y0: float, ux: float, uy: float, x1: float, y1: float, wx: float, wy: float
) -> tuple[float, float, float, float]:
    """Joint of the biarc with equal tangent lengths, and its direction there (see `biarcs.py`)."""
    vx, vy = x1 - x0, y1 - y0
    vv, on = vx * vx + vy * vy, vx * (ux + wx) + vy * (uy + wy)
    reach = vv / (on + math.sqrt(on * on + 2 * max(0.0, 1 - ux * wx - uy * wy) * vv))
    ax, ay = x0 + reach * ux, y0 + reach * uy
    bx, by = x1 - reach * wx, y1 - reach * wy
    return (ax + bx) / 2, (ay + by) / 2, bx - ax, by - ay


def _curvature(tx: T, ty: T, dx: T, dy: T) -> T:
    """Of the circle through the origin with unit tangent t there, and through d."""
    return 2 * (tx * dy - ty * dx) / (dx * dx + dy * dy + 1e-300)


def _off(dx: Floats, dy: Floats, tx: float, ty: float, curvature: float) -> Floats:
    """Signed distances of points d from that circle (the formula of `biarcs.circle_distance`)."""
    g = (dx * dx + dy * dy) * (curvature / 2) - (dy * tx - dx * ty)
    off: Floats = 2 * g / (1 + np.sqrt(np.maximum(0.0, 1 + 2 * curvature * g)))
    return off


def peak(off: Floats) -> float:
    """Largest of signed distances along a curve, with what can stand out between two of the points: an
    eighth of the second difference, the height of a parabola over its chord."""
    between = float(np.abs(off[:-2] - 2 * off[1:-1] + off[2:]).max()) / 8 if len(off) > 2 else 0.0
    return float(np.abs(off).max()) + between


def _single(run: Run, a: Cut, b: Cut, margin: float) -> list[Piece]:
    """One arc in place of the biarc, where its tangents and points allow."""
    x0, y0, ux, uy = _end(run, a)
    x1, y1, wx, wy = _end(run, b)
    vx, vy = x1 - x0, y1 - y0
    first, second = _angle(ux, uy, vx, vy), _angle(vx, vy, wx, wy)
    keep_start = run.meets[0] or a.k > 0
    keep_end = run.meets[1] or b.k < len(run.x) - 1
    half = (first + second) / 2 if keep_start == keep_end else first if keep_start else second
    size = math.hypot(vx, vy)
    if (keep_start and abs(half - first) > ALIKE) or (keep_end and abs(half - second) > ALIKE):
        return []
    c, s = math.cos(half), math.sin(half)
    tx, ty = (vx * c + vy * s) / size, (vy * c - vx * s) / size
    x, y = run.x[a.k : b.k + 1], run.y[a.k : b.k + 1]
    if abs(half) > math.pi / 2 or peak(_off(x - x0, y - y0, tx, ty, 2 * s / size)) > margin:
        return []
    return [Piece(x=x0, y=y0, bulge=math.tan(half / 2), smooth=keep_start, upto=float(run.place[b.k]), px=x, py=y)]


def _double(run: Run, a: Cut, b: Cut) -> list[Piece]:
    x0, y0, ux, uy = _end(run, a)
    x1, y1, wx, wy = _end(run, b)
    jx, jy, sx, sy = _joint(x0, y0, ux, uy, x1, y1, wx, wy)
    x, y = run.x[a.k : b.k + 1], run.y[a.k : b.k + 1]
    ahead = (x - jx) * sx + (y - jy) * sy
    late, smooth = min(max(1, int(np.count_nonzero(ahead < 0))), len(x) - 1), run.meets[0] or a.k > 0
    meet = float(np.interp(0.0, ahead[late - 1 : late + 1], run.place[a.k + late - 1 : a.k + late + 1]))
    first = math.tan(_angle(ux, uy, jx - x0, jy - y0) / 2)
    second = math.tan(_angle(x1 - jx, y1 - jy, wx, wy) / 2)
    return [
        Piece(x=x0, y=y0, bulge=first, smooth=smooth, upto=meet, px=x[:late], py=y[:late]),
        Piece(x=jx, y=jy, bulge=second, smooth=True, upto=float(run.place[b.k]), px=x[late:], py=y[late:]),
    ]


def _angle(ax: float, ay: float, bx: float, by: float) -> float:
    """From direction a to direction b, anticlockwise, rad."""
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)
