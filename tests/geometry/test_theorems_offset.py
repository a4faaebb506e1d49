"""Parallel curves against theorems (outside_checks 1.1) beyond the table's own numbers, which stand in
test_offset.py (kernel) and test_theorems.py (exported files): the reach, many holes, polygons of every
sort."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import line_chain
from pipeline.geometry.curves import EllipseArc, contour
from pipeline.geometry.morph import inscribed
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle
from pipeline.geometry.tidy import SLIVER_MM
from tests.geometry.outlines import peanut

LAWS = settings(deadline=None, max_examples=25, derandomize=True)

PEANUT_AREA, PEANUT_LENGTH = 10800 * math.pi, 722.092561475


def steiner(area: float, length: float, r: float, turns: float = 1.0) -> tuple[float, float]:
    """A + P r + χ π r², P + 2π χ r (Steiner 1840; Weyl 1939; Federer 1959, from memory), χ = ``turns``."""
    return area + length * r + turns * math.pi * r * r, length + 2 * math.pi * turns * r


def measures(shape: Region) -> tuple[float, float]:
    return shape.area, shape.perimeter


# G1, G2 ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("r", "area", "length"),
    [
        (5, 87002.0524092, 1079.83664645),
        (20, 103906.460453, 1174.08442606),
        (50, 141956.426623, 1362.57998527),
        (-5, 76517.8452101, 1017.00479338),
        (-20, 61969.6316565, 922.75701377),
        (-50, 37114.3546316, 734.261454554),
        (-84.4, *steiner(81681.4089933, 1048.42071991, -84.4)),
    ],
)
def test_a_drawn_ellipse(r: float, area: float, length: float) -> None:
    """G1, G2 (read, computed), of the ellipse as a drawing gives it; up to the least radius b²/a = 84.5."""
    moved = offset(solid(contour([EllipseArc((0, 0), (200, 130), 0, 0, 360)], True)), r)
    assert moved.area == pytest.approx(area, abs=1e-4 * length)  # two chains of 50 nm
    assert moved.perimeter == pytest.approx(length, abs=2 * math.pi * 1e-4)


def test_past_the_least_radius_of_a_drawn_ellipse() -> None:
    """G2 at r = 100: 8275.9298 and 415.2582 by quadrature of the parallel between its two crossings of the
    long axis (trapezoids of 2·10⁵ steps here, Gauss in test_offset.py; GEOS's 8275.407 / 415.248 are of a
    shaved ellipse)."""
    a, b, r = 200.0, 130.0, 100.0
    first = math.asin(math.sqrt(((r * a / b) ** 2 - b * b) / (a * a - b * b)))
    t = np.linspace(first, math.pi - first, 200_001)
    w = np.hypot(b * np.cos(t), a * np.sin(t))
    x, y = (a - r * b / w) * np.cos(t), (b - r * a / w) * np.sin(t)
    area = 2 * float(np.sum((x[:-1] - x[1:]) * (y[:-1] + y[1:]) / 2))
    length = 2 * float(np.sum(np.hypot(np.diff(x), np.diff(y))))
    assert (area, length) == pytest.approx((8275.9298, 415.2582), abs=5e-5)
    moved = offset(solid(contour([EllipseArc((0, 0), (a, b), 0, 0, 360)], True)), -r)
    assert measures(moved) == pytest.approx((area, length), abs=0.01)
    assert abs(moved.area - steiner(81681.4089933, 1048.42071991, -r)[0]) > 10


# G3 --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("r", [-59.9, -25.0, -10.0, 10.0, 25.0, 35.9])
def test_the_peanut_within_its_reach(r: float) -> None:
    """G3 (computed): ρ = 100 + 40 cos 2t, outward to the concave radius 36, inward to half the waist, 60."""
    moved = offset(solid(contour(peanut(), True)), r)
    area, length = steiner(PEANUT_AREA, PEANUT_LENGTH, r)
    assert moved.area == pytest.approx(area, abs=2e-4 * length)
    assert moved.perimeter == pytest.approx(length, abs=1e-3)
    assert len(moved.parts) == 1


def test_the_peanut_past_its_reach() -> None:
    """G3: at +40 the waist's parallels have crossed, which saves length; at −60.1 the waist is gone."""
    peanut_ = solid(contour(peanut(), True))
    grown = offset(peanut_, 40)
    assert grown.perimeter < steiner(PEANUT_AREA, PEANUT_LENGTH, 40)[1] - 0.01
    assert len(offset(peanut_, -60.1).parts) == 2


