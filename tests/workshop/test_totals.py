"""Mass, centre, sheets, cost, minutes, parts list: against closed forms and the trade notes' numbers."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.core.recipe import HardwarePart, Sheet
from pipeline.core.shop import Cutter, Rates, Shop
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps.values import Derived, Op, SetUp
from pipeline.workshop.cutters import cutter_for, cutter_name, residue
from pipeline.workshop.mass import composite, mass_and_centre, unknown
from pipeline.workshop.minutes import op_minutes, passes, pocket_path
from pipeline.workshop.nest import nests
from pipeline.workshop.parts import COLUMNS, part_rows
from pipeline.workshop.shop_time import machine_minutes
from pipeline.workshop.totals import totals
from tests.workshop.factory import BODY_W, LASER, ROUTER, body_w, body_w_measures, of_pieces, piece, ring

END8 = Cutter(DC=8.0, APMX=30.0, LU=40.0, DMM=8.0)
ONE_EIGHT = Shop(cutters=(END8,), rates=Rates(hour=60.0, feed=2500.0, pass_depth=4.0))


def op(work: str, shape: Region, **more: object) -> Op:
    return Op(work=work, face="front", contours=shape.contours, **more)  # type: ignore[arg-type]  # short calls


# -- mass ------------------------------------------------------------------------------------------
def test_body_w_is_what_the_trade_notes_say():
    """Area 55 883.61, perimeter 885.398, centroid x 48.352 (trade notes, body W; 10.1), y 0."""
    area, perimeter, x = body_w_measures()
    assert (round(area, 2), round(perimeter, 3), round(x, 3)) == (55883.61, 885.398, 48.352)
    assert BODY_W.area == pytest.approx(area, rel=1e-12)
    assert BODY_W.perimeter == pytest.approx(perimeter, rel=1e-12)
    assert BODY_W.centroid == (pytest.approx(x, rel=1e-12), pytest.approx(0.0, abs=1e-9))
    assert [len(c) for c in BODY_W.contours] == [4]
    assert sum(bool(b) for b in BODY_W.parts[0].outer.bulges) == 2


def test_composite_centre():
    """Outside checks M4: a body less a pocket plus a neck; holes count as negative mass."""
    body = 330 * 440 * 45 * 650e-9, (165.0, 220.0, 22.5)
    pocket = -60 * 90 * 40 * 650e-9, (165.0, 400.0, 25.0)
    neck = 0.56, (165.0, 720.0, 50.0)
    assert body[0] + pocket[0] + neck[0] == pytest.approx(4.6667, abs=5e-5)
    x, y, z = composite([body, pocket, neck])
    assert x == pytest.approx(165.0, abs=1e-9)
    assert y == pytest.approx(274.584182, abs=5e-7)
    assert z == pytest.approx(25.724763, abs=5e-7)


def test_masses_without_sum_have_no_centre():
    with pytest.raises(ValueError, match="no centre"):
        composite([(1.0, (0.0, 0.0, 0.0)), (-1.0, (1.0, 0.0, 0.0))])


def lone_panel(**more: object) -> Derived:
    hardware = {"bridge": HardwarePart(mass=140.0, at=(0.0, 0.0, 42.0)), "tuner": HardwarePart(count=4, mass=32.0)}
    panel = piece("body", BODY_W, thickness_mm=36.0, mass_g=BODY_W.area * 36.0 * 680e-6)
    return of_pieces(panel, **({"hardware": hardware} | more))


def test_a_panel_and_hardware():
    """Steiner by hand: panel at half its thickness, bridge where it sits, tuners by the recipe's place."""
    area, _, x = body_w_measures()
    panel = area * 36.0 * 680e-6
    hardware = {
        "bridge": HardwarePart(mass=140.0, at=(0.0, 0.0, 42.0)),
        "tuner": HardwarePart(count=4, mass=32.0, at=(560.0, 0.0, 20.0)),
    }
    mass, centre = mass_and_centre(lone_panel(hardware=hardware))
    assert mass == pytest.approx(panel + 140 + 128, rel=1e-9)
    assert centre is not None
    assert centre[0] == pytest.approx((panel * x + 128 * 560) / (panel + 268), rel=1e-9)
    assert centre[2] == pytest.approx((panel * 18 + 140 * 42 + 128 * 20) / (panel + 268), rel=1e-9)


