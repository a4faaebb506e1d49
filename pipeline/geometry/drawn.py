"""The segments a path is drawn with, and what each of them is: lines, arcs, curves without cusps."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from pipeline.geometry.biarcs import CURVE_MM
from pipeline.geometry.contour import Floats

SAME_MM = 1e-6
"""Points nearer than this are one point: coordinates are written with six decimals."""
SHARP_MM = 1e-5
"""A curve that turns on a smaller radius than this turns back on the spot: a cusp."""
HOOK_MM = SHARP_MM / 2
"""What a cusp leaves of a curve is dropped when it is smaller than this."""
LARGEST_MM = 1e6

POWERS = np.array([[1.0, 0, 0, 0], [-3, 3, 0, 0], [3, -6, 3, 0], [-1, 3, -3, 1]])
"""Bézier control points to coefficients of 1, t, t², t³."""

Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment from ``p`` to ``q``, mm."""

    p: Point
    q: Point


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc from ``p`` to ``q``, mm; ``bulge`` = tan(sweep / 4), anticlockwise positive."""

    p: Point
    q: Point
    bulge: float


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier curve from ``p0`` to ``p3`` with handles ``p1`` and ``p2``, mm."""

    p0: Point
    p1: Point
    p2: Point
    p3: Point


@dataclass(frozen=True, slots=True)
class EllipseArc:
    """Part of an ellipse: centre + R(turn) · (a cos u, b sin u), u from ``start_deg`` to ``end_deg``.

    ``axes`` are the semi-axes in mm, ``turn_deg`` the angle of the first; ``end_deg`` < ``start_deg``
    runs clockwise. At most one whole turn.
    """

    centre: Point
    axes: tuple[float, float]
    turn_deg: float
    start_deg: float
    end_deg: float


