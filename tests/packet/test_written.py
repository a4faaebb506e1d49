"""What goes into a file: rounded, still closed, no segment without length, circles as circles."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle, rectangle
from pipeline.packet.written import Circle, written

small = st.floats(-2e-6, 2e-6)


@given(st.lists(st.tuples(st.floats(-900, 900), st.floats(-900, 900)), min_size=3, max_size=12), small, small)
def test_rounding_keeps_contours_closed_and_their_segments_long(
    points: list[tuple[float, float]], dx: float, dy: float
) -> None:
    """Also when vertices lie so close that rounding makes them one."""
    doubled = [q for x, y in points for q in ((x, y), (x + dx, y + dy))]
    raw = chain(doubled, [0.0] * len(doubled))
    try:
        made = written(raw)
    except ValueError:
        assert len({(round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in doubled}) < 3
        return
    assert isinstance(made, Contour)
    assert made.closed
    assert (np.abs(made.xy - np.round(made.xy, 6)) == 0).all()
    assert not (np.signbit(made.xy) & (made.xy == 0)).any()
    assert np.hypot(*(made.ends - made.starts).T).min() >= 0.99e-6
    # Moving each vertex by at most half a unit of the last place along each axis: |ΔA| ≤ P · ½·10⁻⁶·√2 (+ noise).
    assert abs(made.area - raw.area) <= raw.length * 2.2e-6 + 1e-6


def test_a_full_circle_becomes_a_circle() -> None:
    assert written(circle(1.23456789, -2.0, 3.3333333)) == Circle(1.234568, -2.0, 3.333333)


def test_a_hole_drawn_clockwise_is_a_circle_too() -> None:
    assert written(circle(0, 0, 4).reversed()) == Circle(0.0, 0.0, 4.0)


def test_an_arc_of_almost_a_full_turn_keeps_its_size() -> None:
    """A keyhole: an arc of 359.9° whose ends lie 0.026 apart would be thrown far off by rounding as one bulge."""
    r, gap = 15.0, math.radians(0.1)
    sweep = 2 * math.pi - gap
    ends = [(r * math.cos(a), r * math.sin(a)) for a in (gap / 2, -gap / 2)]
    outside = [(ends[1][0] + 5, ends[1][1]), (ends[0][0] + 5, ends[0][1])]
    made = written(chain([*ends, *outside], [math.tan(sweep / 4), 0, 0, 0]))
    assert isinstance(made, Contour)
    assert np.abs(made.bulge).max() < 2
    assert made.bounds[0] == pytest.approx(-r, abs=2e-6)
    assert made.area == pytest.approx(math.pi * r * r, rel=1e-2)


def test_an_arc_flatter_than_anyone_can_cut_is_a_line() -> None:
    """A bulge of 1e-10 on a chord of 1 m is 0.05 nm off."""
    made = written(chain([(0, 0), (1000, 0), (1000, 500)], [1e-10, 0.0, 0.2]))
    assert isinstance(made, Contour)
    assert made.bulge.tolist() == [0.0, 0.0, 0.2]


def test_what_has_no_extent_is_not_written() -> None:
    with pytest.raises(ValueError, match="extent"):
        written(chain([(0, 0), (1e-8, 0), (0, 1e-8)], [0.0] * 3))


def test_a_rectangle_is_as_it_was() -> None:
    made = written(rectangle(10, 20, 3))
    assert isinstance(made, Contour)
    assert len(made) == 8
    assert made.area == pytest.approx(200 - (4 - math.pi) * 9, abs=1e-6)
