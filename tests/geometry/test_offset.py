"""Parallel curves against theorems, closed forms and two other offset engines."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.offset import OffsetFailed, offset
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from tests.geometry.freeform import design
from tests.strategies import distances, ell, hull_of_two_discs, polar_chain, regions, smooth_chain, stars

EXACT = settings(deadline=None, max_examples=60, derandomize=True)


def ellipse(a: float, b: float, pieces: int = 400) -> Region:
    t = np.arange(pieces) * (2 * math.pi / pieces)
    points = np.stack([a * np.cos(t), b * np.sin(t)], axis=1)
    way = np.stack([-a * np.sin(t), b * np.cos(t)], axis=1)
    return solid(smooth_chain(points, way / np.hypot(*way.T)[:, None]))


def same(a: Region, b: Region) -> None:
    """Equal to ten nanometres, measured from the segments of either to the curves of the other."""
    assert a.area == pytest.approx(b.area, abs=1e-5 * (a.perimeter + b.perimeter) + 1e-9)
    for one, other in ((a, b), (b, a)):
        for c in one.contours:
            for x, y in c.flatten(0.5)[0].tolist():
                assert nearest_boundary(other, x, y)[0] < 1e-5


# -- exact numbers -----------------------------------------------------------------------------------
# Sources: outside_checks rows G1–G8 (Steiner 1840, Weyl 1939; the polygon forms are derived from them).
@pytest.mark.parametrize(
    ("r", "area", "perimeter"),
    [(5, 87002.0524092, 1079.83664645), (20, 103906.460453, 1174.08442606), (50, 141956.426623, 1362.57998527)],
)  # fmt: skip
def test_steiners_formula_holds_outside_an_ellipse(r: float, area: float, perimeter: float) -> None:
    """G1, semi-axes 200 × 130."""
    grown = offset(ellipse(200, 130), r)
    assert grown.area == pytest.approx(area, rel=1e-8)
    assert grown.perimeter == pytest.approx(perimeter, rel=1e-8)


@pytest.mark.parametrize(
    ("r", "area", "perimeter"),
    [(5, 76517.8452101, 1017.00479338), (20, 61969.6316565, 922.75701377), (50, 37114.3546316, 734.261454554)],
)  # fmt: skip
def test_steiners_formula_holds_inside_an_ellipse_up_to_its_least_radius(
    r: float, area: float, perimeter: float
) -> None:
    """G2: b²/a = 84.5."""
    shrunk = offset(ellipse(200, 130), -r)
    assert shrunk.area == pytest.approx(area, rel=1e-8)
    assert shrunk.perimeter == pytest.approx(perimeter, rel=1e-8)


def test_past_the_least_radius_the_inner_curve_gets_corners() -> None:
    """G2: at r = 100 the formula must fail.

    The true curve runs between the two parameters where the parallel crosses the long axis
    (w = 100·a/b); its area and length by Gauss–Legendre quadrature. GEOS's 8275.407 is 0.5 too small.
    """
    a, b, r = 200.0, 130.0, 100.0
    first = math.asin(math.sqrt(((r * a / b) ** 2 - b * b) / (a * a - b * b)))
    x, weight = np.polynomial.legendre.leggauss(100)
    half = (math.pi - 2 * first) / 2
    t = first + half * (x + 1)
    w = np.sqrt((b * np.cos(t)) ** 2 + (a * np.sin(t)) ** 2)
    y = b * np.sin(t) - r * a * np.sin(t) / w
    speed = w - r * a * b / w**2
    area = 2 * half * float(np.sum(weight * y * speed * a * np.sin(t) / w))
    length = 2 * half * float(np.sum(weight * speed))
    shrunk = offset(ellipse(a, b), -r)
    assert shrunk.area == pytest.approx(area, rel=1e-8)
    assert shrunk.perimeter == pytest.approx(length, rel=1e-7)
    steiner = 81681.4089933 - 1048.42071991 * r + math.pi * r * r
    assert abs(shrunk.area - steiner) > 10


@pytest.mark.parametrize(
    ("r", "area", "perimeter"),
    [
        (10, 41464.2855389, 784.924414547),
        (25, 53945.0101041, 879.172194154),
        (-10, 27022.4343094, 659.260708403),
        (-25, 17840.3820304, 565.012928795),
    ],
)
def test_a_smooth_curve_with_a_waist_keeps_the_formula_within_its_reach(
    r: float, area: float, perimeter: float
) -> None:
    """G3: ρ = 100 + 40 cos 2t."""
    moved = offset(solid(polar_chain(100, [(2, 0.4, 0.0)], 500)), r)
    assert moved.area == pytest.approx(area, rel=1e-7)
    assert moved.perimeter == pytest.approx(perimeter, rel=1e-7)
    assert all(c.free.all() for c in moved.contours)


@pytest.mark.parametrize("d", [2.0, -2.0, 9.9, -9.9])
def test_a_ring_grows_on_both_edges(d: float) -> None:
    """G4: with one hole the πr² term vanishes, and circles stay circles."""
    ring = difference(disc(3, 4, 50), disc(3, 4, 30))
    moved = offset(ring, d)
    assert moved.area == pytest.approx(math.pi * (1600 + 160 * d), rel=1e-12)
    assert [c.circle() for c in moved.contours] == [
        pytest.approx((3, 4, 50 + d), rel=1e-12),
        pytest.approx((3, 4, 30 - d), rel=1e-12),
    ]


@pytest.mark.parametrize("d", [5.0, 10.0])
def test_an_l_polygon_grows_with_round_corners(d: float) -> None:
    """G5: five convex right angles and one reflex."""
    grown = offset(ell(), d)
    convex, reflex = 5 * math.pi / 4, math.tan(math.pi / 4)
    assert grown.area == pytest.approx(6000 + 380 * d + d * d * (convex - reflex), rel=1e-12)
    assert grown.perimeter == pytest.approx(380 + 2 * d * convex - 2 * d * reflex, rel=1e-12)
    assert len(grown.contours[0]) == 11  # six sides, five corners
    assert np.count_nonzero(grown.contours[0].bulge) == 5


@pytest.mark.parametrize("d", [5.0, 10.0])
def test_an_l_polygon_shrinks_with_one_round_corner(d: float) -> None:
    """G6."""
    shrunk = offset(ell(), -d)
    assert shrunk.area == pytest.approx(6000 - 380 * d + d * d * (5 - math.pi / 4), rel=1e-12)
    assert shrunk.perimeter == pytest.approx(380 - 10 * d + d * math.pi / 2, rel=1e-12)
    assert len(shrunk.contours[0]) == 7


@pytest.mark.parametrize("d", [5.0, 10.0, -5.0, -10.0])
def test_mitred_corners_make_integers_of_the_l_polygon(d: float) -> None:
    """G7: Σ tan(θ/2) = 4, for either sign."""
    moved = offset(ell(), d, join="mitre")
    assert moved.area == pytest.approx(6000 + 380 * d + 4 * d * d, rel=1e-12)
    assert moved.perimeter == pytest.approx(380 + 8 * d, rel=1e-12)
    assert len(moved.contours[0]) == 6


def test_a_needle_keeps_a_round_tip_under_mitre_joins() -> None:
    """The mitre of a 10° tip would stand 11.5 offsets out (1/sin 5°): past the limit of 4 it stays round."""
    half = math.radians(5)
    needle = solid(line_chain([(0, 0), (100, -100 * math.tan(half)), (100, 100 * math.tan(half))]))
    grown = offset(needle, 2, join="mitre")
    assert grown.bounds[0] == pytest.approx(-2, abs=1e-9)
    assert np.count_nonzero(grown.contours[0].bulge) == 1


def test_inner_offsets_of_polygons_with_an_inscribed_circle_are_similar() -> None:
    """G8."""
    square, triangle = solid(rectangle(100, 100)), solid(line_chain([(0, 0), (80, 0), (0, 60)]))
    assert offset(square, -10).area == pytest.approx(6400, rel=1e-12)
    assert offset(triangle, -5).area == pytest.approx(2400 * (3 / 4) ** 2, rel=1e-12)
    assert offset(square, -49.9).area == pytest.approx(0.2**2, rel=1e-9)


@pytest.mark.parametrize("by", [-20.0, -20.001, -1000.0])
def test_nothing_is_left_past_the_inscribed_circle(by: float) -> None:
    """G10: no inner curve exists past the inradius, 20 for the 3-4-5 triangle."""
    assert not offset(solid(line_chain([(0, 0), (80, 0), (0, 60)])), by)


def test_body_w_stays_two_lines_and_two_arcs() -> None:
    """trade.md body W: hull of R 120 at (20, 0) and R 42 at (190, 0); closed forms given there."""
    body = solid(hull_of_two_discs(20, 120, 190, 42))
    assert body.area == pytest.approx(55883.61, abs=0.005)
    assert body.perimeter == pytest.approx(885.398, abs=0.0005)
    inner = offset(body, -4.5)
    (c,) = inner.contours
    assert (len(c), np.count_nonzero(c.bulge)) == (4, 2)
    assert inner.perimeter == pytest.approx(body.perimeter - 2 * math.pi * 4.5, rel=1e-12)
    assert inner.perimeter == pytest.approx(857.124, abs=0.0005)


def test_the_recess_of_body_w() -> None:
    """trade.md: cavity 80 × 45 with corners of 8, bush 17 and cutter 8 → area 4671.87, corner 12.5."""
    (c,) = offset(solid(rectangle(80, 45, 8, x=-30, y=-45)), 4.5).contours
    assert c.area == pytest.approx(4671.87, abs=0.005)
    arcs = c.bulge != 0
    chord = np.hypot(*(c.ends - c.starts).T)[arcs]
    assert len(c) == 8
    assert chord == pytest.approx(np.full(4, 12.5 * math.sqrt(2)), rel=1e-12)


def test_scallops_shrink_to_arcs_about_their_cusps() -> None:
    """60 outward scallops 0.3 high on a circle of 60: 30 further in only arcs of 30 about the cusps remain.

    Derived: neighbouring arcs meet where both cusps are 30 away.
    """
    n, big, d = 60, 60.0, 30.0
    a = np.arange(n) * 2 * math.pi / n
    side = 2 * big * math.sin(math.pi / n)
    scallops = chain(big * np.stack([np.cos(a), np.sin(a)], axis=1), np.full(n, 2 * 0.3 / side))
    inner = offset(solid(scallops), -d)
    meet = big * math.cos(math.pi / n) - math.sqrt(d * d - (side / 2) ** 2)
    angle = 2 * math.asin(meet * math.sin(math.pi / n) / d)
    area = n * (meet**2 * math.sin(2 * math.pi / n) / 2 - d * d * (angle - math.sin(angle)) / 2)
    assert len(inner.contours[0]) == n
    assert inner.area == pytest.approx(area, rel=1e-10)
    assert inner.perimeter == pytest.approx(n * d * angle, rel=1e-10)


def test_ripples_are_not_shaved() -> None:
    """ρ = 80 + 0.3 cos 40t, 30 mm inwards: every point of the result is 30 from the drawn curve.

    ("Rippled" shapes are where engines that simplify their input first go wrong by a tenth.)
    """
    source = polar_chain(80, [(40, 0.3 / 80, 0.0)], 800)
    t = np.linspace(0, 2 * math.pi, 40_001)
    rho = 80 + 0.3 * np.cos(40 * t)
    true = shapely.LineString(np.stack([rho * np.cos(t), rho * np.sin(t)], axis=1))
    shapely.prepare(true)
    inner = offset(solid(source), -30)
    points = shapely.points(inner.contours[0].flatten(1e-3)[0])
    assert shapely.dwithin(true, points, 30 + 1e-4).all()
    assert not shapely.dwithin(true, points, 30 - 1e-4).any()


# -- merging, splitting, degenerate ---------------------------------------------------------------------
def dumbbell(neck: float) -> Region:
    return union(disc(-40, 0, 20), disc(40, 0, 20), solid(rectangle(80, neck)))


def test_a_dumbbell_splits_at_half_its_neck_and_not_before() -> None:
    assert len(offset(dumbbell(8), -3.999).parts) == 1
    assert len(offset(dumbbell(8), -4.001).parts) == 2
    lobes = offset(dumbbell(8), -4)
    assert len(lobes.parts) == 2  # a neck without width is no neck


def test_two_discs_merge_when_they_grow_together() -> None:
    pair = Region(disc(-20, 0, 10).parts + disc(20, 0, 10).parts)
    assert len(offset(pair, 9.99).parts) == 2
    merged = offset(pair, 12)
    assert len(merged.parts) == 1
    lens = 2 * 22**2 * math.acos(20 / 22) - 20 * math.sqrt(4 * 22**2 - 40**2)  # two circles 40 apart
    assert merged.area == pytest.approx(2 * math.pi * 22**2 - lens, rel=1e-12)


def test_a_hole_closes_when_the_region_grows() -> None:
    plate = difference(solid(rectangle(100, 60)), solid(rectangle(30, 8)), disc(40, 0, 5))
    assert [len(p.holes) for p in offset(plate, 3.9).parts] == [2]
    assert [len(p.holes) for p in offset(plate, 4.5).parts] == [1]
    assert [len(p.holes) for p in offset(plate, 4).parts] == [1]  # just shut: no slit is left
    assert [len(p.holes) for p in offset(plate, 5.1).parts] == [0]


def test_an_arc_that_collapses_leaves_the_crossing_of_its_neighbours() -> None:
    """Corners of 8 moved in by 8 are sharp, by 8.5 still."""
    for by in (8.0, 8.5):
        (c,) = offset(solid(rectangle(80, 45, 8)), -by).contours
        assert len(c) == 4
        assert c.area == pytest.approx((80 - 2 * by) * (45 - 2 * by), rel=1e-12)


def test_a_tiny_break_between_tangents_leaves_no_gap() -> None:
    """Coordinates rounded to three decimals break tangents a little; the joints must still close."""
    rough = rectangle(80, 45, 8)
    body = solid(Contour(np.round(rough.xy, 3), np.round(rough.bulge, 5), rough.free))
    for by in (5.0, -5.0, 30.0, -12.0):
        assert offset(body, by).area == pytest.approx(offset(solid(rough), by).area, rel=1e-4)


def test_zero_and_empty() -> None:
    assert offset(ell(), 0) .area == 6000  # fmt: skip
    assert not offset(Region(), 5)
    with pytest.raises(ValueError, match="number"):
        offset(ell(), math.nan)


def test_a_big_plate_with_a_small_hole_grows() -> None:
    """Found by a generated test: half-way along its level line GEOS's point in the ring touched the hole."""
    plate = difference(disc(0, 0, 399.78125), disc(0, 2, 2.21875))
    assert offset(plate, 0.21875).area == pytest.approx(math.pi * (400**2 - 2**2), rel=1e-12)


