"""The facts N14 to N20 of outside_checks.md section 8, each by a small drawing and a number or golden words.

More of N14 and N15 stands in `test_drawing_path.py`. Sources: SVG 2 (paths, shapes, coords, struct).
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import read_drawing
from pipeline.intake.drawing.segments import Bow
from pipeline.steps.values import Drawing
from tests.intake.drawings import PAGE, area, document, fault, recipe, svg, taken

CURVE_MM = 5e-5
"""Free-form curves come in within 50 nm (DEVELOPERS.md), so their area is off by at most this × perimeter."""
SQUARE = '<rect id="a" x="10" y="20" width="30" height="40"/>'


def bounds(body: str, name: str = "a", **more: str) -> tuple[float, ...]:
    return area(body, name, **more).bounds


def told(folder: Path, body: str, *lines: str, page: str = PAGE) -> Drawing:
    """A drawing as a recipe that takes the object ``a`` gets it, with all that is told of it."""
    return read_drawing(recipe(folder, svg(body, page), *lines, "steps: {part: {kind: outline, drawn: a}}"))


# -- N14: arcs ---------------------------------------------------------------------------------------
def test_n14_radii_that_are_too_small_are_scaled_up_until_they_reach() -> None:
    """Ends 20 apart, r = 4: √Λ = 10/4, so a half circle of r = 10; and 2 : 1 stays 2 : 1."""
    r = area('<path id="a" d="M40 50A4 4 0 0 1 60 50Z"/>')
    assert r.area == pytest.approx(math.pi * 50, rel=1e-12)
    assert r.bounds == pytest.approx((40, 50, 60, 60), abs=1e-9)
    oval = area('<path id="a" d="M40 50A2 1 0 0 1 60 50Z"/>')
    assert oval.area == pytest.approx(math.pi * 10 * 5 / 2, abs=CURVE_MM * oval.perimeter)
    assert oval.bounds == pytest.approx((40, 50, 60, 55), abs=CURVE_MM)


@pytest.mark.parametrize("radii", ["0 9", "9 0", "0 0"])
def test_n14_a_zero_radius_is_a_straight_line(radii: str) -> None:
    r = area(f'<path id="a" d="M10 10A{radii} 0 1 0 50 10V40H10Z"/>')
    assert r.area == pytest.approx(1200, abs=1e-9)
    assert len(r.parts[0].outer) == 4


def test_n14_negative_radii_are_absolute() -> None:
    assert area('<path id="a" d="M40 50A-10 -10 0 0 1 60 50Z"/>').area == pytest.approx(math.pi * 50, rel=1e-12)


@pytest.mark.parametrize(
    ("flags", "up", "full"),
    [("00", False, False), ("01", True, False), ("10", False, True), ("11", True, True)],
)
def test_n14_glued_flags_choose_the_arc(flags: str, up: bool, full: bool) -> None:
    """r = 10 over a chord of 12: centres 8 off it, so the arc rises 2 or 18 to the side that sweep says."""
    r = area(f'<path id="a" d="M44 50a10 10 0 {flags}12 0z"/>')
    rise = 18 if full else 2
    assert r.bounds[3] - r.bounds[1] == pytest.approx(rise, abs=1e-9)
    assert r.bounds[3] == pytest.approx(50 + rise if up else 50, abs=1e-9)
    cap = 100 * math.asin(0.6) - 6 * 8
    assert r.area == pytest.approx(100 * math.pi - cap if full else cap, rel=1e-9)


# -- N15: path grammar ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "d",
    [
        "M10 20H40V60H10Z", "m10-40m0 60h30v40h-30z", "M10 20 40 20 40 60 10 60Z", "m10 20 30 0 0 40-30 0z",
        "M1e1 2.0E1H4e+1V600e-1H10Z", "M10,20,40,20,40,60,10,60,Z"[:-2] + "Z", "M10 20L40 20 40 60 10 60z",
        "M+10+20H+40V+60H+10Z", "M10 20h30v40h-30zm5 5", "M10 20h5.5.5 24v40h-30z", "M10 20H40 V60\nH10\tZ",
        "M0 0ZM10 20H40V60H10Z", "M10 20H40V60H10ZM10 20",
    ],
)  # fmt: skip
def test_n15_one_square_in_every_spelling(d: str) -> None:
    """No separators before "-" or a second ".", exponents, repeated commands, lines after a move."""
    r = area(f'<path id="a" d="{d}"/>')
    assert r.bounds == pytest.approx((10, 40, 40, 80), abs=1e-9)
    assert r.area == pytest.approx(1200, abs=1e-9)


def test_n15_after_a_close_the_point_is_the_start_of_the_subpath() -> None:
    """The second square begins at the first one's start, (10, 20), not at its last corner (10, 30)."""
    r = area('<path id="a" d="M10 20h10v10h-10zl-5 0v5h5z"/>')
    assert r.area == pytest.approx(100 + 25, abs=1e-9)
    assert r.bounds == pytest.approx((5, 70, 20, 80), abs=1e-9)


