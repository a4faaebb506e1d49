"""Plane questions that several checks ask, on flattened forms.

Checks measure to a few hundredths of a millimetre, so shapes are first thinned to THIN_MM.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.contour import Contour
from pipeline.graph.once import kept

THIN_MM = 0.002
"""How far a thinned shape may lie from its curves."""
QUAD = 48
"""Segments of a quarter circle in openings: a sagitta of 0.05 ‰ of the radius."""
HAIR_MM = 0.004
"""Half of the width under which what is left is no wood but the noise of flattening."""
LIMIT_MM = 0.005
"""Distances of thinned shapes are no better than this; what is short of its limit by less is at its limit."""
SLIVER_MM2 = 0.05
"""Residue smaller than this is no finding (trade.md 8, fault 1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue:
    """What a round cutter leaves of a shape in one place: its farthest point, that point's distance from
    what the cutter reaches, and the area left."""

    at_mm: tuple[float, float]
    depth_mm: float
    area_mm2: float
    shape: shapely.Polygon

    def holds(self, at_mm: tuple[float, float]) -> bool:
        return bool(shapely.dwithin(self.shape, shapely.Point(at_mm), 0.05))


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """A place where two walls stand nearer than the cutter is wide: the widest circle that gets there."""

    at_mm: tuple[float, float]
    width_mm: float


def thin(shape: BaseGeometry) -> BaseGeometry:
    return shapely.simplify(shape, THIN_MM)


def filled(contours: Iterable[Contour]) -> BaseGeometry:
    """The area that closed contours enclose together, even-odd: a loop inside a loop is an island."""
    area: BaseGeometry = shapely.Polygon()
    for c in contours:
        if c.closed:
            area = shapely.symmetric_difference(area, shapely.Polygon(c.flatten()[0]))
    return thin(area)


def outer(shape: BaseGeometry) -> BaseGeometry:
    """The shape with its holes filled."""
    return shapely.union_all([shapely.Polygon(p.exterior) for p in polygons(shape)])


def polygons(shape: BaseGeometry) -> list[shapely.Polygon]:
    """The polygons of any shape, lines and points left out."""
    return [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and not p.is_empty]


def opened(shape: BaseGeometry, radius_mm: float) -> BaseGeometry:
    """What a cutter of this radius can sweep inside the shape: (shape ⊖ r) ⊕ r."""
    return _both_ways(shape, -radius_mm)


def closed(shape: BaseGeometry, radius_mm: float) -> BaseGeometry:
    """What stays of a shape when such a cutter goes all round it: (shape ⊕ r) ⊖ r."""
    return _both_ways(shape, radius_mm)


def _both_ways(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """A shape grown by ``by_mm`` and then as much the other way: most of what checks wait for, so it is kept."""

    def work() -> bytes:
        there = shapely.buffer(shape, by_mm, quad_segs=QUAD)
        return bytes(shapely.to_wkb(shapely.buffer(there, -by_mm, quad_segs=QUAD)))

    return shapely.from_wkb(
        kept("both ways", (shapely.to_wkb(shape), by_mm), work, code=("pipeline.checks.flat",))
    )


def residues(shape: BaseGeometry, made: BaseGeometry, counts: BaseGeometry) -> list[Residue]:
    """What is left of ``shape`` outside ``made``, place by place, as far as it lies in ``counts``."""
    found: list[Residue] = []
    left = shapely.intersection(shapely.difference(shape, made), counts)
    # Hairs along a wall would tie the corners at its ends together.
    left = shapely.buffer(left, -HAIR_MM, join_style="mitre")
    left = shapely.buffer(left, HAIR_MM, join_style="mitre")
    for piece in polygons(left):
        if piece.area <= SLIVER_MM2:
            continue
        corners = shapely.points(shapely.get_coordinates(piece))
        gaps = shapely.distance(made, corners) if not made.is_empty else [math.inf] * len(corners)
        far = max(range(len(corners)), key=lambda i: gaps[i])
        found.append(
            Residue(
                at_mm=(float(corners[far].x), float(corners[far].y)),
                depth_mm=float(gaps[far]),
                area_mm2=float(piece.area),
                shape=piece,
            )
        )
    return sorted(found, key=lambda r: (-r.depth_mm, r.at_mm))


def narrows(field: BaseGeometry, made: BaseGeometry, cutter_mm: float) -> list[Narrow]:
    """Where a cutter can't pass in ``field``, of which it makes ``made``.

    A part that it can't enter at all, a neck between two parts that it makes, and a dead end deeper than
    its diameter that is about as wide at its end as at its mouth (a pointed end is a corner).
    """
    left = polygons(shapely.difference(field, made))
    if sum(p.area for p in left) <= SLIVER_MM2:
        return []
    found: list[Narrow] = []
    alike: dict[tuple[float, ...], tuple[float, float, float]] = {}
    for part in polygons(field):
        ways = [w for w in polygons(shapely.intersection(made, part)) if w.area > SLIVER_MM2]
        if not ways:
            # A lattice has hundreds of the same opening: one is measured for all.
            x0, y0, x1, y1 = part.bounds
            size = tuple(round(v, 3) for v in (x1 - x0, y1 - y0, part.area, part.length))
            if size not in alike:
                width, at = widest(part)
                alike[size] = (width, at[0] - x0, at[1] - y0)
            width, dx, dy = alike[size]
            found.append(Narrow(at_mm=(x0 + dx, y0 + dy), width_mm=width))
            continue
        for piece in left:
            if piece.area <= SLIVER_MM2 or not part.covers(piece.representative_point()):
                continue
            meets = [w for w in ways if shapely.dwithin(w, piece, 0.01)]
            if len(meets) > 1:
                width = _passes(shapely.union_all([piece, *meets]), meets, cutter_mm)
                at = piece.representative_point()
                found.append(Narrow(at_mm=(float(at.x), float(at.y)), width_mm=width))
                continue
            far = max(shapely.distance(made, shapely.points(shapely.get_coordinates(piece))))
            if far > cutter_mm and piece.area > 0.75 * piece.minimum_rotated_rectangle.area:
                width, at = widest(piece)
                found.append(Narrow(at_mm=at, width_mm=width))
    return sorted(found, key=lambda n: (n.width_mm, n.at_mm))


def _passes(shape: BaseGeometry, ways: list[shapely.Polygon], cutter_mm: float) -> float:
    """Diameter of the largest cutter that gets from one way to the other, by bisection."""
    low, high = 0.0, cutter_mm
    cores = [shapely.buffer(w, -0.49 * cutter_mm, quad_segs=QUAD).representative_point() for w in ways]
    for _ in range(14):
        middle = (low + high) / 2
        rooms = polygons(shapely.buffer(shape, -middle / 2, quad_segs=QUAD))
        if any(sum(r.covers(c) for c in cores) > 1 for r in rooms):
            low = middle
        else:
            high = middle
    return low


def nearest(a: BaseGeometry, b: BaseGeometry) -> tuple[float, tuple[float, float]]:
    """Distance of two shapes and the point of ``a`` where it is measured."""
    p, q = shapely.get_coordinates(shapely.shortest_line(a, b)).tolist()
    return math.dist(p, q), (p[0], p[1])


def nearest_ends(a: BaseGeometry, b: BaseGeometry) -> tuple[tuple[float, float], tuple[float, float]]:
    """The two points, of ``a`` and of ``b``, where two shapes are nearest."""
    p, q = shapely.get_coordinates(shapely.shortest_line(a, b)).tolist()
    return (p[0], p[1]), (q[0], q[1])


def widest(shape: BaseGeometry) -> tuple[float, tuple[float, float]]:
    """Diameter and centre of the largest circle inside a polygon."""
    best = max(polygons(shape), key=lambda p: p.area)
    spoke = shapely.maximum_inscribed_circle(best, tolerance=0.005)
    centre, rim = shapely.get_coordinates(spoke).tolist()
    return 2 * math.dist(centre, rim), (centre[0], centre[1])
