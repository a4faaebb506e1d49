"""What a round cutter leaves in the corners of a cavity, and the relief circles that let a square part in.

With a cutter of radius r the shape that comes out is the opening (shape ⊖ r) ⊕ r (trade.md 3.1). In a corner of
angle α it leaves r²(cot(α/2) − (π − α)/2), r(1/sin(α/2) − 1) deep (outside_checks O1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely

from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import Floats, line_chain
from pipeline.geometry.morph import opening
from pipeline.geometry.offset import OffsetFailed
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import EMPTY, Part, Region, region
from pipeline.geometry.shapes import disc
from pipeline.steps.measures import least_radii

SHARP_DEG = 25.0
"""A wall that turns by less than this at a point has no corner there (trade.md 1.6, common practice)."""
SQUARE_DEG = 1.0
"""A corner this near to 90 degrees is square."""
NOTHING_MM2 = 1e-3
"""Rests smaller than this in all are not told."""
JUST_MM = 1e-3
"""A cutter that is too large by no more than this fits."""
HAIR_MM = 0.02
STATIONS = 400
NEAR_MM = 0.2

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A sharp inside corner: its point, its angle in degrees, the unit vectors of its two walls away from it."""

    at: Point
    angle_deg: float
    walls: tuple[Point, Point]

    @property
    def bisector(self) -> Point:
        """The unit vector that points from the corner into the cavity, half-way between the walls."""
        (ax, ay), (bx, by) = self.walls
        n = math.hypot(ax + bx, ay + by)
        return (ax + bx) / n, (ay + by) / n


def sharp_corners(shape: Region) -> tuple[Corner, ...]:
    """The corners of a cavity that a round cutter can't get into, in the order of its contours."""
    found: list[Corner] = []
    for c in shape.contours:
        leaving, arriving = c.tangents()
        ahead = np.roll(leaving, -1, axis=0)
        turn = np.degrees(
            np.arctan2(
                arriving[:, 0] * ahead[:, 1] - arriving[:, 1] * ahead[:, 0], np.sum(arriving * ahead, axis=1)
            )
        )
        for i in np.flatnonzero(turn > SHARP_DEG).tolist():
            (x, y), back, on = c.ends[i].tolist(), (-arriving[i]).tolist(), ahead[i].tolist()
            found.append(
                Corner(
                    at=(x, y),
                    angle_deg=180.0 - float(turn[i]),
                    walls=((back[0], back[1]), (on[0], on[1])),
                )
            )
    return tuple(found)


# -- relief ----------------------------------------------------------------------------------------
def overcut_mm(radius_mm: float, angle_deg: float) -> float:
    """r(1 − sin(α/2)): how far a circle through the corner, centred on its bisector, bites into each wall (O6)."""
    return radius_mm * (1 - math.sin(math.radians(angle_deg) / 2))


def relieved(
    shape: Region,
    corners: tuple[Corner, ...],
    radius_mm: float,
    form: Literal["dogbone", "t-bone"],
    into: Literal["x", "y"] = "x",
) -> Region:
    """The shape with a circle of ``radius_mm`` through each corner.

    A dogbone's centre lies on the bisector, r from the corner. A t-bone's lies on one wall's line, r from the
    corner: it bites r into that wall and touches the other (O7); it bites the wall that faces along ``into``.
    A corner that isn't square gets a dogbone in either case.
    """
    circles: list[Region] = []
    for corner in corners:
        x, y = corner.at
        ux, uy = corner.bisector
        if form == "t-bone" and abs(corner.angle_deg - 90.0) <= SQUARE_DEG:
            # The wall that faces along x runs along y: the one whose direction has the larger y.
            axis = 1 if into == "x" else 0
            ux, uy = max(corner.walls, key=lambda w: abs(w[axis]))
        circles.append(disc(x + ux * radius_mm, y + uy * radius_mm, radius_mm))
    return union(shape, *circles) if circles else shape


# -- what comes out --------------------------------------------------------------------------------
def made_by(shape: Region, cutter_mm: float) -> Region:
    """What a cutter makes of the shape: its opening by the radius, exact. Empty where it can't get in."""
    return opening(shape, cutter_mm / 2)


def left_in(shape: Region, cutter_mm: float) -> tuple[Region, Region]:
    """(what comes out, what is left standing) of a shape cut by a cutter. What it leaves is empty, and the shape
    itself comes out, where it leaves next to nothing."""
    if cutter_mm <= largest_clean_mm(shape) + JUST_MM:
        return shape, EMPTY
    try:
        made = made_by(shape, cutter_mm)
    except OffsetFailed:
        made = EMPTY
    if not made:
        return _just_left(shape, cutter_mm / 2 - JUST_MM)
    rest = difference(shape, made)
    return (made, rest) if rest.area > NOTHING_MM2 else (shape, EMPTY)


