"""Exact measures of lines and arcs, against closed forms (outside_checks.md sections 1.3 and 1.4)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.region import Part, region, solid
from pipeline.geometry.shapes import circle

L_SHAPE = [(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]
"""The polygon of outside_checks.md G5."""


def segment(half_deg: float) -> Contour:
    """A circular segment of radius 1 about (0, 0), symmetric about the y axis, half angle given."""
    b = math.radians(half_deg)
    return chain([(math.sin(b), math.cos(b)), (-math.sin(b), math.cos(b))], [math.tan(b / 2), 0.0])


def test_polygon() -> None:
    """G5 and M1: the L polygon has area 6000, perimeter 380, centroid (40, 35)."""
    r = solid(line_chain(L_SHAPE))
    assert r.area == pytest.approx(6000, rel=1e-14)
    assert r.perimeter == pytest.approx(380, rel=1e-14)
    assert r.centroid == pytest.approx((40, 35), rel=1e-13)


@pytest.mark.parametrize(
    ("half_deg", "area", "mean_y"),
    [
        (30, 0.0905860737061, 0.919935371123),
        (45, 0.285398163397, 0.825871679024),
        (60, 0.614184849304, 0.705020161899),
        (90, math.pi / 2, 4 / (3 * math.pi)),
        (120, 2.52740780429, 0.17132680415),
    ],
)
def test_circular_segment(half_deg: float, area: float, mean_y: float) -> None:
    """M2: area and centroid of circular segments, minor and major."""
    c = segment(half_deg)
    assert c.area == pytest.approx(area, rel=2e-12)
    assert c.moment[0] == pytest.approx(0, abs=1e-13)
    assert c.moment[1] / c.area == pytest.approx(mean_y, rel=2e-12)
    half = math.radians(half_deg)
    assert c.length == pytest.approx(2 * half + 2 * math.sin(half), rel=1e-14)


@pytest.mark.parametrize("bulge", [1.0, -1.0])
def test_square_with_half_circles(bulge: float) -> None:
    """M7: the unit square with four bulges of 1 has area 1 + π/2, with −1 it has 1 − π/2."""
    c = chain([(0, 0), (1, 0), (1, 1), (0, 1)], [bulge] * 4)
    assert c.area == pytest.approx(1 + bulge * math.pi / 2, rel=1e-14)
    assert c.length == pytest.approx(2 * math.pi, rel=1e-14)
    assert c.bounds == pytest.approx((-0.5, -0.5, 1.5, 1.5) if bulge > 0 else (0, 0, 1, 1), abs=1e-14)


@pytest.mark.parametrize(
    ("sweep_deg", "bulge"),
    [
        (30, 0.131652497587),
        (45, 0.19891236738),
        (60, 0.267949192431),
        (90, 0.414213562373),
        (120, 0.57735026919),
        (180, 1.0),
        (270, 2.41421356237),
    ],
)
def test_bulge(sweep_deg: float, bulge: float) -> None:
    """B5: bulge = tan(sweep / 4); the arc's length and the turn of its tangents follow."""
    sweep = math.radians(sweep_deg)
    c = chain([(5, 0), (5 * math.cos(sweep), 5 * math.sin(sweep))], [bulge, 0], closed=False)
    assert c.length == pytest.approx(5 * sweep, rel=1e-10)
    leaves, arrives = c.tangents()
    assert leaves[0] == pytest.approx([0, 1], abs=1e-10)
    assert arrives[0] == pytest.approx([-math.sin(sweep), math.cos(sweep)], abs=1e-10)


def test_sagitta() -> None:
    """B5: R 150 over a chord of 80 rises 5.431677051990, bulge 0.135791926300."""
    c = chain([(-40, 0), (40, 0)], [-0.1357919263, 0.0])
    assert c.bounds[3] == pytest.approx(5.43167705199, rel=1e-10)


@pytest.mark.parametrize(
    ("radius", "tolerance", "least"),
    [(10, 0.01, 71), (50, 0.01, 158), (150, 0.01, 273), (150, 0.05, 122), (5, 0.01, 50), (3.175, 0.005, 56)],
)
def test_flatten_count(radius: float, tolerance: float, least: int) -> None:
    """B6: a circle needs N ≥ π / arccos(1 − tol/R) chords; ours are few more, and near enough."""
    points, owner = circle(0, 0, radius).flatten(tolerance)
    assert least <= len(points) <= least + 2
    middles = (points + np.roll(points, -1, axis=0)) / 2
    assert radius - np.hypot(*middles.T).min() <= tolerance * (1 + 1e-9)
    assert len(owner) == len(points)


def test_ring() -> None:
    """G4's ring R 50, ρ 30: area 1600π, and the perimeter counts both circles."""
    r = region([Part(circle(0, 0, 50), (circle(0, 0, 30),))])
    assert r.area == pytest.approx(1600 * math.pi, rel=1e-14)
    assert r.perimeter == pytest.approx(160 * math.pi, rel=1e-14)


