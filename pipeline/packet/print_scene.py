"""What stands on a full-size print: the outline and all that is cut or drawn in it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from pipeline.core.fields import FaceName
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.geometry.transform import mirror_x_axis, mirror_y_axis
from pipeline.steps.values import Derived

Style = Literal["edge", "front", "back", "carve", "mark"]
PAD_MM = 6.0
SAME_MM = 0.1
"""Two carve lines nearer than this are one line on paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One contour with the way it is drawn: edges solid, carve lines dashed, the back chain-dotted."""

    style: Style
    contour: Contour
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A print: its name, strokes, marks (name, x, y) and bounds (with a rim), in the design frame.

    Of one seen from the back everything is turned over; a point's place in the design is then its own times
    ``signs``. ``axis``: the line y = 0 is the design's centreline. ``what`` and ``legend`` replace what is said of
    the print and of its lines.
    """

    name: str
    strokes: tuple[Stroke, ...]
    marks: tuple[tuple[str, float, float], ...]
    bounds: tuple[float, float, float, float]
    view: FaceName = "front"
    signs: tuple[float, float] = (1.0, 1.0)
    axis: bool = True
    what: str = ""
    legend: str = ""


def scenes(derived: Derived) -> tuple[Scene, ...]:
    """One scene for every outline that is no piece by itself; for all outlines where there is none; and one for
    each template that is made on paper alone."""
    return (*(_scene(derived, name) for name in printed_outlines(derived)), *_papers(derived))


def printed_outlines(derived: Derived) -> tuple[str, ...]:
    """The steps whose outlines are printed."""
    outlines = [s for s in derived.order if s.kind == "outline" and derived.results[s.name].region]
    bare = [s for s in outlines if not derived.results[s.name].pieces]
    return tuple(s.name for s in (bare or outlines))


def from_the_back(scene: Scene, turn_over: str) -> Scene:
    """The scene turned over about the frame's axis, for the back of a foam blank: contours and marks mirrored."""
    move = mirror_x_axis() if turn_over == "x" else mirror_y_axis()
    strokes = tuple(replace(s, contour=move.contour(s.contour)) for s in scene.strokes)
    sx, sy = (1.0, -1.0) if turn_over == "x" else (-1.0, 1.0)
    x0, y0, x1, y1 = scene.bounds
    return replace(
        scene,
        strokes=strokes,
        marks=tuple((n, *move.point(x, y)) for n, x, y in scene.marks),
        bounds=(min(sx * x0, sx * x1), min(sy * y0, sy * y1), max(sx * x0, sx * x1), max(sy * y0, sy * y1)),
        view="back",
        signs=(sx, sy),
    )


def _papers(derived: Derived) -> Iterator[Scene]:
    for step in derived.order:
        if step.kind != "template" or not step.spec.paper:
            continue
        result = derived.results[step.name]
        names = result.numbers.get("templates", (step.name,))
        shapes = result.regions if step.spec.set_ is not None else (result.region,)
        for name, region in zip(names, shapes, strict=True):
            if region:
                yield scene_of(
                    derived, name, tuple(Stroke(style="edge", contour=c, label=name) for c in region.contours)
                )


def _scene(derived: Derived, name: str) -> Scene:
    region = derived.results[name].region
    assert region is not None
    strokes = [Stroke(style="edge", contour=c, label=name) for c in region.contours]
    for step in derived.order:
        result = derived.results[step.name]
        if step.kind == "offset":
            for r in result.regions or ((result.region,) if result.region else ()):
                if touches(r, region):
                    strokes += [Stroke(style="carve", contour=c, label=step.name) for c in r.contours]
        for blank in result.blanks:
            if touches(blank.region, region):
                lines = [c for run in blank.edges for c in run.lines]
                strokes += [Stroke(style="carve", contour=c, label=f"{step.name} edge") for c in lines]
        for piece in result.pieces if step.kind == "carved" and touches(result.region, region) else ():
            carved = [o for s in piece.set_ups for o in s.ops if o.work in ("CARVE_LINE", "SCORE", "ENGRAVE")]
            strokes += [Stroke(style="carve", contour=c, label=piece.name) for o in carved for c in o.contours]
        for cut in result.cuts:
            if cut.index or touches(cut.design, region):
                strokes += [Stroke(style=cut.face, contour=c, label=cut.name) for c in cut.design.contours]
    return scene_of(derived, name, _once(strokes))


def _once(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    """The strokes; of two carve lines one of which runs along the other the longer one alone, under both names.

    Dashes over dashes would look like a full line.
    """
    kept: list[Stroke] = []
    for stroke in sorted(strokes, key=lambda s: -s.contour.length if s.style == "carve" else -math.inf):
        onto = next(
            (i for i, k in enumerate(kept) if stroke.style == k.style == "carve" and _along(stroke, k)), None
        )
        if onto is None:
            kept.append(stroke)
        elif stroke.label not in kept[onto].label.split(", "):
            kept[onto] = replace(kept[onto], label=f"{kept[onto].label}, {stroke.label}")
    return tuple(kept)


def _along(short: Stroke, long: Stroke) -> bool:
    """True when every point of one line lies on the other."""
    a, b = short.contour.bounds, long.contour.bounds
    if a[0] < b[0] - SAME_MM or a[1] < b[1] - SAME_MM or a[2] > b[2] + SAME_MM or a[3] > b[3] + SAME_MM:
        return False
    points = short.contour.flatten(0.05)[0]
    line = long.contour.flatten(0.005)[0]
    ring = shapely.LinearRing(line) if long.contour.closed else shapely.LineString(line)
    shapely.prepare(ring)
    return bool(shapely.dwithin(ring, shapely.points(points), SAME_MM).all())


def scene_of(
    derived: Derived, name: str, strokes: tuple[Stroke, ...], *, what: str = "", legend: str = ""
) -> Scene:
    """A scene of strokes in the design frame, with the design's marks and a rim round all of it."""
    frame = derived.recipe.frame
    return Scene(
        name=name,
        strokes=strokes,
        marks=_marks(derived),
        bounds=_round(strokes),
        axis=frame is not None and bool(frame.origin),
        what=what,
        legend=legend,
    )


def _marks(derived: Derived) -> tuple[tuple[str, float, float], ...]:
    """The marks that locate a print: the frame's and the balance's, a point without a name by what it is for."""
    frame, balance = derived.recipe.frame, derived.recipe.balance
    named: dict[str, str | tuple[float, float]] = {}
    for place in (frame.origin, frame.x_toward) if frame else ():
        named[place] = place
    if balance:
        for use, at in (("seat", balance.seat), *zip(("front strap", "tail strap"), balance.strap, strict=False)):
            named[at if isinstance(at, str) else use] = at
    objects = derived.drawing.objects
    found: list[tuple[str, float, float]] = []
    for name in sorted(named):
        at = named[name]
        if isinstance(at, str):
            mark = objects[at].mark if at in objects else None
            found += [(name, *mark.at)] if mark else []
        else:
            found.append((name, at[0], at[1]))
    return tuple(found)


def _round(strokes: Iterable[Stroke]) -> tuple[float, float, float, float]:
    boxes = [s.contour.bounds for s in strokes]
    return (
        min(b[0] for b in boxes) - PAD_MM,
        min(b[1] for b in boxes) - PAD_MM,
        max(b[2] for b in boxes) + PAD_MM,
        max(b[3] for b in boxes) + PAD_MM,
    )


def touches(a: Region | None, b: Region) -> bool:
    """True when two regions share a point."""
    return a is not None and bool(a) and bool(a.polygon.intersects(b.polygon))
