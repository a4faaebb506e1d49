"""Formulas of edges against published numbers, the trade's oracles, and areas made by shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from pipeline.geometry.alongside import Rim, common, inner_lines, merged, mouths, without
from pipeline.geometry.contour import chain
from pipeline.geometry.offset import offset
from pipeline.geometry.profiles import Profile, areas, of_line
from pipeline.geometry.region import solid
from pipeline.geometry.rounding import (
    bevel_angle,
    bridged,
    curvature,
    dip,
    draft_shift,
    fading,
    hollow,
    inset,
    inset_integral,
    largest_radius,
    scallop,
    scoop_depth,
    scoop_run,
    square_integral,
    step_over,
    wall_left,
)
from pipeline.geometry.shapes import circle, rectangle
from tests.steps.factory import body_w


# -- formulas --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("u", "s"), [(2, 0.343), (3, 0.804), (4, 1.528), (5, 2.683), (6, 6.0)])
def test_inset_of_a_rounding_of_six(u: float, s: float) -> None:
    """trade.md 4.1, oracle [D]."""
    assert round(inset(6.0, u), 3) == s


def test_integrals_are_those_of_the_section() -> None:
    """Over the whole rounding r²(1 − π/4) and r³(5/3 − π/2); in between, trapezoids, 10⁵ of them."""
    assert inset_integral(6, 6) == pytest.approx(36 * (1 - math.pi / 4), rel=1e-12)
    assert square_integral(6, 6) == pytest.approx(216 * (5 / 3 - math.pi / 2), rel=1e-12)
    u = np.linspace(0, 4.3, 100_001)
    n = 6 - np.sqrt(36 - u * u)
    assert inset_integral(6, 4.3) == pytest.approx(np.trapezoid(n, u), rel=1e-8)
    assert square_integral(6, 4.3) == pytest.approx(np.trapezoid(n * n, u), rel=1e-8)


def test_wall_left_for_the_bearing() -> None:
    """trade.md 4.1: 10.5 and r 4 on both edges leave 2.5 of 5; at most r 2.7 [D]."""
    assert wall_left(10.5, 4, 4) == 2.5
    assert largest_radius(10.5, 5.0, 2) == 2.7
    assert largest_radius(4.0, 5.0, 2) == 0.0


def test_bridged_square_corner() -> None:
    """(R_b − ρ)(√2 − 1), trade.md 4.1 [D]: bearing 12.7 in a radius of 4 leaves 0.973 (trade.md 3.1's oracle)."""
    assert bridged(6.35, 4.0) == pytest.approx(2.35 * (math.sqrt(2) - 1), rel=1e-12)
    assert round(bridged(6.35, 4.0), 3) == 0.973
    assert bridged(6.35, 7.0) == 0.0


def test_dip_into_a_mouth() -> None:
    """A 3-4-5 triangle: a disc of 5 sinks 1 into a gap of 6; into one as wide as itself it falls whole."""
    assert dip(5, 6) == pytest.approx(1.0)
    assert dip(5, 10) == dip(5, 40) == 5


@pytest.mark.parametrize(
    ("radius", "step", "height"),
    [
        (3, 0.5, 0.010434814),
        (3, 1, 0.041960108),
        (3.175, 0.508, 0.010176308),
        (6.35, 1, 0.019715646),
        (1.5875, 0.3, 0.0071025025),
    ],
)
def test_scallop_of_public_examples(radius: float, step: float, height: float) -> None:
    """outside_checks K1 [R + C], to the digits given."""
    assert scallop(radius, step) == pytest.approx(height, rel=1e-7)


def test_scallop_oracles_of_the_trade() -> None:
    """trade.md 4.5 [D]; the inverse is K1's s for h 0.005."""
    assert [round(scallop(3, s), 4) for s in (0.5, 1)] == [0.0104, 0.0420]
    assert [round(scallop(6, s), 4) for s in (1, 2)] == [0.0209, 0.0839]
    assert [round(step_over(r, 0.05), 2) for r in (3, 6)] == [1.09, 1.55]
    assert step_over(3, 0.005) == pytest.approx(0.34626579, rel=1e-7)
    # along a slope of 60° the passes lie twice as far apart
    assert scallop(3, 0.5, 60) == pytest.approx(scallop(3, 1), rel=1e-12)
    assert round(draft_shift(16, 3), 3) == 0.839


def test_bevel_and_fading() -> None:
    """atan(d/w); sin² at the ends: 0, a half half-way, 1 (trade.md 4.2)."""
    assert bevel_angle(75, 12) == pytest.approx(9.0903, abs=5e-5)  # tan 9.0903° = 0.16
    assert bevel_angle(10, 10) == pytest.approx(45)
    low = math.sin(math.pi / 8) ** 2  # a quarter of the way
    share = fading(np.array([0.0, 10, 20, 40, 100, 190, 200]), 200.0, 40.0)
    assert share == pytest.approx([0, low, 0.5, 1, 1, low, 0], abs=1e-12)
    assert fading(np.array([0.0, 5.0]), 10.0, 0.0) == pytest.approx([1, 1])


def test_scoop_is_a_cylinder() -> None:
    """√(2Rd − d²): 3-4-5 for R 5, d 1; depth 0 there and d at the deepest line."""
    assert scoop_run(5, 1) == pytest.approx(3)
    assert scoop_depth(5, 1, np.array([0.0, 3.0, -3.0, 4.9])) == pytest.approx([1, 0, 0, 0])
    # the arc through both ends is that circle when the deepest point is the edge
    x = np.linspace(0, 3, 7)
    assert hollow(5, 3, 1, x) == pytest.approx(scoop_depth(5, 1, 3 - x), abs=1e-12)
    with pytest.raises(ValueError, match="doesn't reach"):
        hollow(5, 12, 1, x)


# -- along the edge ---------------------------------------------------------------------------------
def test_arc_length_begins_at_the_foremost_point() -> None:
    rim = Rim.of(rectangle(200, 100))
    assert rim.point(0.0) == pytest.approx((100, -50))
    assert rim.point(100.0) == pytest.approx((100, 50))
    assert rim.locate(0, 60) == pytest.approx((200.0, 10.0))
    tip = Rim.of(body_w().parts[0].outer)
    assert tip.point(0.0) == pytest.approx((232, 0), abs=1e-9)
    # a quarter of the tip's circle (R 42): 42·φ
    assert tip.point(42 * 0.5) == pytest.approx((190 + 42 * math.cos(0.5), 42 * math.sin(0.5)), abs=1e-9)


def test_arc_length_does_not_depend_on_the_drawing() -> None:
    c = body_w().parts[0].outer
    points = [Rim.of(c.rolled(k)).point(123.4) for k in range(4)]
    assert points == [pytest.approx(points[0], abs=1e-9)] * 4


def test_intervals_on_a_ring() -> None:
    assert merged([(90, 110), (5, 20)], 100) == ((90, 120),)
    assert without([(0, 100)], [(90, 110)], 100) == ((10, 90),)
    assert without([(80, 130)], [(95, 105)], 100) == ((5, 30), (80, 95))
    assert common([(80, 130)], [(20, 85)], 100) == ((20, 30), (80, 85))
    assert merged([(0, 60), (50, 100)], 100) == ((0, 100),)


def test_mouth_of_a_notch() -> None:
    """A slot of 20 across the right side of a 200 × 100 plate: the 20 mm about its middle, s = 40 … 60."""
    rim = Rim.of(rectangle(200, 100))
    (mouth,) = mouths(rim, solid(rectangle(60, 20, x=100)))
    assert mouth == pytest.approx((40, 60), abs=1e-6)
    assert mouths(rim, solid(rectangle(20, 20))) == ()


def test_inner_line_of_an_interval() -> None:
    """Beside s = 20 … 80 of the right side the parallel 6 in runs straight at x = 94; round a tip it's shorter."""
    plate = solid(rectangle(200, 100))
    rim = Rim.of(plate.parts[0].outer)
    (line,) = inner_lines(rim, offset(plate, -6), 6, (20, 80))
    assert line.length == pytest.approx(60, abs=1e-9)
    assert set(np.round(line.xy[:, 0], 9)) == {94.0}
    tip = Rim.of(body_w().parts[0].outer)
    (arc,) = inner_lines(tip, offset(body_w(), -6), 6, (5, 25))
    assert arc.length == pytest.approx(20 * 36 / 42, abs=1e-9)


@pytest.mark.parametrize("n", [1.0, 4.5, 12.0])
def test_steiner_with_corners_and_curves(n: float) -> None:
    """A − L·n + K·n² against shapely's buffers of a plate with a square notch and a round corner."""
    c = chain(
        [(0, 0), (100, 0), (100, 40), (60, 40), (60, 80), (20, 80), (0, 60)],
        [0, 0, 0, 0, 0, math.tan(math.pi / 8), 0],
    )
    polygon = shapely.Polygon(c.flatten(1e-6)[0])
    inward = polygon.buffer(-n, quad_segs=2000).area
    # GEOS's buffer simplifies by about a hundredth of a percent of the distance
    assert c.area - c.length * n + curvature(c) * n * n == pytest.approx(inward, rel=2e-5)


# -- profiles --------------------------------------------------------------------------------------
def profile(*points: tuple[float, float], smooth: bool = False) -> Profile:
    """From (inset, height)."""
    xy = np.array(points)
    return Profile(heights=xy[:, 1], insets=xy[:, 0], smooth=smooth)


def test_a_cone_by_its_profile() -> None:
    """R 60 to R 40 over 30: πh/3 (R² + Rr + r²)."""
    disc = solid(circle(0, 0, 60))
    p = profile((0, 0), (20, 30))
    measure = areas(disc, 0, 20)
    volume, error = measure.between(p, 0, 30)
    assert measure.exact
    assert error == 0.0
    assert volume == pytest.approx(math.pi * 30 / 3 * (3600 + 2400 + 1600), rel=1e-12)


def test_a_swelling_profile_by_the_theorem_of_the_mean() -> None:
    """Radius R + b·sin-like: smooth monotone pieces; the volume against 20 000 discs."""
    disc = solid(circle(0, 0, 60))
    p = profile((0, 0), (-10, 10), (18, 30), smooth=True)
    z = np.linspace(0, 30, 20_001)
    radius = 60 - p.at(z)
    wanted = np.trapezoid(math.pi * radius * radius, z)
    assert areas(disc, -10, 18).between(p, 0, 30)[0] == pytest.approx(wanted, rel=1e-7)
    assert p.least(0, 30) == -10
    assert p.least(12, 30) == pytest.approx(p.one(12))


def test_where_steiner_fails_the_error_is_told() -> None:
    """A dumbbell whose neck closes 8 in: no single quadratic; the error bounds what 400 sections give."""
    half = [(10, -8), (10, -40), (60, -40), (60, 40), (10, 40), (10, 8)]
    plate = solid(chain([*half, *((-x, -y) for x, y in half)], [0.0] * 12))
    p = profile((0, 0), (16, 32))
    measure = areas(plate, 0, 16)
    volume, error = measure.between(p, 0, 32)
    assert not measure.exact
    z = np.linspace(0, 32, 401)
    wanted = np.trapezoid([plate.polygon.buffer(-v / 2, quad_segs=64).area for v in z.tolist()], z)
    assert abs(volume - wanted) < error  # its neck vanishes at once, which no cubic follows
    assert error < 1e-3 * wanted


def test_a_drawn_line_as_profile() -> None:
    line = chain([(100, 30), (92, 20), (100, 10)], [0, 0, 0], closed=False)  # drawn from its top
    p = of_line(line)
    assert p.top == 20
    assert p.at(np.array([0.0, 5, 10, 20])) == pytest.approx([0, -4, -8, 0])
    with pytest.raises(ValueError, match="turns back"):
        of_line(chain([(0, 0), (5, 10), (8, 5), (9, 20)], [0, 0, 0, 0], closed=False))
