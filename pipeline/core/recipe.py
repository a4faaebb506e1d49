"""A recipe as read: checked values, every one with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pipeline.core.balance import Balance
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
from pipeline.core.quote import Terms
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
class Offcut:
    """What is left of one physical sheet, or where nothing may be cut in it."""

    size: tuple[Size, Size] | None = field("its own length by width; that of a whole sheet when absent", None)
    corners: tuple[Point, ...] = field("its corners in order, where it is no rectangle, from its lower left", ())
    keep_out: tuple[tuple[Length, Length, Size, Size], ...] = field(
        "where nothing may be cut (a knot, a screw, a label): x, y, width, height from its lower left", ()
    )
    price: Money = field("what it costs; 0: it is there already", 0.0)

    @property
    def whole(self) -> bool:
        """True where it is a sheet as bought, only with places that are kept out of."""
        return self.size is None and not self.corners


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A stock: one or several physical sheets of the same material, each with its letter."""

    measured: Mapping[str, Size] = field("measured thickness of each physical sheet, by letter")
    nominal: Size | None = field("what it is sold as", None)
    size: tuple[Size, Size] = field("length by width", (1220.0, 610.0))
    grain: Literal["x", "y", "none"] = field("which way the face grain runs on the sheet", "none")
    density: Density | None = field("density in kg/m³", None)
    price: Money | None = field("price of one sheet; absent: not given", None)
    shop: str = field("which shop cuts it; the first shop when absent", "")
    material: str = field("what it is, in words", "")
    offcuts: Mapping[str, Offcut] = field(
        "letters of `measured` that are offcuts, or have places to keep out of", {}
    )

    def size_of(self, letter: str) -> tuple[float, float]:
        """Length by width of a physical sheet: of an offcut with corners the box around them, from its zero."""
        offcut = self.offcuts.get(letter)
        if offcut is None:
            return self.size
        if offcut.corners:
            return max(x for x, _ in offcut.corners), max(y for _, y in offcut.corners)
        return offcut.size or self.size

    def single(self, letter: str) -> bool:
        """True for an offcut: there is one of it, and no second can be bought."""
        return letter in self.offcuts and not self.offcuts[letter].whole


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwarePart:
    """A bought part: measured, with its place on the design."""

    count: Count = field("how many", 1)
    mass: Mass = field("mass of one", 0.0)
    at: tuple[Length, Length, Length] | None = field("where it sits: x, y, z", None)
    price: Money | None = field("price of one; absent: not given", None)
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
class Relaxed:
    """A caution of the order of work that the maker leaves out, and why."""

    caution: str = field("the caution's name, as the order of work tells it")
    because: str = field("why it isn't needed here")
    of: StepName = field("the step it speaks of; all of them when absent", "")


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
class StoredSheet:
    """One physical sheet of a kept layout: rows (piece, copy, turn in degrees, dx, dy) in mm."""

    letter: str
    number: int
    rows: tuple[tuple[str, int, int, float, float], ...]


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
    quote: Terms = Terms()
    relax: tuple[Relaxed, ...] = ()  # cautions of the order of work that are left out
    spare: Mapping[str, int] = field(
        "", {}
    )  # copies more of what a step makes, cut from what is left of the sheets
    nests: str = ""  # absolute path of the kept layouts, which may not exist
    layouts: Mapping[str, tuple[StoredSheet, ...]] = field("", {})  # kept layouts by "variant/shop/stock"
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