@pytest.mark.parametrize(
    ("d", "character", "says"),
    [
        ("M10 20H40V60H10Z M5 5 L 9", 26, "a line (L) takes 2 numbers, here stands the end after 1"),
        ("M10 20H40V60H10Z K", 18, '"K" is neither a path command nor a number that belongs here'),
        ("M10 20H40V60A9 9 0 0 3 10 60Z", 22, 'the sweep flag of an arc is 0 or 1, here stands "3"'),
        ("M10 20H40V60H1O0Z", 15, '"O" is neither a path command nor a number that belongs here'),
        ("10 20H40V60H10Z", 1, 'path data begins with a move (M), not with "1"'),
        ("M10 20H40V6e999H10Z", 11, "the number 6e999 is too large for a drawing"),
        ("M10 20C1 2 3 4 5V60", 17, 'a curve (C) takes 6 numbers, here stands "V" after 5'),
        ("M10 20H40V#60", 11, 'a vertical line (V) takes 1 number, here stands "#" after 0'),
    ],
)
def test_n15_a_bad_command_is_refused_by_object_and_character(
    tmp_path: Path, d: str, character: int, says: str
) -> None:
    """SVG 2 would draw up to the bad command: half an outline. Nothing of it is taken; the maker is told."""
    with pytest.raises(Refused) as refused:
        told(tmp_path, f'<path\n id="a"\n d="{d}"/>')
    (problem,) = refused.value.problems
    assert problem.wrong == f'The object "a" can\'t be used: at character {character} of its path data: {says}.'
    assert problem.place is not None
    assert (problem.place.line, problem.place.column, problem.place.object) == (3, 4 + character, "a")
    assert document(f'<path id="a" d="{d}"/>').shapes[0].subpaths == ()


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ('<path d="M0 0L"/>', 'The object "<path>" can\'t be used: at character 6 of its path data: a line (L)'),
        (
            '<path xmlns:e="urn:e" e:label="rim" d="M0 0L"/>',
            'The object "rim" can\'t be used: at character 6 of its',
        ),
        (
            '<polygon id="p" points="1 1 9 1 9 x"/>',
            'The object "p" can\'t be used: at character 11 of its points: "x"',
        ),
        (
            '<rect id="r" width="9" height="5q9"/>',
            'The object "r" can\'t be used: "5q9" isn\'t a length, so its height',
        ),
        (
            '<g id="g" transform="scale(2) turn(3)"><circle r="2"/></g>',
            'The object "g" can\'t be used: in its transform',
        ),
    ],
)
def test_errors_name_the_object_or_its_element_and_the_place(body: str, wrong: str) -> None:
    problem = document("\n" + body).shapes[0].faults[0]
    assert problem.wrong.startswith(wrong)
    assert problem.place is not None
    assert problem.place.line == 2
    assert problem.place.object in ("<path>", "p", "r", "g")


