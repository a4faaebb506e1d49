"""Similarities: what they keep, what they scale (outside_checks.md M6)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.region import Part, region
from pipeline.geometry.shapes import circle, rectangle
from pipeline.geometry.transform import Move, mirror_x_axis, mirror_y_axis, shift, turn
from tests.geometry.test_contour import chains

far = st.floats(-500, 500)


@st.composite
def moves(draw: st.DrawFn) -> Move:
    scale, angle = draw(st.floats(0.1, 10)), draw(st.floats(-math.pi, math.pi))
    return Move(scale * math.cos(angle), scale * math.sin(angle), draw(far), draw(far), draw(st.booleans()))


@given(chains(), moves())
def test_measures(c: Contour, m: Move) -> None:
    """A·k², P·k, the centroid goes where its point goes; a mirrored outline keeps its orientation."""
    moved = m.contour(c)
    k = m.scale
    assert moved.area == pytest.approx(c.area * k * k, rel=1e-8, abs=1e-6)
    assert moved.length == pytest.approx(c.length * k, rel=1e-10)
    if abs(c.area) > 1:
        x, y = c.moment[0] / c.area, c.moment[1] / c.area
        size = c.length**3 / abs(c.area) * k  # how much the centroid of a thin eight can swing
        assert (moved.moment[0] / moved.area, moved.moment[1] / moved.area) == pytest.approx(
            m.point(x, y), abs=1e-10 * (size + 1000)
        )
    assert np.allclose(np.abs(np.sort(moved.bulges)), np.abs(np.sort(c.bulges)))


@given(moves(), moves(), far, far)
def test_then(a: Move, b: Move, x: float, y: float) -> None:
    """``then`` is one move after the other."""
    assert a.then(b).point(x, y) == pytest.approx(b.point(*a.point(x, y)), rel=1e-9, abs=1e-6)
    assert a.then(b).mirrors == (a.mirrors != b.mirrors)


@given(chains(), st.sampled_from([mirror_x_axis(), mirror_y_axis()]))
def test_mirror_twice(c: Contour, m: Move) -> None:
    """Mirrored twice, the same numbers come back, bit for bit."""
    back = m.contour(m.contour(c))
    assert np.array_equal(back.xy, c.xy)
    assert np.array_equal(back.bulge, c.bulge)


def test_quarter_turns_are_exact() -> None:
    """Four quarter turns about a point return every coordinate exactly; (1, 0) goes to (0, 1)."""
    assert turn(90).point(1.0, 0.0) == (0.0, 1.0)
    p = (3.0, 7.0)
    for _ in range(4):
        p = turn(90, 2.0, -1.0).point(*p)
    assert p == (3.0, 7.0)
    assert turn(-90).point(0.0, 1.0) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("move", "to"), [(mirror_x_axis(), (2, -3)), (mirror_y_axis(), (-2, 3)), (shift(1, 1), (3, 4))]
)
def test_named(move: Move, to: tuple[float, float]) -> None:
    assert move.point(2, 3) == to


def test_mirrored_region() -> None:
    """A mirrored ring stays a ring: outer anticlockwise, hole clockwise, area the same."""
    r = region([Part(rectangle(80, 50, 5, x=20), (circle(20, 5, 8),))])
    m = mirror_y_axis().region(r)
    assert m.area == pytest.approx(r.area, rel=1e-13)
    assert m.parts[0].outer.area > 0 > m.parts[0].holes[0].area
    assert m.bounds == pytest.approx((-60, -25, 20, 25), abs=1e-12)
    assert m.centroid == pytest.approx((-r.centroid[0], r.centroid[1]), abs=1e-10)


def test_mirrored_open_chain_runs_on() -> None:
    """An open chain keeps its direction when it is mirrored; its bulges turn."""
    c = chain([(0, 0), (1, 0), (2, 1)], [0.5, 0.0, 0.0], closed=False)
    m = mirror_x_axis().contour(c)
    assert m.xy.tolist() == [[0, 0], [1, 0], [2, -1]]
    assert m.bulge[0] == -0.5
