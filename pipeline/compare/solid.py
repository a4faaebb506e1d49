"""A stack as slabs: where wood stands between two heights, by its laminations' files and what is cut in the blank.

Heights count from the back face. What a slab holds is flattened (within FLAT_MM); a sloped floor is cut at the
middle height of each slab.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely

from pipeline.compare.measure import polygon_of, spot
from pipeline.compare.state import Layer, Line, State, Thing

STEP_MM = 0.1
"""Sloped floors are looked at in slabs of this height."""
LEAST_MM = 1e-3

Shape: TypeAlias = shapely.Geometry


@dataclass(frozen=True, slots=True, kw_only=True)
class Void:
    """What one line takes away: its plan, its span in mm from the back, and a sloped floor as plane a x + b y
    + c of depth below ``face_z`` (``down``: measured downwards, from the front)."""

    what: str
    plan: Shape
    z0: float
    z1: float
    plane: tuple[float, float, float] | None = None
    face_z: float = 0.0
    down: bool = True

    def at(self, z: float) -> Shape:
        """Its plan at a height; empty above or below it."""
        if not self.z0 - LEAST_MM < z < self.z1 + LEAST_MM:
            return shapely.Polygon()
        if self.plane is None:
            return self.plan
        a, b, c = self.plane
        depth = self.face_z - z if self.down else z - self.face_z
        return _half(self.plan, a, b, c - depth)


Named = Sequence[tuple[str, Sequence[float]]]


def names_of(state: State) -> Named:
    """(what it is called, its box) of every cavity, recess and channel that the steps state."""
    found: list[tuple[str, Sequence[float]]] = []
    for name, step in state.steps.items():
        if step.get("kind") in ("cavity", "channel") and step.get("bounds_mm"):
            found.append((name, step["bounds_mm"]))
            recess = step.get("recess")
            if isinstance(recess, Mapping) and recess.get("bounds_mm"):
                found.append((f"the recess of {name}", recess["bounds_mm"]))
    return found


def voids_of(lines: Iterable[Line], back_z: float, front_z: float, called: str, names: Named = ()) -> list[Void]:
    """What the lines of one piece or blank between two heights take away (its outside is not among them)."""
    found: list[Void] = []
    groups: dict[tuple[str, str, float | None, float | None], list[Line]] = {}
    for line in lines:
        if line.work in ("CUT_INSIDE", "DRILL", "POCKET", "RAMP"):
            groups.setdefault((line.work, line.face, line.depth_mm, line.deep_mm), []).append(line)
    for (work, face, depth, deep), members in groups.items():
        through = members[0].goes_through
        for plan in shapely.get_parts(polygon_of(tuple(m.contour for m in members))):
            x, y = plan.representative_point().coords[0]
            kind = "an opening" if through else "a pocket" if work != "DRILL" else "a hole"
            name = _named(plan.bounds, names)
            words = f"{name or kind} in {called} at {spot((x, y), 1)}"
            if through:
                found.append(Void(what=words, plan=plan, z0=back_z, z1=front_z))
                continue
            most = max(v for v in (depth, deep) if v is not None)
            z0, z1 = (front_z - most, front_z) if face == "front" else (back_z, back_z + most)
            rows = [r for m in members for r in m.ramp]
            plane = _plane(rows) if work == "RAMP" else None
            face_z = front_z if face == "front" else back_z
            said = f"{words}, {most:.2f} deep from the {face}"
            found.append(
                Void(what=said, plan=plan, z0=z0, z1=z1, plane=plane, face_z=face_z, down=face == "front")
            )
    return found


def cuts_of(blank: Thing, state: State, *, faces: Sequence[str] = ("front", "back")) -> list[Void]:
    """All that the files of a blank's laminations take away, and those of the blank itself on some faces."""
    found: list[Void] = []
    names = names_of(state)
    for layer in blank.layers:
        piece = state.thing(layer.piece)
        if piece is not None:
            found += voids_of(piece.lines, layer.z0, layer.z1, layer.piece, names)
    top = max((v.z1 for v in blank.layers), default=blank.thickness_mm)
    own = [line for line in blank.lines if line.face in faces]
    return found + voids_of(own, 0.0, top, f"the glued blank {blank.name}", names)


