"""A recipe as read: checked values, every one with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pipeline.core.fields import (
    Count,
    Density,
    FaceName,
    Gap,
    Length,
    MarkName,
    Mass,
    Money,
    Point,
    Size,
    StepName,
    field,
)
from pipeline.core.place import Place
from pipeline.core.shop import Shop

Places = Mapping[str, Place]
"""Field path ("depth", "tilt.angle", "laminations.2") → where it is written; "" is the whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class By:
    """Who made the drawing and when, as typed by the maker, for the title block."""

    owner: str = field("legal owner", "")
    drawn: str = field("who drew it (initials)", "")
    issued: str = field("date of issue, as it shall be printed", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """One known length: the distance between two marks, or of a line or a named object's width."""

    between: tuple[MarkName, ...] = field("two marks, or one line")
    is_: Size = field("its true length")  # written `is:`
    reading: Gap = field("how far its ends may be misread, together", 0.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where zero stands and which way x runs."""

    origin: MarkName = field("the mark at (0, 0)", "")
    x_toward: MarkName = field("the mark that x points at", "")
    turn_over: Literal["x", "y"] = field("the axis about which the work is turned over", "x")
    known: tuple[Known, ...] = field("known lengths that fix the scale", ())
    stretch: bool = field("scale x and y separately, by known lengths along both", False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A stock: one or several physical sheets of the same material, each with its letter."""

    measured: Mapping[str, Size] = field("measured thickness of each physical sheet, by letter")
    nominal: Size | None = field("what it is sold as", None)
    size: tuple[Size, Size] = field("length by width", (1220.0, 610.0))
    grain: Literal["x", "y", "none"] = field("which way the face grain runs on the sheet", "none")
    density: Density | None = field("density in kg/m³", None)
    price: Money = field("price of one sheet", 0.0)
    shop: str = field("which shop cuts it; the first shop when absent", "")
    material: str = field("what it is, in words", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwarePart:
    """A bought part: measured, with its place on the design."""

    count: Count = field("how many", 1)
    mass: Mass = field("mass of one", 0.0)
    at: tuple[Length, Length, Length] | None = field("where it sits: x, y, z", None)
    price: Money = field("price of one", 0.0)
    measured: bool = field("true when the maker has it on the table and measured it", False)
    size: tuple[Size, ...] = field("length, width, height", ())
    keep_out: Length = field("how far other cuts keep away from it", 0.0)
    thread: Gap = field("length of its thread, which bounds the skin that it goes through; 0: it has none", 0.0)
    hole: Gap = field("diameter of the hole it needs; 0: not said", 0.0)
    round: bool = field("its plan is a circle of its length, not a rectangle", False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A numbered note pinned to a mark or a point."""

    at: MarkName | Point = field("a mark or a point")
    text: str = field("what it says")
    since: str = field("revision it stands since", "")
    closed: str = field("revision it was closed in", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A finding that the maker has looked at and accepts."""

    check: str = field("the check's name")
    step: StepName = field("the step it speaks of", "")
    measured: float | None = field("the number that is accepted; a worse one reopens it", None)
    because: str = field("why")
    since: str = field("revision", "")
    piece: str = field("the piece it speaks of", "")
    by: str = field("who accepts it", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Points for the balance picture."""

    seat: MarkName = field("where it rests on the thigh", "")
    strap: tuple[MarkName, ...] = field("front and tail strap buttons", ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: its name, kind, own fields (``spec`` is the kind's frozen dataclass) and places.

    ``needs`` maps each step it needs to the reason: the field that names it ("of", "cut", "after").
    """

    name: str
    kind: str
    spec: Any
    after: tuple[str, ...]
    needs: Mapping[str, str]
    places: Places

    def place(self, path: str = "") -> Place:
        """Where a field is written; the step's own line when the field is absent."""
        return self.places.get(path) or self.places[""]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """One file a recipe read: path from the project root (with /), bytes' sha256."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A whole recipe, read and checked. Mappings keep the order of the file."""

    design: str
    title: str
    revision: str
    by: By
    make: int
    parameters: Mapping[str, float]
    drawing: str  # absolute path
    drawing_place: Place
    frame: Frame | None
    shops: Mapping[str, Shop]  # never empty; the first is the default
    sheets: Mapping[str, Sheet]
    hardware: Mapping[str, HardwarePart]
    steps: Mapping[str, Step]
    balance: Balance | None
    notes: tuple[Note, ...]
    accepted: tuple[Accepted, ...]
    variant: str  # "" for the recipe itself
    tolerance: float
    made: str  # absolute path of the made register, "" when none is named
    root: str  # absolute path of the project root
    path: str  # absolute path of the recipe
    inputs: tuple[InputFile, ...]
    places: Places
    variants: tuple[str, ...] = ()  # names of all variants of this recipe
    mirrored: bool = False  # a left-handed variant: `steps/mirror.py` mirrors the whole derivation at its end
    said: tuple[str, ...] = ()  # what was assumed and should be told: "no shop named: …"

    @property
    def default_shop(self) -> Shop:
        return next(iter(self.shops.values()))

    def shop_of(self, sheet: str) -> Shop:
        """The shop that cuts a stock (given by its name, without letter)."""
        stock = self.sheets.get(sheet)
        return self.shops[stock.shop] if stock and stock.shop else self.default_shop


def other_face(face: FaceName) -> FaceName:
    return "back" if face == "front" else "front"
