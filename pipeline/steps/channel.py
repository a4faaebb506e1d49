"""The `channel` kind: a routed way for wires (its fields; `channel_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, FaceName, MarkName, Point, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """From where to where, how wide, in which lamination."""

    from_: StepName = field("the cavity it starts in")
    to: StepName = field("the cavity it ends in")
    width: Size = field("its width: the cutter's diameter or more")
    via: tuple[Point | MarkName, ...] = field("points or marks that it passes on the way", ())
    lamination: Count | None = field("the lamination it is cut in, 1 at the back", None)
    face: FaceName = field("the face it is cut from", "front")
    depth: Size | None = field("how deep; the full thickness of its lamination when absent", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a channel together."""
    spec: Spec = step.spec
    if spec.from_ == spec.to:
        yield Problem(
            wrong=f"{step.name} starts and ends in the same cavity.",
            place=place_in(step, "to"),
            expected="two different cavities",
        )
    if spec.lamination is None and spec.depth is None:
        yield Problem(
            wrong=f"{step.name} says neither in which lamination it is cut nor how deep.",
            place=step.place(),
            expected="`lamination:`, `depth:`, or both",
        )
    for path, name in (("from", spec.from_), ("to", spec.to)):
        target = recipe.steps.get(name)
        if target is not None and target.kind not in ("cavity", "holes"):
            yield Problem(
                wrong=f"{step.name} can't run to {name}: that is a step of kind {target.kind}.",
                place=place_in(step, path),
                expected="the name of a cavity or of a hole",
            )
