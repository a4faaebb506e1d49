"""The `stack` kind: laminations glued into one blank (its fields; `stack_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pipeline.core.errors import Problem
from pipeline.core.fields import AtLeast, Gap, Minutes, SheetName, Size, StepName, Unit, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import place_in
from pipeline.steps.edge import Edge

Positive = Annotated[float, Unit("1"), AtLeast(0.0, above=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """How it is pressed."""

    pressure: Positive = field("pressure on the glue in MPa: 0.7 for light wood, up to 1.7 for dense", 0.7)
    clamp_force: Positive = field("what one clamp gives, in kN", 2.0)
    open_time: Minutes = field("minutes from the first glue spread until the clamps must be tight", 10.0)
    spread_time: Minutes | None = field("minutes to spread one joint; 2.5 for 0.06 m² when absent", None)
    glue: Positive = field("glue on one joint, in g for 1 m²", 180.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Laminations from the back, what is cut in them, and what is cut in the glued blank."""

    outline: StepName = field("the outline of the finished edge")
    laminations: tuple[SheetName, ...] = field("the sheets from the back, veneers too: `birch12 A`")
    glue: Gap = field("thickness of one glue line", 0.0)
    thickness: Size | None = field("the wanted thickness; the real one is told beside it and is used", None)
    allowance: Gap = field("what the laminations are cut larger by, all round", 0.0)
    opening_allowance: Gap = field(
        "what cavities in `cut` that `cut_blank` or `by_hand` names again are cut smaller by, to be trimmed then",
        0.0,
    )
    ears: StepName | None = field("the index holes that get waste tabs outside the outline", None)
    cut: tuple[StepName, ...] = field("cut in the laminations before glue-up", ())
    cut_blank: tuple[StepName, ...] = field(
        "cut by machine in the glued blank; name the outline to have its perimeter cut there", ()
    )
    by_hand: tuple[StepName, ...] = field("cut by hand with templates after that", ())
    edge: Edge | None = field("what is done to its edges after all that: rounded, bevelled, hollowed", None)
    press: Press = field("pressure, clamps and glue, for the order of work", Press())

    LINES: ClassVar[tuple[str, ...]] = ("edge",)
    """Fields whose objects of the drawing may be open lines."""


def trimmed_later(spec: Spec) -> tuple[str, ...]:
    """The steps that are cut in the laminations and again after glue-up."""
    return tuple(n for n in spec.cut if n in spec.cut_blank or n in spec.by_hand)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a stack together."""
    spec: Spec = step.spec
    if not spec.laminations:
        yield Problem(
            wrong=f"{step.name} has no laminations.",
            place=place_in(step, "laminations"),
            expected="the sheets from the back, such as [ply12 A, ply12 B]",
        )
    if spec.opening_allowance and not trimmed_later(spec):
        yield Problem(
            wrong=f"{step.name} leaves {spec.opening_allowance:g} mm in its openings, but none of them is trimmed "
            "later.",
            place=place_in(step, "opening_allowance"),
            expected="a cavity under `cut:` that `by_hand:` or `cut_blank:` names again",
            remedy="Name the cavities that a template or the machine trims after glue-up there too.",
        )
