"""Curves of DXF objects against closed forms, and splines against de Boor's rule written here anew and ezdxf."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from ezdxf.math import (
    BSpline,
    ConstructionEllipse,
    bulge_center,
    rational_bspline_from_arc,
    rational_bspline_from_ellipse,
)
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from pipeline.geometry.contour import Contour
from pipeline.geometry.curves import CURVE_MM
from pipeline.intake.drawing.contours import as_contour
from pipeline.intake.drawing.document import Document
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, Subpath
from tests.intake.dxf_drawings import Pair, area, document, fault, line, messages, polyline, thing


def only(doc: Document) -> Subpath:
    (path,) = [p for s in doc.shapes for p in s.subpaths]
    return path


# -- lines, arcs, bulges ---------------------------------------------------------------------------
def test_a_line_an_arc_and_a_polyline_that_meet_are_one_outline() -> None:
    """A stadium of three objects: 40 by 20 and two half discs of radius 10."""
    body = (
        line(0, 0, 40, 0)
        + thing("ARC", (10, 40), (20, 10), (40, 10), (50, -90), (51, 90))
        + polyline((40, 20), (0, 20, 1), (0, 0), closed=False)
    )
    found = area(document(body))
    assert found.area == pytest.approx(800 + 100 * math.pi, abs=1e-9)
    (part,) = found
    assert len(part.outer) == 4


@pytest.mark.parametrize(
    ("bulge", "centre", "radius"),
    [(1.0, (5, 0), 5.0), (-1.0, (5, 0), 5.0), (0.41421356237309503, (5, 5), 50**0.5)],
)
def test_a_bulge_by_its_definition(bulge: float, centre: tuple[float, float], radius: float) -> None:
    """Chord (0,0) to (10,0). Bulge 1 is a half circle below the chord (outside_checks.md F4), −1 above it;
    tan(90°/4) a quarter whose centre lies on the left."""
    (arc,) = only(document(polyline((0, 0, bulge), (10, 0), closed=False))).segments
    assert isinstance(arc, Bow)
    assert abs(arc.centre - complex(*centre)) < 1e-12
    middle = arc.at(0.5)
    assert math.copysign(1, middle.imag) == -math.copysign(1, bulge)
    for t in (0.0, 0.3, 0.5, 1.0):
        assert abs(arc.at(t) - arc.centre) == pytest.approx(radius, abs=1e-12)
    assert abs(arc.at(0) - 0) < 1e-12
    assert abs(arc.at(1) - 10) < 1e-12


@pytest.mark.parametrize("bulge", [1.0, -1.0])
def test_two_bulges_of_one_make_a_circle(bulge: float) -> None:
    found = area(document(polyline((0, 0, bulge), (10, 0, bulge))))
    assert found.area == pytest.approx(25 * math.pi, abs=1e-9)


def test_an_old_polyline_with_bulges_is_the_same_outline() -> None:
    """The unit square with four bulges 1: 1 + 4 π/8 (outside_checks.md M7), as POLYLINE and as LWPOLYLINE."""
    corners = ((0, 0), (1, 0), (1, 1), (0, 1))
    old = thing("POLYLINE", (66, 1), (70, 1)) + "".join(
        thing("VERTEX", (10, x), (20, y), (42, 1)) for x, y in corners
    )
    new = polyline(*((x, y, 1) for x, y in corners))
    for body in (old + thing("SEQEND"), new):
        assert area(document(body)).area == pytest.approx(1 + math.pi / 2, abs=1e-12)


def test_a_circle_and_a_full_arc() -> None:
    body = thing("CIRCLE", (10, 3), (20, 4), (40, 5)) + thing(
        "ARC", (10, 30), (20, 4), (40, 5), (50, 20), (51, 380)
    )
    found = area(document(body))
    assert found.area == pytest.approx(50 * math.pi, abs=1e-9)
    assert [p.outer.circle() is not None for p in found] == [True, True]


def test_an_arc_runs_anticlockwise_past_zero() -> None:
    (arc,) = only(document(thing("ARC", (10, 0), (20, 0), (40, 2), (50, 350), (51, 10)))).segments
    assert isinstance(arc, Bow)
    assert math.degrees(arc.sweep) == pytest.approx(20)
    assert arc.at(0.5) == pytest.approx(2)


def test_an_ellipse_and_part_of_one() -> None:
    """Area π a b (24 mm round, within CURVE_MM); the part from 0 to π/2 reaches from the end of one half axis to that of the other."""
    axes: tuple[Pair, ...] = ((10, 1), (20, 2), (11, 3), (21, 4), (40, 0.4))
    assert area(document(thing("ELLIPSE", *axes))).area == pytest.approx(math.pi * 5 * 2, abs=24 * CURVE_MM)
    (part,) = only(document(thing("ELLIPSE", *axes, (41, 0), (42, math.pi / 2)))).segments
    assert isinstance(part, Bow)
    assert abs(part.p - (4 + 6j)) < 1e-12
    assert abs(part.q - (1 + 2j + 2j * (3 + 4j) / 5)) < 1e-12


# -- looking down, heights ------------------------------------------------------------------------
DOWN: tuple[Pair, ...] = ((210, 0), (220, 0), (230, -1))


def test_objects_that_look_down_are_mirrored() -> None:
    """Extrusion (0, 0, −1): x of the object runs to −x of the drawing (arbitrary axis algorithm)."""
    arc = only(document(thing("ARC", (10, 10), (20, 0), (40, 2), (50, 0), (51, 90), *DOWN)))
    assert abs(arc.start - -12) < 1e-12
    assert abs(arc.end - (-10 + 2j)) < 1e-12
    path = only(document(polyline((0, 0, 1), (10, 0), closed=False, more=DOWN)))
    assert abs(path.segments[0].q - -10) < 1e-12
    assert isinstance(path.segments[0], Bow)
    assert path.segments[0].at(0.5).imag == pytest.approx(-5)  # below the chord on both sides of the mirror
    # An ellipse and a line are given in the drawing's own coordinates: only the second axis turns over.
    ellipse = only(
        document(thing("ELLIPSE", (10, 9), (20, 0), (11, 4), (21, 0), (40, 0.5), (41, 0), (42, 1), *DOWN))
    )
    assert ellipse.start == pytest.approx(13)
    assert ellipse.end == pytest.approx(9 + 4 * math.cos(1) - 2j * math.sin(1))
    assert only(document(line(0, 0, 7, 3, *DOWN))).end == 7 + 3j


def test_heights_are_told_and_what_runs_in_space_is_refused() -> None:
    flat = document(line(0, 0, 5, 0, (30, 3), (31, 3)) + polyline((0, 0), (5, 0), (5, 5), more=((38, 2),)))
    assert "above or below zero; they are read as seen from above (2 times" in messages(flat)
    assert "runs in space, from height 0 to 3" in fault(document(line(0, 0, 5, 0, (31, 3))))
    assert "tilted" in fault(document(thing("CIRCLE", (10, 0), (20, 0), (40, 1), (210, 1), (220, 0), (230, 1))))
    old = thing("POLYLINE", (66, 1), (70, 8)) + "".join(
        thing("VERTEX", (10, x), (20, 0), (30, z), (70, 32)) for x, z in ((0, 0), (4, 1))
    )
    assert "runs in space" in fault(document(old + thing("SEQEND")))


def test_thickness_width_and_dashes_are_told() -> None:
    body = polyline((0, 0), (5, 0), (5, 5), more=((43, 0.5), (39, 2), (6, "DASHED")))
    said = messages(document(body))
    assert "read by their middle" in said
    assert "have a thickness" in said
    assert "dashed line is read as if it were whole" in said


# -- splines ---------------------------------------------------------------------------------------
def spline(
    degree: int, knots: list[float], points: list[tuple[float, float]], weights: list[float] | None = None
) -> str:
    given: list[Pair] = [(70, 8), (71, degree), (72, len(knots)), (73, len(points))]
    given += [(40, k) for k in knots] + [(41, w) for w in weights or []]
    for x, y in points:
        given += [(10, x), (20, y), (30, 0)]
    return thing("SPLINE", *given)


def de_boor(degree: int, knots: list[float], points: list[complex], weights: list[float], t: float) -> complex:
    """The point at a parameter by the basis functions' recursion (Cox, de Boor), with weights."""

    def basis(i: int, p: int) -> float:
        if p == 0:
            last = t == knots[len(points)] and knots[i] < t == knots[i + 1]
            return float(knots[i] <= t < knots[i + 1] or last)
        left, right = knots[i + p] - knots[i], knots[i + p + 1] - knots[i + 1]
        a = (t - knots[i]) / left * basis(i, p - 1) if left else 0.0
        return a + ((knots[i + p + 1] - t) / right * basis(i + 1, p - 1) if right else 0.0)

    n = [basis(i, degree) * w for i, w in enumerate(weights)]
    return sum(a * z for a, z in zip(n, points, strict=True)) / sum(n)


