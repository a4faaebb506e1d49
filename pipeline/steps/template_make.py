"""Makes a template: its edge from the follower, its plate, its text, and what will come out by it."""

from __future__ import annotations

from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.common import Stock, mm, place_in, refuse_all, sheet_of
from pipeline.steps.follow import Outcome, outcome
from pipeline.steps.labels import fits_well, placed
from pipeline.steps.measures import inside_point, numbers_of
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.template import Follow, Spec, problems
from pipeline.steps.values import Cut, Label, Piece, Result, World

MARGIN_MM = 90.0
"""Round an opening: the router's base, about 80 in radius, and 10 (trade.md 5.2, derived)."""
PLATE_CORNER_MM = 10.0
RESIDUE_MM2 = 0.05
"""Residue that is worth a word (trade.md 8, check 1)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """The template as a piece; ``region`` is its own solid, ``numbers`` say what comes out."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    stock = sheet_of(world, step, "sheet", spec.sheet)
    wanted, cut = _wanted(step, spec, world)
    face: FaceName = spec.face or (cut.face if cut else "front")
    o = spec.follow.offset
    followed = offset(wanted, -o if spec.use == "outside" else o) if o else wanted
    if not followed:
        raise refuse(
            f"Nothing is left of the template {name}: its edge lies {mm(o)} mm inside {spec.of}.",
            place=place_in(step, "follow"),
            expected="a follower nearer to the cutter's size",
        )
    out = outcome(wanted, followed, spec.use, spec.follow.diameter, spec.follow.cutter)
    plate = followed if spec.use == "outside" else _plate(followed, spec.margin or MARGIN_MM)
    body = plate if spec.use == "outside" else difference(plate, followed)
    findings = _findings(step, spec, wanted, out)
    reports: list[str] = []
    if spec.use == "opening" and len(body.parts) > 1:
        findings.append(_island(step, spec, body))
        body = Region((max(body.parts, key=lambda p: p.outer.area),))

    pins = _pins(spec, world, body)
    if spec.index and not pins:
        reports.append(f"{name}: no index hole of {spec.index} falls inside its own solid, so it carries none.")
    solid_ = difference(body, *(c.region for c in pins)) if pins else body
    pieces: list[Piece] = []
    for i, part in enumerate(body.parts, start=1):
        own = name if len(body.parts) == 1 else f"{name}-{i}"
        mine = tuple(c for c in pins if part.polygon.intersects(c.region.polygon))
        plate = Region((part,))
        wood = difference(plate, *(c.region for c in mine)) if mine else plate
        labels = _labels(own, spec, world, stock, face, cut, wood)
        if not fits_well(labels, stock.shop):
            findings.append(_small_text(step, own, stock, labels, wood))
        panel = Panel(
            name=own, role="template", plate=plate, stock=stock, count=1, face=face, cuts=mine, labels=labels
        )
        made, found = piece_of(panel, step)
        pieces += made
        findings += found
    numbers: dict[str, Any] = {
        **numbers_of(solid_),
        "follower_mm": spec.follow.diameter,
        "cutter_mm": spec.follow.cutter,
        "follower_offset_mm": o,
        "edge_perimeter_mm": followed.perimeter,
        "edge_area_mm2": followed.area,
        "edge_bounds_mm": list(followed.bounds),
        "result_worst_mm": out.worst_mm,
        "result_corner_mm": out.corner_mm,
        "residue_mm2": out.residue_mm2,
        "index_holes": len(pins),
    }
    return Result(
        step=name,
        kind="template",
        region=solid_,
        regions=(followed,),
        pieces=tuple(pieces),
        numbers=numbers,
        reports=tuple(reports),
        findings=tuple(findings),
    )


def _wanted(step: Step, spec: Spec, world: World) -> tuple[Region, Cut | None]:
    """The shape that shall come out, overrun included, and the plan rule it belongs to, if any."""
    result = world.result(spec.of)
    cuts = result.cuts
    if cuts:
        chosen = cuts[1] if spec.recess and len(cuts) > 1 else cuts[0]
        return chosen.region, chosen
    if result.region:
        return result.region, None
    raise refuse(
        f"{step.name} needs one shape, and {spec.of} makes {len(result.regions) or 'none'}.",
        place=place_in(step, "of"),
        expected="a step that makes a single shape",
    )


def _plate(opening: Region, margin: float) -> Region:
    """The rectangle round an opening with the margin on every side."""
    x0, y0, x1, y1 = opening.bounds
    w, h = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin
    corner = min(PLATE_CORNER_MM, margin)
    return solid(rectangle(w, h, corner, x=(x0 + x1) / 2, y=(y0 + y1) / 2))


