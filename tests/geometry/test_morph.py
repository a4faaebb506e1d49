"""What a cutter leaves, sweeping, the largest circle, and the measures of query."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.boolean import difference, intersection, union
from pipeline.geometry.contour import line_chain
from pipeline.geometry.morph import closing, inscribed, opening, swept
from pipeline.geometry.offset import offset
from pipeline.geometry.query import covers, distance, nearest_boundary, thin_places
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule, disc, rectangle
from pipeline.geometry.transform import turn
from tests.strategies import blobs, ell, polar_chain, regions, stars

EXACT = settings(deadline=None, max_examples=40, derandomize=True)
RADII = st.floats(0.2, 8)


def outside(a: Region, b: Region) -> float:
    """How far the edge of a reaches out of b at most, in mm (``difference`` would drop thin slivers)."""
    xy = np.concatenate([c.flatten(0.5)[0] for c in a.contours]) if a else np.empty((0, 2))
    out = xy[~shapely.contains_xy(b.polygon, xy[:, 0], xy[:, 1])]
    return max((nearest_boundary(b, x, y)[0] for x, y in out.tolist()), default=0.0)


# -- opening and closing (outside_checks rows O1–O5, derived there) ------------------------------------
@pytest.mark.parametrize("r", [3.0, 6.35])
def test_opening_of_a_rectangle(r: float) -> None:
    """O2: four right angles lose r²(1 − π/4) each."""
    opened = opening(solid(rectangle(80, 50)), r)
    assert opened.area == pytest.approx(4000 - (4 - math.pi) * r * r, rel=1e-12)
    assert opened.perimeter == pytest.approx(260 - 2 * r * (4 - math.pi), rel=1e-12)
    assert len(opened.contours[0]) == 8


def test_opening_of_a_right_triangle() -> None:
    """O2: legs 100, r = 5."""
    opened = opening(solid(line_chain([(0, 0), (100, 0), (0, 100)])), 5)
    assert opened.area == pytest.approx(4932.829138, abs=1e-6)
    assert opened.perimeter == pytest.approx(314.553012, abs=1e-6)


@pytest.mark.parametrize(
    ("degrees", "share", "gap"),
    [(30, 2.4230539, 2.8637033), (60, 0.68485326, 1.0), (135, 0.021514481, 0.0823922)],
)
def test_what_a_cutter_leaves_in_a_corner(degrees: float, share: float, gap: float) -> None:
    """O1: area r²(cot(α/2) − (π − α)/2) and the gap on the bisector, in a wedge with that corner."""
    half, r = math.radians(degrees) / 2, 4.0
    wedge = line_chain(
        [(0, 0), (100 * math.cos(half), -100 * math.sin(half)), (100 * math.cos(half), 100 * math.sin(half))]
    )
    rest = difference(solid(wedge), opening(solid(wedge), r))
    corner = min(rest.parts, key=lambda p: p.outer.bounds[0])
    assert corner.outer.area == pytest.approx(share * r * r, rel=1e-6)
    gap_mm, _ = nearest_boundary(opening(solid(wedge), r), 0, 0)
    assert gap_mm == pytest.approx(gap * r, rel=1e-6)


def test_closing_fills_a_reflex_corner() -> None:
    """O3: r²(1 − π/4) at 270°."""
    closed = closing(ell(), 8)
    assert closed.area == pytest.approx(6000 + 64 * (1 - math.pi / 4), rel=1e-12)
    assert len(closed.contours[0]) == 7


@pytest.mark.parametrize(("width", "through"), [(7.999, False), (8.001, True)])
def test_a_channel_survives_if_the_cutter_fits(width: float, through: bool) -> None:
    """O5: w ≥ 2r, here r = 4."""
    rooms = union(solid(rectangle(30, 30, x=-40)), solid(rectangle(30, 30, x=40)), solid(rectangle(60, width)))
    assert len(opening(rooms, 4).parts) == (1 if through else 2)


@pytest.mark.parametrize(("wall", "apart"), [(7.999, False), (8.001, True)])
def test_pockets_stay_apart_if_the_wall_is_thick(wall: float, apart: bool) -> None:
    """O5: t > 2r, here r = 4."""
    pockets = union(solid(rectangle(30, 40, x=-15 - wall / 2)), solid(rectangle(30, 40, x=15 + wall / 2)))
    assert len(closing(pockets, 4).parts) == (2 if apart else 1)


def test_a_radius_must_be_a_radius() -> None:
    with pytest.raises(ValueError, match="no disc"):
        opening(ell(), -1)
    assert opening(ell(), 0).area == 6000


@EXACT
@given(regions(), RADII)
def test_opening_takes_away_and_closing_adds(shape: Region, r: float) -> None:
    """O4 (Serra 1982; Matheron 1975)."""
    assert outside(opening(shape, r), shape) < 1e-5
    assert outside(shape, closing(shape, r)) < 1e-5


@EXACT
@given(regions(), RADII)
def test_opening_or_closing_twice_is_once(shape: Region, r: float) -> None:
    """O4."""
    for act in (opening, closing):
        once = act(shape, r)
        twice = act(once, r)
        assert max(outside(once, twice), outside(twice, once)) < 2e-5


@EXACT
@given(stars(), stars(), RADII)
def test_opening_and_closing_keep_inclusion(a: Region, b: Region, r: float) -> None:
    """O4: A ⊂ B gives A∘ ⊂ B∘ and A• ⊂ B•."""
    small = intersection(a, b)
    assert outside(opening(small, r), opening(b, r)) < 1e-5
    assert outside(closing(small, r), closing(b, r)) < 1e-5


@EXACT
@given(regions(), RADII)
def test_closing_is_opening_of_the_outside(shape: Region, r: float) -> None:
    """O4, duality, within a disc of 400 (a disc is its own opening)."""
    world = disc(0, 0, 400)
    dual = difference(world, opening(difference(world, shape), r))
    closed = closing(shape, r)
    assert max(outside(dual, closed), outside(closed, dual)) < 1e-5


# -- sweeping --------------------------------------------------------------------------------------------
def test_a_swept_disc_is_a_capsule() -> None:
    (c,) = swept(disc(1, 2, 10), (3, 4), 25).contours
    (want,) = union(solid(capsule((1, 2), (16, 22), 20))).contours
    assert c.xy == pytest.approx(want.xy, abs=1e-9)
    assert c.bulge == pytest.approx(want.bulge, abs=1e-12)


@EXACT
@given(stars(), st.floats(0, 2 * math.pi), st.floats(1, 60))
def test_a_swept_shape_covers_its_way(shape: Region, angle: float, length: float) -> None:
    """Minkowski sum with a segment: the union of many copies fills it, and it holds every copy."""
    way = (math.cos(angle), math.sin(angle))
    path = swept(shape, way, length)
    steps = 40
    copies = shapely.union_all(
        [
            shapely.transform(shape.polygon, lambda xy, k=k: xy + np.array(way) * (length * k / steps))
            for k in range(steps + 1)
        ]
    )
    assert copies.difference(path.polygon).area < 0.001 * path.perimeter
    assert path.polygon.difference(copies.buffer(length / steps)).area < 0.001 * path.perimeter


@EXACT
@given(st.integers(3, 9), st.floats(10, 60), st.floats(0, 6.2), st.floats(1, 50))
def test_a_swept_convex_shape_grows_by_width_times_length(n: int, r: float, angle: float, length: float) -> None:
    """Area + length × width across the way (mixed area with a segment), perimeter + 2 × length."""
    a = np.arange(n) * 2 * math.pi / n
    shape = solid(line_chain(r * np.stack([np.cos(a), np.sin(a)], axis=1)))
    across = shape.contours[0].xy @ np.array([-math.sin(angle), math.cos(angle)])
    path = swept(shape, (math.cos(angle), math.sin(angle)), length)
    assert path.area == pytest.approx(shape.area + length * np.ptp(across), rel=1e-7)
    assert path.perimeter == pytest.approx(shape.perimeter + 2 * length, rel=1e-7)


def test_a_swept_ring_keeps_what_its_hole_keeps() -> None:
    """The hole shrinks to the lens of its two end positions."""
    path = swept(difference(disc(0, 0, 10), disc(0, 0, 5)), (1, 0), 4)
    lens = 2 * 25 * math.acos(2 / 5) - 4 * math.sqrt(25 - 4)  # two circles of 5, 4 apart
    assert path.area == pytest.approx(100 * math.pi + 80 - lens, rel=1e-12)
    with pytest.raises(ValueError, match="direction"):
        swept(ell(), (0, 0), 5)


# -- measures ---------------------------------------------------------------------------------------------
def test_the_largest_circle_inside() -> None:
    """Incircle of a right triangle: (a + b − c)/2."""
    x, y, r = inscribed(solid(line_chain([(0, 0), (80, 0), (0, 60)])))
    assert (x, y, r) == pytest.approx((20, 20, 20), abs=0.001)
    assert inscribed(disc(3, 4, 7))[2] == pytest.approx(7, abs=0.001)
    with pytest.raises(ValueError, match="empty"):
        inscribed(Region())


def test_distances_are_those_of_the_curves() -> None:
    assert distance(disc(0, 0, 10), disc(30, 0, 5)) == (15.0, (10.0, 0.0))
    assert distance(disc(0, 0, 10), disc(1, 0, 5)) == (4.0, (10.0, 0.0))  # the wall of a hole
    mm, at = distance(ell(), solid(rectangle(5, 5, x=60, y=60)))
    assert (mm, at[1]) == (17.5, 40.0)
    assert distance(disc(0, 0, 10), disc(12, 0, 5))[0] == 0
    with pytest.raises(ValueError, match="empty"):
        distance(Region(), ell())


@EXACT
@given(stars(), stars(), st.floats(170, 300), st.floats(0, 6.2))
def test_distances_agree_with_geos(a: Region, b: Region, far: float, angle: float) -> None:
    from pipeline.geometry.transform import shift

    b = shift(far * math.cos(angle), far * math.sin(angle)).region(b)
    mm, (x, y) = distance(a, b)
    assert mm == pytest.approx(shapely.distance(a.polygon, b.polygon), abs=0.0011)
    assert nearest_boundary(a, x, y)[0] < 1e-9
    assert nearest_boundary(b, x, y)[0] == pytest.approx(mm, abs=1e-9)


def test_offsets_keep_their_distance() -> None:
    shape = solid(polar_chain(60, [(3, 0.2, 0.4)], 100))
    assert distance(shape, offset(shape, -7))[0] == pytest.approx(7, abs=1e-6)
    assert covers(shape, offset(shape, -0.01))
    assert not covers(shape, offset(shape, 0.01))
    assert covers(shape, offset(shape, 0.01), 0.011)
    assert not covers(shape, offset(shape, 0.5), 0.45)


@pytest.mark.parametrize(("width", "places"), [(5.9, 0), (6.1, 1)])
def test_a_neck_is_thin_below_its_width(width: float, places: int) -> None:
    bone = union(disc(-30, 0, 20), disc(30, 0, 20), solid(rectangle(60, 6)))
    found = thin_places(bone, width)
    assert len(found) == places
    for x, y in found:
        assert (x, y) == pytest.approx((0, 0), abs=1e-6)


def test_corners_are_not_thin_but_fingers_are() -> None:
    """trade.md §8 #3: a rest at one convex corner is only a corner."""
    assert thin_places(solid(rectangle(80, 50)), 20) == ()
    assert thin_places(solid(rectangle(80, 50, 3)), 30) == ()
    assert thin_places(solid(line_chain([(0, 0), (100, 0), (0, 100)])), 20) == ()
    finger = union(solid(rectangle(40, 40)), solid(rectangle(30, 4, x=30)))
    ((x, y),) = thin_places(finger, 5)
    assert 20 < x < 45
    assert y == pytest.approx(0, abs=1e-6)


def test_a_thin_wall_beside_a_hole() -> None:
    """Hole of 17 in a disc of 20, 2 off centre: the wall is 1 at the right and 5 at the left."""
    plate = difference(disc(0, 0, 20), disc(2, 0, 17))
    ((x, y),) = thin_places(plate, 2)
    assert (x, y) == pytest.approx((19.5, 0), abs=0.1)
    assert len(thin_places(plate, 0.99)) == 0
    assert len(thin_places(difference(disc(0, 0, 20), disc(0, 0, 19)), 1.5)) == 1  # thin all round


@EXACT
@given(blobs(), st.floats(0, 360))
def test_thin_places_turn_with_the_shape(shape: Region, angle: float) -> None:
    found = thin_places(shape, 30)
    moved = thin_places(turn(angle).region(shape), 30)
    assert len(found) == len(moved)