def at(s: Segment, t: float) -> complex:
    return s.p + (s.q - s.p) * t if isinstance(s, Line) else s.at(t)


def off(path: Subpath, truth: Sequence[complex]) -> float:
    """The largest distance of points from a path: valleys among many samples, refined between neighbours."""
    n = max(8, 800 // len(path.segments))
    spots = np.array([at(s, k / n) for s in path.segments for k in range(n + 1)])
    reach = np.abs(np.diff(spots)).max()
    worst = 0.0
    for z in truth:
        near = np.abs(spots - z)
        after, before = np.append(near[1:], np.inf), np.append(np.inf, near[:-1])
        valley = (near <= after + 1e-9) & (near <= before + 1e-9) & (near <= near.min() + reach)
        best = math.inf
        for i in np.flatnonzero(valley).tolist():
            s, k = path.segments[i // (n + 1)], i % (n + 1)
            low, high = max(0, k - 1) / n, min(n, k + 1) / n
            for _ in range(55):
                a, b = low + (high - low) * 0.382, low + (high - low) * 0.618
                low, high = (low, b) if abs(at(s, a) - z) <= abs(at(s, b) - z) else (a, high)
            best = min(best, abs(at(s, (low + high) / 2) - z))
        worst = max(worst, best)
    return worst


WAVE = [(0.0, 0.0), (10.0, 30.0), (35.0, 25.0), (40.0, -10.0), (70.0, -5.0), (80.0, 40.0), (110.0, 20.0)]
CASES: dict[str, tuple[int, list[float], list[float] | None, float]] = {
    "degree 1": (1, [0, 0, 1, 2, 4, 5, 6, 7, 7], None, 1e-10),
    "degree 2": (2, [0, 0, 0, 1, 2, 4, 5, 6, 6, 6], None, 1e-10),
    "degree 3": (3, [0, 0, 0, 0, 1, 2.5, 3, 4, 4, 4, 4], None, 1e-10),
    "degree 3, open knots": (3, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10], None, 1e-10),
    "degree 3, a corner": (3, [0, 0, 0, 0, 2, 2, 2, 3, 3, 3, 3], None, 1e-10),
    "degree 5": (5, [0.0] * 6 + [1.0] + [2.0] * 6, None, 5e-6),
    "degree 6": (6, [0.0] * 7 + [1.0] * 7, None, 5e-6),
    "degree 2 with weights": (2, [0, 0, 0, 1, 2, 4, 5, 6, 6, 6], [1, 0.5, 2, 1, 3, 0.7, 1], 5e-6),
    "degree 3 with weights": (3, [0, 0, 0, 0, 1, 2.5, 3, 4, 4, 4, 4], [1, 5, 0.2, 1, 3, 0.7, 1], 5e-6),
}


@pytest.mark.parametrize("name", CASES)
def test_a_spline_is_its_true_curve(name: str) -> None:
    """Exact up to degree 3 without weights, else within 5 nm; the arcs made of it within that and CURVE_MM."""
    degree, knots, weights, bound = CASES[name]
    given = [float(k) for k in knots]
    path = only(document(spline(degree, given, WAVE, weights)))
    low, high = given[degree], given[len(WAVE)]
    z = [complex(*p) for p in WAVE]
    truth = [
        de_boor(degree, given, z, [float(w) for w in weights or [1] * len(z)], low + (high - low) * k / 60)
        for k in range(61)
    ]
    assert abs(path.start - truth[0]) < 1e-12
    assert abs(path.end - truth[-1]) < 1e-12
    assert off(path, truth) <= bound
    assert all(a.q == b.p for a, b in pairwise(path.segments))
    contour = as_contour(path)
    arcs = Subpath(tuple(_arcs(contour)), False)
    assert off(arcs, truth) <= bound + CURVE_MM


def _arcs(contour: Contour) -> list[Segment]:
    """A contour's segments, from its vertices and bulges (bulge_center of ezdxf is the independent formula)."""
    xy, bulge = contour.xy.tolist(), contour.bulge.tolist()
    found: list[Segment] = []
    for p, q, b in zip(xy, xy[1:], bulge, strict=False):
        a, e = complex(*p), complex(*q)
        if b == 0:
            found.append(Line(a, e))
        else:
            c = complex(*bulge_center(p, q, b))
            found.append(Bow(a, e, c, a - c, (a - c) * 1j, 0.0, 4 * math.atan(b)))
    return found


@settings(max_examples=30, phases=(Phase.generate,))
@given(
    degree=st.integers(1, 4),
    steps=st.lists(st.sampled_from([0.0, 1.0, 1.0, 2.5]), min_size=4, max_size=4),
    points=st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=7, max_size=7),
    weighted=st.booleans(),
)
def test_any_spline_against_ezdxf(
    degree: int, steps: list[float], points: list[tuple[int, int]], weighted: bool
) -> None:
    """Random control points and knots (also repeated ones), with weights or without, against ezdxf's BSpline."""
    inner = [1.0]
    for s in steps:
        inner.append(inner[-1] + s)
    inner = [k for i, k in enumerate(inner) if inner[:i].count(k) < degree][: 6 - degree]
    knots = [0.0] * (degree + 1) + inner + [inner[-1] + 1.0 if inner else 1.0] * (degree + 1)
    corners = [(float(x), float(y)) for x, y in points[: len(knots) - degree - 1]]
    weights = [1.0 + i % 3 for i in range(len(corners))] if weighted else None
    doc = document(spline(degree, knots, corners, weights))
    paths = [p for s in doc.shapes for p in s.subpaths]
    truth = BSpline(corners, order=degree + 1, knots=knots, weights=weights)
    if not paths:
        assert max(abs(complex(p.x - corners[0][0], p.y - corners[0][1])) for p in truth.approximate(20)) < 1e-9
        return
    assert off(paths[0], [complex(p.x, p.y) for p in truth.approximate(25)]) <= 6e-6


