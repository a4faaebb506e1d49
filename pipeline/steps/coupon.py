"""The `coupon` kind: small test pieces cut before the real ones (its fields; `coupon_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Direction, Length, SheetName, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import direction_problems, given, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Slots:
    """A comb of slots into which another sheet is pushed."""

    thickness: Size | SheetName = field("the thickness that goes in, or the sheet that does")
    room: tuple[Length, ...] = field("room of each slot over that thickness", (-0.05, 0.0, 0.05, 0.1))
    depth: Size = field("how long the slots are", 15.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """A slice of a real cavity, to try the real part in."""

    of: StepName = field("the cavity")
    length: Size = field("how long the slice is", 20.0)
    room: tuple[Length, ...] = field(
        "what each sample is larger by a side than the cavity as designed", (-0.1, 0.0, 0.1)
    )
    end: Direction = field("the end of the cavity that is sampled", "-x")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What is tried, and in which sheet."""

    sheet: SheetName = field("the sheet they are cut from: the very one that the work is cut from")
    square: Size | None = field("side of a square hole that tells the width of the cut; 20 is usual", None)
    slots: Slots | None = field("a comb of slots", None)
    fit: Slice | None = field("slices of a cavity", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a coupon together."""
    spec: Spec = step.spec
    if not given(spec, ("square", "slots", "fit")):
        yield Problem(
            wrong=f"{step.name} doesn't say what shall be tried.",
            place=step.place(),
            expected="`square:`, `slots:` or `fit:`, one or several of them",
        )
    if spec.fit is not None:
        target = recipe.steps.get(spec.fit.of)
        if target is not None and target.kind != "cavity":
            yield Problem(
                wrong=f"{step.name} can't take a slice of {spec.fit.of}: that is a step of kind {target.kind}.",
                place=place_in(step, "fit.of"),
                expected="the name of a cavity",
            )
        yield from direction_problems(step, "fit.end", spec.fit.end, recipe)
    for path, rows in (("slots", spec.slots), ("fit", spec.fit)):
        if rows is not None and not rows.room:
            yield Problem(
                wrong=f"{step.name} lists no room to try.",
                place=place_in(step, f"{path}.room"),
                expected="one or several numbers, such as [-0.1, 0, 0.1]",
            )
