"""Pieces and blanks as a picture of a finding needs them: plan shapes between heights, and sections through them.

Heights are mm above the back of the piece or blank; a section lies in the plane of a line (t, mm along it) and z.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import filled, outer
from pipeline.checks.voids import voids
from pipeline.geometry.contour import Contour, Floats
from pipeline.steps.solids import Plane
from pipeline.steps.values import Blank, Derived, EdgeRun, Op, Piece

Point = tuple[float, float]
FLAT_MM = 0.002
SAMPLES = 241
"""Places along a section at which treated edges are worked out, about one for each dot of the picture."""
DRAWN = ("CARVE_LINE", "SCORE", "ENGRAVE")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """What one cut takes: its step (empty: several), its plan, its floor and the height at which it opens."""

    step: str
    face: str
    shape: BaseGeometry
    floor: Plane
    mouth: float
    through: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wood:
    """One piece or blank: its edge, its laminations (z0, z1) from the back, all that is taken from it, its treated
    edges with their flattened forms, and lines that are drawn on a face and never cut."""

    name: str
    total: float
    edge: BaseGeometry
    layers: tuple[tuple[float, float], ...]
    taken: tuple[Taken, ...]
    runs: tuple[tuple[EdgeRun, shapely.LineString], ...] = ()
    lines: tuple[tuple[str, Contour], ...] = ()


@dataclass(eq=False)
class Woods:
    """The pieces and blanks of a design, each worked out when a picture first asks for it."""

    derived: Derived
    _known: dict[str, Wood] = field(default_factory=dict)

    def of(self, piece: str, step: str, at: Point) -> Wood | None:
        """The piece or blank a finding speaks of: by name, else the one its step makes or is cut in, else the one
        that lies there; None where there is none."""
        owners: dict[str, Blank | Piece] = {b.name: b for b in self.derived.blanks}
        owners |= {p.name: p for p in self.derived.pieces}
        owner = owners.get(piece)
        if owner is None:
            named = [o for o in owners.values() if step in (o.step, o.name)]
            cutting = [o for o in owners.values() if any(op.step == step for s in o.set_ups for op in s.ops)]
            here = [o for o in (*named, *cutting, *owners.values()) if o.region.polygon.intersects(_spot(at))]
            owner = next(iter(here or named), None)
        if owner is None:
            return None
        if owner.name not in self._known:
            self._known[owner.name] = _blank(self.derived, owner) if isinstance(owner, Blank) else _piece(owner)
        return self._known[owner.name]


def _spot(at: Point) -> BaseGeometry:
    return shapely.Point(at).buffer(0.5, quad_segs=2)


def _blank(derived: Derived, blank: Blank) -> Wood:
    taken = []
    for v in voids(derived, blank):
        tilt, floor = v.cut.depth.tilt, Plane(v.z_floor)
        if tilt is not None and v.slope:
            z0 = v.z_floor - tilt.shallow * v.slope
            floor = Plane(z0, v.slope * tilt.toward[0], v.slope * tilt.toward[1])
        mouth = v.mouth if v.mouth is not None else (v.total if v.face == "front" else 0.0)
        through = v.cut.depth.rule == "through"
        taken.append(
            Taken(step=v.step.name, face=v.face, shape=v.whole, floor=floor, mouth=mouth, through=through)
        )
    return Wood(
        name=blank.name,
        total=blank.thickness_mm,
        edge=outer(blank.region.polygon),
        layers=tuple((lam.z0, lam.z1) for lam in blank.laminations),
        taken=tuple(taken),
        runs=tuple((run, _flat(run.edge)) for run in blank.edges),
        lines=_lines(op for s in blank.set_ups for op in s.ops),
    )


def _piece(piece: Piece) -> Wood:
    ops = [op for s in piece.set_ups for op in s.ops]
    return Wood(
        name=piece.name,
        total=piece.thickness_mm,
        edge=outer(piece.region.polygon),
        layers=((0.0, piece.thickness_mm),),
        taken=tuple(t for op in ops for t in _op(op, piece)),
        lines=_lines(ops),
    )


def _lines(ops: Iterator[Op] | Sequence[Op]) -> tuple[tuple[str, Contour], ...]:
    return tuple((op.face, c) for op in ops if op.work in DRAWN for c in op.contours)


def _op(op: Op, piece: Piece) -> Iterator[Taken]:
    # Openings that a stack has made of several cuts bear its own name, which tells nothing.
    total, step = piece.thickness_mm, "" if op.step == piece.step else op.step
    top = total if op.face == "front" else 0.0
    sign = -1.0 if op.face == "front" else 1.0
    through = op.work == "CUT_INSIDE" or (op.work == "DRILL" and op.through)
    if op.work == "GROOVE" and op.diameter_mm:
        lines = [shapely.LineString(c.flatten(0.05)[0]) for c in op.contours]
        shape = shapely.union_all(lines).buffer(op.diameter_mm / 2)
    elif op.work in ("POCKET", "RAMP", "CUT_INSIDE", "DRILL"):
        shape = filled(op.contours)
    else:
        return
    floor = Plane(total - top) if through else Plane(top + sign * (op.depth_mm or 0.0))
    if op.work == "RAMP" and len(op.ramp) >= 3:
        # The plane through the table's places: depth is linear in them.
        rows = np.array(op.ramp)
        at = np.column_stack([np.ones(len(rows)), rows[:, :2]])
        (c, gx, gy), *_ = np.linalg.lstsq(at, rows[:, 2], rcond=None)
        floor = Plane(top + sign * float(c), sign * float(gx), sign * float(gy))
    yield Taken(step=step, face=op.face, shape=shape, floor=floor, mouth=top, through=through)


# -- sections ----------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A cut through a piece along p(t) = at + t · way: the wood of each lamination, glue lines and what each cut
    takes, as shapes in (t, z)."""

    at: Point
    way: Point
    total: float
    layers: tuple[BaseGeometry, ...]
    glue: tuple[BaseGeometry, ...]
    taken: tuple[tuple[Taken, BaseGeometry], ...]
    body: BaseGeometry

    def wood_at(self, t: float) -> tuple[tuple[float, float], ...]:
        """Heights between which there is wood at a place, from the back."""
        return _uprights(self.body, t, self.total)

    def air_at(self, t: float) -> tuple[tuple[float, float], ...]:
        """Heights between which wood has been taken at a place."""
        gone = shapely.union_all([shape for _, shape in self.taken])
        return _uprights(shapely.intersection(gone, shapely.box(-1e6, 0.0, 1e6, self.total)), t, self.total)


