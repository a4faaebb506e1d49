"""Balance of a stack about its mid-plane: what isn't symmetric pulls the blank into a cup (trade.md 6.6)."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.findings import Finding
from pipeline.core.recipe import Sheet, Step
from pipeline.steps.common import Stock, mm, place_in

SAME_MM = 0.5
"""How much a lamination may differ from its partner (common practice, no source)."""
SAME_DENSITY = 0.05
"""Sheets whose stuff isn't named count as the same when their densities differ by no more than this share."""


def same_stuff(a: Sheet, b: Sheet) -> bool:
    """True when two stocks are the same wood as far as the recipe tells: by `material`, else by density.

    What isn't told is taken to be the same.
    """
    if a.material and b.material:
        return a.material == b.material
    if a.density is None or b.density is None:
        return True
    return abs(a.density - b.density) <= SAME_DENSITY * max(a.density, b.density)


def balance_findings(step: Step, stock: Sequence[Stock]) -> list[Finding]:
    """A `note` at the pair k, N + 1 − k that differs most: in stuff, in grain, or by more than 0.5 mm."""
    n = len(stock)
    worst: tuple[float, int, str] | None = None
    for k in range(n // 2):
        a, b = stock[k], stock[n - 1 - k]
        off = abs(a.thickness_mm - b.thickness_mm)
        why = _difference(a, b, off)
        # The further from mid-plane, the longer its lever: outer pairs come first, and equals keep the outer one.
        if why and (worst is None or off > worst[0] + 1e-9):
            worst = (off, k, why)
    if worst is None:
        return []
    off, k, why = worst
    return [
        Finding(
            check="stack-balance",
            severity="note",
            message=(
                f"Lamination {k + 1} of {step.name} {why} lamination {n - k}, its partner on the other side "
                f"of the middle; expect the blank to cup, about 1 mm over 300."
            ),
            step=step.name,
            measured=off,
            limit=SAME_MM,
            remedy=_remedy(stock[k], stock[n - 1 - k], off),
            place=place_in(step, "laminations"),
        )
    ]


def _remedy(back: Stock, front: Stock, off: float) -> str:
    if off <= SAME_MM + 1e-9:
        return "lay the same sheet with the same grain on both sides, or keep the blank flat until it is used"
    thin, side = (front, "back") if front.thickness_mm < back.thickness_mm else (back, "front")
    return (
        f"lay a sheet of {mm(thin.thickness_mm)} mm on the {side} as well, or keep the blank flat until it is used"
    )


def _difference(a: Stock, b: Stock, off: float) -> str:
    if off > SAME_MM + 1e-9:
        return f"is {mm(off)} mm {'thicker' if a.thickness_mm > b.thickness_mm else 'thinner'} than"
    if a.stock != b.stock and not same_stuff(a.sheet, b.sheet):
        return "is other wood than"
    if a.sheet.grain != b.sheet.grain:
        return "has another grain than"
    return ""
