"""Cavities that must fit a bought part nobody has measured yet (trade.md 8, fault 19)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "part-unmeasured"


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each step whose shape is made for a part of `hardware` that isn't `measured: true`."""
    hardware = view.derived.recipe.hardware
    for step in view.derived.order:
        part = getattr(getattr(step.spec, "part", None), "of", None) or ""
        result = view.derived.results.get(step.name)
        if part not in hardware or hardware[part].measured or result is None:
            continue
        fit = next((c.fit for c in result.cuts if c.fit), "")
        yield Finding(
            check=NAME,
            severity="ask",
            message=f"{step.name} is made to fit {part} ({fit or 'fit'}), and {part} has not been measured.",
            step=step.name,
            at_mm=result.cuts[0].design.centroid if result.cuts else None,
            face=result.cuts[0].face if result.cuts else "",
            remedy=(
                f"measure {part} and write `measured: true`, send it to the shop with the files, or have a 20 mm "
                "slice of the cavity cut as a trial first"
            ),
            place=view.place(step.name, "part.of", "part"),
        )
