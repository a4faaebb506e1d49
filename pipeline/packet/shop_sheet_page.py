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
    ROW_MM,
    depths_height,
    depths_table,
    gauges_height,
    gauges_table,
    heading,
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
LEFT_COLUMN, GUTTER = 105.0, 5.0
RIGHT_COLUMN = WIDE - 2 * INNER - LEFT_COLUMN - GUTTER
CELL_MM = 9.6
BLOCK_MM = 4 * CELL_MM
HEADER_MM = 13.0
LEAST_PICTURE_MM = 62.0
HELD_COLOUR = "#D55E00"
HELD_WORDS = "HELD: not released. Nothing of it is to be cut."


def sheets_of(page: Page) -> tuple[tuple[DepthRow, ...], ...]:
    """The rows of the depth table for each sheet of paper: one, unless there are more than a sheet holds."""
    fixed = _below(page) + HEADER_MM + BLOCK_MM + GAP_MM
    room = TOP - BOTTOM - fixed - LEAST_PICTURE_MM - tools_height(page.tools) - depths_height(())
    first = max(int(room / ROW_MM), 3)
    if len(page.rows) <= first:
        return (page.rows,)
    more = int((TOP - BOTTOM - HEADER_MM - BLOCK_MM - depths_height(())) / ROW_MM)
    rest = page.rows[first:]
    return page.rows[:first], *(rest[i : i + more] for i in range(0, len(rest), more))


def draw_page(
    canvas: Canvas, page: Page, rows: Sequence[DepthRow], sheet: int, sheets: int, *, more: bool
) -> None:
    """One sheet of paper: ``sheet`` of ``sheets``; ``more`` tells that it only continues the depth table."""
    _header(canvas, page)
    top = TOP - HEADER_MM
    scale = "none"
    if more:
        depths_table(canvas, LEFT + INNER, top, WIDE - 2 * INNER, rows, more=True)
    else:
        bottom = BOTTOM + BLOCK_MM + _below(page)
        left = tools_height(page.tools) + depths_height(rows)
        right = text_height(page.facts, RIGHT_COLUMN) + 2 * GAP_MM + gauges_height(page.gauges, RIGHT_COLUMN)
        tables = bottom + max(left, right)
        picture = Picture(sheet=page.sheet, rows=page.rows, gauges=page.gauges, clamps=page.clamps, flip=page.flip)
        scale = draw_picture(canvas, picture, (LEFT, tables + PITCH_MM, RIGHT, top))
        pen(canvas)
        write(canvas, LEFT + INNER, tables + 1.2, _key(page))
        _tables(canvas, page, rows, tables - 1.0)
        _cautions(canvas, page, bottom)
    _title_block(canvas, page, sheet, sheets, scale)
    pen(canvas, WIDE_MM)
    canvas.rect(LEFT, BOTTOM, WIDE, TOP - BOTTOM, stroke=1, fill=0)
    if page.held:
        _held(canvas)


def _below(page: Page) -> float:
    """Height of what stands between the tables and the title block."""
    room = WIDE - 2 * INNER
    return 2 * HEAD_MM + text_height(page.revision, room) + text_height([_caution(page)], room) + GAP_MM


def _caution(page: Page) -> str:
    return " ".join(page.cautions)


def _header(canvas: Canvas, page: Page) -> None:
    pen(canvas)
    room = WIDE - 2 * INNER
    face = page.face.upper() if len(page.face) < 20 else page.face
    write(canvas, RIGHT - INNER, TOP - 7.0, face, 5.0, BOLD, align="r")
    write(
        canvas,
        LEFT + INNER,
        TOP - 7.0,
        cut_to(page.heading, room - width(face, 5.0, BOLD) - 5.0, 5.0, BOLD),
        5.0,
        BOLD,
    )
    names = f"{page.sheet.file.stem} ({', '.join(page.sheet.file.formats)})"
    write(canvas, LEFT + INNER, TOP - 12.0, cut_to(names, room))


def _key(page: Page) -> str:
    """What the signs in the picture mean, under it."""
    words = ["ring at X, Y: zero"]
    if page.flip:
        words.append("chain line with arrow: turn over")
    if page.clamps and not page.clamps.may.is_empty:
        words.append("hatched: clamps may stand here")
    elif page.clamps:
        words.append(f"dotted: no clamps or screws inside ({page.clamps.off_mm:g} from the outer cut)")
    return cut_to("; ".join(words), WIDE - 2 * INNER)


def _tables(canvas: Canvas, page: Page, rows: Sequence[DepthRow], top: float) -> None:
    x = LEFT + INNER
    y = tools_table(canvas, x, top, LEFT_COLUMN, page.tools)
    depths_table(canvas, x, y, LEFT_COLUMN, rows, more=False)
    x += LEFT_COLUMN + GUTTER
    y = text_block(canvas, x, top - 0.8, RIGHT_COLUMN, page.facts) - GAP_MM
    gauges_table(canvas, x, y, RIGHT_COLUMN, page.gauges)


def _cautions(canvas: Canvas, page: Page, top: float) -> None:
    x, room = LEFT + INNER, WIDE - 2 * INNER
    y = heading(canvas, x, top, room, "Revision")
    y = text_block(canvas, x, y, room, page.revision)
    y = heading(canvas, x, y - 0.5, room, "Cautions")
    text_block(canvas, x, y, room, [_caution(page)])


def _title_block(canvas: Canvas, page: Page, sheet: int, sheets: int, scale: str) -> None:
    """The fields of ISO 7200, with boxes for initials."""
    r = page.recipe
    variant = f", variant {r.variant}" if r.variant else ""
    rows = (
        (("legal owner", r.by.owner, 60.0), ("title", f"{r.title or r.design}{variant}", 84.0), ("document type", "shop sheet", 36.0)),
        (("drawing (file)", page.sheet.file.stem, 120.0), ("revision", r.revision, 28.0), ("date of issue", r.by.issued, 32.0)),
        (("set-up", f"{page.number} of {page.of}: {page.set_up}", 60.0), ("scale", scale, 20.0), ("units", "mm", 16.0),
         ("language", "en", 20.0), ("created by", r.by.drawn, 32.0), ("sheet", f"{sheet} of {sheets}", 32.0)),
        (("approved", "", 36.0), ("programmed", "", 36.0), ("set up", "", 36.0), ("first part gauged", "", 36.0), ("all parts cut", "", 36.0)),
    )  # fmt: skip
    pen(canvas)
    canvas.setLineWidth(NARROW_MM)
    y = BOTTOM + BLOCK_MM
    for cells in rows:
        x = LEFT
        for label, value, wide in cells:
            canvas.rect(x, y - CELL_MM, wide, CELL_MM, stroke=1, fill=0)
            pen(canvas, colour="#4D4D4D")
            write(canvas, x + 1.2, y - 3.6, label)
            pen(canvas)
            write(canvas, x + 1.2, y - 8.2, cut_to(value, wide - 2.4, SIZE, BOLD), SIZE, BOLD)
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
