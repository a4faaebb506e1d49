"""A better layout on request: our own search for as long as is allowed, and a packing library on top of it.

What is found is measured exactly and only kept where it saves a sheet or length. It depends on the time and the
machine, so it is stored (`intake/layouts.py`) and becomes an input of every later build.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from pipeline.core.recipe import StoredSheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Piece, Placement
from pipeline.workshop import strip
from pipeline.workshop.clusters import Cluster, clusters, placements_of
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.exact import Lying, clear, ground, least_gap
from pipeline.workshop.kept_layout import Sheetful, checked, kept_key
from pipeline.workshop.layout import letters_for
from pipeline.workshop.nest import built_in, fits, jobs, sheetfuls
from pipeline.workshop.nest_parts import corner
from pipeline.workshop.search import Job, Layout, Work
from pipeline.workshop.varying import best_layouts, varied

OWN_SHARE = 0.4
"""Of the time, where the library is there; else all of it."""
ROUND_S = 4.0
"""Our own search begins anew with other chances after so long."""
GAIN_MM = 0.05
SLACK_MM = 0.002
"""The library reckons in single precision: its strip is made that much narrower."""
FULL = 0.93
"""Parts that would fill more of a sheet than this are not tried on one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Improved:
    """What came of one stock: ``before`` and ``after`` are (whole sheets, length in mm)."""

    key: str
    sheet: str
    before: tuple[int, float]
    after: tuple[int, float]
    sheets: tuple[StoredSheet, ...]


def improved(
    derived: Derived, seconds: float, tell: Callable[[str], None] | None = None
) -> Mapping[str, Improved]:
    """For each stock with parts that can be laid out better or worse, the best that was found, by its key.

    ``seconds`` is for all of them together; ``tell`` hears what is being done.
    """
    recipe = derived.recipe
    lying = Lying(recipe, derived.pieces)
    groups: list[tuple[Shop, list[Piece]]] = []
    for shop_name, sheet in sorted({(p.shop, p.sheet) for p in derived.pieces}):
        shop = shop_named(recipe, shop_name)
        mine = [p for p in derived.pieces if (p.shop, p.sheet) == (shop_name, sheet)]
        mine = [p for p in mine if fits(recipe, p, shop, lying)]
        if sum(p.count for p in mine) > 1:
            groups.append((shop, mine))
    parts = sum(p.count for _, mine in groups for p in mine)
    found: dict[str, Improved] = {}
    for shop, mine in groups:
        share = seconds * sum(p.count for p in mine) / parts
        if tell:
            tell(f"looking for a better layout of {mine[0].sheet} for {share:.0f} s")
        one = _of_stock(derived, shop, mine, lying, share)
        found[one.key] = one
    return found


def _of_stock(derived: Derived, shop: Shop, pieces: list[Piece], lying: Lying, seconds: float) -> Improved:
    recipe, sheet = derived.recipe, pieces[0].sheet
    key = kept_key(recipe, shop.name, sheet)
    stored = recipe.layouts.get(key, ())
    before, wrong = checked(recipe, shop, pieces, stored, lying) if stored else ((), "none")
    if wrong:
        before = built_in(recipe, shop, pieces, lying)
    end = time.monotonic() + seconds
    table = _Table(derived, shop, pieces, lying)
    best = before
    with_library = strip.available()
    own_end = end - (seconds * (1 - OWN_SHARE) if with_library else 0.0)
    for layout in table.searched(own_end):
        best = table.better(best, layout)
    if with_library:
        for layout in table.by_library(best, end):
            best = table.better(best, layout)
    return Improved(
        key=key,
        sheet=sheet,
        before=table.measure(before),
        after=table.measure(best),
        sheets=tuple(_stored(s) for s in best),
    )


def _stored(s: Sheetful) -> StoredSheet:
    rows = tuple((p.piece, p.copy, p.turn_deg, p.dx, p.dy) for p in s.placements)
    return StoredSheet(letter=s.letter, number=s.number, rows=rows)


