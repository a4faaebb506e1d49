"""How much room a bought part gets, and the shapes that cavities are given in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import Gap, Length, PartName, Size, field
from pipeline.core.recipe import HardwarePart, Recipe, Step
from pipeline.core.standard import part_names, part_of
from pipeline.core.text import quoted
from pipeline.steps.common import one_of_words, place_in

FITS: dict[str, float] = {"press": 0.0, "slide": 0.10, "drop-in": 0.25, "clearance": 0.80}
"""Clearance a side in mm (blueprint, Edges and sizes; 0.80 is a published habit for visible
cavities, the others common practice, no source)."""

Fit = Literal["press", "slide", "drop-in", "clearance"] | Length
"""A fit by name, or mm a side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """The finish on both surfaces of a fit: 0.10 to 0.15 a finished surface, 0 where it is masked (published)."""

    part: Gap = field("thickness of the finish on a side of the part", 0.0)
    wall: Gap = field("thickness of the finish on the cavity's wall", 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A rectangle, a circle, or the size of a bought or standard part (exactly one)."""

    rectangle: tuple[Size, Size] | None = field("length along x and width along y", None)
    corner: Gap = field("corner radius of the rectangle or of the part", 0.0)
    circle: Size | None = field("diameter", None)
    of: PartName | None = field("a part of `hardware`, by its length and width", None)
    standard: str = field("a standard part, such as 6LR61; `hardware` may hold a measured one of that name", "")
    longer: Gap = field("room added to its length, as for the clip of a battery", 0.0)

    @property
    def kinds(self) -> list[str]:
        """Which of the four are given."""
        return [n for n in ("rectangle", "circle", "of", "standard") if getattr(self, n)]

    @property
    def part(self) -> str:
        """The name of the bought part whose size it takes, or nothing."""
        return self.of or self.standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A shape settled: a circle's diameter, or the two sides of a rectangle with its corner radius, in mm."""

    circle: float | None = None
    sides: tuple[float, float] = (0.0, 0.0)
    corner: float = 0.0


def plan_of(shape: Shape, recipe: Recipe) -> Plan:
    """The plan of a shape that has no problems."""
    part = part_of(recipe, shape.part) if shape.part else None
    if part is not None and part.round and not shape.longer:
        return Plan(circle=part.size[0])
    if shape.circle is not None:
        return Plan(circle=shape.circle)
    length, width = shape.rectangle or (part.size[:2] if part else (0.0, 0.0))
    return Plan(sides=(length + shape.longer, width), corner=shape.corner)


def place_of(shape: Shape, recipe: Recipe) -> tuple[float, float] | None:
    """Where its part sits, (x, y), when `hardware` says it."""
    own: HardwarePart | None = recipe.hardware.get(shape.part)
    return own.at[:2] if own is not None and own.at is not None else None


def shape_problems(step: Step, recipe: Recipe, path: str, shape: Shape) -> Iterator[Problem]:
    """What is wrong with the fields of a shape together."""
    if len(shape.kinds) != 1:
        yield Problem(
            wrong=f"The shape of {step.name} gives {' and '.join(shape.kinds) or 'no size'}.",
            place=place_in(step, path),
            expected="exactly one of `rectangle`, `circle`, `of`, `standard`",
        )
        return
    if shape.of is not None and shape.of not in recipe.hardware:
        yield Problem(
            wrong=f"There is no part called {quoted(shape.of)} in `hardware`.",
            place=place_in(step, f"{path}.of"),
            expected=one_of_words(recipe.hardware, shape.of),
        )
        return
    part = part_of(recipe, shape.part) if shape.part else None
    if shape.standard and part is None:
        yield Problem(
            wrong=f"There is no standard part called {quoted(shape.standard)}.",
            place=place_in(step, f"{path}.standard"),
            expected=one_of_words(part_names(recipe), shape.standard),
            remedy="Measure the part and put it into `hardware` with its `size:`.",
        )
        return
    if part is not None and len(part.size) < 2:
        yield Problem(
            wrong=f"The part {shape.part} has no size in `hardware`.",
            place=place_in(step, f"{path}.{'of' if shape.of else 'standard'}"),
            expected="`size: [length, width, height]` at the part",
        )
        return
    plan = plan_of(shape, recipe)
    if plan.circle is not None and (shape.corner or (shape.longer and shape.circle is not None)):
        yield Problem(
            wrong="A circle has no corners." if shape.corner else "A circle can't get longer.",
            place=place_in(step, f"{path}.{'corner' if shape.corner else 'longer'}"),
            expected=f"`circle:` without `{'corner' if shape.corner else 'longer'}:`",
        )
    elif plan.circle is None and shape.corner > min(plan.sides) / 2 + 1e-9:
        yield Problem(
            wrong=f"A corner of {shape.corner:g} is larger than half the shorter side, {min(plan.sides) / 2:g}.",
            place=place_in(step, f"{path}.corner"),
            expected=f"a corner of at most {min(plan.sides) / 2:g}",
        )


def side_mm(fit: str | float) -> float:
    """Clearance a side in mm of a fit."""
    return FITS[fit] if isinstance(fit, str) else float(fit)


def film_mm(film: float | Film) -> float:
    """Thickness of the finish a side in mm: on the part and on the wall together."""
    return film.part + film.wall if isinstance(film, Film) else float(film)


def room_mm(fit: str | float, film: float | Film) -> float:
    """What a part gets a side: width = part + 2·(clearance + film on it + film on the wall), trade.md 3.2."""
    return side_mm(fit) + film_mm(film)


def fit_words(fit: str | float) -> str:
    """The fit as the maker reads it."""
    return fit if isinstance(fit, str) else f"{fit:g} a side"
