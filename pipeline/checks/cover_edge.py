"""A cover's recess too near the outline, so that the cover would hang over it (trade.md 8, fault 36; 3.3)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.flat import nearest, outer, thin
from pipeline.checks.view import View
from pipeline.checks.wall_thin import is_recess
from pipeline.core.findings import Finding

NAME = "cover-edge"
FLAT_MM = 3.0
"""Flat wood beside a cover, on top of any rounding (trade.md 3.3)."""


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each recess nearer to the outline than FLAT_MM."""
    for blank, taken in view.blanks:
        edge = outer(thin(blank.region.polygon)).boundary
        for void in taken:
            if not is_recess(void, taken):
                continue
            wall, at = (0.0, nearest(void.shape, edge)[1]) if void.opens else nearest(void.shape, edge)
            if wall >= FLAT_MM - 1e-3:
                continue
            yield Finding(
                check=NAME,
                severity="ask",
                message=(
                    f"The recess of {void.step.name} runs out through the edge; the cover would hang over it."
                    if void.opens
                    else f"The recess of {void.step.name} keeps {wall:.2f} mm of flat wood to the outline."
                ),
                step=void.step.name,
                piece=blank.name,
                at_mm=at,
                face=void.face,
                measured=wall,
                limit=FLAT_MM,
                remedy=f"make the ledge {FLAT_MM - wall:.2f} mm narrower, or move the cavity so much inward",
                place=view.place(void.step.name, "ledge.width", "ledge"),
            )
