"""Lays the pieces out on the physical sheets (how a piece lies there is told in `layout.py`).

Largest first, each as low and as far left as it goes, also inside the openings of others. The
search works on cells and errs on the safe side; gaps and borders are then measured on the exact shapes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import shapely

from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.transform import turn
from pipeline.steps.values import Derived, Nest, Piece, Placement
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.layout import nest_set_up, part_gap, placed, turns, view
from pipeline.workshop.raster import Board, Stamp, stamp

CELLS = 200_000
"""About so many cells a sheet: 1 mm on a small sheet, 2 mm on a whole one."""
EXACT_MM = 0.0011
"""What two flattened outlines (each within 0.0005 of its curves) may be nearer than they are drawn."""


@dataclass(slots=True)
class _Laid:
    """One physical sheet while it is being filled."""

    letter: str
    number: int
    board: Board
    placements: list[Placement] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Way:
    """A piece in one turn: its stamp and the lower left corner of its box."""

    turn_deg: int
    stamp: Stamp
    corner: tuple[float, float]


def nests(derived: Derived) -> tuple[tuple[Nest, ...], tuple[Finding, ...]]:
    """Every piece on a sheet of its stock, and what has to be said about it.

    Findings: ``sheet-too-small`` (stop: it is left out of the nests), ``more-sheets`` (ask),
    ``sheet-larger-than-bed`` (ask). Order: by shop, stock, letter, number.
    """
    found: list[Finding] = []
    made: list[Nest] = []
    keys = sorted({(p.shop, p.sheet) for p in derived.pieces})
    for shop, sheet in keys:
        pieces = [p for p in derived.pieces if (p.shop, p.sheet) == (shop, sheet)]
        for laid in _fill(derived, pieces, found):
            made.append(_nest(derived, pieces[0], laid))
    return tuple(made), tuple(found)


def _fill(derived: Derived, pieces: list[Piece], found: list[Finding]) -> list[_Laid]:
    """Lays the pieces of one stock and one shop out; says what doesn't fit."""
    recipe = derived.recipe
    name = pieces[0].sheet
    stock, shop = recipe.sheets[name], shop_named(recipe, pieces[0].shop)
    usable, cell, gap = _usable(stock, shop, found, name, recipe), _cell(stock), _gap(stock, shop)
    border = shop.sheet_border
    area = usable[0] - 2 * border + gap, usable[1] - 2 * border + gap
    letters = tuple(stock.measured)
    laid: list[_Laid] = []
    for piece, copies in _largest_first(pieces):
        ways = _ways(recipe, piece, stock, gap, cell)
        ways = [w for w in ways if Board(area, cell).room(w.stamp)]
        if not ways:
            found.append(_too_small(derived, piece, usable, border))
            continue
        bound = _bound_letter(derived, piece)
        own = (bound,) if bound else (piece.letter, *(x for x in letters if x != piece.letter))
        own = tuple(x for x in own if x in letters) or letters
        for copy in range(1, copies + 1):
            sheet, way, (column, row) = _first_room(laid, ways, own, area, cell)
            sheet.board.put(way.stamp, column, row)
            sheet.placements.append(
                Placement(
                    piece=piece.name,
                    copy=copy,
                    turn_deg=way.turn_deg,
                    dx=_tidy(border + column * cell - way.corner[0]),
                    dy=_tidy(border + row * cell - way.corner[1]),
                )
            )
    laid.sort(key=lambda s: (letters.index(s.letter), s.number))
    found += _more_sheets(recipe, name, laid)
    return laid


def _first_room(
    laid: list[_Laid], ways: list[_Way], letters: tuple[str, ...], area: tuple[float, float], cell: float
) -> tuple[_Laid, _Way, tuple[int, int]]:
    """The first sheet that takes a piece, opening one where none does; of its turns the lowest one."""
    number = 1
    while True:
        for letter in letters:
            sheet = next((s for s in laid if (s.letter, s.number) == (letter, number)), None)
            fresh = sheet or _Laid(letter, number, Board(area, cell))
            rooms = [(w, r) for w in ways if (r := fresh.board.room(w.stamp)) is not None]
            if rooms:
                if sheet is None:
                    laid.append(fresh)
                way, room = min(rooms, key=_lowest)
                return fresh, way, room
        number += 1


def _lowest(choice: tuple[_Way, tuple[int, int]]) -> tuple[int, int, int]:
    way, (column, row) = choice
    return row + way.stamp.cells[1], column + way.stamp.cells[0], way.turn_deg


def _largest_first(pieces: list[Piece]) -> Iterator[tuple[Piece, int]]:
    """Pieces bound to a letter before those that can go anywhere, large before small, then by name."""
    key = {p.name: (p.role != "lamination", -sum(q.outer.area for q in p.cut), p.name) for p in pieces}
    for piece in sorted(pieces, key=lambda p: key[p.name]):
        yield piece, piece.count


def _ways(recipe: Recipe, piece: Piece, stock: Sheet, gap: float, cell: float) -> list[_Way]:
    seen = view(recipe, nest_set_up(piece).face).region(piece.cut)
    ways = []
    for degrees in turns(piece, stock):
        turned = turn(degrees).region(seen)
        xmin, ymin, _, _ = turned.bounds
        ways.append(_Way(degrees, stamp(turned.polygon, gap / 2, cell), (xmin, ymin)))
    return ways


