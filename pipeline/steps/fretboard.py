"""The `fretboard` kind: scale, frets, edges, strings (its fields; `fretboard_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, Gap, Length, Number, SheetName, Size, field
from pipeline.core.recipe import Recipe, Step
from pipeline.core.text import listed
from pipeline.geometry.scale import Board, Scale, linear
from pipeline.steps.common import given, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Width:
    """Widths of the board; its edges are straight between and beyond."""

    nut: Size = field("width at the nut line")
    last: Size = field("width at the last fret")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Distance between the outer strings, centre to centre."""

    nut: Size = field("at the nut line")
    bridge: Size = field("at the bridge line")


@dataclass(frozen=True, slots=True, kw_only=True)
class Crown:
    """Radii of a conical face; straight between and beyond."""

    nut: Size = field("radius at the nut line")
    last: Size = field("radius at the last fret")


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Where the neck joins the body: a fret, or its distance."""

    fret: Number | None = field("the fret over the joint, whole or not", None)
    distance: Size | None = field("distance from the bridge line to the joint", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slots:
    """Slots for the frets, cut by a router with a cutter as wide as they are."""

    tang: Size = field("how deep the frets' tang goes in; the slot is 0.5 deeper")
    width: Size = field("width of a slot: the tang's thickness, or up to 0.05 less", 0.58)
    blind: Gap = field("how far from the edges the slots stop; 0 runs them out, 2 is usual", 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Markers:
    """Round position marks, midway between two frets."""

    frets: tuple[Count, ...] = field("the frets that they stand before, such as [3, 5, 7, 9, 12]")
    diameter: Size = field("diameter", 6.0)
    depth: Size | None = field("how deep they are bored; engraved circles when absent", None)
    double: tuple[Count, ...] = field("those of the frets that get two", ())
    apart: Size | None = field("distance of two; half the width of the board there when absent", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """A fretboard. Without a sheet it cuts nothing and gives its numbers and its shape to other steps."""

    length: Size = field("length of the scale: from the bridge line to the nut line")
    divisions: Count = field("equal steps of the octave", 12)
    frets: Count = field("how many frets")
    width: Width | None = field("widths at the nut line and at the last fret", None)
    string_spacing: Spread | None = field(
        "distance of the outer strings; without `width` the edges run `margin` beside them", None
    )
    margin: Gap = field("from the outer strings to the edges, where `width` doesn't give these", 3.25)
    strings: Count | None = field("how many strings, evenly spaced", None)
    compensation: tuple[Length, ...] = field(
        "how far behind the bridge line the saddles stand: one for all, or one a string from bass to treble", ()
    )
    radius: Size | Crown | None = field(
        "radius of the face: one, or one at the nut and one at the last fret", None
    )
    overhang: Gap = field("how far the board goes on past the last fret", 0.0)
    end_radius: Size | None = field("radius of the arc that bounds its end; a straight end when absent", None)
    beyond_nut: Gap = field("how far the board goes on behind the nut line", 0.0)
    zero_fret: bool = field("a fret on the nut line", False)
    joint: Joint | None = field("where the neck joins the body", None)
    pickups: Mapping[str, Size] = field("distances of pickups from the bridge line, by name", {})
    sheet: SheetName | None = field("the sheet it is cut from; without one it cuts nothing", None)
    slots: Slots | None = field("cut slots; only their places are scored when absent, and always by a laser", None)
    markers: Markers | None = field("position marks", None)
    label: bool = field("engrave name and revision on its face, as on a template", False)


def board_of(spec: Spec) -> Board:
    """The board that a spec without problems describes."""
    scale = Scale(length=spec.length, divisions=spec.divisions)
    if spec.width is not None:
        nut, last = spec.width.nut, spec.width.last
    else:
        nut, last = (spread_at(spec, x) + 2 * spec.margin for x in (scale.length, scale.x_of(spec.frets)))
    crown = spec.radius
    if isinstance(crown, float | int):
        crown = Crown(nut=crown, last=crown)
    return Board(
        scale=scale,
        frets=spec.frets,
        nut_width=nut,
        last_width=last,
        overhang=spec.overhang,
        beyond_nut=spec.beyond_nut,
        crown=None if crown is None else (crown.nut, crown.last),
    )


def spread_at(spec: Spec, x: float) -> float:
    """Distance of the outer strings at x; 0 where the recipe doesn't tell it."""
    s = spec.string_spacing
    return 0.0 if s is None else linear(s.nut, s.bridge, spec.length, x)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a fretboard together."""
    spec: Spec = step.spec
    if spec.width is None and spec.string_spacing is None:
        yield Problem(
            wrong=f"{step.name} doesn't say how wide it is.",
            place=step.place(),
            expected="`width: {nut: …, last: …}`, or `string_spacing: {nut: …, bridge: …}` with `margin:`",
        )
        return
    if spec.width is not None and "margin" in step.places:
        yield Problem(
            wrong=f"{step.name} gives its widths, so `margin` has nothing to decide.",
            place=place_in(step, "margin"),
            expected="`width:`, or `string_spacing:` with `margin:`",
        )
    if spec.joint is not None:
        yield from _joint_problems(step, spec.joint)
    if len(spec.compensation) > 1 and len(spec.compensation) != spec.strings:
        yield Problem(
            wrong=f"{step.name} gives {len(spec.compensation)} compensations for {spec.strings or 'no'} strings.",
            place=place_in(step, "compensation"),
            expected="one number for all, or `strings:` and as many numbers",
        )
    board = board_of(spec)
    yield from _face_problems(step, spec, board)
    for path in ("slots", "markers", "label"):
        if getattr(spec, path) and not spec.sheet:
            yield Problem(
                wrong=f"{step.name} has no sheet, so `{path}` has nothing to be cut in.",
                place=place_in(step, path),
                expected="`sheet:` with it, or neither",
            )
    narrow = min(board.width_at(x) for x in board.span)
    if spec.slots is not None and 2 * spec.slots.blind + spec.slots.width >= narrow:
        yield Problem(
            wrong=f"Slots that stop {spec.slots.blind:g} from both edges leave nothing of {narrow:.2f}.",
            place=place_in(step, "slots.blind"),
            expected="2, or some other distance of less than half the width",
        )
    if spec.markers is not None:
        yield from _marker_problems(step, spec, spec.markers)


MOST_OCTAVES = 4
"""Behind the fourth octave there is less than a sixteenth of the string: no neck reaches there."""


def _joint_problems(step: Step, joint: Joint) -> Iterator[Problem]:
    names = given(joint, ("fret", "distance"))
    if len(names) != 1:
        yield Problem(
            wrong=f"The joint of {step.name} is given by {' and '.join(names) or 'nothing'}.",
            place=place_in(step, "joint"),
            expected="exactly one of `fret:` and `distance:`",
        )
    elif joint.fret is not None and not 0 < joint.fret <= MOST_OCTAVES * step.spec.divisions:
        yield Problem(
            wrong=f"The neck of {step.name} can't join the body at fret {joint.fret:g}.",
            place=place_in(step, "joint.fret"),
            expected=f"a fret above 0 and up to {MOST_OCTAVES * step.spec.divisions}",
        )
    elif joint.distance is not None and joint.distance >= step.spec.length:
        yield Problem(
            wrong=f"The joint would lie {joint.distance:g} from the bridge line, at or behind the nut.",
            place=place_in(step, "joint.distance"),
            expected=f"less than the length, {step.spec.length:g}",
        )


def _face_problems(step: Step, spec: Spec, board: Board) -> Iterator[Problem]:
    low, high = board.span
    if low <= 0.0:
        yield Problem(
            wrong=f"{step.name} would reach {-low:.2f} past the bridge line.",
            place=place_in(step, "overhang"),
            expected=f"less than {board.last:.2f}, what is left between the last fret and the bridge line",
        )
    for x in (low, high):
        radius, width = board.radius_at(x), board.width_at(x)
        if width <= 0 or (radius is not None and 2 * radius < width):
            yield Problem(
                wrong=f"{step.name} is {width:.2f} wide at x {x:.1f}"
                + (f", and its radius there only {radius:.2f}." if radius is not None else "."),
                place=place_in(step, "radius" if radius is not None else "width"),
                expected="a width above 0, and a radius of more than half of it",
            )
    if spec.end_radius is not None and 2 * spec.end_radius < board.width_at(low):
        yield Problem(
            wrong=f"An end of radius {spec.end_radius:g} doesn't span the board, which is "
            f"{board.width_at(low):.2f} wide there.",
            place=place_in(step, "end_radius"),
            expected=f"at least {board.width_at(low) / 2:.2f}, which makes a half circle",
        )


def _marker_problems(step: Step, spec: Spec, markers: Markers) -> Iterator[Problem]:
    over = [n for n in markers.frets if n > spec.frets]
    if over:
        yield Problem(
            wrong=f"{step.name} has {spec.frets} frets, so nothing marks {listed(map(str, over), 'and')}.",
            place=place_in(step, "markers.frets"),
            expected=f"frets from 1 to {spec.frets}",
        )
    lone = [n for n in markers.double if n not in markers.frets]
    if lone:
        yield Problem(
            wrong=f"`double` names {listed(map(str, lone), 'and')}, which no marker stands at.",
            place=place_in(step, "markers.double"),
            expected="frets that `frets:` lists too",
        )
