"""One lamination of a stack: what each cut does in it, before glue-up, and the piece that comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding, Severity
from pipeline.core.recipe import Step
from pipeline.core.shop import Shop
from pipeline.geometry.boolean import difference, intersection, union
from pipeline.geometry.region import EMPTY, Region
from pipeline.steps import ops as op
from pipeline.steps.common import Stock
from pipeline.steps.heights import Floor, Span
from pipeline.steps.measures import inside_point
from pipeline.steps.sheet_set_ups import SheetWork, sheet_set_ups
from pipeline.steps.solids import bites_of
from pipeline.steps.values import Cut, Op, Piece, SetUp

VENEER_MM = 1.4
"""One veneer of birch plywood; less than that under a pocket breaks (trade data sheet: 1.4)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What a lamination is made of: its name and span, its sheet, the design outline and the larger cut
    edge, the floors of all that is cut before glue-up, and the index holes bored in it. ``smaller`` holds, by
    the name of a cut that is trimmed after glue-up, the smaller region that is cut here."""

    name: str
    span: Span
    stock: Stock
    count: int
    outline: Region
    edge: Region
    floors: tuple[Floor, ...]
    index: tuple[Cut, ...]
    allowance: float
    smaller: Mapping[str, Region] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """A lamination cut: the piece, a row a cut for packet.json, findings, and floors left for after glue-up.

    ``back`` and ``front`` are what pockets take from its two faces: no glue there.
    """

    piece: Piece
    rows: tuple[dict[str, Any], ...]
    findings: tuple[Finding, ...]
    later: tuple[Floor, ...]
    back: Region
    front: Region


def cut_layer(layer: Layer, step: Step) -> Cutting:
    """Cut one lamination: through, as a pocket of the remaining depth, or not at all."""
    span, shop = layer.span, layer.stock.shop
    through: list[Region] = []
    trimmed: list[Region] = []  # the same as they are cut here
    pockets: list[tuple[Op, Region, float]] = []
    drills: list[Cut] = []
    rows: list[dict[str, Any]] = []
    findings: list[Finding] = []
    later: list[Floor] = []
    for floor in layer.floors:
        cut = floor.cut
        top = floor.total - span.z1 if cut.face == "front" else span.z0
        for region, action, depth, deep in _bites(floor, span):
            if not region or not region.polygon.intersects(layer.edge.polygon):
                continue
            if action == "through":
                rows.append(_row(cut, action, depth, deep, span))
                if cut.diameter_mm is not None and shop.process == "router":
                    drills.append(cut)
                else:
                    through.append(region)
                    trimmed.append(_as_cut_here(layer, cut, region))
                continue
            alone = depth if cut.lamination is not None else None
            work = op.floored(floor, _as_cut_here(layer, cut, region), top, alone)
            depth = work.depth_mm or depth  # at the shape's own ends, before any overrun
            deep = work.deep_mm or depth
            if not shop.half_depth:
                rows.append(_row(cut, "left for after glue-up", depth, deep, span))
                later.append(floor)
                findings.append(_laser_finding(step, layer.name, cut, depth, span.thickness - depth, region))
                continue
            rows.append(_row(cut, action, depth, deep, span))
            pockets.append((work, region, (depth + deep) / 2))
            # A ramp that runs out at the glue line thins to nothing there by design.
            runs_out = work.work == "RAMP" and span.thickness - deep < 1e-6
            if span.thickness - deep < VENEER_MM * 2 and not runs_out:
                findings.append(_thin_finding(step, layer.name, cut, span.thickness - deep, region))
    design = difference(layer.outline, *through) if through else layer.outline
    edge = difference(layer.edge, *trimmed) if trimmed else layer.edge
    if len(edge.parts) > 1:
        findings.append(_split_finding(step, layer.name, edge))
    bored = [c.region for c in drills] + [c.region for c in layer.index]
    finished = difference(design, *bored) if bored else design
    sheet = layer.stock.sheet
    mass = None
    if sheet.density:
        removed = _pocket_volume(finished, [(p[1], p[2]) for p in pockets])
        mass = (finished.area * span.thickness - removed) * sheet.density * 1e-6
    piece = Piece(
        name=layer.name,
        role="lamination",
        step=step.name,
        sheet=layer.stock.stock,
        letter=layer.stock.letter,
        shop=shop.name,
        count=layer.count,
        thickness_mm=span.thickness,
        region=finished,
        cut=difference(edge, *bored) if bored else edge,
        set_ups=_set_ups(shop, edge, [p[0] for p in pockets], drills, layer.index),
        mass_g=mass,
        grain=sheet.grain,
        allowance_mm=layer.allowance,
        partial=tuple((p[1], p[2]) for p in pockets),
    )
    return Cutting(
        piece=piece,
        rows=tuple(rows),
        findings=tuple(findings),
        later=tuple(dict.fromkeys(later)),
        back=_pocketed(pockets, "back"),
        front=_pocketed(pockets, "front"),
    )


def _as_cut_here(layer: Layer, cut: Cut, region: Region) -> Region:
    """A cut's region, or what is left of it where it is cut smaller and trimmed after glue-up."""
    small = layer.smaller.get(cut.name)
    if small is None:
        return region
    return small if region is cut.region else intersection(region, small)


