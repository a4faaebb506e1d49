"""Solves the chambers of a stack: where they come to lie, how large they are, and what they do to the blank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import intersection
from pipeline.geometry.region import EMPTY, Region
from pipeline.steps.chambers import WEB_MM, Spec
from pipeline.steps.chambers_make import solids_of
from pipeline.steps.chambers_plan import flattened, ground, webs_of
from pipeline.steps.chambers_search import WITHIN_G, Plan, planned, sized
from pipeline.steps.chambers_told import Stacked, findings, sentence
from pipeline.steps.common import place_in, refuse_all, sheet_of
from pipeline.steps.heights import Floor, Span, floor_of
from pipeline.steps.measures import inside_point, shape_of
from pipeline.steps.solids import Body, band, body, s_range
from pipeline.steps.values import Cut, Depth, World

NEAR_Z_MM = 5.0
"""What lies this near to a hollowed lamination in height is kept off too (blueprint, Stack)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollowed:
    """What the chambers of one stack come to: their cuts with floors, a row each for its numbers, and words."""

    cuts: tuple[Cut, ...] = ()
    floors: tuple[Floor, ...] = ()
    rows: tuple[dict[str, Any], ...] = ()
    reports: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncut:
    """The stack before it is hollowed: its outline, spans, glued layers with densities (empty when one is
    unknown), the floors that count in its mass, those of hand work, and its index holes; heights by the sheets."""

    stack: Step
    outline: Region
    levels: tuple[Span, ...]
    layers: Sequence[tuple[Span, float]]
    floors: Sequence[Floor]
    by_hand: Sequence[Floor]
    index: Sequence[Cut]


def hollowed(world: World, uncut: Uncut) -> Hollowed:
    """All chambers that a stack names under `cut`; those that aim at a mass come last.

    Raises Refused when a lamination doesn't exist, or a mass is wanted and a density unknown.
    """
    steps = [world.recipe.steps[n] for n in uncut.stack.spec.cut]
    mine = [s for s in steps if isinstance(s.spec, Spec)]
    if not mine:
        return Hollowed()
    refuse_all(p for s in mine for p in _problems(s, uncut))
    before = body(uncut.outline, uncut.layers, uncut.floors) if uncut.layers else None
    cuts: list[Cut] = []
    rows: list[dict[str, Any]] = []
    reports: list[str] = []
    found: list[Finding] = []
    edge = uncut.stack.spec.edge
    stacked = Stacked(
        name=uncut.stack.name,
        outline=uncut.outline,
        levels=uncut.levels,
        round_mm=max((t.round or 0.0 for _, _, t in edge.all()), default=0.0) if edge else 0.0,
    )
    for step in sorted(mine, key=lambda s: s.spec.target is not None):
        plan, full = _plan(world, step, uncut, cuts, before)
        made = _cuts(step, plan)
        after = before and _lighter(before, uncut, made)
        row = _row(step, plan, made, uncut, before, after)
        if before and step.spec.target is not None:
            row |= {"least_g": before.mass_g - full.area * _g_per_mm2(step.spec, uncut), "most_g": before.mass_g}
        rows.append(row)
        reports.append(sentence(step, plan, row))
        found += findings(step, plan, row, stacked)
        cuts += made
        before = after
    total = uncut.levels[-1].z1
    return Hollowed(
        cuts=tuple(cuts),
        floors=tuple(floor_of(c, total) for c in cuts),
        rows=tuple(rows),
        reports=tuple(reports),
        findings=tuple(found),
    )


def _problems(step: Step, uncut: Uncut) -> list[Problem]:
    count = len(uncut.levels)
    found = [
        Problem(
            wrong=f"{step.name} names lamination {n}, and {uncut.stack.name} has {count}.",
            place=place_in(step, f"laminations.{i}"),
            expected=f"a number from 1 (at the back) to {count}",
        )
        for i, n in enumerate(step.spec.laminations)
        if n > count
    ]
    if step.spec.target is not None and not uncut.layers:
        found.append(
            Problem(
                wrong=f"{step.name} shall bring {uncut.stack.name} to a mass, but not every sheet has a density.",
                place=place_in(step, "target"),
                expected="`density:` at each sheet of the stack",
            )
        )
    return found


# -- the plan ----------------------------------------------------------------------------------------
def _plan(
    world: World, step: Step, uncut: Uncut, earlier: Sequence[Cut], before: Body | None
) -> tuple[Plan, Plan]:
    """(as wanted, at the least wall)."""
    spec: Spec = step.spec
    total = uncut.levels[-1].z1
    hollow = [uncut.levels[n - 1] for n in spec.laminations]
    floors = [*uncut.floors, *uncut.by_hand, *(floor_of(c, total) for c in earlier)]
    near = [reaching(f, uncut.levels, hollow) for f in floors]
    solids = [*near, *(c.region for c in uncut.index), *solids_of(step, spec, world)]
    inside = shape_of(world, step, "in", spec.in_)
    if spec.in_ != uncut.stack.spec.outline:
        inside = intersection(inside, uncut.outline)
    exact = ground(inside, [s for s in solids if s], spec.web, _radius(world, step, uncut))
    flat = flattened(exact)
    webs = webs_of(flat, spec.wall, spec.cell, max(spec.web, WEB_MM))
    full = planned(exact, flat, spec.wall, webs)
    if spec.target is None or before is None:
        return full, full
    per = _g_per_mm2(spec, uncut)
    wanted = before.mass_g - spec.target
    if wanted >= full.area * per:
        return full, full
    if wanted <= WITHIN_G:
        return Plan(cells=(), wall_mm=spec.wall, webs=tuple(webs)), full
    plan = sized(exact, flat, full, wanted / per, per)
    if wanted <= abs(wanted - plan.area * per):  # nothing at all comes nearer
        plan = Plan(cells=(), wall_mm=spec.wall, webs=tuple(webs))
    return plan, full


