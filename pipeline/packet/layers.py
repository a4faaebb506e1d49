"""The closed list of layers: what each is called, and how it is told apart without colour.

``<face>_<work>[_<numbers>]``, upper case, a hyphen for the decimal point, so that R12 takes them.
Colours are Okabe and Ito's palette for all kinds of colour vision; the nearest of the 255 indexed
colours stands beside it for readers that know no other. Line type and name carry the meaning alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType

from pipeline.core.errors import refuse
from pipeline.core.shop import Shop
from pipeline.steps.values import Op, Work

CUT_WORKS: frozenset[Work] = frozenset(
    ("CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL", "GROOVE", "ENGRAVE", "SCORE")
)
"""Works a machine follows; every other layer is drawn and never cut."""
LASER_WORKS: frozenset[Work] = frozenset(("CUT_OUTSIDE", "CUT_INSIDE", "ENGRAVE", "SCORE"))
"""The only works in a laser's cut file."""
CLOSED_WORKS: frozenset[Work] = frozenset(("CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL"))
"""Works whose contours must be closed."""

_R12_NAME = re.compile(r"[A-Z0-9$_-]{1,31}")
# The format takes more signs, and 255 of them; but a name also stands in the words of a file, in pictures and lists.
_R2010_NAME = re.compile(r"[\w $.+()#-]{1,64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a work is drawn: true colour, nearest indexed colour (1-255), line type, pattern in mm.

    Black goes by its index alone (7), which a reader shows black or white, as its background asks.
    ``pattern`` holds dash (+), gap (-) and dot (0) lengths; empty for a continuous line.
    ``says`` tells in a few words what stands on the layer.
    """

    rgb: tuple[int, int, int]
    index: int
    line: str
    pattern: tuple[float, ...]
    says: str


_BLACK, _ORANGE, _SKY, _GREEN = (0, 0, 0), (230, 159, 0), (86, 180, 233), (0, 158, 115)
_BLUE, _VERMILLION, _PURPLE = (0, 114, 178), (213, 94, 0), (204, 121, 167)
_INDEX = MappingProxyType(
    {_BLACK: 7, _ORANGE: 40, _SKY: 151, _GREEN: 122, _BLUE: 142, _VERMILLION: 32, _PURPLE: 241}
)
_LINES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "CONTINUOUS": (),
        "LONG_DASH": (8.0, -2.0),
        "SHORT_DASH": (3.0, -1.5),
        "DOTS": (0.0, -1.5),
        "DASH_DOT": (8.0, -2.0, 0.0, -2.0),
        "DASH_DOT_DOT": (8.0, -2.0, 0.0, -2.0, 0.0, -2.0),
    }
)


def _look(rgb: tuple[int, int, int], line: str, says: str) -> Look:
    return Look(rgb=rgb, index=_INDEX[rgb], line=line, pattern=_LINES[line], says=says)


LOOKS: Mapping[Work, Look] = MappingProxyType(
    {
        "CUT_OUTSIDE": _look(_GREEN, "CONTINUOUS", "cut through, the part lies inside the line"),
        "CUT_INSIDE": _look(_SKY, "CONTINUOUS", "cut through, the waste lies inside the line"),
        "POCKET": _look(_ORANGE, "LONG_DASH", "pocket, inner loops stay"),
        "RAMP": _look(_VERMILLION, "DASH_DOT_DOT", "sloped floor from the first depth to the second"),
        "DRILL": _look(_PURPLE, "CONTINUOUS", "drilled hole"),
        "GROOVE": _look(_ORANGE, "DASH_DOT", "centreline of a groove as wide as the cutter"),
        "ENGRAVE": _look(_BLUE, "CONTINUOUS", "engraved strokes"),
        "SCORE": _look(_BLUE, "DOTS", "scored line, not through"),
        "STOCK": _look(_BLACK, "DASH_DOT_DOT", "edge of the stock, not cut"),
        "DATUM": _look(_BLACK, "DASH_DOT", "zero of this file, not cut"),
        "INDEX": _look(_PURPLE, "SHORT_DASH", "index hole that is already there, not cut"),
        "BRIDGE": _look(_VERMILLION, "SHORT_DASH", "place of a holding bridge, not cut"),
        "KEEP_CLEAR": _look(_VERMILLION, "DOTS", "keep clamps and cutters away, not cut"),
        "CARVE_LINE": _look(_GREEN, "LONG_DASH", "line to carve to by hand, not cut"),
        "REFERENCE": _look(_BLACK, "SHORT_DASH", "shown for reference, not cut here"),
        "CHECK_SQUARE": _look(_BLACK, "LONG_DASH", "100.00 square to measure first, not cut"),
        "TEXT": _look(_BLACK, "CONTINUOUS", "words, not cut"),
    }
)
WORKS: tuple[Work, ...] = tuple(LOOKS)
"""All works in the order in which files list them."""


def two_decimals(mm: float) -> Decimal:
    """``mm`` rounded half up to two decimals, after the noise of binary numbers (under 1e-9) is taken off."""
    return Decimal(repr(round(mm, 9))).quantize(Decimal("0.01"), ROUND_HALF_UP) + 0


def _number(mm: float | None, what: str, op: Op) -> str:
    if mm is None:
        raise ValueError(f"a {op.work} of {op.step or 'a set-up'} has no {what}")
    return str(two_decimals(mm)).replace(".", "-")


def layer_name(op: Op) -> str:
    """Our name of the layer an operation stands on. Raises ValueError when it lacks a number the name needs."""
    face = op.face.upper()
    match op.work:
        case "CUT_OUTSIDE" | "CUT_INSIDE" | "SCORE":
            return f"{face}_{op.work}"
        case "POCKET" | "ENGRAVE":
            return f"{face}_{op.work}_Z{_number(op.depth_mm, 'depth', op)}"
        case "RAMP":
            shallow, deep = _number(op.depth_mm, "depth", op), _number(op.deep_mm, "deep end", op)
            return f"{face}_RAMP_Z{shallow}_Z{deep}"
        case "DRILL":
            end = "THROUGH" if op.through else f"Z{_number(op.depth_mm, 'depth', op)}"
            return f"{face}_DRILL_DIA{_number(op.diameter_mm, 'diameter', op)}_{end}"
        case "GROOVE":
            diameter, depth = _number(op.diameter_mm, "diameter", op), _number(op.depth_mm, "depth", op)
            return f"{face}_GROOVE_DIA{diameter}_Z{depth}"
        case _:
            return op.work


def shop_layer(name: str, shop: Shop) -> str:
    """The shop's own name for one of our layers.

    ``shop.layers`` may name a whole layer (``FRONT_POCKET_Z16-00``), a face and work (``FRONT_POCKET``) or a
    work (``POCKET``); in the last two cases the numbers stay behind their word. The most exact entry wins.
    Raises Refused when the result can't be a layer of the file flavour the shop takes.
    """
    theirs = _renamed(name, shop.layers)
    allowed = _R12_NAME if shop.dxf == "R12" else _R2010_NAME
    if not allowed.fullmatch(theirs) or theirs != " ".join(theirs.split()):
        raise refuse(
            f"The shop {shop.name} calls the layer {name} {theirs!r}, which a {shop.dxf} file can't hold.",
            expected=(
                "at most 31 of the characters A-Z, 0-9, hyphen, underscore and $"
                if shop.dxf == "R12"
                else "at most 64 letters, digits, hyphens, underscores, points, + $ # ( ) and single spaces"
            ),
            remedy=f"change that name under `layers` in the profile of the shop {shop.name}",
        )
    return theirs


def _renamed(name: str, theirs: Mapping[str, str]) -> str:
    if name in theirs:
        return theirs[name]
    match = re.fullmatch(r"((?:FRONT|BACK)_)?([A-Z_]+?)((?:_(?:Z|DIA)\d+-\d\d|_THROUGH)*)", name)
    if match:
        face, work, numbers = match[1] or "", match[2], match[3]
        if face + work in theirs:
            return theirs[face + work] + numbers
        if work in theirs:
            return face + theirs[work] + numbers
    return name
