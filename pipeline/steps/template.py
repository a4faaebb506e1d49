"""The `template` kind: a pattern for a hand router (its fields; `template_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import FaceName, SheetName, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Follow:
    """What runs along the template: a bearing on the cutter or a guide bush round it (one of them)."""

    cutter: Size = field("diameter of the cutter")
    bearing: Size | None = field("diameter of the bearing", None)
    bush: Size | None = field("outside diameter of the guide bush", None)

    @property
    def diameter(self) -> float:
        """Diameter of the follower; the cutter's own when none is named."""
        return self.bearing or self.bush or self.cutter

    @property
    def offset(self) -> float:
        """Distance from the template's edge to the cut edge, (B − D)/2 (outside_checks K2, K5)."""
        return (self.diameter - self.cutter) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What it serves and how it is followed."""

    of: StepName = field("the shape that shall come out")
    use: Literal["outside", "opening"] = field("follow it round the outside, or inside an opening")
    follow: Follow = field("the follower and its cutter")
    sheet: SheetName = field("the sheet it is cut from")
    recess: bool = field("serve the recess of a cavity with a ledge, not the cavity itself", False)
    margin: Size | None = field("what stays round an opening; the router's base needs it: 90 when absent", None)
    face: FaceName | None = field("the face that lies up; that of the shape it serves when absent", None)
    index: StepName | None = field("index holes; those that fall inside its own solid are carried", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a template together."""
    spec: Spec = step.spec
    follow = spec.follow
    if (follow.bearing is None) == (follow.bush is None):
        yield Problem(
            wrong=f"{step.name} must be followed by a bearing or by a bush.",
            place=place_in(step, "follow"),
            expected="exactly one of `bearing` and `bush`, beside `cutter`",
        )
    if follow.bush is not None and follow.bush <= follow.cutter:
        yield Problem(
            wrong=f"A cutter of {follow.cutter:g} doesn't pass through a bush of {follow.bush:g}.",
            place=place_in(step, "follow.bush"),
            expected="a bush wider than the cutter",
        )
    if spec.use == "outside" and spec.margin is not None:
        yield Problem(
            wrong=f"{step.name} is followed round its outside, so nothing stays round it.",
            place=place_in(step, "margin"),
            expected="`margin:` only with `use: opening`",
        )
    target = recipe.steps.get(spec.of)
    if target is not None:
        if spec.recess and not (target.kind == "cavity" and target.spec.ledge):
            yield Problem(
                wrong=f"{spec.of} has no ledge, so it has no recess.",
                place=place_in(step, "recess"),
                expected="a cavity with `ledge:`",
            )
        if target.kind not in ("outline", "offset", "cavity", "stack", "cover"):
            yield Problem(
                wrong=f"No template can be made of {spec.of}: that is a step of kind {target.kind}.",
                place=place_in(step, "of"),
                expected="an outline, an offset, a cavity, a stack or a cover",
            )
    index = recipe.steps.get(spec.index or "")
    if index is not None and not (index.kind == "holes" and index.spec.role == "index"):
        yield Problem(
            wrong=f"{spec.index} holds no index holes.",
            place=place_in(step, "index"),
            expected="a step of kind holes with `role: index`",
        )