def _uprights(shape: BaseGeometry, t: float, total: float) -> tuple[tuple[float, float], ...]:
    line = shapely.LineString([(t, -1.0), (t, total + 1.0)])
    parts = [shapely.get_coordinates(p)[:, 1] for p in shapely.get_parts(shapely.intersection(shape, line))]
    return tuple(sorted((float(z.min()), float(z.max())) for z in parts if len(z) and np.ptp(z) > 1e-6))


def section(wood: Wood, at: Point, way: Point, half: float) -> Section:
    """The section through a place, ``half`` mm to either side of it."""
    a, b = _on(at, way, -half), _on(at, way, half)
    line = shapely.LineString([a, b])
    spans = _along(_near(wood.edge, line, 0.5), line, at, way)
    body: BaseGeometry = shapely.union_all([shapely.box(t0, 0.0, t1, wood.total) for t0, t1 in spans])
    taken = []
    for cut in wood.taken:
        for t0, t1 in _along(cut.shape, line, at, way):
            z0, z1 = (cut.floor.at(*map(np.asarray, _on(at, way, t))) for t in (t0, t1))
            # Where a sloped floor comes up to its mouth nothing is taken any more.
            above = shapely.box(t0, cut.mouth, t1, cut.mouth + (1e3 if cut.face == "back" else -1e3))
            shape = shapely.Polygon([(t0, cut.mouth), (t1, cut.mouth), (t1, float(z1)), (t0, float(z0))])
            shape = shapely.intersection(shapely.make_valid(shape), above)
            if shape.area > 1e-6:
                taken.append((cut, shape))
                body = shapely.difference(body, shape)
    for treated in _treated(wood, at, way, line, spans):
        body = shapely.difference(body, treated)
    layers = tuple(shapely.clip_by_rect(body, -half, z0, half, z1) for z0, z1 in wood.layers)
    glue = tuple(
        shapely.clip_by_rect(body, -half, a1, half, b0)
        for (_, a1), (b0, _) in zip(wood.layers, wood.layers[1:], strict=False)
        if b0 > a1
    )
    return Section(at=at, way=way, total=wood.total, layers=layers, glue=glue, taken=tuple(taken), body=body)


def _on(at: Point, way: Point, t: float) -> Point:
    return at[0] + t * way[0], at[1] + t * way[1]


