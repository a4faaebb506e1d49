"""Laws on generated outlines of lines, arcs and cubics, with holes (outside_checks G1, G9, O4, M6, B9).

Each law has its source beside it; the outlines are those of tests/strategies.py. Cubics are chains within
50 nm of the curve, so laws between results of one outline hold to the chains' own rounding, laws of the
drawn curve to ``CURVE_MM``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.biarcs import CURVE_MM
from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import Floats
from pipeline.geometry.curves import PathSegment, contour
from pipeline.geometry.deviation import deviation, segment_distance
from pipeline.geometry.fit import fitted
from pipeline.geometry.morph import closing, inscribed, opening
from pipeline.geometry.offset import offset
from pipeline.geometry.query import covers, distance
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, disc
from pipeline.geometry.transform import Move, shift, turn
from tests.geometry.second_moments import moments
from tests.strategies import convex, convex_path, mixed, mixed_paths, path_area

SAME_MM = 1e-5
"""Two results of exact work that should be one lie nearer than this."""
FEW = settings(deadline=None, max_examples=8, derandomize=True)
MORE = settings(deadline=None, max_examples=20, derandomize=True)
RARE = settings(deadline=None, max_examples=3, derandomize=True)
small = st.floats(0.2, 6)
big = st.sampled_from([12.5, 25.0])
signs = st.sampled_from([1.0, -1.0])


def off(points: Floats, shape: Region) -> Floats:
    """Exact distance (n,) of points (n, 2) from the boundary, all segments tried."""
    p, q, b = (np.concatenate([getattr(c, k) for c in shape.contours]) for k in ("starts", "ends", "bulges"))
    n = len(p)
    pairs = segment_distance(
        np.repeat(points, n, axis=0), *(np.tile(v, (len(points), *[1] * (v.ndim - 1))) for v in (p, q, b))
    )
    nearest: Floats = pairs.reshape(len(points), n).min(axis=1)
    return nearest


def spots(shape: Region, count: int = 60) -> Floats:
    """Points on the boundary, evenly chosen of a fine walk along it."""
    xy = np.concatenate([c.flatten(0.01)[0] for c in shape.contours]) if shape else np.empty((0, 2))
    return xy[:: max(1, len(xy) // count)]


def reaches_out(a: Region, b: Region) -> float:
    """How far a's boundary reaches out of b, in mm, at its sampled points."""
    xy = spots(a)
    out = xy[~shapely.contains_xy(b.polygon, xy[:, 0], xy[:, 1])] if len(xy) else xy
    return float(off(out, b).max()) if len(out) else 0.0


def alike(a: Region, b: Region) -> None:
    assert max(reaches_out(a, b), reaches_out(b, a)) < SAME_MM
    assert a.area == pytest.approx(b.area, abs=SAME_MM * (a.perimeter + b.perimeter) + 1e-9)


# -- the outline itself --
@MORE
@given(mixed_paths())
def test_area_of_a_drawn_path(path: list[PathSegment]) -> None:
    """Green's theorem on the control points and circular segments (M7) gives the area of the chain and of
    its refit."""
    chain, wanted = contour(path, True), path_area(path)
    assert chain.area == pytest.approx(wanted, abs=CURVE_MM * chain.length)
    assert moments(solid(chain))["1"] == pytest.approx(chain.area, rel=1e-9)
    assert fitted(chain).area == pytest.approx(wanted, abs=0.005 * chain.length)


@MORE
@given(mixed(), st.floats(0, 360), st.floats(0.05, 20), st.booleans(), st.floats(-500, 500))
def test_similar_shapes(shape: Region, angle: float, k: float, mirrors: bool, away: float) -> None:
    """M6 (standard): turned, mirrored, moved and k times as large: A k², P k, second moments k⁴; the polar
    moment about the centroid does not feel the turn."""
    a = math.radians(angle)
    move = Move(k * math.cos(a), k * math.sin(a), away, -away / 3, mirrors)
    moved = move.region(shape)
    assert moved.area == pytest.approx(shape.area * k * k, rel=1e-9)
    assert moved.perimeter == pytest.approx(shape.perimeter * k, rel=1e-9)
    assert moved.centroid == pytest.approx(move.point(*shape.centroid), rel=1e-6, abs=1e-6)

    def polar(s: Region) -> float:
        m = moments(shift(-s.centroid[0], -s.centroid[1]).region(s))
        return m["xx"] + m["yy"]

    assert polar(moved) == pytest.approx(polar(shape) * k**4, rel=1e-7)


