"""Makes an outline: the drawn region, smoothed if asked, and panels of it if it names a sheet."""

from __future__ import annotations

from typing import Any

from pipeline.core.errors import Problem, refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.text import listed, quoted
from pipeline.geometry.region import Part, Region
from pipeline.steps.common import mm, one_of_words, place_in, refuse_all, sheet_of
from pipeline.steps.measures import inside_point, numbers_of
from pipeline.steps.outline import Spec, problems
from pipeline.steps.panel import Panel, cuts_of, piece_of, reference_of
from pipeline.steps.values import Piece, Result, World

AREA_CHANGE = 0.002
"""Smoothing may change the area by this share (trade.md 1.6)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """The outline's region, its numbers and its panels. Raises Refused where nothing is enclosed."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    region = drawn_region(world, step, "drawn", spec.drawn)
    numbers = numbers_of(region)
    reports: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    if spec.smooth:
        region, moved, reports, findings = _smoothed(step, region, spec.smooth)
        numbers = {**numbers_of(region), **moved}
    pieces, found = panels(step, spec, world, [(name, region)])
    return Result(
        step=name,
        kind="outline",
        region=region,
        pieces=pieces,
        numbers=numbers,
        reports=reports,
        findings=(*findings, *found),
    )


def drawn_region(world: World, step: Step, path: str, drawn: tuple[str, ...]) -> Region:
    """The region of one or several named objects of the drawing, or of ``all``.

    Several objects are taken together, as one object of the drawing would be. Raises Refused with the
    problem of every name that gives no region.
    """
    from pipeline.geometry.boolean import union

    if drawn == ("all",) and "all" not in world.drawing.objects:
        found = world.drawing.all
        if not found.region:
            raise refuse(
                found.problem or "The drawing holds no closed shape.",
                place=place_in(step, path),
                expected="a drawing with at least one closed shape",
            )
        return found.region
    wrong: list[Problem] = []
    regions: list[Region] = []
    for i, name in enumerate(drawn):
        spot = place_in(step, f"{path}.{i}")
        thing = world.drawing.objects.get(name)
        if thing is None:
            wrong.append(
                Problem(
                    wrong=f"The drawing has nothing called {quoted(name)}.",
                    place=spot,
                    expected=one_of_words(world.drawing.objects, name),
                )
            )
        elif not thing.region:
            wrong.append(
                Problem(
                    wrong=f"{quoted(name)} encloses no area: {thing.problem or 'it is not closed.'}",
                    place=spot,
                    expected="a closed shape in the drawing",
                )
            )
        else:
            regions.append(thing.region)
    refuse_all(wrong)
    if len(regions) == 1:
        return regions[0]
    # Unfilled lines nest across the objects that one field names: the drawing's reader has seen to it.
    together = world.drawing.several.get(drawn)
    if together is None:
        return union(*regions)
    if not together.region:
        raise refuse(
            together.problem or f"{listed(map(quoted, drawn), 'and')} enclose no area together.",
            place=place_in(step, path),
            expected="closed shapes in the drawing",
        )
    return together.region


def panels(
    step: Step, spec: Any, world: World, named: list[tuple[str, Region]]
) -> tuple[tuple[Piece, ...], tuple[Finding, ...]]:
    """Panels of named regions (of an outline or an offset); none without a sheet.

    Parts that lie apart are pieces of their own, numbered by x then y.
    """
    if not spec.sheet:
        return (), ()
    stock = sheet_of(world, step, "sheet", spec.sheet)
    cuts = cuts_of(world, spec.cut, spec.face)
    reference = reference_of(world, spec.reference)
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for name, region in named:
        for i, part in enumerate(region.parts, start=1):
            plate = Region((part,))
            panel = Panel(
                name=name if len(region.parts) == 1 else f"{name}-{i}",
                role="panel",
                plate=plate,
                stock=stock,
                count=world.recipe.make * spec.count,
                face=spec.face,
                cuts=tuple(c for c in cuts if _meets(c.region, plate)),
                reference=tuple(c for c in reference if _meets(Region((Part(c),)), plate)),
            )
            made, found = piece_of(panel, step)
            pieces += made
            findings += found
    for cut in cuts:
        if not any(_meets(cut.region, region) for _, region in named):
            findings.append(
                Finding(
                    check="cut-misses",
                    severity="stop",
                    message=f"{cut.name} lies beside {step.name}, so it cuts nothing there.",
                    step=cut.step,
                    piece=step.name,
                    at_mm=inside_point(cut.design),
                    face=cut.face,
                    measured=min(float(cut.region.polygon.distance(r.polygon)) for _, r in named),
                    limit=0.0,
                    remedy="move it onto the panel, or take it out of `cut`",
                    place=place_in(step, "cut"),
                )
            )
    return tuple(pieces), tuple(findings)


def _meets(a: Region, b: Region) -> bool:
    return bool(b.polygon.intersects(a.polygon))


def _smoothed(
    step: Step, region: Region, tolerance: float
) -> tuple[Region, dict[str, Any], tuple[str, ...], tuple[Finding, ...]]:
    """The region fitted by few tangent-continuous arcs within ``tolerance`` mm: fitting never shrinks
    a shape as averaging does (trade.md 1.6)."""
    from pipeline.geometry.deviation import deviation
    from pipeline.geometry.fit import fitted

    smooth = fitted(region, tolerance)
    worst = deviation(region, smooth).worst_mm
    before, after = sum(len(c) for c in region.contours), sum(len(c) for c in smooth.contours)
    change = smooth.area / region.area - 1.0
    numbers = {"smooth_mm": tolerance, "smooth_worst_mm": worst, "smooth_area_change": change}
    said = (
        f"{step.name}: smoothed within {mm(tolerance)} mm; the line moved by at most {worst:.3f} mm, "
        f"the area by {100 * change:+.3f} %, {before} curve pieces became {after}."
    )
    findings: tuple[Finding, ...] = ()
    if abs(change) > AREA_CHANGE:
        findings = (
            Finding(
                check="smooth-area",
                severity="ask",
                message=f"Smoothing changes the area of {step.name} by {100 * change:+.2f} %.",
                step=step.name,
                at_mm=region.centroid,
                measured=abs(100 * change),
                limit=100 * AREA_CHANGE,
                unit="%",
                remedy="smooth less, or redraw the shape",
                place=place_in(step, "smooth"),
            ),
        )
    return smooth, numbers, (said,), findings
