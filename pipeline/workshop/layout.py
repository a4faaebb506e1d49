"""How a piece lies on a sheet: which of its faces is up, how it is turned, how far it keeps away.

A nest is what the machinist sees: of each piece it holds the set-up that frees it from the sheet
(`nest_set_up`), seen from that set-up's face (`view`); the placement then turns that picture about
the origin and shifts it, and never mirrors it. A sheet's lower left corner is (0, 0). So the file of
a nest holds, for each placement, ``placed(view(...).region(piece.cut), placement)``, and its other
contours go the same way. A piece with several set-ups takes its room on the sheet all the same.
"""

from __future__ import annotations

from pipeline.core.fields import FaceName
from pipeline.core.recipe import Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move, mirror_x_axis, mirror_y_axis, shift, turn
from pipeline.steps.values import Piece, Placement, SetUp


def view(recipe: Recipe, face: FaceName) -> Move:
    """From the design frame to a set-up as the machinist sees it: a back set-up is turned over."""
    if face == "front":
        return Move()
    return mirror_y_axis() if recipe.frame and recipe.frame.turn_over == "y" else mirror_x_axis()


def nest_set_up(piece: Piece) -> SetUp:
    """The set-up of a piece that belongs in a nest: the one that cuts its outside, else its last one."""
    return next((s for s in piece.set_ups if any(op.work == "CUT_OUTSIDE" for op in s.ops)), piece.set_ups[-1])


def placed(region: Region, placement: Placement) -> Region:
    """A region, already as the machinist sees it, where it lies on the sheet."""
    return turn(placement.turn_deg).then(shift(placement.dx, placement.dy)).region(region)


def part_gap(shop: Shop, thickness_mm: float) -> float:
    """Least distance of parts in mm: the shop's own; for a laser at least half the thickness
    (common practice, no source)."""
    return max(shop.part_gap, 0.0 if shop.gap or shop.process == "router" else thickness_mm / 2)


def turns(piece: Piece, stock: Sheet) -> tuple[int, ...]:
    """The turns (degrees) that the grain allows: all four where either side has none."""
    if "none" in (piece.grain, stock.grain):
        return (0, 90, 180, 270)
    return (0, 180) if piece.grain == stock.grain else (90, 270)


def letters_for(recipe: Recipe, piece: Piece) -> tuple[str, ...]:
    """The physical sheets that a piece may be cut from, its own letter first.

    A lamination, and a piece whose sheet is written with its letter, come from that sheet and from no other.
    """
    letters = tuple(recipe.sheets[piece.sheet].measured)
    spec = recipe.steps[piece.step].spec if piece.step in recipe.steps else None
    written = str(getattr(spec, "sheet", "")).split()
    if piece.letter in letters and (piece.role == "lamination" or len(written) > 1):
        return (piece.letter,)
    return tuple(sorted(letters, key=lambda x: x != piece.letter))


def usable(stock: Sheet, letter: str, shop: Shop) -> tuple[float, float]:
    """The part of a sheet, from its lower left corner, that the shop's bed takes: all of it where it lies on the
    bed in one of two ways."""
    (w, h), (x, y) = stock.size_of(letter), shop.bed
    return (w, h) if (w <= x and h <= y) or (w <= y and h <= x) else (min(w, x), min(h, y))