def _named(box: tuple[float, float, float, float], names: Named) -> str:
    """The cavity whose box is most like this one, "" where none is more than half like it."""
    best = max(((_overlap(box, b), name) for name, b in names), default=(0.0, ""))
    return best[1] if best[0] > 0.5 else ""


def _overlap(a: Sequence[float], b: Sequence[float]) -> float:
    """Common area of two boxes over that of both together."""
    w, h = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    if w <= 0 or h <= 0:
        return 0.0
    both = (a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - w * h
    return w * h / both


def outside_of(piece: Thing | None) -> Shape:
    """The outside that a piece is cut to."""
    return polygon_of(tuple(line.contour for line in piece.of("CUT_OUTSIDE"))) if piece else shapely.Polygon()


def slabs(layers: Sequence[Layer], voids: Iterable[Void]) -> list[tuple[float, float]]:
    """Heights between which nothing changes: of laminations, floors, and steps of sloped floors."""
    heights = {round(v, 4) for layer in layers for v in (layer.z0, layer.z1)}
    for void in voids:
        heights |= {round(void.z0, 4), round(void.z1, 4)}
        if void.plane is not None:
            heights |= {round(z, 4) for z in _slope_heights(void)}
    low, high = min(v.z0 for v in layers), max(v.z1 for v in layers)
    ordered = sorted(z for z in heights if low - LEAST_MM <= z <= high + LEAST_MM)
    return [(a, b) for a, b in pairwise(ordered) if b - a > LEAST_MM]


def _slope_heights(void: Void) -> list[float]:
    """Heights, STEP_MM apart, over which the floor of a void slopes."""
    assert void.plane is not None
    a, b, _ = void.plane
    x0, y0, x1, y1 = void.plan.bounds
    rise = min(abs(a) * (x1 - x0) + abs(b) * (y1 - y0), void.z1 - void.z0)
    low = void.z0 if void.down else void.z1 - rise
    return [float(z) for z in np.arange(low, low + rise, STEP_MM)]


def taken(voids: Iterable[Void], z: float) -> Shape:
    """All that is taken away at a height."""
    plans = [p for v in voids if not (p := v.at(z)).is_empty]
    return shapely.union_all(plans) if plans else shapely.Polygon()


def _plane(rows: Sequence[tuple[float, float, float]]) -> tuple[float, float, float] | None:
    """Depth as a x + b y + c by the table of a sloped floor (least squares; level across the slope)."""
    if len(rows) < 2:
        return None
    points = np.array(rows)
    along = points[-1, :2] - points[0, :2]
    length = float(np.hypot(*along))
    if length < LEAST_MM:
        return None
    u = along / length
    s = points[:, :2] @ u
    slope, start = np.polyfit(s, points[:, 2], 1)
    return float(slope * u[0]), float(slope * u[1]), float(start)


def _half(plan: Shape, a: float, b: float, c: float) -> Shape:
    """The part of a plan where a x + b y + c is not negative."""
    x0, y0, x1, y1 = plan.bounds
    n = float(np.hypot(a, b))
    if n < 1e-12:
        return plan if c >= 0 else shapely.Polygon()
    u = np.array([a, b]) / n
    v = np.array([-u[1], u[0]])
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    reach = float(np.hypot(x1 - x0, y1 - y0)) + 1.0
    edge = middle - u * (a * middle[0] + b * middle[1] + c) / n  # the foot of the middle on the line
    box = [edge - v * reach, edge + v * reach, edge + v * reach + u * 2 * reach, edge - v * reach + u * 2 * reach]
    far = float((middle - edge) @ u)
    if far < -reach:
        return shapely.Polygon()
    if far > reach:
        return plan
    return shapely.intersection(plan, shapely.Polygon(box))
