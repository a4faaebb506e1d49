"""Curves become exact lines and arcs, or chains within CURVE_MM of the mathematical curve."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.geometry.curves import CURVE_MM, SMOOTH_DEG, Arc, Cubic, EllipseArc, Line, contour, quadratic
from tests.geometry.outlines import breaks_deg, farthest, peanut, random_outline, sampled

ELLIPSE = EllipseArc((0, 0), (200, 130), 0, 0, 360)


def test_ellipse() -> None:
    """G1: semi-axes 200 × 130, area 81681.4089933, perimeter 1048.42071991."""
    c = contour([ELLIPSE], True)
    assert abs(c.area - 81681.4089933) <= 1048.42 * CURVE_MM / 5
    assert c.length == pytest.approx(1048.42071991, abs=1e-5)
    assert breaks_deg(c).max() < 1e-6
    assert c.free.all()
    assert c.bounds == pytest.approx((-200, -130, 200, 130), abs=CURVE_MM)


def test_peanut() -> None:
    """G3: ρ = 100 + 40 cos 2t, area 10800π = 33929.2006588, perimeter 722.092561475."""
    c = contour(peanut(), True)
    assert abs(c.area - 33929.2006588) <= 722.1 * CURVE_MM / 5
    assert c.length == pytest.approx(722.092561475, abs=1e-4)
    assert breaks_deg(c).max() < 1e-6


def test_ellipse_turned_and_clockwise() -> None:
    """Turning and running the other way round change only orientation and bounds (M6)."""
    c = contour([EllipseArc((10, -20), (200, 130), 30, 360, 0)], True)
    assert c.area == pytest.approx(-81681.4089933, abs=0.01)
    half = math.hypot(200 * math.cos(math.radians(30)), 130 * math.sin(math.radians(30)))
    assert c.bounds[2] == pytest.approx(10 + half, abs=CURVE_MM)


def test_circle_of_four_cubics() -> None:
    """B1, B3: handles 4(√2 − 1)/3 give a radius up to 1.000272530 and the area 3.14247233266 r²."""
    k = 300 * 4 * (math.sqrt(2) - 1) / 3
    corners = [(300, 0), (0, 300), (-300, 0), (0, -300)]
    segments = [
        Cubic(p, (p[0] - p[1] / 300 * k, p[1] + p[0] / 300 * k), (q[0] + q[1] / 300 * k, q[1] - q[0] / 300 * k), q)
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
    ]
    c = contour(segments, True)
    assert c.area == pytest.approx(3.14247233266 * 300**2, abs=2 * math.pi * 300 * CURVE_MM)
    radii = np.hypot(*c.flatten(1e-6)[0].T)
    assert radii.max() == pytest.approx(300 * 1.000272530, abs=2 * CURVE_MM)
    assert radii.min() == pytest.approx(300, abs=2 * CURVE_MM)


@pytest.mark.parametrize("phi_deg", [30, 45, 60, 90, 120])
def test_arc_of_one_cubic(phi_deg: float) -> None:
    """B4: a cubic for an arc of angle φ, handle 4/3 tan(φ/4), is too wide by the tabled share."""
    wide = {30: 3.7266e-7, 45: 4.2455e-6, 60: 2.38643e-5, 90: 2.72529e-4, 120: 1.54202e-3}[int(phi_deg)]
    r, phi = 1000.0, math.radians(phi_deg)
    k = 4 / 3 * math.tan(phi / 4)
    x, y = math.cos(phi), math.sin(phi)
    cubic = Cubic((r, 0), (r, k * r), (r * (x + k * y), r * (y - k * x)), (r * x, r * y))
    radii = np.hypot(*contour([cubic], False).flatten(1e-6)[0].T)
    assert radii.max() - r == pytest.approx(wide * r, rel=1e-4, abs=2 * CURVE_MM)


def test_circle_stays_a_circle() -> None:
    """An ellipse with equal axes is true arcs, whole or in part, not free."""
    c = contour([EllipseArc((3, 4), (5, 5), 17, 0, 360)], True)
    assert len(c) == 2
    assert not c.free.any()
    assert c.circle() == pytest.approx((3, 4, 5), abs=1e-12)
    part = contour([EllipseArc((0, 0), (5, 5), 0, 90, -180)], False)
    assert part.length == pytest.approx(5 * math.radians(270), rel=1e-12)
    assert not part.free.any()


def test_lines_and_arcs_pass_through() -> None:
    """Lines and arcs come out with the numbers they came with."""
    c = contour([Line((0, 0), (10, 0)), Arc((10, 0), (10, 6), 1.0), Line((10, 6), (0, 6))], True)
    assert c.xy.tolist() == [[0, 0], [10, 0], [10, 6], [0, 6]]
    assert c.bulge.tolist() == [0, 1, 0, 0]
    assert not c.free.any()


def test_arc_past_half_a_turn() -> None:
    """B5: a bulge of 2.41421356237 is 270°; it is cut in two, on the same circle."""
    c = contour([Arc((5, 0), (0, -5), math.tan(math.radians(270 / 4)))], False)
    assert c.length == pytest.approx(5 * math.radians(270), rel=1e-12)
    assert np.hypot(*c.xy.T) == pytest.approx([5, 5, 5], rel=1e-12)


@pytest.mark.parametrize("handles", [(1, 2), (0, 3), (0, 0), (3, 3), (0.5, 0.6)])
def test_straight_cubic_is_a_line(handles: tuple[float, float]) -> None:
    """Handles on the chord: one line, not free."""
    a, b = handles
    c = contour([Cubic((0, 0), (a * 10, a * 5), (b * 10, b * 5), (30, 15))], False)
    assert c.xy.tolist() == [[0, 0], [30, 15]]
    assert not c.free.any()


def test_straight_cubic_that_overshoots() -> None:
    """Handles (−30, 90) on a chord of 60: extremes where B' = 0, there and back on the same line."""
    c = contour([Cubic((0, 0), (-30, 0), (90, 0), (60, 0))], False)
    t = np.linspace(0, 1, 100_001)
    x = 3 * t * (1 - t) ** 2 * -30 + 3 * t * t * (1 - t) * 90 + t**3 * 60
    assert c.xy[:, 0] == pytest.approx([0, x.min(), x.max(), 60], abs=1e-6)
    assert not c.free.any()


