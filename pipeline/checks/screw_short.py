"""Screws and inserts that hold in too little wood (trade.md 8, fault 40).

A thread engages at least 4 diameters in wood, an insert 2.5 (common practice, no source). Screws come in lengths
of 12, 16, 20, 25, 30, 35, 40, 45, 50, 60 (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.standard import table, uses_of

NAME = "screw-short"
WOOD, INSERT = 4.0, 2.5
LENGTHS_MM = (8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0)


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each step of holes whose `length:` is less than its fastener needs."""
    for step in view.derived.order:
        needs = needed_mm(step)
        if needs is None or step.spec.length >= needs - 1e-6:
            continue
        holes = view.derived.results[step.name].numbers["holes"]
        longer = next_length(needs)
        yield Finding(
            check=NAME,
            severity="ask",
            message=(
                f"{step.spec.fastener} holds in {step.spec.length:g} mm of wood in {step.name}; it needs "
                f"{needs:g} mm."
            ),
            step=step.name,
            at_mm=(holes[0]["at_mm"][0], holes[0]["at_mm"][1]),
            face=step.spec.face,
            measured=step.spec.length,
            limit=needs,
            remedy=f"take one that goes {longer:g} mm into the wood, or a thicker one",
            place=view.place(step.name, "length", "fastener"),
        )


def needed_mm(step: Step) -> float | None:
    """How deep the thread or insert of a step of holes must go into the wood; None where nothing says."""
    spec = step.spec
    if step.kind != "holes" or not getattr(spec, "fastener", "") or spec.length is None:
        return None
    use = spec.for_ or next(iter(uses_of(spec.fastener)), "")
    if use == "pilot" and spec.fastener in table("wood_screws"):
        return round(WOOD * float(table("wood_screws")[spec.fastener]["nominal"]), 6)
    if use == "insert" and spec.fastener in table("inserts"):
        return INSERT * float(spec.fastener.lstrip("Mm"))
    return None


def next_length(needed: float) -> float:
    """The shortest screw that is long enough."""
    return next((n for n in LENGTHS_MM if n >= needed - 1e-6), needed)
