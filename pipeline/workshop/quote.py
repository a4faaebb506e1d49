"""What an order costs, line by line, and what one object costs at other quantities (trade notes 9.3).

unit(q) = (F + Σ sheets(q) · price · (1 + scrap) + q · (minutes/60 · rate + hardware + supplies)) / q, with
F = programming + set-ups + first article + what is made once (templates, gauges). Every line is rounded to
hundredths, so that what is printed adds up. What has no price is listed without one and named, never counted as 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from pipeline.core.recipe import Recipe
from pipeline.steps.values import Derived, Nest, Piece
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.quote_told import assumed
from pipeline.workshop.sheet_counts import Stock, stocks
from pipeline.workshop.shop_time import EACH, Load, Worked, loads, scaled, shop_times, things, worked
from pipeline.workshop.supplies import supplies

SCRAP = {"router": 5.0, "laser": 3.0}
"""Sheet lost besides, in %, by process (trade notes 9.3: common practice)."""
SCRAP_BENT = 20.0
"""The same for laminations that are bent: 15 to 25 %."""

Kind = Literal["once", "sheet", "scrap", "machine", "bought", "supply", "hand"]
KINDS: tuple[Kind, ...] = ("once", "sheet", "scrap", "machine", "bought", "supply", "hand")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of money. ``amount`` in ``unit``; ``steps`` it is drawn from; ``note`` says what was assumed.
    ``called`` is what it is priced as, where that is not its name."""

    kind: Kind
    name: str
    amount: float
    unit: str
    price: float | None
    steps: tuple[str, ...] = ()
    shop: str = ""
    stock: str = ""
    note: str = ""
    called: str = ""

    @property
    def cost(self) -> float | None:
        """Amount times price in hundredths, rounded half up; None where there is no price."""
        return None if self.price is None else hundredths(self.amount * self.price)


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """One quantity: the cost of each kind of line (None: nothing priced), of all, of one, of one with tax."""

    objects: int
    sheets: dict[str, int]
    costs: dict[Kind, float | None]
    total: float | None
    unit: float | None
    with_tax: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What the lines are counted from: set-ups and sheets of the order as nested, and every operation."""

    loads: tuple[Load, ...]
    stocks: tuple[Stock, ...]
    runs: tuple[Worked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """The order's lines and total, the breaks, the names without a price, and what was assumed, in sentences."""

    currency: str
    lines: tuple[Line, ...]
    total: float | None
    tax: float | None
    with_tax: float | None
    breaks: tuple[Break, ...]
    unpriced: tuple[str, ...]
    assumed: tuple[str, ...]
    work: Work


def hundredths(value: float) -> float:
    """Rounded half up to hundredths."""
    return math.floor(value * 100 + 0.5 + 1e-9) / 100


def quote(derived: Derived, nests: Sequence[Nest]) -> Quote:
    """The whole quote of an order as it is nested."""
    recipe = derived.recipe
    work = Work(loads=loads(derived, nests), stocks=stocks(derived, nests), runs=worked(derived))
    mine = lines(derived, recipe.make, work)
    total, tax = total_of(mine), recipe.quote.tax
    return Quote(
        currency=recipe.quote.currency,
        lines=mine,
        total=total,
        tax=None if total is None or tax is None else hundredths(total * tax / 100),
        with_tax=_with_tax(total, tax),
        breaks=tuple(_break(derived, q, work) for q in sorted(set(recipe.quote.breaks))),
        unpriced=tuple(dict.fromkeys(line.called or line.name for line in mine if line.price is None)),
        assumed=assumed(recipe, work.loads, work.stocks),
        work=work,
    )


def total_of(mine: Sequence[Line]) -> float | None:
    """The sum of all costs; None where nothing has a price."""
    costs = [c for line in mine if (c := line.cost) is not None]
    return hundredths(sum(costs)) if costs else None


def _with_tax(total: float | None, tax: float | None) -> float | None:
    return None if total is None or tax is None else hundredths(total + hundredths(total * tax / 100))


def _break(derived: Derived, objects: int, work: Work) -> Break:
    mine = lines(derived, objects, work)
    total = total_of(mine)
    unit = None if total is None else hundredths(total / objects)
    return Break(
        objects=objects,
        sheets={s.name: s.count(objects, derived.recipe.make) for s in work.stocks},
        costs={k: total_of([x for x in mine if x.kind == k]) for k in KINDS},
        total=total,
        unit=unit,
        with_tax=_with_tax(unit, derived.recipe.quote.tax),
    )


