"""How a full-size drawing falls on sheets of paper: columns, rows and their places (pure arithmetic).

n = ⌈(W − overlap)/(page − 2·margin − overlap)⌉ along each direction (outside check: tiling table).
Paper sizes are ISO 216 and the usual US sheets, in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
}
MARGIN_MM = 8.0
OVERLAP_MM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """``page`` (width, height) as turned, ``usable`` inside the margins, mm; columns and rows."""

    paper: str
    page: tuple[float, float]
    columns: int
    rows: int
    margin: float = MARGIN_MM
    overlap: float = OVERLAP_MM

    @property
    def usable(self) -> tuple[float, float]:
        return self.page[0] - 2 * self.margin, self.page[1] - 2 * self.margin

    @property
    def sheets(self) -> int:
        return self.columns * self.rows

    def corner(self, column: int, row: int) -> tuple[float, float]:
        """Lower left corner of a tile from the drawing's lower left corner; row 0 is the top row."""
        w, h = self.usable
        return column * (w - self.overlap), (self.rows - 1 - row) * (h - self.overlap)

    def name(self, column: int, row: int) -> str:
        """Row letter and column number: A1 is the upper left tile."""
        return f"{chr(ord('A') + row)}{column + 1}"


def count(length: float, usable: float, overlap: float) -> int:
    """Tiles needed along one direction."""
    return max(1, math.ceil((length - overlap) / (usable - overlap) - 1e-9))


def tiling(
    width: float, height: float, paper: str = "A4", *, margin: float = MARGIN_MM, overlap: float = OVERLAP_MM
) -> Tiling:
    """The way with the fewest sheets; of two equal ones the portrait page. Raises KeyError on an
    unknown paper."""
    w, h = PAPERS[paper]
    ways = [
        Tiling(
            paper=paper,
            page=page,
            columns=count(width, page[0] - 2 * margin, overlap),
            rows=count(height, page[1] - 2 * margin, overlap),
            margin=margin,
            overlap=overlap,
        )
        for page in ((w, h), (h, w))
    ]
    return min(ways, key=lambda t: (t.sheets, t.page[0]))
