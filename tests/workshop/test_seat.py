"""On the thigh: trade.md 10.3's numbers, sums of moments, and waists with known depths."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.workshop.seat import GRAVITY, seated, waist, weight_n
from tests.workshop.factory import BODY_W


def test_the_hand_of_the_trade() -> None:
    """trade.md 10.3: W 38.3 N, G 250, x₂ 150, nut 864 → 5.36 N (547 gf)."""
    grams = 38.3 / GRAVITY * 1000
    found = seated(grams, 250.0, 90.0, 60.0, 864.0)
    assert (found.low, found.high, found.over_mm) == (30.0, 150.0, 100.0)
    assert found.hand_n is not None
    assert round(found.hand_n, 2) == 5.36
    assert round(found.hand_n / GRAVITY * 1000) == 547
    assert round(weight_n(grams), 1) == 38.3


def test_moments_about_the_edge_of_the_thigh_add_up_to_nothing() -> None:
    """With the hand's force, weight and thigh balance about any point: thigh carries W − F at x₂."""
    found = seated(3000.0, 210.0, 60.0, 60.0, 700.0)
    w, f = weight_n(3000.0), found.hand_n
    assert f is not None
    thigh = w - f
    for about in (0.0, 120.0, 333.0):
        total = -w * (210.0 - about) + f * (700.0 - about) + thigh * (120.0 - about)
        assert total == pytest.approx(0.0, abs=1e-9)


def test_over_the_thigh_it_rests() -> None:
    for x in (0.0, 60.0, 120.0):
        found = seated(3000.0, x, 60.0, 60.0, 700.0)
        assert (found.stable, found.hand_n, found.moment_nmm) == (True, 0.0, 0.0)


def test_toward_the_tail_the_hand_presses_down() -> None:
    """30 mm beyond the tail edge, arm 700 from there: F = W·30/700, downward."""
    found = seated(2000.0, -30.0, 60.0, 60.0, 700.0)
    assert found.hand_n == pytest.approx(-weight_n(2000.0) * 30 / 700)
    assert not found.stable


def test_a_hand_on_the_thigh_holds_nothing() -> None:
    assert seated(2000.0, 300.0, 60.0, 60.0, 100.0).hand_n is None
    assert seated(2000.0, 300.0, 60.0, 60.0, None).hand_n is None


# -- waists --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("turn", [0.0, 12.0])
def test_a_notch_has_its_own_depth(turn: float) -> None:
    """A box 200 × 100 with a notch 60 × 15 in its lower edge, also turned: the chord is the edge itself."""
    box = shapely.difference(shapely.box(-100, 0, 100, 100), shapely.box(-40, 0, 20, 15))
    turned = shapely.affinity.rotate(box, turn, origin=(0, 0))
    x = -10 * math.cos(math.radians(turn))
    found = waist(turned, x)
    assert found is not None
    assert found.depth_mm == pytest.approx(15.0, abs=1e-9)
    for px, py in found.chord:
        assert py == pytest.approx(px * math.tan(math.radians(turn)), abs=1e-9)
    assert found.chord[0][0] <= x <= found.chord[1][0]


def test_two_circles_have_a_waist_and_a_hull_has_none() -> None:
    """Discs of 100 and 60 joined by a bar of half width 20: the chord is their lower common tangent; at the bar
    its distance from it is measured. Body W is the hull of two circles, so it has no waist at all."""
    discs = shapely.union_all(
        [
            shapely.Point(0, 0).buffer(100, quad_segs=512),
            shapely.Point(220, 0).buffer(60, quad_segs=512),
            shapely.box(0, -20, 220, 20),
        ]
    )
    found = waist(discs, 130.0)
    assert found is not None
    sine = (100 - 60) / 220  # of the tangent's slope; it lies 100 below the first centre, square to itself
    deep = 100 - 20 * math.sqrt(1 - sine**2)

    def below(x: float) -> float:
        """Distance of the bar's lower edge at x from the tangent."""
        return deep - x * sine

    first = 100 * math.cos(math.asin(0.2))  # where the bar leaves the large disc
    assert found.depth_mm == pytest.approx(below(first), abs=0.02)
    hull = waist(shapely.get_parts(BODY_W.polygon)[0], 60.0)
    assert hull is not None
    assert hull.depth_mm == pytest.approx(0.0, abs=1e-6)


def test_beside_the_outline_there_is_no_waist() -> None:
    assert waist(shapely.box(0, 0, 10, 10), 11.0) is None
