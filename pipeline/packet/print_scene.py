"""What stands on a full-size print: the outline and all that is cut or drawn in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.steps.values import Derived

Style = Literal["edge", "front", "back", "carve", "mark"]
PAD_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One contour with the way it is drawn: edges solid, carve lines dashed, the back chain-dotted."""

    style: Style
    contour: Contour
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A print: its name, strokes, marks (name, x, y) and bounds (with a rim), in the design frame."""

    name: str
    strokes: tuple[Stroke, ...]
    marks: tuple[tuple[str, float, float], ...]
    bounds: tuple[float, float, float, float]


def scenes(derived: Derived) -> tuple[Scene, ...]:
    """One scene for every outline that is no piece by itself; for all outlines where there is none; and one for
    each template that is made on paper alone."""
    outlines = [s for s in derived.order if s.kind == "outline" and derived.results[s.name].region]
    bare = [s for s in outlines if not derived.results[s.name].pieces]
    return (*(_scene(derived, s.name) for s in (bare or outlines)), *_papers(derived))


def _papers(derived: Derived) -> Iterator[Scene]:
    for step in derived.order:
        if step.kind != "template" or not step.spec.paper:
            continue
        result = derived.results[step.name]
        names = result.numbers.get("templates", (step.name,))
        shapes = result.regions if step.spec.set_ is not None else (result.region,)
        for name, region in zip(names, shapes, strict=True):
            if region:
                strokes = tuple(Stroke(style="edge", contour=c, label=name) for c in region.contours)
                yield Scene(name=name, strokes=strokes, marks=_marks(derived), bounds=_round(strokes))


def _scene(derived: Derived, name: str) -> Scene:
    region = derived.results[name].region
    assert region is not None
    strokes = [Stroke(style="edge", contour=c, label=name) for c in region.contours]
    for step in derived.order:
        result = derived.results[step.name]
        if step.kind == "offset":
            for r in result.regions or ((result.region,) if result.region else ()):
                if _touches(r, region):
                    strokes += [Stroke(style="carve", contour=c, label=step.name) for c in r.contours]
        for blank in result.blanks:
            if _touches(blank.region, region):
                lines = [c for run in blank.edges for c in run.lines]
                strokes += [Stroke(style="carve", contour=c, label=f"{step.name} edge") for c in lines]
        for piece in result.pieces if step.kind == "carved" and _touches(result.region, region) else ():
            carved = [o for s in piece.set_ups for o in s.ops if o.work in ("CARVE_LINE", "SCORE", "ENGRAVE")]
            strokes += [Stroke(style="carve", contour=c, label=piece.name) for o in carved for c in o.contours]
        for cut in result.cuts:
            if cut.index or _touches(cut.design, region):
                strokes += [Stroke(style=cut.face, contour=c, label=cut.name) for c in cut.design.contours]
    return Scene(name=name, strokes=tuple(strokes), marks=_marks(derived), bounds=_round(strokes))


def _marks(derived: Derived) -> tuple[tuple[str, float, float], ...]:
    """The marks that locate a print: the frame's and the balance's."""
    frame = derived.recipe.frame
    wanted = {frame.origin, frame.x_toward} if frame else set()
    if derived.recipe.balance:
        wanted |= {derived.recipe.balance.seat, *derived.recipe.balance.strap}
    objects = derived.drawing.objects
    found = [(n, objects[n].mark) for n in sorted(wanted) if n in objects]
    return tuple((n, *mark.at) for n, mark in found if mark)


def _round(strokes: Iterable[Stroke]) -> tuple[float, float, float, float]:
    boxes = [s.contour.bounds for s in strokes]
    return (
        min(b[0] for b in boxes) - PAD_MM,
        min(b[1] for b in boxes) - PAD_MM,
        max(b[2] for b in boxes) + PAD_MM,
        max(b[3] for b in boxes) + PAD_MM,
    )


def _touches(a: Region | None, b: Region) -> bool:
    return a is not None and bool(a) and bool(a.polygon.intersects(b.polygon))
