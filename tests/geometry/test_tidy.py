"""No vertex inside a line or arc, no slivers, one start vertex."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.region import Part, Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.geometry.tidy import tidy


def only(region: Region) -> Contour:
    (c,) = region.contours
    return c


def test_points_on_a_line_go() -> None:
    drawn = line_chain([(5, 0), (10, 0), (10, 10), (10, 10), (3, 10), (0, 10), (0, 4), (0, 0), (2, 0)])
    clean = only(tidy(solid(drawn))[0])
    assert clean.xy.tolist() == [[0, 0], [10, 0], [10, 10], [0, 10]]


def test_points_on_an_arc_go() -> None:
    """Five pieces of one three-quarter circle and two radii: one arc remains."""
    a = np.linspace(0, 1.5 * math.pi, 6)
    xy = np.vstack([10 * np.stack([np.cos(a), np.sin(a)], axis=1), [[0, 0]]])
    clean = only(tidy(solid(chain(xy, [math.tan(0.3 * math.pi / 4)] * 5 + [0, 0])))[0])
    assert len(clean) == 3
    assert clean.bulge.max() == pytest.approx(math.tan(1.5 * math.pi / 4), rel=1e-12)
    assert clean.area == pytest.approx(75 * math.pi, rel=1e-12)


@pytest.mark.parametrize("pieces", [2, 3, 7, 360])
def test_a_circle_keeps_two_halves(pieces: int) -> None:
    a = 0.3 + np.arange(pieces) * 2 * math.pi / pieces
    xy = np.array([4.0, 5.0]) + 10 * np.stack([np.cos(a), np.sin(a)], axis=1)
    clean = only(tidy(solid(chain(xy, [math.tan(math.pi / 2 / pieces)] * pieces)))[0])
    assert clean.xy == pytest.approx(np.array([[-6, 5], [14, 5]]), abs=1e-9)
    assert clean.bulge.tolist() == [1, 1]


def test_no_arc_sweeps_more_than_340_degrees() -> None:
    """A disc with a slit of 4°: merged, but in two arcs."""
    a = np.radians(np.linspace(2, 358, 9))
    xy = np.vstack([10 * np.stack([np.cos(a), np.sin(a)], axis=1), [[0, 0]]])
    clean = only(tidy(solid(chain(xy, [math.tan(math.radians(356 / 8) / 4)] * 8 + [0, 0])))[0])
    assert len(clean) == 4
    assert np.degrees(4 * np.arctan(clean.bulge)).max() < 340
    assert clean.area == pytest.approx(math.radians(178) * 100, rel=1e-12)


def test_only_the_same_circle_merges() -> None:
    """Tangent arcs of 10 and 10.001 stay two."""
    r, s = 10.0, 10.001
    drawn = chain([(r, 0), (0, r), (0, 0)], [math.tan(math.pi / 8), 0, 0])
    xy = [(r, 0), (0, r), (-s, r - s), (-s, 0)]
    two = chain(xy, [math.tan(math.pi / 8), math.tan(math.pi / 8), 0, 0])
    assert len(only(tidy(solid(drawn))[0])) == 3
    assert len(only(tidy(solid(two))[0])) == 4


def test_free_and_drawn_segments_do_not_merge() -> None:
    square = line_chain([(0, 0), (5, 0), (10, 0), (10, 10), (0, 10)])
    mixed = Contour(square.xy, square.bulge, np.array([True, False, False, False, False]))
    assert len(only(tidy(solid(mixed))[0])) == 5


def test_slivers_go_and_are_told() -> None:
    plate = Region((Part(rectangle(50, 50), (rectangle(20, 0.0008).reversed(), circle(0, 10, 2).reversed())),))
    thread = Part(rectangle(30, 0.0005, x=100))
    clean, dropped = tidy(Region((*plate.parts, thread)))
    assert [len(p.holes) for p in clean.parts] == [1]
    assert sorted(round(abs(c.area), 6) for c in dropped) == [0.015, 0.016]


def test_the_start_and_the_way_round_do_not_matter() -> None:
    c = rectangle(30, 20, 4, x=1 / 3, y=1 / 7)
    want = only(tidy(solid(c))[0])
    for k in range(8):
        for other in (c.rolled(k), c.rolled(k).reversed()):
            got = only(tidy(Region((Part(other),)))[0])
            assert got.xy.tobytes() == want.xy.tobytes()
            assert got.bulge.tolist() == pytest.approx(want.bulge.tolist(), abs=1e-15)
    assert want.xy[0].tolist() == min(want.xy.tolist())


def test_negative_zeros_go() -> None:
    c = tidy(solid(line_chain([(-0.0, -0.0), (10, -0.0), (10, 5), (-0.0, 5)])))[0].contours[0]
    assert not np.signbit(c.xy).any()
    assert not np.signbit(c.bulge).any()