def test_walls_thinner_than_the_offset_do_not_spoil_what_stays() -> None:
    """A hole whose wall vanishes exactly, found by a generated test: two blocks stay beside it."""
    plate = difference(solid(rectangle(26, 10)), solid(rectangle(12, 8)))
    assert [round(p.outer.area, 9) for p in offset(plate, -1).parts] == [5 * 8, 5 * 8]


def test_a_failed_offset_tells_where() -> None:
    failed = OffsetFailed(-4.5, (10.0, 20.0), 0.01234)
    assert isinstance(failed, ValueError)
    assert str(failed) == (
        "The offset by -4.5 mm could not be made: near (10.000, 20.000) it would be wrong by 0.0123 mm."
    )


# -- laws ----------------------------------------------------------------------------------------------
@EXACT
@given(regions(), distances())
def test_every_point_of_the_result_is_at_the_distance(shape: Region, by: float) -> None:
    edge = shapely.MultiLineString([np.vstack([f, f[:1]]) for f in (c.flatten(5e-6)[0] for c in shape.contours)])
    shapely.prepare(edge)
    moved = offset(shape, by)
    assert moved.polygon.is_valid
    for c in moved.contours:
        off = np.abs(shapely.distance(edge, shapely.points(c.flatten(0.05)[0])) - abs(by))
        assert off.max() < 1e-4


