"""What an order takes in each shop: different set-ups, clampings, tool changes, minutes; for any quantity."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.core.shop import Rates
from pipeline.steps.values import Blank, Derived, Nest, Piece, Role, SetUp
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.layout import nest_set_up
from pipeline.workshop.minutes import Run, set_up_minutes, set_up_runs, tools

EACH: tuple[Role, ...] = ("panel", "lamination", "cover")
"""Pieces that every object has; templates, gauges, ribs and coupons are made once for all of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a shop clamps again and again: sheets of a stock, a further face of a piece, a face of a blank.

    ``different`` are the set-ups that differ (a stock's letters), ``clampings`` all of them; ``cutting`` the
    minutes that grow with the objects, ``once`` those of templates and the like. ``stock`` is empty for what is
    no sheet, ``each`` tells that the clampings grow with the objects.
    """

    shop: str
    name: str
    stock: str = ""
    each: bool = True
    different: int = 1
    clampings: int
    tool_changes: int
    cutting: float = 0.0
    once: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTime:
    """What one shop does: counts, and minutes of ``set_up`` (the first of each), of the ``running`` work (further
    clampings, tool changes, cutting) and of ``once`` (templates and the like)."""

    set_ups: int
    clampings: int
    tool_changes: int
    cutting: float
    set_up: float
    running: float
    once: float

    @property
    def minutes(self) -> float:
        return self.set_up + self.running + self.once


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What is run for a piece or blank: ``each`` copies for every object, ``once`` copies for the order."""

    shop: str
    step: str
    each: float
    once: float
    run: Run


def things(derived: Derived) -> list[Piece | Blank]:
    """All pieces, then all blanks."""
    return [*derived.pieces, *derived.blanks]


def worked(derived: Derived) -> tuple[Worked, ...]:
    """Every operation of every piece and blank of the order, with its length."""
    found = []
    for thing in things(derived):
        shop = shop_named(derived.recipe, thing.shop)
        alone = isinstance(thing, Piece) and thing.role not in EACH
        each, once = (0.0, float(thing.count)) if alone else (thing.count / derived.recipe.make, 0.0)
        found += [
            Worked(shop=thing.shop, step=thing.step, each=each, once=once, run=run)
            for s in thing.set_ups
            for run in set_up_runs(s, shop, thing.thickness_mm)
        ]
    return tuple(found)


def loads(derived: Derived, nests: Sequence[Nest]) -> tuple[Load, ...]:
    """Every different set-up of the order as it is nested."""
    pieces = {p.name: p for p in derived.pieces}
    first = {n: nest_set_up(p) for n, p in pieces.items()}
    found = [
        _sheets(derived, [n for n in nests if (n.shop, n.sheet) == key], pieces, first)
        for key in dict.fromkeys((n.shop, n.sheet) for n in nests)
    ]
    laid = {q.piece for n in nests for q in n.placements}
    for piece in derived.pieces:
        if piece.name in laid:
            rest = [s for s in piece.set_ups if s is not first[piece.name]]
            found += _faces(derived, piece, rest, each=piece.role in EACH)
    for blank in derived.blanks:
        found += _faces(derived, blank, blank.set_ups, each=True)
    return tuple(found)


def _sheets(
    derived: Derived, nests: Sequence[Nest], pieces: Mapping[str, Piece], first: Mapping[str, SetUp]
) -> Load:
    """The sheets of one stock in one shop: clamped once each, whatever lies on them."""
    shop = shop_named(derived.recipe, nests[0].shop)
    spent = {
        name: set_up_minutes(first[name], shop, pieces[name].thickness_mm)
        for name in dict.fromkeys(q.piece for n in nests for q in n.placements)
    }
    needs = {name: tools(first[name], shop, pieces[name].thickness_mm) for name in spent}
    parts = [q.piece for n in nests for q in n.placements]
    return Load(
        shop=nests[0].shop,
        name=nests[0].sheet,
        stock=nests[0].sheet,
        different=len({n.letter for n in nests}),
        clampings=len(nests),
        tool_changes=sum(len(frozenset().union(*(needs[q.piece] for q in n.placements))) for n in nests),
        cutting=sum(spent[p] for p in parts if pieces[p].role in EACH),
        once=sum(spent[p] for p in parts if pieces[p].role not in EACH),
    )


def _faces(derived: Derived, thing: Piece | Blank, set_ups: Iterable[SetUp], *, each: bool) -> list[Load]:
    shop = shop_named(derived.recipe, thing.shop)
    found = []
    for s in set_ups:
        spent = thing.count * set_up_minutes(s, shop, thing.thickness_mm)
        found.append(
            Load(
                shop=thing.shop,
                name=f"{thing.name} {s.face}",
                each=each,
                clampings=thing.count,
                tool_changes=thing.count * len(tools(s, shop, thing.thickness_mm)),
                cutting=spent if each else 0.0,
                once=0.0 if each else spent,
            )
        )
    return found


def scaled(load: Load, factor: float, sheets: int) -> Load:
    """The same set-up for ``factor`` times as many objects on ``sheets`` sheets (asked of sheets alone)."""
    if load.stock:
        share = sheets / load.clampings
        return replace(
            load,
            different=min(load.different, sheets),
            clampings=sheets,
            tool_changes=round(load.tool_changes * share),
            cutting=load.cutting * factor,
        )
    if not load.each:
        return load
    return replace(
        load,
        clampings=round(load.clampings * factor),
        tool_changes=round(load.tool_changes * factor),
        cutting=load.cutting * factor,
    )


def time_of(mine: Iterable[Load], rates: Rates) -> ShopTime:
    """The time of one shop's set-ups: the first clamping of each takes ``set_up`` minutes, others ``load``."""
    all_ = tuple(mine)
    different, clampings = sum(x.different for x in all_), sum(x.clampings for x in all_)
    changes = sum(x.tool_changes for x in all_)
    cutting, once = sum(x.cutting for x in all_), sum(x.once for x in all_)
    again = (clampings - different) * rates.load_minutes + changes * rates.tool_change
    return ShopTime(
        set_ups=different,
        clampings=clampings,
        tool_changes=changes,
        cutting=cutting + once,
        set_up=different * rates.set_up,
        running=again + cutting,
        once=once,
    )


def shop_times(derived: Derived, all_loads: Sequence[Load]) -> Mapping[str, ShopTime]:
    """By shop, in the order of the recipe's shops; shops without work are left out."""
    found = {}
    for shop in derived.recipe.shops.values():
        mine = [x for x in all_loads if x.shop == shop.name]
        if mine:
            found[shop.name] = time_of(mine, shop.rates)
    return found


def machine_minutes(derived: Derived, nests: Sequence[Nest]) -> Mapping[str, float]:
    """Minutes by shop for the whole order: set-ups, tool changes, cutting."""
    return {name: t.minutes for name, t in shop_times(derived, loads(derived, nests)).items()}