def reaching(floor: Floor, levels: Sequence[Span], hollow: Sequence[Span]) -> Region:
    """The part of a cut that comes within NEAR_Z_MM of one of the ``hollow`` laminations in height."""
    cut = floor.cut
    low, high = min(v.z0 for v in hollow) - NEAR_Z_MM, max(v.z1 for v in hollow) + NEAR_Z_MM
    if cut.lamination is not None:
        span = levels[cut.lamination - 1]
        depth = span.thickness if cut.depth.rule in ("sheet", "through") else cut.depth.mm
        z0, z1 = (span.z1 - depth, span.z1) if cut.face == "front" else (span.z0, span.z0 + depth)
        meets = any(z0 <= v.z1 + NEAR_Z_MM and z1 >= v.z0 - NEAR_Z_MM for v in hollow)
        return cut.region if meets else EMPTY
    needed = floor.total - high if cut.face == "front" else low  # the depth from which it is near
    if floor.slope == 0.0:
        return cut.region if floor.deep >= needed else EMPTY
    assert cut.depth.tilt is not None
    s, (_, hi) = floor.s_at(needed), s_range(cut.region, cut.depth.tilt.toward)
    return band(cut.region, cut.depth.tilt.toward, s, hi + 1.0) if s < hi else EMPTY


def _radius(world: World, step: Step, uncut: Uncut) -> float:
    """Radius of the cutter that hollows: the recipe's, else the widest flat one of the shops concerned."""
    spec: Spec = step.spec
    if spec.cutter is not None:
        return spec.cutter / 2
    names = [(n - 1, uncut.stack.spec.laminations[n - 1]) for n in spec.laminations]
    shops = [sheet_of(world, uncut.stack, f"laminations.{i}", name).shop for i, name in names]
    return max(s.profile_cutter.DC for s in shops) / 2


def _g_per_mm2(spec: Spec, uncut: Uncut) -> float:
    """Mass in g that one mm² of chamber takes; a glue line counts with the sheet below it."""
    return sum(
        (span.z1 - span.z0) * density * 1e-6 for span, density in uncut.layers if span.number in spec.laminations
    )


def _cuts(step: Step, plan: Plan) -> list[Cut]:
    """A cut for each chamber and lamination: ``<step>-<n>``, from the back first where there are several."""
    cells = [c for _ in step.spec.laminations for c in plan.cells]
    layers = [n for n in sorted(step.spec.laminations) for _ in plan.cells]
    return [
        Cut(
            step=step.name,
            name=step.name if len(cells) == 1 else f"{step.name}-{i}",
            region=cell,
            design=cell,
            face="front",
            depth=Depth(rule="sheet"),
            lamination=n,
        )
        for i, (cell, n) in enumerate(zip(cells, layers, strict=True), start=1)
    ]


# -- what it does to the blank -----------------------------------------------------------------------
def without(mass_g: float, centre: Sequence[float], taken: Sequence[tuple[float, Sequence[float]]]) -> Body:
    """Mass and centre of what is left: ΔG = −m_c (r_c − G) / (M − m_c) (trade.md 10), for several at once."""
    left = mass_g - sum(m for m, _ in taken)
    x, y, z = ((mass_g * centre[k] - sum(m * at[k] for m, at in taken)) / left for k in range(3))
    return Body(mass_g=left, centre_mm=(x, y, z))


def _lighter(before: Body, uncut: Uncut, cuts: Sequence[Cut]) -> Body:
    layers = {span.number: (span, density) for span, density in uncut.layers}
    taken: list[tuple[float, tuple[float, float, float]]] = []
    for cut in cuts:
        assert cut.lamination is not None
        span, density = layers[cut.lamination]
        mass = cut.region.area * (span.z1 - span.z0) * density * 1e-6
        taken.append((mass, (*cut.region.centroid, (span.z0 + span.z1) / 2)))
    return without(before.mass_g, before.centre_mm, taken)


def _row(
    step: Step, plan: Plan, cuts: Sequence[Cut], uncut: Uncut, before: Body | None, after: Body | None
) -> dict[str, Any]:
    spec: Spec = step.spec
    joints = range(1, len(uncut.levels))  # joint n lies between laminations n and n + 1
    row: dict[str, Any] = {
        "step": step.name,
        "laminations": sorted(spec.laminations),
        "wall_mm": plan.wall_mm,
        "webs": [{"bounds_mm": list(b)} for b in plan.webs],
        "cells": [
            {
                "name": c.name,
                "lamination": c.lamination,
                "area_mm2": c.region.area,
                "bounds_mm": list(c.region.bounds),
                "at_mm": list(inside_point(c.region)),
            }
            for c in cuts
        ],
        "dropped": plan.dropped,
        "volume_mm3": plan.area * sum(uncut.levels[n - 1].thickness for n in spec.laminations),
        "glue_area_lost_mm2": [plan.area if {n, n + 1} & set(spec.laminations) else 0.0 for n in joints],
    }
    if plan.filled:
        row["filled"] = [{"bounds_mm": list(b)} for b in plan.filled]
    if before and after:
        row |= {
            "before_g": before.mass_g,
            "after_g": after.mass_g,
            "target_g": spec.target,
            "centre_before_at_mm": list(before.centre_mm),
            "centre_after_at_mm": list(after.centre_mm),
            "shift_at_mm": [b - a for a, b in zip(before.centre_mm, after.centre_mm, strict=True)],
        }
    return row