@EXACT
@given(regions(), distances())
def test_agrees_with_geos(shape: Region, by: float) -> None:
    """GEOS with fine quarter circles, within its own simplification of the input (1 % of the distance)."""
    quarter = math.ceil(math.pi / 4 / math.acos(1 - min(0.5, 0.0005 / abs(by))))
    theirs = shape.polygon.buffer(by, quad_segs=quarter)
    ours = offset(shape, by)
    strip = 0.002 + 0.01 * abs(by)
    assert shapely.symmetric_difference(ours.polygon, theirs, grid_size=1e-7).area <= strip * (
        shape.perimeter + theirs.length
    )
    if by > 0:  # what shrinks may vanish in one and leave a thread in the other
        assert theirs.buffer(strip).covers(ours.polygon)
        assert ours.polygon.buffer(strip).covers(theirs)


@EXACT
@given(stars(), distances())
def test_agrees_with_a_polygon_clipper(shape: Region, by: float) -> None:
    """A second engine that shares no code with GEOS works on integers of 10 nm."""
    pyclipper = pytest.importorskip("pyclipper")
    unit = 1e5
    engine = pyclipper.PyclipperOffset(2.0, 0.0005 * unit)
    path = [tuple(round(v * unit) for v in p) for p in shape.contours[0].flatten()[0].tolist()]
    engine.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    theirs = sum(pyclipper.Area(p) for p in engine.Execute(by * unit)) / unit**2
    ours = offset(shape, by)
    assert ours.area == pytest.approx(theirs, abs=0.003 * (shape.perimeter + 2 * math.pi * abs(by)))


