"""Sections of a neck: z(y) = t (1 − |v|^p)^(1/m), v from −1 to 1 across the width, and what lies between stations.

y is the place across the neck (bass positive), z the depth below the plane that the section hangs from. The
thickest point lies ``lean`` from the middle: v runs straight from −1 at −w/2 to 0 there and on to 1 at +w/2
(trade.md 5.4, derived there). With p, m ≥ 1 a section is convex; with p > 1 both sides meet in a common tangent.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.biarcs import followed
from pipeline.geometry.contour import Contour, Floats

Side = tuple[float, float]
"""(p, m) of one side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """``width`` w and ``depth`` t in mm, ``lean`` toward +y (|lean| < w/2), exponents of the sides y > lean and
    y < lean. Raises ValueError where these make no convex section."""

    width: float
    depth: float
    lean: float = 0.0
    plus: Side = (2.0, 2.0)
    minus: Side = (2.0, 2.0)

    def __post_init__(self) -> None:
        if not (self.width > 0 and self.depth > 0 and 2 * abs(self.lean) < self.width):
            raise ValueError("a section needs a width, a depth and a lean of less than half its width")
        if min(*self.plus, *self.minus) < 1.0:
            raise ValueError("the exponents of a section are at least 1")

    def reach(self, sign: int) -> float:
        """From the thickest point to the edge on the side of ``sign`` (1 or −1), mm along y."""
        return self.width / 2 - sign * self.lean

    def z(self, y: float) -> float:
        """Depth at y, |y| ≤ w/2."""
        sign = 1 if y >= self.lean else -1
        p, m = self.plus if sign > 0 else self.minus
        v = min(abs(y - self.lean) / self.reach(sign), 1.0)
        return float(self.depth * (1.0 - v**p) ** (1.0 / m))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sides:
    """Both sides as smooth pieces for `biarcs.followed`: v = cos^(2/p) θ and z = t sin^(2/m) θ keep the formula,
    since v^p + (z/t)^m = 1. Piece 0 runs from −w/2 to the thickest point, piece 1 from there to +w/2."""

    reach: Floats
    exponents: Floats
    lean: float
    depth: float
    ends: Floats
    tangents: Floats

    def at(self, k: NDArray[np.int64], t: Floats) -> tuple[Floats, Floats]:
        rising = (k == 0)[:, None]
        angle = np.where(rising, t, 1.0 - t) * (math.pi / 2)
        c, s = np.cos(angle), np.sin(angle)
        p, m = self.exponents[k, :1], self.exponents[k, 1:]
        side = np.where(rising, -1.0, 1.0) * self.reach[k][:, None]
        points = np.stack([self.lean + side * c ** (2 / p), self.depth * s ** (2 / m)], axis=-1)
        onward = np.where(rising, 1.0, -1.0) * (math.pi / 2)
        dy = -side * (2 / p) * c ** (2 / p - 1) * s * onward
        dz = self.depth * (2 / m) * s ** (2 / m - 1) * c * onward
        return points, np.stack([dy, dz], axis=-1)


def profile(section: Section) -> Contour:
    """The section's curve as an open chain of arcs from (−w/2, 0) over (lean, t) to (w/2, 0), y the depth.

    Tangent-continuous (but for the ridge of p = 1), each arc within ``CURVE_MM`` of the formula, marked ``free``:
    what is exported are few arcs within the recipe's tolerance of these (`fit.py`), and `proof` measures them.
    """
    w, t, lean = section.width, section.depth, section.lean
    reach = np.array([section.reach(-1), section.reach(1)])
    exponents = np.array([section.minus, section.plus])
    tip = (lean, t)
    ends = np.array([[(-w / 2, 0.0), tip], [tip, (w / 2, 0.0)]])
    tangents = np.empty((2, 2, 2))
    for k, (a, (p, m)) in enumerate(zip(reach, exponents, strict=True)):
        # The slope at the edge is upright where m > 1, at the thickest point level where p > 1.
        edge = (0.0, 1.0) if m > 1 else _unit(a, p * t)
        top = (1.0, 0.0) if p > 1 else _unit(a, t / m)
        tangents[k] = (edge, top) if k == 0 else ((top[0], -top[1]), (edge[0], -edge[1]))
    sides = _Sides(reach=reach, exponents=exponents, lean=lean, depth=t, ends=ends, tangents=tangents)
    chains = followed(sides)
    xy = np.concatenate([*(c[0] for c in chains), ends[1, 1:]])
    bulge = np.concatenate([*(c[1] for c in chains), np.zeros(1)])
    free = np.append(np.ones(len(bulge) - 1, dtype=np.bool_), False)
    return Contour(xy, bulge, free, False)


