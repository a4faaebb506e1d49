"""The axis of a nearly symmetric outline, halves and their mirror images, and the line midway."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.deviation import deviation
from pipeline.geometry.midway import midway
from pipeline.geometry.mirror import doubled, ended, halves_of
from pipeline.geometry.region import EMPTY, Part, Region, region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.geometry.symmetry import X_AXIS, Y_AXIS, Axis, symmetry
from pipeline.geometry.transform import mirror_x_axis, shift, turn
from pipeline.geometry.wobble import breaks
from tests.geometry.wobbles import traced
from tests.steps.factory import body_w


def waisted(r1: float = 100.0, r2: float = 60.0, apart: float = 180.0, waist: float = 50.0) -> Contour:
    """Half a waisted body of three tangent arcs: circles r1 at (0, 0) and r2 at (apart, 0) on the axis, and one
    outside both that touches them (centre distances r1 + waist and r2 + waist)."""
    a, b = r1 + waist, r2 + waist
    x = (a * a - b * b + apart * apart) / (2 * apart)
    centre = complex(x, math.sqrt(a * a - x * x))
    one, two = r1 * centre / abs(centre), apart + r2 * (centre - apart) / abs(centre - apart)
    points = [complex(apart + r2, 0), two, one, complex(-r1, 0)]

    def bulge(c: complex, p: complex, q: complex) -> float:
        turned = (q - c) / (p - c)
        return math.tan(math.atan2(turned.imag, turned.real) / 4)

    bulges = [bulge(apart, points[0], two), bulge(centre, two, one), bulge(0, one, points[3]), 0.0]
    return chain([(p.real, p.imag) for p in points], bulges, closed=False)


# -- the axis ------------------------------------------------------------------------------------
@pytest.mark.parametrize(("angle", "offset"), [(0.0, 0.0), (0.02, 0.3), (17.3, 5.0), (-80.0, 3.0), (90.0, 12.0)])
def test_the_axis_is_found_to_a_hundredth_of_a_degree(angle: float, offset: float) -> None:
    """Body W, symmetric about the line through its two centres, lifted and turned: its axis was turned with it
    (trade.md 1.4: hold to 0.01°)."""
    found = symmetry(shift(0, offset).then(turn(angle)).region(body_w()))
    assert found.axis.angle_deg == pytest.approx(angle, abs=1e-4)
    assert found.axis.offset_mm == pytest.approx(offset, abs=1e-4)
    assert found.worst_mm < 1e-4
    assert found.mean_mm < 0.001


def test_a_wobbly_outline_has_the_axis_of_its_shape() -> None:
    """Wobble of 0.3 mm leaves the axis within 0.1°, and the residual is of the order of the wobble."""
    found = symmetry(turn(11.0).region(traced(body_w().contours[0], 0.3, 5)))
    assert found.axis.angle_deg == pytest.approx(11.0, abs=0.1)
    assert 0.3 < found.worst_mm < 0.8
    assert 0.05 < found.mean_mm < 0.3


def test_a_bump_is_the_worst_place() -> None:
    """A rectangle with a bump of 3 mm on one long side: the image lies 3 mm off there."""
    points = [(-50, -30), (50, -30), (50, 30), (10, 30), (10, 33), (-10, 33), (-10, 30), (-50, 30)]
    found = symmetry(solid(line_chain(points)))
    # About y the bump is symmetric itself.
    assert found.axis.angle_deg == pytest.approx(90.0, abs=1e-3)
    assert found.worst_mm < 1e-3
    lopsided = symmetry(solid(line_chain([(x + (20 if y == 33 or abs(x) == 10 else 0), y) for x, y in points])))
    assert lopsided.worst_mm > 1.0


def test_of_equal_axes_the_one_nearest_x_is_taken() -> None:
    """A disc has every axis through its centre, a rectangle two."""
    disc = symmetry(solid(circle(3, 4, 20)))
    assert disc.axis.angle_deg == 0.0
    assert disc.axis.offset_mm == pytest.approx(4.0, abs=1e-6)
    plate = symmetry(turn(10).region(solid(rectangle(80, 50))))
    assert plate.axis.angle_deg == pytest.approx(10.0, abs=1e-4)


def test_nothing_has_no_axis() -> None:
    """An empty region is refused."""
    with pytest.raises(ValueError, match="no axis"):
        symmetry(EMPTY)


def test_an_axis_lies_on_x_after_its_move() -> None:
    """`upright` lays the axis on the x axis, `back` undoes it; the image of an image is the shape."""
    axis = Axis(angle_deg=33.0, offset_mm=-7.0)
    a = math.radians(33.0)
    on = (5 * math.cos(a) + 7 * math.sin(a), 5 * math.sin(a) - 7 * math.cos(a))
    assert axis.upright.point(*on) == pytest.approx((5.0, 0.0), abs=1e-12)
    assert axis.back.point(5.0, 0.0) == pytest.approx(on, abs=1e-12)
    body = body_w()
    assert deviation(axis.image(axis.image(body)), body).worst_mm < 1e-9
    assert Y_AXIS.image(body).bounds == pytest.approx((-232, -120, 100, 120))
    assert X_AXIS.image(body).bounds == pytest.approx(body.bounds)


# -- halves --------------------------------------------------------------------------------------
def test_a_half_of_three_arcs_becomes_four_arcs() -> None:
    """The oracle of trade.md 1.5: two circles on the axis, one off it and its mirror image; no vertex on the
    axis, and the area is twice that of the half."""
    half = waisted()
    whole, ends = doubled([half])
    (c,) = whole.contours
    assert len(c) == 4
    assert np.all(c.bulge != 0)
    assert np.abs(c.xy[:, 1]).min() > 1
    shut = Contour(half.xy, half.bulge, half.free, True)
    assert whole.area == pytest.approx(2 * abs(shut.area), rel=1e-12)
    assert np.abs(breaks(c)).max() < 1e-9
    assert [e.done for e in ends] == ["nothing", "nothing"]


@given(
    r1=st.floats(40, 140), r2=st.floats(30, 90), waist=st.floats(20, 90), gap=st.floats(1, 60), way=st.booleans()
)
@settings(max_examples=30, deadline=None)
def test_any_waisted_half_becomes_four_arcs(r1: float, r2: float, waist: float, gap: float, way: bool) -> None:
    """Whatever the radii, on either side of the axis and drawn from either end."""
    half = waisted(r1, r2, max(r1, r2) + gap + 0.5 * min(r1, r2), waist)
    if way:
        half = mirror_x_axis().contour(half).reversed()
    (c,) = doubled([half])[0].contours
    assert len(c) == 4
    assert np.abs(c.xy[:, 1]).min() > 1e-3
    assert np.degrees(np.abs(breaks(c))).max() < 0.01


def test_half_a_circle_is_a_circle() -> None:
    """One arc with both ends on the axis, and a half of two arcs."""
    one = chain([(30, 0), (-10, 0)], [1.0, 0.0], closed=False)
    assert doubled([one])[0].contours[0].circle() == pytest.approx((10.0, 0.0, 20.0))
    quarter = math.tan(math.pi / 8)
    two = chain([(30, 0), (10, 20), (-10, 0)], [quarter, quarter, 0.0], closed=False)
    assert doubled([two])[0].contours[0].circle() == pytest.approx((10.0, 0.0, 20.0))


def test_a_square_end_that_is_a_line_is_one_line() -> None:
    """Half a rectangle has three lines; the whole has four, without vertices on the axis."""
    half = line_chain([(40, 0), (40, 25), (-40, 25), (-40, 0)], closed=False)
    (c,) = doubled([half])[0].contours
    assert sorted(map(tuple, c.xy.tolist())) == [(-40, -25), (-40, 25), (40, -25), (40, 25)]


@pytest.mark.parametrize(
    ("off", "done", "vertices_on_axis"),
    [(0.0, "nothing", 0), (1.0, "bent", 0), (5.0, "corner", 1), (30.0, "corner", 1)],
)
def test_the_three_rules_of_the_tangent(off: float, done: str, vertices_on_axis: int) -> None:
    """trade.md 1.5: off square by less than 2° it is bent over 5 mm, by more it stays as drawn."""
    lean = 25 * math.tan(math.radians(off))
    half = line_chain([(40 + lean, 0), (40, 25), (-40, 25), (-40, 0)], closed=False)
    whole, (first, last) = doubled([half])
    assert (first.done, last.done) == (done, "nothing")
    assert first.off_deg == pytest.approx(off, abs=1e-9)
    (c,) = whole.contours
    assert int(np.sum(np.abs(c.xy[:, 1]) < 1e-6)) == vertices_on_axis
    sharp = c.xy[np.degrees(np.abs(breaks(c))) > 0.1]
    corners = {(40.0, 25.0), (40.0, -25.0), (-40.0, 25.0), (-40.0, -25.0)}
    assert len(sharp) == 4 + vertices_on_axis
    assert corners <= set(map(tuple, sharp.round(9).tolist()))
    plain = solid(line_chain([(40 + lean, 0), (40, 25), (-40, 25), (-40, -25), (40, -25)]))
    # Bending 5 mm at 1° moves less than 5 · tan(1°) = 0.087 mm.
    assert deviation(whole, plain).worst_mm <= (0.087 if done == "bent" else 1e-9)


@pytest.mark.parametrize("gap", [0.3, -0.3, 1.5, -1.5])
def test_ends_beside_the_axis_are_put_on_it(gap: float) -> None:
    """Short of it (gap > 0) or beyond it: the whole lies within the gap of what was drawn."""
    half = line_chain([(40, gap), (40, 25), (-40, 25), (-40, 0)], closed=False)
    whole, (first, _) = doubled([half])
    assert first.gap_mm == pytest.approx(abs(gap))
    assert whole.area == pytest.approx(80 * 50, rel=1e-9)
    leaning = line_chain([(50, gap), (40, 25), (-40, 25), (-40, 0)], closed=False)
    done, end = ended(leaning.reversed())
    assert end.done == "corner"
    assert done.xy[-1, 1] == 0.0
    # It goes on along its own line: (50, gap) + t · (10, gap − 25).
    assert done.xy[-1, 0] == pytest.approx(50 + 10 * gap / (25 - gap), abs=0.01)


def test_halves_within_halves_are_holes() -> None:
    """A ring drawn as two half circles; beside it a hole off the axis comes out on both sides."""
    outer = chain([(50, 0), (-50, 0)], [1.0, 0.0], closed=False)
    inner = chain([(20, 0), (-20, 0)], [1.0, 0.0], closed=False)
    whole, _ = doubled([outer, inner], [circle(0, 35, 5)])
    (part,) = whole.parts
    assert len(part.holes) == 3
    assert whole.area == pytest.approx(math.pi * (2500 - 400 - 2 * 25))
    with pytest.raises(ValueError, match="cross"):
        doubled([outer, chain([(60, 0), (20, 0)], [1.0, 0.0], closed=False)])


@pytest.mark.parametrize("side", [1, -1])
def test_a_symmetric_shape_is_made_of_either_half(side: int) -> None:
    """Body W and a plate with a hole on the axis and one beside it come back as they were."""
    holes = (circle(0, 0, 8).reversed(), circle(20, 15, 4).reversed(), circle(20, -15, 4).reversed())
    plate = region([Part(rectangle(90, 60, 6), holes)])
    for shape in (body_w(), plate):
        made, _ = doubled(*halves_of(shape, side))
        assert deviation(made, shape).worst_mm < 1e-9
        assert sorted(len(c) for c in made.contours) == sorted(len(c) for c in shape.contours)


# -- midway --------------------------------------------------------------------------------------
def test_midway_between_two_circles() -> None:
    """Circles of 40 and 41 about one centre: the circle of 40.5, 1 mm apart in the mean and at most."""
    middle = midway([circle(0, 0, 40)], [circle(0, 0, 41)])
    (c,) = middle.contours
    assert middle.mean_mm == pytest.approx(1.0)
    assert middle.worst_mm == pytest.approx(1.0)
    assert deviation(solid(c), solid(circle(0, 0, 40.5))).worst_mm < 1e-4
    assert np.degrees(np.abs(breaks(c))).max() < 0.1


def test_midway_between_two_rectangles_has_corners() -> None:
    """60 × 40 and 62 × 42 give 61 × 41, with its four corners."""
    middle = midway([rectangle(60, 40)], [rectangle(62, 42)])
    (c,) = middle.contours
    assert deviation(solid(c), solid(rectangle(61, 41))).worst_mm < 1e-3
    assert int(np.sum(np.degrees(np.abs(breaks(c))) > 45)) == 4


def test_equal_lines_stay_as_they_are() -> None:
    """Nothing is refitted where both agree; a line is missing where there is none."""
    body = body_w().contours[0]
    assert midway([body], [body]).contours == (body,)
    with pytest.raises(ValueError, match="missing"):
        midway([body], [])


def test_mean_of_a_shifted_body() -> None:
    """A body whose axis stands 0.4 mm above x: halves 0.8 mm apart where the edge is level; the mean is the body
    on the axis, with each half 0.4 off there."""
    body = shift(0, 0.4).region(body_w())
    upper, above = halves_of(body, 1)
    lower, below = halves_of(body, -1)
    middle = midway([*upper, *above], [mirror_x_axis().contour(c) for c in (*lower, *below)])
    assert middle.worst_mm == pytest.approx(0.8, abs=0.01)
    whole, ends = doubled(middle.contours)
    assert deviation(whole, body_w()).worst_mm < 0.02
    assert whole.area == pytest.approx(Region(body.parts).area, rel=2e-5)
    assert all(e.gap_mm < 1e-9 for e in ends)