@pytest.mark.parametrize(
    ("body", "character"),
    [
        ('<path d="M0 0L"/>', '"'),
        ('<polygon points="1 1 9 1 9 x"/>', "x"),
        ('<g transform="scale(2) turn(3)"><path d="M0 0h1"/></g>', "t"),
    ],
)
def test_errors_point_at_the_character(body: str, character: str) -> None:
    """The caret of a message stands below the very character (below the closing quote where data just end)."""
    place = document(body).shapes[0].faults[0].place
    assert place is not None
    assert place.text[place.column - 1] == character
    assert place.text[: place.column - 1].endswith(('d="M0 0L', "9 1 9 ", "scale(2) "))


# -- N16: rounded rectangles and circles ---------------------------------------------------------
@pytest.mark.parametrize(
    ("radii", "rx", "ry"),
    [('rx="3"', 3, 3), ('ry="4"', 4, 4), ('rx="3" ry="auto"', 3, 3), ('rx="99"', 10, 15), ('rx="3" ry="5"', 3, 5)],
)
def test_n16_radii_of_a_rectangle(radii: str, rx: float, ry: float) -> None:
    """SVG 2, shapes: auto copies the other one, then each is clamped to half the side."""
    r = area(f'<rect id="a" x="10" y="20" width="20" height="30" {radii}/>')
    assert r.area == pytest.approx(600 - (4 - math.pi) * rx * ry, abs=CURVE_MM * r.perimeter)
    assert r.bounds == pytest.approx((10, 50, 30, 80), abs=CURVE_MM)


def test_n16_a_rounded_rectangle_is_four_lines_and_four_arcs() -> None:
    outer = area('<rect id="a" width="20" height="30" rx="3"/>').parts[0].outer
    assert len(outer) == 8
    assert sum(abs(b - math.tan(math.pi / 8)) < 1e-12 for b in outer.bulges) == 4


@pytest.mark.parametrize(
    ("radii", "rx", "ry"),
    [('rx="99" ry="2"', 10, 2), ('ry="99"', 10, 15), ('rx="10" ry="15"', 10, 15), ('rx="0" ry="5"', 0, 0)],
)
def test_n16_radii_are_clamped_each_to_its_own_half(radii: str, rx: float, ry: float) -> None:
    """A rectangle 20 × 30: rx at most 10, ry at most 15; a missing one copies the other before that."""
    r = area(f'<rect id="a" x="10" y="20" width="20" height="30" {radii}/>')
    assert r.area == pytest.approx(600 - (4 - math.pi) * rx * ry, abs=CURVE_MM * r.perimeter)


def test_n16_a_negative_radius_is_a_fault() -> None:
    assert fault('<rect id="a" width="20" height="30" rx="-3"/>').endswith("its rx is -3; it can't be negative.")


@pytest.mark.parametrize(
    "body", ['<circle id="a" cx="50" cy="50" r="9"/>', '<ellipse id="a" cx="50" cy="50" rx="9" ry="4"/>']
)
def test_n16_round_shapes_go_clockwise_on_the_screen_from_three_o_clock(body: str) -> None:
    """SVG 2, shapes: the path starts at (cx + rx, cy) and passes (cx, cy + ry), below, then nine o'clock."""
    ry = 9 if "circle" in body else 4
    subpath = document(body).shapes[0].subpaths[0]
    assert subpath.closed
    assert subpath.start == pytest.approx(59 + 50j)
    half = subpath.segments[0]
    assert isinstance(half, Bow)
    assert half.at(0.5) == pytest.approx(complex(50, 50 - ry))
    assert half.q == pytest.approx(41 + 50j)


@pytest.mark.parametrize("transform", ["", "rotate(33)", "scale(-2 2)", "matrix(0.6 0.8 -0.8 0.6 90 3)"])
def test_n16_a_circle_stays_a_circle_under_every_similarity(transform: str) -> None:
    k = 2 if "scale" in transform else 1
    circle = area(f'<circle id="a" cx="40" cy="30" r="7" transform="{transform}"/>').parts[0].outer.circle()
    assert circle is not None
    assert circle[2] == pytest.approx(7 * k, abs=1e-12)


