"""Outlines as a designer draws them, for tests: segments, contours, and the curves behind them."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.curves import Cubic, EllipseArc, PathSegment


def through(points: Floats) -> list[PathSegment]:
    """A smooth closed outline through points (n, 2): cubics with a sixth of the neighbours' chord as handles."""
    p, q = points, np.roll(points, -1, axis=0)
    slope = (np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)) / 6
    next_slope = np.roll(slope, -1, axis=0)
    return [
        Cubic(*(tuple(map(float, v)) for v in (a, a + s, b - t, b)))
        for a, b, s, t in zip(p, q, slope, next_slope, strict=True)
    ]


def hermite(f: object, g: object, pieces: int) -> list[PathSegment]:
    """Cubics that take points f(t) and derivatives g(t) of a closed curve, t in 0…2π (n → (n, 2))."""
    t = np.linspace(0, 2 * math.pi, pieces + 1)
    p, d = f(t), g(t) * (2 * math.pi / pieces / 3)  # type: ignore[operator]  # two plain callables
    p[-1], d[-1] = p[0], d[0]
    return [
        Cubic(*(tuple(map(float, v)) for v in (p[i], p[i] + d[i], p[i + 1] - d[i + 1], p[i + 1])))
        for i in range(pieces)
    ]


def peanut(pieces: int = 200) -> list[PathSegment]:
    """ρ = 100 + 40 cos 2t of outside_checks.md G3, by cubics 1e-7 mm near."""

    def f(t: Floats) -> Floats:
        r = 100 + 40 * np.cos(2 * t)
        return np.stack([r * np.cos(t), r * np.sin(t)], axis=1)

    def g(t: Floats) -> Floats:
        r, s = 100 + 40 * np.cos(2 * t), -80 * np.sin(2 * t)
        return np.stack([s * np.cos(t) - r * np.sin(t), s * np.sin(t) + r * np.cos(t)], axis=1)

    return hermite(f, g, pieces)


def random_outline(seed: int, corners: bool = False) -> list[PathSegment]:
    """A body-sized outline of six to twelve cubics; with ``corners`` some points lose their smoothness."""
    r = np.random.default_rng(seed)
    n = int(r.integers(6, 13))
    a = np.linspace(0, 2 * math.pi, n + 1)[:-1] + r.uniform(-0.15, 0.15, n)
    rho = 150 * (1 + 0.3 * np.cos(2 * a + r.uniform(0, 6))) * r.uniform(0.85, 1.15, n)
    segments = through(np.stack([rho * np.cos(a), 0.7 * rho * np.sin(a)], axis=1))
    if corners:
        for k in range(0, n, 3):
            s = segments[k]
            assert isinstance(s, Cubic)
            turned = (s.p0[0] - (s.p1[1] - s.p0[1]), s.p0[1] + (s.p1[0] - s.p0[0]))
            segments[k] = Cubic(s.p0, turned, s.p2, s.p3)
    return segments


seeds = st.integers(0, 100_000)


def sampled(s: PathSegment, n: int = 4000) -> Floats:
    """Points (n, 2) of a cubic or elliptic arc by the textbook formula, closer together at the ends."""
    t = (1 - np.cos(np.linspace(0, math.pi, n)))[:, None] / 2
    if isinstance(s, Cubic):
        a, b, c, d = (np.array(v) for v in (s.p0, s.p1, s.p2, s.p3))
        cubic: Floats = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
        return cubic
    assert isinstance(s, EllipseArc)
    u, w = np.radians(s.start_deg + (s.end_deg - s.start_deg) * t), math.radians(s.turn_deg)
    x, y = s.axes[0] * np.cos(u), s.axes[1] * np.sin(u)
    turned = np.hstack([x * math.cos(w) - y * math.sin(w), x * math.sin(w) + y * math.cos(w)])
    return np.array(s.centre) + turned


def farthest(points: Floats, line: Floats) -> float:
    """Largest distance of points (n, 2) from a polyline (m, 2), by GEOS."""
    tree = shapely.STRtree(shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1)))
    _, far = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return float(far.max())


def breaks_deg(c: Contour) -> Floats:
    """Break of the tangents at each vertex (an open contour's ends left out), degrees."""
    leaves, arrives = c.tangents()
    came = np.roll(arrives, 1, axis=0)
    turn = np.arctan2(came[:, 0] * leaves[:, 1] - came[:, 1] * leaves[:, 0], (came * leaves).sum(axis=1))
    found: Floats = np.degrees(np.abs(turn))
    return found if c.closed else found[1:]
