"""Makes a stack: glue-line heights, what is cut in each lamination, and the glued blank.

trade.md's rules (common practice, no source) as computed here: a cavity whose floor lies below a
lamination goes through it, one that ends inside it becomes a pocket of the remaining depth, one that
ends above leaves it whole. What a shop can't cut before glue-up is left for after it, and said.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pipeline.core.errors import Problem, Refused
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.shop import Shop
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.steps.blank import blank_set_ups, bores_of
from pipeline.steps.chambers_solve import Uncut, hollowed
from pipeline.steps.common import Stock, refuse_all, sheet_of
from pipeline.steps.edge_ground import ground
from pipeline.steps.edge_make import treated
from pipeline.steps.heights import Floor, Span, floor_of, spans
from pipeline.steps.lamination import Cutting, Layer, cut_layer
from pipeline.steps.solids import body
from pipeline.steps.stack import Spec, problems, trimmed_later
from pipeline.steps.stack_ears import index_cuts, with_ears
from pipeline.steps.stack_rows import cut_row, sentence, trimmed_sentences
from pipeline.steps.stack_told import Made, told
from pipeline.steps.values import Blank, Lamination, Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The laminations as pieces, the blank with its set-ups, and the heights it all follows from."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    outline = _outline(world, spec.outline)
    stock = [sheet_of(world, step, f"laminations.{i}", s) for i, s in enumerate(spec.laminations)]
    levels = spans(tuple(s.thickness_mm for s in stock), spec.glue)
    computed = levels[-1].z1
    total = world.blank_measured.get(name, computed)

    _check_confined(step, spec, world, len(levels))
    edge = offset(outline, spec.allowance) if spec.allowance else outline
    holes = index_cuts(world, spec)
    grown, ear_numbers = with_ears(edge, outline, world, spec)

    before = _floors(world, spec.cut, computed)
    after = _floors(world, [s for s in spec.cut_blank if s != spec.outline], total)
    hand = _floors(world, spec.by_hand, total)
    layers = _glued_layers(levels, computed, stock)
    # By the sheets, also when the blank was measured: its height then differs by glue, not by wood.
    sawn = _floors(world, [s for s in spec.cut_blank if s != spec.outline], computed)
    hollow = hollowed(
        world,
        Uncut(
            stack=step,
            outline=outline,
            levels=levels,
            layers=layers,
            floors=(*before, *sawn),
            by_hand=_floors(world, spec.by_hand, computed),
            index=tuple(c for c, _ in holes),
        ),
    )
    before = (*before, *hollow.floors)

    smaller = _smaller(spec, before)
    cuttings: list[Cutting] = []
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
            smaller=smaller,
        )
        made = cut_layer(layer, step)
        cuttings.append(made)
        rows.append({"lamination": span.number, "piece": made.piece.name, "work": list(made.rows)})
        findings += made.findings
        left_for_later += [f.cut.step for f in made.later]

    solid_ = body(outline, layers, [*before, *sawn]) if layers else None
    edges = treated(ground(step, world, outline, levels, total, (*before, *after, *hand), layers), spec.edge)
    shop = stock[0].shop if not (spec.cut_blank or edges.guides) else _router(world, stock[0].shop)
    blank = Blank(
        name=name,
        step=name,
        shop=shop.name,
        count=world.recipe.make,
        laminations=tuple(
            Lamination(number=v.number, sheet=s.stock, letter=s.letter, z0=v.z0, z1=v.z1, piece=c.piece.name)
            for v, s, c in zip(levels, stock, cuttings, strict=True)
        ),
        thickness_mm=total,
        region=outline,
        set_ups=edges.drawn(
            blank_set_ups(spec, outline, grown, before, (*after, *edges.guides), holes, bores_of(spec, world))
        ),
        mass_g=solid_.mass_g if solid_ else None,
        centre_mm=solid_.centre_mm if solid_ else None,
        by_hand=tuple(dict.fromkeys((*spec.by_hand, *left_for_later))),
        edges=edges.runs,
    )
    more = told(
        step,
        spec,
        world.recipe,
        Made(
            stock=stock,
            levels=levels,
            cuttings=cuttings,
            outline=outline,
            grown=grown,
            floors=before,
            pins=tuple(c for c, _ in holes),
            total=total,
            computed=computed,
        ),
    )
    numbers: dict[str, Any] = {
        "thickness_mm": total,
        "computed_thickness_mm": computed,
        "spans_mm": [[v.z0, v.z1] for v in levels],
        # What is cut in the laminations and again in the blank is told as it is at last.
        "cuts": list({f.cut: cut_row(f, levels) for f in (*before, *after, *hand)}.values()),
        "laminations": rows,
        **more.numbers,
        **({"chambers": list(hollow.rows)} if hollow.rows else {}),
        **({"edge": list(edges.numbers)} if edges.numbers else {}),
        **ear_numbers,
    }
    reports = (
        sentence(name, levels, total, computed),
        *trimmed_sentences(name, spec.opening_allowance, (f.cut for f in before if f.cut.name in smaller)),
        *hollow.reports,
        *more.reports,
        *edges.reports,
    )
    return Result(
        step=name,
        kind="stack",
        region=outline,
        cuts=hollow.cuts,
        pieces=tuple(c.piece for c in cuttings),
        blanks=(blank,),
        numbers=numbers,
        reports=reports,
        findings=(*findings, *hollow.findings, *more.findings, *edges.findings),
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


def _glued_layers(levels: tuple[Span, ...], total: float, stock: list[Stock]) -> list[tuple[Span, float]]:
    """Spans that touch (each glue line counted with the sheet below) with densities; empty when one is unknown."""
    tops = [v.z0 for v in levels[1:]] + [total]
    found = [
        (Span(number=v.number, z0=v.z0, z1=top), s.sheet.density)
        for v, top, s in zip(levels, tops, stock, strict=True)
        if s.sheet.density
    ]
    return found if len(found) == len(levels) else []


def _smaller(spec: Spec, floors: Iterable[Floor]) -> dict[str, Region]:
    """The regions, by the name of their cut, of what is cut smaller in the laminations and trimmed later.

    Holes and what is confined to one lamination (channels, chambers) are cut net: no later tool gets there.
    """
    if not spec.opening_allowance:
        return {}
    later = trimmed_later(spec)
    return {
        f.cut.name: offset(f.cut.region, -spec.opening_allowance)
        for f in floors
        if f.cut.step in later and f.cut.lamination is None and f.cut.diameter_mm is None
    }


def _router(world: World, fallback: Shop) -> Shop:
    """The shop that machines the glued blank: the first router of the recipe."""
    return next((s for s in world.recipe.shops.values() if s.process == "router"), fallback)
