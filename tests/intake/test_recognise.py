"""Circles and arcs drawn as cubics, and what only looks like them (outside_checks.md B1, B2, B4, N16, N26)."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pipeline.geometry.contour import arc_centres
from pipeline.geometry.curves import SMOOTH_DEG
from pipeline.intake.drawing import read_drawing
from pipeline.intake.drawing.recognise import recognised, rounding
from pipeline.intake.drawing.recognise_arcs import ARC_MM
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, Subpath
from tests.geometry.outlines import breaks_deg
from tests.intake.drawings import area, recipe, svg, taken
from tests.intake.halves import TURN, half_body

KAPPA = 4 / 3 * (math.sqrt(2) - 1)  # B1
PAGE = 'width="1600mm" height="1600mm" viewBox="0 0 1600 1600"'
LINE = 'fill="none" stroke="black"'


def quarter(k: float) -> float:
    """The handle of an arc of 90°/k, of the radius: (4/3) tan(φ/4) (B4)."""
    return 4 / 3 * math.tan(math.pi / 8 / k)


def arc(centre: complex, r: float, start: float, phi: float, handle: float | None = None) -> Cubic:
    """A cubic for an arc, angles in rad."""
    h = r * (4 / 3 * math.tan(abs(phi) / 4) if handle is None else handle)
    u, w = cmath.rect(1, start), cmath.rect(1, start + phi)
    way = 1j * math.copysign(1, phi)
    return Cubic(centre + r * u, centre + r * u + h * way * u, centre + r * w - h * way * w, centre + r * w)


def ring(centre: complex, r: float, n: int = 4, start: float = 0.0, handle: float | None = None) -> list[Cubic]:
    return [arc(centre, r, start + k * 2 * math.pi / n, 2 * math.pi / n, handle) for k in range(n)]


def rounded(segments: list[Cubic], decimals: int) -> list[Cubic]:
    """Every control point rounded, as an exporter writes absolute coordinates."""

    def cut(z: complex) -> complex:
        return complex(round(z.real, decimals), round(z.imag, decimals))

    return [Cubic(cut(s.p), cut(s.c1), cut(s.c2), cut(s.q)) for s in segments]


def data(segments: list[Cubic], decimals: int | None = None) -> str:
    """Absolute path data, or with ``decimals`` relative commands, each number rounded for itself."""
    if decimals is None:
        body = "".join(f"C{p(s.c1)} {p(s.c2)} {p(s.q)}" for s in segments)
        return f"M{p(segments[0].p)}{body}z"
    body = "".join(
        "c" + " ".join(f"{z.real:.{decimals}f} {z.imag:.{decimals}f}" for z in (s.c1 - s.p, s.c2 - s.p, s.q - s.p))
        for s in segments
    )
    start = segments[0].p
    return f"m{start.real:.{decimals}f} {start.imag:.{decimals}f}{body}z"


def p(z: complex) -> str:
    return f"{z.real!r} {z.imag!r}"


def closed(segments: list[Cubic] | list[Segment]) -> Subpath:
    return Subpath(tuple(segments), True)


def seen(path: Subpath) -> tuple[Subpath, object]:
    return recognised(path, rounding([path]))


# -- circles of cubics -----------------------------------------------------------------------------
@pytest.mark.parametrize(("handle", "off"), [(KAPPA, 2.72530e-4), (0.551915024494, 1.96076e-4)], ids=["B1", "B2"])
def test_n26_a_circle_of_four_cubics_is_a_circle(handle: float, off: float) -> None:
    """The line moves by the known error of the handle, of the radius: 0.0272530 % (B1), 0.0196076 % (B2)."""
    found = taken(f'<path id="a" d="{data(ring(800 + 700j, 300, 4, 0.3, handle))}"/>', page=PAGE)
    assert found.region is not None
    assert found.region.parts[0].outer.circle() == pytest.approx((800, 900, 300), abs=1e-6)
    (told,) = found.findings
    assert (told.check, told.severity) == ("drawing-circle", "note")
    assert told.measured == pytest.approx(off * 300, rel=0.01)
    assert told.at_mm == pytest.approx((800, 900), abs=1e-6)
    for word in ('"a"', "300.0000 mm", f"{told.measured:.4f} mm"):
        assert word in told.message


@pytest.mark.parametrize("handle", [KAPPA, 0.5522847498, 0.551915, 0.5519, 0.5523, 0.552, 0.55178])
@pytest.mark.parametrize("decimals", [2, 3, 5])
@pytest.mark.parametrize("r", [1.5875, 3.175, 9.525, 47.3])
def test_n27_rounded_coordinates_and_usual_handles(r: float, decimals: int, handle: float) -> None:
    """Each anchor is off by √½ of a step at most, so centre and radius are too."""
    drawn = rounded(ring(60.123 + 50.377j, r, 4, 0.7, handle), decimals)
    path, found = seen(closed(drawn))
    assert found is not None
    step = 10.0**-decimals
    assert abs(found.centre - (60.123 + 50.377j)) < 1.5 * step  # type: ignore[attr-defined]  # a Round
    assert found.radius_mm == pytest.approx(r, abs=step)  # type: ignore[attr-defined]  # a Round
    assert all(isinstance(s, Bow) and s.roundness < 1e-9 for s in path.segments)


@pytest.mark.parametrize("n", [4, 5, 6, 8, 16])
def test_any_number_of_cubics_from_four_on(n: int) -> None:
    path, found = seen(closed(ring(20 + 20j, 15, n, 1.0)))
    assert found is not None
    assert len(path.segments) == 2


@pytest.mark.parametrize("decimals", [2, 3])
def test_relative_coordinates_rounded_each_for_itself(decimals: int) -> None:
    r = area(f'<path id="a" d="{data(ring(60 + 50j, 23.45), decimals)}"/>')
    assert r.parts[0].outer.circle() == pytest.approx((60, 50, 23.45), abs=2 * 10.0**-decimals)


def test_a_circle_of_two_half_paths() -> None:
    """Two open paths of two cubics each, drawn without fill, are joined first."""
    up, down = ring(60 + 50j, 30)[:2], ring(60 + 50j, 30)[2:]
    paths = "".join(f'<path d="{data(half)[:-1]}"/>' for half in (up, down))
    found = taken(f'<g id="a" {LINE}>{paths}</g>')
    assert found.region is not None
    assert found.region.parts[0].outer.circle() == pytest.approx((60, 50, 30), abs=1e-9)


def test_a_circle_of_four_arcs_with_rounded_ends() -> None:
    """A circle typed as four arcs: their centres differ by the rounding, and it is one circle."""
    z = [complex(round(60 + 33.333 * c, 2), round(50 + 33.333 * s, 2)) for c, s in TURNED]
    d = f"M{p(z[0])}" + "".join(f"A33.333 33.333 0 0 1 {p(z[(k + 1) % 4])}" for k in range(4)) + "z"
    assert area(f'<path id="a" d="{d}"/>').parts[0].outer.circle() == pytest.approx((60, 50, 33.333), abs=0.01)


TURNED = [(math.cos(0.4 + k * math.pi / 2), math.sin(0.4 + k * math.pi / 2)) for k in range(4)]


# -- what only looks round ---------------------------------------------------------------------------
def stretched(k: float) -> list[Cubic]:
    def f(z: complex) -> complex:
        return complex(z.real * k, z.imag)

    return [Cubic(f(s.p), f(s.c1), f(s.c2), f(s.q)) for s in ring(0j, 40, 4, 0.0)]


def pulled(by: complex) -> list[Cubic]:
    first, *others = ring(0j, 40)
    return [Cubic(first.p, first.c1 + by, first.c2, first.q), *others]


def moved_anchor(by: complex) -> list[Cubic]:
    a, b, *others = ring(0j, 40)
    return [Cubic(a.p, a.c1, a.c2 + by, a.q + by), Cubic(b.p + by, b.c1 + by, b.c2, b.q), *others]


def superellipse(power: float) -> list[Cubic]:
    """|x|ⁿ + |y|ⁿ = 40ⁿ in eight cubics: tangents from the gradient, the handles those of an arc."""
    points = [(1.0, 0.0), (0.5 ** (1 / power), 0.5 ** (1 / power)), (0.0, 1.0)]
    z = [40 * complex(x, y) for x, y in points] + [40 * complex(-y, x) for x, y in points[1:]]
    z += [-w for w in z[1:4]]
    t = [1j, cmath.rect(1, 0.75 * math.pi), -1 + 0j, cmath.rect(1, 1.25 * math.pi)]
    t += [-w for w in t]
    h = [abs(z[(k + 1) % 8] - z[k]) / (2 * math.sin(math.pi / 8)) * quarter(2) for k in range(8)]
    return [
        Cubic(z[k], z[k] + h[k] * t[k], z[(k + 1) % 8] - h[k] * t[(k + 1) % 8], z[(k + 1) % 8]) for k in range(8)
    ]


@pytest.mark.parametrize("decimals", [None, 2])
@pytest.mark.parametrize(
    "drawn",
    [
        stretched(1.001),
        pulled(0.2j),
        pulled(0.2 + 0j),
        pulled(-0.2j),
        moved_anchor(0.06j),
        ring(0j, 40, 4, 0.0, 0.56),
        ring(0j, 40, 4, 0.0, 0.5463),  # the cubic that comes nearest to a square's inscribed circle by eye
        superellipse(2.1),
        superellipse(2.01),
        ring(0j, 40, 3),
        ring(0j, 40, 2),
    ],
    ids=["ellipse", "handle", "handle along", "short", "anchor", "0.56", "0.5463", "n2.1", "n2.01", "3", "2"],
)
def test_what_was_drawn_roundish_stays(drawn: list[Cubic], decimals: int | None) -> None:
    """A 0.1 % ellipse, a handle 0.2 mm off, a superellipse, three cubics (0.15 % off, B4): free curves all."""
    path = closed(drawn if decimals is None else rounded(drawn, decimals))
    kept, found = seen(path)
    assert found is None
    assert not any(isinstance(s, Bow) and abs(s.sweep) > math.pi / 2 + 0.01 for s in kept.segments)


def test_coarse_grids_tell_no_circle() -> None:
    """Whole millimetres: (4/3)(√2 − 1)·40 = 22.09 is written 22, and reads as drawn."""
    assert seen(closed(rounded(ring(0j, 40), 0)))[1] is None


def test_a_leaf_of_two_arcs_is_no_circle() -> None:
    """Two arcs of radius 50 on a chord of 99: a lens, 7 mm from round."""
    r = area('<path id="a" d="M10 50A50 50 0 0 1 109 50A50 50 0 0 1 10 50z"/>')
    assert r.parts[0].outer.circle() is None
    half = math.asin(0.99)
    assert r.area == pytest.approx(2500 * (2 * half - math.sin(2 * half)), abs=1e-6)


# -- arcs of single cubics ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("degrees", "off"), [(60, 2.38643e-5), (90, 2.72529e-4), (120, 1.54202e-3), (180, 1.83501e-2)]
)
def test_b4_a_cubic_becomes_an_arc_where_that_moves_little(degrees: int, off: float) -> None:
    """The table of B4 tells for which radius a cubic lies ARC_MM beside its arc: below it is one, above not."""
    for share, is_arc in ((0.97, True), (1.03, False)):
        r = share * ARC_MM / off
        s = arc(5 + 5j, r, 0.2, math.radians(degrees))
        path, _ = recognised(Subpath((s,), False), 1e-7)
        assert isinstance(path.segments[0], Bow) == is_arc
        assert (path.segments[0].p, path.segments[0].q) == (s.p, s.q)


@pytest.mark.parametrize("way", [1, -1])
def test_an_arc_keeps_its_side(way: int) -> None:
    s = arc(0j, 5, 0.5, way * math.pi / 2)
    (bow,) = recognised(Subpath((s,), False), 1e-7)[0].segments
    assert isinstance(bow, Bow)
    assert bow.bulge == pytest.approx(way * math.tan(math.pi / 8), abs=1e-12)
    assert bow.centre == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("off", [0.05, 0.05j, -0.1j])
def test_a_cubic_with_a_handle_off_stays(off: complex) -> None:
    s = arc(0j, 5, 0.0, math.pi / 2)
    path = Subpath((Cubic(s.p, s.c1 + off, s.c2, s.q),), False)
    assert recognised(path, 0.001)[0] is path


def test_short_pieces_of_a_free_curve_stay() -> None:
    """An ellipse in 72 cubics: at its ends each is an arc within micrometres, yet none becomes one."""
    a = [Cubic(*stretch) for stretch in ellipse_pieces(200, 130, 72)]
    path = closed(a)
    assert seen(path)[0] is path


def ellipse_pieces(a: float, b: float, n: int) -> Iterator[tuple[complex, complex, complex, complex]]:
    h, step = 4 / 3 * math.tan(math.pi / 2 / n), 2 * math.pi / n
    for k in range(n):
        s = arc(0j, 1, k * step, step, h)
        yield tuple(complex(a * z.real, b * z.imag) for z in (s.p, s.c1, s.c2, s.q))  # type: ignore[misc]  # four of them


# -- rounded rectangles and slots ---------------------------------------------------------------------
def rectangle(w: float, h: float, r: float, by: complex, at: complex, decimals: int | None) -> Subpath:
    """A rounded rectangle of lines and cubics, turned and shifted, then rounded."""
    corners = [complex(w - r, r), complex(w - r, h - r), complex(r, h - r), complex(r, r)]
    bends = [arc(c, r, (k - 1) * math.pi / 2, math.pi / 2) for k, c in enumerate(corners)]
    bends = [Cubic(*(z * by + at for z in (s.p, s.c1, s.c2, s.q))) for s in bends]
    if decimals is not None:
        bends = rounded(bends, decimals)
    parts: list[Segment] = []
    for k, s in enumerate(bends):
        parts += [Line(bends[k - 1].q, s.p), s]
    return closed(parts)


@pytest.mark.parametrize("decimals", [None, 3, 2])
@pytest.mark.parametrize("turn", [0, 33, 90])
@pytest.mark.parametrize("r", [3.0, 5.0, 8.5])
def test_n16_a_rounded_rectangle_of_cubics_is_four_lines_and_four_arcs(
    r: float, turn: int, decimals: int | None
) -> None:
    """Radii within what rounding of a handle and of two anchors can do; no smooth joint breaks."""
    path = rectangle(80, 50, r, cmath.rect(1, math.radians(turn)), 11.1 + 22.2j, decimals)
    kept, _ = seen(path)
    if turn != 33 or decimals != 2:  # there a hundredth is more than an arc may move, or turns a handle too far
        assert [type(s) for s in kept.segments] == [Line, Bow] * 4
    step = 0.0 if decimals is None else 10.0**-decimals
    for was, now in zip(path.segments, kept.segments, strict=True):
        assert (was.p, was.q) == (now.p, now.q)
        if isinstance(now, Bow):
            assert abs(now.u) == pytest.approx(r, abs=4 * step + 1e-9)
            assert farthest(was, now) <= ARC_MM
    for before, after in zip(breaks_of(path), breaks_of(kept), strict=True):
        assert after <= (SMOOTH_DEG if before <= SMOOTH_DEG else before + SMOOTH_DEG)


def farthest(cubic: Segment, bow: Bow) -> float:
    """Of 400 points of a cubic, from the circle of an arc (de Casteljau)."""
    assert isinstance(cubic, Cubic)
    worst = 0.0
    for t in np.linspace(0, 1, 400).tolist():
        z = [cubic.p, cubic.c1, cubic.c2, cubic.q]
        while len(z) > 1:
            z = [a + (b - a) * t for a, b in pairwise(z)]
        worst = max(worst, abs(abs(z[0] - bow.centre) - abs(bow.u)))
    return worst


def breaks_of(path: Subpath) -> list[float]:
    """The turn at the start of each segment in degrees, from points a thousandth along it."""
    found = []
    for k, s in enumerate(path.segments):
        before = path.segments[k - 1]
        found.append(abs(math.degrees(cmath.phase(direction(s) / -direction(before.reversed())))))
    return found


def direction(s: Segment) -> complex:
    if isinstance(s, Line):
        return s.q - s.p
    if isinstance(s, Cubic):
        return s.c1 - s.p
    return (s.p - s.centre) * math.copysign(1.0, s.bulge) * 1j


@pytest.mark.parametrize("decimals", [None, 3])
def test_the_ends_of_a_slot_are_one_arc_each(decimals: int | None) -> None:
    """Two quarters that meet tangentially merge, also across the path's own start."""
    path = rectangle(60, 9.53, 4.765, cmath.rect(1, 0.3), 5 + 7j, decimals)
    parts = [s for s in path.segments if abs(s.q - s.p) > 0.01]
    for first in range(len(parts)):
        turned = closed(parts[first:] + parts[:first])
        kept, _ = seen(turned)
        assert sorted(type(s).__name__ for s in kept.segments) == ["Bow", "Bow", "Line", "Line"]
        for s in kept.segments:
            if isinstance(s, Bow):
                assert abs(s.u) == pytest.approx(4.765, abs=0.003)
                assert abs(s.sweep) == pytest.approx(math.pi, abs=0.003)


