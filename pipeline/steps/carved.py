"""The `carved` kind: a height profile becomes laminations in steps, with lines to carve to (its fields)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from pipeline.core.errors import Problem
from pipeline.core.fields import DrawnName, Gap, Point, SheetName, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import exactly_one, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball:
    """A ball-ended cutter that finishes the surface by machine."""

    diameter: Size = field("diameter of the ball")
    step: Size = field("distance between its passes, seen from above")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """An outline that stands back with the height, and the sheets it is built up from."""

    outline: StepName = field("the outline at the foot of the profile")
    profile: tuple[Point, ...] = field(
        "points [inset, height]: how far in from the outline at which height; a negative inset swells out", ()
    )
    drawn: DrawnName | None = field(
        "an open line of the drawing as the profile: inward and up from its lower end", None
    )
    smooth: bool = field("a smooth curve through the points of `profile`, that never overshoots", False)
    laminations: tuple[SheetName, ...] = field("the sheets from the bottom: `birch12 A`")
    glue: Gap = field("thickness of one glue line", 0.0)
    allowance: Gap = field("what the laminations are cut larger by, all round", 0.0)
    cut: tuple[StepName, ...] = field("cut in the laminations before glue-up: cavities, holes, index holes", ())
    score: bool = field("score the carve lines on the upper faces (a router engraves them 0.3 deep)", False)
    ball: Ball | None = field("a ball-ended cutter for the surface, to tell what it leaves", None)

    LINES: ClassVar[tuple[str, ...]] = ("drawn",)
    """Fields whose objects of the drawing may be open lines."""


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a carved shape together."""
    spec: Spec = step.spec
    yield from exactly_one(step, ("profile", "drawn"), "the profile")
    if not spec.laminations:
        yield Problem(
            wrong=f"{step.name} has no laminations.",
            place=place_in(step, "laminations"),
            expected="one or several sheets from the bottom",
        )
    if not spec.profile:
        return
    if len(spec.profile) < 2:
        yield Problem(
            wrong=f"The profile of {step.name} has only one point.",
            place=place_in(step, "profile"),
            expected="two points or more, such as [[0, 0], [6, 8], [18, 14]]",
        )
    elif spec.profile[0][1] != 0.0:
        yield Problem(
            wrong=f"The profile of {step.name} begins at the height {spec.profile[0][1]:g}.",
            place=place_in(step, "profile.0"),
            expected="a first point of height 0, at the foot: [0, 0]",
        )
    for i, (low, high) in enumerate(zip(spec.profile, spec.profile[1:], strict=False), start=1):
        if high[1] <= low[1]:
            yield Problem(
                wrong=f"The profile of {step.name} doesn't rise from {low[1]:g} to {high[1]:g}.",
                place=place_in(step, f"profile.{i}"),
                expected="points [inset, height], each higher than the one before",
                remedy="make a level stretch rise by a tenth",
            )
