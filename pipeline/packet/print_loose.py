"""Loose things on paper, full size: gauges, edge strips, a hand; as many on a page as there is room for."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.core.errors import refuse
from pipeline.packet.print_how import How
from pipeline.packet.print_pack import Spot, packed
from pipeline.packet.print_page import NO_SCALING, Head, check_square, rules, strips, to_measure
from pipeline.packet.print_path import draw_stroke
from pipeline.packet.print_scene import Stroke
from pipeline.packet.print_sheets import called, finish, new_canvas, new_page
from pipeline.packet.shop_sheet_ink import SIZE, write
from pipeline.packet.tiles import CHECK_MM, PAGE_LIMIT_MM, ROLL_END_MM, Paper, Tiling, paper_named, tiling
from pipeline.steps.values import Derived

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Words at the left end of their base line, or ``centred`` about it; turned by ``turn_deg``."""

    text: str
    x: float
    y: float
    size: float = SIZE
    turn_deg: float = 0.0
    centred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """Something to be cut out of paper, its lower left corner at (0, 0), in true mm."""

    name: str
    size: tuple[float, float]
    strokes: tuple[Stroke, ...]
    words: tuple[Text, ...] = ()


def room_of(how: How) -> tuple[float, float]:
    """Width and height of what a page takes, as it lies when the long side runs along x."""
    window = _page(_paper(how), how, 1e9).window
    return window[2] - window[0], window[3] - window[1]


def loose_pdf(derived: Derived, what: str, things: Sequence[Thing], how: How) -> bytes:
    """The things with rules on every page, and a check square where that costs no page more.

    Raises Refused for a thing that is larger than the paper.
    """
    paper = _paper(how)
    scale = how.scale(paper)
    page = _page(paper, how, sum(t.size[0] + 4.0 for t in things) + CHECK_MM + 4.0)
    left, bottom, right, top = page.window
    room, sizes = (right - left, top - bottom), [t.size for t in things]
    bare, spots = packed(sizes, room), packed([(CHECK_MM, CHECK_MM), *sizes], room)
    if bare is None:
        largest = max(things, key=lambda t: (max(t.size), t.name))
        raise refuse(
            f"{largest.name} is {largest.size[0]:.0f} x {largest.size[1]:.0f} mm and doesn't fit on {paper.name}.",
            remedy="take larger paper: --paper A3, or a roll",
        )
    if spots is None or _pages(spots) > _pages(bare):
        # The square alone is worth no sheet: the rules on every sheet tell the same.
        spots = tuple(replace(s, thing=s.thing + 1) for s in bare)
    head = Head(
        design=called(derived.recipe),
        what=f"{what} - {NO_SCALING}",
        held=how.held,
        correction=how.correction(paper),
        rule_mm=paper.rule_mm,
    )
    out = io.BytesIO()
    canvas = new_canvas(out, f"{called(derived.recipe)}: {what}, full size")
    pages = _pages(spots)
    for number in range(pages):
        sheet = f"Sheet {number + 1} of {pages}"
        new_page(canvas, page, scale)
        strips(canvas, page, head, f"{number + 1}/{pages}", "")
        rules(canvas, page, head)
        for spot in spots:
            if spot.page == number:
                _put(canvas, page, spot, None if spot.thing == 0 else things[spot.thing - 1], head, sheet)
        canvas.showPage()
    return finish(canvas, out)


def _pages(spots: Sequence[Spot]) -> int:
    return max(s.page for s in spots) + 1


def _paper(how: How) -> Paper:
    return paper_named(how.paper.split(",")[0])


def _page(paper: Paper, how: How, along: float) -> Tiling:
    """One page, its long side along x; a roll as long as what lies on it, up to the longest page that PDF has."""
    sx, sy = how.scale(paper)
    plain = tiling(1.0, 1.0, paper.name)
    if paper.width is None:
        assert paper.size is not None
        return replace(plain, page=(paper.size[1] / sx, paper.size[0] / sy))
    around = 2 * (plain.margin + ROLL_END_MM)
    return replace(plain, page=(min(along + around, PAGE_LIMIT_MM / sx), paper.width / sy))


def _put(canvas: Canvas, page: Tiling, spot: Spot, thing: Thing | None, head: Head, sheet: str) -> None:
    """One thing, or the check square, at its place; what is turned stands with its foot to the right."""
    left, _, _, top = page.window
    x, y = left + spot.x, top - spot.y
    if thing is None:
        check_square(canvas, x, y - CHECK_MM, [*to_measure(head, sheet), "The edge is the middle of the line."])
        return
    w, h = thing.size
    canvas.saveState()
    if spot.turned:
        canvas.translate(x + h, y - w)
        canvas.rotate(90)
    else:
        canvas.translate(x, y - h)
    canvas.setLineJoin(1)
    for stroke in thing.strokes:
        draw_stroke(canvas, stroke)
    for t in thing.words:
        canvas.saveState()
        canvas.translate(t.x, t.y)
        canvas.rotate(t.turn_deg)
        canvas.setFillColorRGB(0, 0, 0)
        write(canvas, 0.0, 0.0, t.text, t.size, align="c" if t.centred else "l")
        canvas.restoreState()
    canvas.restoreState()
