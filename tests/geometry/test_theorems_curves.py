"""Facts of approximation (outside_checks 1.4) that test_curves.py (B1, B3, B4), test_contour.py (B5, B6) and
test_deviation.py (B9) leave open."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.biarcs import CURVE_MM
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.curves import Cubic, contour
from pipeline.geometry.deviation import deviation
from pipeline.geometry.morph import swept
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import circle, disc, rectangle
from tests.geometry.test_theorems_offset import angles
from tests.strategies import smooth_chain

LAWS = settings(deadline=None, max_examples=20, derandomize=True)


def four_cubics(radius: float, kappa: float) -> Contour:
    """A "circle" as exporters write it, handles of ``kappa`` radii."""
    k = kappa * radius
    corners = [(radius, 0.0), (0.0, radius), (-radius, 0.0), (0.0, -radius)]
    handles = [(-y / radius * k, x / radius * k) for x, y in corners]
    segments = []
    for p, q, h, g in zip(corners, corners[1:] + corners[:1], handles, handles[1:] + handles[:1], strict=True):
        segments.append(Cubic(p, (p[0] + h[0], p[1] + h[1]), (q[0] - g[0], q[1] - g[1]), q))
    return contour(segments, True)


@pytest.mark.parametrize(
    ("kappa", "low", "high"),
    [(0.55228474983079, 0.0, 2.72530e-4), (0.551915024494, -1.96076e-4, 1.96076e-4)],
)
def test_circles_of_four_cubics(kappa: float, low: float, high: float) -> None:
    """B1, B2 (read in a re-host; computed): the radius is off by these shares, least and most; at R 300
    0.0818 mm."""
    r = 300.0
    radii = np.hypot(*four_cubics(r, kappa).flatten(1e-6)[0].T)
    assert radii.min() - r == pytest.approx(low * r, abs=2 * CURVE_MM + 5e-10 * r)
    assert radii.max() - r == pytest.approx(high * r, abs=2 * CURVE_MM + 5e-10 * r)
    h = deviation(four_cubics(r, kappa), circle(0, 0, r)).worst_mm  # the same, by the product's own measure
    assert h == pytest.approx(max(-low, high) * r, abs=3 * CURVE_MM)


def test_area_of_four_cubics() -> None:
    """B3 (computed): 3.14247233266 r²."""
    c = four_cubics(100, 4 * (math.sqrt(2) - 1) / 3)
    assert c.area == pytest.approx(31424.7233266, abs=CURVE_MM * 629)


@pytest.mark.parametrize(
    ("phi_deg", "share"),
    [(30, 3.7266e-7), (45, 4.2455e-6), (60, 2.38643e-5), (90, 2.72529e-4), (120, 1.54202e-3), (180, 1.83501e-2)],
)
def test_arcs_of_one_cubic(phi_deg: float, share: float) -> None:
    """B4 (Goldapp 1991, from memory; computed): the largest radial error; (2/27) sin⁶(φ/4)/cos²(φ/4)
    nearly gives it."""
    r, phi = 1000.0, math.radians(phi_deg)
    k = 4 / 3 * math.tan(phi / 4)
    x, y = math.cos(phi), math.sin(phi)
    cubic = Cubic((r, 0), (r, k * r), (r * (x + k * y), r * (y - k * x)), (r * x, r * y))
    radii = np.hypot(*contour([cubic], False).flatten(1e-6)[0].T)
    assert radii.max() - r == pytest.approx(share * r, rel=1e-4, abs=2 * CURVE_MM)
    assert 2 / 27 * math.sin(phi / 4) ** 6 / math.cos(phi / 4) ** 2 == pytest.approx(share, rel=0.01)


@pytest.mark.parametrize(
    ("degrees", "bulge"),
    [
        (30, 0.131652497587),
        (45, 0.19891236738),
        (60, 0.267949192431),
        (90, 0.414213562373),
        (120, 0.57735026919),
        (180, 1),
        (270, 2.41421356237),
    ],
)
def test_bulges(degrees: float, bulge: float) -> None:
    """B5 (DXF reference: bulge = tan of a quarter of the angle; read): R = c(1 + b²)/(4|b|), s = R(1 −
    cos(φ/2)).

    The arc's bounds show the sagitta, its length the radius."""
    c, phi = 80.0, math.radians(degrees)
    arc = chain([(0, 0), (c, 0)], [bulge, 0.0], closed=False)
    radius = c * (1 + bulge**2) / (4 * bulge)
    assert arc.length == pytest.approx(radius * phi, rel=1e-10)
    assert -arc.bounds[1] == pytest.approx(radius * (1 - math.cos(phi / 2)), rel=1e-9)
    assert -arc.bounds[1] == pytest.approx(bulge * c / 2, rel=1e-9)


@pytest.mark.parametrize(
    ("radius", "tol", "least"),
    [(10, 0.01, 71), (50, 0.01, 158), (150, 0.01, 273), (150, 0.05, 122), (5, 0.01, 50), (3.175, 0.005, 56)],
)
def test_chords_of_a_circle(radius: float, tol: float, least: int) -> None:
    """B6 (derived): N ≥ π/arccos(1 − tol/R); two half circles take the next even number."""
    assert math.ceil(math.pi / math.acos(1 - tol / radius)) == least
    points = circle(0, 0, radius).flatten(tol)[0]
    assert len(points) == least + least % 2
    sagitta = radius - np.hypot(*((points + np.roll(points, -1, axis=0)) / 2).T)
    assert sagitta.max() <= tol * (1 + 1e-9)


