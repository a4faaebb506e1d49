"""Where holes of a pattern stand: on a bolt circle, in a grid, along the edge of a shape, in mirrored pairs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Angle, Count, Gap, MarkName, Point, Size, StepName, field
from pipeline.core.recipe import Step
from pipeline.steps.common import place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltCircle:
    """Holes spread evenly round a circle."""

    diameter: Size = field("diameter of the circle on which their centres lie")
    count: Count = field("how many")
    start: Angle = field("where the first stands, in degrees anticlockwise from x", 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Holes in rows and columns about a centre."""

    count: tuple[Count, Count] = field("how many along x and along y")
    spacing: tuple[Size, Size] = field("from one to the next along x and along y")


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """Holes along the edge of a shape, evenly by the length of the line they stand on."""

    of: StepName = field("the outline, offset or cavity whose edge they follow")
    inset: Gap = field("how far inside the edge they stand", 0.0)
    spacing: Size | None = field("from one to the next at most; the length is shared out evenly", None)
    count: Count | None = field("how many, instead of `spacing:`", None)
    start: Point | MarkName | None = field(
        "the first stands at the line's nearest point to this; at its right end when absent", None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Where holes stand (exactly one of `circle`, `grid`, `along`, `pair`)."""

    circle: BoltCircle | None = field("round a circle", None)
    grid: Grid | None = field("in rows and columns", None)
    along: Along | None = field("along an edge", None)
    pair: tuple[Point | MarkName, ...] = field(
        "points, each with its mirror image on the other side of the axis", ()
    )
    centre: Point | MarkName | None = field("centre of a circle or a grid; the origin when absent", None)
    turn: Angle = field("angle of a grid in degrees, anticlockwise", 0.0)

    @property
    def kinds(self) -> list[str]:
        """Which of the four are given."""
        return [n for n in ("circle", "grid", "along", "pair") if getattr(self, n)]


def pattern_problems(step: Step, pattern: Pattern) -> Iterator[Problem]:
    """What is wrong with the fields of a pattern together."""
    kinds = pattern.kinds
    if len(kinds) != 1:
        yield Problem(
            wrong=f"The pattern of {step.name} gives {' and '.join(kinds) or 'nothing'}.",
            place=place_in(step, "pattern"),
            expected="exactly one of `circle`, `grid`, `along`, `pair`",
        )
        return
    if pattern.centre is not None and kinds[0] not in ("circle", "grid"):
        yield Problem(
            wrong=f"Holes of the pattern `{kinds[0]}` have no centre.",
            place=place_in(step, "pattern.centre"),
            expected="`centre:` with `circle` or `grid` only",
        )
    if pattern.turn and kinds[0] != "grid":
        yield Problem(
            wrong=f"Only a grid is turned, not `{kinds[0]}`.",
            place=place_in(step, "pattern.turn"),
            expected="`start:` at a circle",
        )
    along = pattern.along
    if along is not None and (along.spacing is None) == (along.count is None):
        yield Problem(
            wrong=f"The holes of {step.name} along {along.of} need either a spacing or a count.",
            place=place_in(step, "pattern.along"),
            expected="exactly one of `spacing` and `count`",
        )


def bolt_circle(diameter: float, count: int, start_deg: float, centre: Point = (0.0, 0.0)) -> tuple[Point, ...]:
    """x = (D/2)·cos(a₀ + 360°·k/n), y likewise with sin (outside_checks K9), in mm."""
    angles = [math.radians(start_deg + 360.0 * k / count) for k in range(count)]
    r = diameter / 2
    return tuple((centre[0] + r * math.cos(a), centre[1] + r * math.sin(a)) for a in angles)


def chord_mm(diameter: float, count: int) -> float:
    """D·sin(180°/n): from one hole of a bolt circle to the next; 0 for a single one."""
    return diameter * math.sin(math.pi / count) if count > 1 else 0.0


def grid_points(
    count: tuple[int, int], spacing: tuple[float, float], centre: Point = (0.0, 0.0), turn_deg: float = 0.0
) -> tuple[Point, ...]:
    """Rows from the lowest, each from the left, about the centre and turned about it, in mm."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    found = []
    for j in range(count[1]):
        for i in range(count[0]):
            x, y = (i - (count[0] - 1) / 2) * spacing[0], (j - (count[1] - 1) / 2) * spacing[1]
            found.append((centre[0] + x * c - y * s, centre[1] + x * s + y * c))
    return tuple(found)
