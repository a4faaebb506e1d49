"""Path data: the grammar (N15), arcs by the formulas of SVG 2 (N14), body W."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.intake.drawing.affine import Malformed
from pipeline.intake.drawing.pathdata import parse_path
from pipeline.intake.drawing.segments import Bow, Cubic, Line
from tests.intake.drawings import area, document, fault


def ends(d: str) -> list[complex]:
    """All ends of the segments of path data, subpath by subpath."""
    return [z for path in parse_path(d) for z in (path.start, *(s.q for s in path.segments))]


@pytest.mark.parametrize(
    ("d", "points"),
    [
        ("M10-20L.5.25", [10 - 20j, 0.5 + 0.25j]),
        ("M1e1 2E-1l-.5+5", [10 + 0.2j, 9.5 + 5.2j]),
        ("M0,0 10,0 10,5", [0, 10, 10 + 5j]),
        ("m5 5 10 0 0 5", [5 + 5j, 15 + 5j, 15 + 10j]),
        ("M1 1H5 9V3", [1 + 1j, 5 + 1j, 9 + 1j, 9 + 3j]),
        ("M1 1h5v3h-2", [1 + 1j, 6 + 1j, 6 + 4j, 4 + 4j]),
        ("M 1 1 L 9 1 9 9 Z l 4 4", [1 + 1j, 9 + 1j, 9 + 9j, 1 + 1j, 1 + 1j, 5 + 5j]),
        ("M1 1L9 1L9 9zm2 2h1", [1 + 1j, 9 + 1j, 9 + 9j, 1 + 1j, 3 + 3j, 4 + 3j]),
        ("M0 0L5 5M9 9L8 8", [0, 5 + 5j, 9 + 9j, 8 + 8j]),
        ("\r\n M 0\t0 \n L\n5 5 ", [0, 5 + 5j]),
        ("M0 0T4 4 8 0", [0, 4 + 4j, 8]),
        ("M0 0L1. 2.", [0, 1 + 2j]),
    ],
)
def test_n15_the_grammar(d: str, points: list[complex]) -> None:
    """SVG 2, paths: no separators needed, exponents, repeated commands, the point after Z."""
    assert ends(d) == pytest.approx(points)


def test_n15_flags_of_an_arc_may_be_glued() -> None:
    glued = parse_path("M0 0a25 20 10 0110-5a25 20 10 1,0-5.5.5")
    apart = parse_path("M0 0 a 25 20 10 0 1 10 -5 a 25 20 10 1 0 -5.5 .5")
    assert glued == apart
    assert len(glued[0].segments) == 2


def test_n15_smooth_curves_mirror_the_handle_before() -> None:
    smooth = parse_path("M0 0C1 2 3 4 5 4S9 1 9 0")[0].segments[1]
    assert smooth == Cubic(5 + 4j, 7 + 4j, 9 + 1j, 9 + 0j)
    after_line = parse_path("M0 0L5 4S9 1 9 0")[0].segments[1]
    assert after_line == Cubic(5 + 4j, 5 + 4j, 9 + 1j, 9 + 0j)
    quadratics = parse_path("M0 0Q3 6 6 0T12 0")[0].segments[1]
    assert isinstance(quadratics, Cubic)
    assert quadratics.at(0.5) == pytest.approx(9 - 3j)  # ¼ (6, 0) + ½ (9, −6) + ¼ (12, 0)


def test_a_quadratic_is_raised_exactly() -> None:
    curve = parse_path("M1 2Q7 9 4 -3")[0].segments[0]
    assert isinstance(curve, Cubic)
    for t in np.linspace(0, 1, 9):
        p, c, q = 1 + 2j, 7 + 9j, 4 - 3j
        assert curve.at(t) == pytest.approx((1 - t) ** 2 * p + 2 * t * (1 - t) * c + t * t * q, abs=1e-14)


@pytest.mark.parametrize(
    ("d", "index", "says"),
    [
        ("L5 5", 0, "begins with a move"),
        ("5 5", 0, "begins with a move"),
        ("M0 0L10", 7, "takes 2 numbers, here stands the end after 1"),
        ("M0 0L10 Z", 8, 'here stands "Z" after 1'),
        ("M0 0C1 2 3 4 5Z", 14, "takes 6 numbers"),
        ("M0 0X5 5", 4, '"X" is neither'),
        ("M0 0A5 5 0 2 1 9 9", 11, "large-arc flag"),
        ("M0 0A5 5 0 0 7 9 9", 13, "sweep flag"),
        ("M0 0L1e400 5", 5, "too large"),
        ("M0 0L1e12 5", 5, "too large"),
        ("M0 0L5,,5", 7, 'here stands ","'),
        ("M0 0L5 5 Z 7", 11, '"7" is neither'),
        ("M0 0L5 nan", 7, "takes 2 numbers"),
        ("M0 0L--5 5", 5, "takes 2 numbers"),
    ],
)
def test_n15_malformed_data_tells_the_character(d: str, index: int, says: str) -> None:
    with pytest.raises(Malformed) as error:
        parse_path(d)
    assert says in error.value.wrong
    assert error.value.index == index


def test_n15_the_place_is_that_of_the_character() -> None:
    """Also behind a line break and a character reference, which XML counts as one."""
    doc = document('<path\r\n  id="a" d="M0&#32;0\r\n L 10 q5" />')
    problem = doc.shapes[0].faults[0]
    assert problem.place is not None
    assert (problem.place.line, problem.place.column, problem.place.object) == (3, 7, "a")
    assert problem.place.text[problem.place.column - 1] == "q"
    assert "at character 12 of its path data" in problem.wrong


# -- N14: arcs ---------------------------------------------------------------------------------
def centre_by_the_book(
    x1: float, y1: float, x2: float, y2: float, rx: float, ry: float, phi_deg: float, fa: int, fs: int
) -> tuple[float, float, float, float, float, float]:
    """SVG 2, implementation notes, B.2.4 and B.2.5 as printed: (cx, cy, rx, ry, θ1, Δθ in degrees)."""
    rx, ry, phi = abs(rx), abs(ry), math.radians(phi_deg)
    c, s = math.cos(phi), math.sin(phi)
    x1p = c * (x1 - x2) / 2 + s * (y1 - y2) / 2
    y1p = -s * (x1 - x2) / 2 + c * (y1 - y2) / 2
    lam = x1p**2 / rx**2 + y1p**2 / ry**2
    if lam > 1:
        rx, ry = math.sqrt(lam) * rx, math.sqrt(lam) * ry
    top = max(0.0, rx**2 * ry**2 - rx**2 * y1p**2 - ry**2 * x1p**2)
    k = (1 if fa != fs else -1) * math.sqrt(top / (rx**2 * y1p**2 + ry**2 * x1p**2))
    cxp, cyp = k * rx * y1p / ry, -k * ry * x1p / rx
    cx, cy = c * cxp - s * cyp + (x1 + x2) / 2, s * cxp + c * cyp + (y1 + y2) / 2

    def angle(ux: float, uy: float, vx: float, vy: float) -> float:
        cosine = (ux * vx + uy * vy) / (math.hypot(ux, uy) * math.hypot(vx, vy))
        return math.copysign(math.degrees(math.acos(max(-1.0, min(1.0, cosine)))), ux * vy - uy * vx)

    u, v = ((x1p - cxp) / rx, (y1p - cyp) / ry), ((-x1p - cxp) / rx, (-y1p - cyp) / ry)
    theta, delta = angle(1, 0, *u), angle(*u, *v)
    if fs == 0 and delta > 0:
        delta -= 360
    if fs == 1 and delta < 0:
        delta += 360
    return cx, cy, rx, ry, theta, delta


@pytest.mark.parametrize("fa", [0, 1])
@pytest.mark.parametrize("fs", [0, 1])
@pytest.mark.parametrize(
    ("rx", "ry", "phi"), [(40, 25, 0), (40, 25, 30), (25, 40, -70), (30, 30, 15), (5, 3, 20), (-40, 25, 110)]
)
def test_n14_arcs_by_the_formulas(fa: int, fs: int, rx: float, ry: float, phi: float) -> None:
    x1, y1, x2, y2 = 60.0, 40.0, 95.0, 58.0
    cx, cy, rx2, ry2, theta, delta = centre_by_the_book(x1, y1, x2, y2, rx, ry, phi, fa, fs)
    arc = parse_path(f"M{x1} {y1}A{rx} {ry} {phi} {fa} {fs} {x2} {y2}")[0].segments[0]
    assert isinstance(arc, Bow)
    for t in np.linspace(0, 1, 13):
        w, p = math.radians(theta + t * delta), math.radians(phi)
        x = cx + rx2 * math.cos(w) * math.cos(p) - ry2 * math.sin(w) * math.sin(p)
        y = cy + rx2 * math.cos(w) * math.sin(p) + ry2 * math.sin(w) * math.cos(p)
        assert arc.at(t) == pytest.approx(complex(x, y), abs=1e-6)  # acos loses half the digits at λ > 1


@pytest.mark.parametrize("transform", ["", "skewX(25)", "matrix(1.3 0.2 -0.4 0.7 5 9)", "scale(1 -0.5)"])
@pytest.mark.parametrize("flags", ["0 0", "0 1", "1 0", "1 1"])
def test_n14_arcs_stay_right_under_any_transform(transform: str, flags: str) -> None:
    """The contour's points, taken back through the transform, satisfy the ellipse's own equation, and its area
    is the segment's ½ rx ry (Δ − sin Δ) times the determinant."""
    fa, fs = (int(f) for f in flags.split())
    cx, cy, rx, ry, _, delta = centre_by_the_book(40, 40, 60, 55, 20, 12, 35, fa, fs)
    r = area(f'<path id="a" transform="{transform}" d="M40 40A20 12 35 {flags} 60 55Z"/>')
    a, b, c, d, e, f = {
        "": (1, 0, 0, 1, 0, 0),
        "skewX(25)": (1, 0, math.tan(math.radians(25)), 1, 0, 0),
        "matrix(1.3 0.2 -0.4 0.7 5 9)": (1.3, 0.2, -0.4, 0.7, 5, 9),
        "scale(1 -0.5)": (1, 0, 0, -0.5, 0, 0),
    }[transform]
    sweep = math.radians(abs(delta))
    det = abs(a * d - b * c)
    assert r.area == pytest.approx(0.5 * rx * ry * (sweep - math.sin(sweep)) * det, abs=5e-5 * r.perimeter)
    outer = r.parts[0].outer
    pts, seg = outer.flatten(1e-5)
    pts = pts[outer.free[seg]]
    assert len(pts) > 20
    user = np.linalg.solve(np.array([[a, c], [b, d]]), (pts * [1, -1] + [0, 100] - [e, f]).T).T
    p = math.radians(35)
    u = (user - [cx, cy]) @ np.array([[math.cos(p), -math.sin(p)], [math.sin(p), math.cos(p)]])
    assert np.abs(np.hypot(u[:, 0] / rx, u[:, 1] / ry) - 1).max() * rx < 5e-4  # 50 nm, and 10 nm chords, over det


