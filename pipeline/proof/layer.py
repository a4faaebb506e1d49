"""Layer names taken apart and spelled: `<face>_<work>[_<numbers>]`, without the code that wrote them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

NOT_CUT = frozenset(
    ("STOCK", "DATUM", "INDEX", "BRIDGE", "KEEP_CLEAR", "CARVE_LINE", "REFERENCE", "CHECK_SQUARE", "TEXT")
)
"""Layers that are drawn and never cut; they carry no face."""
CLOSED = frozenset({"CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL"})
"""Works whose every entity is a closed chain of lines and arcs, or a circle."""
LINES = frozenset({"GROOVE", "ENGRAVE", "SCORE"})
"""Works along a line, open or closed."""
BEAM = frozenset({"CUT_OUTSIDE", "CUT_INSIDE", "ENGRAVE", "SCORE"})
"""All that a laser's cut file may hold."""

_NUMBER = r"(?:\d+)-(?:\d\d)"
_NAME = re.compile(
    r"(?P<face>FRONT|BACK)_(?:"
    r"(?P<plain>CUT_OUTSIDE|CUT_INSIDE|SCORE)"
    rf"|(?P<sunk>POCKET|ENGRAVE)_Z(?P<z>{_NUMBER})"
    rf"|RAMP_Z(?P<z0>{_NUMBER})_Z(?P<z1>{_NUMBER})"
    rf"|DRILL_DIA(?P<drill>{_NUMBER})_(?:Z(?P<drill_z>{_NUMBER})|(?P<through>THROUGH))"
    rf"|GROOVE_DIA(?P<groove>{_NUMBER})_Z(?P<groove_z>{_NUMBER})"
    r")"
)
_TAIL = re.compile(rf"(?P<stem>.*?)(?P<tail>(?:_(?:Z|DIA){_NUMBER}|_THROUGH)*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What a layer's name says. Numbers are text with two decimals, "" where the name has none."""

    work: str
    face: str = ""  # "front", "back"; "" for what is never cut
    depth: str = ""
    deep: str = ""
    diameter: str = ""
    through: bool = False

    @property
    def is_cut(self) -> bool:
        return self.work not in NOT_CUT

    def __str__(self) -> str:
        """Our own spelling of the name."""
        if not self.is_cut:
            return self.work
        parts = [self.face.upper(), self.work]
        parts += ["DIA" + self.diameter] if self.diameter else []
        parts += ["Z" + self.depth] if self.depth else []
        parts += ["Z" + self.deep] if self.deep else []
        parts += ["THROUGH"] if self.through else []
        return "_".join(parts).replace(".", "-")


def parse(name: str) -> Layer | None:
    """Take one of our own names apart; None when it says nothing."""
    if name in NOT_CUT:
        return Layer(work=name)
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    face = found["face"].lower()
    if found["plain"]:
        return Layer(work=found["plain"], face=face)
    if found["sunk"]:
        return Layer(work=found["sunk"], face=face, depth=_decimal(found["z"]))
    if found["z0"]:
        return Layer(work="RAMP", face=face, depth=_decimal(found["z0"]), deep=_decimal(found["z1"]))
    if found["drill"]:
        return Layer(
            work="DRILL",
            face=face,
            diameter=_decimal(found["drill"]),
            depth=_decimal(found["drill_z"]),
            through=bool(found["through"]),
        )
    return Layer(work="GROOVE", face=face, diameter=_decimal(found["groove"]), depth=_decimal(found["groove_z"]))


def theirs(ours: str, own: Mapping[str, str]) -> str:
    """What a shop calls one of our layers. ``own`` holds whole names, names without their numbers
    ("FRONT_POCKET") or works ("POCKET"); the most exact one counts, numbers follow unchanged."""
    if ours in own:
        return own[ours]
    stem, tail = _split(ours)
    if stem in own:
        return own[stem] + tail
    face, _, work = stem.partition("_")
    if face in ("FRONT", "BACK") and work in own:
        return f"{face}_{own[work]}{tail}"
    return ours


def ours(name: str, own: Mapping[str, str]) -> str:
    """Our name of a shop's layer; the name itself where the profile says nothing of it."""
    back = {value: key for key, value in sorted(own.items(), reverse=True)}
    if name in back:
        return back[name]
    stem, tail = _split(name)
    if stem in back:
        return back[stem] + tail
    face, _, work = stem.partition("_")
    if face in ("FRONT", "BACK") and work in back:
        return f"{face}_{back[work]}{tail}"
    return name


def two_decimals(mm: float) -> str:
    """A length as layer names write it: rounded half up to two decimals.

    Noise of binary numbers is taken off first, so that 8.5449999999999999 (8.545 computed) counts as a half.
    """
    return str(Decimal(f"{mm:.9f}").quantize(Decimal("0.01"), rounding=ROUND_HALF_UP))


def _split(name: str) -> tuple[str, str]:
    found = _TAIL.fullmatch(name)
    return (found["stem"], found["tail"]) if found else (name, "")


def _decimal(written: str | None) -> str:
    return written.replace("-", ".") if written else ""
