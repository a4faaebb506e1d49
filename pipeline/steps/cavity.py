"""The `cavity` kind: a pocket or opening (its fields and rules; `cavity_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import (
    Angle,
    Direction,
    DrawnName,
    FaceName,
    Gap,
    MarkName,
    Point,
    Size,
    field,
)
from pipeline.core.recipe import Recipe, Step
from pipeline.core.standard import part_names, part_of
from pipeline.core.text import quoted
from pipeline.steps.cavity_neck import Heights, heights_problems
from pipeline.steps.cavity_skin import cut_by, stacks_that_cut
from pipeline.steps.common import direction_problems, exactly_one, given, one_of_words, place_in
from pipeline.steps.fits import Film, Fit, Shape, place_of, shape_problems


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """A sloped floor."""

    deeper: Direction = field("the direction in which it gets deeper")
    angle: Angle | None = field("slope of the floor in degrees", None)
    heights: Heights | None = field("a neck's tilt from the heights of bridge, strings and board", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledge:
    """The step in the wall that carries a cover."""

    width: Size = field("how far the recess is wider than the cavity, all round")
    depth: Size = field("depth of the recess below the face")
    bush: Size | None = field("guide bush that cuts the cavity by the recess's own template", None)
    cutter: Size | None = field("the cutter in that bush", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Shape, place and depth of a cavity."""

    part: Shape | None = field("a measured thing that goes in; the cavity is larger by `fit`", None)
    opening: Shape | None = field("the finished cavity itself", None)
    drawn: tuple[DrawnName, ...] = field("objects of the drawing: the finished cavity", ())
    fit: Fit | None = field("room for the part: press, slide, drop-in, clearance, or mm a side", None)
    film: Gap | Film = field(
        "thickness of the finish a side, added to the fit; or of `part:` and `wall:` each", 0.0
    )
    centre: Point | MarkName | None = field("centre of the shape; where the part sits, when absent", None)
    turn: Angle = field("angle of the shape in degrees, anticlockwise", 0.0)
    handed: bool = field("a part that a left-handed design takes as it is: its drawn shape is not mirrored", False)
    face: FaceName = field("the face it is cut from", "front")
    depth: Size | None = field("how deep: the depth governs", None)
    floor: Size | None = field("what remains: the floor governs", None)
    through: bool = field("cut all the way through", False)
    tilt: Tilt | None = field("a sloped floor", None)
    open: Direction | None = field("the side on which it runs out past the cut edge", None)
    ledge: Ledge | None = field("a step for a cover", None)
    cutter: Size | None = field("diameter of the cutter that makes it; the shop's own choice when absent", None)
    relief: Literal["dogbone", "t-bone"] | None = field(
        "circles of `cutter:` through sharp inside corners, so that a square part goes in: centred on the "
        "bisector, or on a wall",
        None,
    )
    relief_into: Literal["x", "y"] = field("a t-bone bites the walls that face along x, or along y", "x")
    holds: tuple[str, ...] = field("parts whose thread goes through its skin to a nut", ())


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a cavity together."""
    spec: Spec = step.spec
    yield from exactly_one(step, ("part", "opening", "drawn"), "the shape")
    yield from exactly_one(step, ("depth", "floor", "through"), "how deep it goes")
    for path, shape in (("part", spec.part), ("opening", spec.opening)):
        if shape is not None:
            yield from shape_problems(step, recipe, path, shape)
    if spec.part is not None and spec.fit is None:
        yield Problem(
            wrong=f"{step.name} is made for a part but doesn't say how the part shall fit.",
            place=place_in(step, "part"),
            expected="`fit:` press, slide, drop-in, clearance, or mm a side",
            remedy="Add `fit:`; if the size is the finished cavity itself, call it `opening:`.",
        )
    if spec.part is None:
        for name in given(spec, ("fit", "film")) if spec.film or spec.fit is not None else ():
            if getattr(spec, name) == 0.0 and name == "film":
                continue
            yield Problem(
                wrong=f"`{name}` belongs to a part; {step.name} gives the finished cavity.",
                place=place_in(step, name),
                expected="`part:` with `fit:`, or `opening:` or `drawn:` without",
            )
    yield from _place_problems(step, recipe)
    if spec.tilt is not None:
        yield from direction_problems(step, "tilt.deeper", spec.tilt.deeper, recipe)
        yield from _tilt_problems(step, spec.tilt)
        if spec.through:
            yield Problem(
                wrong=f"{step.name} goes all the way through, so it has no floor that could slope.",
                place=place_in(step, "tilt"),
                expected="`depth:` or `floor:` with `tilt:`",
            )
    yield from direction_problems(step, "open", spec.open, recipe)
    if spec.ledge is not None and spec.depth is not None and spec.ledge.depth >= spec.depth:
        yield Problem(
            wrong=f"The ledge of {step.name} is {spec.ledge.depth:g} deep and the cavity only {spec.depth:g}.",
            place=place_in(step, "ledge.depth"),
            expected="a ledge shallower than the cavity",
        )
    if spec.ledge is not None and (spec.ledge.bush is None) != (spec.ledge.cutter is None):
        yield Problem(
            wrong=f"The ledge of {step.name} names a bush without its cutter, or a cutter without its bush.",
            place=place_in(step, "ledge"),
            expected="`bush:` and `cutter:` together, or neither",
        )
    if spec.relief is not None and spec.cutter is None:
        yield Problem(
            wrong=f"The relief of {step.name} has no size.",
            place=place_in(step, "relief"),
            expected="`cutter:` with the diameter of the cutter that shall cut it",
        )
    yield from _holds_problems(step, recipe)


def _tilt_problems(step: Step, tilt: Tilt) -> Iterator[Problem]:
    if (tilt.angle is None) == (tilt.heights is None):
        yield Problem(
            wrong=f"The floor of {step.name} needs either an angle or the heights that it follows from.",
            place=place_in(step, "tilt"),
            expected="exactly one of `angle` and `heights`",
        )
    elif tilt.angle is not None and not 0.0 < tilt.angle < 45.0:
        yield Problem(
            wrong=f"A floor can't slope by {tilt.angle:g} degrees.",
            place=place_in(step, "tilt.angle"),
            expected="an angle above 0 and below 45; `deeper` says which way it goes",
        )
    elif tilt.heights is not None:
        yield from heights_problems(step, tilt.heights, "tilt.heights")


def _holds_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    for i, name in enumerate(spec.holds):
        part = part_of(recipe, name)
        if part is None:
            yield Problem(
                wrong=f"No part is called {quoted(name)}, neither in `hardware` nor among the standard parts.",
                place=place_in(step, f"holds.{i}"),
                expected=one_of_words(part_names(recipe), name),
            )
        elif not part.thread:
            yield Problem(
                wrong=f"{name} has no thread that a nut could hold.",
                place=place_in(step, f"holds.{i}"),
                expected=f"`thread:` at {name} in `hardware`: the length of its thread",
            )
        elif spec.through:
            yield Problem(
                wrong=f"{step.name} goes all the way through, so it leaves no skin to hold {name}.",
                place=place_in(step, f"holds.{i}"),
                expected="`floor:` or `depth:` with `holds:`",
            )


def _place_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    shape = spec.part or spec.opening
    if shape is not None and spec.centre is None and place_of(shape, recipe) is None:
        yield Problem(
            wrong=f"{step.name} doesn't say where its centre is.",
            place=step.place(),
            expected="`centre:` with [x, y] or the name of a mark",
        )
    if spec.drawn:
        if spec.centre is not None:
            yield Problem(
                wrong=f"{step.name} is drawn, so it already stands where it is.",
                place=place_in(step, "centre"),
                expected="`drawn:` without `centre:`",
            )
        if spec.turn:
            yield Problem(
                wrong=f"{step.name} is drawn, so it already lies as it is.",
                place=place_in(step, "turn"),
                expected="`drawn:` without `turn:`",
            )


def covers_of(name: str, recipe: Recipe) -> list[Step]:
    """The covers that are screwed over a cavity, in the recipe's order."""
    return [s for s in recipe.steps.values() if s.kind == "cover" and s.spec.of == name and s.spec.screws]


def also_needs(step: Step, recipe: Recipe) -> Mapping[str, str]:
    """An open cavity needs the outline whose cut edge it runs out of."""
    if step.spec.open is None:
        return {}
    return {s.spec.outline: "open runs past the cut edge" for s in stacks_that_cut(step.name, recipe)}


def also_reads(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """What cuts it decides the cutter, the skin, and how far it runs out; a cover's screws where pads stay."""
    return (*cut_by(step.name, recipe), *(s.name for s in covers_of(step.name, recipe)))
