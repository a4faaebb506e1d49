"""Steiner's formula and its kin in exported files: recipes with offsets, their DXF read back with ezdxf.

Areas and lengths come from our own sums over lines and arcs (`readback`); the wanted values are those of
geometry, each with its source. Nothing here was computed by the product.
"""

from __future__ import annotations

import cmath
import math
from pathlib import Path

import ezdxf
import pytest

from pipeline.path import build
from tests.readback import area, length, loops, packet_folder

TOLERANCE = 0.005
"""The default tolerance of exported curves, in mm."""

L_SHAPE = '<path id="shape" fill="none" stroke="black" d="M 0,0 H 100 V 40 H 40 V 90 H 0 Z"/>'
ELLIPSE = '<ellipse id="shape" rx="200" ry="130" fill="none" stroke="black"/>'

PIECES = 96
"""Cubics that carry the peanut."""


def peanut(t: float) -> tuple[complex, complex]:
    """Point and derivative of ρ = 100 + 40 cos 2t, as complex numbers."""
    rho, rate = 100 + 40 * math.cos(2 * t), -80 * math.sin(2 * t)
    return rho * cmath.exp(1j * t), (rate + 1j * rho) * cmath.exp(1j * t)


def peanut_path() -> str:
    """Cubic Hermite pieces with the curve's own derivative at both ends (handles h/3 long)."""
    h = 2 * math.pi / PIECES
    p, d = peanut(0)
    path = [f"M {p.real:.9f},{p.imag:.9f}"]
    for k in range(1, PIECES + 1):
        q, e = peanut(k * h) if k < PIECES else peanut(0)
        a, b = p + d * h / 3, q - e * h / 3
        path.append(f"C {a.real:.9f},{a.imag:.9f} {b.real:.9f},{b.imag:.9f} {q.real:.9f},{q.imag:.9f}")
        p, d = q, e
    return f'<path id="shape" fill="none" stroke="black" d="{" ".join(path)} Z"/>'


PEANUT_OFF = (2 * math.pi / PIECES) ** 4 / 384 * (100 + 20 * 3**4 + 20)
"""How far the cubics may lie from the peanut: h⁴/384 · max |p⁗| (the error of cubic Hermite interpolation),
with p = 100 e^it + 20 e^3it + 20 e^−it, so |p⁗| ≤ 100 + 20·3⁴ + 20."""


def measured(folder: Path, shape: str, by: list[float], join: str) -> dict[float, tuple[float, float]]:
    """Build one recipe of offsets; the area and length of each, from its DXF file."""
    (folder / "shape.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" viewBox="-300 -300 600 600">'
        f"{shape}</svg>",
        encoding="utf-8",
    )
    recipe = folder / "theorem.yaml"
    recipe.write_text(
        "design: theorem\ndrawing: shape.svg\n"
        "sheets: {mdf: {measured: {A: 6}, size: [900, 700], density: 740}}\n"
        "steps:\n  shape: {kind: outline, drawn: shape}\n"
        f"  ring: {{kind: offset, of: shape, by: {by}, join: {join}, sheet: mdf}}\n",
        encoding="utf-8",
    )
    answer = build([recipe], out=folder / "out")
    assert answer.exit_code == 0, answer.said
    found = {}
    for n, d in enumerate(by, 1):
        drawing = ezdxf.readfile(next(packet_folder(answer.data).rglob(f"*_ring-{n}_*.dxf")))
        (loop,) = loops(drawing, "FRONT_CUT_OUTSIDE")
        assert not loops(drawing, "FRONT_CUT_INSIDE")
        found[d] = area(loop), length(loop)
    return found


def free_form(found: tuple[float, float], wanted: tuple[float, float], drawn_off: float = 0.0) -> None:
    """Area within 0.2 × tolerance × perimeter (the issue). A curve that lies within t of another, with the same
    tangents up to a trifle, differs in length by at most t × its total turning; 4π allows for hollows."""
    assert abs(found[0] - wanted[0]) <= 0.2 * TOLERANCE * wanted[1] + drawn_off * wanted[1]
    assert abs(found[1] - wanted[1]) <= 4 * math.pi * TOLERANCE


