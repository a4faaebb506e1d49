"""Corners, slots and reach, against closed forms (outside_checks O1, trade.md 3.1 and 8)."""

from __future__ import annotations

import math

import pytest

from pipeline.checks.jobs import reach
from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule, disc
from tests.checks.factory import SIX, blank, box, cut, only, opening, panel, pocket, told

PLATE = box(0, 0, 300, 200, 10)


def rhombus(degrees: float, side: float = 60.0) -> Region:
    """Corners of this angle at (±x, 0), of 180° less it at (0, ±y)."""
    half = math.radians(degrees) / 2
    x, y = side * math.cos(half), side * math.sin(half)
    return solid(line_chain([(-x, 0), (0, -y), (x, 0), (0, y)]))


def test_square_corner_oracle() -> None:
    """trade.md 3.1: r 3 at 90° leaves r(√2 − 1) = 1.243 mm and (1 − π/4)r² = 1.931 mm², in each of 4 corners."""
    found = only(panel(PLATE, pocket(box(10, 5, 80, 50, 0), 6.0)), "corner-sharp")
    assert found.measured == pytest.approx(1.5 * (math.sqrt(2) - 1), abs=0.003)  # the built-in cutter of 3
    found = only(panel(PLATE, pocket(box(10, 5, 80, 50, 0), 6.0), told_shop=SIX), "corner-sharp")
    assert found.severity == "ask"
    assert found.measured == pytest.approx(1.243, abs=0.003)
    assert "1.93 mm²" in found.message
    assert found.at_mm is not None
    assert (abs(found.at_mm[0] - 10), abs(found.at_mm[1] - 5)) == pytest.approx((40, 25), abs=0.01)
    assert "3 more corners of it, 1.24 mm:" in found.message
    assert "radius of 3.2 or more" in found.remedy
    assert "relief circle of radius 3" in found.remedy


@pytest.mark.parametrize(
    ("degrees", "area", "gap", "wide_gap"),
    [
        (30, 2.4230539, 2.8637033, 0.03527618),
        (45, 1.2361163, 1.6131259, 0.0823922),
        (60, 0.68485326, 1.0, 0.15470054),
        (75, 0.38692752, 0.64267963, 0.26047241),
    ],
)
def test_corners_of_any_angle(degrees: float, area: float, gap: float, wide_gap: float) -> None:
    """outside_checks O1: area/r² and gap/r of an interior corner and of its supplement, for r 3."""
    found = only(panel(PLATE, pocket(rhombus(degrees), 6.0), told_shop=SIX), "corner-sharp")
    assert found.measured == pytest.approx(3 * gap, abs=0.02)
    assert float(found.message.split("(")[1].split(" mm²")[0]) == pytest.approx(9 * area, rel=0.01, abs=0.01)
    assert found.at_mm is not None
    assert abs(found.at_mm[0]) == pytest.approx(60 * math.cos(math.radians(degrees / 2)), abs=0.01)
    if degrees > 30:  # at 150° 0.055 mm² are left, hardly more than is told
        least = float(found.message.split("3 more corners of it, ")[1].split(" to ")[0])
        assert least == pytest.approx(3 * wide_gap, abs=0.01)


def test_round_corner_oracle() -> None:
    """trade.md 3.1: corner radius 4 cut with r 6.35 leaves 0.973 mm and (1 − π/4)(r² − ρ²) = 5.220 mm²."""
    shop = Shop(cutters=(Cutter(DC=12.7, APMX=60.0, LU=80.0, DMM=12.7),))
    found = only(panel(PLATE, pocket(box(0, 0, 80, 50, 4.0), 6.0), told_shop=shop), "corner-sharp")
    assert found.measured == pytest.approx(0.973, abs=0.003)
    assert "5.22 mm²" in found.message or "5.21 mm²" in found.message
    assert "a radius of about 4.0" in found.message or "a radius of about 3.9" in found.message


def test_a_corner_as_round_as_the_cutter_is_none() -> None:
    assert told(panel(PLATE, pocket(box(0, 0, 80, 50, 3.0), 6.0), told_shop=SIX), "corner-sharp") == ()
    assert told(panel(PLATE, pocket(box(0, 0, 80, 50, 2.5), 6.0), told_shop=SIX), "corner-sharp") != ()


