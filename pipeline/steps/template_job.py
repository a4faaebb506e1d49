"""One template from a job: its edge from the followers, its plate, what is engraved, and what comes out by it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference, intersection, union
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.steps.common import Stock, sheet_of
from pipeline.steps.follow import Outcome, centres, compared, made_by
from pipeline.steps.labels import STROKE_MM, fits_well
from pipeline.steps.measures import numbers_of
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.template import Follow, Spec
from pipeline.steps.template_arrows import Plate
from pipeline.steps.template_limits import edge_findings, index_finding, ledge_finding, result_findings
from pipeline.steps.template_marks import Marks, as_deep, marks_of
from pipeline.steps.template_plate import MARGIN_MM, body_of, followed_of, pins_of, plate_round
from pipeline.steps.template_support import Pass, base_finding, first_pass, pass_findings
from pipeline.steps.template_text import Job, depth_of, lines_of, small_text
from pipeline.steps.template_windows import scored_line, windows_of
from pipeline.steps.values import Cut, Op, Piece, World

ACRYLIC_STROKE_MM = 0.2
"""Acrylic is engraved less deep than wood, 0.3, for it chips (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A template made: ``solid`` is its own wood less holes, ``followed`` the region whose edge is followed."""

    solid: Region
    followed: Region
    pieces: tuple[Piece, ...]
    numbers: dict[str, Any]
    findings: tuple[Finding, ...]
    reports: tuple[str, ...]


def made_of(job: Job, step: Step, spec: Spec, world: World) -> Made:
    """Make one template. Raises Refused when nothing is left of it."""
    finish = job.stages[-1] if job.stages else None
    followed = followed_of(job, step, finish)
    body, findings = body_of(job, step, spec, followed)
    pins = pins_of(spec, world, body)
    reports: list[str] = []
    if spec.index and not pins:
        reports.append(
            f"{job.name}: no index hole of {spec.index} falls inside its own solid, so it carries none."
        )
    bored = tuple(c for c in job.bored if body.polygon.contains_properly(c.region.polygon))
    stock = None if spec.sheet is None else sheet_of(world, step, "sheet", spec.sheet)
    outs, said = _outcomes(job, step)
    findings += said
    findings += _limits(job, step, spec, world, stock, followed, body, outs)
    close, spacing = index_finding(step, job.name, followed, pins)
    findings += [close] if close else []
    pieces: list[Piece] = []
    if stock is not None:
        pieces, more, told = _pieces(job, step, spec, world, stock, body, followed, (*pins, *bored))
        findings += more
        reports += told
    cut_away = [c.region for c in (*pins, *bored)]
    own = difference(body, *cut_away) if cut_away else body
    numbers = {**_numbers(job, stock, own, followed, outs), "index_holes": len(pins), **spacing}
    return Made(
        solid=own,
        followed=followed,
        pieces=tuple(pieces),
        numbers=numbers,
        findings=tuple(findings),
        reports=tuple(reports),
    )


# -- what comes out ----------------------------------------------------------------------------------
def _outcomes(job: Job, step: Step) -> tuple[list[tuple[Follow, Outcome]], list[Finding]]:
    """What comes out, by follower; of two that finish one shape, both together."""
    if not job.stages:
        return [], []
    followed = followed_of(job, step, job.stages[-1])
    made = [made_by(followed, job.use, f.diameter, f.cutter) for f in job.stages]
    last = job.stages[-1]
    findings: list[Finding] = []
    if job.cavity is not None:
        rough = job.stages[0]
        width = _width(job)
        wrong = ledge_finding(step, job.name, job.of, width, job.stages)
        findings += [wrong] if wrong else []
        inner = job.cavity.region if wrong is None else offset(job.wanted, last.offset - rough.offset)
        outs = [(rough, compared(inner, made[0], job.use)), (last, compared(job.wanted, made[1], job.use))]
        shapes = [inner, job.wanted]
    else:
        result = made[-1]
        if len(made) == 2 and result:
            result = union(*made) if job.use == "opening" else intersection(*made)
        outs, shapes = [(last, compared(job.wanted, result, job.use))], [job.wanted]
        if len(made) == 2 and not made[0]:  # the first one doesn't go in at all
            outs.insert(0, (job.stages[0], compared(job.wanted, made[0], job.use)))
            shapes.insert(0, job.wanted)
    for (follow, out), shape in zip(outs, shapes, strict=True):
        findings += result_findings(step, job.name, job.of, out, shape, follow, job.cavity is not None)
    return outs, findings


def _width(job: Job) -> float:
    """The ledge that is wanted: how far the recess lies outside of the cavity, by their design shapes."""
    from pipeline.geometry.query import distance

    assert job.cavity is not None
    assert job.cut is not None
    return distance(job.cut.design, job.cavity.design)[0]


def _limits(
    job: Job,
    step: Step,
    spec: Spec,
    world: World,
    stock: Stock | None,
    followed: Region,
    body: Region,
    outs: list[tuple[Follow, Outcome]],
) -> list[Finding]:
    """Whether it can be followed by hand: tight corners, first pass, collar, length, base."""
    if not job.stages:
        return []
    found = list(edge_findings(step, job.name, followed, job.use, job.stages))
    if any(out.empty for _, out in outs):
        return found
    by_hand = any(job.of in s.spec.by_hand for s in world.recipe.steps.values() if s.kind == "stack")
    for i, follow in enumerate(job.stages):
        rough = job.cavity is not None and i == 0
        work = Pass(
            follow=follow,
            path=job.path if len(job.stages) == 1 else f"{job.path}.{i}",
            depth_mm=depth_of(job.cavity if rough else job.cut, job.face),
            alone=i == 0 or job.cavity is not None,
            by_hand=by_hand,
        )
        if stock is not None:
            found += pass_findings(step, job.name, stock.thickness_mm, work)
    line = centres(followed, job.use, min(f.diameter for f in job.stages))
    wider: Region | None = None
    if job.use == "opening":
        needed = spec.base + 10.0
        margin = spec.margin or MARGIN_MM
        wider = body if margin >= needed else difference(plate_round(followed, needed), followed)
    tips = base_finding(step, job.name, body, line, spec.base, wider)
    return found + ([tips] if tips else [])


# -- pieces ------------------------------------------------------------------------------------------
def _pieces(
    job: Job,
    step: Step,
    spec: Spec,
    world: World,
    stock: Stock,
    body: Region,
    followed: Region,
    bored: tuple[Cut, ...],
) -> tuple[list[Piece], list[Finding], list[str]]:
    """One piece for each part of the body, engraved on its up face."""
    pieces: list[Piece] = []
    findings: list[Finding] = []
    reports: list[str] = []
    framed = world.recipe.frame is not None
    deep = ACRYLIC_STROKE_MM if spec.material == "acrylic" else STROKE_MM
    for i, part in enumerate(body.parts, start=1):
        own = job.name if len(body.parts) == 1 else f"{job.name}-{i}"
        mine = tuple(c for c in bored if part.polygon.intersects(c.region.polygon))
        plate = Region((part,))
        wood = difference(plate, *(c.region for c in mine)) if mine else plate
        slots, lines = windows_of(wood, step, stock, job.face) if spec.windows and framed else ((), ())
        wood = difference(wood, *(c.region for c in slots)) if slots else wood
        marks = Marks()
        if spec.marks != "none":
            marks = marks_of(
                Plate(
                    wood=wood,
                    followed=followed if job.stages else None,
                    use=job.use,
                    face=job.face,
                    shop=stock.shop,
                    lines=lines_of(own, job, world),
                    centreline=framed and not spec.scored,
                    mirrored=world.recipe.mirrored,
                    over=world.recipe.frame.turn_over if world.recipe.frame else "x",
                ),
                full=spec.marks == "full",
            )
            if not fits_well(marks.text, stock.shop):
                findings.append(small_text(step, own, stock, marks.text, wood))
        if marks.no_room:
            reports.append(f"{own}: there is no room for {' or '.join(marks.no_room)}.")
        strokes = (*marks.strokes, *lines)
        ops = (Op(work="ENGRAVE", face=job.face, contours=strokes, depth_mm=deep, step=own),) if strokes else ()
        panel = Panel(
            name=own,
            role="template",
            plate=plate,
            stock=stock,
            count=1,
            face=job.face,
            cuts=(*mine, *slots),
            labels=as_deep(marks.labels, deep),
            ops=ops,
        )
        made, found = piece_of(panel, step)
        if spec.scored and framed:
            made = tuple(
                replace(
                    p, set_ups=(*p.set_ups, scored_line(p, job.face, plate, tuple(c for c in mine if c.index)))
                )
                for p in made
            )
        pieces += made
        findings += found
    return pieces, findings, reports


# -- numbers and what is said ------------------------------------------------------------------------
def _numbers(
    job: Job, stock: Stock | None, own: Region, followed: Region, outs: list[tuple[Follow, Outcome]]
) -> dict[str, Any]:
    numbers: dict[str, Any] = {**numbers_of(own), "face": job.face}
    if job.stages:
        last = job.stages[-1]
        numbers |= {
            "follower_mm": last.diameter,
            "cutter_mm": last.cutter,
            "follower_offset_mm": last.offset,
            "edge_perimeter_mm": followed.perimeter,
            "edge_area_mm2": followed.area,
            "edge_bounds_mm": [v + 0.0 for v in followed.bounds],
        }
    if len(job.stages) == 2:
        numbers["stages"] = [
            {"follower": f.kind, "follower_mm": f.diameter, "cutter_mm": f.cutter, "follower_offset_mm": f.offset}
            for f in job.stages
        ]
        what = "ledge_mm" if job.cavity is not None else "left_by_first_mm"
        numbers[what] = job.stages[0].offset - job.stages[1].offset
    if outs:
        residues = [r for _, out in outs for r in out.residues]
        numbers |= {
            "result_worst_mm": max(out.worst_mm for _, out in outs),
            "result_corner_mm": max(out.corner_mm for _, out in outs),
            "result_area_mm2": outs[-1][1].result.area,
            "residue_mm2": sum((out.residue_mm2 for _, out in outs), 0.0),
            "residue_places_mm": [list(r.at) for r in residues],
            "residue_deep_mm": [r.depth_mm for r in residues],
        }
    passes = [first_pass(f, stock.thickness_mm) for f in job.stages] if stock else []
    known = [p for p in passes if p is not None]
    if known:
        numbers["first_pass_mm"] = max(known)
    return numbers