def _just_left(shape: Region, r: float) -> tuple[Region, Region]:
    """The same on flattened shapes, where a cutter just fits or nearly so: what it erodes to is a line, or a
    sliver that is no shape. Hairs along curved walls are taken off what is left."""
    made = shape.polygon.buffer(-r).buffer(r, quad_segs=128)
    rest = shape.polygon.difference(made).buffer(-HAIR_MM, join_style="mitre").buffer(HAIR_MM, join_style="mitre")
    return _of_chords(made), _of_chords(rest)


def _of_chords(flat: shapely.Geometry) -> Region:
    """A flattened shape as a region of straight lines."""
    parts = [p for p in shapely.get_parts(flat) if p.geom_type == "Polygon" and p.area > NOTHING_MM2]
    return region(
        Part(line_chain(p.exterior.coords[:-1]), tuple(line_chain(h.coords[:-1]) for h in p.interiors))
        for p in parts
    )


def residue(shape: Region, cutter_mm: float) -> dict[str, Any]:
    """What a cutter leaves, as a step states it: in all, and corner by corner (place of the deepest point, how far
    that lies from what is made, area), the deepest first."""
    made, rest = left_in(shape, cutter_mm)
    # Where nothing comes out at all there is no corner to speak of: the cutter can't get in.
    rows = [_corner(p, made) for p in rest.parts if made and p.polygon.area > NOTHING_MM2 / 10]
    rows.sort(key=lambda row: (-round(row["depth_mm"], 4), row["at_mm"]))
    return {
        "cutter_mm": cutter_mm,
        "residue_mm2": rest.area if rest else 0.0,
        "parts": len(made.parts) if made else 0,
        "corners": rows,
    }


def _corner(part: Part, made: Region) -> dict[str, Any]:
    """The deepest point of a rest: among the points of its flattened edge, measured exactly from what is made."""
    alone = Region((part,))
    points = shapely.get_coordinates(part.polygon)
    far = shapely.distance(shapely.points(points), made.polygon)
    k = int(np.argmax(np.round(far, 9)))
    x, y = points[k].tolist()
    depth, _ = nearest_boundary(made, x, y)
    return {"at_mm": [x + 0.0, y + 0.0], "depth_mm": depth, "area_mm2": alone.area}


def largest_clean_mm(shape: Region) -> float:
    """Diameter of the largest cutter that leaves nothing; 0 where a corner is sharp.

    That disc touches the edge from inside at any point: it is twice the least convex radius, or less where the
    shape is narrow. At p, with the normal n into the shape, the disc that touches there and meets another point q
    has the radius |q − p|²/(2·n·(q − p)); the least is taken over stations along the edge, and made exact there.
    """
    if sharp_corners(shape):
        return 0.0
    convex, _ = least_radii(shape)
    best = math.inf if convex is None else convex
    p, n = _stations(shape)
    d = p[None, :, :] - p[:, None, :]
    toward = np.einsum("ijk,ik->ij", d, n)
    far2 = np.einsum("ijk,ijk->ij", d, d)
    # Nearer points lie on the same arc, or on the next one over a break too small to be a corner.
    ahead = (toward > 1e-9) & (far2 > NEAR_MM**2)
    radius = np.where(ahead, far2 / np.where(ahead, 2 * toward, 1.0), math.inf)
    i = int(np.argmin(radius.min(axis=1)))
    return 2 * min(best, _touching(shape, p[i], n[i], float(radius[i].min())))


def _stations(shape: Region) -> tuple[Floats, Floats]:
    """Points spread along the edge, (n, 2), with the unit normals into the shape; corners are left out."""
    segs = shape.segments
    whole = float(segs.length.sum())
    count = np.maximum(1, np.ceil(segs.length / whole * STATIONS)).astype(np.int64)
    i = np.repeat(np.arange(len(segs)), count)
    k = np.arange(len(i)) - np.repeat(np.cumsum(count) - count, count)
    s = segs.length[i] * (k + 0.5) / count[i]
    points = segs.at(i, s)
    chord = segs.q[i] - segs.p[i]
    length = np.hypot(chord[:, 0], chord[:, 1])[:, None]
    left = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / np.where(length > 0, length, 1.0)
    curved = segs.bulge[i] != 0
    out = (segs.centre[i] - points) * np.sign(segs.bulge[i])[:, None]
    r = np.where(curved, segs.radius[i], 1.0)[:, None]
    return points, np.where(curved[:, None], out / r, left)


def _touching(shape: Region, p: Floats, n: Floats, radius: float) -> float:
    """The largest disc in the shape that touches its edge at p: shrunk until no nearer point is left."""
    if not math.isfinite(radius):
        return radius
    for _ in range(20):
        c = p + n * radius
        mm, q = nearest_boundary(shape, float(c[0]), float(c[1]))
        d = np.array(q) - p
        toward = float(d @ n)
        if mm >= radius - 1e-7 or toward <= 1e-9 or float(d @ d) < NEAR_MM**2:
            break
        radius = float(d @ d) / (2 * toward)
    return radius
