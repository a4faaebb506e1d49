"""A board that is bent by cuts: saw cuts across its inside, or rows of slots through it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.parallel import parallel
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.common import Stock, mm, place_in, sheet_of
from pipeline.steps.labels import placed
from pipeline.steps.mould import Spec
from pipeline.steps.mould_bends import bends_of, small_text
from pipeline.steps.mould_kerf import WEB_SHARE, sawn
from pipeline.steps.mould_lattice import latticed
from pipeline.steps.mould_line import folded, inner_side
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Cut, Depth, Op, Result, World


def board(step: Step, spec: Spec, world: World, line: Contour) -> Result:
    """The flat board with its cuts, the inside up, x along the bend."""
    stock = sheet_of(world, step, "sheet", spec.sheet or "")
    t = stock.thickness_mm
    side = inner_side(step, line)
    outer = folded(step, line, {"inner": -side, "outer": 0, "middle": -side / 2}[spec.face] * t, t)
    folded(step, outer, side * t, t)  # its inside must not fold over either
    web = _web(step, spec, t)
    middle = parallel(outer, side * web / 2)
    found = bends_of(step, outer, middle, side, web)
    long = middle.length + 2 * spec.ends_mm
    wide = spec.width + 2 * spec.trim_mm
    plate = solid(rectangle(long, wide, x=long / 2, y=wide / 2))
    numbers: dict[str, Any] = {
        "thickness_mm": t,
        "blank_mm": [long, wide],
        "developed_mm": middle.length,
        "turn_deg": math.degrees(sum(b.angle for b in found)),
    }
    if spec.kerf is not None:
        findings, rows, xs, reports = sawn(step, spec, spec.kerf, found, t)
        lines = [line_chain([(x, 0.0), (x, wide)], closed=False) for x in xs]
        keep = tuple(solid(rectangle(spec.kerf.blade, wide, x=x, y=wide / 2)) for x in xs)
        groove = Op(
            work="GROOVE",
            face="front",
            contours=tuple(lines),
            depth_mm=t - web,
            diameter_mm=spec.kerf.blade,
            step=step.name,
        )
        panel = _panel(step, world, stock, plate, keep, "INSIDE UP", ops=(groove,) if lines else ())
        numbers |= {"web_mm": web, "depth_mm": t - web, "cuts": len(xs), "bends": rows}
    else:
        assert spec.lattice is not None
        findings, rows, slots, reports = latticed(step, spec, spec.lattice, found, t, wide)
        cuts: tuple[Cut, ...] = ()
        if slots:
            cuts = (
                Cut(
                    step=step.name,
                    name=step.name,
                    region=slots,
                    design=slots,
                    face="front",
                    depth=Depth(rule="through"),
                ),
            )
        panel = _panel(step, world, stock, plate, (slots,) if slots else (), "INSIDE UP", cuts=cuts)
        numbers |= {"bends": rows}
    pieces, more = piece_of(panel, step)
    x0 = f"{step.name}: the board is {long:.1f} x {mm(wide)} mm; "
    return Result(
        step=step.name,
        kind="mould",
        region=_section(step, outer, side, t),
        pieces=pieces,
        numbers=numbers,
        reports=(x0 + reports,),
        findings=(*findings, *small_text(step, step.name, stock, panel.labels, plate), *more),
    )


def _section(step: Step, outer: Contour, side: int, t: float) -> Region:
    """The bent board seen from its edge."""
    back = folded(step, outer, side * t, t).reversed()
    xy = np.concatenate([outer.xy, back.xy])
    return solid(
        Contour(xy, np.concatenate([outer.bulge, back.bulge]), np.concatenate([outer.free, back.free]), True)
    )


def _panel(
    step: Step,
    world: World,
    stock: Stock,
    plate: Region,
    keep: tuple[Region, ...],
    face: str,
    *,
    ops: tuple[Op, ...] = (),
    cuts: tuple[Cut, ...] = (),
) -> Panel:
    revision = world.since.get(step.name, world.recipe.revision)
    words = f"{world.recipe.design.upper()} {step.name.upper().replace('_', ' ')} {revision}"
    labels = placed(plate, (words, face), stock.shop, keep, mirrored=world.recipe.mirrored)
    return Panel(
        name=step.name,
        role="panel",
        plate=plate,
        stock=stock,
        count=world.recipe.make,
        cuts=cuts,
        labels=labels,
        ops=ops,
    )


def _web(step: Step, spec: Spec, t: float) -> float:
    """What stays under the cuts; a lattice bends about the middle of the board, as if its web were all of it."""
    if spec.kerf is None:
        return t
    if spec.kerf.web >= t:
        raise refuse(
            f"A web of {mm(spec.kerf.web)} mm leaves nothing to cut of a board of {mm(t)} mm.",
            place=place_in(step, "kerf.web"),
            expected=f"about {mm(WEB_SHARE * t)} mm",
        )
    return spec.kerf.web
