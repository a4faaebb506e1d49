"""Holes that a laser burns shut, or makes as a ragged cone (trade.md 8, fault 27; 7.4).

Least diameter max(1, t/2) (common practice, no source; some services ask a whole t).
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.sheets import hole_at
from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "hole-small"


def least_mm(thickness_mm: float) -> float:
    return max(1.0, thickness_mm / 2)


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each step with round holes that are too small in a sheet that a laser cuts, at the smallest."""
    for sheet in view.sheets:
        if sheet.shop.process != "laser":
            continue
        limit = least_mm(sheet.piece.thickness_mm)
        worst: dict[str, tuple[float, tuple[float, float], str, int]] = {}
        for bite in sheet.bites:
            if bite.diameter_mm is None or bite.diameter_mm >= limit - 2e-3:
                continue
            step = bite.step
            if step not in view.steps or view.steps[step].kind != "holes":
                known = hole_at(view.derived, bite.centre)
                step = known[0] if known else step
            old = worst.get(step)
            n = 1 if old is None else old[3] + 1
            if old is None or bite.diameter_mm < old[0] - 1e-6:
                worst[step] = (bite.diameter_mm, bite.centre, bite.face, n)
            else:
                worst[step] = (*old[:3], n)
        for step, (width, at, face, n) in worst.items():
            yield Finding(
                check=NAME,
                severity="ask",
                message=(
                    f"{'A hole' if n == 1 else f'{n} holes'} of {step} in {sheet.piece.name} "
                    f"{'is' if n == 1 else 'are'} {width:.2f} mm wide in a sheet of "
                    f"{sheet.piece.thickness_mm:.2f} mm; a laser makes nothing clean under {limit:.2f} mm there."
                ),
                step=step,
                piece=sheet.piece.name,
                at_mm=at,
                face=face,
                measured=width,
                limit=limit,
                remedy=f"make it {limit:.2f} mm wide, have its place marked and drill it, or take a thinner sheet",
                place=view.place(step, "diameter", "opening", "fastener", "drawn"),
            )