def test_quadratic() -> None:
    """A parabola y = x²/100 over ±50: area under it by Archimedes, 2/3 of the triangle's box."""
    c = contour([quadratic((-50, 25), (0, -25), (50, 25)), Line((50, 25), (-50, 25))], True)
    assert c.area == pytest.approx(2 / 3 * 100 * 25, abs=0.01)
    assert c.bounds[1] == pytest.approx(0, abs=CURVE_MM)


def test_corner_stays() -> None:
    """A break of more than 0.1° stays a corner exactly at the drawn point."""
    bend = math.radians(0.2)
    tip = (50.0, 0.0)
    first = Cubic((0, 20), (20, 0), (40, 0), tip)
    second = Cubic(tip, (60, 10 * math.tan(bend)), (80, 30), (100, 30))
    c = contour([first, second], False)
    k = int(np.argmin(np.hypot(*(c.xy - tip).T)))
    assert c.xy[k].tolist() == list(tip)
    assert breaks_deg(c)[k - 1] == pytest.approx(0.2, abs=1e-6)
    assert np.delete(breaks_deg(c), k - 1).max() < 1e-6


@pytest.mark.parametrize("other", ["line", "arc", "cubic"])
def test_small_break_is_made_smooth(other: str) -> None:
    """Neighbours 0.09° off meet tangentially; a line's or arc's own tangent rules; the curve is kept."""
    bend = math.radians(0.09)
    tip = (50.0, 0.0)
    before = {
        "line": Line((0, 0), tip),
        "arc": Arc((50 - 40 * math.sin(1), 40 - 40 * math.cos(1)), tip, math.tan(1 / 4)),
        "cubic": Cubic((0, 20), (20, 0), (40, 0), tip),
    }[other]
    after = Cubic(tip, (50 + 10 * math.cos(bend), 10 * math.sin(bend)), (80, 30), (100, 30))
    c = contour([before, after], False)
    k = int(np.argmin(np.hypot(*(c.xy - tip).T)))
    assert breaks_deg(c).max() < 1e-6
    slope = c.tangents()[0][k]
    turned = 0.045 if other == "cubic" else 0.0
    assert math.degrees(math.atan2(slope[1], slope[0])) == pytest.approx(turned, abs=1e-6)
    dense = sampled(after, 40_000)
    assert farthest(dense, c.flatten(1e-7)[0]) <= CURVE_MM


