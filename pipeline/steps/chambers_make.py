"""Makes chambers: a rule that names no stack. What it comes to is solved by the stack that cuts it."""

from __future__ import annotations

from typing import Any

from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.chambers import Spec, problems
from pipeline.steps.common import refuse_all
from pipeline.steps.measures import no_region, point_of, shape_of
from pipeline.steps.values import Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The rule as it stands; raises Refused for what can't be one."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    shape_of(world, step, "in", spec.in_)
    numbers: dict[str, Any] = {
        "in": spec.in_,
        "laminations": list(spec.laminations),
        "wall_mm": spec.wall,
        "web_mm": spec.web,
        "target_g": spec.target,
        "cell_mm": spec.cell,
        "skin_mm": spec.skin,
        "keep_offs": len(solids_of(step, spec, world)),
    }
    return Result(step=name, kind="chambers", numbers=numbers)


def solids_of(step: Step, spec: Spec, world: World) -> list[Region]:
    """All that stays solid by the recipe's word: `keep_off`, and the keep-outs of bought parts.

    A part's keep-out is its length and width (a point where it has no size) grown by `keep_out`, at its place,
    in every lamination: how deep its screws go no recipe says.
    """
    found: list[Region] = []
    for i, off in enumerate(spec.keep_off):
        if off.at is not None:
            found.append(disc(*point_of(world, step, f"keep_off.{i}.at", off.at), off.radius))
            continue
        assert off.of is not None  # `problems` has seen to it
        result = world.result(off.of)
        shapes = [*result.regions, *(c.region for c in result.cuts)]
        shapes = shapes or ([result.region] if result.region else [])
        if not shapes:
            refuse_all([no_region(step, f"keep_off.{i}.of", off.of)])
        found += [offset(s, off.radius) for s in shapes]
    for part in world.recipe.hardware.values():
        if part.keep_out <= 0 or part.at is None:
            continue
        x, y = part.at[:2]
        if len(part.size) < 2:
            found.append(disc(x, y, part.keep_out))
            continue
        box = rectangle(part.size[0], part.size[1], x=x, y=y)
        found.append(offset(solid(box), part.keep_out))
    return found