def _pocketed(pockets: list[tuple[Op, Region, float]], face: FaceName) -> Region:
    mine = [region for work, region, _ in pockets if work.face == face]
    return union(*mine) if mine else EMPTY


def _bites(floor: Floor, span: Span) -> tuple[tuple[Region, str, float, float], ...]:
    """(region, action, depth, deep) of one cut in this lamination; none where it doesn't reach it."""
    cut = floor.cut
    if cut.lamination is None:
        return bites_of(floor, span, cut.region)
    if cut.lamination != span.number:
        return ()
    depth = span.thickness if cut.depth.rule in ("sheet", "through") else cut.depth.mm
    action = "through" if depth >= span.thickness - 1e-9 else "pocket"
    return ((cut.region, action, depth, depth),)


def _row(cut: Cut, action: str, depth: float, deep: float, span: Span) -> dict[str, Any]:
    return {
        "cut": cut.name,
        "step": cut.step,
        "action": action,
        "face": cut.face,
        "depth_mm": depth,
        "deep_mm": deep,
        "remains_mm": span.thickness - depth,
        "remains_deep_mm": span.thickness - deep,
    }


def _set_ups(
    shop: Shop, edge: Region, pockets: list[Op], drills: list[Cut], pins: tuple[Cut, ...]
) -> tuple[SetUp, ...]:
    """What is done to the lamination, as set-ups; a laser cuts pin holes as contours."""
    laser = shop.process == "laser"
    return sheet_set_ups(
        SheetWork(
            pins=() if laser else pins,
            cut_pins=pins if laser else (),
            drills=drills,
            pockets=pockets,
            inside=[
                *((c.region.contours, c.step) for c in (pins if laser else ())),
                (tuple(h for p in edge.parts for h in p.holes), ""),
            ],
            outside=[(tuple(p.outer for p in edge.parts), "")],
        )
    )


def _pocket_volume(design: Region, pockets: list[tuple[Region, float]]) -> float:
    """Volume of overlapping pockets in one lamination: the deepest counts where they overlap."""
    volume, rest = 0.0, design
    for region, depth in sorted(pockets, key=lambda p: -p[1]):
        volume += intersection(rest, region).area * depth
        rest = difference(rest, region)
    return volume


# -- what is said ----------------------------------------------------------------------------------
def _laser_finding(step: Step, piece: str, cut: Cut, depth: float, remains: float, region: Region) -> Finding:
    nearer = "deeper" if remains <= depth else "shallower"
    return Finding(
        check="laser-half-depth",
        severity="ask",
        message=(
            f"{cut.name} ends inside {piece}, {depth:.2f} below its {cut.face}; "
            "a laser cuts all the way or not at all."
        ),
        step=cut.step,
        piece=piece,
        at_mm=inside_point(region),
        face=cut.face,
        measured=depth,
        limit=0.0,
        remedy=(
            f"{piece} is left whole here and the rest is routed after glue-up (default), or make the cut "
            f"{min(depth, remains):.2f} {nearer} so that it ends on the glue line"
        ),
        place=step.place("cut"),
    )


def _thin_finding(step: Step, piece: str, cut: Cut, remains: float, region: Region) -> Finding:
    severity: Severity = "stop" if remains < VENEER_MM else "ask"
    return Finding(
        check="lamination-thin",
        severity=severity,
        message=(
            f"{cut.name} leaves {remains:.2f} of {piece} under its floor, "
            f"{'less than one veneer' if severity == 'stop' else 'less than two veneers'}."
        ),
        step=cut.step,
        piece=piece,
        at_mm=inside_point(region),
        face=cut.face,
        measured=remains,
        limit=VENEER_MM if severity == "stop" else 2 * VENEER_MM,
        remedy=f"cut {cut.name} {remains:.2f} deeper, to the glue line, or cut it in the glued blank (cut_blank)",
        place=step.place("cut"),
    )


def _split_finding(step: Step, piece: str, edge: Region) -> Finding:
    small = min(edge.parts, key=lambda p: p.outer.area)
    return Finding(
        check="lamination-split",
        severity="stop",
        message=f"{piece} falls apart into {len(edge.parts)} pieces.",
        step=step.name,
        piece=piece,
        at_mm=inside_point(Region((small,))),
        measured=float(len(edge.parts)),
        limit=1.0,
        unit="pieces",
        remedy="leave wood between the cuts, or cut one of them in the glued blank (cut_blank)",
        place=step.place("cut"),
    )
