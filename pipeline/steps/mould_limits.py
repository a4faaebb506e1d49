"""What a bend may not be: too tight for its plies, too steep for the press."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Contour
from pipeline.geometry.parallel import bends
from pipeline.geometry.wobble import Walk
from pipeline.steps.bending import VENEER_ASK, VENEER_STOP, Wet, least_radius, table, thickest
from pipeline.steps.common import UNIT, mm, place_in
from pipeline.steps.mould import Spec
from pipeline.steps.mould_line import Bent, at

STEEP_DEG = 60.0
"""Wall to the press direction at which half the pressure is left (trade.md 6.7, derived: p·cos θ)."""
EPS = 1e-6


# -- tight ---------------------------------------------------------------------------------------
def tightest(line: Contour, thickness_mm: float) -> tuple[float, tuple[float, float]] | None:
    """(radius inside the bend, place): the least one that the innermost ply is bent to; None for a straight line.

    The concave face lies half the thickness inside the middle line, whichever way it bends.
    """
    b = bends(line)
    curved = np.abs(b.turns) > 1e-9
    if not curved.any():
        return None
    radius = np.where(curved, b.lengths / np.where(curved, np.abs(b.turns), 1.0), np.inf)
    k = int(np.argmin(radius))
    middle = float(b.lengths[:k].sum() + b.lengths[k] / 2)
    x, y = Walk.of(line).at(np.array([middle]))[0][0]
    return float(radius[k]) - thickness_mm / 2, (float(x), float(y))


def radius_findings(step: Step, b: Bent, ply_mm: float) -> list[Finding]:
    """An `ask` below the radius of the table for how it is bent, a `stop` below what even soaked plies stand."""
    spec: Spec = step.spec
    tight = tightest(b.form, b.thickness_mm)
    if tight is None:
        return []
    radius, spot = tight

    def told(severity: str, message: str, limit: float, remedy: str) -> list[Finding]:
        return [
            Finding(
                check="bend-radius",
                severity="stop" if severity == "stop" else "ask",
                message=message,
                step=step.name,
                at_mm=spot,
                measured=radius,
                limit=limit,
                remedy=remedy,
                place=place_in(step, "ply"),
            )
        ]

    bent_to = f"{step.name} bends plies of {mm(ply_mm)} mm to an inside radius of {mm(radius)} mm at {at(*spot)}"
    if spec.wood == "veneer":
        if radius >= VENEER_ASK * ply_mm - EPS:
            return []
        severity = "stop" if radius < VENEER_STOP * ply_mm - EPS else "ask"
        limit = (VENEER_STOP if severity == "stop" else VENEER_ASK) * ply_mm
        thin = radius / VENEER_ASK
        return told(
            severity,
            f"{bent_to}; dry veneer wants {mm(limit)} mm.",
            limit,
            _thinner(b.thickness_mm, thin, "veneer"),
        )
    limits: dict[Wet, float | None] = {
        "cold": least_radius(ply_mm, spec.grain, "cold"),
        "soaked": least_radius(ply_mm, spec.grain, "soaked"),
    }
    cold, soaked = limits["cold"], limits["soaked"]
    if cold is None or soaked is None:
        most = table()[-1].thickness
        return told(
            "ask",
            f"{bent_to}; the table of least radii ends at {mm(most)} mm of thickness and goes no further by rule.",
            most,
            "bend a trial strip, or take thinner plies",
        )
    if radius < soaked - EPS:
        thin = thickest(radius, spec.grain, spec.bend)
        return told(
            "stop",
            f"{bent_to}; even soaked in hot water they want {mm(soaked)} mm.",
            soaked,
            _thinner(b.thickness_mm, thin, spec.bend),
        )
    if spec.bend == "cold" and radius < cold - EPS:
        thin = thickest(radius, spec.grain, "cold")
        other = _turned(spec, ply_mm, radius)
        return told(
            "ask",
            f"{bent_to}; bent cold they want {mm(cold)} mm.",
            cold,
            f"soak them in hot water ({mm(soaked)} mm is enough then), {other}or "
            f"{_thinner(b.thickness_mm, thin, 'cold')}",
        )
    return []


def _turned(spec: Spec, ply_mm: float, radius: float) -> str:
    across = least_radius(ply_mm, "across", spec.bend)
    if spec.grain != "along" or across is None or radius < across:
        return ""
    return f"lay the face grain across the curve ({mm(across)} mm is enough then), "


def _thinner(thickness_mm: float, ply_mm: float, how: str) -> str:
    down = math.floor(ply_mm * 100) / 100
    if down < 0.3:
        return f"draw a wider bend: plies of {mm(max(down, 0.01))} mm would be needed ({how})"
    return f"take {math.ceil(thickness_mm / down)} plies of at most {mm(down)} mm ({how})"


# -- steep ---------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """How the form stands to the press: ``press_deg`` the heading in which the outer half goes, ``worst_deg`` the
    steepest wall, and the stretches beyond STEEP_DEG as (first, last) arc lengths of the form's middle line."""

    press_deg: float
    worst_deg: float
    steep: tuple[tuple[float, float], ...]


