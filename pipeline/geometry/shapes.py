"""Plain shapes as exact contours, in mm."""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.region import Region, solid

QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter circle."""


def circle(x: float, y: float, radius: float) -> Contour:
    """A full circle as two half arcs, anticlockwise from three o'clock."""
    return chain([(x + radius, y), (x - radius, y)], [1.0, 1.0])


def disc(x: float, y: float, radius: float) -> Region:
    return solid(circle(x, y, radius))


def rectangle(width: float, height: float, corner: float = 0.0, *, x: float = 0.0, y: float = 0.0) -> Contour:
    """A rectangle centred on (x, y) with round corners; a corner of half the side gives a slot.

    Raises ValueError when the corner is larger than half the shorter side.
    """
    a, b, r = width / 2, height / 2, corner
    if r > min(a, b) + 1e-9:
        raise ValueError(f"corner {r:g} is larger than half the shorter side {min(a, b):g}")
    if r <= 0:
        return chain([(x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b)], [0.0] * 4)
    pts = [
        (-a + r, -b),
        (a - r, -b),
        (a, -b + r),
        (a, b - r),
        (a - r, b),
        (-a + r, b),
        (-a, b - r),
        (-a, -b + r),
    ]
    bulges = [0.0, QUARTER] * 4
    keep = [i for i in range(8) if math.dist(pts[i], pts[(i + 1) % 8]) > 1e-9]
    return chain([(x + pts[i][0], y + pts[i][1]) for i in keep], [bulges[i] for i in keep])


def capsule(p: tuple[float, float], q: tuple[float, float], width: float) -> Contour:
    """All points within width/2 of the segment p–q: what a cutter sweeps."""
    r = width / 2
    d = np.subtract(q, p)
    length = float(np.hypot(*d))
    if length < 1e-9:
        return circle(p[0], p[1], r)
    nx, ny = -d[1] / length * r, d[0] / length * r
    return chain(
        [(p[0] - nx, p[1] - ny), (q[0] - nx, q[1] - ny), (q[0] + nx, q[1] + ny), (p[0] + nx, p[1] + ny)],
        [0.0, 1.0, 0.0, 1.0],
    )
