"""shop-sheet.pdf: one page for each set-up or sheet of a shop, to lie beside the machine.

It says what the drawing files can't: which of two depths is held, what to gauge, which tools come in which order.
It holds what its shop may see and nothing else: no prices, no other shop, no open question of the maker.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from pipeline.graph.once import traced
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_sheet_facts import Page, pages
from pipeline.packet.shop_sheet_seen import shown
from pipeline.steps.values import Derived, Nest, WorkLine

NAME = "shop-sheet.pdf"
MM = 72 / 25.4


def shop_sheets(
    derived: Derived,
    files: Sequence[ShopFile],
    nests: Sequence[Nest],
    work: Sequence[WorkLine],
    *,
    held: bool,
    since: Mapping[str, str],
) -> dict[str, bytes]:
    """The sheet of every shop that gets files, by the shop's name; byte-equal for equal inputs.

    ``since`` maps pieces to the revision they are unchanged since (absent: this one).
    """
    seen = shown(derived, files, nests)
    made: dict[str, bytes] = {}
    for shop in dict.fromkeys(s.file.shop for s in seen):
        mine = [s for s in seen if s.file.shop == shop]
        own = [f for f in files if f.shop == shop]
        given = {"mine": mine, "own": own, "work": work, "held": held, "since": since}
        made[shop] = traced(
            "shop sheet", shop, {"derived": derived}, partial(_sheets, given), code=(__name__,), given=given
        )
    return made


def _sheets(given: Mapping[str, Any], roots: Mapping[str, Any]) -> bytes:
    g = given
    return _pdf(pages(roots["derived"], g["mine"], g["own"], g["work"], held=g["held"], since=g["since"]))


def _pdf(found: Sequence[Page]) -> bytes:
    from reportlab.pdfgen.canvas import Canvas

    from pipeline.packet.print_words import latin
    from pipeline.packet.shop_sheet_page import A4, draw_page, sheets_of

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(A4[0] * MM, A4[1] * MM), invariant=1, pageCompression=1)
    recipe = found[0].recipe
    canvas.setTitle(latin(f"{recipe.title or recipe.design}, revision {recipe.revision}: shop sheet"))
    canvas.setAuthor("mouldloft")
    split = [(page, sheets_of(page)) for page in found]
    total = sum(len(parts) for _, parts in split)
    sheet = 0
    for page, parts in split:
        for i, rows in enumerate(parts):
            sheet += 1
            canvas.saveState()
            canvas.scale(MM, MM)
            draw_page(canvas, page, rows, sheet, total, more=i > 0)
            canvas.restoreState()
            canvas.showPage()
    canvas.save()
    return out.getvalue()
