"""The least move that gives a cut its walls again, and the square end that keeps an open one from thinning out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from pipeline.checks.cavities_meet import WALL_MM as BETWEEN_MM
from pipeline.checks.cover_edge import flat_mm
from pipeline.checks.sheets import hole_at
from pipeline.checks.view import View
from pipeline.checks.voids import Void, meant
from pipeline.checks.wall_thin import WALL_MM, is_recess, open_wall, wood_for
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.common import UNIT
from pipeline.steps.values import Blank

Fix = tuple[tuple[str, float | str], ...]
Wall = tuple[BaseGeometry, BaseGeometry, float]
"""A shape that may move, what it keeps away from, and how far."""
ROUNDS = 80
SPARE_MM = 0.002
BEYOND_MM = 10.0
"""A square end is cut past the outline by this."""


# -- cavities ------------------------------------------------------------------------------------------
def aside(view: View, finding: Finding) -> Fix:
    """The centre of a cavity where all its walls are thick enough again; none for one that is drawn, that opens,
    or that has no such place near by."""
    step = view.steps.get(finding.step)
    spec: Any = step.spec if step else None
    found = next(((b, t) for b, t in view.blanks if b.name == finding.piece), None)
    centre = getattr(spec, "centre", None)
    if step is None or found is None or not isinstance(centre, tuple) or spec.open is not None:
        return ()
    moved = _least(list(_walls(found[0], found[1], step)))
    return () if moved is None else _written(view, f"steps.{step.name}.centre", centre, moved)


def _walls(blank: Blank, taken: tuple[Void, ...], step: Step) -> Iterator[Wall]:
    for mine in (v for v in taken if v.step.name == step.name and not v.drilled):
        edge = wood_for(blank, taken, mine).boundary
        yield mine.whole, edge, flat_mm(blank, mine) if is_recess(mine, taken) else WALL_MM
        (a0, a1) = mine.span(mine.shape)
        for other in taken:
            b0, b1 = other.span(other.shape)
            if not (meant(mine, other) or other.drilled) and max(a0, b0) < min(a1, b1) - 1e-6:
                yield mine.shape, other.shape, BETWEEN_MM


def _least(walls: list[Wall]) -> tuple[float, float] | None:
    """The move, by pushing away from whatever is too near until nothing is: exact for one wall."""
    dx = dy = 0.0
    for _ in range(ROUNDS):
        worst: tuple[float, float, float] | None = None
        for shape, other, limit in walls:
            here = affinity.translate(shape, dx, dy) if dx or dy else shape
            (px, py), (qx, qy) = shapely.get_coordinates(shapely.shortest_line(here, other)).tolist()
            away = math.hypot(px - qx, py - qy)
            if away < 1e-6:
                return None  # they overlap: there is no way to push
            push = limit + SPARE_MM - away
            if push > SPARE_MM / 2 and (worst is None or push > worst[0]):
                worst = (push, (px - qx) / away, (py - qy) / away)
        if worst is None:
            return dx, dy
        dx, dy = dx + worst[0] * worst[1], dy + worst[0] * worst[2]
    return None


def _written(view: View, path: str, at: tuple[float, float], moved: tuple[float, float]) -> Fix:
    """The two numbers of a point that moved, as the recipe states it; a left-handed variant is mirrored later."""
    dy = -moved[1] if view.derived.recipe.mirrored else moved[1]
    new = (at[0] + moved[0], at[1] + dy)
    return tuple((f"{path}.{i}", _away(v, v - at[i])) for i, v in enumerate(new) if abs(v - at[i]) > SPARE_MM)


def _away(value: float, change: float) -> float:
    """Rounded to a hundredth, farther the way it moved."""
    rounded = math.ceil(value * 100 - 1e-6) if change > 0 else math.floor(value * 100 + 1e-6)
    return rounded / 100 + 0.0


# -- holes ---------------------------------------------------------------------------------------------
def hole(view: View, finding: Finding) -> Fix:
    """The place of the hole (or the centre of the opening) that stands too near, moved straight away."""
    step = view.steps.get(finding.step)
    if finding.shown is None or finding.shown.ends_mm is None or finding.measured is None or finding.limit is None:
        return ()
    (px, py), (qx, qy) = finding.shown.ends_mm
    way = math.hypot(px - qx, py - qy)
    by = finding.limit - finding.measured + SPARE_MM
    moved = ((px - qx) / way * by, (py - qy) / way * by)
    if step is not None and step.kind == "cavity":
        centre = getattr(step.spec, "centre", None)
        return _written(view, f"steps.{step.name}.centre", centre, moved) if isinstance(centre, tuple) else ()
    found = _listed(view, finding, (px, py))
    if found is None:
        return ()
    name, i = found
    at = getattr(view.steps[name].spec, "at", ())
    if i >= len(at) or not isinstance(at[i], tuple):
        return ()
    return _written(view, f"steps.{name}.at.{i}", at[i], moved)


def _listed(view: View, finding: Finding, rim: tuple[float, float]) -> tuple[str, int] | None:
    """The hole whose rim a point lies on."""
    for result in view.derived.results.values():
        if result.kind != "holes" or (result.step != finding.step and view.steps[finding.step].kind == "holes"):
            continue
        for row in result.numbers.get("holes", ()):
            if abs(math.dist(row["at_mm"], rim) - row["diameter_mm"] / 2) < 0.02:
                return hole_at(view.derived, tuple(row["at_mm"]))
    return None


# -- open ends -----------------------------------------------------------------------------------------
def wall(view: View, finding: Finding) -> Fix:
    """A cavity moves; one that opens gets a square end where its walls are still thick."""
    found = next(((b, t) for b, t in view.blanks if b.name == finding.piece), None)
    mine = [v for v in found[1] if v.step.name == finding.step and v.opens] if found else []
    if found is None or not mine:
        return aside(view, finding)
    return _square(view, found[0], found[1], mine[0])


def _square(view: View, blank: Blank, taken: tuple[Void, ...], void: Void) -> Fix:
    """One more cavity, cut through, that takes the outline off square where the walls get thinner than 10 mm.

    None where the outline has other parts beyond that line, such as a second horn.
    """
    spec: Any = void.step.spec
    stack = view.steps[blank.step]
    field = next((n for n in ("cut_blank", "by_hand", "cut") if void.step.name in getattr(stack.spec, n, ())), "")
    if getattr(spec, "open", None) is None or not field or view.derived.recipe.mirrored:
        return ()
    u = np.array(UNIT[spec.open])
    wood = wood_for(blank, taken, void)
    begins = open_wall(void, wood.boundary).begins
    if not begins:
        return ()
    s = math.floor(min(float(np.dot(p, u)) for p in begins) * 100 + 1e-6) / 100
    kept = shapely.get_coordinates(void.cut.design.polygon) @ u
    if s < (kept.min() + kept.max()) / 2:
        return ()  # too little of the cavity would stay
    xy = shapely.get_coordinates(wood)
    far = float((xy @ u).max())
    side = np.array([-u[1], u[0]])
    wide = float(np.abs(xy @ side).max()) + BEYOND_MM
    corners = [u * a + side * b for a, b in ((s, -wide), (far + 1, -wide), (far + 1, wide), (s, wide))]
    beyond = [p for p in shapely.get_parts(shapely.intersection(wood, shapely.Polygon(corners))) if p.area > 0.01]
    if len(beyond) != 1 or not shapely.intersects(beyond[0], void.whole):
        return ()
    across = shapely.get_coordinates(beyond[0]) @ side
    low, high = math.floor(across.min() - BEYOND_MM), math.ceil(across.max() + BEYOND_MM)
    end = math.ceil(far + BEYOND_MM)
    centre = u * (s + end) / 2 + side * (low + high) / 2
    size = (round(end - s, 4), high - low) if abs(u[0]) > 0.5 else (high - low, round(end - s, 4))
    name = f"{void.step.name}_end"
    made = (
        f"{{kind: cavity, opening: {{rectangle: [{size[0]:g}, {size[1]:g}]}}, "
        f"centre: [{centre[0] + 0.0:.6g}, {centre[1] + 0.0:.6g}], through: true, after: [{void.step.name}]}}"
    )
    names = list(getattr(stack.spec, field))
    names.insert(names.index(void.step.name) + 1, name)
    fix: list[tuple[str, float | str]] = [
        (f"steps.{name}", made),
        (f"steps.{stack.name}.{field}", f"[{', '.join(names)}]"),
    ]
    edge = getattr(stack.spec, "edge", None)
    for face, i, t in edge.all() if edge is not None else ():
        if t.by_bit:  # the square end stays square: the bearing finds no wall that runs on
            fix.append((f"steps.{stack.name}.edge.{face}.{i}.skip", f"[{', '.join((*t.skip, name))}]"))
    return tuple(fix)
