"""One file for a shop, ready to be written in any flavour: layers of curves and words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.packet.written import Bounds, Curve
from pipeline.steps.values import Work

Kind = Literal["set-up", "nest", "reference"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What stands on one layer. ``name`` is the shop's own name, ``ours`` ours; numbers in mm or None."""

    name: str
    ours: str
    work: Work
    curves: tuple[Curve, ...]
    depth_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of text on TEXT, drawn and never cut: left end of its baseline, height, turn."""

    text: str
    x: float
    y: float
    height_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFile:
    """One set-up as the machinist sees it, or one nested sheet, or what a laser may look at but not cut.

    ``stem`` is the file's name without its ending; ``subjects`` are the pieces or the blank in it, each with
    the face that lies up; ``blank`` tells that it is a glued blank, whose name a piece may share. ``lines``
    are its legend, also where the file itself carries no words (a laser's cut file); ``page`` is the paper of
    its picture in mm, ``bounds`` everything drawn.
    """

    shop: str
    stem: str
    flavour: Literal["R2010", "R12"]
    kind: Kind
    subjects: tuple[tuple[str, str], ...]
    blank: bool
    layers: tuple[Drawn, ...]
    words: tuple[Words, ...]
    text_layer: str
    lines: tuple[str, ...]
    bounds: Bounds
    page: Bounds

    @property
    def formats(self) -> tuple[str, ...]:
        """Endings of the files that are written of it."""
        return ("dxf",) if self.kind == "reference" else ("dxf", "svg")
