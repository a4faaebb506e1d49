"""Ellipses as few arcs (outside_checks.md G1, B8, N26), counted against a yardstick and against theory."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry.curves import CURVE_MM, SMOOTH_DEG
from pipeline.geometry.deviation import deviation
from pipeline.geometry.fit import fitted
from tests.geometry.outlines import breaks_deg
from tests.geometry.test_fit import loose_count
from tests.intake.drawings import area

PAGE = 'width="800mm" height="800mm" viewBox="-400 -400 800 800"'


def in_theory(a: float, b: float, tolerance: float) -> float:
    """Least number of arcs, each with both ends on the ellipse, to the first order.

    Along a curve of curvature κ(s) an arc departs by κ'·(t³ − (h/2)² t)/6 on −h/2…h/2, at most κ' h³/(72 √3): so
    their lengths go as the cube root of 1/κ' (B8), and the count is ∫ (κ'/(72 √3 · tolerance))^⅓ ds.
    """
    t = (np.arange(40_000) + 0.5) * (2 * math.pi / 40_000)
    speed = np.hypot(a * np.sin(t), b * np.cos(t))
    slope = np.abs(3 * a * b * (a * a - b * b) * np.sin(t) * np.cos(t)) / speed**6  # dκ/ds of κ = ab / speed³
    return float(np.mean(np.cbrt(slope / (72 * math.sqrt(3) * tolerance)) * speed) * 2 * math.pi)


@pytest.mark.parametrize("turn", [0, 33])
@pytest.mark.parametrize(("a", "b"), [(200, 130), (100, 20), (30, 25), (220, 200)])
@pytest.mark.parametrize("tolerance", [0.005, 0.001])
def test_an_ellipse_is_few_arcs(a: float, b: float, turn: float, tolerance: float) -> None:
    """At most 1.6 times the greedy count, which in turn is what theory says, but for the rounding up of its last
    arcs; within the tolerance, smooth, all arcs."""
    fine = area(f'<ellipse id="a" rx="{a}" ry="{b}" transform="rotate({turn})"/>', page=PAGE).parts[0].outer
    few = fitted(fine, tolerance)
    loose = loose_count(fine, few.xy[0], tolerance)
    theory = in_theory(a, b, tolerance)
    assert theory - 1 < loose < 1.06 * theory + 3
    assert len(few) <= 1.6 * loose
    assert deviation(fine, few).worst_mm <= tolerance - CURVE_MM
    assert breaks_deg(few).max() < SMOOTH_DEG
    assert np.abs(few.bulges).min() > 0


def test_the_count_does_not_depend_on_how_it_is_drawn() -> None:
    """As an element, as two arcs of a path, and as a circle stretched: the same curve, the same number of arcs."""
    bodies = (
        '<ellipse id="a" rx="200" ry="130"/>',
        '<path id="a" d="M-200 0A200 130 0 0 1 200 0A200 130 0 0 1 -200 0z"/>',
        '<circle id="a" r="1" transform="scale(200 130)"/>',
    )
    counts = [len(fitted(area(b, page=PAGE).parts[0].outer)) for b in bodies]
    assert max(counts) - min(counts) <= 1
    assert max(counts) <= 1.6 * math.ceil(in_theory(200, 130, 0.005))
