"""The ribs of a mould: their outline behind a face, holes for clamps and bolts, all in the rib's own frame.

In that frame the press goes along y, the middle of the form's line is the origin, the inner half lies below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.geometry.wobble import Walk
from pipeline.steps.mould import Bolts, Clamps

Point = tuple[float, float]
RIM_MM = 15.0
"""Wood between a clamp hole and the back or the ends of a rib (common practice, no source)."""
WEB_MM = 15.0
"""Wood between two clamp holes."""
BOLT_RIM_MM = 10.0
"""Wood round a bolt (common practice, no source)."""
PLAIN_DEPTH_MM = 60.0
"""Least wood behind the face where no clamp holes are asked for (common practice, no source)."""
LEAN_DEG = 20.0
"""A clamp that pulls further from square to the face than this slips."""
SPARE_MM = 1.0
"""What a rib is deeper than its clamp holes need."""
SLACK_MM = 0.05
"""Room for rounding and for GEOS's round corners."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Half:
    """One half: its face (running +x, or closed), its rib before holes, and on which side of the face its wood is
    (+1 left, −1 right)."""

    name: str
    face: Contour
    plate: Region
    wood: int


def open_half(name: str, face: Contour, depth_mm: float, *, above: bool, chord: bool = False) -> Half:
    """The rib below or above a face that runs toward +x, ``depth_mm`` of wood behind all of it, its back level.

    An end whose wall leans out gets a foot square to the face, so that it doesn't run out in a point; all ends
    are upright from there. ``chord``: closed by the straight line between the ends of the face instead.
    """
    _, low, _, high = face.bounds
    wood = 1 if above else -1
    back_y = high + depth_mm if above else low - depth_mm
    leaves, arrives = face.tangents()
    back: list[Point] = []
    for end, way, out in ((face.xy[-1], arrives[-1], 1.0), (face.xy[0], leaves[0], -1.0)):
        x, y = (float(v) for v in end)
        foot = x - wood * float(way[1]) * depth_mm, y + wood * float(way[0]) * depth_mm
        corners: list[Point] = [foot] if (foot[0] - x) * out > 1.0 else []
        corners.append(((corners or [(x, y)])[0][0], back_y))
        back += corners if out > 0 else corners[::-1]
    if chord:
        back = []
    line = face if above else face.reversed()
    xy = np.concatenate([line.xy, np.array(back if above else back[::-1]).reshape(-1, 2)])
    none = np.zeros(len(back))
    plate = solid(Contour(xy, np.concatenate([line.bulge, none]), np.concatenate([line.free, none > 0]), True))
    return Half(name=name, face=face, plate=plate, wood=wood)


def closed_half(name: str, face: Contour, depth_mm: float, *, ring: bool) -> Half:
    """The plug inside a closed face, or the plate round it."""
    if not ring:
        return Half(name=name, face=face, plate=solid(face), wood=1 if face.area > 0 else -1)
    x0, y0, x1, y1 = face.bounds
    plate = rectangle(x1 - x0 + 2 * depth_mm, y1 - y0 + 2 * depth_mm, x=(x0 + x1) / 2, y=(y0 + y1) / 2)
    return Half(name=name, face=face, plate=region([Part(plate, (face,))]), wood=-1 if face.area > 0 else 1)


def sound(half: Half) -> bool:
    """Is the rib one plain shape, which its back nowhere crosses?"""
    return bool(half.plate.polygon.is_valid) and half.plate.area > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamped:
    """Centres of clamp holes, and the places of the face that none could be found for, with the least depth behind
    the face that a hole square to it there would need."""

    places: tuple[Point, ...]
    missed: tuple[Point, ...]
    depth_needed_mm: float


