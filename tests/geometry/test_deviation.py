"""The distance of two shapes, against closed forms and GEOS (outside_checks.md B9)."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.deviation import deviation, segment_distance
from pipeline.geometry.region import EMPTY, Part, region, solid
from pipeline.geometry.shapes import capsule, circle, rectangle
from pipeline.geometry.transform import shift
from tests.geometry.test_contour import chains


def test_shifted_circle() -> None:
    """H(K, K + t) = |t| for a circle; the place is on the line of the shift."""
    d = deviation(circle(0, 0, 50), circle(0.003, 0.004, 50))
    assert d.worst_mm == pytest.approx(0.005, abs=1e-9)
    assert abs(d.at_mm[0] * 4 - d.at_mm[1] * 3) < 0.5


@pytest.mark.parametrize("r", [1e-4, 0.005, 1.0, 30.0])
def test_grown_shape(r: float) -> None:
    """B9: H(K, K ⊕ rB) = r, for a capsule."""
    assert deviation(
        capsule((0, 0), (90, 30), 20), capsule((0, 0), (90, 30), 20 + 2 * r)
    ).worst_mm == pytest.approx(r, abs=1e-9)


def test_arc_and_chord() -> None:
    """B9, B5: H(arc, chord) is the sagitta: R 150 over 80 gives 5.431677051990."""
    arc = chain([(-40, 0), (40, 0)], [-0.1357919263, 0.0], closed=False)
    line = line_chain([(-40, 0), (40, 0)], closed=False)
    d = deviation(line, arc)
    assert d.worst_mm == pytest.approx(5.43167705199, rel=1e-9)
    assert d.at_mm[0] == pytest.approx(0, abs=1e-3)


def test_rounded_corner() -> None:
    """A corner rounded by r stands r(√2 − 1) off (O1, 90°: 0.41421356 r)."""
    d = deviation(rectangle(60, 40), rectangle(60, 40, 5))
    assert d.worst_mm == pytest.approx(5 * 0.41421356237, rel=1e-9)
    assert (abs(d.at_mm[0]), abs(d.at_mm[1])) == pytest.approx((30, 20), abs=1e-9)


def test_kink_between_samples() -> None:
    """Half way between two lines the distance peaks in a kink that no sample hits."""
    line = line_chain([(0, 5), (100, 5)], closed=False)
    ends = [line_chain([(x, 0), (x, 10)], closed=False) for x in (0.0, 66.6, 100.0)]
    d = deviation([line], [*ends])
    assert d.worst_mm == pytest.approx(33.3, abs=1e-5)
    assert d.at_mm == pytest.approx((33.3, 5), abs=1e-4)


def test_one_sided_is_not_enough() -> None:
    """Something that only one shape has counts from either side."""
    plain, holed = solid(rectangle(80, 40)), region([Part(rectangle(80, 40), (circle(10, 0, 5),))])
    assert deviation(plain, holed).worst_mm == deviation(holed, plain).worst_mm == pytest.approx(20, abs=1e-5)


def test_nothing() -> None:
    """Two empty regions agree; one alone can't be compared."""
    assert deviation(EMPTY, EMPTY).worst_mm == 0
    with pytest.raises(ValueError, match="compared with nothing"):
        deviation(EMPTY, solid(circle(0, 0, 1)))


@given(chains())
@settings(deadline=None, max_examples=10)
def test_itself(c: Contour) -> None:
    """H(K, K) = 0, however the same curve is written."""
    assert deviation(c, c.reversed()).worst_mm < 1e-9
    assert deviation(c, c.rolled(2)).worst_mm < 1e-9


@given(chains(), chains(), st.floats(-50, 50))
@settings(deadline=None, max_examples=6)
def test_metric(a: Contour, b: Contour, x: float) -> None:
    """Symmetric, and the triangle inequality by way of a shifted copy."""
    ab = deviation(a, b).worst_mm
    moved = shift(x, 0.0).contour(b)
    assert deviation(b, a).worst_mm == pytest.approx(ab, abs=1e-9)
    assert deviation(a, moved).worst_mm <= ab + deviation(b, moved).worst_mm + 2e-5
    assert deviation(b, moved).worst_mm <= abs(x) + 1e-9


@given(chains(), chains())
@settings(deadline=None, max_examples=6)
def test_against_geos(a: Contour, b: Contour) -> None:
    """GEOS's discrete Hausdorff distance of finely flattened forms agrees within what it leaves out."""
    fa, fb = (shapely.LinearRing(c.flatten(1e-3)[0]) for c in (a, b))
    theirs = shapely.hausdorff_distance(fa.segmentize(0.2), fb.segmentize(0.2))
    assert deviation(a, b).worst_mm == pytest.approx(theirs, abs=0.11)
    assert deviation(a, b).worst_mm >= theirs - 2.1e-3


@given(
    st.floats(-20, 20),
    st.floats(-20, 20),
    st.one_of(st.just(0.0), st.floats(-3, 3), st.floats(-1e-9, 1e-9)),
)
@settings(deadline=None)
def test_point_and_segment(x: float, y: float, bulge: float) -> None:
    """Distance to a line or arc of any bulge, near and far from its ends, against GEOS on a fine polyline."""
    p, q, b = np.array([[-3.0, 1.0]]), np.array([[4.0, 2.0]]), np.array([bulge])
    ours = segment_distance(np.array([[x, y]]), p, q, b)[0]
    line = chain([(-3, 1), (4, 2)], [bulge, 0], closed=False).flatten(1e-7)[0]
    assert ours == pytest.approx(shapely.Point(x, y).distance(shapely.LineString(line)), abs=2e-7)
    assert not math.isnan(ours)