def test_n16_a_circle_begins_at_three_o_clock() -> None:
    subpath = document('<circle id="a" cx="40" cy="30" r="7"/>').shapes[0].subpaths[0]
    assert subpath.start == pytest.approx(47 + 70j)


@pytest.mark.parametrize(
    "body",
    ['<circle id="a" r="0"/>', '<circle id="a" r="-1"/>', '<rect id="a" width="0" height="5"/>',
     '<rect id="a" width="-3" height="5"/>', '<ellipse id="a" rx="3" ry="-2"/>', '<rect id="a" width="5em" height="5"/>',
     '<polygon id="a" points="1 2 3"/>', '<polygon id="a" points="1 2 3 x"/>', '<path id="a"/>', '<path id="a" d="M1 1"/>',
     '<rect id="a" width="abc" height="5"/>', '<line id="a" x1="1" x2="1"/>'],
)  # fmt: skip
def test_n16_a_shape_that_is_none_is_a_fault(body: str) -> None:
    assert fault(body).startswith('The object "a" can\'t be used: ')


# -- N17 … N23 --------------------------------------------------------------------------------------
def test_n17_a_stroke_is_no_area() -> None:
    found = taken('<path id="a" fill="none" stroke="black" stroke-width="9" d="M10 10H90"/>')
    assert found.region is None
    assert "is open" in found.problem


@pytest.mark.parametrize(
    "extra",
    [
        'stroke-width="9"', 'stroke-width="9" vector-effect="non-scaling-stroke"', 'stroke-width="0.01"',
        'stroke-width="3" stroke-linejoin="round"', 'style="stroke-width:20%"',
    ],
)  # fmt: skip
@pytest.mark.parametrize("fill", ["none", "black"])
def test_n17_the_edge_is_the_path_whatever_its_stroke(extra: str, fill: str) -> None:
    """trade.md 1.2: a stroke's width is not geometry; scaled by a transform or not, it moves no edge."""
    rect = f'<rect id="a" x="2" y="4" width="6" height="8" fill="{fill}" stroke="black" {extra}/>'
    assert bounds(f'<g transform="scale(5)">{rect}</g>') == pytest.approx((10, 40, 40, 80), abs=1e-9)


def test_n17_a_stroke_that_was_turned_into_a_shape_is_asked_about() -> None:
    """A line 0.35 wide as two contours: taken as drawn, a thin ring, and told (trade.md 1.8: 0.1 to 0.5 mm)."""
    d = "M10 20H40V60H10Z M10.35 20.35V59.65H39.65V20.35Z"
    found = taken(f'<path id="a" d="{d}"/>')
    assert found.region is not None
    assert found.region.area == pytest.approx(1200 - 29.3 * 39.3, abs=1e-9)
    (asked,) = found.findings
    assert asked.severity == "ask"
    assert asked.measured == pytest.approx(0.35, abs=0.01)
    assert "stroke" in asked.message


def test_n18_a_figure_eight_that_is_filled_has_two_lobes() -> None:
    """Its signed area is 0; nonzero fills both lobes, 2 × ½ · 40 · 20."""
    r = area('<path id="a" d="M10 10L50 50H10L50 10Z"/>')
    assert r.area == pytest.approx(800, abs=1e-9)
    assert r.bounds == pytest.approx((10, 50, 50, 90), abs=1e-9)


def test_n18_a_figure_eight_that_is_only_stroked_is_not_certain() -> None:
    found = taken('<path id="a" fill="none" stroke="black" d="M10 10L50 50H10L50 10Z"/>')
    assert found.region is None
    assert "crosses itself at x 30.00, y 70.00 mm" in found.problem


