"""The `cover` kind: the plate over a cavity (its fields; `cover_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, Gap, MarkName, Point, SheetName, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Screws:
    """The screws of a cover."""

    count: Count = field("how many")
    diameter: Size = field("diameter of the holes in the cover")
    pads: Gap = field("diameter of the wood left under each screw; 0 leaves the ledge alone", 0.0)
    at: tuple[Point | MarkName, ...] = field("where they stand; spread evenly when absent", ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Which cavity it closes, and from what."""

    of: StepName = field("the cavity with a ledge that it closes")
    sheet: SheetName = field("the sheet it is cut from")
    gap: Gap = field("gap a side between the cover and its recess")
    screws: Screws | None = field("screws, when it has some", None)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a cover together."""
    spec: Spec = step.spec
    target = recipe.steps.get(spec.of)
    if target is not None and (target.kind != "cavity" or target.spec.ledge is None):
        yield Problem(
            wrong=f"{spec.of} has no ledge that a cover could lie on.",
            place=place_in(step, "of"),
            expected="a cavity with `ledge: {width: …, depth: …}`",
        )
    screws = spec.screws
    if screws is None:
        return
    if screws.at and len(screws.at) != screws.count:
        yield Problem(
            wrong=f"{step.name} counts {screws.count} screws and places {len(screws.at)}.",
            place=place_in(step, "screws.at"),
            expected="as many places as screws",
        )
    if screws.pads and screws.pads <= screws.diameter:
        yield Problem(
            wrong=f"Pads of {screws.pads:g} are no larger than the screws of {screws.diameter:g}.",
            place=place_in(step, "screws.pads"),
            expected="pads wider than the screws, about 9 for small wood screws",
        )
