"""Area, centroid and moments against tables (outside_checks 1.3).

M4's composite body stands in tests/workshop/test_totals.py. The product has no second moments; those of
the tests (`second_moments.py`) are checked here by the same tables, so that test_properties.py may use them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import chain, line_chain
from pipeline.geometry.curves import contour, quadratic
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from tests.geometry.second_moments import central, moments
from tests.strategies import ell, smooth_chain


def test_the_l() -> None:
    """M1 (standard): centroid (40, 35); 3 650 000, 4 800 000, −1 800 000 about it. (The 15 538 contours of
    the row can't be had here.)"""
    assert ell().centroid == pytest.approx((40, 35), rel=1e-12)
    assert central(ell()) == pytest.approx((3_650_000, 4_800_000, -1_800_000), rel=1e-12)


@pytest.mark.parametrize(
    ("half_deg", "area", "mean_y", "yy", "xx"),
    [
        (30, 0.0905860737061, 0.919935371123, 0.076773106163, 0.00460432251434),
        (45, 0.285398163397, 0.825871679024, 0.196349540849, 0.0296828741827),
        (60, 0.614184849304, 0.705020161899, 0.315925975536, 0.0994196245896),
        (90, math.pi / 2, 0.424413181578, math.pi / 8, math.pi / 8),
        (120, 2.52740780429, 0.17132680415, 0.469472187862, 0.685978538808),
    ],
)
def test_circular_segments(half_deg: float, area: float, mean_y: float, yy: float, xx: float) -> None:
    """M2 (Machinery's Handbook, from memory; quadrature): radius 1, about the circle's centre."""
    b = math.radians(half_deg)
    s = solid(chain([(math.sin(b), math.cos(b)), (-math.sin(b), math.cos(b))], [math.tan(b / 2), 0]))
    assert s.area == pytest.approx(area, rel=1e-11)
    assert s.centroid == pytest.approx((0, mean_y), abs=1e-11)
    m = moments(s)
    assert (m["1"], m["yy"], m["xx"], m["xy"]) == pytest.approx((area, yy, xx, 0), rel=1e-11, abs=2e-12)


@pytest.mark.parametrize("half_deg", [10, 45, 90, 135, 170])
def test_sectors_and_bent_wires(half_deg: float) -> None:
    """M3 (standard): a sector's centroid is 2 r sinβ/(3β) from its centre; of a wire r sinβ/β, a
    semicircle's 2r/π.

    The wire is a strip of 0.002 mm, whose centroid is 1 + t²/12r² times as far out."""
    r, b = 50.0, math.radians(half_deg)

    def sector(radius: float) -> Region:
        x, y = radius * math.cos(b), radius * math.sin(b)
        return solid(chain([(0, 0), (x, -y), (x, y)], [0, math.tan(b / 2), 0]))

    assert sector(r).centroid == pytest.approx((2 * r * math.sin(b) / (3 * b), 0), abs=1e-9)
    inner, outer = r - 0.001, r + 0.001
    ends = [(radius * math.cos(b), s * radius * math.sin(b)) for radius, s in ((outer, -1), (outer, 1))]
    back = [(radius * math.cos(b), s * radius * math.sin(b)) for radius, s in ((inner, 1), (inner, -1))]
    wire = solid(chain([*ends, *back], [math.tan(b / 2), 0, -math.tan(b / 2), 0]))
    assert wire.centroid == pytest.approx((r * math.sin(b) / b, 0), abs=1e-6)
    if half_deg == 90:
        assert wire.centroid[0] == pytest.approx(2 * r / math.pi, abs=1e-6)


def test_parallel_axes() -> None:
    """M4 (Steiner, Huygens; standard): a ring 20 off its axis, a hole as negative mass; disc πr⁴/4 +
    πr²d²."""
    ring = difference(disc(20, 0, 10), disc(20, 0, 4))
    area, own = math.pi * (100 - 16), math.pi * (10**4 - 4**4) / 4
    m = moments(ring)
    assert (m["1"], m["xx"], m["yy"]) == pytest.approx((area, own + area * 400, own), rel=1e-12)
    plate = difference(solid(rectangle(100, 60)), disc(30, 0, 10))
    assert plate.centroid == pytest.approx((-30 * 100 * math.pi / (6000 - 100 * math.pi), 0), abs=1e-9)


def superellipse(n: float, a: float, b: float) -> Region:
    """|x/a|ⁿ + |y/b|ⁿ = 1: a diamond for n = 1, four parabolas for n = ½, else points with their tangents."""
    if n == 1:
        return solid(line_chain([(a, 0), (0, b), (-a, 0), (0, -b)]))
    tips = [(a, 0.0), (0.0, b), (-a, 0.0), (0.0, -b)]
    if n == 0.5:  # √x + √y = 1 is the quadratic Bézier curve (1, 0), (0, 0), (0, 1)
        return solid(
            contour([quadratic(p, (0, 0), q) for p, q in zip(tips, tips[1:] + tips[:1], strict=True)], True)
        )
    # The angle's own progress is slowed near the tips, where the curvature is 0 or infinite.
    u = np.linspace(0, 2 * math.pi, 2400, endpoint=False)
    t = u - np.sin(4 * u) / 4 * 0.98
    c, s = np.cos(t), np.sin(t)
    c[np.abs(c) < 1e-9], s[np.abs(s) < 1e-9] = 0.0, 0.0
    points = np.stack([a * np.sign(c) * np.abs(c) ** (2 / n), b * np.sign(s) * np.abs(s) ** (2 / n)], axis=1)
    # The tangent stands square on the gradient (|x/a|ⁿ⁻¹ sign x / a, …).
    gx = np.sign(points[:, 0]) * np.abs(points[:, 0] / a) ** (n - 1) / a
    gy = np.sign(points[:, 1]) * np.abs(points[:, 1] / b) ** (n - 1) / b
    way = np.stack([-gy, gx], axis=1)
    return solid(smooth_chain(points, way / np.hypot(*way.T)[:, None]))


@pytest.mark.parametrize(
    ("n", "share"),
    [
        (0.5, 0.666666666667),
        (1, 2),
        (1.5, 2.73785362392),
        (2, math.pi),
        (2.2, 3.25140870392),
        (2.5, 3.38093536254),
        (3, 3.53327750057),
        (4, 3.7081493546),
        (5, 3.80060055595),
        (10, 3.94292789781),
    ],
)
def test_superellipses(n: float, share: float) -> None:
    """M5 (Gradshteyn–Ryzhik, from memory): A = 4ab Γ(1 + 1/n)²/Γ(1 + 2/n)."""
    assert share == pytest.approx(4 * math.gamma(1 + 1 / n) ** 2 / math.gamma(1 + 2 / n), rel=1e-11)
    assert superellipse(n, 100, 65).area == pytest.approx(share * 6500, rel=1e-6)


def test_bulges_add_their_segments() -> None:
    """M7 (derived): ½R²(φ − sin φ) each, signed; the unit square with four bulges of 1 is 1 + 4 · π/8, of
    −1 the same less; and by quadrature, which does not know that formula."""
    square = [(0, 0), (1, 0), (1, 1), (0, 1)]
    assert solid(chain(square, [1.0] * 4)).area == pytest.approx(1 + math.pi / 2, rel=1e-14)
    bulges = [0.3, -0.2, 0.9, 0.0]
    phi = [4 * math.atan(b) for b in bulges]
    wanted = 1 + sum((f - math.sin(f)) / (8 * math.sin(f / 2) ** 2) * math.copysign(1, b) if b else 0
                     for f, b in zip(map(abs, phi), bulges, strict=True))  # fmt: skip
    shape = solid(chain(square, bulges))
    assert shape.area == pytest.approx(wanted, rel=1e-12)
    assert moments(shape)["1"] == pytest.approx(wanted, rel=1e-12)
    assert shape.centroid == pytest.approx((moments(shape)["x"] / wanted, moments(shape)["y"] / wanted), rel=1e-12)
