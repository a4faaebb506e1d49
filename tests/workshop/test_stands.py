"""Legs, bases, walls, handles: trade.md 10.4, and reactions at the feet worked out from scratch."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.workshop.stands import from_line, hung, inside_mm, stool, tip_angle, tipping_radius


def three(**more: Any) -> Any:
    values: dict[str, Any] = {
        "legs": 3, "radius_mm": 200.0, "middle": (0.0, 0.0), "first_deg": 90.0, "centre": (0.0, 0.0),
        "mass_g": 4000.0, "seat_mm": 150.0, "load_g": 80_000.0,
    }  # fmt: skip
    return stool(**(values | more))


def test_tipping_radius() -> None:
    """trade.md 10.4: 3 legs R/2, 4 legs 0.707 R; many legs R."""
    assert tipping_radius(200.0, 3) == pytest.approx(100.0)
    assert tipping_radius(200.0, 4) == pytest.approx(200 * 0.7071, abs=0.01)
    assert tipping_radius(200.0, 500) == pytest.approx(200.0, abs=0.01)
    with pytest.raises(ValueError, match="fewer than three"):
        tipping_radius(200.0, 2)


@pytest.mark.parametrize("legs", [3, 4, 5])
@pytest.mark.parametrize("mass", [2000.0, 60_000.0, 400_000.0])
def test_the_trade_s_formula(legs: int, mass: float) -> None:
    """trade.md 10.4: W at r_s tips it when W·(r_s − r_t) > m·g·r_t, with its centre over the middle."""
    found = three(legs=legs, mass_g=mass)
    away = 200 * math.cos(math.pi / legs)
    assert found.tips == (80_000 * (150 - away) > mass * away)
    assert all(v.distance_mm == pytest.approx(away) for v in found.lines)
    ends = [shapely.LineString(v.ends) for v in found.lines]
    assert [shapely.distance(e, shapely.Point(0, 0)) for e in ends] == pytest.approx([away] * legs)


def reactions(found: Any, at: tuple[float, float], load: float, centre: tuple[float, float], mass: float) -> Any:
    """What three feet carry, in units of g: forces and moments about x and y, solved from scratch."""
    matrix = np.array([[1.0, 1.0, 1.0], [p[0] for p in found.feet], [p[1] for p in found.feet]])
    total = np.array([load + mass, load * at[0] + mass * centre[0], load * at[1] + mass * centre[1]])
    return np.linalg.solve(matrix, total)


@pytest.mark.parametrize("centre", [(0.0, 0.0), (12.0, -20.0)])
@pytest.mark.parametrize("middle", [(0.0, 0.0), (40.0, 7.0)])
def test_a_foot_lifts_where_the_load_is_too_much(centre: tuple[float, float], middle: tuple[float, float]) -> None:
    """At the load that the worst line bears a foot carries just nothing, a little more and it lifts; and so it is
    with the safe radius."""
    centre = (centre[0] + middle[0], centre[1] + middle[1])
    found = three(centre=centre, middle=middle)
    n = found.worst.toward
    rim = (middle[0] + 150 * n[0], middle[1] + 150 * n[1])
    assert min(reactions(found, rim, found.most_g, centre, 4000.0)) == pytest.approx(0.0, abs=1e-6)
    assert min(reactions(found, rim, found.most_g * 1.01, centre, 4000.0)) < 0
    safe = (middle[0] + found.safe_mm * n[0], middle[1] + found.safe_mm * n[1])
    assert min(reactions(found, safe, 80_000.0, centre, 4000.0)) == pytest.approx(0.0, abs=1e-6)
    for v in found.lines:  # no other line is worse
        spot = (middle[0] + found.safe_mm * v.toward[0], middle[1] + found.safe_mm * v.toward[1])
        assert min(reactions(found, spot, 80_000.0, centre, 4000.0)) > -1e-6


def test_within_its_tipping_lines_it_bears_anything() -> None:
    found = three(seat_mm=90.0)
    assert (found.tips, found.most_g) == (False, math.inf)


def test_with_its_centre_outside_it_falls_by_itself() -> None:
    """All of its own weight turns it over the line beyond which its centre lies."""
    found = three(centre=(0.0, -120.0), load_g=0.0)
    assert found.tips
    assert found.worst.toward == pytest.approx((0.0, -1.0))


# -- bases ---------------------------------------------------------------------------------------------
def test_a_base_stands_on_its_hull() -> None:
    """A frame with a hole and a notch stands as its hull does: 25 from the long side inside the notch."""
    frame = shapely.difference(
        shapely.box(0, 0, 200, 100), shapely.union(shapely.box(20, 20, 180, 80), shapely.box(90, 0, 110, 30))
    )
    assert inside_mm(frame, (100.0, 25.0)) == pytest.approx(25.0)
    assert inside_mm(frame, (100.0, 50.0)) == pytest.approx(50.0)
    assert inside_mm(frame, (100.0, -5.0)) == pytest.approx(-5.0)
    assert inside_mm(frame, (210.0, 110.0)) == pytest.approx(-math.hypot(10, 10))


def test_it_leans_until_its_centre_stands_over_the_edge() -> None:
    assert tip_angle(50.0, 50.0) == pytest.approx(45.0)
    x, z, a = 30.0, 80.0, math.radians(tip_angle(30.0, 80.0))
    assert -x * math.cos(a) + z * math.sin(a) == pytest.approx(0.0, abs=1e-12)  # turned about the edge at 0


# -- wall and hand -------------------------------------------------------------------------------------
@pytest.mark.parametrize("up", [(0.0, 1.0), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0)])
def test_on_one_nail_the_centre_comes_to_hang_under_it(up: tuple[float, float]) -> None:
    """trade.md 10.4: tilt e/h. Turned by what is told, the centre lies straight down from the nail."""
    right = (up[1], -up[0])
    centre = (10.0 + 8 * right[0] - 90 * up[0], 20.0 + 8 * right[1] - 90 * up[1])
    found = hung((10.0, 20.0), centre, up)
    assert (found.height_mm, found.off_mm) == pytest.approx((90.0, 8.0))
    assert found.tilt_deg == pytest.approx(-math.degrees(math.atan(8 / 90)))
    a = math.radians(found.tilt_deg)
    dx, dy = centre[0] - 10.0, centre[1] - 20.0
    x, y = dx * math.cos(a) - dy * math.sin(a), dx * math.sin(a) + dy * math.cos(a)
    assert x * right[0] + y * right[1] == pytest.approx(0.0, abs=1e-9)
    assert x * up[0] + y * up[1] == pytest.approx(-math.hypot(90, 8))


def test_a_nail_below_the_centre_turns_it_over() -> None:
    assert hung((0.0, 0.0), (0.0, 40.0), (0.0, 1.0)).height_mm == -40.0


def test_the_distance_from_the_line_of_the_hand() -> None:
    """Against shapely, on a line long enough."""
    ends = ((-20.0, 10.0), (40.0, 55.0))
    away, foot = from_line(ends, (100.0, 0.0))
    long = shapely.LineString([(-620.0, -440.0), (640.0, 505.0)])
    assert away == pytest.approx(shapely.distance(long, shapely.Point(100, 0)))
    assert shapely.distance(long, shapely.Point(foot)) == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(ValueError, match="two points"):
        from_line(((1.0, 1.0), (1.0, 1.0)), (0.0, 0.0))
