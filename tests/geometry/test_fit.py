"""The export form: few arcs, smooth where the source is smooth, within the tolerance both ways."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.curves import CURVE_MM, SMOOTH_DEG, Arc, Cubic, EllipseArc, Line, contour
from pipeline.geometry.deviation import deviation
from pipeline.geometry.fit import fitted
from pipeline.geometry.region import Part, region
from pipeline.geometry.shapes import circle, rectangle
from tests.geometry.greedy import arc_count
from tests.geometry.outlines import breaks_deg, peanut, random_outline, seeds

ELLIPSE = EllipseArc((0, 0), (200, 130), 0, 0, 360)


def loose_count(c: Contour, start: Floats, tolerance: float) -> int:
    """Arcs of a greedy fit whose tangents needn't meet (`greedy.py`), from the same start."""
    points = c.flatten(2e-6)[0]
    k = int(np.argmin(np.hypot(*(points - start).T)))
    points = np.roll(points, -k, axis=0)
    return arc_count(np.vstack([points, points[:1]]), tolerance - CURVE_MM)


@pytest.mark.parametrize(
    ("source", "area", "perimeter"),
    [([ELLIPSE], 81681.4089933, 1048.42071991), (peanut(), 33929.2006588, 722.092561475)],
    ids=["ellipse", "peanut"],
)
def test_theorem_shapes(source: list[EllipseArc], area: float, perimeter: float) -> None:
    """G1, G3: the fit's area is right within 0.2 · tolerance · perimeter; its tangents meet."""
    fine = contour(source, True)
    c = fitted(fine)
    assert abs(c.area - area) <= 0.2 * 0.005 * perimeter
    assert c.length == pytest.approx(perimeter, abs=2 * math.pi * 0.005)  # Steiner: P(r) = P + 2πr
    assert breaks_deg(c).max() < SMOOTH_DEG
    assert deviation(fine, c).worst_mm <= 0.005 - CURVE_MM
    assert len(c) <= 1.6 * loose_count(fine, c.xy[0], 0.005)


def test_error_falls_with_the_cube_of_the_length() -> None:
    """B8: an eighth of the tolerance (less what the chains take of it) takes twice the arcs."""
    fine = [contour(random_outline(seed), True) for seed in range(5)]
    coarse, close = (sum(len(fitted(c, t + 5.2e-5)) for c in fine) for t in (0.004, 0.0005))
    assert close / coarse == pytest.approx(2, abs=0.3)


@given(seeds)
@settings(deadline=None, max_examples=12)
def test_smooth_outlines(seed: int) -> None:
    """Within the tolerance both ways, smooth, and at most 1.6 times the arcs of a fit that isn't smooth."""
    fine = contour(random_outline(seed), True)
    c = fitted(fine)
    assert deviation(fine, c).worst_mm <= 0.005 - CURVE_MM
    assert breaks_deg(c).max() < SMOOTH_DEG
    assert math.copysign(1, c.area) == math.copysign(1, fine.area)
    assert len(c) <= 1.6 * loose_count(fine, c.xy[0], 0.005) + 2
    chords = np.hypot(*(c.ends - c.starts).T)
    assert chords.min() > 0.01


@given(seeds)
@settings(deadline=None, max_examples=8)
def test_corners(seed: int) -> None:
    """Every corner of the source is a corner of the fit, to 1e-6 mm; there are no others."""
    fine = contour(random_outline(seed, corners=True), True)
    c = fitted(fine)
    corners = fine.xy[breaks_deg(fine) > SMOOTH_DEG]
    kept = c.xy[breaks_deg(c) > SMOOTH_DEG]
    assert len(corners) == len(kept) > 0
    for p in corners:
        assert np.hypot(*(kept - p).T).min() < 1e-6
    assert deviation(fine, c).worst_mm <= 0.005 - CURVE_MM


@pytest.mark.parametrize("tolerance", [0.0005, 0.002, 0.02, 0.1])
def test_other_tolerances(tolerance: float) -> None:
    fine = contour(random_outline(3), True)
    c = fitted(fine, tolerance)
    assert deviation(fine, c).worst_mm <= tolerance - CURVE_MM
    assert breaks_deg(c).max() < SMOOTH_DEG


@pytest.mark.parametrize("tolerance", [0.0, 5e-5, -1.0, math.nan])
def test_tolerance_too_small(tolerance: float) -> None:
    """Finer than the chains themselves can't be promised."""
    with pytest.raises(ValueError, match="is too small"):
        fitted(contour([ELLIPSE], True), tolerance)


