"""What a round cutter leaves in corners, slots and walls (outside_checks 1.2, derived there): the whole of
each table.

O3, O4 and O5 stand in test_morph.py; O4 again on generated outlines in test_properties.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import line_chain
from pipeline.geometry.morph import closing, opening
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from tests.geometry.test_theorems_offset import angles, turns

R = 6.35


def wedge(degrees: float) -> Region:
    """A triangle with that angle at (0, 0), symmetric about the x axis, with sides far longer than the
    cutter."""
    half = math.radians(degrees) / 2
    side = 60 * R
    tip = (side * math.cos(half), side * math.sin(half))
    return solid(line_chain([(0, 0), (tip[0], -tip[1]), tip]))


@pytest.mark.parametrize(
    ("degrees", "area", "gap", "tangent"),
    [
        (30, 2.4230539, 2.8637033, 3.7320508),
        (45, 1.2361163, 1.6131259, 2.4142136),
        (60, 0.68485326, 1.0, 1.7320508),
        (75, 0.38692752, 0.64267963, 1.3032254),
        (90, 0.21460184, 0.41421356, 1.0),
        (105, 0.11282852, 0.26047241, 0.76732699),
        (120, 0.053751494, 0.15470054, 0.57735027),
        (135, 0.021514481, 0.0823922, 0.41421356),
        (150, 0.0061498046, 0.03527618, 0.26794919),
    ],
)
def test_what_is_left_in_a_corner(degrees: float, area: float, gap: float, tangent: float) -> None:
    """O1, all nine angles: area r²(cot(α/2) − (π − α)/2), gap r(1/sin(α/2) − 1), tangent points r cot(α/2)
    along."""
    half = math.radians(degrees) / 2
    assert area == pytest.approx(1 / math.tan(half) - (math.pi - 2 * half) / 2, rel=1e-7)
    assert gap == pytest.approx(1 / math.sin(half) - 1, rel=1e-6)
    assert tangent == pytest.approx(1 / math.tan(half), rel=1e-7)
    shape = wedge(degrees)
    opened = opening(shape, R)
    corner = min(difference(shape, opened).parts, key=lambda p: p.outer.bounds[0])
    assert corner.outer.area == pytest.approx(area * R * R, rel=1e-6)
    assert nearest_boundary(opened, 0, 0)[0] == pytest.approx(gap * R, rel=1e-6)
    ends = np.hypot(*opened.contours[0].xy.T)
    assert np.sort(ends)[:2] == pytest.approx([tangent * R] * 2, rel=1e-7)


@pytest.mark.parametrize(
    ("shape", "r", "area", "length"),
    [
        (rectangle(80, 50), 3, 3992.274334, 254.849556),
        (rectangle(80, 50), 6.35, 3965.386870, 249.098227),
        (line_chain([(0, 0), (100, 0), (0, 100)]), 5, 4932.829138, 314.553012),
    ],
)
def test_opened_polygons_of_the_table(shape: object, r: float, area: float, length: float) -> None:
    """O2, its numbers."""
    opened = opening(solid(shape), r)  # type: ignore[arg-type]  # a contour
    assert opened.area == pytest.approx(area, abs=1e-6)
    assert opened.perimeter == pytest.approx(length, abs=1e-6)


@settings(deadline=None, max_examples=25, derandomize=True)
@given(st.integers(3, 8), st.integers(0, 10**6), st.floats(0.5, 4))
def test_any_convex_polygon_opened(n: int, seed: int, r: float) -> None:
    """O2: A − r² Σ(tan(θ/2) − θ/2), P − 2r Σ(tan(θ/2) − θ/2), for points on a circle of 80."""
    a = angles(n, seed)
    shape = solid(line_chain(80 * np.stack([np.cos(a), np.sin(a)], axis=1)))
    lost = float(np.sum(np.tan(turns(shape) / 2) - turns(shape) / 2))
    opened = opening(shape, r)
    assert opened.area == pytest.approx(shape.area - r * r * lost, rel=1e-9)
    assert opened.perimeter == pytest.approx(shape.perimeter - 2 * r * lost, rel=1e-9)


def test_closing_of_the_l() -> None:
    """O3, its number: r = 8 fills 6013.734518 of the L of G5."""
    ell = solid(line_chain([(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]))
    assert closing(ell, 8).area == pytest.approx(6013.734518, abs=1e-6)


@pytest.mark.parametrize("r", [0.5, 3.175, 10.0])
@pytest.mark.parametrize("eps", [1e-4, 1e-2])
def test_slots_and_walls(r: float, eps: float) -> None:
    """O5: a slot survives iff w ≥ 2r; a wall stays between pockets iff t > 2r; a tenth of a micron
    decides."""
    for width, through in ((2 * r - eps, 2), (2 * r + eps, 1)):
        rooms = union(
            solid(rectangle(8 * r, 8 * r, x=-9 * r)),
            solid(rectangle(8 * r, 8 * r, x=9 * r)),
            solid(rectangle(14 * r, width)),
        )
        assert len(opening(rooms, r).parts) == through
    for wall, count in ((2 * r - eps, 1), (2 * r + eps, 2)):
        a, b = (solid(rectangle(8 * r, 8 * r, x=s * (4 * r + wall / 2))) for s in (-1, 1))
        assert len(closing(union(a, b), r).parts) == count


@pytest.mark.parametrize(
    ("degrees", "past", "more"),
    [(60, 0.5, 1.22837), (75, 0.391239, 0.86667), (90, 0.292893, 0.570796), (120, 0.133975, 0.181172)],
)
def test_a_relief_circle_through_the_corner(degrees: float, past: float, more: float) -> None:
    """O6 (geometry read, formulas derived): the circle through the vertex with its centre on the bisector
    cuts r(1 − sin(α/2)) past each wall and r²((π − α) − sin α) of new area."""
    alpha = math.radians(degrees)
    assert past == pytest.approx(1 - math.sin(alpha / 2), abs=1e-6)
    assert more == pytest.approx((math.pi - alpha) - math.sin(alpha), abs=1e-5)
    shape, circle = wedge(degrees), disc(R, 0, R)
    relieved = union(shape, circle)
    assert relieved.area - shape.area == pytest.approx(more * R * R, abs=1e-5 * R * R)
    extra = difference(circle, shape)
    wall = np.array([math.sin(alpha / 2), math.cos(alpha / 2)])  # unit normals of both walls
    for normal in (wall * [-1, 1], wall * [-1, -1]):
        far = max(float((c.flatten(1e-5)[0] @ normal).max()) for c in extra.contours)
        assert far == pytest.approx(past * R, abs=1e-5 * R + 1e-5)
    assert nearest_boundary(relieved, 0, 0)[0] == pytest.approx(0, abs=1e-9)  # the vertex itself is reached


def test_a_relief_circle_on_a_wall() -> None:
    """O7 (derived): centred on one wall at distance r from a square corner it passes through the vertex,
    touches the other wall and cuts r past the first, a half disc."""
    pocket = solid(rectangle(80, 60, x=40, y=30))
    relieved = union(pocket, disc(R, 0, R))
    assert relieved.bounds == pytest.approx((0, -R, 80, 60), abs=1e-9)
    assert relieved.area == pytest.approx(4800 + math.pi * R * R / 2, rel=1e-9)
    assert nearest_boundary(relieved, 0, 0)[0] == pytest.approx(0, abs=1e-9)