def test_circle_is_told() -> None:
    """A circle in two, three or many arcs is a circle; a slot or a closed arc isn't."""
    assert circle(3, 4, 5).circle() == pytest.approx((3, 4, 5), rel=1e-12)
    a = np.radians([10, 100, 250])
    third = chain(np.stack([np.cos(a), np.sin(a)], axis=1), np.tan(np.radians([90, 150, 120]) / 4))
    assert third.circle() == pytest.approx((0, 0, 1), abs=1e-12)
    assert third.reversed().circle() == pytest.approx((0, 0, 1), abs=1e-12)
    assert segment(60).circle() is None
    assert chain([(0, 0), (1, 0), (1, 1)], [1.0, 1.0, 1.0]).circle() is None


@pytest.mark.parametrize(
    ("xy", "bulge"), [([(0, 0), (math.nan, 1)], [0, 0]), ([(0, 0), (1, 1)], [0, math.inf]), ([(0, 0)], [0])]
)
def test_bad_numbers(xy: list[tuple[float, float]], bulge: list[float]) -> None:
    """A contour of less than two vertices, or with something that is no number, can't be made."""
    with pytest.raises(ValueError, match="contour"):
        chain(xy, bulge)


bulges = st.floats(-2.5, 2.5).map(lambda b: 0.0 if abs(b) < 0.05 else b)


@st.composite
def chains(draw: st.DrawFn) -> Contour:
    """Any closed chain of three to eight lines and arcs with a vertex on each of as many rays."""
    n = draw(st.integers(3, 8))
    radii = draw(st.lists(st.floats(1, 100), min_size=n, max_size=n))
    a = np.arange(n) * 2 * math.pi / n
    b = draw(st.lists(bulges, min_size=n, max_size=n))
    return chain(np.array(radii)[:, None] * np.stack([np.cos(a), np.sin(a)], axis=1), b)


@given(chains())
def test_reversed(c: Contour) -> None:
    """Reversal changes the sign of area and moment and nothing else; twice is the same curve."""
    r = c.reversed()
    assert r.area == pytest.approx(-c.area, rel=1e-9, abs=1e-9)
    assert r.moment == pytest.approx((-c.moment[0], -c.moment[1]), rel=1e-9, abs=1e-7)
    assert r.length == pytest.approx(c.length, rel=1e-12)
    assert r.bounds == pytest.approx(c.bounds, abs=1e-9)
    assert np.array_equal(np.sort(r.reversed().xy, axis=0), np.sort(c.xy, axis=0))


@given(chains(), st.integers(-8, 8))
def test_rolled(c: Contour, start: int) -> None:
    """Where a closed contour begins doesn't matter to any measure."""
    r = c.rolled(start)
    assert r.area == pytest.approx(c.area, rel=1e-9, abs=1e-9)
    assert r.moment == pytest.approx(c.moment, rel=1e-9, abs=1e-7)
    assert r.length == pytest.approx(c.length, rel=1e-12)


@given(chains())
@settings(deadline=None)
def test_flattened(c: Contour) -> None:
    """The flattened form stays in the bounds, begins each segment, and its area is near by P · tol."""
    tol = 0.001
    points, owner = c.flatten(tol)
    xmin, ymin, xmax, ymax = c.bounds
    assert points[:, 0].min() >= xmin - 1e-9
    assert points[:, 1].min() >= ymin - 1e-9
    assert points[:, 0].max() <= xmax + 1e-9
    assert points[:, 1].max() <= ymax + 1e-9
    assert max(xmax - points[:, 0].max(), points[:, 0].min() - xmin) <= tol
    starts = np.flatnonzero(np.diff(owner, prepend=-1))
    assert np.array_equal(points[starts], c.xy)
    flat = line_chain(points)
    assert abs(flat.area - c.area) <= c.length * tol
    assert flat.length <= c.length + 1e-9


@given(chains())
def test_isoperimetric(c: Contour) -> None:
    """M6: 4πA ≤ P², for any closed curve (its signed area too)."""
    assert 4 * math.pi * abs(c.area) <= c.length**2 * (1 + 1e-12)


@pytest.mark.parametrize(
    ("radius", "chord_mm", "n"), [(150.0, 0.005, 385), (150.0, 0.05, 122), (20.0, 0.005, 141)]
)
def test_as_many_chords_as_a_circle_needs(radius: float, chord_mm: float, n: int) -> None:
    """n = ⌈π / acos(1 − e/R)⌉ (trade.md 1.7, derived; outside_checks B6). A circle is two half arcs here, each
    divided for itself, so an odd number becomes the next even one."""
    assert math.ceil(math.pi / math.acos(1 - chord_mm / radius)) == n
    points, _ = circle(0.0, 0.0, radius).flatten(chord_mm)
    assert len(points) == n + n % 2
