"""Glued blanks, simulated: what their own set-ups take, and what is left when the cut laminations are one."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding
from pipeline.proof.cutter import Bench
from pipeline.proof.loops import NOTHING, SLIVER_MM, flat, middle, thick, united
from pipeline.proof.matching import Told
from pipeline.proof.simulate import Read, compared, joined
from pipeline.proof.solids import SAME_MM, Solid, as_cut, as_machined
from pipeline.steps.values import Blank, Cut, Derived

SPAN_MM = 0.1
"""Spans of height thinner than this are glue lines and rounding; nothing is said of them."""


def cut_blanks(
    derived: Derived, read: Read, solids: Mapping[str, Solid], benches: Mapping[str, Bench]
) -> list[Finding]:
    """What is off in the cut of the glued blanks. ``solids`` are the pieces as cut, by name."""
    findings: list[Finding] = []
    for blank in derived.blanks:
        files = [(w, d) for w, d in read if w.kind == "set-up" and w.blank and w.subjects == (blank.name,)]
        if len(files) != len(blank.set_ups):
            continue  # a file that is missing or broken is told already
        machined: Solid | None = None
        if files:
            bench, told = benches[files[0][0].shop.name], Told(file=files[0][0].path, want=files[0][0])
            machined = joined([as_cut(w, d, bench, blank.thickness_mm, turned_back=True) for w, d in files])
            design = as_machined(blank.set_ups, laser=bench.shop.process == "laser")
            design = replace(design, parts=united([flat(p.outer) for p in blank.region]))
            cut = (
                machined if machined.outer else replace(machined, parts=design.parts, outer=_outers(design.parts))
            )
            findings += compared(told, blank.name, cut, design, blank.thickness_mm, turned_back=True)[0]
        else:
            told = Told(file=blank.laminations[0].piece if blank.laminations else blank.name)
        findings += _glued(derived, blank, machined, solids, told)
    return findings


def _outers(shape: BaseGeometry) -> tuple[BaseGeometry, ...]:
    return tuple(shapely.get_parts(shape).tolist())


# -- the laminations as one -----------------------------------------------------------------------------
def _glued(
    derived: Derived, blank: Blank, machined: Solid | None, solids: Mapping[str, Solid], told: Told
) -> list[Finding]:
    """Compare the laminations as cut, with what is machined after glue-up, with the cuts of the design by height.

    Only for a stack (a carved blank is no prism) of which every lamination was simulated, and whose sheets add up
    to its thickness (a measured blank differs by its glue). What is left for by hand may be there or not.
    """
    made, layers = derived.results[blank.step], blank.laminations
    rows: Sequence[Mapping[str, Any]] = made.numbers.get("cuts", ())
    if not layers or made.kind != "stack" or "cuts" not in made.numbers:
        return []
    if any(v.piece not in solids for v in layers) or abs(layers[-1].z1 - blank.thickness_mm) > SAME_MM:
        return []
    total = blank.thickness_mm
    voids = [v for v in (_void(derived, blank, row) for row in rows) if v is not None]
    index = united(
        [flat(c) for r in derived.results.values() for k in r.cuts if k.index for c in k.region.contours]
    )
    drilled = [flat(c) for s in blank.set_ups for op in s.ops if op.work == "DRILL" for c in op.contours]
    index = united([index, *drilled])  # holes that tell a depth for handwork are no cuts of the stack
    outline = united([flat(p.outer) for p in blank.region])
    outline = shapely.difference(outline, united([flat(h) for p in blank.region for h in p.holes]))
    worst: dict[bool, tuple[BaseGeometry, float, float]] = {}
    for v in layers:
        solid = solids[v.piece]
        tall = v.z1 - v.z0
        found = {z + v.z0 for t in solid.taken for z in t.heights(tall)}
        found |= {z for z0, z1, *_ in voids for z in (z0, z1)}
        found |= {z for t in (machined.taken if machined else ()) for z in t.heights(total)}
        heights = sorted({v.z0, v.z1, *(z for z in found if v.z0 < z < v.z1)})
        for z0, z1 in itertools.pairwise(heights):
            if z1 - z0 < SPAN_MM:
                continue
            z = (z0 + z1) / 2
            gone = united([solid.removed(z - v.z0, tall), *([machined.removed(z, total)] if machined else [])])
            gone = united([shapely.difference(outline, solid.parts), gone])
            may = united([index, *(shape for a, b, shape, _ in voids if a < z < b)])
            must = united([shape for a, b, shape, sure in voids if sure and a < z < b])
            spared = united([solid.residue, *([machined.residue] if machined else [])])
            over = shapely.difference(shapely.intersection(gone, outline), _wider(may))
            left = shapely.difference(shapely.intersection(must, outline), united([gone, _wider(spared)]))
            for kind, area in ((True, over), (False, left)):
                core = thick(area)
                if not core.is_empty and (kind not in worst or area.area > worst[kind][0].area):
                    worst[kind] = (shapely.intersection(area, shapely.buffer(core, 2 * SLIVER_MM)), z0, z1)
    return [_said(told, blank, gone, *found) for gone, found in worst.items()]


def _wider(shape: BaseGeometry) -> BaseGeometry:
    return NOTHING if shape.is_empty else shapely.buffer(shape, 2 * SLIVER_MM, quad_segs=2)


def _said(told: Told, blank: Blank, gone: bool, shape: BaseGeometry, z0: float, z1: float) -> Finding:
    x, y = middle(shape)
    what = "is gone that the design keeps" if gone else "still stands that the design takes away"
    return told.finding(
        f"Glued together, the laminations of {blank.name} as their files cut them aren't the design's: "
        f"{shape.area:.2f} mm² {what}, from {z0:.2f} to {z1:.2f} above the back.",
        at=told.want.seen.point(x, y) if told.want else None,
        subject=blank.name,
        measured=shape.area,
        limit=0.0,
        unit="mm²",
    )


Void = tuple[float, float, BaseGeometry, bool]
"""Lowest and highest z, the area, and whether files must take it."""


def _void(derived: Derived, blank: Blank, row: Mapping[str, Any]) -> Void | None:
    """One cut of the design. A slope counts down to its shallow end as gone, below it as what may go."""
    cut = next((c for r in derived.results.values() for c in r.cuts if _is(c, row)), None)
    if cut is None:
        return None
    shape = united([flat(c) for c in cut.region.contours if c.area > 0])
    shape = shapely.difference(shape, united([flat(c) for c in cut.region.contours if c.area < 0]))
    low, high = _heights(row, cut, blank.thickness_mm)
    spec = derived.recipe.steps[blank.step].spec
    sure = cut.step not in blank.by_hand and cut.depth.tilt is None and not getattr(spec, "opening_allowance", 0.0)
    return low, high, shape, sure


def _is(cut: Cut, row: Mapping[str, Any]) -> bool:
    return bool(cut.name == row.get("cut") and cut.step == row.get("step") and not cut.index)


def _heights(row: Mapping[str, Any], cut: Cut, total: float) -> tuple[float, float]:
    """Lowest and highest z; an overrun slope may run past its shape's deep end."""
    within = row.get("z_mm")
    if within is not None:
        return float(min(within)), float(max(within))
    floor = float(row["deep_floor_z_mm"])
    if cut.depth.rule == "through":
        return 0.0, total
    if cut.depth.tilt is not None:
        floor = 0.0 if cut.face == "front" else total
    return (floor, total) if cut.face == "front" else (0.0, floor)