def test_short_handle_has_no_hook() -> None:
    """A handle of 0.001 mm at a right angle turns nothing: the curve leaves along its own way, smoothly."""
    c = contour([Line((-20, 0), (0, 0)), Cubic((0, 0), (0, 0.001), (30, 0), (60, 20))], False)
    assert breaks_deg(c)[0] <= 1e-6


def test_cusp_is_a_corner() -> None:
    """The cubic (0,0) (60,60) (0,60) (60,0)·… with B' = 0 at ½ turns back by 180° in one vertex."""
    cubic = Cubic((0, 0), (100, 100), (0, 100), (100, 0))
    c = contour([cubic], False)
    tip = np.array([50.0, 75.0])
    k = int(np.argmin(np.hypot(*(c.xy - tip).T)))
    assert np.hypot(*(c.xy[k] - tip)) < 1e-9
    found = breaks_deg(c)
    assert found[k - 1] == pytest.approx(180, abs=0.5)
    assert np.delete(found, k - 1).max() < 1e-5
    assert farthest(sampled(cubic), c.flatten(1e-7)[0]) <= CURVE_MM


def test_what_has_no_length_is_dropped() -> None:
    """Zero-length segments and coincident points vanish; a gap that is left gets its line when closed."""
    c = contour(
        [
            Line((0, 0), (0, 0)),
            Line((0, 0), (10, 0)),
            Cubic((10, 0), (10, 0), (10, 0), (10, 0)),
            Arc((10, 0), (10, 0), 1.0),
            Line((10, 0), (10, 10)),
            EllipseArc((10, 10), (0, 0), 0, 0, 360),
        ],
        True,
    )
    assert c.xy.tolist() == [[0, 0], [10, 0], [10, 10]]


def test_retraced_spike() -> None:
    """There and back on the same line is kept as drawn."""
    c = contour([Line((0, 0), (10, 0)), Line((10, 0), (5, 0)), Line((5, 0), (5, 5))], True)
    assert len(c) == 4
    assert c.area == pytest.approx(12.5)


def test_flat_ellipse_is_a_line() -> None:
    """An ellipse without height runs to its tips and back."""
    c = contour([EllipseArc((0, 0), (10, 0), 0, 0, 360)], False)
    assert c.xy == pytest.approx(np.array([[10, 0], [-10, 0], [10, 0]]), abs=1e-12)


@pytest.mark.parametrize(
    ("segment", "says"),
    [
        (Line((0, 0), (math.nan, 1)), "a coordinate that is not a number"),
        (Cubic((0, 0), (math.inf, 1), (2, 2), (3, 3)), "a coordinate that is not a number"),
        (Arc((0, 0), (1, 1), math.nan), "bulge is not a number"),
        (EllipseArc((0, 0), (1, 2), math.inf, 0, 90), "an angle that is not a number"),
        (EllipseArc((0, 0), (1, -2), 0, 0, 90), "a negative axis"),
        (EllipseArc((0, 0), (1, 2), 0, 0, 500), "round more than once"),
        (Line((0, 0), (1e9, 1)), "at most 1000000 mm"),
        (Arc((0, 0), (1, 0), 1e9), "radius is too large"),
        (Line((5, 5), (5, 5)), "the path has no length"),
    ],
)
def test_hostile_numbers(segment: Line, says: str) -> None:
    """What can't be drawn is refused in a plain sentence."""
    with pytest.raises(ValueError, match=says):
        contour([segment], False)