def facet(section: Section, sign: int) -> tuple[float, float]:
    """Where the facet at 45° that touches the side of ``sign`` meets the back and the side of a square blank.

    Returns (distance from the centreline on the back, distance down the side from z = 0), mm. The facet is the
    line |y| + z = c that touches: c is the greatest value of |y| + z on that side (after L. Eubanks, *Shaping the
    Neck*, who lays out two such numbers a station). For an ellipse c = √((w/2)² + t²).
    """
    p, m = section.plus if sign > 0 else section.minus
    a, t = section.reach(sign), section.depth

    def rising(angle: float) -> bool:
        # d(|y| + z)/dθ > 0 over sin θ cos θ: t/m · sin^(2/m − 2) > a/p · cos^(2/p − 2); falls with θ as m, p ≥ 1.
        return math.log(t / m) + (2 / m - 2) * math.log(math.sin(angle)) > math.log(a / p) + (
            2 / p - 2
        ) * math.log(math.cos(angle))

    low, high = 0.0, math.pi / 2
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) else (low, middle)
    touch = a * math.cos(low) ** (2 / p) + t * math.sin(low) ** (2 / m) + sign * section.lean
    return touch - t, touch - section.width / 2


def monotone(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    """The monotone cubic through (xs, ys) at x; xs rise, and x lies among them. Never leaves the range of its
    two neighbours (Fritsch and Butland's slopes, SIAM J. Sci. Stat. Comput. 5 (1984), from memory).

    Raises ValueError where x lies outside.
    """
    n = len(xs)
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"{x:g} lies outside of the stations")
    if n == 1:
        return ys[0]
    i = min(bisect_right(xs, x), n - 1) - 1
    step = xs[i + 1] - xs[i]
    d0, d1 = _slope(xs, ys, i), _slope(xs, ys, i + 1)
    u = (x - xs[i]) / step
    value = (
        ys[i] * (1 + 2 * u) * (1 - u) ** 2
        + ys[i + 1] * u * u * (3 - 2 * u)
        + step * u * (1 - u) * (d0 * (1 - u) - d1 * u)
    )
    low, high = sorted((ys[i], ys[i + 1]))
    return min(max(value, low), high)  # the last digit


def _slope(xs: Sequence[float], ys: Sequence[float], i: int) -> float:
    """Slope at a station: 0 where the values turn, else a weighted harmonic mean of both secants."""
    n = len(xs)
    h = [b - a for a, b in pairwise(xs)]
    d = [(ys[k + 1] - ys[k]) / h[k] for k in range(n - 1)]
    if n == 2:
        return d[0]
    if 0 < i < n - 1:
        if d[i - 1] * d[i] <= 0:
            return 0.0
        w0, w1 = 2 * h[i] + h[i - 1], h[i] + 2 * h[i - 1]
        return (w0 + w1) / (w0 / d[i - 1] + w1 / d[i])
    h0, h1, d0, d1 = (h[0], h[1], d[0], d[1]) if i == 0 else (h[-1], h[-2], d[-1], d[-2])
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0:
        return 0.0
    return 3 * d0 if d0 * d1 <= 0 and abs(slope) > 3 * abs(d0) else slope


def _unit(x: float, y: float) -> tuple[float, float]:
    size = math.hypot(x, y)
    return x / size, y / size