def test_a_rounded_rectangle_comes_through_the_reader() -> None:
    d = (
        "M15 10H85C87.761 10 90 12.239 90 15V65C90 67.761 87.761 70 85 70H15C12.239 70 10 67.761 10 65V15"
        "C10 12.239 12.239 10 15 10Z"
    )
    outer = area(f'<path id="a" d="{d}"/>').parts[0].outer
    assert len(outer) == 8
    assert not outer.free.any()
    assert outer.area == pytest.approx(4800 - (4 - math.pi) * 25, abs=1e-9)
    assert breaks_deg(outer).max() < SMOOTH_DEG


def test_corners_of_more_than_nine_millimetres_stay_free() -> None:
    """B1: 0.0272530 % of 12 mm is 0.0033 mm, more than an arc may move; the drawn curve is kept instead."""
    path = rectangle(80, 50, 12, 1 + 0j, 0j, 3)
    assert seen(path)[0] is path


def test_a_tolerance_that_is_finer_leaves_more_as_it_is(tmp_path: Path) -> None:
    """Half of it is what a curve may move (blueprint section 6): 0.0025 of r 5 for 0.005, not for 0.001."""
    drawing = svg('<path id="a" d="M15 10H85C87.761 10 90 12.239 90 15V65H10V10Z"/>')
    for tolerance, free in ((0.005, False), (0.001, True)):
        read = read_drawing(
            recipe(tmp_path, drawing, f"tolerance: {tolerance}", "steps: {part: {kind: outline, drawn: a}}")
        )
        region = read.objects["a"].region
        assert region is not None
        assert region.parts[0].outer.free.any() == free


