"""Prints measured from pixels at 600 dpi, as a maker would with a steel rule: no number of ours is read but those
that are printed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pytest

from pipeline.geometry.shapes import rectangle
from pipeline.packet.print_how import How
from pipeline.packet.print_pdf import print_pdf
from pipeline.packet.print_scene import Scene, Stroke
from pipeline.packet.tiles import tiling
from tests.packet import factory as f
from tests.packet.pages import lines, peak, pixels, words

DPI = 600.0
MM = 25.4 / DPI
FRAME = Scene(
    name="frame",
    strokes=(Stroke(style="edge", contour=rectangle(450.0, 320.0, x=20.0, y=5.0), label="frame"),),
    marks=(),
    bounds=(-225.0, -165.0, 265.0, 175.0),
    axis=False,
)
"""trade.md 11: a frame of 450 x 320, whose diagonal is 552.18."""
CORNERS = [(x, y) for x in (-205.0, 245.0) for y in (-155.0, 165.0)]
CROSS = re.compile(r"^(-?\d+\.\d\d), (-?\d+\.\d\d)$")


@dataclass(frozen=True)
class Sheet:
    """The pixels of a sheet, and where zero of the design lies on it, in mm from the lower left corner: by its
    crosses, whose places are measured and whose coordinates are read."""

    dark: np.ndarray[Any, Any]
    zero: tuple[float, float]
    spread: float

    def line(self, x: float, y: float, *, upright: bool) -> float:
        """Where a line near (x, y) of the design really lies: its x if upright, else its y. Looked for within
        1.5 mm, along 6 mm of it."""
        px, py = x + self.zero[0], y + self.zero[1]
        wide, high = (1.5, 3.0) if upright else (3.0, 1.5)
        part, (x0, y0) = cut(self.dark, px - wide, py - high, px + wide, py + high)
        if upright:
            return x0 + peak(part.sum(axis=0)) - self.zero[0]
        return y0 + peak(part.sum(axis=1)) - self.zero[1]

    def shows(self, x: float, y: float) -> bool:
        """True where a point of the design lies on the sheet, well inside."""
        px, py = x + self.zero[0], y + self.zero[1]
        return 12 < px < self.dark.shape[1] * MM - 12 and 12 < py < self.dark.shape[0] * MM - 14


def cut(dark: np.ndarray[Any, Any], x0: float, y0: float, x1: float, y1: float) -> tuple[Any, tuple[float, float]]:
    """The pixels of a box in mm, and the place of its lower left pixel's corner."""
    a, b, c, d = (max(0, round(v / MM)) for v in (x0, x1, y0, y1))
    return dark[c:d, a:b], (a * MM, c * MM)


def sheets(data: bytes) -> Iterator[Sheet]:
    document = pdfium.PdfDocument(data)
    for page in document:
        dark = pixels(page, DPI)
        found = []
        for word in words(page):
            match = CROSS.match(word.text)
            if match is None:
                continue
            # The cross stands outward of its words, towards the nearer corner of the sheet, 6 mm off or a little
            # more where something was in the way: where both arms, 4.8 mm of them, are darkest.
            high, wide = dark.shape[0] * MM, dark.shape[1] * MM
            left, low = word.middle[0] < wide / 2, word.middle[1] < high / 2
            best: tuple[float, tuple[float, float]] = (0.0, (0.0, 0.0))
            for dx in (6.0, 14.0, 24.0, 36.0):
                for dy in (6.0, 10.0, 14.0, 20.0, 28.0):
                    cx = word.box[0] - dx if left else word.box[2] + dx
                    cy = word.box[1] - dy if low else word.box[3] + dy
                    if not (3 < cx < wide - 3 and 3 < cy < high - 3):
                        continue
                    part, (x0, y0) = cut(dark, cx - 2.4, cy - 2.4, cx + 2.4, cy + 2.4)
                    arms = min(float(v.max() - np.median(v)) for v in (part.sum(axis=0), part.sum(axis=1)))
                    if arms > best[0]:
                        best = arms, (x0 + peak(part.sum(axis=0)), y0 + peak(part.sum(axis=1)))
            at = best[1]
            found.append((at[0] - float(match[1]), at[1] - float(match[2])))
        assert len(found) == 4
        zero = np.array(found)
        yield Sheet(
            dark=dark,
            zero=(float(zero[:, 0].mean()), float(zero[:, 1].mean())),
            spread=float(np.ptp(zero, axis=0).max()),
        )
    document.close()