class _Table:
    """The parts of one stock and what can be done with them."""

    def __init__(self, derived: Derived, shop: Shop, pieces: Sequence[Piece], lying: Lying) -> None:
        self.recipe, self.shop, self.pieces, self.lying = derived.recipe, shop, pieces, lying
        self.stock = self.recipe.sheets[pieces[0].sheet]
        self.parts, self.rooms = jobs(self.recipe, shop, pieces, lying)

    # -- measuring -----------------------------------------------------------------------------------
    def measure(self, sheets: Sequence[Sheetful]) -> tuple[int, float]:
        """(whole sheets, length of all sheets together in mm)."""
        ends = [max(self.lying.placed(p).bounds[2] for p in s.placements) for s in sheets]
        return sum(not self.stock.single(s.letter) for s in sheets), round(sum(ends), 3)

    def better(self, best: tuple[Sheetful, ...], other: tuple[Sheetful, ...]) -> tuple[Sheetful, ...]:
        """The other one where it holds, has as many parts, and saves a sheet or length."""
        count = sum(len(s.placements) for s in best)
        if sum(len(s.placements) for s in other) < count:
            return best
        (n, length), (m, shorter) = self.measure(best), self.measure(other)
        if (m, shorter) >= (n, length - GAIN_MM):
            return best
        holds = not checked(self.recipe, self.shop, self.pieces, [_stored(s) for s in other], self.lying)[1]
        return other if holds else best

    # -- our own search ------------------------------------------------------------------------------
    def searched(self, end: float) -> Iterator[tuple[Sheetful, ...]]:
        """Our own search, from the best orders and with new chances, until the time is over."""
        job = Job(self.parts, self.rooms, Work(float("inf")))
        starts = best_layouts(job)
        yield self._sheets(starts[0].layout)
        seed = 0
        while time.monotonic() < end and len(self.parts) > 2:
            seed += 1
            start = starts[seed % len(starts)]
            stop = min(end, time.monotonic() + ROUND_S)
            found = varied(job, start.order, start.layout, seed, partial(_before, stop))
            starts.append(found)
            starts.sort(key=lambda f: f.rank)
            del starts[8:]
            yield self._sheets(found.layout)

    def _sheets(self, layout: Layout) -> tuple[Sheetful, ...]:
        return sheetfuls(self.recipe, self.shop, self.pieces[0].sheet, self.parts, layout)

    # -- the library ---------------------------------------------------------------------------------
    def by_library(self, best: tuple[Sheetful, ...], end: float) -> Iterator[tuple[Sheetful, ...]]:
        """Two sheets in one where that may go, then each sheet alone, the fullest last."""
        now = best
        for a, b in self._pairs(now):
            left = (end - time.monotonic()) / 2
            if left < strip.LEAST_S:
                return
            merged = self._strip((*a.placements, *b.placements), a, left)
            if merged is not None:
                now = tuple(merged if s is a else s for s in now if s is not b)
                yield now
        todo = [s for s in now if len(s.placements) > 1 and self._plain(s)]
        for n, s in enumerate(todo):
            left = (end - time.monotonic()) / (len(todo) - n)
            if left < strip.LEAST_S:
                return
            made = self._strip(s.placements, s, left)
            if made is not None:
                now = tuple(made if o is s else o for o in now)
                yield now

    def _pairs(self, sheets: Sequence[Sheetful]) -> Iterator[tuple[Sheetful, Sheetful]]:
        """Sheets whose parts may all lie on the first and don't overfill it; the last is given up first."""
        letters = {p.name: letters_for(self.recipe, p) for p in self.pieces}
        area = {p.name: p.cut.area for p in self.pieces}
        plain = [s for s in sheets if self._plain(s)]
        for b in reversed(plain):
            for a in plain:
                if a is b or any(a.letter not in letters[p.piece] for p in b.placements):
                    continue
                room = next(r for r in self.rooms if r.letter == a.letter)
                if sum(area[p.piece] for p in (*a.placements, *b.placements)) < FULL * room.size[0] * room.size[1]:
                    yield a, b
                    break

    def _plain(self, s: Sheetful) -> bool:
        """The library takes a rectangle without anything in it."""
        offcut = self.stock.offcuts.get(s.letter) if s.number == 1 else None
        return offcut is None or (not offcut.corners and not offcut.keep_out)

    def _strip(self, parts: Sequence[Placement], on: Sheetful, seconds: float) -> Sheetful | None:
        """Parts packed anew on one sheet, those in openings with what they lie in; None where they don't fit."""
        gap = least_gap(self.stock, self.shop)
        found = clusters(self.recipe, self.pieces, parts, self.lying, gap)
        if found is None:
            return None
        room = next(r for r in self.rooms if r.letter == on.letter)
        shapes = [strip.Shape(outline=c.outline, turns=c.turns) for c in found]
        made = strip.packed(shapes, room.size[1] - SLACK_MM, seconds)
        zero = corner(self.stock, self.shop) + SLACK_MM / 2
        placements = tuple(p for m in made for p in _lying(found[m.shape], m, zero))
        shapes_there = [self.lying.placed(p) for p in placements]
        border = self.shop.sheet_border
        wrong = clear(shapes_there, ground(self.stock, on.letter, on.number)).wrong(gap, border)
        return None if wrong else Sheetful(letter=on.letter, number=on.number, placements=placements)


def _before(stop: float, best: Layout) -> bool:
    return time.monotonic() < stop


def _lying(cluster: Cluster, m: strip.Packed, zero: float) -> Iterator[Placement]:
    yield from placements_of(cluster, m.turn_deg, m.dx + zero, m.dy + zero)