@pytest.mark.parametrize(
    ("n", "share"),
    [
        (8, 0.9003163162),
        (16, 0.9744953584),
        (32, 0.9935868511),
        (64, 0.998394393),
        (128, 0.9995984531),
        (256, 0.9998996042),
    ],
)
def test_polygons_in_a_circle(n: int, share: float) -> None:
    """B7 (computed): area of the inscribed n-gon / πR²; 32 is GEOS's default of 8 segments a quadrant."""
    a = np.arange(n) * 2 * math.pi / n
    polygon = line_chain(50 * np.stack([np.cos(a), np.sin(a)], axis=1))
    assert polygon.area / (math.pi * 2500) == pytest.approx(share, abs=5e-11)
    assert deviation(polygon, circle(0, 0, 50)).worst_mm == pytest.approx(
        50 * (1 - math.cos(math.pi / n)), abs=1e-7
    )
    if n == 32:
        assert shapely.Point(0, 0).buffer(50, quad_segs=8).area == pytest.approx(share * math.pi * 2500, rel=1e-9)


def test_biarcs_are_of_third_order() -> None:
    """B8 (Meek & Walton 1995, from memory): half the length of a piece, an eighth of the error: 7 to 9."""
    errors = []
    for n in (48, 96, 192):
        t = np.arange(n) * 2 * math.pi / n
        way = np.stack([-200 * np.sin(t), 130 * np.cos(t)], axis=1)
        points = np.stack([200 * np.cos(t), 130 * np.sin(t)], axis=1)
        x, y = smooth_chain(points, way / np.hypot(*way.T)[:, None]).flatten(1e-6)[0].T
        u, v = x / 200**2, y / 130**2  # half the gradient; the distance to first order, as it is tiny
        errors.append(float(np.max(np.abs(x * u + y * v - 1) / (2 * np.hypot(u, v)))))
    assert errors[0] / errors[1] == pytest.approx(8, abs=1)
    assert errors[1] / errors[2] == pytest.approx(8, abs=1)


def test_vertices_alone_see_too_little() -> None:
    """B9: the distance peaks inside a segment, so vertices only give a lower bound."""
    hat = line_chain([(-50, 0), (0, 30), (50, 0)], closed=False)
    line = line_chain([(-50, 0), (50, 0)], closed=False)
    bow = line_chain([(-50, 0), (0, -1), (50, 0)], closed=False)
    vertices = shapely.hausdorff_distance(shapely.LineString(line.xy), shapely.LineString(bow.xy))
    assert vertices == pytest.approx(1, abs=1e-3)
    assert deviation(line, hat).worst_mm == pytest.approx(30, abs=1e-9)
    # From the line's middle to the hat it is 30 cos(atan(30/50)); from the hat's tip to the line 30.
    one_way = shapely.Point(0, 0).distance(shapely.LineString(hat.xy))
    assert one_way == pytest.approx(30 * math.cos(math.atan(0.6)))
    assert deviation(line, hat).worst_mm > one_way


# B10 --------------------------------------------------------------------------------------------------
def convex(n: int, seed: int, radius: float) -> np.ndarray:
    a = angles(n, seed)
    return radius * np.stack([np.cos(a), np.sin(a)], axis=1)


@LAWS
@given(st.integers(3, 8), st.integers(0, 10**6), st.floats(1, 30), st.floats(1, 30), st.floats(0, 3.1))
def test_the_sum_of_a_polygon_and_a_parallelogram(n: int, seed: int, u: float, v: float, turn: float) -> None:
    """B10 (de Berg et al., Computational Geometry, ch. 13, from memory): perimeters add; areas by the
    mixed area 2V(K, L) = Σ h_L(normal) · side of K; at most m + n edges. L is swept along one side, then
    the other."""
    k = convex(n, seed, 40)
    a = np.array([math.cos(turn), math.sin(turn)])
    b = np.array([math.cos(turn + 1.2), math.sin(turn + 1.2)])
    total = swept(swept(solid(line_chain(k)), tuple(a), u), tuple(b), v)
    side = np.roll(k, -1, axis=0) - k
    normal = np.stack([side[:, 1], -side[:, 0]], axis=1)  # as long as the side, outward
    corners = np.array([[0, 0], u * a, u * a + v * b, v * b])
    mixed = float(np.sum((normal @ corners.T).max(axis=1)))
    own = solid(line_chain(k))
    assert total.perimeter == pytest.approx(own.perimeter + 2 * (u + v), rel=1e-9)
    assert total.area == pytest.approx(own.area + mixed + u * v * math.sin(1.2), rel=1e-9)
    assert len(total.contours[0]) <= n + 4


def test_the_sum_of_squares() -> None:
    """B10: (a + b)²; and square B moved by t meets square A iff t ∈ A ⊕ (−B)."""
    total = swept(swept(solid(rectangle(50, 50)), (1, 0), 20), (0, 1), 20)
    assert (total.area, total.perimeter) == pytest.approx((70**2, 280), rel=1e-12)
    a, b = shapely.box(0, 0, 50, 50), shapely.box(0, 0, 20, 20)
    forbidden = swept(swept(solid(rectangle(50, 50, x=25, y=25)), (-1, 0), 20), (0, -1), 20).polygon
    for x, y in [(49.9, 10), (50.1, 10), (-19.9, 49.9), (-20.1, 0), (20, -20.1), (20, -19.9), (49.9, 49.9)]:
        moved = shapely.transform(b, lambda xy, t=(x, y): xy + np.array(t))
        assert shapely.intersects(a, moved) == shapely.contains_xy(forbidden, x, y)


def test_a_swept_disc_is_the_sum_with_a_segment() -> None:
    """B10, G1: disc ⊕ segment: area π r² + 2 r l, perimeter 2π r + 2 l."""
    capsule = swept(disc(0, 0, 10), (0.6, 0.8), 35)
    assert (capsule.area, capsule.perimeter) == pytest.approx((100 * math.pi + 700, 20 * math.pi + 70), rel=1e-12)
