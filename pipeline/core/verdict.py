"""Verdicts: what is to be done with a piece that was cut from an earlier revision (trade.md 12.3)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

What = Literal[
    "good as is",
    "trim down",
    "open up",
    "re-register",
    "re-label",
    "keep, new set-up sheet",
    "remake",
    "continue",
    "scrap",
    "not needed",
    "measure it",
]
STAYS: tuple[What, ...] = (
    "good as is",
    "trim down",
    "open up",
    "re-register",
    "re-label",
    "keep, new set-up sheet",
    "continue",
)
"""What can still be used, as it is or after some work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What becomes of one piece or glued blank in hand.

    ``revision`` is what it was cut from. ``mm`` is the number that decides, ``tolerance_mm`` what is allowed,
    ``at_mm`` where, in the design; ``area_mm2`` what goes or is missing. ``because`` is a sentence with the
    number, ``remarks`` are further ones. ``in_hand`` were cut, ``to_make`` are still wanted of the new revision.
    """

    piece: str
    blank: bool
    revision: str
    what: What
    because: str
    mm: float | None = None
    tolerance_mm: float | None = None
    at_mm: tuple[float, float] | None = None
    area_mm2: float | None = None
    remarks: tuple[str, ...] = ()
    in_hand: int = 0
    to_make: int = 0

    @property
    def stays(self) -> bool:
        return self.what in STAYS

    @property
    def said(self) -> str:
        """How the piece is called in messages."""
        return f"the glued blank {self.piece}" if self.blank else self.piece
