"""Lays the pieces out on the physical sheets (how a piece lies there is told in `layout.py`).

A layout that was stored is taken while it holds; else parts are laid out as far left as they go, also inside the
openings of others (`search.py`). Whatever the layout, gaps, borders and places to keep out of are then measured
on the exact shapes (`exact.py`); one that violates them is a fault of our own and is never written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from pipeline.core.findings import Finding
from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Nest, Piece, Placement
from pipeline.workshop import nest_told as told
from pipeline.workshop.cut_order import cut_order
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.exact import Lying, clear, clearances, ground, least_gap
from pipeline.workshop.kept_layout import Sheetful, checked, kept_key
from pipeline.workshop.layout import letters_for, turns
from pipeline.workshop.leftovers import leftovers
from pipeline.workshop.nest_parts import corner, inside, parts, rooms
from pipeline.workshop.search import Layout, Part, Room
from pipeline.workshop.varying import laid_out

__all__ = ["clearances", "nests"]


def nests(derived: Derived) -> tuple[tuple[Nest, ...], tuple[Finding, ...]]:
    """Every piece on a sheet of its stock, and what has to be said about it.

    Findings: ``no-room`` (stop: it is left out), ``more-sheets`` and ``sheet-larger-than-bed`` (ask), ``no-spare``
    and ``layout-outdated`` (note). A piece that is larger than its sheets is left out too; the check `too-large`
    says so. Order: by shop, stock, letter, number.
    """
    lying = Lying(derived.recipe, derived.pieces)
    found: list[Finding] = []
    made: list[Nest] = []
    for shop, sheet in sorted({(p.shop, p.sheet) for p in derived.pieces}):
        pieces = [p for p in derived.pieces if (p.shop, p.sheet) == (shop, sheet)]
        made += _of_stock(derived, pieces, lying, found)
    return tuple(made), tuple(found)


def _of_stock(derived: Derived, pieces: list[Piece], lying: Lying, found: list[Finding]) -> list[Nest]:
    """The sheets of one stock and one shop."""
    recipe, name = derived.recipe, pieces[0].sheet
    shop = shop_named(recipe, pieces[0].shop)
    found += told.larger_than_bed(recipe, name, shop)
    fitting = [p for p in pieces if fits(recipe, p, shop, lying)]
    if not fitting:
        return []
    stored = recipe.layouts.get(kept_key(recipe, shop.name, name), ())
    sheets, wrong = checked(recipe, shop, fitting, stored, lying) if stored else ((), "")
    kept = bool(sheets)
    if wrong:
        found.append(told.layout_outdated(recipe, name, wrong))
    if not kept:
        sheets = built_in(recipe, shop, fitting, lying)
    found += _left_out(derived, fitting, sheets)
    found += told.more_sheets(recipe, name, sheets)
    return [_nest(recipe, shop, fitting, s, lying, kept=kept) for s in sheets]


def fits(recipe: Recipe, piece: Piece, shop: Shop, lying: Lying) -> bool:
    """Does a piece's box fit into one of its sheets in a turn that its grain allows?"""
    stock = recipe.sheets[piece.sheet]
    for turn in turns(piece, stock):
        xmin, ymin, xmax, ymax = lying.box(piece.name, turn)
        for letter in letters_for(recipe, piece):
            w, h = inside(stock, letter, shop)
            if xmax - xmin <= w + 1e-6 and ymax - ymin <= h + 1e-6:
                return True
    return False


def built_in(recipe: Recipe, shop: Shop, pieces: Sequence[Piece], lying: Lying) -> tuple[Sheetful, ...]:
    """The layout by our own search."""
    made, room = jobs(recipe, shop, pieces, lying)
    return sheetfuls(recipe, shop, pieces[0].sheet, made, laid_out(made, room))


def jobs(
    recipe: Recipe, shop: Shop, pieces: Sequence[Piece], lying: Lying
) -> tuple[tuple[Part, ...], tuple[Room, ...]]:
    """Parts and rooms of one stock, ready to be searched."""
    made = parts(recipe, pieces, lying)
    return made, rooms(recipe.sheets[pieces[0].sheet], shop, [p.ways[0].area for p in made])


