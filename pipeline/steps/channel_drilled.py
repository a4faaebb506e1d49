"""A channel drilled by hand with a long bit, from inside one cavity toward another (trade.md 3.5).

The shank lies over the opposite rim of the cavity it starts in: with the axis entering the wall e below the face
and a of cavity behind it, the slope is at least (e + d/2)/a. Over a run the axis goes down by run · slope. Its
distance from both faces and from every other void is at least d/2 + 3. A slanting bore stands on no layer: it is a
line of numbers for a drill guide, and its plan is drawn for reference.
"""

from __future__ import annotations

import math
from typing import Any

import shapely

from pipeline.core.errors import refuse
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule
from pipeline.steps.cavity_skin import thickness_mm
from pipeline.steps.channel import Drilled, Spec
from pipeline.steps.channel_clear import (
    CHUCK_MM,
    Bore,
    Lie,
    clear,
    cover,
    least_slope,
    length,
    meets,
    rim,
)
from pipeline.steps.common import mm, place_in
from pipeline.steps.measures import inside_point, point_of
from pipeline.steps.values import Cut, Result, World

FAR_MM = 1e4

Point = tuple[float, float]


def bored(step: Step, spec: Spec, drilled: Drilled, first: Cut, last: Cut, world: World) -> Result:
    """The bore's numbers, its plan (`regions`), and what is wrong with it. It makes no plan rule."""
    bore = _settled(step, spec, drilled, first, last, world)
    plan = solid(capsule(bore.entry, bore.exit, bore.diameter))
    thick = thickness_mm(spec.from_, world.recipe)
    numbers: dict[str, Any] = {
        "diameter_mm": bore.diameter,
        "face": first.face,
        "entry_at_mm": list(bore.entry),
        "exit_at_mm": list(bore.exit),
        "axis_mm": [list(bore.entry), list(bore.exit)],
        "entry_depth_mm": bore.depth,
        "exit_depth_mm": bore.exit_depth,
        "run_mm": bore.run,
        "length_mm": bore.length,
        "room_mm": bore.room,
        "slope_deg": bore.slope_deg,
        "least_slope_deg": math.degrees(math.atan(bore.least)),
        "needs_bit_mm": bore.length + CHUCK_MM,
        "who": "maker",
    }
    said = (
        f"{step.name}: drill by hand with a guide, {mm(bore.diameter)} wide, from {spec.from_} toward {spec.to}; "
        f"the axis enters the wall {mm(bore.depth)} below the {first.face} face, goes down by "
        f"{bore.slope_deg:.1f} degrees and comes out {mm(bore.exit_depth)} deep after "
        f"{mm(bore.length)}.",
    )
    lies = Lie(step=step, bore=bore, first=first, last=last, thick=thick)
    found = [*rim(lies), *cover(lies), *meets(lies), *length(lies, drilled.bit)]
    found += [f for other in drilled.clear_of for cut in world.result(other).cuts for f in clear(lies, cut)]
    return Result(
        step=step.name,
        kind="channel",
        regions=(plan,),
        numbers=numbers,
        reports=said,
        findings=tuple(found),
    )


def _settled(step: Step, spec: Spec, drilled: Drilled, first: Cut, last: Cut, world: World) -> Bore:
    start, goal = inside_point(first.design), inside_point(last.design)
    if drilled.toward is not None:
        goal = point_of(world, step, "drilled.toward", drilled.toward)
    if drilled.entry is not None:
        start = point_of(world, step, "drilled.entry", drilled.entry)
    n = math.dist(start, goal)
    if n < 1e-6:
        raise refuse(
            f"{step.name} starts where it leads, so it has no direction.",
            place=place_in(step, "drilled"),
            expected="`toward:` away from `entry:`",
        )
    u = ((goal[0] - start[0]) / n, (goal[1] - start[1]) / n)
    inside = _chord(first.region, start, u)
    if inside is None:
        raise refuse(
            f"{step.name} doesn't start in {spec.from_}.",
            place=place_in(step, "drilled.entry"),
            expected=f"`entry:` on the wall of {spec.from_} or inside it",
        )
    wall, room = inside[1], inside[1] - inside[0]
    ahead = shapely.LineString([_on(start, u, wall), _on(start, u, FAR_MM)]).intersection(last.region.polygon)
    if ahead.is_empty:
        raise refuse(
            f"{step.name} leads past {spec.to}.",
            place=place_in(step, "drilled"),
            expected=f"`toward:` a point of {spec.to}",
        )
    entry = _on(start, u, wall)
    run = float(shapely.Point(entry).distance(ahead))
    least = least_slope(drilled.depth, drilled.diameter, room)
    return Bore(
        entry=entry,
        exit=_on(entry, u, run),
        room=room,
        run=run,
        slope=least if drilled.slope is None else math.tan(math.radians(drilled.slope)),
        least=least,
        depth=drilled.depth,
        diameter=drilled.diameter,
    )


def _on(p: Point, u: Point, s: float) -> Point:
    return (p[0] + u[0] * s + 0.0, p[1] + u[1] * s + 0.0)


def _chord(shape: Region, p: Point, u: Point) -> tuple[float, float] | None:
    """(first, last) s of the stretch of the line p + s·u inside the shape that holds p, or touches it."""
    line = shapely.LineString([_on(p, u, -FAR_MM), _on(p, u, FAR_MM)])
    best: tuple[float, float] | None = None
    for piece in getattr(line.intersection(shape.polygon), "geoms", [line.intersection(shape.polygon)]):
        xy = shapely.get_coordinates(piece)
        if len(xy) < 2:
            continue
        s = (xy[:, 0] - p[0]) * u[0] + (xy[:, 1] - p[1]) * u[1]
        low, high = float(s.min()), float(s.max())
        if low - 0.01 <= 0.0 <= high + 0.01:
            best = (low, high)
    return best
