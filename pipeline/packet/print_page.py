"""What stands on every sheet of a full-size print, beside the drawing: words, rules, check square, key map.

One unit is a true millimetre: of a print that is corrected for its printer, the whole sheet is. Nothing stands
within 5 mm of the edge of the paper, nothing is filled but the tile in the key map.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.packet.shop_sheet_ink import BOLD, NARROW_MM, PITCH_MM, cut_to, pen, width, wrapped, write
from pipeline.packet.tiles import CHECK_MM, EDGE_MM, LEADER_MM, Tiling

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

THIN_MM = 0.13
GREY, INK = "#767676", "#000000"
TITLE_MM, RULE_MM = 7.5, 8.5
"""Base line of the words above the window, and the rule below them, from the top of the page."""
MAP_HIGH_MM = 5.4
BLOCK_MM = CHECK_MM + 2.0
"""The check square with a little air round it."""
INSIDE_MM = 4.0
NO_SCALING = "print at 100 %, no scaling"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What all sheets of a print say: the design with its revision, what is shown, ``held``, ``correction`` (""
    for none), ``rule_mm`` how long the rules are, ``legend`` the kinds of lines, in full and in short."""

    design: str
    what: str
    held: bool = False
    correction: str = ""
    rule_mm: float = 200.0
    legend: tuple[str, ...] = ()


def strips(
    canvas: Canvas, page: Tiling, head: Head, name: str, second: str, at: tuple[int, int] | None = None
) -> None:
    """The words above the window, ``second`` to its left, the legend to its right; the key map where ``at``
    (column, row) is given. ``second`` is "" where the rules stand."""
    left = _first_ink(page)
    right = page.page[0] - left
    top = page.page[1]
    if at is not None and second and page.sheets > 1:
        right -= key_map(canvas, page, at, right, top - EDGE_MM, MAP_HIGH_MM) + 3.0
    pen(canvas)
    x, y = left, top - TITLE_MM
    for text in (name, "HELD" if head.held else ""):
        if text:
            write(canvas, x, y, text, font=BOLD)
            x += width(text, font=BOLD) + 3.0
    tail = f": {head.what}"
    room = right - x - width(tail)
    design = cut_to(head.design, room) if room > 25.0 else ""
    write(canvas, x, y, cut_to(f"{design}{tail}" if design else head.what, right - x))
    if not page.lead:
        x0, y0, x1, y1 = page.window
        long = y1 - y0 - 2.0
        _along(canvas, x0 - 2.8, y1 - 1.0, -90, cut_to(second, long))
        if head.legend:
            text = next((t for t in head.legend if width(t) <= long), head.legend[-1])
            _along(canvas, x1 + 3.0, y0 + 1.0, 90, cut_to(text, long))


def _along(canvas: Canvas, x: float, y: float, degrees: float, text: str) -> None:
    """Words along an upright side."""
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(degrees)
    write(canvas, 0.0, 0.0, text)
    canvas.restoreState()


def _first_ink(page: Tiling) -> float:
    """x of the first words: inside the edge, on a roll behind the leader."""
    return LEADER_MM + 2.0 if page.lead else page.margin


def frame(canvas: Canvas, page: Tiling) -> None:
    """The window's edge, thin and grey."""
    x0, y0, x1, y1 = page.window
    pen(canvas, THIN_MM, "#AAAAAA")
    canvas.rect(x0, y0, x1 - x0, y1 - y0, stroke=1, fill=0)


# -- rules ----------------------------------------------------------------------------------------
def rules(canvas: Canvas, page: Tiling, head: Head) -> None:
    """A rule along x above the window and one along y beside it; on a roll at both ends."""
    w, h = page.page
    long = head.rule_mm
    x0, y0, x1, _ = page.window
    up = EDGE_MM if h < long + 2 * EDGE_MM + 8.0 else y0 + 2.0
    if not page.lead:
        x = EDGE_MM if w < long + 2 * EDGE_MM + 8.0 else page.margin
        _rule(canvas, x, h - RULE_MM, long, upright=False)
        _rule(canvas, EDGE_MM + 0.2, up, long, upright=True)
        return
    starts = [LEADER_MM + 2.0]
    if w > 2 * (long + LEADER_MM + 2.0) + 10.0:
        starts.append(w - LEADER_MM - 2.0 - long)
    for x in starts:
        _rule(canvas, x, h - RULE_MM, long, upright=False)
    _rule(canvas, x0 - page.margin - 3.0, up, long, upright=True)
    _rule(canvas, x1 + page.margin, up, long, upright=True)


