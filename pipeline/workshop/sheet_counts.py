"""How many sheets any number of objects takes, without nesting them: boxes in rows, as a saw would divide a sheet.

What is counted so can be cut so; a layout by shape may need fewer. The order as it stands is counted from its own
layout (`nest.py`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.recipe import Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Nest, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.layout import part_gap, turns
from pipeline.workshop.shop_time import EACH

MOST_SETS = 500
"""More sets than this on one sheet are not looked for: nobody quotes confetti."""
EPS = 1e-9


@dataclass(frozen=True, slots=True)
class Box:
    """The box of a piece on a sheet with its gap, as wide and high as the grain lets it lie; its sheet's letter
    where it is bound to one."""

    ways: tuple[tuple[float, float], ...]
    letter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One stock in one shop.

    ``sheets`` is what the order takes as nested, ``letters`` those of them that differ; ``one`` the boxes of one
    object, ``jigs`` those of templates and the like, which are made once; ``area`` what rows may fill. ``sets``
    objects go on one sheet of each letter; it is 0 where one object takes more than that, or nothing.
    """

    shop: str
    name: str
    sheets: int
    letters: tuple[str, ...]
    one: tuple[Box, ...]
    jigs: tuple[Box, ...]
    area: tuple[float, float]
    sets: int

    def count(self, objects: int, made: int) -> int:
        """Sheets for so many objects, and the jigs once.

        ``made`` is the number of the order, which is taken as it is nested, and bounds every other one.
        """
        if objects == made:
            return self.sheets
        lone = in_rows(self.jigs, self.area, self.letters)
        if self.one and not self.sets:
            found = objects * in_rows(self.one, self.area, self.letters) + lone
        elif self.one:
            full = math.ceil(objects / self.sets)
            last = self.one * (objects - (full - 1) * self.sets)
            beside = in_rows((*last, *self.jigs), self.area, self.letters) <= len(self.letters)
            found = full * len(self.letters) + (0 if beside else lone)
        else:
            found = lone
        return min(found, self.sheets * math.ceil(objects / made))


def stocks(derived: Derived, nests: Sequence[Nest]) -> tuple[Stock, ...]:
    """Every stock that the order's layout takes, by shop."""
    found = []
    for key in dict.fromkeys((n.shop, n.sheet) for n in nests):
        mine = [n for n in nests if (n.shop, n.sheet) == key]
        laid = {q.piece for n in mine for q in n.placements}
        found.append(_stock(derived.recipe, mine, [p for p in derived.pieces if p.name in laid]))
    return tuple(found)


def _stock(recipe: Recipe, nests: Sequence[Nest], pieces: Sequence[Piece]) -> Stock:
    shop, sheet = shop_named(recipe, nests[0].shop), recipe.sheets[nests[0].sheet]
    gap = part_gap(shop, max(sheet.measured.values()))
    w, h = usable(sheet, shop)
    area = w - 2 * shop.sheet_border + gap, h - 2 * shop.sheet_border + gap
    letters = tuple(dict.fromkeys(n.letter for n in nests))
    one = tuple(
        _box(p, sheet, gap) for p in pieces if p.role in EACH for _ in range(math.ceil(p.count / recipe.make))
    )
    return Stock(
        shop=shop.name,
        name=nests[0].sheet,
        sheets=len(nests),
        letters=letters,
        one=one,
        jigs=tuple(_box(p, sheet, gap) for p in pieces if p.role not in EACH for _ in range(p.count)),
        area=area,
        sets=_sets(one, area, letters),
    )


def usable(stock: Sheet, shop: Shop) -> tuple[float, float]:
    """The part of a sheet that the shop's bed takes."""
    (w, h), (bx, by) = stock.size, shop.bed
    return (w, h) if (w <= bx and h <= by) or (w <= by and h <= bx) else (min(w, bx), min(h, by))


def _box(piece: Piece, stock: Sheet, gap: float) -> Box:
    x0, y0, x1, y1 = piece.cut.bounds
    w, h = x1 - x0 + gap, y1 - y0 + gap
    allowed = turns(piece, stock)
    ways = [(w, h)] if {0, 180} & {*allowed} else []
    ways += [(h, w)] if {90, 270} & {*allowed} else []
    lying_first = tuple(sorted(dict.fromkeys(ways), key=lambda v: v[1]))
    return Box(lying_first, piece.letter if piece.role == "lamination" else "")


def _sets(one: tuple[Box, ...], area: tuple[float, float], letters: tuple[str, ...]) -> int:
    """The most whole sets that rows hold on one sheet of each letter."""
    if not one:
        return 0
    least = sum(w * h for w, h in (b.ways[0] for b in one))
    lo, hi = 0, min(MOST_SETS, int(len(letters) * area[0] * area[1] / least))
    while lo < hi:
        mid = (lo + hi + 1) // 2
        lo, hi = (mid, hi) if in_rows(one * mid, area, letters) <= len(letters) else (lo, mid - 1)
    return lo


def in_rows(boxes: Sequence[Box], area: tuple[float, float], letters: tuple[str, ...]) -> int:
    """How many sheets boxes take in rows; the better of lying and standing ones."""
    return min(_rows(boxes, area, letters, which) for which in (0, -1))


def _rows(boxes: Sequence[Box], area: tuple[float, float], letters: tuple[str, ...], which: int) -> int:
    """Highest first, each into the first row that has room, on a sheet of its own letter or of any."""
    sheets = list(letters)  # the letter of each sheet
    filled = [0.0] * len(sheets)  # height that its rows take
    rows: list[tuple[int, float]] = []  # sheet, height
    lengths: list[float] = []
    listed = [(*_way(b, area, which), b.letter) for b in boxes]
    for w, h, letter in sorted(listed, key=lambda v: (-v[1], -v[0], v[2])):
        row = next(
            (
                k
                for k, (s, height) in enumerate(rows)
                if h <= height + EPS and lengths[k] + w <= area[0] + EPS and letter in ("", sheets[s])
            ),
            None,
        )
        if row is None:
            on = next(
                (s for s, x in enumerate(sheets) if letter in ("", x) and filled[s] + h <= area[1] + EPS), None
            )
            if on is None:
                on = len(sheets)
                sheets.append(letter or letters[0])
                filled.append(0.0)
            row = len(rows)
            rows.append((on, h))
            lengths.append(0.0)
            filled[on] += h
        lengths[row] += w
    return sum(f > 0 for f in filled)


def _way(box: Box, area: tuple[float, float], which: int) -> tuple[float, float]:
    fits = [v for v in box.ways if v[0] <= area[0] + EPS and v[1] <= area[1] + EPS]
    return (fits or list(box.ways))[which]