def test_a_circle_written_as_a_weighted_spline_is_a_circle() -> None:
    """Nine points, degree 2 (the classic form): arcs of the one circle, not an approximation of it."""
    curve = rational_bspline_from_arc((3, 4), radius=25, start_angle=0, end_angle=360)
    points = [(p.x, p.y) for p in curve.control_points]
    doc = document(spline(2, list(curve.knots()), points, list(curve.weights())))
    path = only(doc)
    assert all(isinstance(s, Bow) for s in path.segments)
    found = area(doc)
    assert found.area == pytest.approx(math.pi * 625, abs=1e-8)


def test_an_ellipse_written_as_a_weighted_spline_is_an_ellipse() -> None:
    ellipse = ConstructionEllipse((1, 2), (30, 10), ratio=0.4)
    curve = rational_bspline_from_ellipse(ellipse)
    points = [(p.x, p.y) for p in curve.control_points]
    path = only(document(spline(2, list(curve.knots()), points, list(curve.weights()))))
    assert all(isinstance(s, Bow) for s in path.segments)
    assert off(path, [complex(v.x, v.y) for v in ellipse.vertices([k / 7 for k in range(40)])]) < 1e-9


def through(points: list[complex], *more: Pair) -> str:
    rows = [p for z in points for p in ((11, z.real), (21, z.imag), (31, 0))]
    return thing("SPLINE", (71, 3), (72, 0), (73, 0), (74, len(points)), *more, *rows)


