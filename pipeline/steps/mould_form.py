"""The two halves of a mould: their ribs with holes, strokes and words, and what is said of them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.parallel import extended
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import disc
from pipeline.geometry.transform import Move, shift, turn
from pipeline.geometry.wobble import Walk
from pipeline.steps.common import Stock, few_enough, mm, place_in, sheet_of
from pipeline.steps.labels import STROKE_MM, placed
from pipeline.steps.mould import Clamps, Ribs, Spec
from pipeline.steps.mould_bends import small_text
from pipeline.steps.mould_limits import Wall
from pipeline.steps.mould_line import Bent, at, folded
from pipeline.steps.mould_ribs import (
    PLAIN_DEPTH_MM,
    RIM_MM,
    SPARE_MM,
    Half,
    bolt_holes,
    clamp_holes,
    closed_half,
    open_half,
    rib_count,
    sound,
)
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Cut, Depth, Op, Piece, World

CENTRE_MM = 20.0
"""Length of the stroke that marks the middle of the form on a rib."""
SPACED = 10.0
"""Ribs stand at most this many thicknesses of what lies on them apart (trade.md 6.7, common practice)."""


def form(
    step: Step, spec: Spec, world: World, b: Bent, wall: Wall | None, ply: float
) -> tuple[list[Piece], list[Finding], dict[str, Any]]:
    """The pieces of both halves, what could not be done as asked, and their numbers. Raises Refused where they
    can't close."""
    stock = sheet_of(world, step, "sheet", spec.sheet or "")
    ribs = spec.ribs or Ribs()
    count, pitch = rib_count(spec.width + 2 * spec.trim_mm, stock.thickness_mm, ribs.every)
    few_enough(step, "ribs.every" if ribs.every else "width", count, "ribs")
    if spec.clamps:
        few_enough(step, "clamps.every", b.form.length / spec.clamps.every, "clamp holes")
    findings = _spaced(step, ribs, pitch, stock, ply)
    pieces: list[Piece] = []
    rows: list[dict[str, Any]] = []
    for half in _halves(step, spec, ribs, b, wall):
        clamped = clamp_holes(half, spec.clamps) if spec.clamps else None
        places = clamped.places if clamped else ()
        bolts = (
            bolt_holes(half, spec.bolts, places, spec.clamps.diameter if spec.clamps else 0.0)
            if spec.bolts
            else ()
        )
        own = f"{step.name}-{half.name}"
        cuts = [_hole(step, own, "bolt", i, p, spec.bolts.diameter) for i, p in enumerate(bolts, 1) if spec.bolts]
        cuts += [
            _hole(step, own, "clamp", i, p, spec.clamps.diameter) for i, p in enumerate(places, 1) if spec.clamps
        ]
        wood = difference(half.plate, *(c.region for c in cuts)) if cuts else half.plate
        stroke = _centre(half)
        revision = world.since.get(own, world.recipe.revision)
        lines = (
            f"{world.recipe.design.upper()} {own.upper().replace('_', ' ')} {revision}",
            f"{count} ALIKE",
            f"{spec.plies} PLIES, LINER {spec.liner:g}" if spec.liner else f"{spec.plies} PLIES",
        )
        keep = (solid(_beside(stroke)),)
        labels = placed(wood, lines, stock.shop, keep, mirrored=world.recipe.mirrored)
        findings += small_text(step, own, stock, labels, wood)
        panel = Panel(
            name=own,
            role="rib",
            plate=half.plate,
            stock=stock,
            count=count,
            cuts=tuple(cuts),
            labels=labels,
            ops=(Op(work="ENGRAVE", face="front", contours=(stroke,), depth_mm=STROKE_MM, step=step.name),),
        )
        made, found = piece_of(panel, step)
        pieces += made
        findings += found
        if clamped and clamped.missed and spec.clamps:
            findings.append(_missed(step, own, half, spec.clamps, clamped.missed, clamped.depth_needed_mm))
        if spec.bolts and len(bolts) < spec.bolts.count:
            findings.append(_no_bolt(step, own, len(bolts), spec.bolts.count, half))
        rows.append(
            {
                "rib": own,
                "face_mm": half.face.length,
                "bolts_at_mm": [list(p) for p in bolts],
                "clamps_at_mm": [list(p) for p in places],
            }
        )
    return pieces, findings, {"ribs": count, "rib_pitch_mm": pitch, "halves": rows}


