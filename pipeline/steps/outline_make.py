"""Makes an outline: the drawn region, repaired as asked, and panels of it if it names a sheet."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pipeline.core.errors import Problem, refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.text import listed, quoted
from pipeline.geometry.region import Part, Region
from pipeline.steps import outline_mirror, outline_repairs
from pipeline.steps.common import one_of_words, place_in, refuse_all, sheet_of
from pipeline.steps.measures import inside_point, least_arcs, numbers_of
from pipeline.steps.outline import Spec, problems
from pipeline.steps.outline_repairs import Mended
from pipeline.steps.panel import Panel, cuts_of, piece_of, reference_of
from pipeline.steps.values import Drawn, Piece, Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The outline's region after the repairs that the recipe asks for, its numbers and its panels.

    Raises Refused where nothing is enclosed or a repair can't be made.
    """
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    done, before = mended(step, spec, world)
    drawn = taken(world, spec.drawn)
    repairs = (*(r for d in drawn for r in d.repairs), *done.repairs)
    convex, concave = least_arcs(done.region)
    numbers = {
        **numbers_of(done.region),
        "least_convex_at_mm": list(convex[1]) if convex else None,
        "least_concave_at_mm": list(concave[1]) if concave else None,
        **done.numbers,
    }
    if repairs:
        numbers["repairs"] = [
            {"what": r.what, "moved_mm": r.moved_mm, "at_mm": [v + 0.0 for v in r.at_mm]} for r in repairs
        ]
    pieces, found = panels(step, spec, world, [(name, done.region)])
    return Result(
        step=name,
        kind="outline",
        region=done.region,
        pieces=pieces,
        numbers=numbers,
        reports=done.reports,
        findings=(*done.findings, *found),
        before=before,
        repairs=repairs,
    )


def mended(step: Step, spec: Spec, world: World) -> tuple[Mended, Region | None]:
    """What is drawn, repaired as asked, and as it was before (None when nothing is asked).

    A half is made whole first; a whole is mirrored last, so that nothing after it spoils its symmetry.
    """
    mirror = spec.mirror
    if mirror is not None and spec.takes_half:
        done, before = outline_mirror.from_half(step, mirror, half_of(world, step, spec.drawn))
    else:
        done = Mended(region=drawn_region(world, step, "drawn", spec.drawn))
        before = done.region if spec.traced_off or spec.smooth or mirror is not None else None
    if spec.traced_off:
        done = outline_repairs.traced(step, done, spec.traced_off)
    if spec.smooth:
        done = outline_repairs.smooth(
            step, done, spec.smooth, spec.corner, mirror if spec.takes_half and mirror is not None else None
        )
    if spec.symmetric:
        done = outline_repairs.symmetry_told(step, done)
    if mirror is not None and not spec.takes_half:
        done = outline_mirror.from_whole(step, mirror, done)
    return done, before


def taken(world: World, drawn: tuple[str, ...]) -> tuple[Drawn, ...]:
    """The objects of the drawing that the names mean, taken together where there are several."""
    if drawn == ("all",) and "all" not in world.drawing.objects:
        return (world.drawing.all,)
    together = world.drawing.several.get(drawn)
    if together is not None:
        return (together,)
    return tuple(world.drawing.objects[n] for n in drawn if n in world.drawing.objects)


def half_of(world: World, step: Step, drawn: tuple[str, ...]) -> Drawn:
    """What is drawn of a half: open lines, or an area that is closed along the axis. Raises Refused without."""
    refuse_all(_unknown(world, step, "drawn", drawn))
    found = taken(world, drawn)
    lines = tuple(c for d in found for c in d.lines)
    regions = [d.region for d in found if d.region]
    if not lines and not regions:
        why = " ".join(d.problem for d in found if d.problem)
        raise refuse(
            f"{listed(map(quoted, drawn), 'and')} can't be half an outline. {why}".rstrip(),
            place=place_in(step, "drawn"),
            expected="one or several open lines that end on the axis",
        )
    whole = Region(tuple(p for r in regions for p in r.parts)) if regions else None
    return replace(found[0], name=" and ".join(drawn), region=whole, lines=lines)


def _unknown(world: World, step: Step, path: str, drawn: tuple[str, ...]) -> list[Problem]:
    return [
        Problem(
            wrong=f"The drawing has nothing called {quoted(name)}.",
            place=place_in(step, f"{path}.{i}"),
            expected=one_of_words(world.drawing.objects, name),
        )
        for i, name in enumerate(drawn)
        if name not in world.drawing.objects and drawn != ("all",)
    ]


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
    wrong = _unknown(world, step, path, drawn)
    regions: list[Region] = []
    for i, name in enumerate(drawn):
        spot = place_in(step, f"{path}.{i}")
        thing = world.drawing.objects.get(name)
        if thing is None:
            continue
        if not thing.region:
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