def test_a_spline_through_points_passes_them_smoothly_and_is_asked_about() -> None:
    """Passes every point, with tangent and curvature continuous there, and no curvature at its free ends."""
    points = [0j, 10 + 8j, 25 + 3j, 40 + 20j]
    doc = document(through(points))
    path = only(doc)
    assert [path.start, *(s.q for s in path.segments)] == points
    for a, b in pairwise(path.segments):
        assert isinstance(a, Cubic)
        assert isinstance(b, Cubic)
        ha, hb = abs(a.q - a.p), abs(b.q - b.p)
        assert abs((a.q - a.c2) / ha - (b.c1 - b.p) / hb) < 1e-12
        assert abs((a.q - 2 * a.c2 + a.c1) / ha**2 - (b.c2 - 2 * b.c1 + b.p) / hb**2) < 1e-12
    first, last = path.segments[0], path.segments[-1]
    assert isinstance(first, Cubic)
    assert isinstance(last, Cubic)
    assert abs(first.c2 - 2 * first.c1 + first.p) < 1e-12
    assert abs(last.q - 2 * last.c2 + last.c1) < 1e-12
    assert "given only by points" in messages(doc)


def test_end_directions_and_closed_splines_through_points() -> None:
    """Given directions are kept; a closed one through 24 points of a circle is the circle within a micrometre
    in proportion (the error of cubic interpolation is h⁴/384 of the fourth derivative, at most r h⁴/384)."""
    path = only(document(through([0j, 10 + 8j, 25 + 3j], (12, 0), (22, 2), (13, 1), (23, 0))))
    assert isinstance(path.segments[0], Cubic)
    assert isinstance(path.segments[-1], Cubic)
    assert cmath.phase(path.segments[0].c1 - path.segments[0].p) == pytest.approx(math.pi / 2)
    assert cmath.phase(path.segments[-1].q - path.segments[-1].c2) == pytest.approx(0, abs=1e-12)
    ring = [cmath.rect(10, math.pi * k / 12) for k in range(24)]
    path = only(document(through(ring, (70, 1))))
    assert path.end == path.start
    bound = 2 * 10 * (math.pi / 12) ** 4 / 384
    assert max(abs(abs(at(s, k / 10)) - 10) for s in path.segments for k in range(11)) < bound


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (spline(3, [0, 0, 0, 0, 1, 1, 1], WAVE[:4]), "7 knots; 4 control points of degree 3 need 8"),
        (spline(3, [0, 0, 0, 0, 1, 1, 1, 0.5], WAVE[:4]), "knots don't rise"),
        (spline(2, [0, 0, 0, 1, 1, 1], WAVE[:3], [1, -1, 1]), "weight of it isn't above zero"),
        (spline(2, [0, 0, 0, 1, 1, 1], WAVE[:3], [1, 1]), "2 weights for 3 control points"),
        (spline(0, [0, 1], WAVE[:1]), "degree is 0"),
        (spline(3, [0, 0, 0, 1, 1, 1], WAVE[:2]), "needs 4"),
        (thing("SPLINE", (71, 3)), "neither control points nor points"),
    ],
)
def test_a_spline_that_is_none_is_refused(body: str, why: str) -> None:
    assert why in fault(document(body))


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (line(0, 0, math.nan, 1), 'group 11 is "nan"'),
        (line(0, 0, math.inf, 1), 'group 11 is "inf"'),
        (thing("LINE", (10, 0), (20, 0), (11, "4,5"), (21, 1)), '"4,5" isn\'t a number'),
        (thing("LINE", (10, 0), (20, 0), (11, 5)), "its group 21 is missing"),
        (thing("LINE", (10, 0), (20, 0)), "its group 11 is missing"),
        (line(0, 0, 1e300, 1), "out of reach"),
        (line(0, 0, 5e6, 1), "more than a kilometre away"),
        (thing("CIRCLE", (10, 0), (20, 0), (40, -3)), "its radius is -3"),
        (thing("ELLIPSE", (10, 0), (20, 0), (11, 3), (21, 0), (40, 0)), "an axis of it has no length"),
        (thing("LWPOLYLINE", (90, 2), (10, 0), (20, 0), (10, 5)), "an x but no y"),
        (thing("CIRCLE", (10, 0), (20, 0), (40, 3), (210, 0), (220, 0), (230, 0)), "direction"),
    ],
)
def test_numbers_that_are_missing_or_none_are_refused_with_their_line(body: str, why: str) -> None:
    doc = document(body)
    assert why in fault(doc)
    (problem,) = doc.shapes[0].faults
    assert problem.place is not None
    assert problem.place.line > 0


def test_what_has_no_length_is_told_and_left_out() -> None:
    doc = document(line(3, 3, 3, 3) + polyline((1, 1), (1, 1)) + polyline((0, 0), (5, 0), (5, 5)))
    assert "without any length are left out (2 times" in messages(doc)
    assert area(doc).area == pytest.approx(12.5)
