"""The `cavity` kind: a pocket or opening (its fields and rules; `cavity_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

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
from pipeline.core.text import quoted
from pipeline.steps.common import direction_problems, exactly_one, given, one_of_words, place_in
from pipeline.steps.fits import Fit, Shape


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """A sloped floor."""

    angle: Angle = field("slope of the floor in degrees")
    deeper: Direction = field("the direction in which it gets deeper")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledge:
    """The step in the wall that carries a cover."""

    width: Size = field("how far the recess is wider than the cavity, all round")
    depth: Size = field("depth of the recess below the face")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Shape, place and depth of a cavity."""

    part: Shape | None = field("a measured thing that goes in; the cavity is larger by `fit`", None)
    opening: Shape | None = field("the finished cavity itself", None)
    drawn: tuple[DrawnName, ...] = field("objects of the drawing: the finished cavity", ())
    fit: Fit | None = field("room for the part: press, slide, drop-in, clearance, or mm a side", None)
    film: Gap = field("thickness of the finish a side, added to the fit", 0.0)
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


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a cavity together."""
    spec: Spec = step.spec
    yield from exactly_one(step, ("part", "opening", "drawn"), "the shape")
    yield from exactly_one(step, ("depth", "floor", "through"), "how deep it goes")
    for path, shape in (("part", spec.part), ("opening", spec.opening)):
        if shape is not None:
            yield from _shape_problems(step, recipe, path, shape)
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
        if not 0.0 < spec.tilt.angle < 45.0:
            yield Problem(
                wrong=f"A floor can't slope by {spec.tilt.angle:g} degrees.",
                place=place_in(step, "tilt.angle"),
                expected="an angle above 0 and below 45; `deeper` says which way it goes",
            )
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


def _place_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    shape = spec.part or spec.opening
    if shape is not None and spec.centre is None:
        part = recipe.hardware.get(shape.of or "")
        if part is None or part.at is None:
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


def _shape_problems(step: Step, recipe: Recipe, path: str, shape: Shape) -> Iterator[Problem]:
    if len(shape.kinds) != 1:
        yield Problem(
            wrong=f"The shape of {step.name} gives {' and '.join(shape.kinds) or 'no size'}.",
            place=place_in(step, path),
            expected="exactly one of `rectangle`, `circle`, `of`",
        )
        return
    sides = shape.rectangle
    if shape.of is not None:
        part = recipe.hardware.get(shape.of)
        if part is None:
            yield Problem(
                wrong=f"There is no part called {quoted(shape.of)} in `hardware`.",
                place=place_in(step, f"{path}.of"),
                expected=one_of_words(recipe.hardware, shape.of),
            )
        elif len(part.size) < 2:
            yield Problem(
                wrong=f"The part {shape.of} has no size in `hardware`.",
                place=place_in(step, f"{path}.of"),
                expected="`size: [length, width, height]` at the part",
            )
        else:
            sides = (part.size[0], part.size[1])
    if sides is not None and shape.corner > min(sides) / 2 + 1e-9:
        yield Problem(
            wrong=f"A corner of {shape.corner:g} is larger than half the shorter side, {min(sides) / 2:g}.",
            place=place_in(step, f"{path}.corner"),
            expected=f"a corner of at most {min(sides) / 2:g}",
        )
    if shape.circle is not None and shape.corner:
        yield Problem(
            wrong="A circle has no corners.",
            place=place_in(step, f"{path}.corner"),
            expected="`circle:` without `corner:`",
        )


def stacks_that_cut(name: str, recipe: Recipe) -> list[Step]:
    """The stacks that cut a cavity, before or after glue-up or by hand, in the recipe's order."""
    return [
        s
        for s in recipe.steps.values()
        if s.kind == "stack" and name in (*s.spec.cut, *s.spec.cut_blank, *s.spec.by_hand)
    ]


def covers_of(name: str, recipe: Recipe) -> list[Step]:
    """The covers that are screwed over a cavity, in the recipe's order."""
    return [s for s in recipe.steps.values() if s.kind == "cover" and s.spec.of == name and s.spec.screws]


def also_needs(step: Step, recipe: Recipe) -> Mapping[str, str]:
    """An open cavity needs the outline whose cut edge it runs out of."""
    if step.spec.open is None:
        return {}
    return {s.spec.outline: "open runs past the cut edge" for s in stacks_that_cut(step.name, recipe)}


def also_reads(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """The stack's allowance decides how far it runs out, a cover's screws where pads stay."""
    stacks = stacks_that_cut(step.name, recipe) if step.spec.open is not None else []
    return tuple(s.name for s in (*stacks, *covers_of(step.name, recipe)))
