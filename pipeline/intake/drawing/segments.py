"""The drawing's mathematical curves: lines, cubics and arcs of ellipses, kept exact under any affine map.

Points are complex numbers (x + iy) in user units or, after mapping, in mm with y up.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.intake.drawing.affine import Affine


@dataclass(frozen=True, slots=True)
class Line:
    p: complex
    q: complex

    def mapped(self, m: Affine) -> Line:
        return Line(m(self.p), m(self.q))

    def moved_end(self, q: complex) -> Line:
        return Line(self.p, q)

    def reversed(self) -> Line:
        return Line(self.q, self.p)

    def hull(self) -> tuple[complex, ...]:
        """Points whose bounding box holds the segment."""
        return self.p, self.q


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier curve from p to q with handles c1 and c2."""

    p: complex
    c1: complex
    c2: complex
    q: complex

    def mapped(self, m: Affine) -> Cubic:
        return Cubic(m(self.p), m(self.c1), m(self.c2), m(self.q))

    def moved_end(self, q: complex) -> Cubic:
        return Cubic(self.p, self.c1, self.c2 + (q - self.q), q)

    def reversed(self) -> Cubic:
        return Cubic(self.q, self.c2, self.c1, self.p)

    def at(self, t: float) -> complex:
        s = 1 - t
        return s * s * s * self.p + 3 * s * s * t * self.c1 + 3 * s * t * t * self.c2 + t * t * t * self.q

    def hull(self) -> tuple[complex, ...]:
        """The ends and where the curve turns back in x or y."""
        turns = []
        control = (self.p, self.c1, self.c2, self.q)
        for p0, p1, p2, p3 in ([z.real for z in control], [z.imag for z in control]):
            low, high = (p0, p3) if p0 <= p3 else (p3, p0)
            if low <= p1 <= high and low <= p2 <= high:
                continue
            a, b, c = p3 - 3 * p2 + 3 * p1 - p0, 2 * (p2 - 2 * p1 + p0), p1 - p0
            turns += [self.at(t) for t in _roots(a, b, c) if 0 < t < 1]
        return self.p, self.q, *turns


@dataclass(frozen=True, slots=True)
class Bow:
    """An arc of an ellipse: centre + u cos t + v sin t for t from ``start`` through ``sweep`` (radians).

    p and q are its exact ends as drawn. The form stays the same under every affine map.
    """

    p: complex
    q: complex
    centre: complex
    u: complex
    v: complex
    start: float
    sweep: float

    def mapped(self, m: Affine) -> Bow:
        return Bow(m(self.p), m(self.q), m(self.centre), m.turn(self.u), m.turn(self.v), self.start, self.sweep)

    def moved_end(self, q: complex) -> Bow:
        """The arc turned and scaled about p so that it ends at ``q`` (a move far below its size)."""
        k = (q - self.p) / (self.q - self.p)
        return Bow(self.p, q, self.p + (self.centre - self.p) * k, self.u * k, self.v * k, self.start, self.sweep)

    def reversed(self) -> Bow:
        return Bow(self.q, self.p, self.centre, self.u, self.v, self.start + self.sweep, -self.sweep)

    def at(self, t: float) -> complex:
        """The point at parameter t in 0…1."""
        angle = self.start + t * self.sweep
        return self.centre + self.u * math.cos(angle) + self.v * math.sin(angle)

    def hull(self) -> tuple[complex, ...]:
        turns = []
        for c, s in ((self.u.real, self.v.real), (self.u.imag, self.v.imag)):
            top = math.atan2(s, c)
            low, high = sorted((self.start, self.start + self.sweep))
            k = math.ceil((low - top) / math.pi)
            while top + k * math.pi < high:
                turns.append((top + k * math.pi - self.start) / self.sweep)
                k += 1
        return self.p, self.q, *(self.at(t) for t in turns)

    @property
    def roundness(self) -> float:
        """How far the ellipse lies from a circle of radius √(r1 r2), in its own unit."""
        # The half axes are the singular values of (u v): their squares are e ± swing.
        uu, vv, product = abs(self.u) ** 2, abs(self.v) ** 2, self.u.conjugate() * self.v
        e, swing = (uu + vv) / 2, math.hypot((uu - vv) / 2, product.real)
        return math.sqrt(e + swing) - math.sqrt(abs(product.imag))

    @property
    def bulge(self) -> float:
        """Bulge of the arc where it is circular: positive anticlockwise (y up)."""
        turn = math.copysign(1.0, (self.u.conjugate() * self.v).imag)
        return turn * math.tan(self.sweep / 4)


Segment = Line | Cubic | Bow


@dataclass(frozen=True, slots=True)
class Subpath:
    """A chain of segments; ``closed`` when its last end is its first start."""

    segments: tuple[Segment, ...]
    closed: bool

    @property
    def start(self) -> complex:
        return self.segments[0].p

    @property
    def end(self) -> complex:
        return self.segments[-1].q

    @property
    def gap(self) -> float:
        return abs(self.end - self.start)

    def mapped(self, m: Affine) -> Subpath:
        return Subpath(tuple(s.mapped(m) for s in self.segments), self.closed)

    def reversed(self) -> Subpath:
        return Subpath(tuple(s.reversed() for s in reversed(self.segments)), self.closed)


def box(paths: Iterable[Subpath]) -> tuple[float, float, float, float] | None:
    """(xmin, ymin, xmax, ymax) of the curves, None when there are none."""
    points = [z for path in paths for s in path.segments for z in s.hull()]
    if not points:
        return None
    xs, ys = [z.real for z in points], [z.imag for z in points]
    return min(xs), min(ys), max(xs), max(ys)


def raised(p: complex, c: complex, q: complex) -> Cubic:
    """A quadratic Bézier curve as a cubic, exactly."""
    return Cubic(p, p + (c - p) * 2 / 3, q + (c - q) * 2 / 3, q)


def endpoint_arc(
    p: complex, q: complex, rx: float, ry: float, turn_deg: float, large: bool, sweep: bool
) -> Segment:
    """An arc by its ends, as path data gives it: SVG 2, implementation notes, eq. 5.1–5.6 and 6.1–6.3.

    Radii that are too small are scaled up; a zero radius makes it a line.
    """
    rx, ry = abs(rx), abs(ry)
    if min(rx, ry) < 1e-12:
        return Line(p, q)
    phi = cmath.rect(1.0, math.radians(turn_deg))
    half = (p - q) / 2 / phi
    x, y = half.real, half.imag
    lam = (x / rx) ** 2 + (y / ry) ** 2
    if lam > 1:
        rx, ry = rx * math.sqrt(lam), ry * math.sqrt(lam)
    root = 0.0 if lam >= 1 else math.sqrt((1 - lam) / lam)
    if large == sweep:
        root = -root
    centre_ = complex(root * rx * y / ry, -root * ry * x / rx)
    start = math.atan2((y - centre_.imag) / ry, (x - centre_.real) / rx)
    end = math.atan2((-y - centre_.imag) / ry, (-x - centre_.real) / rx)
    delta = (end - start) % (2 * math.pi)
    if not sweep:
        delta -= 2 * math.pi
    return Bow(p, q, centre_ * phi + (p + q) / 2, rx * phi, ry * phi * 1j, start, delta)


def _roots(a: float, b: float, c: float) -> list[float]:
    if abs(a) < 1e-12 * (abs(b) + abs(c)) or a == 0:
        return [-c / b] if b else []
    disc = b * b - 4 * a * c
    if disc < 0:
        return []
    root = math.sqrt(disc)
    k = -(b + math.copysign(root, b)) / 2
    return [k / a, c / k] if k else [0.0]
