"""A part in one turn, ready to be laid: grown by half the gap, with its stamps and the edges it slides on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.workshop.cells import ON_A_LINE, STEPS, Stamp, stamp
from pipeline.workshop.exact import ROUGH_MM

CHORDS = 16
INSCRIBED = 0.0125
"""GEOS's round corner of 16 chords a quadrant stays within the circle by less than 0.0013 of its radius, and it
takes corners off what it grows by up to 0.01 of it."""
LEVEL_MM = 1e-7
"""Edges that rise by less don't stand in anything's way."""

Edges = NDArray[np.float64]
"""Rows (x, y, x', y') of edges, the end with the lower coordinate across the way first."""


@dataclass(frozen=True, slots=True)
class Faces:
    """The edges of a shape by the side they face: what leads when it moves that way."""

    left: Edges
    right: Edges
    down: Edges
    up: Edges

    def moved(self, x: float, y: float) -> Faces:
        by = np.array([x, y, x, y])
        return Faces(self.left + by, self.right + by, self.down + by, self.up + by)


def faces(shape: shapely.Geometry) -> Faces:
    """The edges of a polygon (or several) by the side that they face."""
    starts, ends = [], []
    for polygon in shapely.get_parts(shape):
        for ring in shapely.get_rings(shapely.orient_polygons(polygon)):
            xy = shapely.get_coordinates(ring)
            starts.append(xy[:-1])
            ends.append(xy[1:])
    a, b = np.concatenate(starts), np.concatenate(ends)
    dx, dy = (b - a).T
    forth, back = np.hstack([a, b]), np.hstack([b, a])  # the inside is on the left of an edge
    return Faces(
        left=back[dy < -LEVEL_MM], right=forth[dy > LEVEL_MM], down=forth[dx > LEVEL_MM], up=back[dx < -LEVEL_MM]
    )


@dataclass(frozen=True, slots=True)
class Way:
    """A part in one turn. ``shape`` is what it takes up, grown by half the gap, the lower left corner of its
    exact box of ``size`` at (0, 0); ``corner`` is where that corner lies before it is moved, ``area`` mm² and
    ``middle`` are those of the shape without its openings filled."""

    turn_deg: int
    shape: shapely.Geometry
    size: tuple[float, float]
    corner: tuple[float, float]
    area: float
    middle: tuple[float, float]
    faces: Faces
    stamps: dict[tuple[float, int, int], Stamp] = field(default_factory=dict)

    def stamp(self, cell: float) -> Stamp:
        """Its cells when its corner lies on the corner of a cell."""
        return self._stamp(cell, 0, 0)

    def stamp_at(self, cell: float, x: float, y: float) -> tuple[Stamp, int, int]:
        """Its cells with its corner at (x, y), and the cell (column, row) that the corner lies in."""
        column, i = _within(x / cell)
        row, j = _within(y / cell)
        return self._stamp(cell, i, j), column, row

    def _stamp(self, cell: float, i: int, j: int) -> Stamp:
        found = self.stamps.get((cell, i, j))
        if found is None:
            # 0 is exactly on the line between cells; k from 1 on is the k-th step up to the next one.
            exact = i == j == 0
            at = (max(0, i - 1) * cell / STEPS, max(0, j - 1) * cell / STEPS)
            found = stamp(self.shape, self.size, cell, at, 0.0 if exact else cell / STEPS)
            self.stamps[cell, i, j] = found
        return found


def _within(place: float) -> tuple[int, int]:
    """The cell, and the step within it: 0 on its line, else 1 to STEPS."""
    nearest = round(place)
    if abs(place - nearest) < ON_A_LINE / 2:
        return nearest, 0
    cell = math.floor(place)
    return cell, 1 + min(STEPS - 1, int((place - cell) * STEPS))


def way(grown: shapely.Geometry, turn_deg: int, box: tuple[float, float, float, float], gap_mm: float) -> Way:
    """A part, already turned, ready to be laid with ``gap_mm`` to its neighbours: ``grown`` is what `grown_by`
    gives for it, ``box`` its own exact box."""
    xmin, ymin, xmax, ymax = box
    half = gap_mm / 2
    size = (xmax - xmin + gap_mm, ymax - ymin + gap_mm)
    taken = shapely.transform(grown, lambda xy: xy - np.array([xmin - half, ymin - half]))
    if gap_mm > 0.0:  # what was added for the corners that were cut off must not reach beyond its box
        within = shapely.get_parts(shapely.intersection(taken, shapely.box(0.0, 0.0, *size)))
        taken = shapely.multipolygons([p for p in within if p.geom_type == "Polygon"])
    centre = taken.centroid
    return Way(
        turn_deg=turn_deg,
        shape=taken,
        size=size,
        corner=(xmin - half, ymin - half),
        area=float(taken.area),
        middle=(float(centre.x), float(centre.y)),
        faces=faces(taken),
    )


def grown_by(shape: shapely.Geometry, gap_mm: float) -> shapely.Geometry:
    """What a part takes up: ``shape`` (which may have fewer corners, ROUGH_MM off) grown by half the gap, a little
    more where its corners are cut off; itself for no gap."""
    if gap_mm <= 0.0:
        return shape
    reach = (gap_mm / 2 + 2 * ROUGH_MM) * (1 + INSCRIBED)
    return shapely.simplify(shapely.buffer(shape, reach, quad_segs=CHORDS), ROUGH_MM)