def _near(shape: BaseGeometry, line: BaseGeometry, rim: float) -> BaseGeometry:
    """What of a shape lies in the box round a line and a rim, which is soon found."""
    x0, y0, x1, y1 = line.bounds
    return shapely.clip_by_rect(shape, x0 - rim, y0 - rim, x1 + rim, y1 + rim)


def _along(shape: BaseGeometry, line: BaseGeometry, at: Point, way: Point) -> list[tuple[float, float]]:
    """The stretches of a line inside a plan shape."""
    found = []
    for part in shapely.get_parts(shapely.intersection(shape, line)):
        t = (shapely.get_coordinates(part) - np.array(at)) @ np.array(way)
        if len(t) > 1 and np.ptp(t) > 1e-6:
            found.append((float(t.min()), float(t.max())))
    return sorted(found)


# -- treated edges -----------------------------------------------------------------------------------
def _treated(
    wood: Wood, at: Point, way: Point, line: BaseGeometry, spans: Sequence[tuple[float, float]]
) -> Iterator[BaseGeometry]:
    """What is taken off the faces along the edges, where the section crosses them; ``spans``: where there is wood
    along the section's ``line``."""
    for run, edge in wood.runs:
        for t0, t1 in spans:
            t = np.unique(np.concatenate([np.linspace(t0, t1, SAMPLES), _ends(t0, t1, run.size_mm)]))
            points = shapely.points(np.array(at) + t[:, None] * np.array(way))
            down = lowered(run, edge, points, line)
            if not (down > 1e-6).any():
                continue
            top, sign = (wood.total, -1.0) if run.face == "front" else (0.0, 1.0)
            rim = [(float(v), top - sign) for v in (t[-1], t[0])]
            low = list(zip(t.tolist(), (top + sign * down).tolist(), strict=True))
            yield shapely.make_valid(shapely.Polygon([*low, *rim]))


def _ends(t0: float, t1: float, size: float) -> Floats:
    """More places near the ends of a stretch, where a rounding is steep."""
    near = np.linspace(0.0, 1.0, 25) ** 2 * min(size, t1 - t0)
    return np.concatenate([t0 + near, t1 - near])


def _flat(c: Contour) -> shapely.LineString:
    """A contour as a line of few points, closed where the contour is."""
    xy = c.flatten(FLAT_MM)[0]
    return shapely.simplify(
        shapely.LineString(np.vstack([xy, xy[:1]]) if c.closed else xy), FLAT_MM, preserve_topology=False
    )


def lowered(
    run: EdgeRun, edge: shapely.LineString, points: Floats, line: shapely.LineString | None = None
) -> Floats:
    """How far a treatment lowers its face at points of the plan.

    A rounding by its quarter circle, R − √(R² − (R − u)²) at u from the edge (trade.md 4); a bevel straight and a
    hollow as a parabola from its inner line down to the edge, where it is deepest. Beyond the ends of the
    stretch the face stays. ``line`` is one that all points lie on: it saves work.
    """
    if run.kind == "round":
        near = edge if line is None else _near(edge, line, run.size_mm + 0.5)
        if near.is_empty:
            return np.zeros(len(points))
        away = shapely.distance(near, points)
        left = np.clip(run.size_mm - away, 0.0, run.size_mm)
        down = run.size_mm - np.sqrt(np.maximum(run.size_mm**2 - left**2, 0.0))
        if not run.edge.closed:
            ends = shapely.MultiPoint([edge.coords[0], edge.coords[-1]])
            down = np.where((shapely.distance(ends, points) > away + 1e-9) | (away < 1e-6), down, 0.0)
        return np.asarray(down)
    open_lines = [_flat(c) for c in run.lines if c.circle() is None]
    if not open_lines:
        return np.zeros(len(points))
    inner = shapely.union_all(open_lines)
    strip = shapely.make_valid(shapely.Polygon([*edge.coords, *_back(edge, open_lines[0])]))
    far = max(float(shapely.distance(inner, shapely.points(shapely.get_coordinates(edge))).max()), 1e-9)
    share = np.where(shapely.intersects(strip.buffer(0.01), points), shapely.distance(inner, points) / far, 0.0)
    return np.asarray(run.size_mm * (share if run.kind == "bevel" else share**2))


def _back(edge: shapely.LineString, line: shapely.LineString) -> list[Point]:
    """The points of an inner line in the order that leads back to where the edge begins."""
    end = edge.coords[-1]
    points = list(line.coords)
    return points if math.dist(end, points[0]) <= math.dist(end, points[-1]) else points[::-1]