def test_lines_and_arcs_stay() -> None:
    """An outline of lines and arcs comes out as it is, number for number."""
    c = rectangle(80, 50, 8)
    f = fitted(c)
    assert np.array_equal(f.xy, c.xy)
    assert np.array_equal(f.bulge, c.bulge)


def test_free_between_drawn() -> None:
    """Between a line and an arc that it joins smoothly a curve takes their tangents; they don't change."""
    arc = Arc((100, 50), (20, 50), 1.0)
    source = [
        Line((20, 50), (20, 0)),
        Line((20, 0), (60, 0)),
        Cubic((60, 0), (90, 0), (100, 20), (100, 50)),
        arc,
    ]
    fine = contour(source, True)
    c = fitted(fine)
    assert c.xy[:2].tolist() == [[20, 50], [20, 0]]
    assert c.xy[-1].tolist() == [100, 50]
    assert c.bulge[-1] == 1.0
    assert c.free.tolist() == [False, False, *[True] * (len(c) - 3), False]
    found = breaks_deg(c)
    assert found[1] == pytest.approx(90)
    assert np.delete(found, 1).max() < SMOOTH_DEG


def test_start_is_where_a_run_begins() -> None:
    """Wherever the fine chain starts, the fit has the same vertices."""
    fine = contour(random_outline(5, corners=True), True)
    a, b = fitted(fine), fitted(fine.rolled(101))
    assert sorted(a.xy.round(9).tolist()) == sorted(b.xy.round(9).tolist())


def test_loop_start_is_its_sharpest_point() -> None:
    """An ellipse is taken up at the end of its long axis."""
    c = fitted(contour([ELLIPSE], True))
    assert np.abs(c.xy[0]) == pytest.approx([200, 0], abs=1e-6)


def test_open_chain() -> None:
    """An open chain keeps both ends exactly."""
    fine = contour([Cubic((0, 0), (50, 80), (100, -80), (150, 0)), Line((150, 0), (200, 0))], False)
    c = fitted(fine)
    assert not c.closed
    assert c.xy[0].tolist() == [0, 0]
    assert c.xy[-1].tolist() == [200, 0]
    assert deviation(fine, c).worst_mm <= 0.005


def test_nearly_straight_becomes_lines() -> None:
    """Radii over 5000 mm become lines only where no tangent breaks by more than 0.1°."""
    bow = [
        Cubic((0, 0), (100, 0.005), (200, 0.005), (300, 0)),
        Line((300, 0), (300, 80)),
        Line((300, 80), (0, 80)),
    ]
    c = fitted(contour(bow, True))
    assert np.all(c.bulge == 0)
    assert deviation(contour(bow, True), c).worst_mm <= 0.005
    shallow = [Cubic((0, 0), (20, 0.4), (40, 0.4), (60, 0)), Line((60, 0), (60, 80)), Line((60, 80), (0, 80))]
    assert np.any(fitted(contour(shallow, True)).bulge != 0)


@pytest.mark.parametrize("handle", [(0.018, 0.004), (-0.011, 0.012), (-0.002, -0.003)])
def test_stray_handle(handle: tuple[float, float]) -> None:
    """A handle of some hundredths that bends nothing visible leaves no vertices that are one when written."""
    fine = contour([Cubic((-0.011, 0.0065), handle, (50.0024, 20.0056), (50.0, 20.0))], False)
    c = fitted(fine)
    assert np.hypot(*(c.ends - c.starts).T).min() > 1e-5
    assert deviation(fine, c).worst_mm <= 0.005 - CURVE_MM


def test_piece_of_one_arc() -> None:
    """A run that is one arc, as a boolean may leave it, comes out as that arc."""
    c = Contour(
        np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]),
        np.array([0.2, 0, 0]),
        np.array([True, False, False]),
        True,
    )
    f = fitted(c)
    assert len(f) == 3
    assert f.bulge[0] == pytest.approx(0.2, rel=1e-12)


def test_region() -> None:
    """Parts and holes are fitted one by one; a drawn hole stays a circle."""
    r = region([Part(contour([ELLIPSE], True), (circle(0, 0, 20),))])
    f = fitted(r)
    assert f.parts[0].holes[0].circle() == pytest.approx((0, 0, 20), abs=1e-12)
    assert abs(f.area - r.area) < 0.2 * 0.005 * r.perimeter
    assert deviation(r, f).worst_mm <= 0.005


def test_same_input_same_bytes() -> None:
    fine = contour(random_outline(9), True)
    a, b = fitted(fine), fitted(fine)
    assert a.xy.tobytes() == b.xy.tobytes()
    assert a.bulge.tobytes() == b.bulge.tobytes()
