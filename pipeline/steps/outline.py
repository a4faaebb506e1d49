"""The `outline` kind: a closed shape from the drawing (its fields; `outline_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import Angle, Count, DrawnName, FaceName, Gap, SheetName, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.core.text import listed
from pipeline.steps.common import given, place_in

CORNER_DEG = 25.0
"""A turn of more than this within a millimetre is a corner that smoothing keeps (trade.md 1.6)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mirror:
    """About what a shape is made its own mirror image, and which half of it counts."""

    about: Literal["x", "y", "best"] = field(
        "the axis: that of x, that of y, or the one about which the shape as drawn is most nearly symmetric", "x"
    )
    keep: Literal["drawn", "+y", "-y", "+x", "-x", "mean"] = field(
        "`drawn`: only one half is drawn, as open lines that end on the axis; else the half that is kept "
        "of a whole shape, or `mean` for the line midway between both halves",
        "drawn",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What to take from the drawing, how to repair it, and how to make a panel of it."""

    drawn: tuple[DrawnName, ...] = field(
        "objects of the drawing, by id or label, one or several, or `all`", ("all",)
    )
    traced_off: Gap = field("how far outside the true edge the pencil stood that traced it", 0.0)
    mirror: Mirror | None = field("makes the shape its own mirror image", None)
    symmetric: bool = field("true to be told how far the shape is from being its own mirror image", False)
    smooth: Gap = field("how far the line may move to become smooth; 0 leaves it as drawn", 0.0)
    corner: Angle = field("smoothing keeps a corner that turns by more than this within 1 mm", CORNER_DEG)
    sheet: SheetName | None = field("the sheet it is cut from as a panel", None)
    cut: tuple[StepName, ...] = field("what is cut in the panel: cavities, holes, channels, outlines", ())
    reference: tuple[StepName, ...] = field("what is drawn on the panel and never cut", ())
    face: FaceName = field("the face of the panel that lies up when it is cut", "front")
    count: Count = field("how many of the panel one object needs", 1)

    @property
    def takes_half(self) -> bool:
        """Does `drawn` name half an outline, which may be open?"""
        return self.mirror is not None and self.mirror.keep == "drawn"


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """Fields of a panel make no sense without a sheet, nor halves that the axis doesn't part."""
    yield from panel_problems(step)
    mirror = step.spec.mirror
    if mirror is not None:
        wanted = {"x": ("drawn", "+y", "-y", "mean"), "y": ("drawn", "+x", "-x", "mean")}.get(
            mirror.about, ("+y", "-y", "+x", "-x", "mean")
        )
        if mirror.keep not in wanted:
            wrong = (
                f"{step.name} mirrors about the best axis, which can only be found where both halves are drawn."
                if mirror.keep == "drawn"
                else f"{step.name} mirrors about {mirror.about}, so there is no half {mirror.keep} to keep."
            )
            yield Problem(
                wrong=wrong,
                place=place_in(step, "mirror.keep"),
                expected=f"`keep:` with {listed(wanted)}",
            )
    if not 0 < step.spec.corner < 180:
        yield Problem(
            wrong=f"{step.name} gives {step.spec.corner:g} degrees for a corner.",
            place=place_in(step, "corner"),
            expected="an angle of more than 0 and less than 180 degrees",
        )


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