def sheetfuls(
    recipe: Recipe, shop: Shop, sheet: str, made: Sequence[Part], layout: Layout
) -> tuple[Sheetful, ...]:
    """A layout of the search as placements on sheets, by letter and number."""
    stock = recipe.sheets[sheet]
    zero, letters = corner(stock, shop), tuple(stock.measured)
    laid = [
        Sheetful(
            letter=f.room.letter,
            number=f.number,
            placements=tuple(
                Placement(
                    piece=made[s.part].name,
                    copy=made[s.part].copy,
                    turn_deg=s.way.turn_deg,
                    dx=_tidy(zero + s.x - s.way.corner[0]),
                    dy=_tidy(zero + s.y - s.way.corner[1]),
                    spare=made[s.part].spare,
                )
                for s in f.spots
            ),
        )
        for f in layout.filled
    ]
    laid.sort(key=lambda s: (letters.index(s.letter), s.number))
    return tuple(_counted(laid, {p.name: p.copy for p in made if not p.spare}))


def _counted(sheets: Sequence[Sheetful], wanted: Mapping[str, int]) -> Iterator[Sheetful]:
    """Copies numbered as they lie, sheet after sheet: those over the number that is ``wanted`` are the spares."""
    seen: Counter[str] = Counter()
    for s in sheets:
        placements = []
        for p in s.placements:
            seen[p.piece] += 1
            placements.append(replace(p, copy=seen[p.piece], spare=seen[p.piece] > wanted[p.piece]))
        yield replace(s, placements=tuple(placements))


def _left_out(derived: Derived, pieces: Sequence[Piece], sheets: Sequence[Sheetful]) -> list[Finding]:
    there = {(p.piece, p.copy) for s in sheets for p in s.placements}
    found = []
    for piece in pieces:
        missing = sum((piece.name, k) not in there for k in range(1, piece.count + 1))
        spare = derived.recipe.spare.get(piece.step, 0)
        lost = sum((piece.name, piece.count + k) not in there for k in range(1, spare + 1))
        if missing:
            found.append(told.no_room(derived, piece, missing))
        elif lost:
            found.append(told.no_spare(derived.recipe, piece, lost))
    return found


def _nest(
    recipe: Recipe, shop: Shop, pieces: Sequence[Piece], sheet: Sheetful, lying: Lying, *, kept: bool
) -> Nest:
    """A sheet as it goes to the shop: measured exactly, in cutting order. Raises RuntimeError when something is
    violated."""
    name = pieces[0].sheet
    stock = recipe.sheets[name]
    on = ground(stock, sheet.letter, sheet.number)
    shapes = [lying.placed(p) for p in sheet.placements]
    wrong = clear(shapes, on).wrong(least_gap(stock, shop), shop.sheet_border)
    if wrong:
        raise RuntimeError(f"on {name} {sheet.letter} {sheet.number} {wrong}")
    rough = {p: lying.placed(p, rough=True) for p in sheet.placements}
    placements, cuts = cut_order(sheet.placements, list(rough.values()))
    offcut = stock.offcuts.get(sheet.letter) if sheet.number == 1 else None
    net = {p.name: p.region.area for p in pieces}
    wide = shop.kerf if shop.process == "laser" else shop.profile_cutter.DC
    return Nest(
        sheet=name,
        letter=sheet.letter,
        number=sheet.number,
        shop=pieces[0].shop,
        size=stock.size_of(sheet.letter),
        thickness_mm=stock.measured[sheet.letter],
        placements=placements,
        used=sum(net[p.piece] for p in placements) / float(on.outline.area),
        offcut=stock.single(sheet.letter),
        corners=tuple(offcut.corners) if offcut else (),
        keep_out=tuple(offcut.keep_out) if offcut else (),
        cuts=cuts,
        leftovers=leftovers(placements, [rough[p] for p in placements], on, wide),
        length_mm=round(max(s.bounds[2] for s in shapes), 3),
        kept=kept,
    )


def _tidy(value: float) -> float:
    return round(value, 6) + 0.0