def test_what_must_fit_stops() -> None:
    hole = box(0, 0, 80, 50, 0)
    fitted = cut("hole", hole, through=True, fit="slide")
    found = only(panel(PLATE, opening(hole), cuts=[fitted], told_shop=SIX), "corner-sharp")
    assert found.severity == "stop"
    assert "(slide)" in found.message


def test_corners_that_another_cut_takes_away_are_none() -> None:
    """A square arm that runs into a round room keeps its two far corners only; deeper rooms count as open."""
    arm, room = box(30, 0, 60, 20, 0), box(-20, 0, 60, 60, 10)
    found = only(panel(PLATE, pocket(arm, 5.0), pocket(room, 8.0, "room"), told_shop=SIX), "corner-sharp")
    assert found.step == "hollow"
    assert "One more corner" in found.message
    assert found.at_mm == pytest.approx((60.0, 10.0), abs=0.02) or found.at_mm == pytest.approx(
        (60, -10), abs=0.02
    )
    shallow = panel(PLATE, pocket(arm, 5.0), pocket(room, 3.0, "room"), told_shop=SIX)
    assert "3 more corners" in only(shallow, "corner-sharp").message


def test_corners_outside_the_finished_edge_are_none() -> None:
    """A pocket that runs out past the outline has its sharp corners in the air."""
    made = blank(
        box(0, 0, 200, 100), cut("neck", box(90, 0, 60, 30, 0), depth=10.0, lamination=None), told_shop=None
    )
    found = only(made, "corner-sharp")
    assert "One more corner" in found.message
    assert found.at_mm is not None
    assert found.at_mm[0] == pytest.approx(60.0, abs=0.02)