def _pins(spec: Spec, world: World, body: Region) -> tuple[Cut, ...]:
    """The index holes that fall wholly inside the template's own solid."""
    if spec.index is None:
        return ()
    holes = world.result(spec.index).cuts
    return tuple(c for c in holes if body.polygon.contains_properly(c.region.polygon))


# -- text ------------------------------------------------------------------------------------------
def _labels(
    name: str, spec: Spec, world: World, stock: Stock, face: FaceName, cut: Cut | None, body: Region
) -> tuple[Label, ...]:
    """Design, piece and revision; the face that lies up; the follower; the depth."""
    recipe = world.recipe
    revision = world.since.get(name, recipe.revision)
    lines = [
        f"{recipe.design.upper()} {name.upper().replace('_', ' ')} {revision}",
        f"{face.upper()} UP",
        follower_words(spec.follow).upper(),
    ]
    if cut is not None:
        lines.append(_depth_words(cut))
    return placed(body, tuple(lines), stock.shop)


def follower_words(follow: Follow) -> str:
    """``bearing 12.7`` where bearing and cutter are one, else ``bush 17 / cutter 8``."""
    kind = "bearing" if follow.bearing is not None else "bush"
    if follow.diameter == follow.cutter:
        return f"{kind} {follow.diameter:g}"
    return f"{kind} {follow.diameter:g} / cutter {follow.cutter:g}"


def _depth_words(cut: Cut) -> str:
    import math

    rule = cut.depth
    if rule.rule == "through":
        return "THROUGH"
    if rule.rule == "floor":
        return f"LEAVE {rule.mm:.2f}"
    if rule.tilt is None:
        return f"DEPTH {rule.mm:.2f}"
    deep = rule.mm + (rule.tilt.deep - rule.tilt.shallow) * math.tan(math.radians(rule.tilt.angle_deg))
    return f"DEPTH {rule.mm:.2f} TO {deep:.2f}"


# -- what is said ----------------------------------------------------------------------------------
def _findings(step: Step, spec: Spec, wanted: Region, out: Outcome) -> list[Finding]:
    follow = spec.follow
    kind = "bearing" if follow.bearing is not None else "bush"
    if out.empty:
        return [
            Finding(
                check="follower-too-big",
                severity="stop",
                message=f"A {kind} of {mm(follow.diameter)} doesn't go into the opening of {step.name}.",
                step=step.name,
                piece=step.name,
                at_mm=inside_point(wanted),
                measured=follow.diameter,
                limit=None,
                remedy="take a smaller follower and cutter, or widen the shape",
                place=place_in(step, "follow"),
            )
        ]
    if out.residue_mm2 <= RESIDUE_MM2:
        return []
    return [
        Finding(
            check="template-corner",
            severity="ask",
            message=(
                f"By {step.name} the shape of {spec.of} does not come out whole: {out.residue_mm2:.2f} mm² "
                f"differ, the worst corner by {out.corner_mm:.2f} mm."
            ),
            step=step.name,
            piece=step.name,
            at_mm=out.corner_at,
            measured=out.residue_mm2,
            limit=RESIDUE_MM2,
            unit="mm2",
            remedy=_corner_remedy(spec),
            place=place_in(step, "follow"),
        )
    ]


def _corner_remedy(spec: Spec) -> str:
    follow = spec.follow
    inner = f"give the inside corners of {spec.of} a radius of at least {mm(follow.cutter / 2)} mm"
    if follow.offset > 0:
        return (
            f"{inner} and the outside corners one of at least {mm(follow.offset)} mm, or take a smaller follower"
        )
    return f"{inner}, or take a smaller cutter"


def _island(step: Step, spec: Spec, body: Region) -> Finding:
    loose = min(body.parts, key=lambda p: p.outer.area)
    x, y = loose.polygon.representative_point().coords[0]
    return Finding(
        check="template-island",
        severity="ask",
        message=f"{spec.of} has an island, which falls out of the template {step.name}; it is left out.",
        step=step.name,
        piece=step.name,
        at_mm=(float(x), float(y)),
        measured=float(len(body.parts)),
        limit=1.0,
        unit="pieces",
        remedy="rout the island's edge by another template, or stick the loose piece down by hand",
        place=place_in(step, "of"),
    )


def _small_text(step: Step, name: str, stock: Stock, labels: tuple[Label, ...], body: Region) -> Finding:
    least = 2.5 if stock.shop.process == "laser" else 6.0
    height = labels[0].height_mm if labels else 0.0
    said = f"the letters on {name} are only {height:g} mm high" if labels else f"no text fits on {name}"
    return Finding(
        check="label-small",
        severity="note",
        message=f"For want of room {said}.",
        step=step.name,
        piece=name,
        at_mm=inside_point(body),
        measured=height,
        limit=least,
        remedy="write design, revision, face and follower on it by hand",
        place=place_in(step, "sheet"),
    )