def test_ellipse(tmp_path: Path) -> None:
    """Semi-axes 200 and 130: A = 26000π, P = 1048.42071991 (complete elliptic integral); outward A + Pr + πr²,
    P + 2πr (Steiner 1840), inward with −r while r ≤ b²/a = 84.5 (outside checks G1, G2)."""
    wanted = {
        5.0: (87002.0524092, 1079.83664645),
        20.0: (103906.460453, 1174.08442606),
        50.0: (141956.426623, 1362.57998527),
        -5.0: (76517.8452101, 1017.00479338),
        -20.0: (61969.6316565, 922.75701377),
        -50.0: (37114.3546316, 734.261454554),
    }
    area_0, perimeter = 26000 * math.pi, 1048.42071991
    for r, (a, p) in wanted.items():  # the table itself is Steiner's
        assert a == pytest.approx(area_0 + perimeter * r + math.pi * r * r, rel=1e-10)
        assert p == pytest.approx(perimeter + 2 * math.pi * r, rel=1e-10)
    found = measured(tmp_path, ELLIPSE, list(wanted), "round")
    for r in wanted:
        free_form(found[r], wanted[r])


def test_peanut(tmp_path: Path) -> None:
    """ρ = 100 + 40 cos 2t is hollow at the waist (concave radius 36): A = 10800π, P = 722.092561475; both signs of
    r below the reach give A + Pr + πr², for the total turning is 2π (Weyl 1939; outside checks G3)."""
    assert PEANUT_OFF < 0.02 * TOLERANCE
    wanted = {
        10.0: (41464.2855389, 784.924414547),
        25.0: (53945.0101041, 879.172194154),
        -10.0: (27022.4343094, 659.260708403),
        -25.0: (17840.3820304, 565.012928795),
    }
    for r, (a, p) in wanted.items():
        assert a == pytest.approx(10800 * math.pi + 722.092561475 * r + math.pi * r * r, rel=1e-10)
        assert p == pytest.approx(722.092561475 + 2 * math.pi * r, rel=1e-10)
    found = measured(tmp_path, peanut_path(), list(wanted), "round")
    for r in wanted:
        free_form(found[r], wanted[r], PEANUT_OFF)


def test_l_with_round_corners(tmp_path: Path) -> None:
    """L of (0,0) (100,0) (100,40) (40,40) (40,90) (0,90), A 6000, P 380. Outward: five corners of π/2 open as
    arcs, one closes (outside checks G5); inward: the inner corner opens, five close (G6)."""
    wanted = {
        5.0: (7973.174770, 409.269908),
        10.0: (10092.699082, 438.539816),
        -5.0: (4205.365046, 337.853982),
        -10.0: (2621.460184, 295.707963),
    }
    for d, (a, p) in wanted.items():
        opens, closes = (5, 1) if d > 0 else (1, 5)
        s = abs(d)
        assert a == pytest.approx(6000 + 380 * d + s * s * (opens * math.pi / 4 - closes) * (1 if d > 0 else -1))
        assert p == pytest.approx(380 + (opens * s * math.pi / 2 - 2 * closes * s))
    found = measured(tmp_path, L_SHAPE, list(wanted), "round")
    for d in wanted:
        assert found[d] == pytest.approx(wanted[d], rel=1e-6)


def test_l_with_mitred_corners(tmp_path: Path) -> None:
    """The same L, sharp: A + Pd + d² Σ tan(θ/2) = A + Pd + 4d², P + 8d, whole numbers (outside checks G7)."""
    found = measured(tmp_path, L_SHAPE, [5.0, 10.0], "mitre")
    assert found[5.0] == pytest.approx((8000, 420), rel=1e-6)
    assert found[10.0] == pytest.approx((10200, 460), rel=1e-6)


def test_l_shrunk_by_mitre_is_a_smaller_l(tmp_path: Path) -> None:
    """Inward by 5, sharp, worked by hand: the L (5,5) (95,5) (95,35) (35,35) (35,85) (5,85)."""
    found = measured(tmp_path, L_SHAPE, [-5.0, -10.0], "mitre")
    assert found[-5.0] == pytest.approx((90 * 30 + 30 * 50, 2 * (90 + 80)), rel=1e-6)
    assert found[-10.0] == pytest.approx((80 * 20 + 20 * 50, 2 * (80 + 70)), rel=1e-6)


def test_rectangle_and_triangle_shrink_to_similar_ones(tmp_path: Path) -> None:
    """Square 100 by 10: 80². Triangle 60-80-100, inner circle 20: by 5 it shrinks to ¾ (outside checks G8)."""
    square = '<rect id="shape" width="100" height="100" fill="none" stroke="black"/>'
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert measured(tmp_path / "a", square, [-10.0], "round")[-10.0] == pytest.approx((6400, 320), rel=1e-6)
    triangle = '<path id="shape" fill="none" stroke="black" d="M 0,0 H 80 L 0,60 Z"/>'
    found = measured(tmp_path / "b", triangle, [-5.0], "round")[-5.0]
    assert found == pytest.approx((2400 * 9 / 16, 240 * 3 / 4), rel=1e-6)
