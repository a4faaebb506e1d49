"""What is done to the edges of a glued blank: `edge:` of a stack (its fields; `edge_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import DrawnName, FaceName, Gap, Length, MarkName, Point, Size, StepName, field
from pipeline.core.recipe import Step
from pipeline.core.text import listed
from pipeline.steps.common import given, place_in

Spot = MarkName | Point
"""A mark of the drawing, or a point; the nearest place of the edge is meant."""
KINDS = ("round", "bevel", "scoop")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevel:
    """A slope from the face to the side."""

    shape: Literal["plane", "even"] = field(
        "plane: one flat cut, its inner line straight and its drop as the outline bulges; "
        "even: as wide everywhere, its inner line parallel to the outline"
    )
    drop: Size = field("how far down the side it reaches where it is deepest")
    run: Size | None = field("how wide it is on the face; of a plane one, where it is widest", None)
    line: tuple[Spot, Spot] | None = field("two places on the straight inner line of a plane one", None)
    fade: Gap = field("length over which an even one begins and ends", 0.0)
    skin: Gap = field("wood that must stay over a cavity beneath it", 4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scoop:
    """A round hollow at the edge, carved by hand."""

    depth: Size = field("how deep it is at the edge")
    radius: Size = field("radius of the hollow across")
    boundary: DrawnName | None = field("a line of the drawing where it ends; a straight one when absent", None)
    fade: Gap = field("length over which its depth begins and ends along the edge", 0.0)
    spacing: Size = field("distance between the holes that tell its depth", 25.0)
    short: Gap = field("how much the holes stop short of the surface", 0.5)
    drill: Size = field("diameter of these holes", 4.0)
    holes: bool = field("have the holes drilled by machine; else they are only a table", False)
    skin: Gap = field("wood that must stay over a cavity beneath it", 4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """What is done to one stretch of an edge, or to all of it: one of `round`, `bevel` and `scoop`."""

    round: Size | None = field("radius of a rounding", None)
    bevel: Bevel | None = field("a slope", None)
    scoop: Scoop | None = field("a hollow", None)
    between: tuple[Spot, Spot] | None = field("from one place to another, anticlockwise seen from the front", None)
    along: tuple[Length, Length] | None = field(
        "from one arc length to another, anticlockwise from the outline's foremost point (that of the largest x)",
        None,
    )
    skip: tuple[StepName, ...] = field("cavities, channels and holes at whose mouths the edge stays square", ())
    by: Literal["bit", "hand"] = field("a rounding by a bit with a bearing, or with rasp and paper", "bit")
    bearing: Size = field("diameter of the bearing", 12.7)
    bearing_height: Size = field("height of the bearing, which needs so much straight wall", 5.0)

    @property
    def kind(self) -> Literal["round", "bevel", "scoop"]:
        return "round" if self.round is not None else "bevel" if self.bevel is not None else "scoop"

    @property
    def by_bit(self) -> bool:
        return self.round is not None and self.by == "bit"

    @property
    def reach(self) -> float:
        """How far down the side it takes wood, at most, mm."""
        if self.round is not None:
            return self.round
        if self.bevel is not None:
            return self.bevel.drop
        return self.scoop.depth if self.scoop is not None else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One or several treatments of each face's edge, after glue-up and not by the machine."""

    front: tuple[Treatment, ...] = field("of the front edge", ())
    back: tuple[Treatment, ...] = field("of the back edge", ())

    def all(self) -> Iterator[tuple[FaceName, int, Treatment]]:
        """(face, place in its list, treatment) of every one, the front first."""
        yield from (("front", i, t) for i, t in enumerate(self.front))
        yield from (("back", i, t) for i, t in enumerate(self.back))


def path(face: str, number: int, field_name: str = "") -> str:
    """The field path of a treatment in its step."""
    return f"edge.{face}.{number}" + (f".{field_name}" if field_name else "")


def problems(step: Step, edge: Edge) -> Iterator[Problem]:
    """What is wrong with the fields of all treatments."""
    for face, i, t in edge.all():
        yield from _one_kind(step, face, i, t)
        if t.between is not None and t.along is not None:
            yield Problem(
                wrong=f"The {face} edge of {step.name} says both `between` and `along`.",
                place=place_in(step, path(face, i, "along")),
                expected="one of them, or none for the whole outline",
            )
        if t.bevel is not None:
            yield from _bevel(step, face, i, t, t.bevel)
        if t.scoop is not None:
            yield from _scoop(step, face, i, t, t.scoop)


def _one_kind(step: Step, face: str, i: int, t: Treatment) -> Iterator[Problem]:
    found = given(t, KINDS)
    if len(found) != 1:
        yield Problem(
            wrong=f"The {face} edge of {step.name} gives {' and '.join(f'`{n}`' for n in found)} at once."
            if found
            else f"The {face} edge of {step.name} doesn't say what is done to it.",
            place=place_in(step, path(face, i, found[1] if found else "")),
            expected=f"exactly one of {listed(f'`{n}`' for n in KINDS)}",
            remedy="write several treatments as a list" if found else "",
        )


def _bevel(step: Step, face: str, i: int, t: Treatment, b: Bevel) -> Iterator[Problem]:
    if b.shape == "even" and (b.run is None or b.line is not None):
        yield Problem(
            wrong=f"An even bevel of {step.name} needs its `run` and has no straight `line`.",
            place=place_in(step, path(face, i, "bevel.line" if b.line is not None else "bevel")),
            expected="`run:` in mm, or `shape: plane`",
        )
    if b.shape == "plane" and (b.run is None) == (b.line is None):
        yield Problem(
            wrong=f"A plane bevel of {step.name} needs either its `run` or its inner `line`.",
            place=place_in(step, path(face, i, "bevel")),
            expected="`run:` in mm at its widest place, or `line:` with two places",
        )
    if b.shape == "plane" and b.fade:
        yield Problem(
            wrong=f"A plane bevel of {step.name} ends where its inner line meets the outline; it can't fade.",
            place=place_in(step, path(face, i, "bevel.fade")),
            remedy="take `fade` out, or write `shape: even`",
        )
    if b.line is None and t.between is None and t.along is None and b.shape == "plane":
        yield _needs_stretch(step, face, i, "A plane bevel")


def _scoop(step: Step, face: str, i: int, t: Treatment, s: Scoop) -> Iterator[Problem]:
    if t.between is None and t.along is None:
        yield _needs_stretch(step, face, i, "A hollow")
    if s.depth >= s.radius:
        yield Problem(
            wrong=f"A hollow of radius {s.radius:g} can't be {s.depth:g} deep.",
            place=place_in(step, path(face, i, "scoop.radius")),
            expected="a radius larger than the depth; 120 to 200 is usual for a depth of 10 to 12",
        )


def _needs_stretch(step: Step, face: str, i: int, what: str) -> Problem:
    return Problem(
        wrong=f"{what} on the {face} edge of {step.name} needs a stretch of the outline.",
        place=place_in(step, path(face, i)),
        expected="`between:` two marks, or `along:` two arc lengths in mm",
    )
