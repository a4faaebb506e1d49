"""How far a contour moved, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.compare.measure import along_mm, apart, clock, spot, spread
from pipeline.compare.rigid import moved_alike, said
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.shapes import circle, rectangle
from pipeline.geometry.transform import shift, turn
from tests.compare.factory import hull_area


def body(big: float = 120.0, small: float = 42.0, x: float = 190.0, at: float = 20.0) -> Contour:
    """Body W as two lines and two arcs; each arc's bulge is tan of a quarter of its sweep."""
    a = math.acos((big - small) / (x - at))
    c, s = math.cos(a), math.sin(a)
    points = [
        (at + big * c, -big * s),
        (x + small * c, -small * s),
        (x + small * c, small * s),
        (at + big * c, big * s),
    ]
    return chain(points, [0.0, math.tan(a / 2), 0.0, math.tan((math.pi - a) / 2)])


def test_the_closed_form_is_that_of_the_trade() -> None:
    """Area of body W, trade.md head."""
    assert hull_area() == pytest.approx(55883.61, abs=0.005)
    assert body().area == pytest.approx(hull_area(), rel=1e-12)


def test_body_w_with_a_smaller_tail() -> None:
    """R 120 → 118: new − old = 0, old − new = 1274.6 mm², 2.000 inward (trade.md 12.3, oracle i)."""
    found = spread(body(), body(118.0))
    assert found.added_mm2 == 0.0
    assert found.removed_mm2 == pytest.approx(hull_area() - hull_area(118.0), abs=0.05)
    assert found.removed_mm2 == pytest.approx(1274.6, abs=0.05)
    assert found.inward.mm == pytest.approx(2.0, abs=1e-6)
    assert found.outward.mm < 1e-6
    assert clock(found.inward.at, (67.0, 0.0)) == "9 o'clock"


def test_body_w_with_its_tip_farther_out() -> None:
    """x 190 → 192: old − new = 0, new − old = 288.3 mm², 2.000 outward at the tip (trade.md 12.3, oracle ii)."""
    found = spread(body(), body(x=192.0))
    assert found.removed_mm2 == 0.0
    assert found.added_mm2 == pytest.approx(hull_area(x=192.0) - hull_area(), abs=0.05)
    assert found.added_mm2 == pytest.approx(288.3, abs=0.05)
    assert found.outward.mm == pytest.approx(2.0, abs=1e-6)
    assert found.outward.at == pytest.approx((234.0, 0.0), abs=1e-3)
    assert found.outward.other == pytest.approx((232.0, 0.0), abs=1e-3)
    assert found.inward.mm < 1e-6


@settings(max_examples=20)
@given(st.floats(5, 300), st.floats(0.01, 4))
def test_a_larger_circle_is_larger_all_round(radius: float, by: float) -> None:
    """Concentric circles: the same distance everywhere, so it is the rms too; the areas differ by π(R² − r²)."""
    found = spread(circle(3, -7, radius), circle(3, -7, radius + by))
    assert found.outward.mm == pytest.approx(by, abs=1e-6)
    assert found.rms_mm == pytest.approx(by, abs=1e-6)
    assert found.inward.mm == 0.0
    assert found.added_mm2 == pytest.approx(math.pi * ((radius + by) ** 2 - radius**2), rel=5e-3)
    back = spread(circle(3, -7, radius + by), circle(3, -7, radius))
    assert back.inward.mm == pytest.approx(by, abs=1e-6)
    assert back.outward.mm == 0.0


