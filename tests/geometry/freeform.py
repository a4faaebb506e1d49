"""Free-form designs of many kinds from a number, and the curves behind them by the textbook formula."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Floats
from pipeline.geometry.curves import Arc, Cubic, EllipseArc, Line, PathSegment, contour
from pipeline.geometry.region import Part, Region, region
from tests.geometry.outlines import hermite, random_outline, through

CHORD_MM = 5e-6
"""The polyline of ``fine`` lies this near the mathematical curve."""
CORNER_RAD = math.radians(0.1)

Path = list[PathSegment]


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """An outline and its holes as drawn (closed paths), the kind, and the number it came from."""

    kind: str
    seed: int
    paths: tuple[Path, ...]

    def region(self) -> Region:
        outer, *holes = (contour(p, True) for p in self.paths)
        return region([Part(outer, tuple(holes))])


def design(seed: int) -> Design:
    """The design of a number: kinds take turns; what crosses itself is drawn anew."""
    kinds = (smooth, cornered, waisted, holed, fingered, rippled, mixed, scalloped, blobs, notched)
    kind = kinds[seed % len(kinds)]
    for attempt in range(50):
        paths = tuple(kind(np.random.default_rng([seed, attempt])))
        rings = [shapely.Polygon(np.concatenate([fine(s, 1e-3)[0][:-1] for s in p])) for p in paths]
        if not all(r.is_valid for r in rings):
            continue
        whole = shapely.Polygon(rings[0].exterior, [h.exterior for h in rings[1:]])
        if whole.is_valid and all(shapely.distance(rings[0].exterior, h) > 0.2 for h in rings[1:]):
            return Design(kind=kind.__name__, seed=seed, paths=paths)
    raise AssertionError(f"no design of number {seed}")


def smooth(r: np.random.Generator) -> list[Path]:
    return [random_outline(int(r.integers(1 << 30)))]


def cornered(r: np.random.Generator) -> list[Path]:
    return [random_outline(int(r.integers(1 << 30)), corners=True)]


def waisted(r: np.random.Generator) -> list[Path]:
    """A body with a neck between nothing and twice the offsets wide."""
    long, neck = r.uniform(120, 220), r.uniform(1, 45)
    lobes = r.uniform(50, 100, 4)
    x = np.array([long, 0.6 * long, 0, -0.6 * long, -long, -0.6 * long, 0, 0.6 * long])
    y = np.array([0, lobes[0], neck / 2, lobes[1], 0, -lobes[2], -neck / 2, -lobes[3]])
    turn = r.uniform(0, 2 * math.pi)
    c, s = math.cos(turn), math.sin(turn)
    return [through(np.stack([x * c - y * s, x * s + y * c], axis=1))]


def holed(r: np.random.Generator) -> list[Path]:
    paths = [random_outline(int(r.integers(1 << 30)), corners=bool(r.integers(2)))]
    for k in range(int(r.integers(1, 4))):
        n = int(r.integers(4, 8))
        a = np.arange(n) * 2 * math.pi / n + r.uniform(-0.2, 0.2, n)
        rho = r.uniform(2, 30) * r.uniform(0.7, 1.3, n)
        at = np.array([-65 + 65 * k, 0]) + r.uniform(-18, 18, 2)
        if r.integers(4) == 0:
            axes = r.uniform(3, 25, 2)
            paths.append([EllipseArc((at[0], at[1]), (axes[0], axes[1]), r.uniform(0, 180), 0, 360)])
        else:
            paths.append(through(at + np.stack([rho * np.cos(a), rho * np.sin(a)], axis=1)))
    return paths


def fingered(r: np.random.Generator) -> list[Path]:
    """A body with thin fingers and thin slots between them, smooth or square at the tips."""
    n = int(r.integers(2, 6))
    x, points, top = -100.0, [(-120.0, -40.0)], 0.0
    for _ in range(n):
        wide, gap, top = r.uniform(0.6, 16), r.uniform(0.6, 25), r.uniform(25, 90)
        points += [(x, 0.0), (x + 0.1 * wide, top), (x + 0.9 * wide, top + r.uniform(-3, 3)), (x + wide, 0.0)]
        x += wide + gap
    points += [(x + 20, -40.0), (x / 2 - 50, -70.0)]
    ring = np.array(points)[::-1]
    if r.integers(2):
        return [through(ring)]
    path: Path = []
    for p, q in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        bow = np.array([-(q - p)[1], (q - p)[0]]) * r.uniform(-0.02, 0.02)
        path.append(_cubic(p, p + (q - p) / 3 + bow, q - (q - p) / 3 + bow, q))
    return [path]


def rippled(r: np.random.Generator) -> list[Path]:
    rho, n, high = r.uniform(60, 160), int(r.integers(12, 80)), r.uniform(0.05, 0.6)
    wave, depth = int(r.integers(2, 5)), r.uniform(0, 0.2)

    def f(t: Floats) -> Floats:
        radius = rho * (1 + depth * np.cos(wave * t)) + high * np.cos(n * t)
        return np.stack([radius * np.cos(t), radius * np.sin(t)], axis=1)

    def g(t: Floats) -> Floats:
        radius = rho * (1 + depth * np.cos(wave * t)) + high * np.cos(n * t)
        slope = -rho * depth * wave * np.sin(wave * t) - high * n * np.sin(n * t)
        return np.stack([slope * np.cos(t) - radius * np.sin(t), slope * np.sin(t) + radius * np.cos(t)], axis=1)

    return [hermite(f, g, 6 * n)]


def mixed(r: np.random.Generator) -> list[Path]:
    """Lines, arcs and curves in turn, some of them tangent to each other."""
    w, h, k = r.uniform(80, 160), r.uniform(50, 110), r.uniform(5, 40)
    arc = math.tan(math.pi / 8)
    pull = r.uniform(0.2, 0.8)
    return [
        [
            Line((k, 0.0), (w, 0.0)),
            Cubic((w, 0.0), (w + k * pull, 0.0), (w + k, h / 3), (w + k, h / 2)),
            Line((w + k, h / 2), (w + k, h - k)),
            Arc((w + k, h - k), (w, h), arc),
            Cubic((w, h), (0.7 * w, h + r.uniform(-30, 30)), (0.4 * w, h - r.uniform(5, 40)), (k, h)),
            Cubic((k, h), (k - r.uniform(1, 30), h + r.uniform(-5, 25)), (0.0, h - k / 3), (0.0, h - k)),
            Line((0.0, h - k), (0.0, k)),
            Arc((0.0, k), (k, 0.0), arc),
        ]
    ]


def scalloped(r: np.random.Generator) -> list[Path]:
    """Curves that meet in cusps and corners, standing out or standing in."""
    n = int(r.integers(5, 24))
    a = np.arange(n) * 2 * math.pi / n + r.uniform(-0.3, 0.3, n) / n
    rho = r.uniform(70, 150) * r.uniform(0.95, 1.05, n)
    p = np.stack([rho * np.cos(a), rho * np.sin(a)], axis=1)
    path: Path = []
    for u, v in zip(p, np.roll(p, -1, axis=0), strict=True):
        out = np.array([(v - u)[1], -(v - u)[0]]) * r.uniform(-0.5, 0.5)
        path.append(_cubic(u, u + (v - u) * r.uniform(0, 0.4) + out, v - (v - u) * r.uniform(0, 0.4) + out, v))
    return [path]


def blobs(r: np.random.Generator) -> list[Path]:
    """Strongly bent: radii from under a millimetre to a hundred."""
    n = int(r.integers(8, 22))
    a = np.arange(n) * 2 * math.pi / n
    rho = r.uniform(60, 120) * r.uniform(0.45, 1.4, n)
    return [through(np.stack([rho * np.cos(a), rho * np.sin(a)], axis=1))]


def notched(r: np.random.Generator) -> list[Path]:
    """An ellipse with narrow bays and spikes drawn into it, radii down to a tenth."""
    a, b, n = r.uniform(80, 160), r.uniform(50, 110), int(r.integers(2, 6))
    rim: list[tuple[float, float]] = []
    for k in range(n):
        first = 2 * math.pi * k / n
        for t in np.linspace(0.15, 0.75, 5):
            u = first + 2 * math.pi / n * t
            rim.append((a * math.cos(u), b * math.sin(u)))
        u, wide = first + 2 * math.pi / n * 0.9, r.uniform(0.002, 0.08)
        deep = 1 + r.uniform(-0.6, 0.5)
        for v, s in ((u - wide, 1.0), (u - wide / 2, deep), (u + wide / 2, deep), (u + wide, 1.0)):
            rim.append((a * s * math.cos(v), b * s * math.sin(v)))
    return [through(np.array(rim))]


def _cubic(*points: Floats) -> Cubic:
    return Cubic(*((float(p[0]), float(p[1])) for p in points))


# -- the mathematical curves ------------------------------------------------------------------------
def fine(s: PathSegment, chord_mm: float = CHORD_MM) -> tuple[Floats, Floats]:
    """Points (n, 2) of a segment whose chords lie within ``chord_mm``, and the unit tangents there.

    A chord over a step h of the parameter stands at most max|B''| h²/8 off (Taylor).
    """
    if isinstance(s, Line):
        p = np.array([s.p, s.q])
        return p, np.tile((p[1] - p[0]) / np.hypot(*(p[1] - p[0])), (2, 1))
    if isinstance(s, Cubic):
        a, b, c, d = (np.array(v) for v in (s.p0, s.p1, s.p2, s.p3))
        most = 6 * max(np.hypot(*(a - 2 * b + c)), np.hypot(*(b - 2 * c + d)))
        t = np.linspace(0, 1, 2 + math.ceil(math.sqrt(most / (8 * chord_mm))))[:, None]
        points = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
        way = (1 - t) ** 2 * (b - a) + 2 * t * (1 - t) * (c - b) + t * t * (d - c)
        # A handle without length: the next point gives the direction.
        for end, others in ((0, (c - a, d - a)), (-1, (d - b, d - a))):
            for other in others:
                if np.hypot(*way[end]) < 1e-12:
                    way[end] = other
        return points, way / np.hypot(*way.T)[:, None]
    if isinstance(s, Arc):
        p, q = np.array(s.p), np.array(s.q)
        chord, sweep = q - p, 4 * math.atan(s.bulge)
        centre = (p + q) / 2 + np.array([-chord[1], chord[0]]) / (2 * math.tan(sweep / 2))
        first = math.atan2(*(p - centre)[::-1])
        axes, turn, u0, u1 = (math.dist(p, centre),) * 2, 0.0, first, first + sweep
    else:
        centre, axes, turn = np.array(s.centre), s.axes, math.radians(s.turn_deg)
        u0, u1 = math.radians(s.start_deg), math.radians(s.end_deg)
    n = 2 + math.ceil(abs(u1 - u0) * math.sqrt(max(axes) / (8 * chord_mm)))
    u = np.linspace(u0, u1, n)
    side = math.copysign(1.0, u1 - u0)
    x, y = axes[0] * np.cos(u), axes[1] * np.sin(u)
    dx, dy = -side * axes[0] * np.sin(u), side * axes[1] * np.cos(u)
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    way = np.stack([dx, dy], axis=1) @ spin
    return centre + np.stack([x, y], axis=1) @ spin, way / np.hypot(*way.T)[:, None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """A design's mathematical curves: fine closed polylines, points (n, 2) with unit normals to the
    outside of the material, and the corners (k, 2)."""

    rings: tuple[Floats, ...]
    points: Floats
    normals: Floats
    corners: Floats


def truth(d: Design, spacing_mm: float = 0.1) -> Truth:
    """``points`` stand about ``spacing_mm`` apart; every path turns as the material asks for."""
    rings, points, normals, corners = [], [], [], []
    for k, path in enumerate(d.paths):
        lots = [fine(s) for s in path]
        ring = np.concatenate([p[:-1] for p, _ in lots])
        x, y = ring.T
        area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
        side = 1.0 if (area > 0) == (k == 0) else -1.0
        rings.append(ring)
        for (p, t), (_, after) in zip(lots, [*lots[1:], lots[0]], strict=True):
            run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
            want = np.linspace(0, run[-1], 2 + math.ceil(run[-1] / spacing_mm))
            if len(p) == 2:  # a line
                points.append(p[0] + (want / run[-1])[:, None] * (p[1] - p[0]))
                tangents = np.tile(t[0], (len(want), 1))
            else:
                pick = np.unique(np.searchsorted(run, want).clip(0, len(p) - 1))
                points.append(p[pick])
                tangents = t[pick]
            normals.append(side * np.stack([tangents[:, 1], -tangents[:, 0]], axis=1))
            cross = t[-1, 0] * after[0, 1] - t[-1, 1] * after[0, 0]
            if abs(math.atan2(cross, float(t[-1] @ after[0]))) > CORNER_RAD / 2:
                corners.append(p[-1])
    return Truth(
        rings=tuple(rings),
        points=np.concatenate(points),
        normals=np.concatenate(normals),
        corners=np.array(corners).reshape(-1, 2),
    )
