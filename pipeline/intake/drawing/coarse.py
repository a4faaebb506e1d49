"""Coordinates that were rounded too coarsely when the drawing was saved (outside_checks.md N27).

Programs write two or three decimals of a user unit. Where a unit is large, as in a page of 100 mm with
viewBox="0 0 1 1", that is a millimetre. Coordinates that somebody typed on a grid are no rounded ones: of rounded
numbers the last decimal is any digit equally often, of typed ones it is mostly 0 or 5.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice

from pipeline.intake.drawing.document import Shape
from pipeline.intake.drawing.told import Told

COARSE_MM = 0.01
"""A larger step is told."""
ASKED_MM = 0.1
"""A larger one is asked about."""
LOOKED_AT = 400
"""So many numbers tell how all are written."""
FEWEST = 8
FEWEST_WHOLE = 24
"""So many numbers must there be, with decimals and without: whole numbers are often typed."""
OTHER_DIGITS = 0.5
"""Share of numbers whose last decimal is neither 0 nor 5; of rounded ones it is 0.8."""

_NUMBER = re.compile(r"[+-]?(\d*)\.?(\d*)(?:[eE]([+-]?\d{1,4}))?")
_NUMBERS = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


def step_of(data: str) -> float:
    """The step to which the numbers of path data or points are rounded, in user units; 0 when they aren't."""
    words = [m[0] for m in islice(_NUMBERS.finditer(data), LOOKED_AT)]
    numbers = [n for n in map(_digits, words) if n not in (("", 0), ("0", 0), ("1", 0))]  # flags, zeros
    if not numbers:
        return 0.0
    places = max(decimals for _, decimals in numbers)
    if len(numbers) < (FEWEST if places > 0 else FEWEST_WHOLE):
        return 0.0
    last = [digits[-1:] if decimals == places else "0" for digits, decimals in numbers]
    if sum(d not in ("", "0", "5") for d in last) < OTHER_DIGITS * len(last):
        return 0.0
    return float(f"1e{-places}")


def _digits(word: str) -> tuple[str, int]:
    """The digits of a number and how many of them are decimals (negative for 1e3)."""
    found = _NUMBER.fullmatch(word)
    assert found is not None
    return (found[1] + found[2]).lstrip("0"), len(found[2]) - int(found[3] or 0)


def tell_coarse(told: Told, shapes: Sequence[Shape], scale: float) -> None:
    """Tell the coarsest step of shapes; ``scale`` takes their page mm to design mm."""
    coarsest = max(shapes, key=lambda s: s.step_mm)
    step = coarsest.step_mm * scale
    if step <= COARSE_MM * (1 + 1e-9):
        return
    told.finding(
        "drawing-coarse",
        "ask" if step > ASKED_MM else "note",
        f"The coordinates of {told.name} were rounded to steps of {step:.3g} mm when the drawing was saved, so "
        f"its line may lie {step / 2:.2g} mm beside what was meant.",
        measured=step,
        limit=COARSE_MM,
        remedy="save the drawing with more decimals, or with a page that has more units",
        place=coarsest.place,
    )
