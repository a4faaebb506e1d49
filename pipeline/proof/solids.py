"""A piece as a plan with depths: what its files leave standing, and what the design wants to stand."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.proof.cutter import Bench
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected
from pipeline.proof.groups import Entity
from pipeline.proof.layer import BEAM, ours, parse
from pipeline.proof.loops import FLATTEN_MM, NOTHING, areas, flat, united
from pipeline.proof.ramps import Plane, moved, plane, tables
from pipeline.proof.seen import Seen
from pipeline.steps.values import Op, Piece, SetUp

SAME_MM = 0.0115
"""Heights nearer than this are one: names of layers hold two decimals."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """One removal from a face down to ``depth``; a sloped one down to ``plane``, at most to ``deep``.

    ``drawn`` is the area as drawn, ``shape`` what the cutter clears of it."""

    shape: BaseGeometry
    drawn: BaseGeometry
    face: str
    depth: float
    deep: float = 0.0
    plane: Plane | None = None

    def heights(self, thick: float) -> list[float]:
        """Heights above the back face at which its floor begins and ends."""
        ends = [self.depth, *([self.deep] if self.plane else [])]
        return [thick - d if self.face == "front" else d for d in ends]

    def at(self, z: float, thick: float) -> BaseGeometry:
        """What it takes away at a height."""
        under = thick - z if self.face == "front" else z
        if under < self.depth:
            return self.shape
        if self.plane is None or under >= self.deep:
            return NOTHING
        return shapely.intersection(self.shape, self.plane.deeper_than(under))

    def slope_at(self, z: float, thick: float) -> float:
        """How steep its floor is at a height; 0 where it has none there, or a level one."""
        under = thick - z if self.face == "front" else z
        return abs(self.plane.slope) if self.plane and self.depth <= under <= self.deep else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """What stands: ``parts`` less ``holes`` (all through) less what is taken from the faces.

    ``residue`` is what no cutter of the shop reaches; ``outer``, ``inner`` and ``bored`` are the through contours
    as drawn.
    """

    parts: BaseGeometry
    holes: BaseGeometry
    taken: tuple[Taken, ...]
    residue: BaseGeometry = NOTHING
    outer: tuple[BaseGeometry, ...] = ()
    inner: tuple[BaseGeometry, ...] = ()
    bored: tuple[BaseGeometry, ...] = ()

    def removed(self, z: float, thick: float) -> BaseGeometry:
        """All that is gone within the parts at a height above the back face."""
        return united([self.holes, *(t.at(z, thick) for t in self.taken)])

    def at(self, z: float, thick: float) -> BaseGeometry:
        """What stands at a height above the back face."""
        gone = self.removed(z, thick)
        return self.parts if gone.is_empty else shapely.difference(self.parts, gone)

    def and_(self, other: Solid) -> Solid:
        """Both set-ups of one piece together."""
        return Solid(
            parts=united([self.parts, other.parts]),
            holes=united([self.holes, other.holes]),
            taken=(*self.taken, *other.taken),
            residue=united([self.residue, other.residue]),
            outer=(*self.outer, *other.outer),
            inner=(*self.inner, *other.inner),
            bored=(*self.bored, *other.bored),
        )


def levels(thick: float, *solids: Solid) -> list[tuple[float, float]]:
    """Spans of height between which nothing begins or ends, from the back up."""
    found = sorted({0.0, thick, *(z for s in solids for t in s.taken for z in t.heights(thick))})
    kept = [0.0]
    for z in found:
        if 0.0 < z < thick and z - kept[-1] > SAME_MM and thick - z > SAME_MM:
            kept.append(z)
    kept.append(thick)
    return list(itertools.pairwise(kept))


# -- as the files have it ----------------------------------------------------------------------------
def as_cut(want: Expected, drawn: Drawn, bench: Bench, thick: float, *, turned_back: bool) -> Solid:
    """The cut of one file, by its layers' names alone; ``turned_back`` into the design's frame."""
    by_layer: dict[str, list[Entity]] = {}
    for e in drawn.entities:
        if e.contour is not None and not e.hidden:
            by_layer.setdefault(e.layer, []).append(e)
    outer: list[BaseGeometry] = []
    inner: list[BaseGeometry] = []
    parts: list[BaseGeometry] = []
    holes: list[BaseGeometry] = []
    bored: list[BaseGeometry] = []
    rest: list[BaseGeometry] = []
    taken: list[Taken] = []
    for name, entities in by_layer.items():
        layer = parse(ours(name, want.shop.layers))
        if layer is None or not layer.is_cut:
            continue
        contours = [e.contour for e in entities if e.contour is not None]
        if turned_back:
            contours = [want.seen.contour_back(c) for c in contours]
        if layer.work in ("CUT_OUTSIDE", "CUT_INSIDE"):
            outside = layer.work == "CUT_OUTSIDE"
            for shape in map(flat, contours):
                (outer if outside else inner).append(shape)
                left = (bench.part if outside else bench.opening)(shape, thick)
                (parts if outside else holes).append(left.shape)
                rest.append(left.residue)
        elif layer.work == "DRILL":
            for hole in map(flat, contours):
                if layer.through:
                    bored.append(hole)
                else:
                    taken.append(Taken(shape=hole, drawn=hole, face=layer.face, depth=float(layer.depth)))
        elif layer.work == "GROOVE":
            for line in contours:
                shape = _swept(line, float(layer.diameter))
                taken.append(Taken(shape=shape, drawn=shape, face=layer.face, depth=float(layer.depth)))
        elif layer.work in ("POCKET", "RAMP"):
            floors = _planes(want, drawn, name, turned_back) if layer.work == "RAMP" else []
            for shape in areas(contours):
                left = bench.pocket(shape, float(layer.deep or layer.depth))
                rest.append(left.residue)
                floor = _nearest(floors, shape)
                taken.append(_sunk(layer.face, float(layer.depth), left.shape, shape, floor))
    return Solid(
        parts=united(parts),
        holes=united([*holes, *bored]),
        taken=tuple(taken),
        residue=united(rest),
        outer=tuple(outer),
        inner=tuple(inner),
        bored=tuple(bored),
    )


def _sunk(face: str, depth: float, shape: BaseGeometry, drawn: BaseGeometry, floor: Plane | None) -> Taken:
    """A removal; a slope counts with its overrun, not only between the two depths that a layer names."""
    corners = shapely.get_coordinates(drawn)
    if floor is None or not len(corners):
        return Taken(shape=shape, drawn=drawn, face=face, depth=depth)
    along = (corners - np.array(floor.at)) @ np.array(floor.toward)
    depths = floor.depth + floor.slope * along
    least, most = float(depths.min()), float(depths.max())
    return Taken(shape=shape, drawn=drawn, face=face, depth=least, deep=most, plane=floor)


def _planes(want: Expected, drawn: Drawn, layer: str, turned_back: bool) -> list[Plane]:
    found: list[Plane] = []
    for rows in tables(drawn, want.shop.layers).get(layer, []):
        told = [(*want.seen.back(x, y), d) for x, y, d in rows] if turned_back else rows
        floor = plane(told)
        if floor is not None:
            found.append(floor)
    return found


def _nearest(floors: Sequence[Plane], shape: BaseGeometry) -> Plane | None:
    """The table that begins nearest to a ramp is its own."""
    if not floors:
        return None
    return min(floors, key=lambda f: shape.distance(shapely.Point(f.at)))


def _swept(line: Contour, wide_mm: float) -> BaseGeometry:
    """What a cutter of a width takes along a centreline."""
    points = line.flatten(FLATTEN_MM)[0]
    if line.closed:
        points = np.vstack([points, points[:1]])
    return shapely.buffer(shapely.LineString(points), wide_mm / 2, quad_segs=16)


# -- as the design has it ------------------------------------------------------------------------------
def as_designed(piece: Piece, seen: Seen, *, laser: bool) -> Solid:
    """What a piece shall be, in the frame of a file (``seen``) or its own."""
    made = _from_ops((op for s in piece.set_ups for op in s.ops), seen, laser=laser)
    return Solid(parts=region_flat(piece.cut, seen), holes=made.holes, taken=made.taken, bored=made.bored)


def as_machined(set_ups: Sequence[SetUp], *, laser: bool) -> Solid:
    """What the set-ups of a blank take, in the design's frame."""
    ops = [op for s in set_ups for op in s.ops]
    made = _from_ops(ops, Seen(), laser=laser)
    through = tuple(flat(c) for op in ops if op.work == "CUT_INSIDE" for c in op.contours)
    return Solid(
        parts=NOTHING, holes=united([made.holes, *through]), taken=made.taken, bored=(*made.bored, *through)
    )


