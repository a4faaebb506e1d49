"""What stands, hangs or is carried: stools on legs, things on a base, wall pieces, handles (trade.md 10.4)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from pipeline.workshop.seat import weight_n

INSIDE_MM = 20.0
"""A centre of gravity lies at least so far within the base it stands on (trade.md 10.4)."""
HAND_MM = 15.0
"""A centre of gravity lies at most so far from the line of the hand that carries it (trade.md 10.4)."""

Point = tuple[float, float]


# -- legs ----------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class TippingLine:
    """The line between two feet: its ends, its distance from the middle of the foot circle, and what holds and
    what turns about it when the load sits straight out over it (N·mm)."""

    ends: tuple[Point, Point]
    toward: Point
    distance_mm: float
    holds_nmm: float
    turns_nmm: float

    @property
    def spare_nmm(self) -> float:
        return self.holds_nmm - self.turns_nmm


@dataclass(frozen=True, slots=True, kw_only=True)
class Stool:
    """Legs on a foot circle with somebody at the seat's rim. ``most_g``: the load that the worst line bears there
    (inf where the rim lies within the lines); ``safe_mm``: how far from the middle the load may sit."""

    centre: Point
    feet: tuple[Point, ...]
    radius_mm: float
    seat_mm: float
    load_g: float
    lines: tuple[TippingLine, ...]
    most_g: float
    safe_mm: float

    @property
    def worst(self) -> TippingLine:
        return min(self.lines, key=lambda v: v.spare_nmm)

    @property
    def tips(self) -> bool:
        return self.worst.spare_nmm < 0


def tipping_radius(radius_mm: float, legs: int) -> float:
    """How far the lines between neighbouring feet lie from the middle: r_t = R·cos(π/n). ValueError below 3
    legs."""
    if legs < 3:
        raise ValueError("what stands on fewer than three legs has no tipping line all round")
    return radius_mm * math.cos(math.pi / legs)


def stool(
    *,
    legs: int,
    radius_mm: float,
    middle: Point,
    first_deg: float,
    centre: Point,
    mass_g: float,
    seat_mm: float,
    load_g: float,
) -> Stool:
    """Whether a load at the rim tips it: W·(r_s − r_t) against m·g·(r_t − what the centre lies toward the line).

    ``centre`` is the centre of gravity in plan; in the middle of the circle this is trade.md's formula.
    """
    turn = [math.radians(first_deg) + 2 * math.pi * k / legs for k in range(legs)]
    feet = tuple((middle[0] + radius_mm * math.cos(a), middle[1] + radius_mm * math.sin(a)) for a in turn)
    away = tipping_radius(radius_mm, legs)
    lines = []
    most, safe = math.inf, math.inf
    for k, a in enumerate(turn):
        n = (math.cos(a + math.pi / legs), math.sin(a + math.pi / legs))
        lean = (centre[0] - middle[0]) * n[0] + (centre[1] - middle[1]) * n[1]
        holds = weight_n(mass_g) * (away - lean)
        turns = weight_n(load_g) * max(seat_mm - away, 0.0)
        lines.append(
            TippingLine(
                ends=(feet[k], feet[(k + 1) % legs]), toward=n, distance_mm=away, holds_nmm=holds, turns_nmm=turns
            )
        )
        if seat_mm > away:
            most = min(most, max(mass_g * (away - lean) / (seat_mm - away), 0.0))
        if load_g > 0:
            safe = min(safe, away + mass_g * (away - lean) / load_g)
    return Stool(
        centre=middle,
        feet=feet,
        radius_mm=radius_mm,
        seat_mm=seat_mm,
        load_g=load_g,
        lines=tuple(lines),
        most_g=most,
        safe_mm=safe,
    )


# -- a base --------------------------------------------------------------------------------------------
def inside_mm(base: shapely.Geometry, at: Point) -> float:
    """How far a point lies within the convex hull of a base, negative outside: what stands tips over its hull."""
    hull = shapely.convex_hull(base)
    gap = float(shapely.distance(shapely.boundary(hull), shapely.Point(at)))
    return gap if bool(shapely.intersects_xy(hull, *at)) else -gap


def tip_angle(inside: float, height: float) -> float:
    """How far it may lean before it falls, in degrees: its centre then stands above the edge of the base."""
    return math.degrees(math.atan2(inside, height))


# -- the wall, the hand --------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """On one point: ``height_mm`` the point over the centre, ``off_mm`` how far the centre lies sideways (positive
    to the right of up), ``tilt_deg`` how far it turns until the centre hangs under the point, anticlockwise."""

    height_mm: float
    off_mm: float
    tilt_deg: float


def hung(point: Point, centre: Point, up: Point) -> Hung:
    """A thing on one nail: it turns by atan(e/h) until its centre hangs under the point (trade.md 10.4)."""
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    height = dx * up[0] + dy * up[1]
    off = -(dx * up[1] - dy * up[0])
    return Hung(height_mm=height, off_mm=off + 0.0, tilt_deg=-math.degrees(math.atan2(off, height)) + 0.0)


def from_line(ends: Sequence[Point], at: Point) -> tuple[float, Point]:
    """(distance of a point from the endless line through two points, the foot on it). ValueError when they are
    one point."""
    (x0, y0), (x1, y1) = ends
    d = math.dist(ends[0], ends[1])
    if d < 1e-9:
        raise ValueError("a line needs two points that lie apart")
    ux, uy = (x1 - x0) / d, (y1 - y0) / d
    s = (at[0] - x0) * ux + (at[1] - y0) * uy
    foot = (x0 + s * ux, y0 + s * uy)
    return math.dist(foot, at), foot
