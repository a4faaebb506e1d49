"""The quote: the formula of the trade notes (9.3) by hand, sheets in rows, what is used up, what has no price."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.quote import Hand, Supplies, Supply, Terms
from pipeline.core.recipe import HardwarePart, Sheet
from pipeline.core.shop import Cutter, Rates, Shop
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.values import Derived
from pipeline.workshop.minutes import set_up_minutes
from pipeline.workshop.nest import nests
from pipeline.workshop.parts import part_rows
from pipeline.workshop.quote import Line, Quote, hundredths, quote
from pipeline.workshop.rollups import rollups
from pipeline.workshop.sheet_counts import Box, in_rows, stocks
from pipeline.workshop.shop_time import machine_minutes
from tests.workshop.factory import BODY_W, body_w, of_pieces, piece

BREAKS = (1, 5, 10, 25, 100)
RATES = Rates(hour=60.0, programming=30.0, set_up=20.0, load=10.0, first=15.0, tool_change=3.0, pass_depth=4.0)
END8 = Cutter(DC=8.0, APMX=30.0, LU=40.0, DMM=8.0)
SHOP = Shop(name="router", cutters=(END8,), gap=8.0, border=12.0, rates=RATES)
PLY = Sheet(measured={"A": 12.0}, size=(1220.0, 610.0), price=38.0)


def priced(design: Derived, **terms: Any) -> Quote:
    recipe = replace(design.recipe, quote=Terms(**terms))
    design = replace(design, recipe=recipe)
    return quote(design, nests(design)[0])


def tray(make: int = 1, **more: Any) -> Derived:
    """A board of 300 × 200: three in a row of 1220, two rows of 610, six on a sheet."""
    board = piece("board", solid(rectangle(300.0, 200.0)), thickness_mm=12.0, count=make)
    return of_pieces(board, make=make, sheets={"birch12": PLY}, shops={"router": SHOP}, **more)


def by_kind(bill: Quote, kind: str) -> list[Line]:
    return [line for line in bill.lines if line.kind == kind]


# -- the formula -----------------------------------------------------------------------------------
@pytest.mark.parametrize("q", BREAKS)
def test_the_formula_of_the_trade_notes(q: int):
    """unit(q) = (F + ⌈q/6⌉ · 38 · 1.05 + q (minutes/60 · 60 + hardware)) / q; F = 30 + 20 + 15 min at 60 an hour.

    Running: q boards cut, one tool change a sheet, the second sheet and every further one loaded in 10 minutes.
    """
    hardware = {"hook": HardwarePart(count=2, price=1.25)}
    bill = priced(tray(hardware=hardware), supplies=Supplies(tape=Supply(use=0.0)))
    found = next(b for b in bill.breaks if b.objects == q)
    sheets = math.ceil(q / 6)
    # 12 mm and 0.4 into the table, 4 a pass: four times round 1000 at 2500, and straight down at 750.
    cut = 4 * 1000 / 2500 + 12.4 / 750
    running = q * cut + sheets * 3 + (sheets - 1) * 10
    whole = (30 + 20 + 15) + sheets * 38 * 1.05 + running + q * 2 * 1.25
    assert found.sheets == {"birch12": sheets}
    # Seven lines are rounded to hundredths each.
    assert found.total == pytest.approx(whole, abs=7 * 0.005)
    assert found.unit == pytest.approx(whole / q, abs=7 * 0.005 / q + 0.005)


def test_more_of_them_cost_less_each():
    units = [b.unit for b in priced(tray()).breaks]
    assert units == sorted(units, reverse=True)


def test_the_break_of_the_order_is_the_order():
    """Whatever the order's number, its break is what its lines add up to."""
    for make in (1, 5, 7):
        bill = priced(tray(make), breaks=(1, make, 50))
        assert next(b for b in bill.breaks if b.objects == make).total == bill.total
        assert sum(line.cost or 0.0 for line in bill.lines) == pytest.approx(bill.total, abs=1e-9)


def test_lines_are_rounded_half_up_so_that_they_add_up():
    assert [hundredths(v) for v in (0.125, 0.005, 1.004999, 2.675, 1e6 + 0.015)] == [
        0.13, 0.01, 1.0, 2.68, 1000000.02,
    ]  # fmt: skip


def test_templates_are_made_once():
    """A hundred bodies need no hundred templates: their minutes and sheets stand under F alone."""
    bill = priced(body_w())
    jig = next(x for x in bill.lines if x.name == "templates and gauges, router")
    assert jig.steps == ("pickup_guide",)
    one, hundred = bill.breaks[0], bill.breaks[-1]
    assert one.sheets["mdf9"] == hundred.sheets["mdf9"] == 1
    assert one.costs["once"] == hundred.costs["once"]


