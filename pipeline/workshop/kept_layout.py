"""Layouts that were stored: taken as long as they hold every part and keep every gap, measured exactly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.recipe import Recipe, StoredSheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Piece, Placement
from pipeline.workshop.exact import Lying, clear, ground, least_gap
from pipeline.workshop.layout import letters_for, turns, usable
from pipeline.workshop.nest_parts import spares


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheetful:
    """The parts on one physical sheet."""

    letter: str
    number: int
    placements: tuple[Placement, ...]


def kept_key(recipe: Recipe, shop: str, sheet: str) -> str:
    """The name under which the layout of a stock is kept."""
    return f"{recipe.variant}/{shop}/{sheet}"


def checked(
    recipe: Recipe, shop: Shop, pieces: Sequence[Piece], stored: Sequence[StoredSheet], lying: Lying
) -> tuple[tuple[Sheetful, ...], str]:
    """The stored sheets as they are to be cut, or why they don't hold any more, in words."""
    stock = recipe.sheets[pieces[0].sheet]
    known = {p.name: p for p in pieces}
    found = tuple(_sheetful(known, s) for s in stored)
    wrong = _counts(recipe, known, found) or _places(recipe, known, found)
    if wrong:
        return (), wrong
    if len({(s.letter, s.number) for s in found}) < len(found):
        return (), "one sheet stands in it twice"
    for s in found:
        if s.letter not in stock.measured or (s.number > 1 and stock.single(s.letter)):
            return (), f"there is no sheet {s.letter} {s.number}"
        shapes = [lying.placed(p) for p in s.placements]
        wrong = clear(shapes, ground(stock, s.letter, s.number)).wrong(least_gap(stock, shop), shop.sheet_border)
        w, h = usable(stock, s.letter, shop)
        limit = (w - shop.sheet_border + 1e-3, h - shop.sheet_border + 1e-3)
        if wrong or any(b[2] > limit[0] or b[3] > limit[1] for b in (shape.bounds for shape in shapes)):
            return (), wrong or f"a part lies outside the bed of {shop.name}"
    return found, ""


def _sheetful(known: Mapping[str, Piece], stored: StoredSheet) -> Sheetful:
    return Sheetful(
        letter=stored.letter,
        number=stored.number,
        placements=tuple(
            Placement(
                piece=name,
                copy=copy,
                turn_deg=turn,
                dx=dx,
                dy=dy,
                spare=name in known and copy > known[name].count,
            )
            for name, copy, turn, dx, dy in stored.rows
        ),
    )


def _counts(recipe: Recipe, known: Mapping[str, Piece], found: Sequence[Sheetful]) -> str:
    """Every copy that is made lies somewhere, once; spares may be missing."""
    there = [(p.piece, p.copy) for s in found for p in s.placements]
    if len(set(there)) < len(there):
        return "a part stands in it twice"
    may = {(n, k) for n, p in known.items() for k in range(1, p.count + spares(recipe, p) + 1)}
    strange = sorted(set(there) - may)
    if strange:
        return f"{strange[0][0]} is not made any more, or not so many of it"
    missing = sorted((n, k) for n, p in known.items() for k in range(1, p.count + 1) if (n, k) not in there)
    return f"{missing[0][0]} is not in it, or not as many of it" if missing else ""


def _places(recipe: Recipe, known: Mapping[str, Piece], found: Sequence[Sheetful]) -> str:
    """Every part lies on a sheet that it may be cut from, turned as its grain allows."""
    for s in found:
        for p in s.placements:
            piece = known[p.piece]
            if s.letter not in letters_for(recipe, piece):
                return f"{p.piece} has to come from another sheet than {s.letter}"
            if p.turn_deg not in turns(piece, recipe.sheets[piece.sheet]):
                return f"{p.piece} lies across the grain"
    return ""
