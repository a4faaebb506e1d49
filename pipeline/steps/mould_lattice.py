"""Rows of slots through a board, whose links twist where it is bent: limits of trade.md 6.8 (common practice)."""

from __future__ import annotations

import math
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.common import few_enough, mm
from pipeline.steps.mould import Lattice, Spec
from pipeline.steps.mould_bends import Bend, told

LINK_SHARE = 0.5
"""Least width of a link in thicknesses."""
OVERLAP = 0.4
"""Least share of a slot that lies beside each slot of the next row."""
SLOTS_MM = (20.0, 30.0)
TIGHT = (8.0, 10.0)
"""Least radius in thicknesses of birch plywood."""


def latticed(
    step: Step, spec: Spec, lattice: Lattice, found: list[Bend], t: float, wide: float
) -> tuple[list[Finding], list[dict[str, Any]], Region, str]:
    """What is said of the slots, a row of numbers for each bend, the slots themselves, and a sentence."""
    findings = _lattice_findings(step, lattice, found, t)
    rows: list[dict[str, Any]] = []
    slots: list[Contour] = []
    across = lattice.slot + lattice.bridge
    for bend in found:
        count = max(1, math.floor(bend.length_mm / (lattice.link + lattice.opening) + 1e-9))
        few_enough(step, "lattice.link", count, "rows of slots in one bend")
        few_enough(step, "lattice.slot", wide / across, "slots in one row")
        for i, s in enumerate(bend.places(count)):
            x = spec.ends_mm + s
            first = wide / 2 - (0.0 if i % 2 == 0 else across / 2)
            k = -math.ceil(wide / across) - 1
            while first + k * across - lattice.slot / 2 < wide:
                lo, hi = first + k * across - lattice.slot / 2, first + k * across + lattice.slot / 2
                k += 1
                lo, hi = (-1.0 if lo < lattice.bridge else lo), (wide + 1.0 if hi > wide - lattice.bridge else hi)
                if hi <= max(lattice.bridge, 0.0) or lo >= wide - lattice.bridge:
                    continue
                slots.append(rectangle(lattice.opening, hi - lo, x=x, y=(lo + hi) / 2))
        rows.append(
            {
                "turn_deg": math.degrees(bend.angle),
                "outer_radius_mm": bend.outer_mm,
                "rows": count,
                "link_mm": bend.length_mm / count - lattice.opening,
            }
        )
    said = f"{sum(r['rows'] for r in rows)} rows of slots. Cut a sample of 100 mm from the same sheet first."
    return findings, rows, solid(*slots), said


def _lattice_findings(step: Step, lattice: Lattice, found: list[Bend], t: float) -> list[Finding]:
    tried: list[tuple[bool, str, float, float, str]] = []
    tried.append(
        (
            lattice.link < LINK_SHARE * t - 1e-9,
            f"The links of {step.name} are {mm(lattice.link)} mm wide in a board of {mm(t)} mm.",
            lattice.link,
            LINK_SHARE * t,
            f"make them at least {mm(LINK_SHARE * t)} mm wide",
        )
    )
    lo, hi = SLOTS_MM
    off = lattice.slot < lo or lattice.slot > hi
    tried.append(
        (
            off,
            f"The slots of {step.name} are {mm(lattice.slot)} mm long; {mm(lo)} to {mm(hi)} mm are usual.",
            lattice.slot,
            lo if lattice.slot < lo else hi,
            f"make them {mm(lo if lattice.slot < lo else hi)} mm long",
        )
    )
    share = max(lattice.slot - lattice.bridge, 0.0) / (2 * lattice.slot)
    tried.append(
        (
            share < OVERLAP - 1e-9,
            f"Slots of neighbouring rows of {step.name} lie beside each other for {100 * share:.0f} % of their "
            "length.",
            100 * share,
            100 * OVERLAP,
            f"leave at most {mm((1 - 2 * OVERLAP) * lattice.slot)} mm between two slots of a row",
        )
    )
    findings = [
        told(
            step,
            "lattice",
            "ask",
            said,
            None,
            measured,
            limit,
            "%" if limit > 30 and "%" in said else "mm",
            do,
            "lattice",
        )
        for wrong, said, measured, limit, do in tried
        if wrong
    ]
    for bend in found:
        radius = bend.outer_mm - t / 2
        if radius < TIGHT[1] * t - 1e-9:
            findings.append(
                told(
                    step,
                    "lattice-radius",
                    "ask" if radius < TIGHT[0] * t else "note",
                    f"The lattice of {step.name} bends to {mm(radius)} mm, {radius / t:.1f} thicknesses.",
                    bend.at_mm,
                    radius,
                    TIGHT[0 if radius < TIGHT[0] * t else 1] * t,
                    "mm",
                    f"draw a radius of {mm(TIGHT[1] * t)} mm, or take a sheet of {mm(radius / TIGHT[1])} mm",
                    "curve",
                )
            )
    return findings