@settings(max_examples=20)
@given(st.floats(20, 200), st.floats(0.02, 3), st.floats(0, 6.28))
def test_a_shifted_circle(radius: float, by: float, angle: float) -> None:
    """A point at θ on the new circle lies | |p − c| − r | from the old one; its mean square by a sum over θ."""
    dx, dy = by * math.cos(angle), by * math.sin(angle)
    found = spread(circle(0, 0, radius), circle(dx, dy, radius))
    assert found.outward.mm == pytest.approx(by, abs=1e-6)
    assert found.inward.mm == pytest.approx(by, abs=1e-6)
    assert found.outward.at == pytest.approx(
        (dx + radius * math.cos(angle), dy + radius * math.sin(angle)), abs=0.05 * radius
    )
    t = np.linspace(0, 2 * math.pi, 20000, endpoint=False)
    away = np.hypot(dx + radius * np.cos(t), dy + radius * np.sin(t)) - radius
    assert found.rms_mm == pytest.approx(float(np.sqrt(np.mean(away**2))), rel=1e-3, abs=1e-6)
    move = moved_alike([(circle(0, 0, radius), circle(dx, dy, radius))], 1e-5)
    assert move is not None
    assert move.point(0.0, 0.0) == pytest.approx((dx, dy), abs=1e-9)


def test_a_horn_that_is_gone_counts_with_its_length() -> None:
    """A board with a horn of 6 × 40 on top, and without: 40 inward, though no point of the new edge lies farther
    than 3 from the old one (that is why both ways are measured)."""
    horn = line_chain([(0, 0), (100, 0), (100, 50), (53, 50), (53, 90), (47, 90), (47, 50), (0, 50)])
    plain = rectangle(100, 50, x=50, y=25)
    found = spread(horn, plain)
    assert found.inward.mm == pytest.approx(40.0, abs=1e-6)
    assert found.inward.at == pytest.approx((50.0, 90.0), abs=3.1)
    assert found.outward.mm == 0.0
    assert found.removed_mm2 == pytest.approx(240.0, abs=1e-6)
    assert spread(plain, horn).outward.mm == pytest.approx(40.0, abs=1e-6)


def test_what_is_under_the_noise_is_the_same() -> None:
    """Under 0.005 is nothing (trade.md 12.2), 0.005 is something."""
    assert spread(circle(0, 0, 10), circle(0.004, 0, 10)).is_same
    assert not spread(circle(0, 0, 10), circle(0.0052, 0, 10)).is_same
    assert spread(body(), body().reversed()).is_same
    assert spread(body(), body().rolled(2)).is_same


def test_an_open_line() -> None:
    """A slot's centreline 2 longer at one end; a closed measure is refused for it."""
    old, new = (line_chain([(0, 0), (x, 0)], closed=False) for x in (50.0, 52.0))
    assert apart(old, new).mm == pytest.approx(2.0, abs=1e-9)
    with pytest.raises(ValueError, match="closed"):
        spread(old, new)


def test_where_it_is_said() -> None:
    """Hours as seen from the front with +y up; arc length anticlockwise from the point nearest to the nut."""
    turns = [math.radians(30 * h) for h in range(12)]
    hours = [clock((10 * math.sin(t), 10 * math.cos(t)), (0, 0)) for t in turns]
    assert hours == ["12 o'clock", *(f"{h} o'clock" for h in range(1, 12))]
    for quarter in range(4):
        at = (5 + 20 * math.cos(quarter * math.pi / 2), 20 * math.sin(quarter * math.pi / 2))
        for c in (circle(5, 0, 20), circle(5, 0, 20).reversed()):
            assert along_mm(c, at) == pytest.approx(quarter * 10 * math.pi, abs=1e-3)
    assert spot((-0.001, 2.0)) == "(0.00, 2.00)"


@settings(max_examples=25)
@given(st.floats(-30, 30), st.floats(-40, 40), st.floats(-40, 40))
def test_a_turned_shape_is_known_again(degrees: float, dx: float, dy: float) -> None:
    """Any turn and shift of a shape without symmetry is found; one vertex off, and it is another shape."""
    shape = line_chain([(0, 0), (50, 3), (42, 28), (11, 33)])
    move = turn(degrees).then(shift(dx, dy))
    found = moved_alike([(shape, move.contour(shape))], 1e-6)
    assert found is not None
    assert found.point(50, 3) == pytest.approx(move.point(50, 3), abs=1e-5)
    other = line_chain([(0, 0), (50, 3), (42, 28), (11.5, 33)])
    assert moved_alike([(shape, move.contour(other))], 0.05) is None
    assert said(shift(0.4, -1.2)) == "+0.40 in x, -1.20 in y"
