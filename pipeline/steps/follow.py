"""What comes out when a follower runs along a template: trade.md 5.1, simulated on the flattened forms."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from pipeline.geometry.contour import FLATTEN_MM
from pipeline.geometry.region import Region

HAIR_MM = 0.004
"""Differences thinner than this come from flattening, not from the follower."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """``residue_mm2``: area where the result differs from the wanted shape (corners that the cutter or
    follower can't reach); ``worst_mm``: the farthest that the result's edge lies from the wanted edge
    elsewhere; ``corner_mm``: how far the wanted edge lies from the result's at the worst corner, and
    ``corner_at`` where. ``empty`` when nothing comes out."""

    residue_mm2: float
    worst_mm: float
    corner_mm: float
    corner_at: tuple[float, float]
    empty: bool = False


def outcome(
    wanted: Region,
    template: Region,
    use: Literal["outside", "opening"],
    follower_mm: float,
    cutter_mm: float,
) -> Outcome:
    """Follow a template and compare with the wanted shape.

    ``template`` is the followed region: the pattern itself, or the opening. Outside, part = (Tm ⊕ B/2)
    ⊖ D/2; opening, cavity = (hole ⊖ B/2) ⊕ D/2 (B follower, D cutter diameter).
    """
    sign = 1.0 if use == "outside" else -1.0
    centre_line = _grown(template.polygon, sign * follower_mm / 2)
    result = _grown(centre_line, -sign * cutter_mm / 2)
    if result.is_empty:
        return Outcome(residue_mm2=wanted.area, worst_mm=0.0, corner_mm=0.0, corner_at=wanted.centroid, empty=True)
    differs = wanted.polygon.symmetric_difference(result)
    residue = differs.buffer(-HAIR_MM / 2, quad_segs=4).buffer(HAIR_MM / 2, quad_segs=4)
    reached = _points(result)
    if not residue.is_empty:
        # The tails of a corner's residue run out to nothing; leave them to the corner.
        corners = residue.buffer(10 * HAIR_MM)
        shapely.prepare(corners)
        reached = reached[~shapely.contains(corners, reached)]
    worst = float(_distances(reached, wanted.polygon).max()) if len(reached) else 0.0
    points = _points(wanted.polygon)
    off = _distances(points, result)
    k = int(np.argmax(np.round(off, 6)))
    return Outcome(
        residue_mm2=float(residue.area),
        worst_mm=worst,
        corner_mm=float(off[k]),
        corner_at=(float(points[k].x), float(points[k].y)),
    )


def _grown(shape: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """A round-joined offset whose arcs lie within FLATTEN_MM of the true ones."""
    radius = max(abs(by_mm), FLATTEN_MM * 2)
    quarter = math.ceil(math.pi / math.acos(1 - FLATTEN_MM / radius) / 4)
    return shape.buffer(by_mm, quad_segs=quarter)


def _points(shape: shapely.Geometry) -> np.ndarray:
    """The corners of a polygon's rings, and points no more than 2 mm apart between them."""
    lines = shape.boundary.segmentize(2.0)
    points: np.ndarray = shapely.points(shapely.get_coordinates(lines))
    return points


def _distances(points: np.ndarray, shape: shapely.Geometry) -> np.ndarray:
    """Distance of each point from the nearest edge of a polygon."""
    ends, ring = shapely.get_coordinates(shapely.get_parts(shape.boundary), return_index=True)
    sides = np.stack([ends[:-1], ends[1:]], axis=1)[ring[:-1] == ring[1:]]
    tree = shapely.STRtree(shapely.linestrings(sides))
    (at, _), found = tree.query_nearest(points, return_distance=True, all_matches=False)
    distances = np.empty(len(points))
    distances[at] = found
    return distances
