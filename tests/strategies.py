"""Shared shapes for tests: hypothesis strategies for regions of lines, arcs and free-form chains."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, Floats, chain, line_chain
from pipeline.geometry.region import Region, solid
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


def distances() -> st.SearchStrategy[float]:
    """Offsets of either sign, 0.05 to 25 mm."""
    return st.builds(lambda d, s: d * s, _mm(0.05, 25), st.sampled_from([1.0, -1.0]))
