"""The `offset` kind: lines at a distance from a shape (its fields; `offset_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, FaceName, Length, SheetName, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.outline import panel_problems


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """How far from which shape, and how to make panels of the results."""

    of: StepName = field("the shape that it keeps its distance from")
    by: Length | tuple[Length, ...] = field("mm outward, or inward when negative; one or several")
    join: Literal["round", "mitre"] = field("what becomes of corners that open", "round")
    sheet: SheetName | None = field("the sheet the results are cut from as panels", None)
    cut: tuple[StepName, ...] = field("what is cut in each panel", ())
    reference: tuple[StepName, ...] = field("what is drawn on each panel and never cut", ())
    face: FaceName = field("the face of the panels that lies up when they are cut", "front")
    count: Count = field("how many of each panel one object needs", 1)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """Fields of a panel make no sense without a sheet; an empty list gives nothing."""
    yield from panel_problems(step)
    if step.spec.by == ():
        yield Problem(
            wrong=f"{step.name} has an empty list of distances.",
            place=step.place("by"),
            expected="one or several numbers in mm, such as [-6, -12]",
        )
