"""Waists, the gap of a layout, limits by shop, and remedies, against closed forms and the trade's tables."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.checks.fixes import down, up
from pipeline.checks.hole_small import least_mm
from pipeline.checks.part_thin import waists
from pipeline.checks.parts_close import least_gap
from pipeline.checks.screw_short import next_length
from pipeline.core.shop import Cutter, Shop
from tests.checks.factory import SIX, box, only, opening, panel, pocket, told


@pytest.mark.parametrize("apart", [30.0, 36.0, 39.0, 39.9])
def test_two_discs_that_overlap(apart: float) -> None:
    """Discs of R 20 that stand d apart share a chord of 2·√(R² − d²/4): what passes between them."""
    left, right = (shapely.Point(x, 0).buffer(20, quad_segs=360) for x in (-apart / 2, apart / 2))
    chord = 2 * math.sqrt(20**2 - apart**2 / 4)
    found = list(waists(shapely.union(left, right), chord + 2.0))
    assert len(found) == 1
    width, (x, y) = found[0]
    assert width == pytest.approx(chord, rel=0.002, abs=0.002)
    assert (x, y) == pytest.approx((0, 0), abs=0.05)
    assert list(waists(shapely.union(left, right), chord - 0.05)) == []


def test_three_rooms_in_a_row() -> None:
    """Two necks of 1 and 2 between three squares: both are told, each at its own place."""
    rooms = [shapely.box(x, -10, x + 20, 10) for x in (0, 40, 80)]
    bars = [shapely.box(20, -0.5, 40, 0.5), shapely.box(60, -1, 80, 1)]
    found = sorted(waists(shapely.union_all([*rooms, *bars]), 3.0))
    assert [w for w, _ in found] == pytest.approx([1.0, 2.0], rel=0.002)
    assert [at[0] for _, at in found] == pytest.approx([30, 70], abs=0.5)


def test_limits_of_shops() -> None:
    """trade.md 7.4 and 8: laser gap max(2, t/2), hole max(1, t/2); router gap D + 2."""
    laser = Shop(name="laser", process="laser", kerf=0.2, cutters=())
    assert least_gap(laser, 3.1) == (0.2, 2.0)
    assert least_gap(laser, 6.0) == (0.2, 3.0)
    assert least_gap(Shop(cutters=(Cutter(DC=12, APMX=40, LU=50, DMM=12),)), 12.0) == (12.0, 14.0)
    assert (least_mm(1.5), least_mm(3.1), least_mm(6.0)) == (1.0, 1.55, 3.0)


def test_lengths_of_screws() -> None:
    """4 diameters of a screw of 4 are 16, of 3.5 14: the next one is 16 as well (trade.md 8, fault 40)."""
    assert [next_length(n) for n in (16.0, 14.0, 16.1, 61.0)] == [16.0, 16.0, 20.0, 61.0]


@pytest.mark.parametrize("value", [3.0, 3.001, 2.999, 0.29, 1e-9])
def test_rounding_is_on_the_safe_side(value: float) -> None:
    assert value - 1e-7 <= up(value) <= value + 0.01
    assert value - 0.01 <= down(value) <= value + 1e-7


def test_a_web_between_a_pocket_and_an_opening_counts_where_they_share_heights() -> None:
    """A pocket of 5 beside an opening counts; pockets of two faces count only where both are."""
    plate = box(0, 0, 300, 200, 10)
    beside = panel(plate, pocket(box(0, 0, 40, 40), 5.0), opening(box(42, 0, 40, 40)), told_shop=SIX)
    found = only(beside, "web-thin")
    assert (found.measured, found.limit) == pytest.approx((2.0, 3.0), abs=0.005)
    apart = (pocket(box(0, 0, 40, 40), 5.0), pocket(box(42, 0, 40, 40), 5.0, "other", "back"))
    assert told(panel(plate, *apart, told_shop=SIX), "web-thin") == ()
    deep = (pocket(box(0, 0, 40, 40), 7.0), pocket(box(42, 0, 40, 40), 6.0, "other", "back"))
    assert only(panel(plate, *deep, told_shop=SIX), "web-thin").measured == pytest.approx(2.0, abs=0.005)


def test_a_thick_sheet_wants_a_thicker_web() -> None:
    """trade.md 7.4: max(3, T/4), so 4.5 of 18."""
    plate = box(0, 0, 300, 200, 10)
    two = (opening(box(0, 0, 40, 40)), opening(box(44, 0, 40, 40), "other"))
    assert told(panel(plate, *two, thickness=16.0, told_shop=SIX), "web-thin") == ()
    assert only(panel(plate, *two, thickness=18.0, told_shop=SIX), "web-thin").limit == 4.5
