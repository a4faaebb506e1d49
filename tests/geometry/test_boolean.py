"""Union, difference and intersection of lines and arcs."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from pipeline.geometry.boolean import difference, intersection, union
from pipeline.geometry.contour import line_chain
from pipeline.geometry.nodes import noded
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.segments import segments_of
from pipeline.geometry.shapes import capsule, circle, disc, rectangle
from pipeline.geometry.trace import traced
from pipeline.geometry.transform import mirror_x_axis, shift, turn
from tests.strategies import blobs, distances, ell, polar_chain, regions, stars

EXACT = settings(deadline=None, max_examples=60, derandomize=True)


def lens(r: float, s: float, d: float) -> float:
    """Area that two circles of radii r, s and distance d have in common (two circular segments;
    Machinery's Handbook, from memory)."""
    a = math.acos((d * d + r * r - s * s) / (2 * d * r))
    b = math.acos((d * d + s * s - r * r) / (2 * d * s))
    return r * r * (a - math.sin(2 * a) / 2) + s * s * (b - math.sin(2 * b) / 2)


def counts(region: Region) -> list[int]:
    return [len(c) for c in region.contours]


def test_two_circles_that_cross() -> None:
    a, b = disc(0, 0, 30), disc(40, 0, 20)
    common = lens(30, 20, 40)
    for got, area in (
        (intersection(a, b), common),
        (union(a, b), math.pi * 1300 - common),
        (difference(a, b), math.pi * 900 - common),
    ):
        assert got.area == pytest.approx(area, rel=1e-13)
        (c,) = got.contours
        # Two corners, and where the circle drawing began no vertex is left.
        x = (1600 + 900 - 400) / 80
        corners = c.xy[np.abs(c.xy[:, 0] - x) < 1e-9]
        assert np.abs(corners[:, 1]).tolist() == pytest.approx([math.sqrt(900 - x * x)] * 2, rel=1e-12)


def test_a_capsule_is_made_of_its_parts() -> None:
    """Tangent joints come out as the four vertices of the drawn capsule, equal to the last bits."""
    made = union(disc(-15, 0, 10), disc(15, 0, 10), solid(rectangle(30, 20)))
    (c,) = made.contours
    assert c.xy.tolist() == [[-15, -10], [15, -10], [15, 10], [-15, 10]]
    assert c.bulge.tolist() == pytest.approx([0, 1, 0, 1], abs=1e-12)
    assert made.area == pytest.approx(solid(capsule((-15, 0), (15, 0), 20)).area, rel=1e-14)


def test_edges_in_common_leave_nothing_between() -> None:
    left, right = solid(rectangle(10, 10)), solid(rectangle(10, 10, x=10))
    assert counts(union(left, right)) == [4]
    assert not intersection(left, right)
    assert counts(difference(left, right)) == [4]
    assert not difference(left, left)
    assert counts(union(left, left)) == [4]


@pytest.mark.parametrize("angle", [0.0, 17.0, 90.0, 123.456])
def test_arcs_in_common_leave_nothing_between(angle: float) -> None:
    """Quarters of one disc, cut in two directions, put together again: a circle of two halves."""
    whole = disc(3, 4, 25)
    knife = turn(angle, 3, 4).region(solid(rectangle(100, 50, x=3, y=29)))
    one, two = intersection(whole, knife), difference(whole, knife)
    assert counts(one) == [2]
    assert one.area == pytest.approx(math.pi * 625 / 2, rel=1e-12)
    again = union(one, two)
    assert counts(again) == [2]
    assert again.contours[0].circle() == pytest.approx((3, 4, 25), rel=1e-12)


def test_circles_stay_circles_as_holes() -> None:
    plate = difference(solid(rectangle(100, 60)), disc(-20, 5, 8), disc(20, 5, 8), disc(0, 0, 3))
    (part,) = plate.parts
    assert [h.circle() for h in part.holes] == [
        pytest.approx((-20, 5, 8)),
        pytest.approx((0, 0, 3)),
        pytest.approx((20, 5, 8)),
    ]
    assert all(h.area < 0 for h in part.holes)


def test_a_disc_that_touches_from_inside_and_outside() -> None:
    big = disc(0, 0, 10)
    assert len(union(big, disc(15, 0, 5)).parts) == 2
    assert difference(big, disc(5, 0, 5)).area == pytest.approx(75 * math.pi, rel=1e-12)
    assert not intersection(big, disc(15, 0, 5))


def test_a_hole_that_touches_its_edge_keeps_the_point() -> None:
    """Both keep a vertex where they touch, so that flattening can't make them cross."""
    way = np.array([math.cos(1), math.sin(1)])
    drop = difference(disc(0, 0, 10), disc(*(6 * way).tolist(), 4))
    assert drop.polygon.is_valid
    assert drop.area == pytest.approx(84 * math.pi, rel=1e-9)
    for c in drop.contours:
        assert np.hypot(*(c.xy - 10 * way).T).min() < 2e-6
        assert c.circle() is not None


def test_splitting_and_nesting() -> None:
    plate, slot = solid(rectangle(100, 40)), solid(rectangle(10, 60))
    assert len(difference(plate, slot).parts) == 2
    ring = difference(disc(0, 0, 30), disc(0, 0, 20))
    island = union(ring, disc(0, 0, 10))
    assert [len(p.holes) for p in island.parts] == [1, 0]
    assert union(ring, disc(0, 0, 20)).contours[0].circle() == pytest.approx((0, 0, 30))


def test_halves_of_a_mirrored_outline_leave_no_vertex_on_the_axis() -> None:
    """The line and the arc that cross the axis are one segment each."""
    half = intersection(solid(rectangle(80, 50, 20)), solid(rectangle(200, 100, y=50)))
    whole = union(half, mirror_x_axis().region(half))
    assert counts(whole) == [8]
    assert not np.any(np.abs(whole.contours[0].xy[:, 1]) < 1e-9)


def test_an_edge_off_by_less_than_a_nanometre_is_the_same_edge() -> None:
    left = solid(rectangle(10, 10))
    right = shift(10 + 4e-7, 3e-7).region(left)
    assert counts(union(left, right)) == [4]
    assert not intersection(left, right)


def test_slits_thinner_than_the_flattening_are_closed() -> None:
    """Two discs' rims a third of a micrometre apart, as drawings with rounded numbers have them."""
    plate = difference(solid(rectangle(60, 60)), disc(0, 0, 20))
    assert len(union(plate, disc(0, 0, 20 - 0.0003)).parts[0].holes) == 0
    assert not difference(disc(0, 0, 20), disc(0, 0, 19.9997))


def test_free_marks_survive() -> None:
    drawn = solid(polar_chain(50, [(3, 0.1, 0.0)], 60))
    cut = difference(drawn, solid(rectangle(200, 100, y=-50)))
    (c,) = cut.contours
    assert not c.free[c.bulge == 0].any()
    assert c.free[c.bulge != 0].all()


def test_many_at_once() -> None:
    row = [disc(7.0 * i, 0, 5) for i in range(30)]
    (part,) = union(*row).parts
    assert part.outer.area == pytest.approx(30 * math.pi * 25 - 29 * lens(5, 5, 7), rel=1e-12)
    assert not union()
    assert not difference(Region(), ell())
    assert difference(ell(), Region()).area == 6000


def test_equal_shapes_have_equal_bytes() -> None:
    a, b = ell(), disc(50, 30, 22)
    one, two = union(a, b), union(b, a)
    assert one.contours[0].xy.tobytes() == two.contours[0].xy.tobytes()
    rolled = Region((type(a.parts[0])(a.contours[0].rolled(3)),))
    assert union(rolled, b).contours[0].xy.tobytes() == one.contours[0].xy.tobytes()


# -- laws ----------------------------------------------------------------------------------------------
@EXACT
@given(regions(), stars())
def test_areas_add_up(a: Region, b: Region) -> None:
    """|A∪B| + |A∩B| = |A| + |B| and |A∖B| + |A∩B| = |A| (measure theory).

    (Not for two chains that follow one curve a tenth of a micrometre apart: there thin faces go.)
    """
    common = intersection(a, b)
    slack = 2e-6 * (a.perimeter + b.perimeter)
    assert union(a, b).area + common.area == pytest.approx(a.area + b.area, abs=slack)
    assert difference(a, b).area + common.area == pytest.approx(a.area, abs=slack)
    assert difference(b, a).area + common.area == pytest.approx(b.area, abs=slack)


@EXACT
@given(regions(), regions())
def test_agrees_with_geos_on_flattened_forms(a: Region, b: Region) -> None:
    """Within the flattening's 0.0005 along both edges. (On a grid: without one GEOS may call the whole of two
    polygons that differ in the last bits their difference.)"""
    slack = 0.001 * (a.perimeter + b.perimeter)
    for ours, theirs in (
        (union(a, b), a.polygon.union(b.polygon)),
        (intersection(a, b), a.polygon.intersection(b.polygon)),
        (difference(a, b), a.polygon.difference(b.polygon)),
    ):
        assert ours.polygon.is_valid
        assert shapely.symmetric_difference(ours.polygon, theirs, grid_size=1e-7).area <= slack


BLOB = solid(polar_chain(50, [(3, 0.15, 0.2)], 80))


@pytest.mark.parametrize(
    ("a", "b"),
    [(solid(rectangle(100, 50, 8)), disc(50, 10, 20)), (BLOB, ell()), (BLOB, shift(20, 5).region(BLOB))],
)
def test_what_geos_makes_of_flattened_forms_is_traced_back(a: Region, b: Region) -> None:
    """Its vertices lie on chords, up to 0.0005 off the curves; the traced ones are those of the curves."""
    found = traced(a.polygon.union(b.polygon), noded(segments_of((*a.contours, *b.contours))))
    for c, d in zip(found.contours, union(a, b).contours, strict=True):
        assert c.xy == pytest.approx(d.xy, abs=1e-9)
        assert c.bulge == pytest.approx(d.bulge, abs=1e-9)


def test_tracing_needs_the_right_curves() -> None:
    with pytest.raises(ValueError, match="no curve near"):
        traced(disc(0, 0, 10).polygon, noded(segments_of(disc(0, 0, 11).contours)))


@EXACT
@given(regions(), distances())
def test_a_shape_is_its_core_and_its_rim(shape: Region, by: float) -> None:
    """All edges of core and rim coincide with others; the whole comes back, vertex for vertex."""
    core = offset(shape, -abs(by))
    rim = difference(shape, core)
    again = union(core, rim)
    assert again.area == pytest.approx(shape.area, abs=1e-6 * shape.perimeter)
    assert counts(again) == counts(union(shape))


@EXACT
@given(blobs())
def test_uniting_with_itself_changes_nothing(shape: Region) -> None:
    turned = turn(360.0 / 7).region(turn(-360.0 / 7).region(shape))  # the same up to rounding
    assert union(shape, turned).area == pytest.approx(shape.area, abs=1e-8 * shape.perimeter)
    assert not difference(shape, turned)


def test_a_thousand_crossings() -> None:
    """Two combs across each other: 20 × 20 squares of 1 and the square of 2 where their backs cross."""

    def comb() -> Region:
        teeth = [solid(rectangle(1.0, 100.0, x=-47.5 + 5 * k)) for k in range(20)]
        return union(*teeth, solid(rectangle(110, 2, y=51)))

    across = turn(90).region(comb())
    common = intersection(comb(), across)
    assert len(common.parts) == 401
    assert common.area == pytest.approx(404, abs=1e-9)


def test_a_closed_line_of_two_segments_needs_an_arc() -> None:
    """A half disc: one line, one arc."""
    half = intersection(solid(circle(0, 0, 10)), solid(line_chain([(-20, 0), (20, 0), (20, 20), (-20, 20)])))
    assert counts(half) == [2]
    assert half.area == pytest.approx(50 * math.pi, rel=1e-12)
