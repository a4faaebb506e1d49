"""Shared shapes for tests: hypothesis strategies for regions of lines, arcs and free-form chains."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, Floats, chain, line_chain
from pipeline.geometry.curves import Arc, Cubic, Line, PathSegment, contour
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import capsule, circle, rectangle


# -- builders (plain functions, also used without hypothesis) ---------------------------------------
def smooth_chain(points: Floats, tangents: Floats, *, free: bool = True) -> Contour:
    """A closed tangent-continuous chain of two arcs between neighbouring points (biarcs with equal
    handle lengths; Meek & Walton, J. Comput. Appl. Math. 59, 1995)."""
    p, q = points, np.roll(points, -1, axis=0)
    t, u = tangents, np.roll(tangents, -1, axis=0)
    v = q - p
    vt, vv, tu = np.sum(v * (t + u), axis=1), np.sum(v * v, axis=1), 2 * (1 - np.sum(t * u, axis=1))
    flat = tu < 1e-12
    handle = np.where(
        flat, vv / (4 * np.sum(v * u, axis=1)), (np.sqrt(vt**2 + tu * vv) - vt) / np.where(flat, 1, tu)
    )
    joint = (p + q + handle[:, None] * (t - u)) / 2
    xy = np.stack([p, joint], axis=1).reshape(-1, 2)

    def half_angle(tangent: Floats, chord: Floats) -> Floats:
        cross = tangent[:, 0] * chord[:, 1] - tangent[:, 1] * chord[:, 0]
        return np.arctan2(cross, np.sum(tangent * chord, axis=1)) / 2

    bulge = np.stack([np.tan(half_angle(t, joint - p)), np.tan(half_angle(q - joint, u))], axis=1).ravel()
    return Contour(xy, bulge, np.full(len(xy), free), True)


def polar_chain(radius: float, waves: list[tuple[int, float, float]], pieces: int) -> Contour:
    """ρ(t) = radius·(1 + Σ a·cos(k t + φ)) for (k, a, φ) in ``waves``, as 2·pieces arcs."""
    t = np.arange(pieces) * (2 * math.pi / pieces)
    rho = radius * (1 + sum((a * np.cos(k * t + f) for k, a, f in waves), np.zeros(pieces)))
    slope = radius * sum((-a * k * np.sin(k * t + f) for k, a, f in waves), np.zeros(pieces))
    e = np.stack([np.cos(t), np.sin(t)], axis=1)
    n = np.stack([-np.sin(t), np.cos(t)], axis=1)
    way = slope[:, None] * e + rho[:, None] * n
    return smooth_chain(rho[:, None] * e, way / np.hypot(*way.T)[:, None])


def star(radii: list[float], bulges: list[float]) -> Contour:
    """A star-shaped outline: vertices at even angles with ``radii``, sides with ``bulges``.

    Bulges are cut back so far that no side leaves its own sector, so the outline can't cross itself.
    """
    n = len(radii)
    a = np.arange(n) * (2 * math.pi / n)
    xy = np.array(radii)[:, None] * np.stack([np.cos(a), np.sin(a)], axis=1)
    out = []
    for k in range(n):
        p, q = xy[k], xy[(k + 1) % n]
        d = q - p
        # Angles between the side and the rays through its ends, less a little.
        room = min(
            math.acos(float(np.clip(d @ p / np.hypot(*d) / np.hypot(*p), -1, 1))),
            math.pi - math.acos(float(np.clip(d @ q / np.hypot(*d) / np.hypot(*q), -1, 1))),
            math.pi - math.acos(float(np.clip(d @ p / np.hypot(*d) / np.hypot(*p), -1, 1))),
            math.acos(float(np.clip(d @ q / np.hypot(*d) / np.hypot(*q), -1, 1))),
        )
        most = math.tan(0.45 * room)  # half the sweep stays under 0.9 of the room
        out.append(max(-most, min(most, bulges[k])))
    return chain(xy, out)


def _turned(v: Floats, angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([v[0] * c - v[1] * s, v[0] * s + v[1] * c])


def mixed_path(radii: list[float], sides: list[tuple[str, float, float]]) -> list[PathSegment]:
    """A star-shaped outline of lines, arcs and cubics: vertices at even angles with ``radii``; each side
    has its kind (``line``, ``arc`` or ``cubic``) and two numbers from −1 to 1 that bend it.

    A cubic's handles lie in the side's sector with angles in order, so its own angle only grows
    (Bernstein: its cross product with its derivative is a positive sum of those of its control points):
    nothing can cross.
    """
    n = len(radii)
    whole = star(radii, [u if kind == "arc" else 0.0 for kind, u, _ in sides])
    path: list[PathSegment] = []
    for k, (kind, u, v) in enumerate(sides):
        p, q = whole.xy[k], whole.xy[(k + 1) % n]
        if kind == "cubic":
            step = 2 * math.pi / n
            h = _turned(p, step / 3) / math.hypot(*p) * radii[k] * (1 + 0.5 * u)
            g = _turned(q, -step / 3) / math.hypot(*q) * radii[(k + 1) % n] * (1 + 0.5 * v)
            path.append(Cubic(*(tuple(map(float, w)) for w in (p, h, g, q))))
        elif whole.bulge[k]:
            path.append(Arc(tuple(map(float, p)), tuple(map(float, q)), float(whole.bulge[k])))
        else:
            path.append(Line(tuple(map(float, p)), tuple(map(float, q))))
    return path


def path_area(path: list[PathSegment]) -> float:
    """Signed area of a closed path by Green's theorem, from its control points and circular segments
    alone."""
    total = 0.0
    for s in path:
        points = [s.p0, s.p1, s.p2, s.p3] if isinstance(s, Cubic) else [s.p, s.q]
        x = [[a[0] * b[1] - a[1] * b[0] for b in points] for a in points]
        if isinstance(s, Cubic):  # ½∮ B × B' of a cubic Bézier curve
            total += (6 * x[0][1] + 3 * x[0][2] + x[0][3] + 3 * x[1][2] + 3 * x[1][3] + 6 * x[2][3]) / 20
            continue
        total += x[0][1] / 2
        if isinstance(s, Arc):
            sweep = 4 * math.atan(s.bulge)
            total += (sweep - math.sin(sweep)) * (math.dist(s.p, s.q) / 2 / math.sin(sweep / 2)) ** 2 / 2
    return total


def convex_path(angles: list[float], radius: float, corners: list[tuple[str, float]]) -> list[PathSegment]:
    """A convex outline: a polygon in a circle, each corner left sharp, rounded by an arc, or by a cubic.

    A corner's number (0 to 1) says how much of its sides it takes, and a cubic's how near its handles come
    to it.
    """
    xy = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    n = len(xy)
    cuts = []
    for k, (kind, share) in enumerate(corners):
        to, fro = xy[k] - xy[k - 1], xy[(k + 1) % n] - xy[k]
        reach = 0.0 if kind == "sharp" else (0.1 + 0.35 * share) * min(np.hypot(*to), np.hypot(*fro))
        cuts.append((xy[k] - to / np.hypot(*to) * reach, xy[k] + fro / np.hypot(*fro) * reach))
    path: list[PathSegment] = []
    for k, (kind, share) in enumerate(corners):
        (p, q), tip, after = cuts[k], xy[k], cuts[(k + 1) % n][0]
        a, b, c = (tuple(map(float, w)) for w in (p, q, after))
        if kind == "arc":
            d, e = tip - p, q - tip
            path.append(Arc(a, b, math.tan(math.atan2(d[0] * e[1] - d[1] * e[0], d @ e) / 4)))
        elif kind == "cubic":
            h, g = p + (tip - p) * (0.4 + 0.6 * share), q + (tip - q) * (0.4 + 0.5 * share)
            path.append(Cubic(a, tuple(map(float, h)), tuple(map(float, g)), b))
        path.append(Line(b, c))
    return path


def hull_of_two_discs(x0: float, r0: float, x1: float, r1: float) -> Contour:
    """Convex hull of two discs on the x axis, the larger one first: two lines and two arcs."""
    angle = math.asin((r0 - r1) / (x1 - x0))
    nx, ny = math.sin(angle), math.cos(angle)
    return chain(
        [
            (x0 + r0 * nx, -r0 * ny),
            (x1 + r1 * nx, -r1 * ny),
            (x1 + r1 * nx, r1 * ny),
            (x0 + r0 * nx, r0 * ny),
        ],
        [0.0, math.tan((math.pi - 2 * angle) / 4), 0.0, math.tan((math.pi + 2 * angle) / 4)],
    )


def ell() -> Region:
    """The L polygon of outside_checks.md G5: area 6000, perimeter 380."""
    return solid(line_chain([(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]))


# -- strategies ---------------------------------------------------------------------------------------
def _mm(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers as people type them (hundredths) and as computers make them, in equal parts."""
    typed = st.integers(math.ceil(low * 100), math.floor(high * 100)).map(lambda k: k / 100)
    return st.one_of(typed, st.floats(low, high, allow_nan=False, allow_infinity=False, width=64))


