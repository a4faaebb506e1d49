"""Pieces larger than the bed they are cut on or the sheet they come from (trade.md 8, fault 23)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.place import Place

NAME = "too-large"
Box = tuple[float, float]


def check(view: View) -> Iterator[Finding]:
    """A `stop` for each piece or blank that fits in no turn that its grain allows."""
    recipe = view.derived.recipe
    shops = {s.name: s for s in recipe.shops.values()}
    for piece in view.derived.pieces:
        x0, y0, x1, y1 = piece.cut.bounds
        box = (x1 - x0, y1 - y0)
        shop, sheet = shops.get(piece.shop), recipe.sheets.get(piece.sheet)
        place = view.place(piece.step, "sheet", "laminations")
        if shop and _over((box, box[::-1]), shop.bed) > 0:
            yield _finding(piece.name, piece.step, box, shop.bed, f"the bed of {shop.name}", place)
        if shop and sheet:
            room = (sheet.size[0] - 2 * shop.sheet_border, sheet.size[1] - 2 * shop.sheet_border)
            turns: tuple[Box, ...] = (box, box[::-1])
            if "none" not in (piece.grain, sheet.grain):
                turns = (box,) if piece.grain == sheet.grain else (box[::-1],)
            if _over(turns, room) > 0:
                what = f"a sheet of {piece.sheet} less its border of {shop.sheet_border:g} mm"
                yield _finding(piece.name, piece.step, box, room, what, place)
    for blank in view.derived.blanks:
        x0, y0, x1, y1 = blank.region.bounds
        box, shop = (x1 - x0, y1 - y0), shops.get(blank.shop)
        if shop and blank.set_ups and _over((box, box[::-1]), shop.bed) > 0:
            place = view.place(blank.step, "cut_blank")
            yield _finding(blank.name, blank.step, box, shop.bed, f"the bed of {shop.name}", place)


def _over(turns: tuple[Box, ...], room: Box) -> float:
    """How far the best of some turns stands over, in mm; 0 or less when one fits."""
    return min(max(w - room[0], h - room[1]) for w, h in turns) - 1e-6


def _finding(name: str, step: str, box: Box, room: Box, what: str, place: Place | None) -> Finding:
    over = max(box[0] - room[0], box[1] - room[1]) if min(box) <= min(room) else min(box) - min(room)
    return Finding(
        check=NAME,
        severity="stop",
        message=(f"{name} is {box[0]:.1f} by {box[1]:.1f} mm; {what} holds {room[0]:.0f} by {room[1]:.0f} mm."),
        step=step,
        piece=name,
        measured=max(box),
        limit=max(room),
        remedy=(
            f"make it {over:.1f} mm smaller, split it with a joint, or name a larger sheet or another shop"
            if over > 0
            else "turn its grain, split it with a joint, or name a larger sheet or another shop"
        ),
        place=place,
    )