@EXACT
@given(regions(), distances(), distances())
def test_growing_twice_is_growing_by_the_sum(shape: Region, r: float, s: float) -> None:
    """G9: K⊕rB⊕sB = K⊕(r+s)B (Serra 1982)."""
    same(offset(offset(shape, abs(r)), abs(s)), offset(shape, abs(r) + abs(s)))


@EXACT
@given(regions(), distances(), distances())
def test_shrinking_twice_is_shrinking_by_the_sum(shape: Region, r: float, s: float) -> None:
    """G9 under complement."""
    same(offset(offset(shape, -abs(r)), -abs(s)), offset(shape, -abs(r) - abs(s)))


@EXACT
@given(regions(), distances())
def test_equal_inputs_give_equal_bytes(shape: Region, by: float) -> None:
    """The start vertex of the source does not matter either."""
    (c,) = shape.contours
    once, again = offset(shape, by), offset(shape, by)
    rolled = offset(solid(c.rolled(len(c) // 2)), by)
    for a, b, r in zip(once.contours, again.contours, rolled.contours, strict=True):
        assert a.xy.tobytes() == b.xy.tobytes()
        assert a.bulge.tobytes() == b.bulge.tobytes()
        assert np.round(a.xy, 6) == pytest.approx(np.round(r.xy, 6), abs=2e-6)


def test_a_circle_stays_a_circle() -> None:
    assert offset(solid(circle(3, -2, 10)), 5).contours[0].circle() == pytest.approx((3, -2, 15))
    assert offset(solid(circle(3, -2, 10)), -5).contours[0].circle() == pytest.approx((3, -2, 5))
    assert not offset(solid(circle(3, -2, 10)), -10)


def test_a_needle_whose_tangents_cross_at_its_tip_grows() -> None:
    """Two sides leave the tip a degree across each other and bend apart: still a tip, not the end of a slit."""
    shape = design(627).region()
    for by in (1.0, 6.0):
        grown = offset(shape, by)
        assert len(grown.contours) == 1
        assert grown.area == pytest.approx(shape.polygon.buffer(by, quad_segs=400).area, rel=1e-5)