def test_what_has_no_place_takes_the_centre_away_and_is_told():
    mass, centre = mass_and_centre(lone_panel())
    assert mass is not None
    assert centre is None
    assert unknown(lone_panel()) == (
        "tuner has a mass but no place, so the centre of mass can't be told. Say where it lies: `at:` in "
        "`hardware`.",
    )


def test_an_unknown_density_takes_the_mass_away():
    design = of_pieces(piece("body", BODY_W))
    assert mass_and_centre(design) == (None, None)
    assert unknown(design) == ("The mass of body is not known: its sheet has no density.",)


def test_templates_and_laminations_are_no_part_of_the_object():
    """The blank's 1266 and the cover's 9.5 (as the factory has them), of one object whatever is made."""
    for make in (1, 3):
        assert totals(body_w(make=make), ())["mass_g"] == 1275.5


def test_the_cover_sits_in_the_back():
    """Cover 9.5 g, centred on (−30, −45), 3.1 thick, in the back face: z 1.55."""
    _, centre = mass_and_centre(body_w())
    assert centre is not None
    assert centre[2] == pytest.approx((1266 * 18.0 + 9.5 * 1.55) / 1275.5, rel=1e-12)
    assert centre[0] == pytest.approx((1266 * 49.87 - 9.5 * 30) / 1275.5, rel=1e-12)


# -- cutters ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("radius", [1.5, 3.0, 6.35])
def test_a_square_corner_leaves_its_residue(radius: float):
    """(1 − π/4) r² in each square corner (trade notes 3.1), four of them."""
    left = residue(shapely.box(0, 0, 60, 40), radius, outside=False)
    assert left == pytest.approx(4 * (1 - math.pi / 4) * radius**2, rel=2e-3)
    assert residue(shapely.box(0, 0, 60, 40), radius, outside=True) < 1e-3


@pytest.mark.parametrize(
    ("corner", "cutter"), [(8.0, 8.0), (4.0, 8.0), (3.9, 6.0), (3.0, 6.0), (2.9, 3.0), (0.0, 3.0)]
)
def test_the_largest_cutter_that_makes_the_corner(corner: float, cutter: float):
    """The built-in shop has 3, 6 and 8; a corner of radius r takes cutters up to 2 r, a square one none."""
    found = cutter_for(op("POCKET", solid(rectangle(60.0, 40.0, corner)), depth_mm=5.0), Shop(), 12.0)
    assert found is not None
    assert cutter == found.DC


def test_a_cutter_has_to_reach_the_floor():
    """LU 18, 30, 40 of the built-in cutters."""
    deep = op("POCKET", solid(rectangle(60.0, 40.0, 2.0)), depth_mm=25.0)
    found = cutter_for(deep, Shop(), 30.0)
    assert found is not None
    assert found.DC == 6.0


def test_an_inlet_limits_the_cutter_from_outside():
    """A notch 7 wide with a round bottom: 6 goes in, 8 doesn't."""
    notched = region([*solid(rectangle(100.0, 60.0)).parts])
    slot = solid(
        line_chain(
            [(-50, -30), (50, -30), (50, 30), (3.5, 30)]
            + [(3.5 * math.cos(a), 10 + 3.5 * math.sin(a)) for a in (-k * math.pi / 200 for k in range(201))]
            + [(-3.5, 30), (-50, 30)]
        )
    )
    assert cutter_for(op("CUT_OUTSIDE", notched), Shop(), 6.0) == Shop().cutters[2]
    assert cutter_for(op("CUT_OUTSIDE", slot), Shop(), 6.0) == Shop().cutters[1]


def test_holes_take_a_drill_else_the_next_smaller_cutter():
    drill = Cutter(DC=5.0, APMX=50.0, LU=55.0, DMM=5.0, kind="drill")
    shop = Shop(cutters=(*Shop().cutters, drill))
    hole = op("DRILL", disc(0, 0, 2.5), diameter_mm=5.0, depth_mm=20.0)
    assert cutter_name(hole, shop, cutter_for(hole, shop, 30.0)) == "drill 5"
    wide = op("DRILL", disc(0, 0, 3.5), diameter_mm=7.0, depth_mm=20.0)
    assert cutter_name(wide, shop, cutter_for(wide, shop, 30.0)) == "cutter 6"
    tiny = op("DRILL", disc(0, 0, 1.0), diameter_mm=2.0, depth_mm=5.0)
    assert cutter_name(tiny, shop, cutter_for(tiny, shop, 12.0)) == "drill 2 (not on the shop's list)"