# -- sheets ----------------------------------------------------------------------------------------
def test_body_w_goes_six_times_on_a_sheet():
    """332 × 240 at 8 gap and 12 border on 1220 × 610: three in a row, two rows (the issue: at least six)."""
    design = of_pieces(piece("body", BODY_W), shops={"router": replace(SHOP, name="router")})
    (stock,) = stocks(design, nests(design)[0])
    assert stock.sets == 6
    assert [stock.count(q, 1) for q in (1, 6, 7, 12, 13, 100)] == [1, 1, 2, 2, 3, 17]


def test_each_lamination_takes_a_sheet_of_its_own_letter():
    """Three laminations bound to A, B, C: for six bodies one sheet of each, for seven two."""
    design = body_w()
    design = replace(design, recipe=replace(design.recipe, shops={**design.recipe.shops, "router": SHOP}))
    birch = next(s for s in stocks(design, nests(design)[0]) if s.name == "birch12")
    assert (birch.letters, birch.sets) == (("A", "B", "C"), 6)
    assert [birch.count(q, 1) for q in (1, 6, 7, 25)] == [3, 3, 6, 15]


def test_an_object_that_takes_more_than_a_sheet():
    boards = piece("board", solid(rectangle(700.0, 500.0)), count=3, thickness_mm=12.0)
    design = of_pieces(boards, sheets={"birch12": PLY}, shops={"router": SHOP})
    (stock,) = stocks(design, nests(design)[0])
    assert (stock.sheets, stock.sets) == (3, 0)
    assert stock.count(4, 1) == 12


@given(
    w=st.floats(20, 1300),
    h=st.floats(20, 700),
    count=st.integers(1, 60),
)
def test_equal_boxes_in_rows(w: float, h: float, count: int):
    """⌊W/w⌋ · ⌊H/h⌋ to a sheet lying, the same standing: no worse than the better, no better than the area."""
    area = (1204.0, 594.0)
    ways = sorted(((w, h), (h, w)), key=lambda v: v[1])
    grids = [math.floor(area[0] / a + 1e-12) * math.floor(area[1] / b + 1e-12) for a, b in ways]
    if not max(grids):
        return
    found = in_rows([Box(tuple(ways), "")] * count, area, ("A",))
    assert found <= math.ceil(count / max(grids))
    assert found >= count * w * h / (area[0] * area[1]) - 1e-9


# -- prices and terms ------------------------------------------------------------------------------
def test_what_has_no_price_is_named_and_never_nought():
    design = tray(hardware={"hook": HardwarePart(), "nut": HardwarePart(price=0.0)})
    bill = priced(design)
    hook, nut = by_kind(bill, "bought")
    assert (hook.price, hook.cost) == (None, None)
    assert (nut.price, nut.cost) == (0.0, 0.0)  # a price of 0 is one: it is there already
    assert "hook" in bill.unpriced
    assert "nut" not in bill.unpriced
    row = next(r for r in part_rows(design, nests(design)[0], bill) if r["part"] == "hook")
    assert (row["cost"], row["note"]) == (None, "no price given")


def test_without_any_price_there_is_no_total():
    shops, sheets = {"router": Shop()}, {"birch12": replace(PLY, price=None)}
    bill = priced(of_pieces(piece("board", disc(0, 0, 50.0)), sheets=sheets, shops=shops))
    assert bill.total is None
    assert {b.total for b in bill.breaks} == {None}
    assert bill.unpriced == ("hours of router", "birch12", "cutters", "abrasives")


@pytest.mark.parametrize(("tax", "with_tax"), [(None, None), (0.0, 1.0), (20.0, 1.2), (25.5, 1.255)])
def test_tax_is_added_at_the_end(tax: float | None, with_tax: float | None):
    bill = priced(tray(), tax=tax)
    assert bill.with_tax == (None if with_tax is None else pytest.approx((bill.total or 0) * with_tax, abs=0.005))
    assert any("No tax is added" in s for s in bill.assumed) == (tax is None)


def test_the_terms_are_said():
    said = " ".join(priced(tray(), currency="EUR", priced="1 March 2027", valid="30 days").assumed)
    for words in ("in EUR", "Prices of 1 March 2027", "Valid: 30 days", "Whole sheets", "6 objects go on a sheet"):
        assert words in said
    assert "No currency is named." in priced(tray()).assumed


@pytest.mark.parametrize(("scrap", "share"), [(None, 0.05), (0.0, None), (10.0, 0.1)])
def test_scrap(scrap: float | None, share: float | None):
    """5 % for a router (trade notes 9.3), or what the recipe says."""
    found = by_kind(priced(tray(), scrap=scrap), "scrap")
    assert [line.amount for line in found] == ([] if share is None else [pytest.approx(share)])


def test_bent_laminations_lose_more():
    design = tray()
    step = replace(design.recipe.steps["parts"], kind="mould")
    bent = replace(
        design, recipe=replace(design.recipe, steps={"parts": step, "board": replace(step, name="board")})
    )
    assert by_kind(priced(bent), "scrap")[0].amount == pytest.approx(0.2)