@pytest.fixture(scope="module")
def laid() -> list[Sheet]:
    """The four sheets of the frame."""
    return list(sheets(print_pdf(f.derived(), FRAME)))


def test_the_crosses_of_a_sheet_agree(laid: list[Sheet]) -> None:
    """Four crosses tell one place of the design each: within 0.05, a pixel being 0.042."""
    assert len(laid) == tiling(490, 340).sheets == 4
    assert max(s.spread for s in laid) < 0.05


def test_the_diagonals_of_the_frame_across_the_sheets(laid: list[Sheet]) -> None:
    """√(450² + 320²) = 552.18: both, from corners on four different sheets, within 0.1 (trade.md 11)."""
    at: dict[tuple[float, float], tuple[float, float]] = {}
    used: set[int] = set()
    for x, y in CORNERS:
        inward = (4.0 if x < 0 else -4.0, 4.0 if y < 0 else -4.0)
        n, sheet = next(
            (n, s) for n, s in enumerate(laid) if s.shows(x, y) and s.shows(x + inward[0], y + inward[1])
        )
        used.add(n)
        at[x, y] = sheet.line(x, y + inward[1], upright=True), sheet.line(x + inward[0], y, upright=False)
        assert at[x, y] == pytest.approx((x, y), abs=0.05)
    assert len(used) == 4
    a, b, c, d = (at[v] for v in CORNERS)
    assert round(math.hypot(450, 320), 2) == 552.18
    assert math.dist(a, d) == pytest.approx(552.18, abs=0.1)
    assert math.dist(b, c) == pytest.approx(552.18, abs=0.1)
    assert math.dist(a, c) == pytest.approx(450.0, abs=0.1)
    assert math.dist(a, b) == pytest.approx(320.0, abs=0.1)


def test_a_line_runs_on_from_sheet_to_sheet(laid: list[Sheet]) -> None:
    """The frame's lower edge lies at one y on both lower sheets, its right edge at one x on both right ones."""
    _, upper, left, right = laid
    assert left.shows(-100.0, -155.0)
    assert not left.shows(200.0, -155.0)
    assert left.line(-100.0, -155.0, upright=False) == pytest.approx(
        right.line(200.0, -155.0, upright=False), abs=0.05
    )
    assert upper.line(245.0, 100.0, upright=True) == pytest.approx(
        right.line(245.0, -100.0, upright=True), abs=0.05
    )


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_the_check_square_and_the_rules(paper: str) -> None:
    """100.00 within 0.05 both ways, rules of 200 within 0.05: their ends by their longest ticks."""
    document = pdfium.PdfDocument(print_pdf(f.derived(), FRAME, How(paper=paper)))
    page = next(p for p in document if any("Check square" in w.text for w in words(p)))
    dark = pixels(page, DPI)
    boxes = [v.box for v in lines(page) if not v.drawn and len(v.points) >= 4]
    (x0, y0, x1, y1) = next(b for b in boxes if 99 < b[2] - b[0] < 101 and 99 < b[3] - b[1] < 101)
    sides = []
    for x in (x0, x1):
        part, (at, _) = cut(dark, x - 1.5, y0 + 2.0, x + 1.5, y1 - 2.0)
        sides.append(at + peak(part.sum(axis=0)))
    for y in (y0, y1):
        part, (_, at) = cut(dark, x0 + 2.0, y - 1.5, x1 - 2.0, y + 1.5)
        sides.append(at + peak(part.sum(axis=1)))
    assert sides[1] - sides[0] == pytest.approx(100.0, abs=0.05)
    assert sides[3] - sides[2] == pytest.approx(100.0, abs=0.05)
    thick = [v.box for v in lines(page) if not v.drawn and abs(v.width - 0.25) < 0.005 and len(v.points) == 2]
    a = next(b for b in thick if abs(b[2] - b[0] - 200) < 0.5)
    ends = []
    for x in (a[0], a[2]):
        part, (at, _) = cut(dark, x - 1.2, a[1] - 2.1, x + 1.2, a[1] - 1.2)
        ends.append(at + peak(part.sum(axis=0)))
    assert ends[1] - ends[0] == pytest.approx(200.0, abs=0.05)
    document.close()
