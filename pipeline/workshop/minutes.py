"""How long the machine works: a first estimate from lengths, areas, passes and the shop's rates.

Only moves that cut are counted, besides set-ups and tool changes; rapids and acceleration are not.
Formulas: trade notes 9.2 (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from pipeline.core.shop import Cutter, Shop
from pipeline.steps.values import Derived, Label, Nest, Op, SetUp
from pipeline.workshop.cutters import CUTS, cutter_for, depth_of, enclosed, shop_named
from pipeline.workshop.layout import nest_set_up

STEP_OVER = 0.4
"""Distance of two neighbouring ways in a pocket, as a share of the cutter's diameter."""
PLUNGE = 0.3
"""Feed straight down, as a share of the cutting feed (common practice, no source)."""
THROUGH_MM = 0.4
"""How far a through cut goes into the table."""
STROKES = 3.0
"""Length of an engraved letter's strokes, as a multiple of its height (measured on plain capitals)."""


def passes(depth_mm: float, cutter: Cutter, shop: Shop) -> int:
    """How many passes a depth takes: of the shop's pass depth, else of the cutter's diameter."""
    return max(1, math.ceil(depth_mm / (shop.rates.pass_depth or cutter.DC) - 1e-9))


def pocket_path(area_mm2: float, perimeter_mm: float, count: int, diameter_mm: float) -> float:
    """Length in mm: the area in ways of STEP_OVER · D, ``count`` times, and the wall once to finish."""
    return count * area_mm2 / (STEP_OVER * diameter_mm) + perimeter_mm


def op_minutes(op: Op, shop: Shop, thickness_mm: float) -> float:
    """Minutes that one operation cuts; 0 for what is only drawn."""
    if op.work not in CUTS:
        return 0.0
    length = sum(c.length for c in op.contours)
    feed = shop.rates.feed
    if shop.process == "laser":
        return length / feed + len(op.contours) * shop.rates.pierce
    cutter = cutter_for(op, shop, thickness_mm) or shop.profile_cutter
    depth = depth_of(op, thickness_mm)
    if op.through or op.work in ("CUT_INSIDE", "CUT_OUTSIDE"):
        depth += THROUGH_MM
    count = passes(depth, cutter, shop)
    down = len(op.contours) * depth / (PLUNGE * feed)
    if op.work == "DRILL":
        round_ = math.pi * max(0.0, (op.diameter_mm or 0.0) - cutter.DC) * len(op.contours)
        return 2 * down + count * round_ / feed
    if op.work in ("POCKET", "RAMP"):
        return pocket_path(enclosed(op.contours).area, length, count, cutter.DC) / feed + down
    return count * length / feed + down


def label_minutes(labels: tuple[Label, ...], shop: Shop) -> float:
    """Minutes for engraved text."""
    strokes = sum(STROKES * x.height_mm * len(x.text.replace(" ", "")) for x in labels if x.engrave)
    return strokes / shop.rates.feed


def set_up_minutes(set_up: SetUp, shop: Shop, thickness_mm: float) -> float:
    """Minutes of cutting in one set-up of one copy."""
    return sum(op_minutes(op, shop, thickness_mm) for op in set_up.ops) + label_minutes(set_up.labels, shop)


def tools(set_up: SetUp, shop: Shop, thickness_mm: float) -> frozenset[tuple[str, float]]:
    """The cutters that a set-up needs, by (kind, diameter); none for a laser."""
    found = (cutter_for(op, shop, thickness_mm) for op in set_up.ops)
    return frozenset((c.kind, c.DC) for c in found if c)


def machine_minutes(derived: Derived, nests: tuple[Nest, ...]) -> Mapping[str, float]:
    """Minutes by shop for the whole order, in the order of the recipe's shops.

    A sheet is clamped once, whatever lies on it; every other set-up of a piece, and every set-up of
    a blank, once a copy. In each, a tool change for each cutter.
    """
    pieces = {p.name: p for p in derived.pieces}
    spent = {shop.name: 0.0 for shop in derived.recipe.shops.values()}
    once: dict[str, tuple[float, frozenset[tuple[str, float]], float]] = {}
    for name, piece in pieces.items():
        shop, first = shop_named(derived.recipe, piece.shop), nest_set_up(piece)
        rest = sum(_clamped(s, shop, piece.thickness_mm) for s in piece.set_ups if s is not first)
        once[name] = (
            set_up_minutes(first, shop, piece.thickness_mm),
            tools(first, shop, piece.thickness_mm),
            rest,
        )
    for nest in nests:
        rates = shop_named(derived.recipe, nest.shop).rates
        changes = frozenset().union(*(once[p.piece][1] for p in nest.placements))
        spent[nest.shop] += rates.set_up + rates.tool_change * len(changes)
        spent[nest.shop] += sum(once[p.piece][0] + once[p.piece][2] for p in nest.placements)
    for blank in derived.blanks:
        shop = shop_named(derived.recipe, blank.shop)
        spent[blank.shop] += blank.count * sum(_clamped(s, shop, blank.thickness_mm) for s in blank.set_ups)
    return {name: minutes for name, minutes in spent.items() if minutes}


def _clamped(set_up: SetUp, shop: Shop, thickness_mm: float) -> float:
    changes = len(tools(set_up, shop, thickness_mm)) * shop.rates.tool_change
    return shop.rates.set_up + changes + set_up_minutes(set_up, shop, thickness_mm)
