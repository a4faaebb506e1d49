"""The `channel` kind: a routed or drilled way for wires (its fields; `channel_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Angle, Count, FaceName, MarkName, Point, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.cavity_skin import cut_by
from pipeline.steps.common import exactly_one, given, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """A slanting bore by a long bit, by hand with a guide."""

    diameter: Size = field("diameter of the bit")
    depth: Size = field("where its axis enters the wall: how far below the face of the cavity it starts in")
    entry: Point | MarkName | None = field(
        "where it enters the wall; on the way from the middle of one cavity to the other when absent", None
    )
    toward: Point | MarkName | None = field("where it leads; the middle of the other cavity when absent", None)
    slope: Angle | None = field("how steeply it goes down, in degrees; the least the rim allows when absent", None)
    bit: Size | None = field("length of the bit", None)
    clear_of: tuple[StepName, ...] = field("cavities, channels and holes that it must keep away from", ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """From where to where, how wide, in which lamination; or drilled."""

    from_: StepName = field("the cavity it starts in")
    to: StepName = field("the cavity it ends in")
    width: Size | None = field("its width: the cutter's diameter or more", None)
    drilled: Drilled | None = field("drilled from inside one cavity instead of routed", None)
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
    yield from exactly_one(step, ("width", "drilled"), "how it is made")
    if spec.drilled is not None:
        yield from _drilled_problems(step, recipe, spec.drilled)
    elif spec.lamination is None and spec.depth is None:
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


def _drilled_problems(step: Step, recipe: Recipe, drilled: Drilled) -> Iterator[Problem]:
    for name in given(step.spec, ("via", "lamination", "depth")):
        yield Problem(
            wrong=f"A drilled channel runs straight and slanting, so {step.name} has no `{name}`.",
            place=place_in(step, name),
            expected="`drilled:` with `depth:` inside it, where the axis enters the wall",
        )
    if drilled.slope is not None and not 0.0 <= drilled.slope < 60.0:
        yield Problem(
            wrong=f"A bit can't go down by {drilled.slope:g} degrees.",
            place=place_in(step, "drilled.slope"),
            expected="an angle from 0 to below 60",
        )
    start = recipe.steps.get(step.spec.from_)
    if start is not None and start.kind == "holes":
        yield Problem(
            wrong=f"{step.name} can't be drilled out of the hole {start.name}: a bit has no room to slant there.",
            place=place_in(step, "from"),
            expected="the name of a cavity",
        )


def also_reads(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """What cuts the cavity that a bore starts in: its sheets say how much wood is over and under it."""
    return cut_by(step.spec.from_, recipe) if step.spec.drilled is not None else ()