def test_inside_corner_of_an_outer_edge() -> None:
    """An L's reflex corner: following it from outside, r 3 leaves (1 − π/4)r² (outside_checks O3)."""
    ell = solid(line_chain([(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]))
    found = only(panel(ell, told_shop=SIX), "corner-sharp")
    assert found.step == "plate"
    assert found.at_mm == pytest.approx((40, 40), abs=0.01)
    assert found.measured == pytest.approx(1.243, abs=0.003)


def test_slot_on_both_sides_of_the_cutter() -> None:
    """A slot of 6.00 takes a cutter of 6, one of 5.9 doesn't (outside_checks O5)."""
    assert (
        told(panel(PLATE, pocket(solid(capsule((-30, 0), (30, 0), 6.0)), 5.0), told_shop=SIX), "slot-narrow") == ()
    )
    found = only(panel(PLATE, pocket(solid(capsule((-30, 0), (30, 0), 5.9)), 5.0), told_shop=SIX), "slot-narrow")
    assert found.severity == "stop"
    assert found.measured == pytest.approx(5.9, abs=0.02)
    assert found.limit == 6.0
    assert "widen it to 6.2 mm" in found.remedy
    assert "at most 5.6" in found.remedy


def test_many_equal_slots_are_told_once() -> None:
    slots = [capsule((-30, y), (30, y), 4.0) for y in (-36, -24, -12, 0, 12, 24, 36)]
    found = only(panel(PLATE, pocket(solid(*slots), 5.0), told_shop=SIX), "slot-narrow")
    assert "here and at 6 other places" in found.message
    assert found.measured == pytest.approx(4.0, abs=0.02)
    few = told(panel(PLATE, pocket(solid(*slots[:3]), 5.0), told_shop=SIX), "slot-narrow")
    assert len(few) == 3


def test_a_neck_between_two_rooms() -> None:
    """Two rooms joined by a passage of 5: the cutter of 6 gets into both and not from one to the other."""
    dumbbell = solid(
        line_chain([(-50, -20), (-10, -20), (-10, -2.5), (10, -2.5), (10, -20), (50, -20), (50, 20), (10, 20),
                    (10, 2.5), (-10, 2.5), (-10, 20), (-50, 20)])
    )  # fmt: skip
    found = only(panel(PLATE, pocket(dumbbell, 5.0), told_shop=SIX), "slot-narrow")
    assert found.measured == pytest.approx(5.0, abs=0.05)
    assert found.at_mm is not None
    assert abs(found.at_mm[0]) < 10.1


def test_a_dead_end() -> None:
    """A room with a blind arm of 4 by 30: the arm would not be there."""
    room = solid(line_chain([(-50, -20), (0, -20), (0, -2), (30, -2), (30, 2), (0, 2), (0, 20), (-50, 20)]))
    found = only(panel(PLATE, pocket(room, 5.0), told_shop=SIX), "slot-narrow")
    assert found.measured == pytest.approx(4.0, abs=0.1)


@pytest.mark.parametrize(
    ("cutter", "deep"),
    [
        (Cutter(DC=6.0, APMX=25.0, LU=30.0, DMM=6.0), 25.0),  # the shank rubs below the edge
        (Cutter(DC=8.0, APMX=12.0, LU=30.0, DMM=6.0), 28.0),  # a thinner shank goes to LU − 2
        (Cutter(DC=3.0, APMX=40.0, LU=18.0, DMM=6.0), 16.0),
    ],
)
def test_reach(cutter: Cutter, deep: float) -> None:
    """trade.md 8, fault 6: depth > LU − 2, or > APMX with a shank of D or more."""
    assert reach(cutter) == deep


def test_deeper_than_the_tool() -> None:
    shop = Shop(cutters=(Cutter(DC=8.0, APMX=32.0, LU=40.0, DMM=8.0),))
    slender = only(panel(PLATE, pocket(box(0, 0, 80, 50), 32.0), told_shop=shop), "tool-reach")
    assert slender.severity == "note"  # it reaches, at four times its width
    found = only(panel(PLATE, pocket(box(0, 0, 80, 50), 32.1), thickness=20.0, told_shop=shop), "tool-reach")
    assert found.severity == "stop"
    assert (found.measured, found.limit) == (32.1, 32.0)
    assert found.place is not None
    assert found.place.column == 40  # the line of its depth
    assert "LU) of 34 mm or more" in found.remedy


def test_slender_cutters() -> None:
    """Depth over diameter: up to 3 nothing, above 3 a note, above 5 a question (common practice, no source)."""
    long = Shop(cutters=(Cutter(DC=6.0, APMX=60.0, LU=80.0, DMM=6.0),))
    plate = {"thickness": 12.0, "told_shop": long}
    assert told(panel(PLATE, pocket(box(0, 0, 80, 50), 18.0), **plate), "tool-reach") == ()
    assert only(panel(PLATE, pocket(box(0, 0, 80, 50), 18.1), **plate), "tool-reach").severity == "note"
    found = only(panel(PLATE, pocket(box(0, 0, 80, 50), 30.6), **plate), "tool-reach")
    assert found.severity == "ask"
    assert found.measured == pytest.approx(5.1)


def test_a_wide_pocket_is_measured_with_the_wide_cutter() -> None:
    """Where the 12 mm cutter fits everywhere, 30 deep is 2.5 times its width and nothing to tell."""
    shop = Shop(
        cutters=(Cutter(DC=6.0, APMX=60.0, LU=80.0, DMM=6.0), Cutter(DC=12.0, APMX=60.0, LU=80.0, DMM=12.0))
    )
    assert told(panel(PLATE, pocket(box(0, 0, 80, 50, 6.5), 30.0), told_shop=shop), "tool-reach") == ()
    assert told(panel(PLATE, pocket(box(0, 0, 80, 50, 4.0), 30.0), told_shop=shop), "tool-reach") != ()


def test_a_laser_needs_no_cutter() -> None:
    made = panel(PLATE, opening(box(0, 0, 80, 50, 0)), shop="laser", sheet="ply3", thickness=3.1)
    assert told(made, "corner-sharp") == ()
    assert told(made, "slot-narrow") == ()


def test_round_holes_are_clean() -> None:
    assert told(panel(PLATE, pocket(disc(0, 0, 20), 5.0), told_shop=SIX), "corner-sharp") == ()
