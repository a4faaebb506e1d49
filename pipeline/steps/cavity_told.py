"""What a cavity states beside its shape: what its cutter leaves, relief, followers, tilt, the skin under a nut."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.standard import part_of
from pipeline.geometry.boolean import difference
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.steps.cavity import Ledge, Spec
from pipeline.steps.cavity_neck import drop_mm, heel_gap_mm, reach_mm
from pipeline.steps.cavity_relief import (
    SQUARE_DEG,
    Corner,
    largest_clean_mm,
    overcut_mm,
    residue,
    sharp_corners,
)
from pipeline.steps.cavity_skin import NUT_MM, SKIN_MM, chosen_cutter, skin_finding
from pipeline.steps.common import mm, place_in
from pipeline.steps.values import Cut, Depth, Tilt, World

SAME_MM = 1e-4
LEDGE_OFF_MM = 0.05
"""A ledge may come out this much wider or narrower by its followers without a question."""


def made(
    step: Step, spec: Spec, design: Region, depth: Depth, thick_mm: float | None, world: World
) -> dict[str, Any]:
    """`made`: what the recipe's cutter leaves in the corners, else the shop's smallest that reaches the floor;
    nothing where a laser alone cuts it. ``largest_clean_mm`` is the largest cutter that leaves nothing."""
    if spec.cutter is not None:
        cutter, whose = spec.cutter, "recipe"
    else:
        reach = depth.mm if depth.rule == "depth" else None
        if reach is None and thick_mm is not None:
            reach = thick_mm - depth.mm if depth.rule == "floor" else thick_mm
        found = chosen_cutter(step.name, world.recipe, reach)
        if found is None:
            return {}
        cutter, whose = found.DC, "shop"
    told = residue(design, cutter)
    return {"made": {**told, "chosen": whose, "largest_clean_mm": largest_clean_mm(design)}}


def kept_corners(design: Region, region: Region) -> tuple[Corner, ...]:
    """The sharp corners of a cavity that are corners of what is cut too: not those at its open side."""
    cut = np.array([c.at for c in sharp_corners(region)]).reshape(-1, 2)
    return tuple(
        c for c in sharp_corners(design) if len(cut) and np.hypot(*(cut - np.array(c.at)).T).min() <= SAME_MM
    )


def relief(name: str, spec: Spec, corners: tuple[Corner, ...], added_mm2: float) -> tuple[dict[str, Any], str]:
    """What a cavity states of its relief circles, and the sentence for the maker."""
    assert spec.cutter is not None
    r = spec.cutter / 2
    bites = [r if _bites(spec, c) else overcut_mm(r, c.angle_deg) for c in corners]
    told = {
        "form": spec.relief,
        "cutter_mm": spec.cutter,
        "added_mm2": added_mm2,
        "corners": [
            {"at_mm": list(c.at), "angle_deg": c.angle_deg, "overcut_mm": bite}
            for c, bite in zip(corners, bites, strict=True)
        ],
    }
    if not corners:
        return told, f"{name}: no corner is sharp, so no relief was cut."
    deepest = max(bites)
    if spec.relief == "t-bone":
        other = sum(not _bites(spec, c) for c in corners)
        more = f"; {other} of them are not square and got a circle on their bisector" if other else ""
    else:
        more = ""
    return told, (
        f"{name}: {len(corners)} corners are relieved by circles of {mm(spec.cutter)}, which bite at most "
        f"{mm(deepest)} into a wall{more}. Look that the part covers them."
    )


def _bites(spec: Spec, corner: Corner) -> bool:
    return spec.relief == "t-bone" and abs(corner.angle_deg - 90.0) <= SQUARE_DEG


def followers(step: Step, ledge: Ledge, wide: Region, design: Region) -> tuple[dict[str, Any], list[Finding]]:
    """A recess and its cavity by one template with two followers (trade.md 5.1): the template is the recess, a
    bearing cuts the recess, a bush of B with a cutter of D makes the cavity = (recess ⊖ B/2) ⊕ D/2, so the ledge
    is (B − D)/2 wide. ``off_mm2`` is what that cavity differs from the wanted one by."""
    assert ledge.bush is not None
    assert ledge.cutter is not None
    o = (ledge.bush - ledge.cutter) / 2
    inner = offset(wide, -ledge.bush / 2)
    comes = offset(inner, ledge.cutter / 2) if inner else inner
    off = float(design.area if not comes else difference(design, comes).area + difference(comes, design).area)
    told = {
        "bush_mm": ledge.bush,
        "cutter_mm": ledge.cutter,
        "bush_offset_mm": o,
        "ledge_off_mm": o - ledge.width,
        "off_mm2": off,
        "fits": bool(comes),
    }
    if abs(o - ledge.width) <= LEDGE_OFF_MM:
        return told, []
    return told, [
        Finding(
            check="ledge-follower",
            severity="ask",
            message=(
                f"A bush of {mm(ledge.bush)} with a cutter of {mm(ledge.cutter)} leaves a ledge of {mm(o)}, and "
                f"{step.name} asks for {mm(ledge.width)}."
            ),
            step=step.name,
            at_mm=design.centroid,
            face=step.spec.face,
            measured=o,
            limit=ledge.width,
            remedy=(
                f"make the ledge {mm(o)} wide, or take a bush of {mm(ledge.cutter + 2 * ledge.width)} "
                "with that cutter"
            ),
            place=place_in(step, "ledge.width"),
        )
    ]


def tilted(
    name: str, spec: Spec, depth: Depth, tilt: Tilt, thick_mm: float | None
) -> tuple[dict[str, Any], list[str]]:
    """The rise of a sloped floor; for a neck from heights h and L as well; where depths are known the gap of an
    upright heel and the floor that is left (trade.md 3.2)."""
    span = tilt.deep - tilt.shallow
    slope = math.tan(math.radians(tilt.angle_deg))
    told: dict[str, Any] = {
        "tilt_deg": tilt.angle_deg,
        "tilt_span_mm": span,
        "tilt_rise_mm": span * slope,
    }
    said: list[str] = []
    heights = spec.tilt.heights if spec.tilt is not None else None
    if heights is not None:
        h, length = drop_mm(heights), reach_mm(heights)
        told |= {"tilt_h_mm": h, "tilt_length_mm": length}
        said.append(
            f"{name}: the strings stand {mm(h)} above the plane of the board over {mm(length)}, so the floor "
            f"tilts by {tilt.angle_deg:.3f} degrees."
        )
    shallow = depth.mm if depth.rule == "depth" else None
    if shallow is None and thick_mm is not None:
        shallow = thick_mm - depth.mm - span * slope
    if shallow is not None and shallow > 0:
        gap = heel_gap_mm(shallow, tilt.angle_deg)
        told["heel_gap_mm"] = gap
        said.append(
            f"{name}: its walls are upright and what sits on the sloped floor leans, so {mm(shallow)} deep its "
            f"end stands {mm(gap)} off at the face; shave that end, or leave the gap."
        )
        if thick_mm is not None:
            told["floor_left_mm"] = thick_mm - shallow - span * slope
    return told, said


def skins(
    step: Step, spec: Spec, cut: Cut, depth: Depth, thick_mm: float | None, world: World
) -> tuple[dict[str, Any], list[Finding]]:
    """The skin that the parts of `holds:` go through: its bounds, and a finding where a nut won't catch."""
    if not spec.holds:
        return {}, []
    skin = depth.mm if depth.rule == "floor" else None
    if depth.rule == "depth" and thick_mm is not None:
        skin = thick_mm - depth.mm
    rows: dict[str, Any] = {}
    found: list[Finding] = []
    for name in spec.holds:
        part = part_of(world.recipe, name)
        assert part is not None  # `problems` has seen to it
        rows[name] = {"thread_mm": part.thread, "skin_mm": [SKIN_MM, part.thread - NUT_MM]}
        finding = skin_finding(step, cut, skin, name, part) if skin is not None else None
        if finding is not None:
            found.append(finding)
    return {"skin_mm": skin, "holds": rows}, found
