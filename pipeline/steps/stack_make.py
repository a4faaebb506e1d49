"""Makes a stack: glue-line heights, what is cut in each lamination, and the glued blank.

trade.md's rules (common practice, no source) as computed here: a cavity whose floor lies below a
lamination goes through it, one that ends inside it becomes a pocket of the remaining depth, one that
ends above leaves it whole. What a shop can't cut before glue-up is left for after it, and said.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

from pipeline.core.errors import Problem, Refused
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.shop import Shop
from pipeline.geometry.boolean import intersection, union
from pipeline.geometry.morph import closing
from pipeline.geometry.offset import offset
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule
from pipeline.steps.blank import blank_set_ups
from pipeline.steps.common import Stock, sheet_of
from pipeline.steps.heights import Floor, Span, floor_of, spans
from pipeline.steps.lamination import Layer, cut_layer
from pipeline.steps.solids import body
from pipeline.steps.stack import Spec
from pipeline.steps.values import Blank, Cut, Lamination, Piece, Result, World

EAR_RIM_MM = 9.0
"""Wood left round an index pin in an ear (common practice, no source)."""
EAR_FILLET_MM = 8.0
"""Radius where an ear meets the edge (common practice, no source)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """The laminations as pieces, the blank with its set-ups, and the heights it all follows from."""
    step = world.recipe.steps[name]
    outline = _outline(world, spec.outline)
    stock = [sheet_of(world, step, f"laminations.{i}", s) for i, s in enumerate(spec.laminations)]
    levels = spans(tuple(s.thickness_mm for s in stock), spec.glue)
    computed = levels[-1].z1
    total = world.blank_measured.get(name, computed)

    _check_confined(step, spec, world, len(levels))
    edge = offset(outline, spec.allowance) if spec.allowance else outline
    holes = _index_cuts(world, spec)
    grown, ear_numbers = _with_ears(edge, outline, world, spec)

    before = _floors(world, spec.cut, computed)
    after = _floors(world, [s for s in spec.cut_blank if s != spec.outline], total)
    hand = _floors(world, spec.by_hand, total)

    pieces: list[Piece] = []
    rows: list[dict[str, Any]] = []
    findings: list[Finding] = []
    left_for_later: list[str] = []
    for span, s in zip(levels, stock, strict=True):
        layer = Layer(
            name=f"{name}-{span.number}" if len(levels) > 1 else name,
            span=span,
            stock=s,
            count=world.recipe.make,
            outline=outline,
            edge=grown,
            floors=before,
            index=tuple(c for c, early in holes if early),
            allowance=spec.allowance,
        )
        made = cut_layer(layer, step)
        pieces.append(made.piece)
        rows.append({"lamination": span.number, "piece": made.piece.name, "work": list(made.rows)})
        findings += made.findings
        left_for_later += [f.cut.step for f in made.later]

    layers = _glued_layers(levels, computed, stock)
    # By the sheets, also when the blank was measured: its height then differs by glue, not by wood.
    sawn = _floors(world, [s for s in spec.cut_blank if s != spec.outline], computed)
    solid_ = body(outline, layers, [*before, *sawn]) if layers else None
    shop = stock[0].shop if not spec.cut_blank else _router(world, stock[0].shop)
    blank = Blank(
        name=name,
        step=name,
        shop=shop.name,
        count=world.recipe.make,
        laminations=tuple(
            Lamination(number=v.number, sheet=s.stock, letter=s.letter, z0=v.z0, z1=v.z1, piece=p.name)
            for v, s, p in zip(levels, stock, pieces, strict=True)
        ),
        thickness_mm=total,
        region=outline,
        set_ups=blank_set_ups(spec, outline, grown, before, after, holes),
        mass_g=solid_.mass_g if solid_ else None,
        centre_mm=solid_.centre_mm if solid_ else None,
        by_hand=(*spec.by_hand, *dict.fromkeys(left_for_later)),
    )
    numbers: dict[str, Any] = {
        "thickness_mm": total,
        "computed_thickness_mm": computed,
        "spans_mm": [[v.z0, v.z1] for v in levels],
        "cuts": [_cut_row(f, levels) for f in (*before, *after, *hand)],
        "laminations": rows,
        "glue_area_mm2": _glue_areas(pieces),
        **ear_numbers,
    }
    reports = (_sentence(name, levels, total, computed),)
    return Result(
        step=name,
        kind="stack",
        region=outline,
        pieces=tuple(pieces),
        blanks=(blank,),
        numbers=numbers,
        reports=reports,
        findings=tuple(findings),
    )


def _check_confined(step: Step, spec: Spec, world: World, count: int) -> None:
    """Cuts inside one lamination are made before glue-up, in a lamination that exists. Raises Refused."""
    problems: list[Problem] = []
    for field, names in (("cut", spec.cut), ("cut_blank", spec.cut_blank)):
        for name in names:
            inside = {c.lamination for c in world.result(name).cuts if c.lamination is not None}
            if inside and field == "cut_blank":
                problems.append(
                    Problem(
                        wrong=f"{name} lies inside one lamination, so it can't be cut in the glued blank.",
                        place=step.place(field),
                        remedy=f"name {name} under `cut:`, which is done before glue-up",
                    )
                )
            problems += [
                Problem(
                    wrong=f"{name} names lamination {n}, and {step.name} has {count}.",
                    place=world.recipe.steps[name].place("lamination"),
                    expected=f"a number from 1 (at the back) to {count}",
                )
                for n in sorted(inside)
                if not 1 <= n <= count
            ]
    if problems:
        raise Refused(problems)


