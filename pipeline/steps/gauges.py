"""The `gauges` kind: what a carver holds against a neck (its fields; `gauges_make.py` does the work)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import AtLeast, Gap, SheetName, Size, StepName, Unit, field
from pipeline.core.recipe import Recipe, Step
from pipeline.core.text import quoted
from pipeline.steps.common import given, place_in

Exponent = Annotated[float, Unit("1"), AtLeast(1.0)]
Chord = Annotated[float, Unit("mm"), AtLeast(60.0)]
Face = Literal["fretboard top", "glue face"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Shape of one side: z = t (1 − |v|^p)^(1/m). 2 and 2 make an ellipse, 3 and 2.5 full shoulders, 2 and 1 a
    parabola."""

    p: Exponent = field("exponent across the neck: larger makes the back flatter", 2.0)
    m: Exponent = field("exponent of the depth: larger makes the shoulders fuller", 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How far the thickest point lies from the centreline (one of the two)."""

    bass: Gap | None = field("toward the bass side", None)
    treble: Gap | None = field("toward the treble side", None)

    @property
    def toward_bass(self) -> float:
        return (self.bass or 0.0) - (self.treble or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """The section at one place along the neck. What it doesn't give is that of the whole step."""

    thickness: Size = field("thickness of the neck at its thickest point, from the face that `from` names")
    width: Size | None = field("width there", None)
    bass: Side | None = field("shape of the bass side there", None)
    treble: Side | None = field("shape of the treble side there", None)
    lean: Lean | None = field("where the thickest point lies there", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Section gauges, radius gauges, or both."""

    stations: Mapping[str, Station] = field(
        "sections by their place: `fret 5`, or x in mm from the bridge line: `x 240`", {}
    )
    width: Size | StepName | None = field("width of the neck: that of a fretboard, or a number for all", None)
    from_: Face = field("the face that thicknesses are measured from", "fretboard top")
    board: Gap = field("thickness of the fretboard, whose edges stand square; the section begins under it", 0.0)
    bass: Side = field("shape of the bass side", Side())
    treble: Side = field("shape of the treble side", Side())
    lean: Lean | None = field("where the thickest point lies", None)
    every: Size | None = field(
        "further gauges between the stations, evenly and at most so far apart; 50 to 80 is usual", None
    )
    margin: Size = field("least wood on either side of the mouth; more where the text needs it", 15.0)
    relief: Gap = field("diameter of a relief at the corners of the mouth, 3 is usual; 0 leaves them sharp", 0.0)
    clearance: Gap = field("how much larger than the section the mouth is, to pass over finish: 0.1 to 0.2", 0.0)
    radius: tuple[Size, ...] = field("radius gauges, hollow and round on one part, one a radius", ())
    radius_of: StepName | None = field(
        "radius gauges of a fretboard: at the nut, the octave and the last fret", None
    )
    chord: Chord = field("length of the curved edges of radius gauges", 60.0)
    sheet: SheetName = field("the sheet they are cut from")


_PLACE = re.compile(r"(?:(?P<fret>fret)\s+|x\s+)?(?P<number>\d+(?:\.\d+)?)(?:\s*mm)?", re.ASCII)


def place_of(key: str) -> tuple[Literal["fret", "x"], float] | None:
    """What the name of a station says: a fret, or x in mm; None when it says neither."""
    found = _PLACE.fullmatch(key.strip())
    if found is None or (found["fret"] and key.rstrip().endswith("mm")):
        return None
    return ("fret" if found["fret"] else "x"), float(found["number"])


def fretboard_for(step: Step, recipe: Recipe) -> Step | None:
    """The fretboard that a gauges step measures along: the one that `width` names, else the only one there is."""
    spec: Spec = step.spec
    if isinstance(spec.width, str):
        found = recipe.steps.get(spec.width)
        return found if found is not None and found.kind == "fretboard" else None
    boards = [s for s in recipe.steps.values() if s.kind == "fretboard"]
    return boards[0] if len(boards) == 1 else None


def also_needs(step: Step, recipe: Recipe) -> Mapping[str, str]:
    """Stations are named by the frets of the fretboard, though no field may name it."""
    board = fretboard_for(step, recipe) if step.spec.stations else None
    return {board.name: "stations by its frets"} if board is not None else {}


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of gauges together."""
    spec: Spec = step.spec
    if not given(spec, ("radius", "radius_of")) and not spec.stations:
        yield Problem(
            wrong=f"{step.name} doesn't say what shall be gauged.",
            place=step.place(),
            expected="`stations:` for sections, `radius:` or `radius_of:` for radius gauges",
        )
    for path in ("width", "radius_of"):
        named = getattr(spec, path)
        target = recipe.steps.get(named) if isinstance(named, str) else None
        if target is not None and target.kind != "fretboard":
            yield Problem(
                wrong=f"{named} is a step of kind {target.kind}, so it has no width or radius along a neck.",
                place=place_in(step, path),
                expected="the name of a fretboard" + (", or a number" if path == "width" else ""),
            )
        if (
            path == "radius_of"
            and target is not None
            and target.kind == "fretboard"
            and target.spec.radius is None
        ):
            yield Problem(
                wrong=f"The fretboard {named} has no radius.",
                place=place_in(step, path),
                expected=f"`radius:` at {named}, or the radii here as `radius: [241.3, 304.8]`",
            )
    for i, radius in enumerate(spec.radius):
        if 2 * radius < spec.chord:
            yield Problem(
                wrong=f"A radius of {radius:g} has no chord of {spec.chord:g}.",
                place=place_in(step, f"radius.{i}"),
                expected=f"a radius of at least {spec.chord / 2:g}",
            )
    for path, lean in (("lean", spec.lean), *((f"stations.{k}.lean", v.lean) for k, v in spec.stations.items())):
        if lean is not None and len([v for v in (lean.bass, lean.treble) if v is not None]) != 1:
            yield Problem(
                wrong=f"`lean` of {step.name} names {'both sides' if lean.bass is not None else 'no side'}.",
                place=place_in(step, path),
                expected="`lean: {bass: 2.5}` or `lean: {treble: 2.5}`",
            )
    board = fretboard_for(step, recipe)
    for key, station in spec.stations.items():
        yield from _station_problems(step, key, station, board)
    if spec.every is not None and len(spec.stations) < 2:
        yield Problem(
            wrong=f"{step.name} has {len(spec.stations)} station, so nothing lies between two of them.",
            place=place_in(step, "every"),
            expected="`every:` with two or more stations",
        )


def _station_problems(step: Step, key: str, station: Station, board: Step | None) -> Iterator[Problem]:
    spec: Spec = step.spec
    path = f"stations.{key}"
    place = place_of(key)
    if place is None:
        yield Problem(
            wrong=f"{quoted(key)} doesn't say where the station is.",
            place=place_in(step, path),
            expected="`fret 5`, or x in mm from the bridge line: `x 240`",
        )
    elif place[0] == "fret" and board is None:
        yield Problem(
            wrong=f"{quoted(key)} needs a fretboard to tell where that fret is.",
            place=place_in(step, path),
            expected="a step of kind fretboard, named under `width:` where the recipe has several",
        )
    if spec.width is None and station.width is None:
        yield Problem(
            wrong=f"The station {quoted(key)} has no width.",
            place=place_in(step, path),
            expected="`width:` here or for all of them: a fretboard, or a number",
        )
    if spec.from_ == "fretboard top" and station.thickness <= spec.board:
        yield Problem(
            wrong=f"The neck is {station.thickness:g} thick with its fretboard, and that alone {spec.board:g}.",
            place=place_in(step, f"{path}.thickness"),
            expected=f"more than {spec.board:g}, or `from: glue face`",
        )