def test_n18_a_pentagram_under_both_rules() -> None:
    """The core pentagon is filled under nonzero only; its area by the golden ratio φ is core = star ∖ tips."""
    points = [(50 + 40 * math.sin(4 * math.pi * k / 5), 50 - 40 * math.cos(4 * math.pi * k / 5)) for k in range(5)]
    text = " ".join(f"{x!r},{y!r}" for x, y in points)
    inner = 40 * math.cos(2 * math.pi / 5) / math.cos(math.pi / 5)  # circumradius of the core
    core = 5 / 2 * inner**2 * math.sin(2 * math.pi / 5)
    star = 5 * 40 * inner * math.sin(math.pi / 5)
    nonzero = area(f'<polygon id="a" points="{text}"/>')
    even_odd = area(f'<polygon id="a" fill-rule="evenodd" points="{text}"/>')
    assert nonzero.area == pytest.approx(star, rel=1e-9)
    assert even_odd.area == pytest.approx(star - core, rel=1e-9)
    assert (len(nonzero.parts), len(even_odd.parts)) == (1, 5)


def test_n19_a_nested_svg_has_its_own_viewport() -> None:
    body = '<svg x="10" y="10" width="50" height="50" viewBox="0 0 100 100"><rect id="a" width="100" height="100"/></svg>'
    assert bounds(body) == pytest.approx((10, 40, 60, 90), abs=1e-12)


def test_n19_what_a_nested_svg_clips_is_a_fault() -> None:
    body = '<svg id="n" width="50" height="50"><rect id="a" width="60" height="10"/></svg>'
    assert 'the edge of "n" cuts part of it off' in fault(body)
    assert document(body.replace('id="n"', 'overflow="visible"')).shapes[0].faults == ()


@pytest.mark.parametrize(
    ("how", "expected"),
    [
        ("", (20, 70, 40, 90)), ("xMinYMin", (10, 70, 30, 90)), ("xMaxYMid meet", (30, 70, 50, 90)),
        ("xMaxYMax slice", (10, 70, 50, 110)), ("xMidYMin slice", (10, 50, 50, 90)), ("none", (10, 70, 50, 90)),
    ],
)  # fmt: skip
def test_n19_a_nested_svg_has_its_own_preserve_aspect_ratio(how: str, expected: tuple[float, ...]) -> None:
    """A view box of 20 × 20 in a viewport of 40 × 20 at (10, 10): meet is 1 : 1, slice 2 : 1 (SVG 2, 8.2)."""
    nested = f'<svg x="10" y="10" width="40" height="20" viewBox="0 0 20 20" preserveAspectRatio="{how}" overflow="visible">'
    assert bounds(f'{nested}<rect id="a" width="20" height="20"/></svg>') == pytest.approx(expected, abs=1e-9)


def test_n19_without_a_size_it_is_as_large_as_what_is_around() -> None:
    """width and height are 100 % of the outer viewport, 200 × 100; its percentages are of its own view box."""
    body = '<svg viewBox="0 0 50 50"><rect id="a" width="50%" height="100%"/></svg>'
    assert bounds(body) == pytest.approx((50, 0, 100, 100), abs=1e-9)


@pytest.mark.parametrize(
    ("extra", "clipped"),
    [
        ("", True),
        ('overflow="hidden"', True),
        ('overflow="scroll"', True),
        ('style="overflow:visible"', False),
        ('overflow="auto"', False),
    ],
)
def test_n19_it_clips_unless_its_overflow_is_visible(extra: str, clipped: bool) -> None:
    body = f'<svg id="n" width="50" height="50" {extra}><rect id="a" width="60" height="10"/></svg>'
    assert bool(document(body).shapes[0].faults) is clipped