@FEW
@given(mixed(), st.floats(0, 360), st.sampled_from([0.5, 3.0]), st.booleans(), small, signs)
def test_offsets_of_similar_shapes(
    shape: Region, angle: float, k: float, mirrors: bool, r: float, sign: float
) -> None:
    """The parallel at k r of a similar shape is the similar one of the parallel at r."""
    a = math.radians(angle)
    move = Move(k * math.cos(a), k * math.sin(a), 7.0, -3.0, mirrors)
    alike(offset(move.region(shape), sign * k * r), move.region(offset(shape, sign * r)))


# -- convex shapes --
@MORE
@given(convex(), st.one_of(small, big))
def test_steiner(shape: Region, r: float) -> None:
    """G1 (Steiner 1840): A + P r + π r², P + 2π r, for convex outlines of any sort."""
    grown = offset(shape, r)
    assert grown.area == pytest.approx(shape.area + shape.perimeter * r + math.pi * r * r, rel=1e-7)
    assert grown.perimeter == pytest.approx(shape.perimeter + 2 * math.pi * r, rel=1e-7)
    assert len(grown.contours) == 1


@FEW
@given(convex(), small)
def test_convex_shapes_shrink_by_less_than_their_length(shape: Region, r: float) -> None:
    """Inner parallels of convex shapes (Hadwiger; from memory): A − P r ≤ A(−r), and A(−r) ≤ A − P(−r) r,
    because the shrunk shape grown again is in the shape and Steiner's formula holds for it."""
    inner = offset(shape, -r)
    assert inner.area >= shape.area - shape.perimeter * r
    if inner:
        assert inner.area + inner.perimeter * r + math.pi * r * r <= shape.area * (1 + 1e-9)
        assert reaches_out(offset(inner, r), shape) < SAME_MM


@FEW
@given(convex(), mixed())
def test_round_is_best(a: Region, b: Region) -> None:
    """M6, isoperimetric: 4πA ≤ P² (equal for discs only); Bonnesen, from memory, for convex ones: with the
    inradius ρ, P ρ ≥ A + π ρ²."""
    assert 4 * math.pi * a.area < a.perimeter**2
    assert 4 * math.pi * b.area < b.perimeter**2
    assert 4 * math.pi * disc(1, 2, 7).area == pytest.approx(disc(1, 2, 7).perimeter ** 2, rel=1e-12)
    rho = inscribed(a)[2]
    assert a.perimeter * rho >= a.area + math.pi * rho**2 - 0.002 * a.perimeter


@RARE
@given(convex())
def test_length_is_pi_times_the_mean_width(shape: Region) -> None:
    """M6, Cauchy: of a convex shape. Widths are those of the exact bounds in 240 directions of half a
    turn; the sum is wrong by (π/240)²/12 at most for corners (trapezoids)."""
    widths = []
    for k in range(240):
        low, _, high, _ = turn(k * 180 / 240).region(shape).bounds
        widths.append(high - low)
    assert shape.perimeter == pytest.approx(math.pi * float(np.mean(widths)), rel=1e-4)


# -- inside, outside, distance --
@MORE
@given(mixed(), st.one_of(small, big))
def test_the_inner_lies_in_the_source_and_the_source_in_the_outer(shape: Region, r: float) -> None:
    """Every point of either parallel is r from the source's edge, exactly measured; holes shrink and grow
    rightly."""
    inner, outer = offset(shape, -r), offset(shape, r)
    for moved in (inner, outer):
        assert moved.polygon.is_valid
        if moved:
            far = off(spots(moved), shape)
            assert np.abs(far - r).max() < SAME_MM
            assert distance(shape, moved)[0] == pytest.approx(r, abs=SAME_MM)
    assert covers(shape, inner)
    assert covers(outer, shape)
    assert inner.area < shape.area < outer.area


