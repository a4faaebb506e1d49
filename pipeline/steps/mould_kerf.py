"""Saw cuts across the inside of a board, which close when it is bent.

A cut of width k over a web w closes by k/(t − w) radians, so a bend of θ takes N = ⌈θ (t − w)/k⌉ cuts, spread over
its length in the middle of the web, θ (R_o − w/2) (trade.md 6.8, derived). Where the radius changes along a bend
the cuts stand at equal angles.
"""

from __future__ import annotations

import math
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.common import mm
from pipeline.steps.mould import Kerf, Spec
from pipeline.steps.mould_bends import Bend, told

WEB_SHARE = 0.15
"""Least web as a share of the board; in plywood also its outer veneer and a ply (trade.md 15, common practice)."""
THICK_SHARE = 0.25
"""A web thicker than this share rather breaks than bends (common practice, no source; 10 to 20 % is usual)."""
FACET = 8.0
"""Facets don't show where cuts stand at most R_o / 8 apart (trade.md 6.8)."""
WALL_MM = 2.0
"""Least wood between two cuts (common practice, no source)."""


def closing(angle: float, board_mm: float, kerf: Kerf) -> int:
    """How many cuts close over a bend (radians): ⌈θ (t − w)/k⌉."""
    return math.ceil(angle * (board_mm - kerf.web) / kerf.blade - 1e-9)


def smooth(length_mm: float, outer_mm: float) -> int:
    """How many cuts stand at most R_o / 8 apart over a bend of this length."""
    return math.ceil(length_mm / (outer_mm / FACET) - 1e-9)


def sawn(
    step: Step, spec: Spec, kerf: Kerf, found: list[Bend], t: float
) -> tuple[list[Finding], list[dict[str, Any]], list[float], str]:
    """What is said of the cuts, a row of numbers for each bend, their places along the board, and a sentence."""
    findings = _web_findings(step, kerf, t)
    rows, xs, said = [], [], []
    for bend in found:
        close = closing(bend.angle, t, kerf)
        fine = smooth(bend.length_mm, bend.outer_mm)
        count = kerf.cuts if kerf.cuts is not None else max(close, fine) if kerf.looks else close
        at_mm = [spec.ends_mm + s for s in bend.places(count)]
        spacing = bend.length_mm / count
        shut = bend.angle * (t - kerf.web) / count
        findings += _facets(step, kerf, bend, count, spacing, t)
        if count < close:
            findings.append(
                told(
                    step,
                    "kerf-closed",
                    "ask",
                    f"{count} cuts of {mm(kerf.blade)} mm close before {step.name} is bent by "
                    f"{math.degrees(bend.angle):.1f} degrees.",
                    bend.at_mm,
                    float(count),
                    float(close),
                    "cuts",
                    f"saw {close} cuts, or with a blade of {mm(shut)} mm",
                    "kerf.cuts",
                )
            )
        if spacing - kerf.blade < WALL_MM:
            findings.append(
                told(
                    step,
                    "kerf-wall",
                    "ask",
                    f"Between two cuts of {step.name} {mm(spacing - kerf.blade)} mm of wood stand.",
                    bend.at_mm,
                    spacing - kerf.blade,
                    WALL_MM,
                    "mm",
                    f"take a thicker web, or a blade of at most {mm(max(spacing - WALL_MM, 0.1))} mm",
                    "kerf",
                )
            )
        rows.append(
            {
                "turn_deg": math.degrees(bend.angle),
                "outer_radius_mm": bend.outer_mm,
                "closing": close,
                "smooth": fine,
                "cuts": count,
                "spacing_mm": spacing,
                "closes_mm": min(shut, kerf.blade),
                "from_end_mm": at_mm,
            }
        )
        xs += at_mm
        words = f"{count} cuts {spacing:.1f} mm apart, {mm(t - kerf.web)} deep, "
        words += f"bend it {math.degrees(bend.angle):.1f} degrees"
        if kerf.blade - shut > 0.05:
            words += f" and stay {mm(kerf.blade - shut)} mm open each: fill them with glue and dust"
        said.append(words)
    return findings, rows, xs, ("; ".join(said) if said else "nothing of it bends") + "."


def _web_findings(step: Step, kerf: Kerf, t: float) -> list[Finding]:
    least = max(WEB_SHARE * t, kerf.veneer + kerf.ply)
    if kerf.web < least - 1e-9:
        what = "its outer veneer and one ply" if kerf.veneer + kerf.ply > WEB_SHARE * t else "15 % of it"
        return [
            told(
                step,
                "kerf-web",
                "ask",
                f"{mm(kerf.web)} mm stay under the cuts of {step.name}; a board of {mm(t)} mm wants {what}.",
                None,
                kerf.web,
                least,
                "mm",
                f"leave a web of {mm(math.ceil(least * 100 - 1e-6) / 100)} mm",
                "kerf.web",
            )
        ]
    if kerf.web > THICK_SHARE * t + 1e-9 and kerf.web > least + 1e-9:
        return [
            told(
                step,
                "kerf-web",
                "note",
                f"{mm(kerf.web)} mm under the cuts of {step.name} are {100 * kerf.web / t:.0f} % of the board and "
                "may break rather than bend.",
                None,
                kerf.web,
                THICK_SHARE * t,
                "mm",
                f"leave {mm(least)} to {mm(max(0.2 * t, least))} mm",
                "kerf.web",
            )
        ]
    return []


def _facets(step: Step, kerf: Kerf, bend: Bend, count: int, spacing: float, t: float) -> list[Finding]:
    limit = bend.outer_mm / FACET
    if spacing <= limit + 1e-9:
        return []
    fine = smooth(bend.length_mm, bend.outer_mm)
    blade = bend.angle * (t - kerf.web) / fine
    return [
        told(
            step,
            "kerf-facets",
            "ask",
            f"{count} cuts of {step.name} stand {mm(spacing)} mm apart on a radius of {mm(bend.outer_mm)} mm, so "
            "facets show.",
            bend.at_mm,
            spacing,
            limit,
            "mm",
            f"`looks: true` saws {fine} cuts; a blade of {mm(blade)} mm closes them all",
            "kerf",
        )
    ]