def wall_of(spec: Spec, b: Bent) -> Wall:
    """The press direction (of the recipe, else the one with the least steep worst wall) and the walls to it."""
    headings = b.bends.headings
    # The inner normal stands a quarter turn from the heading.
    best = float(headings.min() + headings.max()) / 2
    if spec.press is not None:
        ux, uy = UNIT[spec.press]
        given = math.atan2(uy, ux) - b.side * math.pi / 2
        half_turns = round((best - given) / math.pi)  # it may be told as the way of either half
        best = given + half_turns * math.pi
    off = headings - best
    limit = math.radians(STEEP_DEG)
    stops = np.concatenate([[0.0], np.cumsum(b.bends.lengths)])
    steep: list[tuple[float, float]] = []
    for k, (first, last) in enumerate(off.tolist()):
        for sign in (1.0, -1.0):
            a, z = sign * first - limit, sign * last - limit
            if max(a, z) <= 1e-9:
                continue
            cross = a / (a - z) if (a < 0) != (z < 0) else 0.0
            lo = float(stops[k] + cross * (stops[k + 1] - stops[k])) if a < 0 else float(stops[k])
            hi = float(stops[k] + cross * (stops[k + 1] - stops[k])) if z < 0 else float(stops[k + 1])
            if steep and lo - steep[-1][1] < 1e-6:
                steep[-1] = (steep[-1][0], hi)
            else:
                steep.append((lo, hi))
    return Wall(
        press_deg=math.degrees(best) + b.side * 90.0,
        worst_deg=math.degrees(float(np.abs(off).max())),
        steep=tuple(steep),
    )


def wall_findings(step: Step, b: Bent, wall: Wall) -> list[Finding]:
    """An `ask` for each stretch of the form that is steeper than STEEP_DEG to the press direction."""
    found = []
    walk = Walk.of(b.form)
    headings = b.bends
    best = math.radians(wall.press_deg - b.side * 90.0)
    for lo, hi in wall.steep:
        ends = walk.at(np.array([lo, hi]))[0].tolist()
        inside = (headings.lengths.cumsum() > lo + 1e-9) & (
            headings.lengths.cumsum() - headings.lengths < hi - 1e-9
        )
        worst = math.degrees(float(np.abs(headings.headings[inside] - best).max()))
        left = 100 * max(math.cos(math.radians(worst)), 0.0)
        found.append(
            Finding(
                check="wall-steep",
                severity="ask",
                message=(
                    f"From {at(*ends[0])} to {at(*ends[1])}, {mm(hi - lo)} mm long, the wall of {step.name} "
                    f"stands at up to {worst:.1f} degrees to the press, which leaves {left:.0f} % of the pressure."
                ),
                step=step.name,
                at_mm=(ends[0][0], ends[0][1]) if lo > 0 else (ends[1][0], ends[1][1]),
                measured=worst,
                limit=STEEP_DEG,
                unit="deg",
                remedy=(
                    f"press it {worst - STEEP_DEG:.1f} degrees flatter by another `press:`, build the form in "
                    "three parts, or take one half with straps or a vacuum bag (`halves: inner`)"
                ),
                place=place_in(step, "press"),
            )
        )
    return found
