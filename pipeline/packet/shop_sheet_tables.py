"""The tables of a shop sheet: tools in order, depths, dimensions to gauge. One unit is a millimetre of paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.packet.layers import two_decimals
from pipeline.packet.shop_sheet_depths import DepthRow
from pipeline.packet.shop_sheet_gauge import Gauge
from pipeline.packet.shop_sheet_ink import (
    BOLD,
    NARROW_MM,
    PITCH_MM,
    PLAIN,
    WIDE_MM,
    cut_to,
    pen,
    tick,
    wrapped,
    write,
)

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

HEAD_MM = 6.5
ROW_MM = 5.2
GAP_MM = 3.0
NUMBER_MM, READING_MM = 6.5, 30.0
"""Widths of the columns for numbers and for each of the two readings with its tick; the rest names the cut."""
CUTTER_MM = 22.0


def heading(canvas: Canvas, x: float, top: float, wide: float, text: str) -> float:
    """A headline over a wide rule; the y below it."""
    pen(canvas)
    write(canvas, x, top - 3.6, text, font=BOLD)
    pen(canvas, WIDE_MM)
    canvas.line(x, top - 5.0, x + wide, top - 5.0)
    pen(canvas)
    return top - HEAD_MM


def text_height(lines: Sequence[str], wide: float) -> float:
    return sum(len(wrapped(line, wide)) for line in lines) * PITCH_MM


def text_block(canvas: Canvas, x: float, top: float, wide: float, lines: Sequence[str]) -> float:
    """Sentences, each from a line of its own; the y below them."""
    pen(canvas)
    for line in lines:
        for part in wrapped(line, wide):
            write(canvas, x, top - 2.8, part)
            top -= PITCH_MM
    return top


def tools_height(tools: Sequence[tuple[str, str]], wide: float) -> float:
    rows = sum(_high(wrapped(what, _tool_room(wide))) for what, _ in tools)
    return HEAD_MM + max(rows, ROW_MM) + GAP_MM


def tools_table(canvas: Canvas, x: float, top: float, wide: float, tools: Sequence[tuple[str, str]]) -> float:
    """Number, cutter, what it does."""
    y = heading(canvas, x, top, wide, "Tools in order")
    for n, (what, cutter) in enumerate(tools, start=1):
        write(canvas, x + 4.0, y - 2.8, str(n), align="r")
        write(canvas, x + NUMBER_MM, y - 2.8, cut_to(cutter, CUTTER_MM), font=BOLD)
        lines = wrapped(what, _tool_room(wide))
        for k, line in enumerate(lines):
            write(canvas, x + wide - _tool_room(wide), y - 2.8 - k * PITCH_MM, line)
        y -= _high(lines)
    if not tools:
        write(canvas, x, y - 2.8, "Nothing is cut here.")
        y -= ROW_MM
    return y - GAP_MM


def _tool_room(wide: float) -> float:
    return wide - NUMBER_MM - CUTTER_MM - 2.0


def _high(lines: Sequence[str]) -> float:
    """Height of a row with so many lines of text."""
    return ROW_MM + (len(lines) - 1) * PITCH_MM


def _named(row: DepthRow, wide: float) -> tuple[str, ...]:
    times = f"{row.count} × " if row.count > 1 else ""
    return wrapped(times + row.what, wide - NUMBER_MM - 2 * READING_MM)


def row_height(row: DepthRow, wide: float) -> float:
    return _high(_named(row, wide))


def depths_height(rows: Sequence[DepthRow], wide: float) -> float:
    return HEAD_MM + 2 * PITCH_MM + 1.0 + sum(row_height(r, wide) for r in rows) + GAP_MM


def depths_table(
    canvas: Canvas, x: float, top: float, wide: float, rows: Sequence[DepthRow], *, more: bool
) -> float:
    """A row each with its number in the picture; the one of two readings that is held has a tick."""
    y = heading(canvas, x, top, wide, "Depths in mm; hold the ticked one" + (", continued" if more else ""))
    rights = (x + wide - READING_MM, x + wide)
    for right, first, second in zip(
        rights, ("from the face", "above"), ("that lies up", "the table"), strict=True
    ):
        write(canvas, right - 4.5, y - 2.8, first, align="r")
        write(canvas, right - 4.5, y - 2.8 - PITCH_MM, second, align="r")
    y -= 2 * PITCH_MM + 1.0
    for row in rows:
        write(canvas, x + 4.0, y - 2.8, str(row.number), align="r")
        lines = _named(row, wide)
        for k, line in enumerate(lines):
            write(canvas, x + NUMBER_MM, y - 2.8 - k * PITCH_MM, line)
        for right, said, word in zip(rights, (row.depth, row.height), ("face", "table"), strict=True):
            held = row.governs == word
            write(canvas, right - 4.5, y - 2.8, said, font=BOLD if held else PLAIN, align="r")
            if held:
                tick(canvas, right - 3.4, y - 2.8)
        y -= _high(lines)
        pen(canvas, 0.13, "#8C8C8C")
        canvas.line(x, y + 1.0, x + wide, y + 1.0)
        pen(canvas)
    return y - GAP_MM


def gauges_height(gauges: Sequence[Gauge], wide: float) -> float:
    rows = sum(len(wrapped(g.what, wide - 8.0)) * PITCH_MM + 6.2 for g in gauges)
    return HEAD_MM + rows + text_height(_source(gauges), wide) + GAP_MM


def gauges_table(canvas: Canvas, x: float, top: float, wide: float, gauges: Sequence[Gauge]) -> float:
    """Letter as in the picture, words, size with tolerance, a box for what was measured."""
    y = heading(canvas, x, top, wide, "Gauge on the first part, mm")
    for g in gauges:
        canvas.setLineWidth(NARROW_MM)
        canvas.rect(x + 0.2, y - 4.0, 4.4, 4.4, stroke=1, fill=0)
        write(canvas, x + 2.4, y - 3.0, g.letter, align="c")
        for part in wrapped(g.what, wide - 8.0):
            write(canvas, x + 7.0, y - 2.8, part)
            y -= PITCH_MM
        write(
            canvas,
            x + 7.0,
            y - 3.0,
            f"{two_decimals(g.size_mm)} ± {g.plus_minus_mm:g}{' (fit)' if g.fit else ''}",
            font=BOLD,
        )
        canvas.rect(x + wide - 17.0, y - 4.6, 17.0, 5.2, stroke=1, fill=0)
        y -= 6.2
    return text_block(canvas, x, y, wide, _source(gauges)) - GAP_MM


def _source(gauges: Sequence[Gauge]) -> tuple[str, ...]:
    said = []
    if any(not g.fit for g in gauges):
        said.append("± by ISO 2768-1, class m.")
    if any(g.fit for g in gauges):
        said.append("Fits ± 0.1: common practice.")
    return tuple(said) if gauges else ("Nothing here can be measured across.",)