# G4 --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("holes", [0, 1, 2, 5])
@pytest.mark.parametrize("r", [3.0, -3.0])
def test_holes_count_against_the_square(holes: int, r: float) -> None:
    """G4 (computed): χ = 1 − h. An ellipse with round and elliptic holes."""
    places = [(60, 0), (-60, 0), (0, 50), (0, -50), (0, 0)][:holes]
    inner = [
        contour([EllipseArc(at, (20, 12), 30, 0, 360)], True) if k % 2 else circle(*at, 15)
        for k, at in enumerate(places)
    ]
    plate = region([Part(contour([EllipseArc((0, 0), (110, 90), 0, 0, 360)], True), tuple(inner))])
    moved = offset(plate, r)
    area, length = steiner(plate.area, plate.perimeter, r, 1 - holes)
    assert moved.area == pytest.approx(area, abs=1e-4 * length)
    assert moved.perimeter == pytest.approx(length, abs=1e-3)
    assert [len(p.holes) for p in moved.parts] == [holes]


# G5, G6, G7 --------------------------------------------------------------------------------------------
def angles(n: int, seed: int) -> np.ndarray:
    """``n`` directions all round, gaps of 0.7 to 1.3 times 2π/n."""
    return (np.arange(n) + np.random.default_rng(seed).uniform(-0.15, 0.15, n)) * 2 * math.pi / n


def polygon(n: int, seed: int) -> Region:
    """A star-shaped polygon with sides of 20 to 90 mm and corners of both sorts."""
    r, a = np.random.default_rng(seed), angles(n, seed)
    rho = 100 * r.uniform(0.75, 1.25, n)
    return solid(line_chain(rho[:, None] * np.stack([np.cos(a), np.sin(a)], axis=1)))


def turns(shape: Region) -> np.ndarray:
    """Exterior angles at the corners, convex positive."""
    d = np.diff(np.vstack([shape.contours[0].xy[-1:], shape.contours[0].xy, shape.contours[0].xy[:1]]), axis=0)
    way = np.unwrap(np.arctan2(d[:, 1], d[:, 0]))
    return np.diff(way)


@LAWS
@given(st.integers(4, 10), st.integers(0, 10**6), st.sampled_from([0.5, 2.0, -0.5, -2.0]))
def test_any_polygon(n: int, seed: int, d: float) -> None:
    """G5, G6 (derived): round joins where the offset opens a corner, tan where it closes one."""
    shape = polygon(n, seed)
    turn = turns(shape) * math.copysign(1, d)
    opens, closes = turn[turn > 0].sum(), np.tan(np.abs(turn[turn < 0]) / 2).sum()
    moved = offset(shape, d)
    assert turns(shape).sum() == pytest.approx(2 * math.pi)
    wanted = shape.area + shape.perimeter * d + math.copysign(d * d, d) * (opens / 2 - closes)
    assert moved.area == pytest.approx(wanted, rel=1e-9)
    assert moved.perimeter == pytest.approx(shape.perimeter + abs(d) * (opens - 2 * closes), rel=1e-9)


@LAWS
@given(st.integers(4, 10), st.integers(0, 10**6), st.sampled_from([0.5, 2.0, -0.5, -2.0]))
def test_any_mitred_polygon(n: int, seed: int, d: float) -> None:
    """G7 (derived): Σ tan(θ/2), signed, for either sign of d."""
    shape = polygon(n, seed)
    tan = np.tan(turns(shape) / 2).sum()
    moved = offset(shape, d, join="mitre")
    assert moved.area == pytest.approx(shape.area + shape.perimeter * d + d * d * tan, rel=1e-9)
    assert moved.perimeter == pytest.approx(shape.perimeter + 2 * d * tan, rel=1e-9)


# G8, G10 -----------------------------------------------------------------------------------------------
@LAWS
@given(st.integers(3, 9), st.integers(0, 10**6), st.floats(5, 100), st.floats(0.05, 0.95))
def test_a_polygon_round_a_circle_shrinks_to_a_similar_one(n: int, seed: int, radius: float, share: float) -> None:
    """G8, G10 (derived): factor 1 − d/ρ; past ρ, its inradius, nothing is left."""
    a = angles(n, seed)
    half = np.diff(np.append(a, a[0] + 2 * math.pi)) / 2
    rho, way = radius / np.cos(half), a + half
    shape = solid(line_chain((rho * np.stack([np.cos(way), np.sin(way)])).T))
    left = offset(shape, -share * radius)
    assert left.area == pytest.approx(shape.area * (1 - share) ** 2, rel=1e-8)
    assert left.perimeter == pytest.approx(shape.perimeter * (1 - share), rel=1e-8)
    assert inscribed(shape)[2] == pytest.approx(radius, abs=0.001)
    assert offset(shape, -radius + 1.01 * SLIVER_MM)  # what is narrower is taken for an artefact
    assert not offset(shape, -radius - 1e-5)
