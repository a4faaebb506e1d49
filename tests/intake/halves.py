"""Half bodies of three tangent arcs, for tests: circles about two points of the x axis and one beside it."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """Arcs in mm, y up: ``points`` are the four ends, ``circles`` (centre, radius) of the three arcs, ``ways``
    +1 where an arc runs anticlockwise. The first and the last point lie on the x axis, met square."""

    points: tuple[complex, complex, complex, complex]
    circles: tuple[tuple[complex, float], ...]
    ways: tuple[int, int, int]

    def turned(self, by: complex, to: complex = 0j) -> Half:
        """Rotated and scaled by a complex factor, then shifted."""
        p = self.points
        return Half(
            points=(p[0] * by + to, p[1] * by + to, p[2] * by + to, p[3] * by + to),
            circles=tuple((c * by + to, r * abs(by)) for c, r in self.circles),
            ways=self.ways,
        )

    def rounded(self, decimals: int) -> Half:
        """Ends and radii as an exporter writes them."""
        p = [complex(round(z.real, decimals), round(z.imag, decimals)) for z in self.points]
        return Half(
            points=(p[0], p[1], p[2], p[3]),
            circles=tuple((c, round(r, decimals)) for c, r in self.circles),
            ways=self.ways,
        )

    def mirrored(self) -> Half:
        p = self.points
        return Half(
            points=(p[0].conjugate(), p[1].conjugate(), p[2].conjugate(), p[3].conjugate()),
            circles=tuple((c.conjugate(), r) for c, r in self.circles),
            ways=(-self.ways[0], -self.ways[1], -self.ways[2]),
        )

    def reversed(self) -> Half:
        p = self.points
        w = self.ways
        return Half(points=(p[3], p[2], p[1], p[0]), circles=self.circles[::-1], ways=(-w[2], -w[1], -w[0]))

    def arcs(self) -> str:
        """Path data of the three arcs, from the first point on, in SVG's frame (y down: y is negated)."""
        return " ".join(
            f"A{r!r} {r!r} 0 0 {int(way < 0)} {q.real!r} {-q.imag!r}"
            for q, (_, r), way in zip(self.points[1:], self.circles, self.ways, strict=True)
        )

    @property
    def start(self) -> str:
        return f"M{self.points[0].real!r} {-self.points[0].imag!r} "


def half_body(left: float, right: float, apart: float, side: float, waist: bool) -> Half:
    """Arcs about (0, 0) with radius ``left`` and about (apart, 0) with radius ``right``, joined by one of radius
    ``side`` tangent to both: outside them as a waist, or round them. Centres of tangent circles lie r₁ + r₂ or
    |r₁ − r₂| apart, and the point of tangency on the line of centres (Euclid III.11, III.12)."""
    a, b = (side + left, side + right) if waist else (side - left, side - right)
    x = (a * a - b * b + apart * apart) / (2 * apart)
    y = math.sqrt(a * a - x * x)
    beside = complex(x, y if waist else -y)
    one = left * beside / abs(beside) * (1 if waist else -1)
    other = apart + right * (beside - apart) / abs(beside - apart) * (1 if waist else -1)
    way = 1 if waist else -1
    return Half(
        points=(complex(-left), one, other, complex(apart + right)),
        circles=((0j, left), (beside, side), (complex(apart), right)),
        ways=(-1, way, -1),
    )


TURN = cmath.rect(1.7, math.radians(33))