def clamp_holes(half: Half, clamps: Clamps) -> Clamped:
    """Holes square behind the face, evenly along it; each as near to its ideal place as it stays in the rib, off
    the face and off the others. A hole that already serves a place is not bored twice."""
    r = clamps.diameter / 2
    walk = Walk.of(half.face)
    n = max(1, round(walk.length / clamps.every))
    stops, ways = walk.at((np.arange(n) + 0.5) * walk.length / n)
    normals = half.wood * np.stack([-ways[:, 1], ways[:, 0]], axis=1)
    area = _room(half, r, RIM_MM, clamps.from_face)
    whole = area
    places: list[Point] = []
    missed: list[Point] = []
    needed = 0.0
    for p, m in zip(stops, normals, strict=True):
        ideal = p + m * (clamps.from_face + r)
        found = _nearest(area, p, m, ideal)
        if found is not None:
            places.append(found)
            area = shapely.difference(area, shapely.Point(found).buffer(clamps.diameter + WEB_MM, quad_segs=32))
            continue
        if any(_square(p, m, np.array(q)) for q in places) and _nearest(whole, p, m, ideal) is not None:
            continue
        missed.append((float(p[0]), float(p[1])))
        needed = max(needed, _depth_at(half, float(ideal[1]), r))
    return Clamped(places=tuple(places), missed=tuple(missed), depth_needed_mm=needed)


def _depth_at(half: Half, y: float, r: float) -> float:
    """The depth behind the outermost place of the face that a hole at this height needs."""
    _, low, _, high = half.face.bounds
    return (low - y if half.wood < 0 else y - high) + r + RIM_MM + SPARE_MM


def _room(half: Half, r: float, rim: float, from_face: float) -> BaseGeometry:
    """Where the centre of a hole may lie."""
    points = half.face.flatten(0.01)[0]
    line = shapely.LinearRing(points) if half.face.closed else shapely.LineString(points)
    inner = shapely.buffer(half.plate.polygon, -(r + rim + SLACK_MM), quad_segs=32)
    return shapely.difference(inner, shapely.buffer(line, from_face + r + SLACK_MM, quad_segs=32))


def _nearest(area: BaseGeometry, p: Floats, normal: Floats, ideal: Floats) -> Point | None:
    """The point of the area straight behind p nearest to the ideal one, else the nearest that isn't far off."""
    if area.is_empty:
        return None
    ray = shapely.intersection(area, shapely.LineString([ideal, ideal + 400.0 * normal]))
    spot = shapely.Point(ideal)
    target = ray if not ray.is_empty else area
    q = shapely.get_coordinates(shapely.shortest_line(target, spot))[0]
    if not _square(p, normal, q):
        return None
    return round(float(q[0]), 2) + 0.0, round(float(q[1]), 2) + 0.0


def _square(p: Floats, normal: Floats, q: Floats) -> bool:
    v = q - p
    along = float(v @ normal)
    return along > 0 and math.degrees(math.acos(min(1.0, along / float(np.hypot(*v))))) <= LEAN_DEG


def bolt_holes(half: Half, bolts: Bolts, clamps: tuple[Point, ...], clamp_mm: float) -> tuple[Point, ...]:
    """Places for the bolts, spread along the back of a half (round a closed one); fewer where there is no room."""
    r = bolts.diameter / 2
    area = _room(half, r, BOLT_RIM_MM, BOLT_RIM_MM)
    for q in clamps:
        area = shapely.difference(area, shapely.Point(q).buffer(clamp_mm / 2 + r + BOLT_RIM_MM, quad_segs=32))
    found: list[Point] = []
    for target in _targets(half, bolts.count):
        if area.is_empty:
            break
        q = shapely.get_coordinates(shapely.shortest_line(area, shapely.Point(target)))[0]
        found.append((round(float(q[0]), 2) + 0.0, round(float(q[1]), 2) + 0.0))
        area = shapely.difference(area, shapely.Point(found[-1]).buffer(4 * r + 2 * BOLT_RIM_MM, quad_segs=32))
    return tuple(found)


def _targets(half: Half, count: int) -> list[Point]:
    x0, y0, x1, y1 = half.plate.bounds
    if half.face.closed:
        corners = [(x0, y0), (x1, y1), (x1, y0), (x0, y1)]
        more = [(x0 + (x1 - x0) * k / (count - 3), y0) for k in range(1, count - 3)]
        return [*corners, *more][:count]
    back = y1 if half.wood > 0 else y0
    return [(x0 + (x1 - x0) * k / (count - 1), back) for k in range(count)]


def rib_count(width_mm: float, sheet_mm: float, every_mm: float | None) -> tuple[int, float]:
    """(number of ribs, their distance) over a width: side by side, or no further apart than asked."""
    if every_mm is None or every_mm <= sheet_mm:
        return math.ceil(width_mm / sheet_mm - 1e-9), sheet_mm
    spans = max(1, math.ceil((width_mm - sheet_mm) / every_mm - 1e-9))
    return spans + 1, (width_mm - sheet_mm) / spans