@st.composite
def rectangles(draw: st.DrawFn) -> Region:
    w, h = draw(_mm(5, 120)), draw(_mm(5, 120))
    corner = draw(st.sampled_from([0.0, 0.25, 0.5])) * min(w, h)
    return solid(rectangle(w, h, corner, x=draw(_mm(-30, 30)), y=draw(_mm(-30, 30))))


@st.composite
def discs(draw: st.DrawFn) -> Region:
    return solid(circle(draw(_mm(-30, 30)), draw(_mm(-30, 30)), draw(_mm(2, 60))))


@st.composite
def capsules(draw: st.DrawFn) -> Region:
    p, q = (draw(_mm(-40, 40)), draw(_mm(-40, 40))), (draw(_mm(-40, 40)), draw(_mm(-40, 40)))
    return solid(capsule(p, q, draw(_mm(2, 30))))


@st.composite
def stars(draw: st.DrawFn) -> Region:
    n = draw(st.integers(3, 9))
    radii = draw(st.lists(_mm(10, 80), min_size=n, max_size=n))
    bulges = draw(st.lists(st.one_of(st.just(0.0), st.floats(-0.8, 0.8)), min_size=n, max_size=n))
    return solid(star(radii, bulges))


@st.composite
def blobs(draw: st.DrawFn) -> Region:
    """Free-form outlines: 40 to 160 fine arcs."""
    waves = [
        (k, draw(st.floats(-0.25, 0.25)) / k, draw(st.floats(0, 2 * math.pi)))
        for k in range(2, 2 + draw(st.integers(1, 4)))
    ]
    return solid(polar_chain(draw(_mm(30, 90)), waves, draw(st.integers(20, 80))))


