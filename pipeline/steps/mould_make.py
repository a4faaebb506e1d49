"""Makes moulds: the line bent more by what springs back, its parallels as faces, ribs and plies."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.common import mm, refuse_all, sheet_of
from pipeline.steps.mould import Spec, Trial, problems
from pipeline.steps.mould_form import form
from pipeline.steps.mould_limits import Wall, radius_findings, tightest, wall_findings, wall_of
from pipeline.steps.mould_line import Bent, bent, curve_of, folded, numbers_of_bend, thickness_of
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Piece, Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The form of a bent lamination with its numbers, ribs and plies, or a board that is bent by cuts.

    ``region`` is the finished piece seen along its width, in the design frame.
    """
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    line = curve_of(step, world)
    if spec.is_board:
        from pipeline.steps.mould_board import board

        return board(step, spec, world, line)
    ply, thickness = thickness_of(step, world)
    b = bent(step, line, thickness)
    wall = None if line.closed else wall_of(spec, b)
    findings = radius_findings(step, b, ply)
    if wall is not None and spec.halves == "both" and spec.use == "mould":
        findings += wall_findings(step, b, wall)
    numbers = _numbers(spec, b, ply, wall)
    pieces: list[Piece] = []
    reports = _reports(step, spec, b)
    if spec.sheet is not None:
        made, found, more = form(step, spec, world, b, wall, ply)
        pieces += made
        findings += found
        numbers |= more
    if isinstance(spec.ply, str):
        made, found = _plies(step, spec, world, numbers["blank_mm"])
        pieces += made
        findings += found
    return Result(
        step=name,
        kind="mould",
        region=_section(step, b),
        pieces=tuple(pieces),
        numbers=numbers,
        reports=reports,
        findings=tuple(findings),
    )


def _section(step: Step, b: Bent) -> Region:
    """The finished piece seen from its edge: the strip between its two faces."""
    faces = [folded(step, b.wanted, k * b.thickness_mm / 2, b.thickness_mm) for k in (1, -1)]
    if b.wanted.closed:
        outer, hole = sorted(faces, key=lambda c: -abs(c.area))
        return region([Part(outer, (hole,))])
    left, right = faces
    back = left.reversed()
    xy = np.concatenate([right.xy, back.xy])
    return solid(
        Contour(xy, np.concatenate([right.bulge, back.bulge]), np.concatenate([right.free, back.free]), True)
    )


def _numbers(spec: Spec, b: Bent, ply: float, wall: Wall | None) -> dict[str, Any]:
    closed = b.wanted.closed
    tight = tightest(b.form, b.thickness_mm)
    wide = tightest(b.wanted, b.thickness_mm)
    made = {
        **numbers_of_bend(b),
        "face": spec.face,
        "plies": spec.plies,
        "ply_mm": ply,
        "inside_radius_mm": wide[0] if wide else None,
        "form_inside_radius_mm": tight[0] if tight else None,
        "blank_mm": [b.wanted.length + (0.0 if closed else 2 * spec.ends_mm), spec.width + 2 * spec.trim_mm],
    }
    if wall is not None:
        made |= {"wall_deg": wall.worst_deg, "pressure_least": max(math.cos(math.radians(wall.worst_deg)), 0.0)}
    return made


def _reports(step: Step, spec: Spec, b: Bent) -> tuple[str, ...]:
    long = b.wanted.length + (0.0 if b.wanted.closed else 2 * spec.ends_mm)
    blank = f"{long:.1f} x {mm(spec.width + 2 * spec.trim_mm)}"
    found = [
        f"{step.name}: {spec.plies} plies make {mm(b.thickness_mm)} mm; cut them {blank} mm, flat and square: an "
        "outline is drawn on the piece after pressing, with a template that is bent on it."
    ]
    if b.kept != 1.0:
        by = "as the trial strip did" if isinstance(spec.springback, Trial) else f"1/{spec.plies}² of it"
        found.append(
            f"{step.name}: the form is bent more, since the piece gives back {by}: its radii are {b.kept:.4f} of "
            f"those wanted, {abs(numbers_of_bend(b)['form_turn_deg']):.2f} degrees for "
            f"{abs(numbers_of_bend(b)['turn_deg']):.2f}. Glue creeps, so bend a trial strip first."
        )
    return tuple(found)


def _plies(step: Step, spec: Spec, world: World, blank: list[float]) -> tuple[list[Piece], list[Finding]]:
    stock = sheet_of(world, step, "ply", str(spec.ply))
    long, wide = blank
    plate = solid(rectangle(long, wide, x=long / 2, y=wide / 2))
    count = (spec.plies or 1) * world.recipe.make
    panel = Panel(name=f"{step.name}-ply", role="panel", plate=plate, stock=stock, count=count)
    made, found = piece_of(panel, step)
    return list(made), list(found)
