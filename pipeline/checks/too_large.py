"""Pieces larger than the bed they are cut on or the sheet they come from (trade.md 8, fault 23)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.workshop.layout import letters_for

NAME = "too-large"
Box = tuple[float, float]
NEAR = 1e-6


def check(view: View) -> Iterator[Finding]:
    """A `stop` for each piece or blank that fits in no turn that its grain allows.

    Measured and limit are those of the side that stands over most, in the turn that comes nearest to fitting.
    """
    recipe = view.derived.recipe
    shops = {s.name: s for s in recipe.shops.values()}
    for piece in view.derived.pieces:
        x0, y0, x1, y1 = piece.cut.bounds
        box = (x1 - x0, y1 - y0)
        shop, sheet = shops.get(piece.shop), recipe.sheets.get(piece.sheet)
        place = view.place(piece.step, "sheet", "laminations")
        if shop:
            yield from _over(
                piece.name, piece.step, (box, box[::-1]), (shop.bed,), f"the bed of {shop.name}", place
            )
        if shop and sheet:
            letters = letters_for(recipe, piece)
            border = shop.sheet_border
            sizes = [sheet.size_of(x) for x in letters]
            rooms = tuple(dict.fromkeys((w - 2 * border, h - 2 * border) for w, h in sizes))
            turns: tuple[Box, ...] = (box, box[::-1])
            if "none" not in (piece.grain, sheet.grain):
                turns = (box,) if piece.grain == sheet.grain else (box[::-1],)
            name = f"sheet {piece.sheet} {letters[0]}" if len(letters) == 1 else f"a sheet of {piece.sheet}"
            what = f"{name} less its border of {border:g} mm"
            yield from _over(piece.name, piece.step, turns, rooms, what, place)
    for blank in view.derived.blanks:
        x0, y0, x1, y1 = blank.region.bounds
        box, shop = (x1 - x0, y1 - y0), shops.get(blank.shop)
        if shop and blank.set_ups:
            place = view.place(blank.step, "cut_blank")
            what = f"the bed of {shop.name}"
            yield from _over(blank.name, blank.step, (box, box[::-1]), (shop.bed,), what, place)


def _over(
    name: str, step: str, turns: Sequence[Box], rooms: Sequence[Box], what: str, place: Place | None
) -> Iterator[Finding]:
    """A finding where a box, in each of its turns, stands over every room."""
    choices = [(max(w - a, h - b), (w, h), (a, b)) for w, h in turns for a, b in rooms]
    most, box, room = min(choices)
    if most <= NEAR:
        return
    side = 0 if box[0] - room[0] >= box[1] - room[1] else 1
    over = [box[k] - room[k] for k in (0, 1)]
    yield Finding(
        check=NAME,
        severity="stop",
        message=(
            f"{name} is {turns[0][0]:.1f} by {turns[0][1]:.1f} mm; {what} holds {room[0]:.5g} by {room[1]:.5g} mm."
        ),
        step=step,
        piece=name,
        measured=box[side],
        limit=room[side],
        remedy=(
            f"make it {_amount(over, box)}, split it with a joint, turn its grain, or name a larger sheet or "
            "another shop"
        ),
        place=place,
    )


def _amount(over: Sequence[float], box: Box) -> str:
    """By how much it has to become smaller, side by side."""
    long, short = (0, 1) if box[0] >= box[1] else (1, 0)
    words = [f"{over[k]:.1f} mm {word}" for k, word in ((long, "shorter"), (short, "narrower")) if over[k] > NEAR]
    return " and ".join(words)
