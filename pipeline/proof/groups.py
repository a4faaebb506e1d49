"""What the DXF reader is made of: groups, broken files, entities.

A DXF text file is pairs of lines, a group code and its value; code 0 begins a record.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.geometry.contour import Contour

Group = tuple[int, str]
Flat = tuple[float, float]

MOST = 1e21
"""No number of a readable file is larger: what a header states of an empty drawing is 1e20."""
SAME_MM = 1e-7
"""Vertices nearer than this are one vertex."""


class DxfBroken(ValueError):
    """The bytes are not a readable DXF text file; ``line`` counts from 1 (0: the file as a whole)."""

    def __init__(self, wrong: str, line: int = 0) -> None:
        super().__init__(wrong)
        self.wrong, self.line = wrong, line


@dataclass(frozen=True, slots=True, kw_only=True)
class Entity:
    """One drawn thing. ``contour`` is None for text, points and whatever this reader doesn't know.

    ``problem`` says in a sentence what is wrong with it by itself; ``flat`` is False when it stands off z = 0
    or is extruded along another direction; ``mirrored`` is a text written backward or upside down.
    """

    kind: str
    layer: str
    line: int
    contour: Contour | None = None
    at: Flat | None = None
    text: str = ""
    height_mm: float = 0.0
    turn_deg: float = 0.0
    mirrored: bool = False
    flat: bool = True
    paper: bool = False
    hidden: bool = False
    problem: str = ""

    @property
    def is_circle(self) -> bool:
        return self.kind == "CIRCLE"


# -- group values --------------------------------------------------------------------------------
def common(groups: list[Group], line: int) -> tuple[str, bool, bool, bool]:
    """(layer, flat, stands in paper space, is hidden) of an entity."""
    layer = next((v.strip() for c, v in groups if c == 8), "0")
    raised = any(abs(number(v, line)) > SAME_MM for c, v in groups if c in (30, 31, 38, 39))
    tipped = any(abs(number(v, line) - (c == 230)) > 1e-9 for c, v in groups if c in (210, 220, 230))
    paper = any(c == 67 and v.strip() == "1" for c, v in groups)
    hidden = any(c == 60 and v.strip() == "1" for c, v in groups)
    return layer, not (raised or tipped), paper, hidden


def point(groups: list[Group], line: int) -> Flat:
    """(x, y) of groups 10 and 20; not-a-number where one is absent."""
    return real(groups, 10, math.nan, line), real(groups, 20, math.nan, line)


def real(groups: list[Group], code: int, absent: float, line: int) -> float:
    """The first number of a code, or what stands for it when it is absent."""
    return next((number(v, line) for c, v in groups if c == code), absent)


def whole(groups: list[Group], code: int, absent: int, line: int) -> int:
    """The first whole number of a code, or what stands for it when it is absent."""
    return int(real(groups, code, float(absent), line))


def number(value: str, line: int) -> float:
    """The number that a group holds. Raises DxfBroken when it is none, or none that a drawing could hold."""
    try:
        found = float(value)
    except ValueError:
        raise DxfBroken(f"A number was expected here, not '{value.strip()[:20]}'.", line) from None
    if not abs(found) <= MOST:
        raise DxfBroken(f"{value.strip()[:20]} is no number for a drawing in millimetres.", line)
    return found