# -- parts of the work ---------------------------------------------------------------------------
def _outline(world: World, step: str) -> Region:
    region = world.result(step).region
    assert region is not None, f"{step} gives no region"
    return region


def _floors(world: World, names: Iterable[str], total: float) -> tuple[Floor, ...]:
    """The floors of the plan rules of some steps, index holes left out."""
    return tuple(floor_of(cut, total) for n in names for cut in world.result(n).cuts if not cut.index)


def _index_cuts(world: World, spec: Spec) -> tuple[tuple[Cut, bool], ...]:
    """Index holes, and whether they are bored in the laminations (else in the blank)."""
    found: list[tuple[Cut, bool]] = []
    for names, early in (
        ((spec.ears,) if spec.ears else (), True),
        (spec.cut, True),
        (spec.cut_blank, False),
    ):
        for n in names:
            if n == spec.outline or any(c.step == n for c, _ in found):
                continue
            found += [(c, early) for c in world.result(n).cuts if c.index]
    return tuple(found)


def _with_ears(edge: Region, outline: Region, world: World, spec: Spec) -> tuple[Region, dict[str, Any]]:
    """The cut edge with a waste tab for every pin that stands outside it.

    A tab is what a straight neck of the ear's width sweeps from the pin to just inside the edge; it runs into the
    edge with a fillet, so that no corner is too sharp for a cutter.
    """
    if spec.ears is None:
        return edge, {}
    tabs: list[Region] = []
    for cut in world.result(spec.ears).cuts:
        x, y = cut.region.centroid
        width = (cut.diameter_mm or 0.0) + 2 * EAR_RIM_MM
        gap, (px, py) = nearest_boundary(edge, x, y)
        inside = edge.polygon.covers(cut.region.polygon.centroid)
        if inside and gap >= width / 2:
            continue
        # Anchor the neck a full width inside, along the way in from the pin.
        cx, cy = outline.centroid
        dx, dy = (px - x, py - y) if not inside and gap > 1e-6 else (cx - x, cy - y)
        length = (dx * dx + dy * dy) ** 0.5
        anchor = (px + dx / length * width / 2, py + dy / length * width / 2)
        tabs.append(solid(capsule((x, y), anchor, width)))
    if not tabs:
        return edge, {"ears": 0}
    joined = union(edge, *tabs)
    near = union(*(offset(t, 2 * EAR_FILLET_MM) for t in tabs))
    return union(joined, intersection(closing(joined, EAR_FILLET_MM), near)), {"ears": len(tabs)}


def _glued_layers(levels: tuple[Span, ...], total: float, stock: list[Stock]) -> list[tuple[Span, float]]:
    """Spans that touch (each glue line counted with the sheet below) with densities; empty when one is unknown."""
    tops = [v.z0 for v in levels[1:]] + [total]
    found = [
        (Span(number=v.number, z0=v.z0, z1=top), s.sheet.density)
        for v, top, s in zip(levels, tops, stock, strict=True)
        if s.sheet.density
    ]
    return found if len(found) == len(levels) else []


def _glue_areas(pieces: list[Piece]) -> list[float]:
    """Area that is glued at each interface, from the back, to the design edge."""
    return [intersection(a.region, b.region).area for a, b in pairwise(pieces)]


def _router(world: World, fallback: Shop) -> Shop:
    """The shop that machines the glued blank: the first router of the recipe."""
    return next((s for s in world.recipe.shops.values() if s.process == "router"), fallback)


def _cut_row(floor: Floor, levels: tuple[Span, ...]) -> dict[str, Any]:
    """What packet.json says of one cut in the blank, with the crossings of a ramp and the glue lines."""
    cut = floor.cut
    row: dict[str, Any] = {
        "cut": cut.name,
        "step": cut.step,
        "face": cut.face,
        "rule": cut.depth.rule,
        "depth_mm": floor.depth,
        "deep_mm": floor.deep,
        "floor_z_mm": floor.height(floor.depth),
        "deep_floor_z_mm": floor.height(floor.deep),
        "remains_mm": floor.total - floor.deep,
    }
    if cut.lamination is not None:
        span = levels[cut.lamination - 1] if cut.lamination <= len(levels) else levels[-1]
        depth = span.thickness if cut.depth.rule in ("sheet", "through") else cut.depth.mm
        z = (span.z1, span.z1 - depth) if cut.face == "front" else (span.z0, span.z0 + depth)
        row |= {"lamination": cut.lamination, "depth_mm": depth, "deep_mm": depth, "z_mm": sorted(z)}
        row |= {"floor_z_mm": z[1], "deep_floor_z_mm": z[1], "remains_mm": span.thickness - depth}
    tilt = cut.depth.tilt
    if tilt and floor.slope:
        heights = [z for v in levels for z in (v.z0, v.z1)]
        row["crossings"] = [
            {"z_mm": z, "at_mm": floor.s_at(floor.total - z if cut.face == "front" else z)}
            for z in heights
            if floor.depth < (floor.total - z if cut.face == "front" else z) < floor.deep
        ]
    return row


# -- what is said ----------------------------------------------------------------------------------
def _sentence(name: str, levels: tuple[Span, ...], total: float, computed: float) -> str:
    heights = ", ".join(f"{v.z0:.2f}-{v.z1:.2f}" for v in levels)
    measured = f" (measured; the sheets and glue lines add up to {computed:.2f})" if total != computed else ""
    return f"{name}: {len(levels)} laminations at z {heights}; the blank is {total:.2f} mm thick{measured}."
