"""Plain shapes against closed forms."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.geometry.shapes import capsule, circle, disc, rectangle

sizes = st.floats(0.5, 500)


@given(st.floats(-500, 500), st.floats(-500, 500), sizes)
def test_circle(x: float, y: float, r: float) -> None:
    """πr², 2πr, its centre and its bounds."""
    c = circle(x, y, r)
    assert c.area == pytest.approx(math.pi * r * r, rel=1e-10)
    assert c.length == pytest.approx(2 * math.pi * r, rel=1e-12)
    assert c.bounds == pytest.approx((x - r, y - r, x + r, y + r), abs=1e-9)
    assert disc(x, y, r).centroid == pytest.approx((x, y), abs=1e-7)


@given(sizes, sizes, st.floats(0, 1))
def test_rectangle(w: float, h: float, share: float) -> None:
    """Round corners take (4 − π) r² of the area and (8 − 2π) r of the perimeter."""
    r = share * min(w, h) / 2
    c = rectangle(w, h, r, x=3, y=-4)
    assert c.area == pytest.approx(w * h - (4 - math.pi) * r * r, rel=1e-9)
    assert c.length == pytest.approx(2 * (w + h) - (8 - 2 * math.pi) * r, rel=1e-9)
    assert c.bounds == pytest.approx((3 - w / 2, -4 - h / 2, 3 + w / 2, -4 + h / 2), abs=1e-9)


def test_slot() -> None:
    """A corner of half the side leaves a slot: two lines, four quarters, no segment without length."""
    c = rectangle(80, 20, 10)
    assert sorted(c.bulges.tolist()) == pytest.approx([0, 0] + 4 * [math.sqrt(2) - 1])
    assert min(math.dist(p, q) for p, q in zip(c.starts, c.ends, strict=True)) > 1
    assert c.area == pytest.approx(capsule((-30, 0), (30, 0), 20).area, rel=1e-13)


def test_corner_too_large() -> None:
    """A corner larger than half the shorter side is refused, in a sentence with both numbers."""
    with pytest.raises(ValueError, match="corner 11 is larger than half the shorter side 10"):
        rectangle(80, 20, 11)


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(-100, 100), st.floats(-100, 100), sizes)
def test_capsule(x0: float, y0: float, x1: float, y1: float, w: float) -> None:
    """A capsule is a segment ⊕ disc: A = L w + π w²/4, P = 2 L + π w (Steiner, outside_checks.md G1)."""
    c = capsule((x0, y0), (x1, y1), w)
    d = math.dist((x0, y0), (x1, y1))
    assume(d > 1e-6)
    assert c.area == pytest.approx(d * w + math.pi * w * w / 4, rel=1e-9)
    assert c.length == pytest.approx(2 * d + math.pi * w, rel=1e-9)
    line = shapely.LineString([(x0, y0), (x1, y1)])
    assert shapely.distance(line, shapely.points(c.xy)) == pytest.approx([w / 2] * len(c.xy), abs=1e-9)
