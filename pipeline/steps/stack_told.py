"""What a stack tells beside its pieces: thickness, mixes, joints, press, balance, what keeps it in register."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Recipe, Step
from pipeline.geometry.region import Region
from pipeline.steps.common import Stock, mm, place_in
from pipeline.steps.heights import Floor, Span
from pipeline.steps.lamination import Cutting
from pipeline.steps.stack import Spec
from pipeline.steps.stack_balance import balance_findings, same_stuff
from pipeline.steps.stack_dowels import is_dowel, register_findings, register_numbers
from pipeline.steps.stack_glue import glue_findings, joints
from pipeline.steps.stack_mix import PLY_MM, Mix, bought, measured_error, mixes
from pipeline.steps.stack_press import press_findings, press_numbers, press_sentences
from pipeline.steps.values import Cut

WISH_MM = 0.3
"""A stack that misses its wanted thickness by more is asked about (trade.md 6.2)."""
GLUED_MM = 1.0
"""A glued blank that measures more off than this was measured or glued wrong (judged: ten glue lines' worth)."""
SHOWN = 6
"""Mixes that are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A stack as far as it is made: its sheets, heights, laminations, and the holes that keep it in register.

    ``total`` is the thickness that all depths follow, ``computed`` what sheets and glue lines add up to,
    ``grown`` the laminations' cut edge with ears.
    """

    stock: Sequence[Stock]
    levels: Sequence[Span]
    cuttings: Sequence[Cutting]
    outline: Region
    grown: Region
    floors: Sequence[Floor]
    pins: Sequence[Cut]
    total: float
    computed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    numbers: dict[str, Any]
    reports: tuple[str, ...]
    findings: tuple[Finding, ...]


def told(step: Step, spec: Spec, recipe: Recipe, made: Made) -> Told:
    """Numbers for packet.json, sentences for the report, and findings."""
    numbers, reports, findings = _thickness(step, spec, recipe, made)
    laminations = [(c.piece.region, c.back, c.front) for c in made.cuttings]
    found = joints(laminations, made.outline)
    areas = [j.region.area for j in found]
    numbers["glue_area_mm2"] = areas
    if found:
        rings = [j.ring_mm[0] for j in found if j.ring_mm]
        numbers["glue_share"] = [j.share for j in found]
        numbers["glue_border_mm"] = min(rings) if rings else None
        numbers["press"] = press_numbers(spec.press, made.grown.area, areas, len(made.levels))
        reports += press_sentences(step.name, numbers["press"])
        findings += glue_findings(step, found, made.outline)
        findings += press_findings(step, spec.press, numbers["press"])
        findings += balance_findings(step, made.stock)
    dowels = [f for f in made.floors if is_dowel(f.cut)]
    register = register_numbers(dowels, made.pins, made.levels, made.outline)
    if register:
        numbers["register"] = register
        bored = [f.cut for f in dowels]
        findings += register_findings(step, register, bored, made.pins, made.levels, made.outline)
    return Told(numbers=numbers, reports=tuple(reports), findings=tuple(findings))


# -- thickness -------------------------------------------------------------------------------------
def _thickness(
    step: Step, spec: Spec, recipe: Recipe, made: Made
) -> tuple[dict[str, Any], tuple[str, ...], list[Finding]]:
    """Tolerance, the wanted thickness with mixes for it, and a measured blank that can't be right."""
    numbers: dict[str, Any] = {"tolerance_mm": {"measured": measured_error(len(made.stock))}}
    nominals = [s.sheet.nominal or (s.thickness_mm if s.thickness_mm < PLY_MM else None) for s in made.stock]
    if None not in nominals:
        numbers["tolerance_mm"]["bought"] = list(bought([n for n in nominals if n is not None], spec.glue))
    findings: list[Finding] = []
    off = made.total - made.computed
    if abs(off) > GLUED_MM + 1e-9:
        findings.append(_measured(step, made.total, made.computed))
    wanted = spec.thickness
    if wanted is None:
        return numbers, (), findings
    numbers["wanted_thickness_mm"] = wanted
    if abs(made.total - wanted) <= WISH_MM + 1e-9:
        return numbers, (), findings
    offered = _offered(spec, recipe, made, wanted)
    rows = [
        {"laminations": list(m.sheets), "thickness_mm": m.thickness_mm, "off_mm": m.thickness_mm - wanted}
        for m in offered
    ]
    numbers["mixes"] = rows
    others = [m for m in offered if _helps(m.thickness_mm - wanted, made.total - wanted)]
    findings.append(_wish(step, made.total, wanted, others))
    lines = "; ".join(f"{' + '.join(m.sheets)} makes {m.thickness_mm:.2f}" for m in offered[:SHOWN])
    reports = (f"{step.name}: {mm(wanted)} is wanted. From the sheets of this recipe: {lines}.",) if lines else ()
    return numbers, reports, findings


def _offered(spec: Spec, recipe: Recipe, made: Made, wanted: float) -> tuple[Mix, ...]:
    """Mixes of the sheets of this recipe that are of the same stuff; veneers stay on the faces they lie on."""
    veneer = [s.thickness_mm < PLY_MM for s in made.stock]
    core = [s for s, thin in zip(made.stock, veneer, strict=True) if not thin]
    if not core:
        return ()
    first = veneer.index(False)
    names = list(spec.laminations)
    back = [n for n, thin in zip(names[:first], veneer[:first], strict=True) if thin]
    front = [n for n, thin in zip(names[first:], veneer[first:], strict=True) if thin]
    veneers = sum(s.thickness_mm + spec.glue for s, thin in zip(made.stock, veneer, strict=True) if thin)
    mine = {s.stock for s in core}
    available: dict[str, float] = {}
    for stock, sheet in recipe.sheets.items():
        if stock not in mine and not any(same_stuff(sheet, s.sheet) for s in core):
            continue
        for letter, t in sheet.measured.items():
            if t >= PLY_MM:
                available[stock if len(sheet.measured) == 1 else f"{stock} {letter}"] = t
    return tuple(
        Mix(sheets=(*back, *m.sheets, *front), thickness_mm=m.thickness_mm + veneers)
        for m in mixes(available, wanted - veneers, spec.glue)
    )


def _helps(off: float, now: float) -> bool:
    """True for a mix that comes nearer than what is laid, or lies on the other side of what is wanted."""
    return abs(off) < abs(now) - 1e-6 or off * now < 0


def _wish(step: Step, total: float, wanted: float, offered: Sequence[Mix]) -> Finding:
    under = [m for m in offered if m.thickness_mm <= wanted + 1e-9]
    over = [m for m in offered if m.thickness_mm > wanted + 1e-9]
    nearest = [max(under, key=lambda m: m.thickness_mm)] if under else []
    nearest += [min(over, key=lambda m: m.thickness_mm)] if over else []
    choices = [f"lay {' + '.join(m.sheets)} for {m.thickness_mm:.2f}" for m in nearest]
    return Finding(
        check="stack-thickness",
        severity="ask",
        message=(
            f"{step.name} is {total:.2f} mm thick and {mm(wanted)} is wanted; every depth that leaves a floor "
            f"follows the real {total:.2f}."
        ),
        step=step.name,
        measured=total,
        limit=wanted,
        remedy=f"{', or '.join(choices) or 'choose other sheets'}, or write `thickness: {total:.2f}`",
        place=place_in(step, "thickness"),
    )


def _measured(step: Step, total: float, computed: float) -> Finding:
    return Finding(
        check="blank-measured",
        severity="ask",
        message=(
            f"The glued blank {step.name} was measured at {total:.2f} mm; its sheets and glue lines add up to "
            f"{computed:.2f}."
        ),
        step=step.name,
        measured=abs(total - computed),
        limit=GLUED_MM,
        remedy=(
            "measure the blank again at eight places; if it is right, look for a lamination too many or too few, "
            f"or correct the glue line by {mm(abs(total - computed))} mm in all"
        ),
        place=place_in(step, "laminations"),
    )