def _from_ops(ops: Iterable[Op], seen: Seen, *, laser: bool) -> Solid:
    """Holes and removals; a laser's cut file holds no half-deep work."""
    holes: list[BaseGeometry] = []
    taken: list[Taken] = []
    for op in ops:
        contours = [seen.contour(c) for c in op.contours]
        if op.through or op.work == "CUT_INSIDE":
            if op.through:
                holes += [flat(c) for c in contours]
            continue
        if (laser and op.work not in BEAM) or op.depth_mm is None:
            continue
        if op.work == "GROOVE":
            swept = [_swept(c, op.diameter_mm or 0.0) for c in contours]
            taken += [Taken(shape=v, drawn=v, face=op.face, depth=op.depth_mm) for v in swept]
        elif op.work in ("POCKET", "RAMP", "DRILL"):
            floor = plane(moved(op.ramp, seen)) if op.work == "RAMP" else None
            taken += [_sunk(op.face, op.depth_mm, v, v, floor) for v in areas(contours)]
    return Solid(parts=NOTHING, holes=united(holes), taken=tuple(taken), bored=tuple(holes))


def region_flat(region: Region, seen: Seen | None = None) -> BaseGeometry:
    """A region of the design, flattened as files are."""
    view = seen or Seen()
    found = []
    for part in region:
        shape = flat(view.contour(part.outer))
        holes = united([flat(view.contour(h)) for h in part.holes])
        found.append(shape if holes.is_empty else shapely.difference(shape, holes))
    return united(found)
