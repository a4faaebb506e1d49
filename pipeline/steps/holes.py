"""The `holes` kind: drilled holes (its fields; `holes_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, FaceName, MarkName, Point, Size, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import exactly_one, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Where, how wide, how deep."""

    at: tuple[Point | MarkName, ...] = field("points or marks, one for each hole")
    diameter: tuple[Size, ...] = field("one diameter for all holes, or one for each")
    role: Literal["plain", "index", "dowel", "screw"] = field(
        "what they are for; index holes tie the set-ups of a piece together", "plain"
    )
    face: FaceName = field("the face they are drilled from", "front")
    depth: Size | None = field("how deep: the depth governs", None)
    floor: Size | None = field("what remains: the floor governs", None)
    through: bool = field("drilled all the way through", False)
    lamination: Count | None = field("the one lamination that gets them, 1 at the back", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of holes together."""
    spec: Spec = step.spec
    yield from exactly_one(step, ("depth", "floor", "through"), "how deep they go")
    if not spec.at:
        yield Problem(
            wrong=f"{step.name} has no places.",
            place=place_in(step, "at"),
            expected="one or several points, such as [[-190, 0], [225, 0]]",
        )
    diameters = spec.diameter
    if len(diameters) not in (1, len(spec.at)):
        yield Problem(
            wrong=f"{step.name} has {len(spec.at)} places and {len(diameters)} diameters.",
            place=place_in(step, "diameter"),
            expected="one diameter for all holes, or one for each place",
        )
    if spec.role == "index" and not spec.through:
        yield Problem(
            wrong=f"The index holes {step.name} don't go through, so they can't tie two faces together.",
            place=place_in(step, "role"),
            expected="`through: true` for index holes",
        )