def _halves(step: Step, spec: Spec, ribs: Ribs, b: Bent, wall: Wall | None) -> list[Half]:
    """The halves in the rib's frame: inner face at 0, outer at the thickness and the liners, skins off both."""
    depth = ribs.depth
    if depth is None:
        c = spec.clamps
        depth = c.from_face + c.diameter + RIM_MM + SPARE_MM if c else PLAIN_DEPTH_MM
    inward = b.side * (b.thickness_mm / 2 + ribs.skin)
    outward = -b.side * (b.thickness_mm / 2 + spec.liner + ribs.skin)
    faces = {
        "inner": folded(step, b.form, inward, b.thickness_mm),
        "outer": folded(step, b.form, outward, b.thickness_mm),
    }
    wanted = ("inner", "outer") if spec.halves == "both" else (spec.halves,)
    if wall is None:
        return [closed_half(h, faces[h], depth, ring=h == "outer") for h in wanted]
    move = _upright(b, wall)
    found: list[Half] = []
    for name in wanted:
        face = move.contour(extended(faces[name], spec.ends_mm))
        if b.side > 0:  # left is inside, and inside is below: it runs toward -x
            face = face.reversed()
        half = open_half(name, face, depth, above=name == "outer")
        if (wall.worst_deg > 90.0 or not sound(half)) and spec.halves == "inner":
            half = open_half(name, face, depth, above=False, chord=True)
        if (wall.worst_deg > 90.0 and spec.halves != "inner") or not sound(half):
            raise refuse(
                f"The wall of {step.name} stands at {wall.worst_deg:.1f} degrees to the press, so the halves "
                "can't close on it.",
                place=place_in(step, "press" if spec.press else "curve"),
                expected="at most 90 degrees, of which more than 60 press badly",
                remedy="Take the inner half alone, with straps or a vacuum bag (`halves: inner`), or open the "
                "bend.",
            )
        found.append(half)
    return found


def _upright(b: Bent, wall: Wall) -> Move:
    """Turns the way in which the outer half goes to -y, and the form's middle to the origin."""
    walk = Walk.of(b.form)
    x, y = walk.at(np.array([walk.length / 2]))[0][0]
    return shift(-float(x), -float(y)).then(turn(-90.0 - wall.press_deg))


def _centre(half: Half) -> Contour:
    """A stroke from the middle of the face into the wood."""
    walk = Walk.of(half.face)
    p, way = (v[0] for v in walk.at(np.array([walk.length / 2])))
    into = half.wood * np.array([-way[1], way[0]])
    return line_chain([p, p + CENTRE_MM * into], closed=False)


def _beside(stroke: Contour) -> Contour:
    (x0, y0), (x1, y1) = stroke.xy.tolist()
    dx, dy = (y1 - y0) / CENTRE_MM, (x0 - x1) / CENTRE_MM
    return line_chain([(x0 - dx, y0 - dy), (x0 + dx, y0 + dy), (x1 + dx, y1 + dy), (x1 - dx, y1 - dy)])


def _hole(step: Step, rib: str, what: str, number: int, p: tuple[float, float], diameter: float) -> Cut:
    hole = disc(p[0], p[1], diameter / 2)
    return Cut(
        step=step.name,
        name=f"{rib}-{what}-{number}",
        region=hole,
        design=hole,
        face="front",
        depth=Depth(rule="through"),
        diameter_mm=diameter if what == "bolt" else None,
    )


# -- what is said ----------------------------------------------------------------------------------
def _spaced(step: Step, ribs: Ribs, pitch: float, stock: Stock, ply: float) -> list[Finding]:
    limit = SPACED * (ribs.skin or ply)
    if pitch <= max(stock.thickness_mm, limit) + 1e-9:
        return []
    on = f"a skin of {mm(ribs.skin)}" if ribs.skin else f"plies of {mm(ply)}"
    return [
        Finding(
            check="ribs-apart",
            severity="ask",
            message=f"The ribs of {step.name} stand {mm(pitch)} mm apart, and {on} mm would sag between them.",
            step=step.name,
            measured=pitch,
            limit=limit,
            remedy=f"set them at most {mm(limit)} mm apart, or bend a skin of {mm(pitch / SPACED)} mm over them",
            place=place_in(step, "ribs.every"),
        )
    ]


def _missed(
    step: Step, rib: str, half: Half, clamps: Clamps, missed: tuple[tuple[float, float], ...], needed: float
) -> Finding:
    _, y0, _, y1 = half.plate.bounds
    _, low, _, high = half.face.bounds
    depth = y1 - high if half.wood > 0 else low - y0
    where = ", ".join(at(*p) for p in missed[:4]) + (", …" if len(missed) > 4 else "")
    deeper = (
        f"make the ribs {mm(math.ceil(needed - 1e-6))} mm deep (`depth:` of `ribs:`)"
        if needed > depth + 0.1
        else ("clamp there over the whole rib")
    )
    return Finding(
        check="clamp-place",
        severity="ask",
        message=(
            f"{rib} has no room for a clamp hole of {mm(clamps.diameter)} mm square behind {len(missed)} "
            f"{'place' if len(missed) == 1 else 'places'} of its face: {where}."
        ),
        step=step.name,
        piece=rib,
        at_mm=missed[0],
        measured=float(len(missed)),
        limit=0.0,
        unit="places",
        remedy=f"{deeper}, or take smaller holes",
        place=place_in(step, "clamps"),
    )


def _no_bolt(step: Step, rib: str, found: int, wanted: int, half: Half) -> Finding:
    x0, y0, _, _ = half.plate.bounds
    return Finding(
        check="bolt-place",
        severity="ask",
        message=f"{rib} has room for {found} of {wanted} bolts.",
        step=step.name,
        piece=rib,
        at_mm=(x0, y0),
        measured=float(found),
        limit=float(wanted),
        unit="bolts",
        remedy=f"make the ribs deeper, or take {max(found, 2)} bolts",
        place=place_in(step, "bolts"),
    )