@pytest.mark.parametrize("wrong", [{"tax": 101.0}, {"scrap": 200.0}, {"breaks": tuple(range(1, 14))}])
def test_terms_that_make_no_sense_are_refused(wrong: dict[str, Any]):
    with pytest.raises(ValueError, match="at most"):
        Terms(**wrong)


# -- what is used up -------------------------------------------------------------------------------
def test_cutters_wear_by_the_metres_they_cut():
    """Four passes round 1 m: 4 m of the 400 m that one lasts (trade notes 9.3: 300 to 500); ten boards, 40 m."""
    bill = priced(tray(), supplies=Supplies(cutter=Supply(price=20.0)))
    (wear,) = (x for x in by_kind(bill, "supply") if x.called == "cutters")
    assert (wear.name, wear.unit) == ("cutter 8, router", "cutter")
    assert wear.amount == pytest.approx(4 / 400)
    assert wear.cost == 0.2
    ten = next(b for b in bill.breaks if b.objects == 10)
    assert ten.costs["supply"] == 2.0


def test_supplies_can_be_changed_and_left_out():
    some = Supplies(
        cutter=Supply(use=0.0),
        abrasive=Supply(price=0.5, use=10.0),
        finish=Supply(price=30.0, use=80.0),
        coats=2,
        other={"hook eye": Supply(price=0.4, use=3.0)},
    )
    found = {x.name: x for x in by_kind(priced(tray(), supplies=some), "supply")}
    # Both faces and the edge of 300 × 200 × 12: 0.12 + 0.012 m².
    assert list(found) == ["abrasives", "finish", "hook eye"]
    assert found["abrasives"].amount == pytest.approx(0.132 * 10)
    assert found["finish"].amount == pytest.approx(0.132 * 2 * 80 / 1000)
    assert found["hook eye"].cost == 1.2


def test_glue_follows_the_joints():
    """Two joints of body W, of which the middle lamination has an opening of 60 × 30 with round corners: 180 g/m²
    and a fifth more."""
    glue = next(x for x in by_kind(priced(body_w()), "supply") if x.called == "glue")
    hole = 60 * 30 - (4 - math.pi) * 25
    assert glue.amount == pytest.approx(2 * (55883.61 - hole) * 1e-6 * 180 * 1.2 / 1000, rel=1e-6)
    given_ = next(
        x
        for x in by_kind(priced(body_w(), supplies=Supplies(glue=Supply(use=150.0))), "supply")
        if x.called == "glue"
    )
    assert given_.amount == pytest.approx(glue.amount * 150 / 216, rel=1e-9)


def test_the_maker_s_own_hours():
    bill = priced(tray(make=3), hand=Hand(hour=30.0, minutes=90.0))
    (hand,) = by_kind(bill, "hand")
    assert (hand.amount, hand.cost) == (4.5, 135.0)
    assert any("by hand is not counted" in s for s in priced(tray()).assumed)


# -- roll-ups --------------------------------------------------------------------------------------
def test_rollups_add_up_to_the_totals():
    design = body_w(make=2, hardware={"tuner": HardwarePart(count=4, mass=32.0, price=6.8)})
    found, _ = nests(design)
    bill = quote(design, found)
    sums = rollups(design, found, bill)
    minutes = machine_minutes(design, found)
    assert {r["shop"]: r["machine_min"] for r in sums["By shop"]} == pytest.approx(dict(minutes), abs=1e-5)
    costs = [r["cost"] for name in ("By material", "By shop") for r in sums[name]]
    costs += [r["cost"] for r in sums["By assembly"] if r["cost"]]
    unlisted = sum(x.cost or 0.0 for x in bill.lines if x.kind in ("supply", "hand"))
    assert sum(costs) + unlisted == pytest.approx(bill.total, abs=1e-9)
    cut = sum(r["minutes"] for r in sums["By layer and tool"])
    assert cut == pytest.approx(sum(r["cutting_min"] for r in sums["By shop"]), abs=0.01)
    birch = next(r for r in sums["By material"] if r["material"] == "birch12")
    hole = 60 * 30 - (4 - math.pi) * 25
    assert birch["net_m2"] == pytest.approx(2 * (3 * 55883.61 - hole) * 1e-6, abs=1e-6)
    assert birch["bought_m2"] == pytest.approx(3 * 1.22 * 0.61)


def test_every_line_is_drawn_from_a_step_or_the_recipe():
    design = body_w(hardware={"tuner": HardwarePart(count=4, price=6.8)})
    found, _ = nests(design)
    for row in part_rows(design, found):
        sources = str(row["drawn_from"]).split()
        assert sources
        assert all(s in design.recipe.steps or s.startswith("hardware.") for s in sources), row


def test_minutes_of_the_list_are_those_of_its_set_ups():
    design = tray()
    row = part_rows(design, nests(design)[0])[0]
    cut = set_up_minutes(design.pieces[0].set_ups[0], SHOP, 12.0)
    assert row["minutes"] == pytest.approx(cut, abs=5e-4)
