"""Formulas of edges that are not square: rounding, bevel, scoop, and what a ball-ended cutter leaves.

Lengths in mm, angles in degrees. Sources: trade.md 4.1 to 4.5 (derived there from the circle), outside_checks K1
for the cusp between two passes of a ball. Nothing here knows of recipes.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.wobble import breaks


# -- rounding ------------------------------------------------------------------------------------
def inset(radius: float, height: float) -> float:
    """How far a rounding stands back from the wall ``height`` above where it begins: r − √(r² − u²), 0 ≤ u ≤ r."""
    if not 0.0 <= height <= radius:
        raise ValueError(f"a height of {height:g} lies outside of a rounding of {radius:g}")
    return radius - math.sqrt(radius * radius - height * height)


def inset_integral(radius: float, height: float) -> float:
    """∫ inset du from 0 to ``height``, mm²; r²(1 − π/4) over the whole rounding."""
    r, u = radius, min(height, radius)
    return r * u - (u * math.sqrt(r * r - u * u) + r * r * math.asin(u / r)) / 2


def square_integral(radius: float, height: float) -> float:
    """∫ inset² du from 0 to ``height``, mm³; r³(5/3 − π/2) over the whole rounding."""
    r, u = radius, min(height, radius)
    return 2 * r * r * u - u**3 / 3 - r * (u * math.sqrt(r * r - u * u) + r * r * math.asin(u / r))


def wall_left(thickness: float, *radii: float) -> float:
    """Straight wall that roundings leave for the bearing: T − r_f − r_b."""
    return thickness - sum(radii)


def largest_radius(thickness: float, bearing_height: float, roundings: int) -> float:
    """The largest radius, to a tenth downward, that leaves a wall as high as the bearing; 0 where none does."""
    return max(0.0, math.floor((thickness - bearing_height) / roundings * 10 + 1e-9) / 10)


def bridged(bearing_radius: float, concave_radius: float, turn_deg: float = 90.0) -> float:
    """What a bearing leaves in a concave curve tighter than itself, along the bisector: (R_b − ρ)(1/cos(θ/2) − 1)
    for two straight sides that turn by θ; (R_b − ρ)(√2 − 1) at a square corner. 0 where the bearing fits."""
    slack = max(0.0, bearing_radius - concave_radius)
    return slack * (1 / math.cos(math.radians(turn_deg) / 2) - 1)


def dip(bearing_radius: float, mouth: float) -> float:
    """How far a bearing sinks into a gap of the wall: R − √(R² − (w/2)²), all of it (R) where the gap is wider."""
    half = mouth / 2
    return bearing_radius if half >= bearing_radius else inset(bearing_radius, half)


def curvature(c: Contour) -> float:
    """K in A(n) = A − L·n + K·n², the area within the parallel n mm inside a contour with its area on the left.

    Exact as long as no segment of the parallel vanishes (Steiner's formula; arcs and concave corners give half
    their turn, a convex corner tan(θ/2), since there the parallels meet). For a stretch it is its share.
    """
    turn = breaks(c)
    corner = np.where(turn > 1e-9, np.tan(turn / 2), turn / 2)
    return float(np.sum(2 * np.arctan(c.bulges)) + np.sum(corner))


# -- bevel and scoop -----------------------------------------------------------------------------
def bevel_angle(run: float, drop: float) -> float:
    """Angle of a bevel to the face, atan(d/w)."""
    return math.degrees(math.atan2(drop, run))


def fading(s: Floats, length: float, fade: float) -> Floats:
    """Share of the full drop at arc length s of a stretch: sin²(πs / 2·fade) within ``fade`` of both ends, else 1.

    Where the stretch is shorter than two fades, both meet in its middle.
    """
    reach = min(fade, length / 2)
    end = np.minimum(s, length - s)
    if reach <= 0.0:
        return np.ones(len(s))
    share: Floats = np.sin(np.pi / 2 * np.clip(end / reach, 0.0, 1.0)) ** 2
    return share


def scoop_run(radius: float, depth: float) -> float:
    """How far a round hollow reaches in from its deepest line: √(2Rd − d²) for a cylinder of radius R, d deep."""
    if not 0.0 < depth < radius:
        raise ValueError(f"a hollow of radius {radius:g} can't be {depth:g} deep")
    return math.sqrt(2 * radius * depth - depth * depth)


def scoop_depth(radius: float, depth: float, away: Floats) -> Floats:
    """Depth of that hollow ``away`` mm from its deepest line: √(R² − e²) − (R − d), 0 outside."""
    e = np.minimum(np.abs(away), radius)
    down: Floats = np.maximum(np.sqrt(radius * radius - e * e) - (radius - depth), 0.0)
    return down


def hollow(radius: float, run: float, depth: float, x: Floats) -> Floats:
    """Depth at x of a hollow whose section is an arc of ``radius`` from (0, 0), where it ends on the face, to
    (``run``, ``depth``) at the edge, sagging into the wood. Raises ValueError where the arc can't reach both."""
    chord = math.hypot(run, depth)
    if chord > 2 * radius:
        raise ValueError(f"an arc of radius {radius:g} doesn't reach over {chord:g}")
    back = math.sqrt(radius * radius - chord * chord / 4)
    # The centre lies above the chord, on the side of the air.
    cx, cy = run / 2 + back * depth / chord, depth / 2 - back * run / chord
    down: Floats = cy + np.sqrt(np.maximum(radius * radius - (x - cx) ** 2, 0.0))
    return down


# -- a ball-ended cutter ------------------------------------------------------------------------
def scallop(ball_radius: float, step_over: float, slope_deg: float = 0.0) -> float:
    """Height of the cusp between two passes of a ball: R − √(R² − (s/2)²), with s/cos β along a slope of β.

    The whole ball where the passes lie further apart than its diameter.
    """
    along = step_over / math.cos(math.radians(slope_deg))
    return inset(ball_radius, min(along / 2, ball_radius))


def step_over(ball_radius: float, scallop_height: float) -> float:
    """The step between passes that leaves such a cusp: 2√(2Rh − h²)."""
    if not 0.0 <= scallop_height <= ball_radius:
        raise ValueError(f"a ball of radius {ball_radius:g} leaves no cusp of {scallop_height:g}")
    return 2 * math.sqrt(2 * ball_radius * scallop_height - scallop_height * scallop_height)


def draft_shift(depth: float, draft_deg: float) -> float:
    """How far a drafted wall moves in plan over its depth: d·tan δ."""
    return depth * math.tan(math.radians(draft_deg))


# -- integrals -----------------------------------------------------------------------------------
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)


def integral(f: Callable[[Floats], Floats], stops: Floats) -> float:
    """∫ f between consecutive stops by four Gauss points each: exact where f is of degree 7 between them."""
    a, b = stops[:-1, None], stops[1:, None]
    x = (a + b) / 2 + (b - a) / 2 * _NODES[None, :]
    return float(np.sum((b - a) / 2 * _WEIGHTS[None, :] * f(x.ravel()).reshape(x.shape)))
