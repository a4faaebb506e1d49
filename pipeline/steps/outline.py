"""The `outline` kind: a closed shape from the drawing (its fields; `outline_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, DrawnName, FaceName, Gap, SheetName, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import given, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What to take from the drawing, and how to make a panel of it."""

    drawn: tuple[DrawnName, ...] = field(
        "objects of the drawing, by id or label, one or several, or `all`", ("all",)
    )
    smooth: Gap = field("how far the line may move to become smooth; 0 leaves it as drawn", 0.0)
    sheet: SheetName | None = field("the sheet it is cut from as a panel", None)
    cut: tuple[StepName, ...] = field("what is cut in the panel: cavities, holes, channels, outlines", ())
    reference: tuple[StepName, ...] = field("what is drawn on the panel and never cut", ())
    face: FaceName = field("the face of the panel that lies up when it is cut", "front")
    count: Count = field("how many of the panel one object needs", 1)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """Fields of a panel make no sense without a sheet."""
    yield from panel_problems(step)


def panel_problems(step: Step) -> Iterator[Problem]:
    """Shared with `offset`: cut, reference and count belong to a piece."""
    if step.spec.sheet:
        return
    for name in given(step.spec, ("cut", "reference")):
        yield Problem(
            wrong=f"{step.name} gives `{name}` but no sheet, so there is no piece to do that on.",
            place=place_in(step, name),
            expected="`sheet:` with the sheet that the panel is cut from",
            remedy=f"Add `sheet:`, or take `{name}:` out.",
        )
