"""What stands on a full-size print: the outline and all that is cut or drawn in it."""

from __future__ import annotations

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
    """One scene for every outline that is no piece by itself; for all outlines where there is none."""
    outlines = [s for s in derived.order if s.kind == "outline" and derived.results[s.name].region]
    bare = [s for s in outlines if not derived.results[s.name].pieces]
    return tuple(_scene(derived, s.name) for s in (bare or outlines))


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
        for cut in result.cuts:
            if cut.index or _touches(cut.design, region):
                strokes += [Stroke(style=cut.face, contour=c, label=cut.name) for c in cut.design.contours]
    frame = derived.recipe.frame
    wanted = {frame.origin, frame.x_toward} if frame else set()
    if derived.recipe.balance:
        wanted |= {derived.recipe.balance.seat, *derived.recipe.balance.strap}
    objects = derived.drawing.objects
    found = [(n, objects[n].mark) for n in sorted(wanted) if n in objects]
    marks = tuple((n, *mark.at) for n, mark in found if mark)
    boxes = [s.contour.bounds for s in strokes]
    bounds = (
        min(b[0] for b in boxes) - PAD_MM,
        min(b[1] for b in boxes) - PAD_MM,
        max(b[2] for b in boxes) + PAD_MM,
        max(b[3] for b in boxes) + PAD_MM,
    )
    return Scene(name=name, strokes=tuple(strokes), marks=marks, bounds=bounds)


def _touches(a: Region | None, b: Region) -> bool:
    return a is not None and bool(a) and bool(a.polygon.intersects(b.polygon))