def test_path_that_breaks_off() -> None:
    """Segments that don't join are refused with both places."""
    with pytest.raises(ValueError, match=r"breaks off at \(1.000, 0.000\) and goes on at \(2.000, 0.000\)"):
        contour([Line((0, 0), (1, 0)), Line((2, 0), (3, 0))], True)


number = st.one_of(st.integers(-3, 3).map(lambda v: v * 20.0), st.floats(-100, 100))
point = st.tuples(number, number)


@given(point, point, point, point)
@example((0.0, 0.0), (0.0, 0.0), (50.0, 20.0), (60.0, 0.0))
@example((0.0, 0.0), (100.0, 100.0), (1e-7, 100.0), (100.0, 0.0))
@example((0.0, 0.0), (60.0, 40.0), (-60.0, 40.0), (0.0, 0.0))
@example((2.5e-5, -9.911e-4), (1.015e-5, -9.857e-4), (3.066e-5, -1.018e-3), (1.028e-3, -1.022e-3))
@settings(deadline=None, max_examples=30)
def test_any_cubic(p0: object, p1: object, p2: object, p3: object) -> None:
    """Any cubic is followed within CURVE_MM, both ways, with turning back only at cusps."""
    cubic = Cubic(p0, p1, p2, p3)  # type: ignore[arg-type]  # hypothesis draws pairs of floats
    reach = max(math.dist(cubic.p0, p) for p in (cubic.p1, cubic.p2, cubic.p3))
    if reach <= 1e-6:
        return
    c = contour([cubic], False)
    flat, dense = c.flatten(1e-5)[0], sampled(cubic, 8000)
    assert farthest(dense, flat) <= CURVE_MM + 1.1e-5
    assert farthest(flat, dense) <= 2 * CURVE_MM  # 8000 chords of the true curve have a sagitta
    assert len(c) < 1500


@given(st.floats(0.01, 300), st.floats(1e-4, 1), st.floats(-180, 180), st.floats(-360, 360), st.floats(-360, 360))
@settings(deadline=None, max_examples=20)
def test_any_ellipse(a: float, ratio: float, turn: float, start: float, sweep: float) -> None:
    """Any part of any ellipse, thin ones too, is followed within CURVE_MM."""
    s = EllipseArc((5, -7), (a, a * ratio), turn, start, start + sweep)
    if abs(sweep) * a < 1e-2:
        return
    c = contour([s], False)
    flat, dense = c.flatten(1e-5)[0], sampled(s, 8000)
    assert farthest(dense, flat) <= CURVE_MM + 1.1e-5
    assert farthest(flat, dense) <= 2 * CURVE_MM


@given(st.integers(0, 100_000))
@settings(deadline=None, max_examples=12)
def test_outlines(seed: int) -> None:
    """Body-sized outlines: smooth where drawn smooth, a few hundred arcs, the ends of cubics are vertices."""
    segments = random_outline(seed)
    c = contour(segments, True)
    assert breaks_deg(c).max() < 1e-5
    assert 300 <= len(c) <= 1000
    vertices = {tuple(v) for v in c.xy.tolist()}
    assert all(s.p0 in vertices for s in segments if isinstance(s, Cubic))
    assert SMOOTH_DEG == 0.1


def test_speed() -> None:
    """A body-sized outline takes some milliseconds; ten times the stated 10 ms is certainly a fault."""
    segments = random_outline(1)
    contour(segments, True)
    start = time.process_time()
    contour(segments, True)
    assert time.process_time() - start < 0.1
