"""What a recipe says of balance: where a thing rests, hangs, stands or is held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.core.fields import (
    Angle,
    Count,
    Gap,
    Length,
    MarkName,
    Mass,
    NotNegative,
    Point,
    Size,
    StepName,
    field,
)

Place3 = tuple[Length, Length, Length]
Side = Literal["+x", "-x", "+y", "-y"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Legs:
    """Legs whose feet stand on one circle, and who sits on them."""

    count: Count = field("how many, 3 or more", 3)
    radius: Size = field("radius of the circle that the feet stand on")
    centre: MarkName | Point = field("the middle of that circle", (0.0, 0.0))
    first: Angle = field("where the first foot stands, anticlockwise from +x", 90.0)
    seat: Gap = field("how far from the middle the load may sit: the seat's radius")
    load: Mass = field("mass of who or what sits there", 80_000.0)

    def __post_init__(self) -> None:
        if self.count < 3:
            raise ValueError("What stands needs three legs or more.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A thing that stands or hangs on the finished object and is no part of it."""

    mass: Mass = field("its mass")
    at: Place3 = field("its centre of gravity: x, y, z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands:
    """A base that lies flat on the table or floor."""

    on: StepName = field("the step whose shape is the base")
    device: Device | None = field("what is put on it: a screen, a bulb", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """How the finished object is held, hung or set down; everything is optional."""

    seat: MarkName | Point = field("where it rests on the thigh: a mark or a point", "")
    thigh: Size = field("half the width that rests on the thigh", 60.0)
    strap: tuple[MarkName | Point, ...] = field("front and tail strap buttons", ())
    strap_length: Size = field("length of the strap from button to button, over the shoulder", 1200.0)
    strap_set: tuple[Size, Size] | None = field(
        "lengths from the front button to the shoulder and from there to the tail button, when the strap doesn't "
        "slide",
        None,
    )
    friction: NotNegative = field(
        "friction of strap on cloth: smooth nylon 0.2 to 0.25, cotton 0.3 to 0.4, suede 0.5 and more", 0.25
    )
    nut: MarkName | Point = field("where the hand holds the neck; the mark that x points at when absent", "")
    handle: tuple[MarkName | Point, ...] = field(
        "the line of the hand that carries it: two points, or one line", ()
    )
    hang: MarkName | Point = field("the point it hangs on at a wall", "")
    up: Side = field("which way is up while it hangs at a wall", "+y")
    legs: Legs | None = field("legs that it stands on", None)
    stands: Stands | None = field("a base that it stands on", None)
    pieces: Mapping[str, Length | Place3] = field(
        "where pieces lie in the finished object: the height of its back when it lies as drawn, or its centre "
        "[x, y, z]",
        {},
    )

    def __post_init__(self) -> None:
        if len(self.strap) not in (0, 2):
            raise ValueError(f"A strap has two buttons, front and tail, and {len(self.strap)} are named.")
        if len(self.handle) > 2:
            raise ValueError(f"The line of a hand has two ends, and {len(self.handle)} points are named.")
        if self.strap_set is not None and not self.strap:
            raise ValueError("`strap_set` needs the two buttons under `strap`.")