@pytest.mark.parametrize("radii", ["0 5", "5 0"])
def test_n14_a_zero_radius_is_a_line(radii: str) -> None:
    assert parse_path(f"M0 0A{radii} 0 0 1 9 9")[0].segments == (Line(0j, 9 + 9j),)


def test_n14_an_arc_to_where_it_is_is_left_out() -> None:
    assert ends("M5 5A3 3 0 0 1 5 5L9 9") == [5 + 5j, 9 + 9j]


def test_n14_a_nearly_full_turn_keeps_its_radius() -> None:
    """Two ends 0.001 apart on a circle of radius 50, by the long way round."""
    r = area('<path id="a" d="M100 0A50 50 0 1 1 99.999 0Z"/>')
    assert r.area == pytest.approx(math.pi * 2500, abs=0.01)
    assert len(r.parts[0].outer) <= 3


# -- body W (trade.md) ------------------------------------------------------------------------------
BIG, SMALL, APART = 120.0, 42.0, 170.0
SINE = (BIG - SMALL) / APART
COSINE = math.sqrt(1 - SINE**2)


def body_w(digits: int = 9) -> str:
    """Path data of the hull of the circles R 120 at (120, 150) and R 42 at (290, 150), y down."""

    def at(x: float, radius: float, side: int) -> str:
        return f"{x + radius * SINE:.{digits}f} {150 + side * radius * COSINE:.{digits}f}"

    return (
        f"M{at(120, BIG, -1)}L{at(290, SMALL, -1)}A42 42 0 0 1 {at(290, SMALL, 1)}"
        f"L{at(120, BIG, 1)}A120 120 0 1 1 {at(120, BIG, -1)}Z"
    )