def test_a_laser_has_a_beam():
    cut = op("CUT_OUTSIDE", disc(0, 0, 20.0))
    assert cutter_for(cut, LASER, 3.0) is None
    assert cutter_name(cut, LASER, None) == "beam"
    assert cutter_name(op("REFERENCE", disc(0, 0, 20.0)), LASER, None) == ""


# -- minutes ---------------------------------------------------------------------------------------
def test_the_pocket_of_the_trade_notes():
    """9.2: pocket 62 × 42.2 × 16, D 8, ae 3.2, ap 4: 4 passes, 3478.9 mm, 1.39 min at 2500 mm/min."""
    assert passes(16.0, END8, ONE_EIGHT) == 4
    path = pocket_path(62 * 42.2, 2 * (62 + 42.2), 4, 8.0)
    assert round(path, 1) == 3478.9
    assert round(path / 2500, 2) == 1.39
    pocket = op("POCKET", solid(rectangle(62.0, 42.2)), depth_mm=16.0)
    straight_down = 16.0 / (0.3 * 2500)
    assert op_minutes(pocket, ONE_EIGHT, 36.0) == pytest.approx(path / 2500 + straight_down, rel=1e-5)


def test_islands_are_not_cleared():
    with_island = op("POCKET", ring(30.0, 10.0), depth_mm=4.0)
    area, walls = math.pi * (900 - 100), 2 * math.pi * 40
    expected = (area / 3.2 + walls) / 2500 + 2 * 4.0 / (0.3 * 2500)
    assert op_minutes(with_island, ONE_EIGHT, 12.0) == pytest.approx(expected, rel=1e-3)


def test_a_profile_goes_round_once_a_pass():
    """12 mm and 0.4 into the table, 4 a pass: four times round 2π 50."""
    cut = op("CUT_OUTSIDE", disc(0, 0, 50.0))
    expected = 4 * 2 * math.pi * 50 / 2500 + 12.4 / (0.3 * 2500)
    assert op_minutes(cut, ONE_EIGHT, 12.0) == pytest.approx(expected, rel=1e-9)


def test_a_laser_runs_once_and_pierces():
    """Two circles 40 apart: once round each at 1200, two pierces, 40 mm between them at 10 000."""
    cut = op("CUT_INSIDE", region([*disc(0, 0, 10.0), *disc(40, 0, 10.0)]))
    expected = 4 * math.pi * 10 / 1200 + 2 * 0.01 + 40 / 10000
    assert op_minutes(cut, LASER, 3.0) == pytest.approx(expected, rel=1e-9)


def test_what_is_only_drawn_takes_no_time():
    assert op_minutes(op("REFERENCE", disc(0, 0, 10.0)), ROUTER, 12.0) == 0.0


def test_a_sheet_is_clamped_once_and_a_second_face_once_a_copy():
    """Set-up 20 and one cutter 3: a sheet of three discs 23; a second face of two copies 23, then 10 (half a
    set-up, for it is the same one again) and 3."""
    cut = op("CUT_OUTSIDE", disc(0, 0, 50.0))
    once = op_minutes(cut, ONE_EIGHT, 12.0)
    shops = {"router": ONE_EIGHT}
    three = of_pieces(piece("disc", disc(0, 0, 50.0), count=3, thickness_mm=12.0), shops=shops)
    assert machine_minutes(three, nests(three)[0]) == {"router": pytest.approx(23 + 3 * once, rel=1e-9)}
    pocket = Op(work="POCKET", face="back", contours=(circle(0, 0, 20.0),), depth_mm=4.0)
    more = op_minutes(pocket, ONE_EIGHT, 12.0)
    front = piece("disc", disc(0, 0, 50.0)).set_ups[0]
    two = piece(
        "disc", disc(0, 0, 50.0), count=2, thickness_mm=12.0, set_ups=(SetUp(face="back", ops=(pocket,)), front)
    )
    design = of_pieces(two, shops=shops)
    expected = 23 + 2 * once + (23 + more) + (10 + 3 + more)
    assert machine_minutes(design, nests(design)[0]) == {"router": pytest.approx(expected, rel=1e-9)}


