"""One page of a shop sheet on A4: picture above, tables below it, cautions, title block by ISO 7200.

The frame is ISO 5457's: 20 mm on the side where sheets are filed, 10 mm elsewhere; so the title block is 180 wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.packet.shop_sheet_depths import DepthRow
from pipeline.packet.shop_sheet_facts import Page
from pipeline.packet.shop_sheet_ink import (
    BOLD,
    NARROW_MM,
    PITCH_MM,
    SIZE,
    WIDE_MM,
    cut_to,
    pen,
    width,
    write,
)
from pipeline.packet.shop_sheet_picture import Picture, draw_picture
from pipeline.packet.shop_sheet_tables import (
    GAP_MM,
    HEAD_MM,
    depths_height,
    depths_table,
    gauges_height,
    gauges_table,
    heading,
    row_height,
    text_block,
    text_height,
    tools_height,
    tools_table,
)

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

A4 = (210.0, 297.0)
LEFT, RIGHT, BOTTOM, TOP = 20.0, 200.0, 10.0, 287.0
WIDE = RIGHT - LEFT
INNER = 3.0
"""From the frame to what stands in it."""
LEFT_COLUMN, GUTTER = 112.0, 5.0
ROOM = WIDE - 2 * INNER
RIGHT_COLUMN = ROOM - LEFT_COLUMN - GUTTER
CELL_MM = 8.6
BLOCK_MM = 4 * CELL_MM
HEADER_MM = 13.0
LEAST_PICTURE_MM = 52.0
HELD_COLOUR = "#D55E00"
HELD_WORDS = "HELD: not released. Nothing of it is to be cut."


def sheets_of(page: Page) -> tuple[tuple[DepthRow, ...], ...]:
    """The rows of the depth table for each sheet of paper: one, unless there are more than a sheet holds."""
    full = TOP - BOTTOM - HEADER_MM - BLOCK_MM
    first = full - LEAST_PICTURE_MM - _around(page) - tools_height(page.tools, LEFT_COLUMN)
    found: list[tuple[DepthRow, ...]] = []
    rest = page.rows
    room, wide = first - depths_height((), LEFT_COLUMN), LEFT_COLUMN
    while rest or not found:
        n = 0
        while n < len(rest) and (room >= row_height(rest[n], wide) or n < 3):
            room -= row_height(rest[n], wide)
            n += 1
        found.append(rest[:n])
        rest = rest[n:]
        room, wide = full - depths_height((), ROOM) - GAP_MM, ROOM
    return tuple(found)


def draw_page(
    canvas: Canvas, page: Page, rows: Sequence[DepthRow], sheet: int, sheets: int, *, more: bool
) -> None:
    """One sheet of paper: ``sheet`` of ``sheets``; ``more`` tells that it only continues the depth table."""
    _header(canvas, page)
    top, x = TOP - HEADER_MM, LEFT + INNER
    scale = "none"
    if more:
        depths_table(canvas, x, top - GAP_MM, ROOM, rows, more=True)
    else:
        cautions = BOTTOM + BLOCK_MM + text_height([_caution(page)], ROOM) + HEAD_MM + 1.0
        tables = cautions + max(_left(page, rows), _right(page))
        facts = tables + text_height([page.facts], ROOM) + GAP_MM
        picture = Picture(
            sheet=page.sheet,
            parts=page.parts,
            rows=page.rows,
            gauges=page.gauges,
            clamps=page.clamps,
            flip=page.flip,
        )
        scale = draw_picture(canvas, picture, (LEFT, facts + PITCH_MM, RIGHT, top))
        pen(canvas, colour="#4D4D4D")
        write(canvas, x, facts + 1.4, _key(page))
        text_block(canvas, x, facts, ROOM, [page.facts])
        y = tools_table(canvas, x, tables, LEFT_COLUMN, page.tools)
        depths_table(canvas, x, y, LEFT_COLUMN, rows, more=False)
        y = gauges_table(canvas, x + LEFT_COLUMN + GUTTER, tables, RIGHT_COLUMN, page.gauges)
        y = heading(canvas, x + LEFT_COLUMN + GUTTER, y, RIGHT_COLUMN, "Revision")
        text_block(canvas, x + LEFT_COLUMN + GUTTER, y, RIGHT_COLUMN, page.revision)
        y = heading(canvas, x, cautions, ROOM, "Cautions")
        text_block(canvas, x, y, ROOM, [_caution(page)])
    _title_block(canvas, page, sheet, sheets, scale)
    pen(canvas, WIDE_MM)
    canvas.rect(LEFT, BOTTOM, WIDE, TOP - BOTTOM, stroke=1, fill=0)
    if page.held:
        _held(canvas)


def _left(page: Page, rows: Sequence[DepthRow]) -> float:
    return tools_height(page.tools, LEFT_COLUMN) + depths_height(rows, LEFT_COLUMN)


def _right(page: Page) -> float:
    revision = HEAD_MM + text_height(page.revision, RIGHT_COLUMN) + GAP_MM
    return gauges_height(page.gauges, RIGHT_COLUMN) + revision


def _around(page: Page) -> float:
    """Height of the words above and below the tables."""
    return text_height([page.facts, _caution(page)], ROOM) + HEAD_MM + GAP_MM + PITCH_MM + 1.0


def _caution(page: Page) -> str:
    return " ".join(page.cautions)


def _header(canvas: Canvas, page: Page) -> None:
    pen(canvas)
    left, right = LEFT + INNER, RIGHT - INNER
    face = page.face.upper()
    write(canvas, right, TOP - 6.5, face, 5.0, BOLD, align="r")
    write(canvas, left, TOP - 6.5, cut_to(page.heading, ROOM - width(face, 5.0, BOLD) - 5.0, 5.0, BOLD), 5.0, BOLD)
    stuff = cut_to(page.stuff, 0.6 * ROOM, SIZE, BOLD)
    write(canvas, right, TOP - 11.8, stuff, SIZE, BOLD, align="r")
    names = f"{page.sheet.file.stem} ({', '.join(page.sheet.file.formats)})"
    write(canvas, left, TOP - 11.8, cut_to(names, ROOM - width(stuff, SIZE, BOLD) - 5.0))


def _key(page: Page) -> str:
    """What the signs in the picture mean, under it."""
    words = ["ring at X, Y: zero"]
    if page.flip:
        words.append("chain line with arrow: turn over")
    if page.clamps and not page.clamps.may.is_empty:
        words.append("hatched: clamps may stand here")
    elif page.clamps:
        near = f" ({page.clamps.off_mm:g} from the outer cut)" if page.clamps.off_mm else ""
        words.append(f"dotted: no clamps or screws inside{near}")
    return cut_to("; ".join(words), ROOM)


def _title_block(canvas: Canvas, page: Page, sheet: int, sheets: int, scale: str) -> None:
    """The fields of ISO 7200, with boxes for initials."""
    r = page.recipe
    variant = f", variant {r.variant}" if r.variant else ""
    rows: tuple[tuple[tuple[str, str, float], ...], ...] = (
        (("legal owner", r.by.owner, 60.0), ("title", f"{r.title or r.design}{variant}", 84.0),
         ("document type", "shop sheet", 36.0)),
        (("drawing (file)", page.sheet.file.stem, 120.0), ("revision", r.revision, 28.0),
         ("date of issue", r.by.issued, 32.0)),
        (("set-up", f"{page.number} of {page.of}: {page.set_up}", 60.0), ("scale", scale, 20.0),
         ("units", "mm", 16.0), ("language", "en", 20.0), ("created by", r.by.drawn, 32.0),
         ("sheet", f"{sheet} of {sheets}", 32.0)),
        tuple((n, "", 36.0) for n in ("approved", "programmed", "set up", "first part gauged", "all parts cut")),
    )  # fmt: skip
    pen(canvas)
    canvas.setLineWidth(NARROW_MM)
    y = BOTTOM + BLOCK_MM
    for cells in rows:
        x = LEFT
        for label, value, wide in cells:
            canvas.rect(x, y - CELL_MM, wide, CELL_MM, stroke=1, fill=0)
            pen(canvas, colour="#4D4D4D")
            write(canvas, x + 1.2, y - 3.3, label)
            pen(canvas)
            write(canvas, x + 1.2, y - 7.5, cut_to(value, wide - 2.4, SIZE, BOLD), SIZE, BOLD)
            x += wide
        y -= CELL_MM
    pen(canvas, WIDE_MM)
    canvas.line(LEFT, BOTTOM + BLOCK_MM, RIGHT, BOTTOM + BLOCK_MM)


def _held(canvas: Canvas) -> None:
    """HELD in hollow letters across the page, and in a bar on top of it."""
    canvas.saveState()
    canvas.translate((LEFT + RIGHT) / 2, (BOTTOM + TOP) / 2)
    canvas.rotate(52.0)
    pen(canvas, 0.7, HELD_COLOUR)
    words = canvas.beginText()
    words.setTextRenderMode(1)
    words.setFont(BOLD, 80.0)
    words.setTextOrigin(-width("HELD", 80.0, BOLD) / 2, -28.0)
    words.textOut("HELD")
    canvas.drawText(words)
    canvas.restoreState()
    pen(canvas, WIDE_MM, HELD_COLOUR)
    canvas.rect(LEFT, TOP + 1.5, WIDE, 7.0, stroke=1, fill=0)
    write(canvas, (LEFT + RIGHT) / 2, TOP + 3.4, HELD_WORDS, 4.5, BOLD, align="c")
    pen(canvas)
