"""What a round cutter leaves: opening and closing, sweeping along a line, the largest circle inside."""

from __future__ import annotations

import math

import numpy as np
import shapely

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.nodes import noded
from pipeline.geometry.offset import offset
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region
from pipeline.geometry.segments import SAME_MM, Segments, joined, segments, segments_of
from pipeline.geometry.trace import area_of


def opening(region: Region, radius_mm: float) -> Region:
    """What a disc of ``radius_mm`` can reach from inside the region (Serra 1982: erosion, then dilation)."""
    _radius(radius_mm)
    return offset(offset(region, -radius_mm), radius_mm)


def closing(region: Region, radius_mm: float) -> Region:
    """The region with everything filled that a disc of ``radius_mm`` can't reach from outside."""
    _radius(radius_mm)
    return offset(offset(region, radius_mm), -radius_mm)


def _radius(radius_mm: float) -> None:
    if not (math.isfinite(radius_mm) and radius_mm >= 0):
        raise ValueError(f"a radius of {radius_mm:g} makes no disc")


def swept(region: Region, direction: tuple[float, float], length_mm: float) -> Region:
    """What the region covers while it moves ``length_mm`` straight along ``direction``, both ends included.

    Exact for every region: its Minkowski sum with the segment. Raises ValueError for a direction
    without length or a negative length.
    """
    norm = math.hypot(*direction)
    if not (math.isfinite(norm) and norm > 0 and math.isfinite(length_mm) and length_mm >= 0):
        raise ValueError("sweeping needs a direction and a length that is not negative")
    if not region or length_mm == 0:
        return region
    way = np.array(direction) / norm
    move = way * length_mm
    here = segments_of(region.contours)
    there = segments(here.p + move, here.q + move, here.bulge, here.free)
    edges = _turning_points(here, region, way)
    straight = np.zeros(len(edges), dtype=np.bool_)
    sides = segments(edges, edges + move, np.zeros(len(edges)), straight)

    def inside(points: Floats) -> Bools:
        paths = shapely.linestrings(np.stack([points - move, points], axis=1))
        return np.asarray(shapely.intersects(region.polygon, paths))

    return area_of(noded(joined([here, there, sides])), inside)


def _turning_points(segs: Segments, region: Region, way: Floats) -> Floats:
    """Points of the boundary where it turns back against ``way``: the ends of the sweep's straight sides."""
    tangents = [c.tangents() for c in region.contours]
    arriving = np.concatenate([t[1] for t in tangents])
    ahead = np.concatenate([np.roll(t[0], -1, axis=0) for t in tangents])
    side = arriving[:, 0] * way[1] - arriving[:, 1] * way[0]
    then = ahead[:, 0] * way[1] - ahead[:, 1] * way[0]
    found = [segs.q[side * then <= 1e-9]]
    arcs = np.flatnonzero(segs.bulge)
    across = np.array([-way[1], way[0]])
    for sign in (1.0, -1.0):
        tips = segs.centre[arcs] + across * (sign * segs.radius[arcs])[:, None]
        s, _ = segs.along(arcs, tips)
        found.append(tips[(s > SAME_MM) & (s < segs.length[arcs] - SAME_MM)])
    return np.concatenate(found)


def inscribed(region: Region) -> tuple[float, float, float]:
    """(x, y, r) of the largest circle inside the region, r within 0.001 mm of the largest possible.

    Raises ValueError on an empty region.
    """
    if not region:
        raise ValueError("an empty region holds no circle")
    best = (0.0, 0.0, -1.0)
    for part in region.parts:
        line = shapely.maximum_inscribed_circle(part.polygon, tolerance=0.0005)
        x, y = shapely.get_coordinates(line)[0].tolist()
        r, _ = nearest_boundary(Region((part,)), x, y)
        if r > best[2]:
            best = (x, y, r)
    return best
