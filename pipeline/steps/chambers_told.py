"""What is told of the chambers of a stack: a sentence, and what could not be done as asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.chambers import Spec
from pipeline.steps.chambers_search import WITHIN_G, Plan
from pipeline.steps.common import mm, place_in
from pipeline.steps.heights import Span
from pipeline.steps.measures import inside_point

ROUND_WALL_MM = 6.0
"""A wall is at least so much thicker than the radius its edge is rounded by (judged: trade.md 3.8)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacked:
    """The stack that is hollowed: its name, outline and spans, and the largest radius its edges are rounded by."""

    name: str
    outline: Region
    levels: tuple[Span, ...]
    round_mm: float = 0.0


def sentence(step: Step, plan: Plan, row: dict[str, Any]) -> str:
    """What the chambers come to, for the maker; ``row`` is what the stack's numbers say of them."""
    spec: Spec = step.spec
    count = len(plan.cells)
    which = " and ".join(str(n) for n in row["laminations"])
    told = f"{step.name}: {count or 'no'} chamber{'s' * (count != 1)} in lamination {which}"
    if count:
        told += f", behind a wall of {mm(plan.wall_mm)} mm"
    if plan.dropped:
        told += f"; {plan.dropped} smaller than a bore of 25 mm left out"
    if plan.filled:
        told += "; some of them filled again, because the wall alone takes too much or too little"
    if "after_g" in row:
        x, y, z = (round(v, 2) + 0.0 for v in row["shift_at_mm"])
        wanted = f" ({spec.target:.1f} wanted)" if spec.target is not None else ""
        told += (
            f". The blank comes to {row['after_g']:.1f} g instead of {row['before_g']:.1f}{wanted}, "
            f"and its centre of mass moves by ({x:+.2f}, {y:+.2f}, {z:+.2f}) mm"
        )
    lost = [f"{a:.0f} mm² at joint {n}" for n, a in enumerate(row["glue_area_lost_mm2"], start=1) if a]
    return f"{told}. Glue area lost: {', '.join(lost)}." if lost else f"{told}."


def findings(step: Step, plan: Plan, row: dict[str, Any], stack: Stacked) -> list[Finding]:
    """A mass that isn't reached, no room at all, a thin skin."""
    spec: Spec = step.spec
    found: list[Finding] = []
    if "least_g" in row and abs(row["after_g"] - spec.target) > WITHIN_G:
        found.append(_off_target(step, row, stack))
    elif not plan.cells and spec.target is None:
        found.append(_none(step, stack))
    if plan.cells and spec.skin:
        found += _skins(step, plan, stack)
    if plan.cells and stack.round_mm and plan.wall_mm < stack.round_mm + ROUND_WALL_MM - 1e-9:
        found.append(_rounded(step, plan, stack))
    return found


def _rounded(step: Step, plan: Plan, stack: Stacked) -> Finding:
    wanted = stack.round_mm + ROUND_WALL_MM
    return Finding(
        check="chambers-edge",
        severity="ask",
        message=(
            f"The wall of {step.name} is {plan.wall_mm:.2f} mm, and an edge of {stack.name} is rounded by "
            f"{stack.round_mm:g} mm."
        ),
        step=step.name,
        piece=stack.name,
        at_mm=inside_point(max(plan.cells, key=lambda c: c.area)),
        measured=plan.wall_mm,
        limit=wanted,
        remedy=f"make `wall` {mm(wanted)} or more, or round the edge by {mm(wanted - plan.wall_mm)} less",
        place=place_in(step, "wall"),
    )


def _off_target(step: Step, row: dict[str, Any], stack: Stacked) -> Finding:
    least, most, wanted = row["least_g"], row["most_g"], step.spec.target
    inside = least < wanted < most
    return Finding(
        check="chambers-target",
        severity="ask",
        message=(
            f"{step.name} can't bring {stack.name} to {wanted:.1f} g; the nearest is {row['after_g']:.1f} g. "
            f"The least it can come to is {least:.1f} g, the most (without chambers) {most:.1f} g."
        ),
        step=step.name,
        piece=stack.name,
        at_mm=inside_point(stack.outline),
        measured=row["after_g"],
        limit=wanted,
        unit="g",
        remedy=(
            f"ask for {row['after_g']:.0f} g, since the least chamber is a bore of 25 mm"
            if inside
            else f"ask for {least:.0f} to {most:.0f} g"
            + ("" if wanted > most else ", hollow another lamination too, or make `wall` and `web` narrower")
        ),
        place=place_in(step, "target"),
    )


def _none(step: Step, stack: Stacked) -> Finding:
    return Finding(
        check="chambers-none",
        severity="ask",
        message=f"{step.name} find no room in {stack.name}: wall, webs and keep-outs leave none.",
        step=step.name,
        piece=stack.name,
        at_mm=inside_point(stack.outline),
        measured=0.0,
        limit=1.0,
        unit="chambers",
        remedy="make `wall` or `web` narrower, or take the step out",
        place=place_in(step, "wall"),
    )


def _skins(step: Step, plan: Plan, stack: Stacked) -> list[Finding]:
    """Wood behind and in front of the chambers."""
    spec: Spec = step.spec
    low, high = min(spec.laminations), max(spec.laminations)
    left = (("back", stack.levels[low - 1].z0), ("front", stack.levels[-1].z1 - stack.levels[high - 1].z1))
    return [
        Finding(
            check="chambers-skin",
            severity="stop" if skin <= 1e-6 else "ask",
            message=(
                f"{step.name} lie open in the {face} of {stack.name}."
                if skin <= 1e-6
                else f"{step.name} leave a skin of {skin:.2f} mm at the {face} of {stack.name}."
            ),
            step=step.name,
            piece=stack.name,
            at_mm=inside_point(max(plan.cells, key=lambda c: c.area)),
            face=face,
            measured=skin,
            limit=spec.skin,
            remedy=f"take laminations further inside, or a sheet {spec.skin - skin:.2f} mm thicker at the {face}",
            place=place_in(step, "laminations"),
        )
        for face, skin in left
        if skin < spec.skin - 1e-9
    ]
