"""What steps take and what they give: frozen values between the rooms.

Everything here is in the design frame, millimetres, seen from the front, x right, y up, also what is
cut from the back: the packet turns a set-up to the machinist's view when it writes it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Step
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region

NOTHING: Mapping[str, Any] = MappingProxyType({})


# -- what a drawing holds ------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A mark of the drawing: ``at`` is its point (centre or crossing), ``ends`` a line's two ends."""

    name: str
    at: tuple[float, float]
    ends: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One named object of the drawing, in the design frame. ``region`` is None when it encloses none;
    ``problem`` then says why in a sentence. ``lines`` are its open contours. ``free``: it has
    free-form curves. ``repairs`` are what reading it closed, dropped or united."""

    name: str
    region: Region | None
    lines: tuple[Contour, ...]
    mark: Mark | None
    place: Place
    problem: str = ""
    repairs: tuple[Repair, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One known length as it was used: its two ends in the design frame, ``true_mm`` as the recipe states it,
    ``drawn_mm`` as the drawing's own size says, ``comes_out_mm`` after scaling, and ``plus_minus_mm``: what a
    reading error at its ends means over the longest dimension of the drawing (trade.md 1.2)."""

    name: str
    ends: tuple[tuple[float, float], tuple[float, float]]
    true_mm: float
    drawn_mm: float
    comes_out_mm: float
    plus_minus_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One repair of an outline: ``what`` (joined, dropped, mirrored, smoothed …), by how much it moved the line
    at most and where, and a sentence for the maker."""

    what: str
    moved_mm: float
    at_mm: tuple[float, float]
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing as read: objects by every name a recipe may use (id, label, layer name).

    ``all`` is the region of the whole drawing less marks. ``several`` holds, for each field that names
    more than one object, those names taken together. ``findings`` are what intake has to tell
    (dropped duplicates, scale differences). ``scale_mm`` is mm per drawing unit as applied.
    """

    file: str
    objects: Mapping[str, Drawn]
    all: Drawn
    several: Mapping[tuple[str, ...], Drawn] = field(default_factory=lambda: MappingProxyType({}))
    findings: tuple[Finding, ...] = ()
    scale_mm: float = 1.0
    calibrations: tuple[Calibration, ...] = ()


# -- plan rules ----------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """A sloped floor: depth grows along the unit vector ``toward``; ``shallow`` and ``deep`` are the
    coordinates p·toward of the shape's own ends (before overrun), in mm."""

    angle_deg: float
    toward: tuple[float, float]
    shallow: float
    deep: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Depth:
    """How deep a cut goes from its face.

    rule "depth": ``mm`` below the face (at the shallow end of a tilt); "floor": ``mm`` remains (at the
    deepest end of the shape); "through": all the way; "sheet": the full thickness of its lamination.
    """

    rule: Literal["depth", "floor", "through", "sheet"]
    mm: float = 0.0
    tilt: Tilt | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One removal, as a plan rule: region, face, depth. Names no stack.

    ``region`` is what goes (overrun included), ``design`` the shape before overrun. ``diameter_mm``
    makes it a drilled hole. ``lamination`` (1 is at the back) confines it to one lamination.
    ``index`` marks an index hole, ``fit`` a mating feature, ``engrave`` is the depth governing.
    """

    step: str
    name: str
    region: Region
    design: Region
    face: FaceName
    depth: Depth
    diameter_mm: float | None = None
    lamination: int | None = None
    index: bool = False
    fit: str = ""


# -- what goes to a shop -------------------------------------------------------------------------
Work = Literal[
    "CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL", "GROOVE", "ENGRAVE", "SCORE",
    "STOCK", "DATUM", "INDEX", "BRIDGE", "KEEP_CLEAR", "CARVE_LINE", "REFERENCE", "CHECK_SQUARE", "TEXT",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Op:
    """One thing on one layer of a set-up.

    ``contours``: for a POCKET or RAMP the boundary and its islands; for CUT_* and DRILL closed
    contours; for GROOVE, ENGRAVE and SCORE centrelines, open or closed. ``depth_mm`` is measured from
    the face; ``deep_mm`` the deep end of a RAMP; ``through`` replaces the depth of a DRILL.
    ``ramp`` holds (x, y, depth) rows of a ramp's table.
    """

    work: Work
    face: FaceName
    contours: tuple[Contour, ...]
    depth_mm: float | None = None
    deep_mm: float | None = None
    diameter_mm: float | None = None
    through: bool = False
    step: str = ""
    ramp: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Text at a point (left end of its baseline, or centred): ``engrave`` True means it is cut as
    strokes; otherwise it stands on TEXT. Written after mirroring, so it always reads right way round."""

    text: str
    at: tuple[float, float]
    height_mm: float
    engrave: bool = False
    depth_mm: float = 0.3
    turn_deg: float = 0.0
    centred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """One clamping of one piece or blank: what is cut from one face."""

    face: FaceName
    ops: tuple[Op, ...]
    labels: tuple[Label, ...] = ()