def test_n20_points_that_fall_together_and_spikes() -> None:
    """Zero-length segments go; a spike encloses nothing, filled or not."""
    d = "M10 10L10 10H50V10L50 50V50H30V90V50H10Z"
    assert area(f'<path id="a" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)
    assert area(f'<path id="a" fill="none" stroke="red" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)


def test_n20_collinear_points_keep_the_area_and_stay_lines() -> None:
    """Points on a straight side, in a row or to and fro: 30 × 40 all the same, all lines."""
    for d in ("M10 20L20 20L25 20L40 20V60H30H10V40Z", "M10 20L30 20L20 20L40 20V60H10Z"):
        r = area(f'<path id="a" d="{d}"/>')
        assert r.area == pytest.approx(1200, abs=1e-9)
        assert not r.parts[0].outer.bulges.any()


@pytest.mark.parametrize("zero", ["l0 0", "h0", "c0 0 0 0 0 0", "a5 5 0 0 1 0 0", "q0 0 0 0", "L40 20"])
def test_n20_zero_length_segments_of_every_kind_go(zero: str) -> None:
    r = area(f'<path id="a" d="M10 20H40{zero}V60H10Z"/>')
    assert r.area == pytest.approx(1200, abs=1e-9)
    assert len(r.parts[0].outer) == 4


@pytest.mark.parametrize("spike", ["V60V90V60", "V60L70 95L40 60", "V60v1e-4v-1e-4"])
def test_n20_a_spike_adds_nothing(spike: str) -> None:
    for look in ("", 'fill="none" stroke="red"'):
        r = area(f'<path id="a" {look} d="M10 20H40{spike}H10Z"/>')
        assert r.area == pytest.approx(1200, abs=1e-3)
        assert r.bounds == pytest.approx((10, 40, 40, 80), abs=1e-6)


def test_n20_vertices_that_nearly_coincide_leave_no_short_edge_behind() -> None:
    """Two vertices a nanometre apart, and a point named three times."""
    r = area('<path id="a" d="M10 20L40 20L40.000000001 20L40 60L40 60L40 60L10 60Z"/>')
    assert r.area == pytest.approx(1200, abs=1e-6)
    assert len(r.parts[0].outer) == 4


@pytest.mark.parametrize("n", [100, 3000])
def test_n20_a_curve_flattened_to_points_is_a_polygon_of_the_same_area(n: int) -> None:
    """½ n r² sin(2π/n), the area of a regular n-gon; read as what it is, point by point."""
    points = " ".join(
        f"{50 + 30 * math.cos(2 * math.pi * k / n)!r},{50 + 30 * math.sin(2 * math.pi * k / n)!r}"
        for k in range(n)
    )
    r = area(f'<polygon id="a" points="{points}"/>')
    assert r.area == pytest.approx(n / 2 * 900 * math.sin(2 * math.pi / n), rel=1e-9)


@pytest.mark.parametrize(
    ("c1", "c2"), [((10, 50), (50, 90)), ((30, 90), (70, 50)), ((10, 50), (69.9, 50.5)), ((10.0001, 50), (40, 80))]
)
def test_n20_a_handle_on_its_anchor_is_read_exactly(c1: tuple[float, float], c2: tuple[float, float]) -> None:
    """Area under a cubic by Green's theorem, ∮ x dy: its products of Bernstein polynomials integrate to n/20."""
    p, q = (10.0, 50.0), (70.0, 50.0)
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = p, c1, c2, q
    under = (
        x0 * (-10 * y0 + 6 * y1 + 3 * y2 + y3) + x1 * (-6 * y0 + 3 * y2 + 3 * y3)
        + x2 * (-3 * y0 - 3 * y1 + 6 * y3) + x3 * (-y0 - 3 * y1 - 6 * y2 + 10 * y3)
    ) / 20 + (x3 + x0) / 2 * (y0 - y3)  # fmt: skip
    r = area(f'<path id="a" d="M{x0} {y0}C{x1} {y1} {x2} {y2} {x3} {y3}Z"/>')
    assert r.area == pytest.approx(abs(under), abs=CURVE_MM * r.perimeter)


def test_n20_a_cubic_with_its_handles_on_the_anchors_is_a_line() -> None:
    r = area('<path id="a" d="M10 10C10 10 50 10 50 10C50 10 50 50 50 50L10 50Z"/>')
    assert r.area == pytest.approx(1600, abs=1e-9)
    assert len(r.parts[0].outer) == 4
    assert not r.parts[0].outer.free.any()