# -- totals and parts ------------------------------------------------------------------------------
def test_totals_have_the_blueprint_s_keys_and_add_up():
    hardware = {"bridge": HardwarePart(mass=140.0, price=21.5), "tuner": HardwarePart(count=4, price=6.8)}
    design = body_w(make=2, hardware=hardware)
    found, _ = nests(design)
    sums = totals(design, found)
    assert list(sums) == ["mass_g", "centre_of_mass_mm", "sheets", "cost", "machine_minutes"]
    assert sums["sheets"] == {"birch12": 3, "mdf9": 1, "ply3": 1}
    spent = machine_minutes(design, found)
    assert sums["machine_minutes"] == pytest.approx(spent["router"] + spent["laser"], abs=1e-6)
    sheets = (3 * 38 + 8.4) * 1.05 + 4.2 * 1.03  # scrap of trade notes 9.3: router 5 %, laser 3 %
    bought = sheets + 2 * (21.5 + 4 * 6.8)
    # Each line is rounded to hundredths: sheets and scrap 6, bought 2, once and running of two shops 6.
    assert sums["cost"] == pytest.approx(bought + spent["router"] + spent["laser"] * 1.5, abs=14 * 0.005)


def test_nothing_priced_costs_nothing_that_can_be_told():
    """A dash, not 0.00: neither sheets nor hours have a price here."""
    design = of_pieces(
        piece("body", BODY_W), sheets={"birch12": Sheet(measured={"A": 11.8})}, shops={"router": Shop()}
    )
    assert totals(design, nests(design)[0])["cost"] is None


def test_part_rows():
    design = body_w(
        make=2, hardware={"tuner": HardwarePart(count=4, mass=32.0, price=6.8, size=(60.0, 25.0, 20.0))}
    )
    found, _ = nests(design)
    rows = part_rows(design, found)
    assert all(tuple(row) == COLUMNS for row in rows)
    assert [row["item"] for row in rows] == list(range(1, len(rows) + 1))
    assert [(row["part"], row["level"]) for row in rows[:7]] == [
        ("blank", 1), ("blank-1", 2), ("blank-2", 2), ("blank-3", 2), ("cover", 1),
        ("pickup_guide", 1), ("tuner", 1),
    ]  # fmt: skip
    blank, first, guide, tuner = rows[0], rows[1], rows[5], rows[6]
    area, _, _ = body_w_measures()
    assert (first["letter"], first["each"], first["count"], first["make_or_buy"]) == ("A", 1, 2, "make")
    assert (first["length_mm"], first["width_mm"]) == (332.0, 240.0)
    assert first["area_mm2"] == pytest.approx(area, abs=1e-3)
    assert (blank["thickness_mm"], blank["set_ups"], blank["drawn_from"]) == (35.5, 2, "blank")
    assert (guide["each"], guide["count"], guide["fits"]) == (None, 1, "pickup")
    assert (tuner["count"], tuner["cost"], tuner["make_or_buy"]) == (8, pytest.approx(54.4), "buy")


def test_the_costs_of_the_list_are_the_cost_of_the_order():
    design = body_w(make=3, hardware={"bridge": HardwarePart(price=21.55)})
    found, _ = nests(design)
    costs = [row["cost"] for row in part_rows(design, found) if row["cost"] is not None]
    assert sum(costs) == pytest.approx(totals(design, found)["cost"], abs=1e-9)


def test_what_is_cut_is_larger_than_the_design():
    """Trade notes 9.1 and the saw: a rectangle 200 × 80 with 1.5 allowance all round is cut 203 × 83."""
    board = piece("top", solid(rectangle(80.0, 200.0)), cut=solid(rectangle(83.0, 203.0)), allowance_mm=1.5)
    design = of_pieces(board)
    row = part_rows(design, nests(design)[0])[0]
    assert (row["length_mm"], row["width_mm"]) == (200.0, 80.0)
    assert (row["cut_length_mm"], row["cut_width_mm"]) == (203.0, 83.0)
    along_x = of_pieces(piece("top", solid(rectangle(80.0, 200.0)), grain="x"))
    row = part_rows(along_x, nests(along_x)[0])[0]
    assert (row["length_mm"], row["width_mm"]) == (80.0, 200.0)  # length runs along the grain


def test_the_letter_is_that_of_the_sheet_it_lies_on():
    shops = {"router": Shop(gap=8.0)}
    design = of_pieces(piece("body", BODY_W, count=12), shops=shops)
    assert part_rows(design, nests(design)[0])[0]["letter"] == "A B"
