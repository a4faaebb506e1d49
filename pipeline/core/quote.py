"""What a recipe says about money: `quote:` with the terms of a quote and the prices of what is used up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pipeline.core.fields import Count, Minutes, Money, NotNegative, field

MOST_BREAKS = 12
"""Columns of a quote that a page still holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Something that is used up: what one unit costs, and how much of it goes."""

    price: Money | None = field("price of one unit; absent: not given, the amount is listed all the same", None)
    use: NotNegative | None = field("how much of it goes, in place of the usual; 0 leaves it out", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplies:
    """What is used up. The usual amounts are common practice; the shop's and the makers' own numbers rule."""

    cutter: Supply = field("cutters: price of one; use: metres of cut that one lasts (400)", Supply())
    glue: Supply = field(
        "glue: price of a kg; use: g for each m² of joint (what the stack's `press:` says)", Supply()
    )
    abrasive: Supply = field("abrasives: price of a sheet; use: sheets for each m² of surface (6)", Supply())
    finish: Supply = field("finish: price of a litre; use: ml for each m² and coat (100)", Supply())
    coats: int = field("coats of finish on what is seen; 0: none", 0)
    tape: Supply = field("two-sided tape: price of a metre; use: m for each template and object (0.5)", Supply())
    film: Supply = field("film on sheets that a laser cuts: price of a m²; use: faces it covers (0)", Supply())
    other: Mapping[str, Supply] = field(
        "anything else by name: price of one; use: how many for each object (1)", MappingProxyType({})
    )

    def __post_init__(self) -> None:
        if not 0 <= self.coats <= 50:
            raise ValueError(f"`coats` must lie between 0 and 50; {self.coats} stands here.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """The maker's own hours."""

    hour: Money | None = field("price of an hour by hand", None)
    minutes: Minutes = field("minutes by hand for each object: fitting, carving, sanding, finish", 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """`quote:` of a recipe. Nothing of it changes a shape, so no piece goes stale by it."""

    currency: str = field("the money that all prices are in, as it shall be printed: EUR, kr", "")
    tax: NotNegative | None = field("tax to add at the end, in %; absent: none is added, and that is said", None)
    priced: str = field("the day of the prices, as it shall be printed", "")
    valid: str = field("how long the quote stands, as it shall be printed", "")
    breaks: tuple[Count, ...] = field("for how many objects it is worked out", (1, 5, 10, 25, 100))
    scrap: NotNegative | None = field(
        "sheet that is lost besides, in %, in place of the usual: router 5, laser 3, bent laminations 20 "
        "(10 is wise for a first order)",
        None,
    )
    hand: Hand = field("the maker's own work", Hand())
    supplies: Supplies = field("what is used up", Supplies())

    def __post_init__(self) -> None:
        for name, value in (("tax", self.tax), ("scrap", self.scrap)):
            if value is not None and value > 100:
                raise ValueError(f"`{name}` is in % and may be at most 100; {value:g} stands here.")
        if len(self.breaks) > MOST_BREAKS:
            raise ValueError(f"A quote holds at most {MOST_BREAKS} quantities; {len(self.breaks)} stand here.")