def test_body_w_is_two_lines_and_two_arcs() -> None:
    """trade.md: area (R+r)s + R²(π/2+α) + r²(π/2−α), perimeter 2s + R(π+2α) + r(π−2α)."""
    r = area(f'<path id="a" d="{body_w()}"/>', page='width="400mm" height="300mm" viewBox="0 0 400 300"')
    outer = r.parts[0].outer
    assert len(outer) == 4
    assert sorted(abs(b) > 1e-9 for b in outer.bulges) == [False, False, True, True]
    alpha, s = math.asin(SINE), math.sqrt(APART**2 - (BIG - SMALL) ** 2)
    exact = (BIG + SMALL) * s + BIG**2 * (math.pi / 2 + alpha) + SMALL**2 * (math.pi / 2 - alpha)
    assert exact == pytest.approx(55883.61, abs=0.005)
    assert r.area == pytest.approx(exact, abs=1e-5)
    around = 2 * s + BIG * (math.pi + 2 * alpha) + SMALL * (math.pi - 2 * alpha)
    assert around == pytest.approx(885.398, abs=0.0005)
    assert r.perimeter == pytest.approx(around, abs=1e-6)
    assert r.bounds == pytest.approx((0, 30, 332, 270), abs=1e-6)
    assert r.centroid[0] - 100 == pytest.approx(48.352, abs=0.0005)


def test_a_fault_in_a_path_names_the_object() -> None:
    assert fault('<path id="a" d="M0 0L10"/>').startswith('The object "a" can\'t be used: at character 8')