def lines(derived: Derived, objects: int, work: Work) -> tuple[Line, ...]:
    """All lines for so many objects, in the order of KINDS."""
    made = derived.recipe.make
    counts = {(s.shop, s.name): s.count(objects, made) for s in work.stocks}
    sized = [scaled(x, objects / made, counts.get((x.shop, x.stock), 0)) for x in work.loads]
    mine = [
        *_machine(derived, sized),
        *_sheets(derived, counts),
        *_bought(derived.recipe, objects),
        *(
            Line(
                kind="supply",
                name=u.name,
                amount=u.amount,
                unit=u.unit,
                price=u.price,
                steps=u.steps,
                note=u.note,
                called=u.called,
            )
            for u in supplies(derived, objects, work.stocks, work.runs)
        ),
        *_hand(derived.recipe, objects),
    ]
    return tuple(sorted(mine, key=lambda x: KINDS.index(x.kind)))


def _machine(derived: Derived, sized: Sequence[Load]) -> list[Line]:
    """Each shop's time: what is done once for the order, and what every object takes."""
    found = []
    for name, t in shop_times(derived, sized).items():
        rates = shop_named(derived.recipe, name).rates
        price = rates.hour or None
        mine = [x for x in things(derived) if x.shop == name]
        jigs = tuple(dict.fromkeys(x.step for x in mine if isinstance(x, Piece) and x.role not in EACH))
        steps = tuple(dict.fromkeys(x.step for x in mine))
        once = (
            ("programming", rates.programming, steps, "once for the job"),
            ("set-ups", t.set_up, steps, f"{t.set_ups} of {rates.set_up:g} min each"),
            ("first article", rates.first, steps, "gauged before the others are cut"),
            ("templates and gauges", t.once, jigs, "cut once for all objects"),
        )
        found += [
            Line(
                kind="once",
                name=f"{what}, {name}",
                called=f"hours of {name}",
                amount=minutes / 60,
                unit="h",
                price=price,
                steps=whose,
                shop=name,
                note=note,
            )
            for what, minutes, whose, note in once
            if minutes
        ]
        again = t.clampings - t.set_ups
        note = f"cutting {t.running - again * rates.load_minutes - t.tool_changes * rates.tool_change:.1f} min"
        note += f", {again} further clampings of {rates.load_minutes:g} min" if again else ""
        note += f", {t.tool_changes} tool changes of {rates.tool_change:g} min" if t.tool_changes else ""
        if t.running:
            found.append(
                Line(
                    kind="machine",
                    name=f"machine time, {name}",
                    called=f"hours of {name}",
                    amount=t.running / 60,
                    unit="h",
                    price=price,
                    steps=tuple(s for s in steps if s not in jigs),
                    shop=name,
                    note=note,
                )
            )
    return found


def _sheets(derived: Derived, counts: dict[tuple[str, str], int]) -> list[Line]:
    """Whole sheets, and what is lost of them besides."""
    recipe = derived.recipe
    found = []
    for (shop, name), count in counts.items():
        stock = recipe.sheets[name]
        pieces = [p for p in derived.pieces if (p.shop, p.sheet) == (shop, name)]
        steps = tuple(dict.fromkeys(p.step for p in pieces))
        size = " × ".join(f"{v:g}" for v in stock.size)
        words = f"{stock.material}, " if stock.material else ""
        found.append(
            Line(
                kind="sheet",
                name=name,
                amount=float(count),
                unit="sheet",
                price=stock.price,
                steps=steps,
                shop=shop,
                stock=name,
                note=f"{words}{size} mm, whole sheets",
            )
        )
        lost, why = scrap(recipe, shop, [recipe.steps[s].kind for s in steps if s in recipe.steps])
        if lost:
            found.append(
                Line(
                    kind="scrap",
                    name=f"scrap of {name}",
                    called=name,
                    amount=count * lost / 100,
                    unit="sheet",
                    price=stock.price,
                    steps=steps,
                    shop=shop,
                    stock=name,
                    note=f"{lost:g} %, {why}",
                )
            )
    return found


def scrap(recipe: Recipe, shop: str, kinds: Sequence[str]) -> tuple[float, str]:
    """(% of a stock that is lost besides, why so much)."""
    if recipe.quote.scrap is not None:
        return recipe.quote.scrap, "as the recipe says"
    if "mould" in kinds:
        return SCRAP_BENT, "usual for bent laminations"
    process = shop_named(recipe, shop).process
    return SCRAP[process], f"usual for a {process}"


def _bought(recipe: Recipe, objects: int) -> list[Line]:
    return [
        Line(kind="bought", name=name, amount=float(part.count * objects), unit="piece", price=part.price)
        for name, part in recipe.hardware.items()
    ]


def _hand(recipe: Recipe, objects: int) -> list[Line]:
    hand = recipe.quote.hand
    if not hand.minutes:
        return []
    note = f"{hand.minutes:g} min for each object, as the recipe says"
    return [
        Line(
            kind="hand",
            name="work by hand",
            amount=objects * hand.minutes / 60,
            unit="h",
            price=hand.hour,
            note=note,
        )
    ]
