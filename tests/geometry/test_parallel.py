"""Parallels, lines bent more, and stretches: against circles by hand and GEOS's distances."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.parallel import Bends, TooTight, bends, extended, laid, parallel, rebent, stretch
from pipeline.geometry.shapes import circle, rectangle


def arc(radius: float, degrees: float) -> Contour:
    """An arc from (radius, 0) about the origin, left for positive degrees."""
    a = math.radians(abs(degrees))
    end = radius * math.cos(a), math.copysign(radius * math.sin(a), degrees)
    return chain([(radius, 0.0), end], [math.tan(math.radians(degrees) / 4), 0.0], closed=False)


def smooth(pairs: list[tuple[float, float]]) -> Contour:
    """Segments of (length, turn) that meet tangentially."""
    lengths, turns = (np.array(v) for v in zip(*pairs, strict=True))
    n = len(pairs)
    return laid(
        Bends(
            lengths=lengths,
            turns=turns,
            joints=np.zeros(n),
            free=np.zeros(n, dtype=np.bool_),
            start=(3.0, -2.0),
            heading=0.4,
        )
    )


gentle = st.lists(
    st.tuples(st.floats(5, 80), st.floats(-0.6, 0.6).map(lambda v: 0.0 if abs(v) < 1e-3 else v)),
    min_size=1,
    max_size=6,
)


def test_laid_is_the_inverse_of_bends() -> None:
    c = smooth([(30.0, 0.0), (40.0, 1.1), (25.0, -0.4), (10.0, 0.0)])
    again = laid(bends(c))
    assert np.abs(again.xy - c.xy).max() < 1e-11
    assert np.abs(again.bulge - c.bulge).max() < 1e-12


@pytest.mark.parametrize("by", [10.0, -10.0])
def test_a_parallel_of_an_arc_is_an_arc_about_the_same_centre(by: float) -> None:
    """To the left of an anticlockwise arc lies its centre: R − d; its length is θ(R − d)."""
    made = parallel(arc(100.0, 70.0), by)
    assert np.hypot(*made.xy.T) == pytest.approx([100.0 - by] * 2, abs=1e-9)
    assert made.length == pytest.approx(math.radians(70.0) * (100.0 - by), abs=1e-9)


@given(gentle, st.floats(-7.0, 7.0))
def test_every_point_of_a_parallel_lies_at_its_distance(pairs: list[tuple[float, float]], by: float) -> None:
    """GEOS measures from the flattened line; the parallel's own length is L − d·θ (parallel curves, Steiner)."""
    c = smooth(pairs)
    b = bends(c)
    radii = [n / abs(t) for n, t in zip(b.lengths, b.turns, strict=True) if t * by > 0]
    if min(radii, default=math.inf) <= abs(by):
        with pytest.raises(TooTight):
            parallel(c, by)
        return
    made = parallel(c, by)
    assert made.length == pytest.approx(c.length - by * bends(c).total_turn, abs=1e-7)
    leaves, _ = c.tangents()
    normal = np.array([-leaves[0, 1], leaves[0, 0]])
    assert made.xy[0] == pytest.approx(c.xy[0] + by * normal, abs=1e-9)
    line = shapely.LineString(c.flatten(1e-5)[0])
    points = shapely.points(made.flatten(1e-4)[0])
    far = shapely.distance(line, points)
    assert far.max() <= abs(by) + 2e-4  # nearer only where another stretch comes near


def test_a_parallel_inside_a_tight_bend_is_refused_with_its_radius_and_place() -> None:
    with pytest.raises(TooTight) as caught:
        parallel(arc(8.0, 90.0), 9.0)
    assert caught.value.radius_mm == pytest.approx(8.0)
    assert caught.value.at == pytest.approx((8 * math.cos(math.pi / 4), 8 * math.sin(math.pi / 4)))


def test_a_small_break_of_the_tangent_stays_a_mitre() -> None:
    """Two lines that meet at δ: the parallels meet at the tip, d/cos(δ/2) from the corner."""
    turn = math.radians(0.3)
    c = line_chain([(0, 0), (50, 0), (50 + 50 * math.cos(turn), 50 * math.sin(turn))], closed=False)
    made = parallel(c, -10.0)
    assert math.dist(made.xy[1], (50.0, 0.0)) == pytest.approx(10.0 / math.cos(turn / 2), abs=1e-12)
    assert made.xy[0] == pytest.approx([0.0, -10.0])


def test_a_closed_parallel_of_a_rounded_rectangle_is_one() -> None:
    made = parallel(rectangle(80.0, 50.0, 12.0), -5.0)
    assert made.closed
    assert made.area == pytest.approx(90.0 * 60.0 - (4 - math.pi) * 17.0**2)
    ring = parallel(circle(4.0, 1.0, 20.0), 3.0).circle()
    assert ring == pytest.approx((4.0, 1.0, 17.0))


@given(gentle, st.floats(1.0, 1.4))
def test_bending_more_keeps_the_length_and_the_middle_and_scales_the_turn(
    pairs: list[tuple[float, float]], factor: float
) -> None:
    c = smooth(pairs)
    made = rebent(c, factor)
    assert made.length == pytest.approx(c.length, rel=1e-12)
    assert bends(made).total_turn == pytest.approx(factor * bends(c).total_turn, abs=1e-9)
    assert bends(made).curvatures == pytest.approx(factor * bends(c).curvatures, abs=1e-9)
    half = c.length / 2
    one, two = (stretch(v, half, v.length) for v in (c, made))
    assert one.xy[0] == pytest.approx(two.xy[0], abs=1e-8)
    assert one.tangents()[0][0] == pytest.approx(two.tangents()[0][0], abs=1e-8)


def test_a_stretch_of_a_circle_past_its_start() -> None:
    """From three quarters round to a quarter: a half circle through (R, 0)."""
    c = circle(0.0, 0.0, 10.0)
    quarter = math.pi * 5.0
    made = stretch(c, 3 * quarter, quarter)
    assert not made.closed
    assert made.length == pytest.approx(2 * quarter)
    assert made.xy[0] == pytest.approx([0.0, -10.0], abs=1e-9)
    assert made.xy[-1] == pytest.approx([0.0, 10.0], abs=1e-9)
    assert made.bounds[2] == pytest.approx(10.0)
    with pytest.raises(ValueError, match="nothing lies between"):
        stretch(arc(10.0, 30.0), 4.0, 4.0)


def test_an_extended_line_goes_straight_on() -> None:
    made = extended(arc(10.0, 90.0), 7.0)
    assert made.xy[0] == pytest.approx([10.0, -7.0])
    assert made.xy[-1] == pytest.approx([-7.0, 10.0])
    assert made.length == pytest.approx(14.0 + 5 * math.pi)