def regions() -> st.SearchStrategy[Region]:
    """Single outlines of every sort, without holes."""
    return st.one_of(rectangles(), discs(), capsules(), stars(), blobs())


@st.composite
def mixed_paths(draw: st.DrawFn) -> list[PathSegment]:
    """Closed paths of lines, arcs and cubics as a drawing has them, body-sized, about (0, 0)."""
    n = draw(st.integers(3, 9))
    radii = draw(st.lists(_mm(40, 110), min_size=n, max_size=n))
    bend = st.floats(-1, 1).map(lambda v: 0.0 if abs(v) < 0.01 else v)
    side = st.tuples(st.sampled_from(["line", "arc", "cubic", "cubic"]), bend, bend)
    return mixed_path(radii, draw(st.lists(side, min_size=n, max_size=n)))


@st.composite
def mixed(draw: st.DrawFn) -> Region:
    """Regions of lines, arcs and cubics with no, one or two holes, which lie apart."""
    outer = contour(draw(mixed_paths()), True)
    room = shapely.LinearRing(outer.flatten(0.01)[0]).distance(shapely.Point(0, 0))  # radius of a disc inside
    holes = []
    for k in range(draw(st.integers(0, 2))):
        way, size = draw(st.floats(0, 1)) + math.pi * k, room * draw(st.floats(0.1, 0.35))
        x, y = 0.5 * room * math.cos(way), 0.5 * room * math.sin(way)
        if draw(st.booleans()):
            holes.append(circle(x, y, size))
        else:
            hole = mixed_path([size] * 4, [("cubic", draw(st.floats(-0.9, 0)), draw(st.floats(-0.9, 0)))] * 4)
            xy = contour(hole, True)
            holes.append(Contour(xy.xy + np.array([x, y]), xy.bulge.copy(), xy.free.copy(), True))
    return region([Part(outer, tuple(holes))])


@st.composite
def convex(draw: st.DrawFn) -> Region:
    """Convex outlines of lines, arcs and cubics."""
    n = draw(st.integers(3, 8))
    shares = draw(st.lists(st.floats(-0.15, 0.15), min_size=n, max_size=n))
    turns = [(k + s) * 2 * math.pi / n for k, s in enumerate(shares)]
    corner = st.tuples(st.sampled_from(["sharp", "arc", "cubic"]), st.floats(0, 1))
    return solid(
        contour(convex_path(turns, draw(_mm(30, 120)), draw(st.lists(corner, min_size=n, max_size=n))), True)
    )


def distances() -> st.SearchStrategy[float]:
    """Offsets of either sign, 0.05 to 25 mm."""
    return st.builds(lambda d, s: d * s, _mm(0.05, 25), st.sampled_from([1.0, -1.0]))