PathSegment: TypeAlias = Line | Arc | Cubic | EllipseArc


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One smooth stretch of a cubic or ellipse without cusps (see `biarcs.Pieces`)."""

    p: Point
    q: Point
    coefficients: Floats
    angles: tuple[float, float] | None
    leaves: Point
    arrives: Point


Plain: TypeAlias = Line | Arc | Curve


def quadratic(p0: Point, p1: Point, p2: Point) -> Cubic:
    """The cubic that is the quadratic Bézier curve p0, p1, p2."""
    h0 = (p0[0] + 2 * (p1[0] - p0[0]) / 3, p0[1] + 2 * (p1[1] - p0[1]) / 3)
    h1 = (p2[0] + 2 * (p1[0] - p2[0]) / 3, p2[1] + 2 * (p1[1] - p2[1]) / 3)
    return Cubic(p0, h0, h1, p2)


def plain(s: PathSegment) -> Iterator[Plain]:
    """A segment as lines, arcs of at most half a turn, and curves without cusps."""
    if isinstance(s, Line):
        _check(s.p, s.q)
        yield s
    elif isinstance(s, Arc):
        _check(s.p, s.q)
        if not math.isfinite(s.bulge):
            raise ValueError("an arc's bulge is not a number")
        yield from _arc(s)
    elif isinstance(s, Cubic):
        _check(s.p0, s.p1, s.p2, s.p3)
        yield from _cubic(s)
    else:
        _check(s.centre, s.axes)
        if not all(map(math.isfinite, (s.turn_deg, s.start_deg, s.end_deg))):
            raise ValueError("an ellipse has an angle that is not a number")
        if abs(s.end_deg - s.start_deg) > 360 + 1e-9:
            raise ValueError("an ellipse runs round more than once")
        yield from _ellipse(s)


def _check(*points: Point) -> None:
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise ValueError("the path has a coordinate that is not a number")
        if max(abs(x), abs(y)) > LARGEST_MM:
            raise ValueError(
                f"the path goes out to {max(abs(x), abs(y)):.6g} mm; at most {LARGEST_MM:.0f} mm is read"
            )


def _arc(s: Arc) -> Iterator[Plain]:
    chord = math.dist(s.p, s.q)
    if abs(s.bulge) * chord / 2 <= SAME_MM * 1e-3:
        yield Line(s.p, s.q)
    elif abs(s.bulge) <= 1 + 1e-12:
        yield s
    else:
        if chord * (1 + s.bulge**2) / (4 * abs(s.bulge)) > LARGEST_MM:
            raise ValueError("an arc's radius is too large to be read")
        b = s.bulge / 2
        tip = (
            (s.p[0] + s.q[0]) / 2 + b * (s.q[1] - s.p[1]),
            (s.p[1] + s.q[1]) / 2 - b * (s.q[0] - s.p[0]),
        )
        half = math.tan(math.atan(s.bulge) / 2)
        yield from (Arc(s.p, tip, half), Arc(tip, s.q, half))


def _cubic(s: Cubic) -> Iterator[Plain]:
    control = np.array([s.p0, s.p1, s.p2, s.p3])
    away = control - control[0]
    longest = away[np.argmax(np.hypot(*away.T))]
    length = float(np.hypot(*longest))
    if length <= SAME_MM:
        yield Line(s.p0, s.p3)
        return
    c = POWERS @ away
    axis = longest / length
    if np.abs(away @ np.array([-axis[1], axis[0]])).max() <= SAME_MM:
        # Straight: one line, or there and back again where the handles overshoot.
        turns = _inner_roots(np.array([3.0, 2.0, 1.0]) * (c[:0:-1] @ axis))
        yield from _lines([s.p0, *_pairs(np.vander(turns, 4, increasing=True) @ c + control[0]), s.p3])
        return
    c[0] = control[0]
    d1, d2 = c[1:] * [[1], [2], [3]], c[2:] * [[2], [6]]
    steps = np.diff(away, axis=0)
    if 9 * max(0.0, (steps @ away[3]).min()) ** 2 > 12 * SHARP_MM * np.hypot(*steps.T).max() * (away[3] @ away[3]):
        slow = []  # |B'| ≥ 3 · the least step along the chord, so the radius |B'|²/|B''| stays large
    else:  # the speed is least where B'·B'' = 0; there a cusp can be
        slow = _inner_roots((np.convolve(d1[:, 0], d2[:, 0]) + np.convolve(d1[:, 1], d2[:, 1]))[::-1])
    cuts = np.array([0.0, *(t for t in slow if _sharp((1.0, t, t * t) @ d1, (1.0, t) @ d2)), 1.0])
    points = [s.p0, *_pairs(np.vander(cuts[1:-1], 4, increasing=True) @ c), s.p3]
    curves = []
    for k, (t, u) in enumerate(pairwise(cuts)):
        w = u - t  # the same polynomial in v, where t + v w runs from this cut to the next
        own = np.array(
            [
                (1.0, t, t * t, t**3) @ c,
                w * (c[1] + 2 * t * c[2] + 3 * t * t * c[3]),
                w * w * (c[2] + 3 * t * c[3]),
                w**3 * c[3],
            ]
        )
        leaves = _direction((1.0, t, t * t) @ d1, (1.0, t) @ d2, d2[1])
        arrives = _direction((1.0, u, u * u) @ d1, (-1.0, -u) @ d2, d2[1])
        curves.append(Curve(points[k], points[k + 1], own, None, leaves, arrives))
    curves = [c for c in curves if extent(c) > HOOK_MM]
    joints = [s.p0, *(c.q for c in curves[:-1]), s.p3]
    for c, p, q in zip(curves, joints, joints[1:], strict=False):
        yield replace(c, p=p, q=q)
    if not curves:
        yield Line(s.p0, s.p3)


def _ellipse(s: EllipseArc) -> Iterator[Plain]:
    a, b = s.axes
    if min(a, b) < 0:
        raise ValueError("an ellipse has a negative axis")
    turn = math.radians(s.turn_deg)
    c = np.array(
        [
            s.centre,
            (a * math.cos(turn), a * math.sin(turn)),
            (-b * math.sin(turn), b * math.cos(turn)),
            (0.0, 0.0),
        ]
    )
    sweep = s.end_deg - s.start_deg
    if abs(a - b) <= SAME_MM or min(a, b) <= CURVE_MM / 4:
        # A circle in arcs of at most half a turn, or so flat that it runs to and fro on a line.
        pieces = max(1, math.ceil(abs(sweep) / 180 - 1e-12))
        cuts = np.linspace(s.start_deg, s.end_deg, pieces + 1)
        if abs(a - b) > SAME_MM:
            cuts = _with_tips(s)
        points = _pairs(_round(np.radians(cuts)) @ c)
        bulge = math.tan(math.radians(sweep / pieces) / 4) if abs(a - b) <= SAME_MM else 0.0
        for p, q in pairwise(points):
            yield from _arc(Arc(p, q, bulge))
        return
    is_sharp = min(a, b) ** 2 / max(a, b) <= SHARP_MM
    cuts = np.radians(_with_tips(s) if is_sharp else [s.start_deg, s.end_deg])
    points = _pairs(_round(cuts) @ c)
    side = math.copysign(1.0, sweep)
    for k, (u, v) in enumerate(pairwise(cuts)):
        if u == v:
            continue
        leaves, arrives = (
            _direction(
                side * (np.cos(w) * c[2] - np.sin(w) * c[1]),
                -way * (np.cos(w) * c[1] + np.sin(w) * c[2]),
                c[3],
            )
            for w, way in ((u, 1.0), (v, -1.0))
        )
        yield Curve(points[k], points[k + 1], c, (float(u), float(v - u)), leaves, arrives)


def _with_tips(s: EllipseArc) -> Floats:
    """Start and end of an elliptic arc in degrees and the tips of its long axis between them."""
    first = 0.0 if s.axes[0] >= s.axes[1] else 90.0
    low, high = sorted((s.start_deg, s.end_deg))
    k = np.arange(math.floor((low - first) / 180), math.ceil((high - first) / 180) + 1)
    tips = first + 180.0 * k
    cuts = np.array([low, *tips[(tips > low + 1e-9) & (tips < high - 1e-9)], high])
    return cuts if s.end_deg >= s.start_deg else cuts[::-1]


def _round(u: Floats) -> Floats:
    return np.stack([np.ones_like(u), np.cos(u), np.sin(u), np.zeros_like(u)], axis=1)


def _lines(points: list[Point]) -> Iterator[Plain]:
    for p, q in pairwise(points):
        yield Line(p, q)


def _inner_roots(polynomial: Floats) -> list[float]:
    """Real roots strictly between 0 and 1, in order; ``polynomial`` has the highest power first."""
    clean = np.where(np.abs(polynomial) > 1e-13 * np.abs(polynomial).max(), polynomial, 0.0)
    found = np.roots(clean)
    real = found.real[np.abs(found.imag) < 1e-9]
    return [float(t) for t in np.sort(real) if 1e-9 < t < 1 - 1e-9]


def _sharp(first: Floats, second: Floats) -> bool:
    """Is the radius of curvature under SHARP_MM, given the first and second derivative?"""
    speed = float(np.hypot(*first))
    return bool(speed**3 <= SHARP_MM * abs(first[0] * second[1] - first[1] * second[0]))


def _direction(first: Floats, second: Floats, third: Floats) -> Point:
    """The unit tangent at an end, from the derivatives there; ``second`` points into the curve.

    A handle so short that the curve turns away from it within SHARP_MM doesn't count.
    """
    if not _sharp(first, second):
        return unit(float(first[0]), float(first[1]))
    if np.hypot(*second) ** 3 > 2 * SHARP_MM * np.hypot(*third) ** 2:
        return unit(float(second[0]), float(second[1]))
    return unit(float(third[0]), float(third[1]))


def extent(s: Plain) -> float:
    """How far a segment gets from its start, mm."""
    if not isinstance(s, Curve):
        return math.dist(s.p, s.q)
    t = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    base = np.vander(t, 4, increasing=True) if s.angles is None else _round(s.angles[0] + s.angles[1] * t)
    points = base @ s.coefficients
    return float(np.hypot(*(points - points[0]).T).max())


# -- plane vectors ----------------------------------------------------------------------------------
def _pairs(points: Floats) -> list[Point]:
    return [(float(x), float(y)) for x, y in points]


def unit(x: float, y: float) -> Point:
    size = math.hypot(x, y)
    return x / size, y / size