@FEW
@given(mixed(), small, st.one_of(small, big), signs)
def test_offsets_compose(shape: Region, r: float, s: float, sign: float) -> None:
    """G9 (Serra 1982, from memory): K ⊕ rB ⊕ sB = K ⊕ (r + s)B, inwards by complement; holes too."""
    alike(offset(offset(shape, sign * r), sign * s), offset(shape, sign * (r + s)))


@FEW
@given(convex(), st.floats(0.2, 3))
def test_in_and_out_again_is_an_opening_and_not_the_same(shape: Region, r: float) -> None:
    """G9: identity only for shapes that r fits everywhere, as every shape grown by more than r is."""
    grown = offset(shape, 1.5 * r)
    alike(offset(offset(grown, -r), r), grown)
    square = solid(
        contour(convex_path([0, math.pi / 2, math.pi, 3 * math.pi / 2], 60, [("sharp", 0.0)] * 4), True)
    )
    assert offset(offset(square, -r), r).area == pytest.approx(square.area - (4 - math.pi) * r * r, rel=1e-9)


# -- opening and closing (O4: Serra 1982; Matheron 1975, from memory) --
@FEW
@given(mixed(), small)
def test_opening_takes_and_closing_gives(shape: Region, r: float) -> None:
    opened, closed = opening(shape, r), closing(shape, r)
    assert reaches_out(opened, shape) < SAME_MM
    assert reaches_out(shape, closed) < SAME_MM
    assert opened.area <= shape.area * (1 + 1e-12)
    assert closed.area >= shape.area * (1 - 1e-12)
    alike(opening(opened, r), opened)
    alike(closing(closed, r), closed)


@FEW
@given(mixed(), mixed(), small)
def test_what_holds_more_keeps_more(a: Region, b: Region, r: float) -> None:
    """A ⊂ A ∪ B goes over to the opened and the closed ones."""
    both = union(a, b)
    assert reaches_out(opening(a, r), opening(both, r)) < SAME_MM
    assert reaches_out(closing(a, r), closing(both, r)) < SAME_MM


@FEW
@given(mixed(), small)
def test_closing_is_opening_of_what_is_not_there(shape: Region, r: float) -> None:
    """Within a disc of 400, which opening leaves alone."""
    world = disc(0, 0, 400)
    alike(difference(world, opening(difference(world, shape), r)), closing(shape, r))


@FEW
@given(mixed(), st.floats(0.2, 2), st.floats(0.2, 2))
def test_a_larger_cutter_leaves_less(shape: Region, r: float, more: float) -> None:
    """Granulometry (Matheron 1975): opening by the larger after the smaller is opening by the larger."""
    alike(opening(opening(shape, r), r + more), opening(shape, r + more))


# -- the distance of shapes (B9: Alt & Guibas 1999, from memory) --
@RARE
@given(mixed(), mixed(), mixed())
def test_distance_of_shapes_is_a_metric(a: Region, b: Region, c: Region) -> None:
    ab, bc, ac = deviation(a, b).worst_mm, deviation(b, c).worst_mm, deviation(a, c).worst_mm
    assert deviation(a, a).worst_mm < 1e-9
    assert deviation(b, a).worst_mm == pytest.approx(ab, abs=1e-9)
    assert ac <= ab + bc + 2e-5
    if ab < 1e-6:
        alike(a, b)


@RARE
@given(convex(), st.floats(0.01, 20), st.floats(0, 6.2))
def test_distance_of_grown_and_moved_shapes(shape: Region, r: float, way: float) -> None:
    """H(K, K ⊕ rB) = r, and H(K, K + t) = |t| for convex K (support functions); |A(X) − A(Y)| ≤ P δ + π
    δ²."""
    grown = offset(shape, r)
    assert deviation(shape, grown).worst_mm == pytest.approx(r, abs=1e-5)
    moved = shift(r * math.cos(way), r * math.sin(way)).region(shape)
    h = deviation(shape, moved).worst_mm
    assert h <= r + 1e-9
    for other, delta in (
        (grown, r),
        (moved, h),
        (solid(circle(0, 0, 50)), deviation(shape, disc(0, 0, 50)).worst_mm),
    ):
        assert (
            abs(other.area - shape.area)
            <= max(shape.perimeter, other.perimeter) * delta + math.pi * delta**2 + 1e-6
        )