def _bound_letter(derived: Derived, piece: Piece) -> str:
    """The letter that a piece must be cut from: a lamination's, and one that the recipe wrote out."""
    spec = derived.recipe.steps[piece.step].spec if piece.step in derived.recipe.steps else None
    written = str(getattr(spec, "sheet", "")).split()
    return piece.letter if piece.role == "lamination" or len(written) > 1 else ""


def _usable(stock: Sheet, shop: Shop, found: list[Finding], name: str, recipe: Recipe) -> tuple[float, float]:
    """The part of a sheet, from its lower left corner, that the shop's bed takes."""
    (w, h), (bx, by) = stock.size, shop.bed
    if (w <= bx and h <= by) or (w <= by and h <= bx):
        return w, h
    found.append(
        Finding(
            check="sheet-larger-than-bed",
            severity="ask",
            message=(
                f"A sheet of {name} is {w:g} by {h:g}, more than the bed of {shop.name} takes ({bx:g} by "
                f"{by:g}); the parts are laid out in its lower left {min(w, bx):g} by {min(h, by):g}."
            ),
            measured=max(w, h),
            limit=max(bx, by),
            remedy="have the sheets cut to that size when you buy them, or state the size of the offcuts",
            place=_place(recipe, name),
        )
    )
    return min(w, bx), min(h, by)


def _cell(stock: Sheet) -> float:
    return float(max(1, round(math.sqrt(stock.size[0] * stock.size[1] / CELLS))))


def _gap(stock: Sheet, shop: Shop) -> float:
    return part_gap(shop, max(stock.measured.values()))


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0


# -- the result ------------------------------------------------------------------------------------
def _nest(derived: Derived, like: Piece, laid: _Laid) -> Nest:
    stock = derived.recipe.sheets[like.sheet]
    net = {p.name: p.region.area for p in derived.pieces}
    nest = Nest(
        sheet=like.sheet,
        letter=laid.letter,
        number=laid.number,
        shop=like.shop,
        size=stock.size,
        thickness_mm=stock.measured[laid.letter],
        placements=tuple(laid.placements),
        used=sum(net[p.piece] for p in laid.placements) / (stock.size[0] * stock.size[1]),
    )
    shop = shop_named(derived.recipe, like.shop)
    gap, border = clearances(derived, nest)
    if gap < _gap(stock, shop) - EXACT_MM or border < shop.sheet_border - EXACT_MM:
        raise RuntimeError(f"parts on {like.sheet} {laid.letter} lie {gap:.4f} apart, {border:.4f} from the edge")
    return nest


def clearances(derived: Derived, nest: Nest) -> tuple[float, float]:
    """(least distance of two parts, least distance of a part from the sheet's edge) in mm.

    Measured on the exact cut edges (flattened within 0.0005), apart from the search; infinite for
    fewer than two parts or none.
    """
    pieces = {p.name: p for p in derived.pieces}
    shapes = []
    for p in nest.placements:
        piece = pieces[p.piece]
        seen = view(derived.recipe, nest_set_up(piece).face).region(piece.cut)
        shapes.append(placed(seen, p).polygon)
    gap = border = math.inf
    for i, shape in enumerate(shapes):
        xmin, ymin, xmax, ymax = shape.bounds
        border = min(border, xmin, ymin, nest.size[0] - xmax, nest.size[1] - ymax)
        gap = min([gap, *(float(shapely.distance(shape, other)) for other in shapes[:i])])
    return gap, border


# -- what is said ----------------------------------------------------------------------------------
def _place(recipe: Recipe, sheet: str) -> Place:
    return recipe.places.get(f"sheets.{sheet}") or recipe.places.get("sheets") or recipe.places[""]


def _too_small(derived: Derived, piece: Piece, usable: tuple[float, float], border: float) -> Finding:
    xmin, ymin, xmax, ymax = piece.cut.bounds
    size = max(xmax - xmin, ymax - ymin)
    step = derived.recipe.steps.get(piece.step)
    return Finding(
        check="sheet-too-small",
        severity="stop",
        message=(
            f"{piece.name} ({xmax - xmin:.1f} by {ymax - ymin:.1f}) doesn't fit on a sheet of {piece.sheet}, "
            f"which has {usable[0] - 2 * border:g} by {usable[1] - 2 * border:g} inside its border."
        ),
        step=piece.step,
        piece=piece.name,
        at_mm=((xmin + xmax) / 2, (ymin + ymax) / 2),
        measured=size,
        limit=max(usable) - 2 * border,
        remedy="take a larger sheet, divide the piece, or let it turn where the grain doesn't matter",
        place=step.place("sheet") if step else _place(derived.recipe, piece.sheet),
    )


def _more_sheets(recipe: Recipe, name: str, laid: list[_Laid]) -> Iterator[Finding]:
    letters = tuple(recipe.sheets[name].measured)
    for letter in letters:
        count = max((s.number for s in laid if s.letter == letter), default=0)
        if count > 1:
            yield Finding(
                check="more-sheets",
                severity="ask",
                message=(
                    f"The parts of {name} {letter} need {count} sheets as thick as {letter} "
                    f"({recipe.sheets[name].measured[letter]:g}); the recipe lists one."
                ),
                measured=float(count),
                limit=1.0,
                unit="sheets",
                remedy=f"measure another sheet and list it under {name}, or make fewer at a time",
                place=_place(recipe, name),
            )