# -- arcs drawn as arcs --------------------------------------------------------------------------------
def test_arcs_of_different_radii_stay_two() -> None:
    """Tangent arcs of 100 and 100.01 mm lie micrometres apart, but were drawn as two."""
    d = "M0 0A100 100 0 0 1 70.710678 29.289322A100.01 100.01 0 0 1 99.9 99.9L0 99z"
    one = d.replace("100.01", "100")
    assert len(area(f'<path id="a" d="{d}"/>').parts[0].outer) == 4
    assert len(area(f'<path id="a" d="{one}"/>').parts[0].outer) == 4  # the second meets the first at an angle
    true = "M0 0A100 100 0 0 1 70.710678 29.289322A100 100 0 0 1 100 100L0 99z"
    assert len(area(f'<path id="a" d="{true}"/>').parts[0].outer) == 3


BODIES = [(110, 150, 210, 90, True), (110, 150, 210, 400, False)]


@pytest.mark.parametrize("paths", ["two", "one", "against"])
@pytest.mark.parametrize("turned", [False, True], ids=["as drawn", "33°, × 1.7"])
@pytest.mark.parametrize("body", BODIES, ids=["waist", "egg"])
@pytest.mark.parametrize("decimals", [None, 3])
def test_mirrored_halves_are_four_arcs(
    body: tuple[float, float, float, float, bool], turned: bool, paths: str, decimals: int | None, tmp_path: Path
) -> None:
    """Issue 3: both halves drawn as separate open paths, or as one. The axis is met square, so each half's end
    arc goes on as the other's: two arcs about the axis and two beside it, no vertex on the axis."""
    half = half_body(*body)
    other = half.mirrored()
    if turned:
        half, other = half.turned(TURN), other.turned(TURN)
    half, other = half.turned(1 + 0j, 700 - 800j), other.turned(1 + 0j, 700 - 800j)
    if decimals is not None:
        half, other = half.rounded(decimals), other.rounded(decimals)
    if paths == "one":
        drawing = f'<path id="a" {LINE} d="{half.start}{half.arcs()} {other.reversed().arcs()}z"/>'
    else:
        second = other if paths == "two" else other.reversed()
        drawing = (
            f'<g id="a" {LINE}><path d="{half.start}{half.arcs()}"/><path d="{second.start}{second.arcs()}"/></g>'
        )
    read = read_drawing(recipe(tmp_path, svg(drawing, PAGE)))
    region = read.objects["a"].region
    assert region is not None
    outer = region.parts[0].outer
    assert len(outer) == 4
    assert not outer.free.any()
    assert np.abs(outer.bulges).min() > 0.01
    axis = TURN / abs(TURN) if turned else 1 + 0j
    for x, y in outer.xy:
        assert abs(((complex(x, y) - complex(700, 800)) / axis).imag) > 10  # no vertex on the axis
    centres, radii = arc_centres(outer.starts, outer.ends, outer.bulges)
    near = 1e-6 if decimals is None else 0.05
    for c, r in (*half.circles, other.circles[1]):
        off = np.abs(centres @ (1, 1j) - (c + 1600j)) + np.abs(radii - r)
        assert (off < near).sum() == 1
    assert breaks_deg(outer).max() < SMOOTH_DEG