def _rule(canvas: Canvas, x: float, y: float, long: float, *, upright: bool) -> None:
    """A line with ticks every 10, longer every 50, longest at its ends; below it, or to its right."""
    canvas.saveState()
    canvas.translate(x, y)
    if upright:
        canvas.rotate(90)
    pen(canvas, NARROW_MM)
    canvas.line(0.0, 0.0, long, 0.0)
    for k in range(0, round(long) + 1, 10):
        tick = 2.3 if k in (0, round(long)) else 1.8 if k % 50 == 0 else 1.0
        canvas.line(k, 0.0, k, -tick)
    canvas.restoreState()


# -- the check square -----------------------------------------------------------------------------
def check_square(canvas: Canvas, x: float, y: float, told: Sequence[str]) -> float:
    """The square of 100.00 mm, its lower left corner at (x, y), with what is to be read once inside it; the height
    down to which it is full."""
    pen(canvas, NARROW_MM)
    canvas.rect(x, y, CHECK_MM, CHECK_MM, stroke=1, fill=0)
    base = y + CHECK_MM - 6.5
    write(canvas, x + INSIDE_MM, base, f"Check square {CHECK_MM:.2f} x {CHECK_MM:.2f} mm", font=BOLD)
    base -= PITCH_MM + 1.2
    for text in told:
        for line in wrapped(text, CHECK_MM - 2 * INSIDE_MM):
            write(canvas, x + INSIDE_MM, base, line)
            base -= PITCH_MM
        base -= 1.2
    return base + 2.0


def tiled_square(canvas: Canvas, page: Tiling, head: Head, x: float, y: float, sheet: str) -> None:
    """The check square of a tiled print: how to measure, lay and tape it, and where each sheet lies."""
    told = to_measure(head, sheet)
    if page.sheets > 1:
        told.append(
            "Trim each sheet right and bottom on the dashed line. Lay cross on cross of the same numbers; tape "
            "row by row along a straight edge, then the rows."
        )
    across = math.hypot(*page.far_crosses)
    a, b = page.name(0, 0), page.name(page.columns - 1, page.rows - 1)
    c, d = page.name(page.columns - 1, 0), page.name(0, page.rows - 1)
    where = f" {a} to {b} {across:.2f}, {c} to {d} {across:.2f}" if page.sheets > 1 else f" both {across:.2f}"
    told.append(f"Diagonals between the outermost crosses:{where} mm; within 1.0 is good.")
    if page.lead:
        told += head.legend[:1]
    base = check_square(canvas, x, y, told)
    if page.sheets > 1 and page.lead == 0.0:
        names_map(canvas, page, (x + INSIDE_MM, y + INSIDE_MM, x + CHECK_MM - INSIDE_MM, base))


def to_measure(head: Head, sheet: str) -> list[str]:
    """What every check square says: no scaling, what to measure, and by what the print was corrected."""
    rule = f"{head.rule_mm:.2f}"
    told = [
        f"{sheet}: {NO_SCALING}.",
        f"Measure this square, and the rules of {rule} mm along the top and the side, before you trust the "
        "print; within 0.2 is good. If they are off, print again with --measured and what you read, x first.",
    ]
    if head.correction:
        told.append(f"This print is {head.correction}: its square and rules should be true now.")
    return told


# -- the key map ----------------------------------------------------------------------------------
def key_map(canvas: Canvas, page: Tiling, at: tuple[int, int], right: float, top: float, high: float) -> float:
    """All tiles small, this one filled, its upper right corner at (right, top); gives the width it takes."""
    w, h = page.page
    cell = min(high / page.rows, 6.0)
    wide = cell * w / h
    if wide * page.columns > 40.0:
        cell, wide = cell * 40.0 / (wide * page.columns), 40.0 / page.columns
    pen(canvas, THIN_MM)
    for row in range(page.rows):
        for column in range(page.columns):
            x, y = right - (page.columns - column) * wide, top - (row + 1) * cell
            canvas.rect(x, y, wide, cell, stroke=1, fill=int((column, row) == at))
    return wide * page.columns


def names_map(canvas: Canvas, page: Tiling, room: tuple[float, float, float, float]) -> None:
    """All tiles with their names, as large as the room allows; nothing where names of 2.5 mm don't fit."""
    x0, y0, x1, y1 = room
    w, h = page.page
    cell = min((y1 - y0) / page.rows, (x1 - x0) / page.columns * h / w, 16.0)
    wide = cell * w / h
    widest = max(width(page.name(c, r)) for r in range(page.rows) for c in range(page.columns))
    if cell < 3.5 or wide < widest + 1.0:
        return
    pen(canvas, THIN_MM)
    for row in range(page.rows):
        for column in range(page.columns):
            x, y = x0 + column * wide, y0 + (page.rows - 1 - row) * cell
            canvas.rect(x, y, wide, cell, stroke=1, fill=0)
            write(canvas, x + wide / 2, y + cell / 2 - 1.25, page.name(column, row), align="c")


def numbered(names: Sequence[str]) -> str:
    """Words in a row, for the second line: empty ones are left out."""
    return " - ".join(n for n in names if n)
