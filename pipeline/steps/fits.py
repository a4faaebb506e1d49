"""How much room a bought part gets, and the shapes that cavities are given in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.fields import Gap, Length, PartName, Size, field

FITS: dict[str, float] = {"press": 0.0, "slide": 0.10, "drop-in": 0.25, "clearance": 0.80}
"""Clearance a side in mm (blueprint, Edges and sizes; 0.80 is a published habit for visible
cavities, the others common practice, no source)."""

Fit = Literal["press", "slide", "drop-in", "clearance"] | Length
"""A fit by name, or mm a side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A rectangle, a circle, or the size of a bought part (exactly one)."""

    rectangle: tuple[Size, Size] | None = field("length along x and width along y", None)
    corner: Gap = field("corner radius of the rectangle or of the part", 0.0)
    circle: Size | None = field("diameter", None)
    of: PartName | None = field("a part of `hardware`, by its length and width", None)

    @property
    def kinds(self) -> list[str]:
        """Which of the three are given."""
        return [n for n in ("rectangle", "circle", "of") if getattr(self, n) is not None]


def side_mm(fit: str | float) -> float:
    """Clearance a side in mm of a fit."""
    return FITS[fit] if isinstance(fit, str) else float(fit)


def fit_words(fit: str | float) -> str:
    """The fit as the maker reads it."""
    return fit if isinstance(fit, str) else f"{fit:g} a side"
