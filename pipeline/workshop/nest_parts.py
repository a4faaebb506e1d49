"""From pieces and stocks to what the search lays out: parts in their turns, and rooms."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from pipeline.core.recipe import Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.exact import ROUGH_MM, Lying, ground, least_gap, quarter_turned
from pipeline.workshop.layout import letters_for, turns, usable
from pipeline.workshop.search import Part, Room
from pipeline.workshop.ways import Way, grown_by, way

FINEST = 120_000
COARSEST = 10_000
"""Most and fewest cells of a sheet."""
ACROSS = 16
"""So many cells across a part of the usual size."""
BOUND, FREE, COUPON, SPARE = range(4)
"""What is laid first: what must lie on one sheet, then what may lie on several, then coupons, then spares."""


def parts(recipe: Recipe, pieces: Sequence[Piece], lying: Lying) -> tuple[Part, ...]:
    """One part for each copy, spares after those that are asked for."""
    made = []
    for piece in pieces:
        stock, shop = recipe.sheets[piece.sheet], shop_named(recipe, piece.shop)
        gap = least_gap(stock, shop)
        grown = grown_by(lying.rough(piece.name), gap)
        ways = tuple(way(quarter_turned(grown, t), t, lying.box(piece.name, t), gap) for t in turns(piece, stock))
        letters = letters_for(recipe, piece)
        late = COUPON if piece.role == "coupon" else BOUND if len(letters) < len(stock.measured) else FREE
        made += [
            Part(
                name=piece.name,
                copy=copy,
                ways=ways,
                letters=letters,
                late=late if copy <= piece.count else SPARE,
                spare=copy > piece.count,
            )
            for copy in range(1, piece.count + spares(recipe, piece) + 1)
        ]
    return tuple(made)


def spares(recipe: Recipe, piece: Piece) -> int:
    """How many more of a piece are wanted from what is left over."""
    return recipe.spare.get(piece.step, 0)


def rooms(stock: Sheet, shop: Shop, areas: Sequence[float]) -> tuple[Room, ...]:
    """The usable parts of a stock's sheets; ``areas`` (mm²) are those of the parts."""
    return tuple(_room(stock, letter, shop, areas) for letter in stock.measured)


def corner(stock: Sheet, shop: Shop) -> float:
    """Where a room's zero lies on its sheet, both ways."""
    return shop.sheet_border - least_gap(stock, shop) / 2


def inside(stock: Sheet, letter: str, shop: Shop) -> tuple[float, float]:
    """Length by width that a part's box may have on a sheet, its border left free."""
    w, h = usable(stock, letter, shop)
    return w - 2 * shop.sheet_border, h - 2 * shop.sheet_border


def _room(stock: Sheet, letter: str, shop: Shop, areas: Sequence[float]) -> Room:
    gap = least_gap(stock, shop)
    w, h = inside(stock, letter, shop)
    size = (w + gap, h + gap)
    taken = _taken(stock, letter, shop, size)
    return Room(
        letter=letter,
        size=size,
        cell=cell_for(max(1.0, size[0] * size[1]), areas),
        taken=taken,
        at=tuple(t.corner for t in taken),
        single=stock.single(letter),
    )


def cell_for(area: float, areas: Sequence[float]) -> float:
    """Side of a cell: fine enough for the parts, coarse enough for the sheet."""
    usual = sorted(areas)[len(areas) // 4] if areas else area
    wanted = math.sqrt(usual) / ACROSS
    return max(0.5, min(max(wanted, math.sqrt(area / FINEST)), math.sqrt(area / COARSEST)))


def _taken(stock: Sheet, letter: str, shop: Shop, size: tuple[float, float]) -> tuple[Way, ...]:
    """What is kept out of, in the room's own coordinates, grown by half the gap; each piece lies at its corner."""
    if letter not in stock.offcuts or min(size) <= 0:
        return ()
    zero, half = corner(stock, shop), least_gap(stock, shop) / 2
    on = ground(stock, letter, 1)
    box = shapely.box(0.0, 0.0, *size)
    shapes = [shapely.buffer(k, half + ROUGH_MM, quad_segs=8) for k in on.keep_out]
    if stock.offcuts[letter].corners:
        allowed = shapely.buffer(on.outline, -(zero + ROUGH_MM), quad_segs=16)
        shapes.append(shapely.difference(shapely.box(0.0, 0.0, *stock.size_of(letter)), allowed))
    moved = (shapely.transform(s, lambda xy: xy - zero) for s in shapes)
    inner = (p for s in moved for p in shapely.get_parts(shapely.intersection(s, box)))
    return tuple(way(p, 0, p.bounds, 0.0) for p in inner if p.geom_type == "Polygon" and p.area > 1e-6)
