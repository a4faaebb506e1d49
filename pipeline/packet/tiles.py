"""How a full-size drawing falls on paper: sheets or a roll, columns, rows and their places (pure arithmetic).

n = ⌈(W − overlap)/(page − 2·margin − overlap)⌉ along each direction (trade.md 11). The papers are a table of the
package (`data/standard/papers.json`). The two margins of a direction need not be equal: the window stands low on
the page, 5 mm above the edge of the paper, so that two lines of words have room above it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from pipeline.core.errors import refuse
from pipeline.core.standard import table
from pipeline.core.text import listed, nearest, quoted

MARGIN_MM = 8.0
OVERLAP_MM = 10.0
EDGE_MM = 5.0
"""Ink keeps this far from the edge of the paper: few printers reach nearer (common practice, no source)."""
LEADER_MM = 20.0
"""What stays blank at either end of a roll (trade.md 11)."""
CHECK_MM = 100.0
ROLL_END_MM = LEADER_MM + CHECK_MM + 8.0
"""From the end of a roll to the margin of the drawing: leader, check square and room beside it."""
PAGE_LIMIT_MM = 5080.0
"""No PDF page is longer: 14,400 units of 1/72 in (ISO 32000-1, annex C)."""
LONG_RULE_MM, SHORT_RULE_MM = 200.0, 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet by its ``size`` (short, long), or a roll by its ``width``; the other is None. mm."""

    name: str
    size: tuple[float, float] | None = None
    width: float | None = None

    @property
    def rule_mm(self) -> float:
        """Length of the rules that are printed on it: 200 where they fit."""
        short = self.width if self.size is None else self.size[0]
        return LONG_RULE_MM if (short or 0.0) >= LONG_RULE_MM + 2 * EDGE_MM else SHORT_RULE_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """``page`` (width, height) as turned, columns and rows of it; ``lead`` is kept free at both ends of a roll.

    All mm are true ones: of a print that is corrected for its printer, the page is what the paper measures there.
    """

    paper: str
    page: tuple[float, float]
    columns: int
    rows: int
    margin: float = MARGIN_MM
    overlap: float = OVERLAP_MM
    lead: float = 0.0

    @property
    def usable(self) -> tuple[float, float]:
        return self.page[0] - 2 * self.margin - 2 * self.lead, self.page[1] - 2 * self.margin

    @property
    def window(self) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) of what shows the drawing, on the page."""
        left, bottom = self.margin + self.lead, min(self.margin, EDGE_MM)
        w, h = self.usable
        return left, bottom, left + w, bottom + h

    @property
    def sheets(self) -> int:
        return self.columns * self.rows

    @property
    def step(self) -> tuple[float, float]:
        """From one tile to the next."""
        w, h = self.usable
        return w - self.overlap, h - self.overlap

    @property
    def span(self) -> tuple[float, float]:
        """Width and height of all windows laid together."""
        dx, dy = self.step
        return self.columns * dx + self.overlap, self.rows * dy + self.overlap

    @property
    def far_crosses(self) -> tuple[float, float]:
        """How far the outermost crosses, in the middle of the overlaps, lie apart in x and y."""
        dx, dy = self.step
        return self.columns * dx, self.rows * dy

    def corner(self, column: int, row: int) -> tuple[float, float]:
        """Lower left corner of a tile's window from that of all windows; row 0 is the top row."""
        dx, dy = self.step
        return column * dx, (self.rows - 1 - row) * dy

    def name(self, column: int, row: int) -> str:
        """Row letter and column number: A1 is the upper left tile; after Z comes AA."""
        letters, n = "", row + 1
        while n:
            n, k = divmod(n - 1, 26)
            letters = chr(ord("A") + k) + letters
        return f"{letters}{column + 1}"


@cache
def papers() -> dict[str, Paper]:
    """All papers by name, sheets first."""
    return {
        name: Paper(
            name=name,
            size=(float(row["size"][0]), float(row["size"][1])) if "size" in row else None,
            width=float(row["roll"]) if "roll" in row else None,
        )
        for name, row in table("papers").items()
    }


def paper_named(name: str) -> Paper:
    """A paper by its name, capitals don't count. Raises Refused with the names that there are."""
    found = {n.lower(): p for n, p in papers().items()}.get(name.strip().lower())
    if found is None:
        close = nearest(name, papers())
        raise refuse(
            f"There is no paper called {quoted(name)}.",
            expected=listed(papers()),
            remedy=f"perhaps {close} is meant" if close else "",
        )
    return found


def count(length: float, usable: float, overlap: float) -> int:
    """Tiles needed along one direction."""
    return max(1, math.ceil((length - overlap) / (usable - overlap) - 1e-9))


def tiling(
    width: float,
    height: float,
    paper: str = "A4",
    *,
    scale: tuple[float, float] = (1.0, 1.0),
    margin: float = MARGIN_MM,
    overlap: float = OVERLAP_MM,
) -> Tiling:
    """The way with the fewest sheets, then the least paper; of two equal ones the upright page.

    ``paper``: one name, or several with commas between, of which the best is taken. ``scale`` corrects for a
    printer: the page turns as it would without, so that x stays x. Raises Refused for an unknown paper.
    """
    named = [paper_named(n) for n in paper.split(",")]
    ways = [t for p in named for t in _ways(width, height, p, margin, overlap)]
    best = min(ways, key=lambda t: (t.sheets, t.sheets * t.page[0] * t.page[1], t.page[0]))
    if scale == (1.0, 1.0):
        return best
    if best.lead:
        return next(_rolled(width, height, paper_named(best.paper), margin, overlap, scale))
    return _on(replace(best, page=(best.page[0] / scale[0], best.page[1] / scale[1])), width, height)


def _ways(width: float, height: float, paper: Paper, margin: float, overlap: float) -> Iterator[Tiling]:
    if paper.size is None:
        yield from _rolled(width, height, paper, margin, overlap, (1.0, 1.0))
        return
    w, h = paper.size
    for page in ((w, h), (h, w)):
        plain = Tiling(paper=paper.name, page=page, columns=1, rows=1, margin=margin, overlap=overlap)
        yield _on(plain, width, height)


def _on(plain: Tiling, width: float, height: float) -> Tiling:
    w, h = plain.usable
    return replace(plain, columns=count(width, w, plain.overlap), rows=count(height, h, plain.overlap))


def _rolled(
    width: float, height: float, paper: Paper, margin: float, overlap: float, scale: tuple[float, float]
) -> Iterator[Tiling]:
    """One long piece along x; equal pieces where a page would be longer than PDF allows, and as many strips side
    by side as the height needs."""
    assert paper.width is not None
    around = 2 * (margin + ROLL_END_MM)
    columns = count(width, PAGE_LIMIT_MM / scale[0] - around, overlap)
    along = (width + (columns - 1) * overlap) / columns + around
    across = paper.width / scale[1]
    yield Tiling(
        paper=paper.name,
        page=(along, across),
        columns=columns,
        rows=count(height, across - 2 * margin, overlap),
        margin=margin,
        overlap=overlap,
        lead=ROLL_END_MM,
    )
