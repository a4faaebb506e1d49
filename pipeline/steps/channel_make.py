"""Makes a channel: what a cutter sweeps on its way from one cavity to another, from wall to wall."""

from __future__ import annotations

import itertools
import math
from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference, union
from pipeline.geometry.region import EMPTY, Region, solid
from pipeline.geometry.shapes import capsule
from pipeline.steps.channel import Spec, problems
from pipeline.steps.channel_drilled import bored
from pipeline.steps.common import mm, place_in, refuse_all
from pipeline.steps.holes_make import BACK, BORE
from pipeline.steps.measures import inside_point, numbers_of, point_of
from pipeline.steps.values import Cut, Depth, Result, World

TOUCH_MM = 0.002
"""Parts of the strip that come this near to a wall start at it."""


def make(name: str, spec: Spec, world: World) -> Result:
    """One plan rule; the bends are as round as the cutter's sweep makes them."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    first, last = _end(step, "from", spec.from_, world), _end(step, "to", spec.to, world)
    if spec.drilled is not None:
        return bored(step, spec, spec.drilled, first, last, world)
    assert spec.width is not None  # `problems` has seen to it
    via = [point_of(world, step, f"via.{i}", p) for i, p in enumerate(spec.via)]
    line = [inside_point(first.design), *via, inside_point(last.design)]
    strips = [solid(capsule(p, q, spec.width)) for p, q in itertools.pairwise(line)]
    strip = union(*strips) if len(strips) > 1 else strips[0]
    between = _connecting(difference(strip, first.region, last.region), first.region, last.region)
    depth = Depth(rule="sheet") if spec.depth is None else Depth(rule="depth", mm=spec.depth)
    length = sum(math.dist(p, q) for p, q in itertools.pairwise(line))
    numbers: dict[str, Any] = {
        "width_mm": spec.width,
        "axis_mm": [[x, y] for x, y in line],
        "face": spec.face,
        "lamination": spec.lamination,
        "rule": depth.rule,
        "mm": depth.mm,
    }
    if not between:
        return Result(step=name, kind="channel", numbers=numbers, findings=(_nothing(step, spec, line, length),))
    cut = Cut(
        step=name,
        name=name,
        region=between,
        design=between,
        face=spec.face,
        depth=depth,
        lamination=spec.lamination,
    )
    return Result(
        step=name,
        kind="channel",
        region=between,
        cuts=(cut,),
        numbers={**numbers, **numbers_of(between)},
    )


def _end(step: Step, path: str, other: str, world: World) -> Cut:
    """The plan rule of the cavity or hole at one end."""
    cuts = [c for c in world.result(other).cuts if not c.name.endswith((BORE, BACK))]
    if not cuts or (world.recipe.steps[other].kind == "holes" and len(cuts) > 1):
        raise refuse(
            f"{step.name} can't tell which hole of {other} it runs to.",
            place=place_in(step, path),
            expected="a step with a single hole, or a cavity",
        )
    return cuts[0]


def _connecting(strip: Region, first: Region, last: Region) -> Region:
    """The parts of a trimmed strip that run from one wall to the other."""
    kept = [
        part
        for part in strip.parts
        if part.polygon.distance(first.polygon) <= TOUCH_MM and part.polygon.distance(last.polygon) <= TOUCH_MM
    ]
    return Region(tuple(kept)) if kept else EMPTY


def _nothing(step: Step, spec: Spec, line: list[tuple[float, float]], length: float) -> Finding:
    (x0, y0), (x1, y1) = line[0], line[-1]
    return Finding(
        check="channel-nothing",
        severity="stop",
        message=(
            f"{step.name} has no wood to run through between {spec.from_} and {spec.to}; "
            f"they meet, or the way of {mm(length)} mm doesn't lead from wall to wall."
        ),
        step=step.name,
        at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
        face=spec.face,
        measured=0.0,
        limit=spec.width,
        remedy="take the channel out where the cavities meet, or lead it by `via:` points",
        place=place_in(step, "to"),
    )