Role = Literal["panel", "lamination", "template", "cover", "gauge", "rib", "coupon"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One physical thing cut from one sheet.

    ``region`` is the exact design edge (outer less through openings), ``cut`` the outer cut edge with
    openings (what is left when all through contours are followed). ``set_ups`` come in working order.
    """

    name: str
    role: Role
    step: str
    sheet: str
    letter: str
    shop: str
    count: int
    thickness_mm: float
    region: Region
    cut: Region
    set_ups: tuple[SetUp, ...]
    mass_g: float | None
    grain: Literal["x", "y", "none"] = "none"
    allowance_mm: float = 0.0
    partial: tuple[tuple[Region, float], ...] = ()  # (plan region, mean depth) of pockets, for mass


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamination:
    """One layer of a stack: number from the back, z span in the blank (mm from the back face)."""

    number: int
    sheet: str
    letter: str
    z0: float
    z1: float
    piece: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRun:
    """One stretch of a blank's edge that is rounded, bevelled or hollowed after glue-up.

    ``edge`` is the stretch of the outline (closed when it is all of it), ``lines`` where the treatment ends on the
    face; ``from_mm`` and ``to_mm`` are arc lengths anticlockwise from the outline's foremost point.
    ``size_mm``: the radius, or the greatest depth.
    """

    face: FaceName
    kind: Literal["round", "bevel", "scoop"]
    size_mm: float
    edge: Contour
    lines: tuple[Contour, ...]
    from_mm: float
    to_mm: float
    by: Literal["bit", "hand"] = "hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """The laminations glued into one, machined further as one. ``region`` is the design outline."""

    name: str
    step: str
    shop: str
    count: int
    laminations: tuple[Lamination, ...]
    thickness_mm: float
    region: Region
    set_ups: tuple[SetUp, ...]
    mass_g: float | None
    centre_mm: tuple[float, float, float] | None
    by_hand: tuple[str, ...] = ()
    edges: tuple[EdgeRun, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What one step gives. ``region``: its main shape; ``regions``: several (an offset's, one each);
    ``cuts``: plan rules; ``numbers``: what it states in packet.json (JSON values only);
    ``reports``: sentences for the maker; ``findings``: what could not be done as asked. ``before``: an outline
    as drawn, before the ``repairs`` that the recipe asked for."""

    step: str
    kind: str
    region: Region | None = None
    regions: tuple[Region, ...] = ()
    cuts: tuple[Cut, ...] = ()
    pieces: tuple[Piece, ...] = ()
    blanks: tuple[Blank, ...] = ()
    numbers: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    reports: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    before: Region | None = None
    repairs: tuple[Repair, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """All that a step may read: the recipe, the drawing, the results of the steps it needs.

    ``blank_measured`` holds the made register's measured thickness of glued blanks by stack name.
    """

    recipe: Recipe
    drawing: Drawing
    results: Mapping[str, Result]
    blank_measured: Mapping[str, float] = field(default_factory=lambda: NOTHING)
    since: Mapping[str, str] = field(default_factory=lambda: NOTHING)

    def result(self, step: str) -> Result:
        return self.results[step]


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """The whole derivation of one design: what writers, checks and the report read."""

    recipe: Recipe
    drawing: Drawing
    order: tuple[Step, ...]
    results: Mapping[str, Result]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple(p for r in self.results.values() for p in r.pieces)

    @property
    def blanks(self) -> tuple[Blank, ...]:
        return tuple(b for r in self.results.values() for b in r.blanks)


# -- workshop ------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One copy of a piece on a sheet: turned by ``turn_deg`` about the origin, then shifted. A ``spare`` is more
    than the recipe makes, cut from what would be waste."""

    piece: str
    copy: int
    turn_deg: int
    dx: float
    dy: float
    spare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NestCut:
    """One step of the order in which a sheet is cut: all openings of a copy, or its outside, which frees it.

    ``placement`` counts the nest's placements from 0; ``contours`` is how many are followed; ``inner`` are the
    placements that lie inside them, and are cut before.
    """

    placement: int
    work: Literal["CUT_INSIDE", "CUT_OUTSIDE"]
    contours: int
    inner: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """A rectangle of a cut sheet that is worth keeping: (x, y, width, height) from the sheet's corner.

    kind "rest": of what stays of the sheet; "drop-out": of what falls out of an opening of ``piece``."""

    kind: Literal["rest", "drop-out"]
    box: tuple[float, float, float, float]
    piece: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nest:
    """Parts laid out on one physical sheet, in the order in which they are cut free.

    ``size`` (x, y) mm; ``used`` = net area / sheet area. An ``offcut`` is no whole sheet: ``corners`` are its own
    where it is no rectangle. Nothing lies in the ``keep_out`` boxes (x, y, width, height). ``length_mm`` is how much
    of the sheet's length is used; ``kept`` tells that the layout is one that was stored.
    """

    sheet: str
    letter: str
    number: int
    shop: str
    size: tuple[float, float]
    thickness_mm: float
    placements: tuple[Placement, ...]
    used: float
    offcut: bool = False
    corners: tuple[tuple[float, float], ...] = ()
    keep_out: tuple[tuple[float, float, float, float], ...] = ()
    cuts: tuple[NestCut, ...] = ()
    leftovers: tuple[Leftover, ...] = ()
    length_mm: float = 0.0
    kept: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """One line of the order of work. ``because`` is the reason it stands where it stands, ``kind`` what sort of
    reason that is, ``caution`` its name where the recipe may relax it, ``price`` in words what that costs (empty:
    nothing). ``group`` is the headline it stands under, ``day`` the earliest one, ``visit`` what is to be said of
    its visit to a machine."""

    n: int
    work: str
    piece: str
    face: str
    cutter: str
    because: str
    who: str = "maker"
    kind: Literal["must", "quality", "safety", "place"] = "must"
    price: str = ""
    caution: str = ""
    group: str = ""
    day: int = 1
    visit: str = ""
