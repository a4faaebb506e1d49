"""Moving contours and regions without deforming them: turn, mirror, scale, shift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.region import Part, Region, region


@dataclass(frozen=True, slots=True)
class Move:
    """A similarity: (x, y) → (a x − s b y + e, b x + s a y + f), s = −1 when it mirrors.

    Lines stay lines and arcs stay arcs. ``scale`` is √(a² + b²).
    """

    a: float = 1.0
    b: float = 0.0
    e: float = 0.0
    f: float = 0.0
    mirrors: bool = False

    @property
    def scale(self) -> float:
        return math.hypot(self.a, self.b)

    @property
    def matrix(self) -> Floats:
        s = -1.0 if self.mirrors else 1.0
        return np.array([[self.a, -s * self.b], [self.b, s * self.a]])

    def point(self, x: float, y: float) -> tuple[float, float]:
        s = -1.0 if self.mirrors else 1.0
        return self.a * x - s * self.b * y + self.e, self.b * x + s * self.a * y + self.f

    def contour(self, c: Contour) -> Contour:
        """The moved contour; a mirrored closed one is reversed so that its orientation stays."""
        xy = c.xy @ self.matrix.T + np.array([self.e, self.f])
        moved = Contour(xy, -c.bulge if self.mirrors else c.bulge.copy(), c.free.copy(), c.closed)
        return moved.reversed() if self.mirrors and c.closed else moved

    def region(self, r: Region) -> Region:
        return region(Part(self.contour(p.outer), tuple(self.contour(h) for h in p.holes)) for p in r.parts)

    def then(self, other: Move) -> Move:
        """First self, then other."""
        m = other.matrix @ self.matrix
        e, f = other.point(self.e, self.f)
        return Move(float(m[0, 0]), float(m[1, 0]), e, f, self.mirrors != other.mirrors)


def shift(dx: float, dy: float) -> Move:
    return Move(1.0, 0.0, dx, dy)


def turn(degrees: float, x: float = 0.0, y: float = 0.0) -> Move:
    """Anticlockwise about (x, y); multiples of 90° are exact."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}.get(degrees % 360)
    c, s = quarter or (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    return Move(c, s, x - c * x + s * y, y - s * x - c * y)


def mirror_x_axis() -> Move:
    """(x, y) → (x, −y): turning the work over about the x axis."""
    return Move(1.0, 0.0, 0.0, 0.0, True)


def mirror_y_axis() -> Move:
    """(x, y) → (−x, y): turning the work over end for end."""
    return Move(-1.0, 0.0, 0.0, 0.0, True)
