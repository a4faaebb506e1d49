"""What ``drawn`` takes (blueprint section 3), gaps (trade.md 1.8), marks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.intake.drawing.marks import mark_of
from pipeline.steps.values import Mark
from tests.intake.drawings import area, document, taken

LINE = 'fill="none" stroke="black"'


def box(x: float, y: float, w: float, h: float, paint: str = "") -> str:
    return f'<rect x="{x}" y="{y}" width="{w}" height="{h}" {paint}/>'


# -- filled shapes unite -------------------------------------------------------------------------
def test_filled_shapes_unite() -> None:
    r = area(f'<g id="a">{box(0, 0, 30, 30)}{box(20, 20, 30, 30)}</g>')
    assert r.area == pytest.approx(1700, abs=1e-9)
    assert len(r.parts) == 1
    assert len(r.parts[0].outer) == 8


def test_two_discs_unite_to_two_arcs() -> None:
    """Lens of two circles r 10, centres 12 apart: 2 r² acos(d/2r) − d/2 √(4r² − d²)."""
    r = area('<g id="a"><circle cx="40" cy="50" r="10"/><circle cx="52" cy="50" r="10"/></g>')
    lens = 200 * math.acos(0.6) - 6 * math.sqrt(400 - 144)
    assert r.area == pytest.approx(200 * math.pi - lens, abs=1e-9)
    assert sum(abs(b) > 1e-9 for b in r.parts[0].outer.bulges) == len(r.parts[0].outer)


def test_a_filled_island_in_a_filled_shape_makes_no_hole() -> None:
    """White on black is still paint: filled shapes unite whatever their colour."""
    white = box(10, 10, 5, 5, 'fill="white"')
    assert area(f'<g id="a">{box(0, 0, 30, 30)}{white}</g>').area == pytest.approx(900, abs=1e-9)


def test_parts_that_lie_apart_stay_apart_and_untouched() -> None:
    r = area(f'<g id="a"><circle cx="70" cy="50" r="5"/>{box(0, 0, 30, 30)}</g>')
    assert len(r.parts) == 2
    assert r.parts[1].outer.circle() == pytest.approx((70, 50, 5))


def test_shapes_that_share_an_edge_become_one() -> None:
    r = area(f'<g id="a">{box(0, 0, 30, 30, LINE)}{box(30, 0, 30, 30, LINE)}</g>')
    assert r.area == pytest.approx(1800, abs=1e-9)
    assert len(r.parts) == 1


# -- unfilled contours nest -----------------------------------------------------------------------
def test_unfilled_contours_nest_even_odd() -> None:
    rings = "".join(f'<circle cx="50" cy="50" r="{r}" {LINE}/>' for r in (10, 40, 20, 30))
    r = area(f'<g id="a">{rings}</g>')
    assert r.area == pytest.approx(math.pi * (1600 - 900 + 400 - 100), rel=1e-12)
    assert len(r.parts) == 2
    assert all(c.circle() is not None for c in r.contours)


def test_unfilled_contours_that_cross_are_not_certain() -> None:
    found = taken(f'<g id="a">{box(0, 0, 30, 30, LINE)}{box(20, 20, 30, 30, LINE)}</g>')
    assert found.region is None
    assert "cross at x" in found.problem


def test_a_hole_that_touches_the_edge_from_inside() -> None:
    r = area(f'<g id="a">{box(0, 0, 30, 30, LINE)}{box(10, 0, 10, 10, LINE)}</g>')
    assert r.area == pytest.approx(800, abs=1e-9)


def test_a_line_round_a_filled_area_is_told() -> None:
    found = taken(f'<g id="a">{box(0, 0, 30, 30)}{box(10, 10, 5, 5, LINE)}</g>')
    assert found.region is not None
    assert found.region.area == pytest.approx(900, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-line-on-fill"]


def test_subpaths_of_one_fill_that_cross_follow_their_rule() -> None:
    """Two squares that overlap in 10 × 10, drawn the same way round: nonzero fills it, evenodd doesn't."""
    d = "M0 0H30V30H0Z M20 20H50V50H20Z"
    assert area(f'<path id="a" d="{d}"/>').area == pytest.approx(1700, abs=1e-9)
    assert area(f'<path id="a" fill-rule="evenodd" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)


def test_subpaths_against_each_other_cancel_under_nonzero() -> None:
    d = "M0 0H30V30H0Z M20 20V50H50V20Z"
    assert area(f'<path id="a" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)


# -- gaps -----------------------------------------------------------------------------------------
def test_gaps_up_to_five_hundredths_are_joined_and_counted() -> None:
    found = taken(f'<path id="a" {LINE} d="M0 0H40V40H0V0.049"/>')
    assert found.region is not None
    assert found.region.area == pytest.approx(1600, abs=1e-6)
    (told,) = found.findings
    assert (told.check, told.severity) == ("drawing-gap", "note")
    assert told.measured == pytest.approx(0.049, abs=1e-9)
    assert "1 gap" in told.message


def test_a_gap_of_over_a_millimetre_is_a_problem_with_its_width() -> None:
    found = taken(f'<path id="a" {LINE} d="M0 0H40V40H0V1.01"/>')
    assert found.region is None
    assert "1.01 mm from where it begins" in found.problem
    assert len(found.lines) == 1


def test_an_outline_of_separate_lines_and_arcs_is_chained() -> None:
    """Pieces in any order and direction; two of the four gaps are a little open."""
    pieces = "M0 0H40 M40 40H0 M40.01 0A20 20 0 0 1 40 40 M0 40.02V0"
    found = taken(f'<g id="a" {LINE}>' + "".join(f'<path d="M{p}"/>' for p in pieces.split("M")[1:]) + "</g>")
    assert found.region is not None
    assert len(found.region.parts[0].outer) == 4
    assert found.region.area == pytest.approx(1600 + math.pi * 200, abs=1.0)
    assert found.findings[0].message.startswith("2 gaps")


def test_three_ends_at_one_place_are_not_joined() -> None:
    """Three ways between the same two points enclose no certain area."""
    found = taken(f'<path id="a" {LINE} d="M0 0V40H40 M40 40L0 0 M40 40V0H0"/>')
    assert found.region is None
    assert 'Three or more ends of "a" meet at x 0.00, y 100.00 mm' in found.problem


def test_a_closing_line_of_rounding_size_goes() -> None:
    """Relative coordinates that miss their start by 2 µm leave no 2 µm edge behind."""
    r = area('<path id="a" d="m10 10h40v40h-40v-39.998z"/>')
    assert len(r.parts[0].outer) == 4


def test_lines_beside_closed_shapes_are_left_out_and_told() -> None:
    found = taken(f'<g id="a">{box(0, 0, 30, 30, LINE)}<path d="M5 50H60" {LINE}/></g>')
    assert found.region is not None
    assert found.region.area == pytest.approx(900, abs=1e-9)
    assert [(f.check, f.severity) for f in found.findings] == [("drawing-open", "ask")]
    assert len(found.lines) == 1


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (box(0, 0, 9, 9, 'fill="none"'), "neither filled nor stroked"),
        (box(0, 0, 9, 9, 'display="none"'), "hidden"),
        ("<g/>", "draws nothing"),
        ('<path d="M0 0H9"/>', "is open"),
        ('<path d="M0 0H9Z"/>', "encloses no area"),
    ],
)
def test_what_gives_no_area_says_why(body: str, says: str) -> None:
    found = taken(f'<g id="a">{body}</g>')
    assert found.region is None
    assert says in found.problem


def test_free_form_curves_stay_marked() -> None:
    outer = area('<path id="a" d="M10 50C10 10 90 10 90 50Z"/>').parts[0].outer
    assert outer.free.any()
    assert not outer.free.all()


# -- marks --------------------------------------------------------------------------------------------
def mark(body: str) -> Mark | str:
    doc = document(f'<g id="m">{body}</g>')
    return mark_of(doc.members(1), "m")


def at(body: str) -> tuple[float, float]:
    found = mark(body)
    assert isinstance(found, Mark), found
    return found.at


@pytest.mark.parametrize(
    "body",
    [
        '<circle cx="30" cy="40" r="2"/>',
        '<path d="M28 38h4v4h-4z"/>',
        f'<path {LINE} d="M25 40h10M30 35v10"/>',
        f'<g {LINE}><line x1="25" y1="40" x2="35" y2="40"/><line x1="30" y1="35" x2="30" y2="45"/></g>',
        f'<g {LINE}><path d="M26 36l8 8"/><path d="M34 36l-8 8"/></g>',
        f'<g {LINE}><circle cx="30" cy="40" r="3"/><path d="M25 40h10M30 35v10"/></g>',
        f'<g {LINE}><circle cx="30" cy="40" r="3"/><circle cx="30" cy="40" r="1"/></g>',
        f'<path {LINE} d="M20 40h20"/>',
        '<path d="M29 39h2v2h-2"/>',
    ],
)
def test_marks_of_every_form(body: str) -> None:
    assert at(body) == pytest.approx((30, 60), abs=1e-9)


def test_a_triangle_is_its_centre_of_area() -> None:
    assert at('<path d="M30 40l6 0l0 6z"/>') == pytest.approx((34, 58), abs=1e-9)


def test_a_line_has_ends() -> None:
    found = mark(f'<line {LINE} x1="10" y1="20" x2="40" y2="60"/>')
    assert isinstance(found, Mark)
    assert np.allclose(found.ends, [(10, 80), (40, 40)])


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (f'<path {LINE} d="M0 0h10M0 5h10"/>', "don't cross"),
        ('<circle cx="30" cy="40" r="2"/><circle cx="31" cy="40" r="2"/>', "different centres"),
        (f'<path {LINE} d="M0 0h10M0 5h10M3 3v4"/>', "3 open lines"),
        ('<circle cx="30" cy="40" r="2" visibility="hidden"/>', "hidden"),
    ],
)
def test_marks_that_are_not_clear(body: str, says: str) -> None:
    found = mark(body)
    assert isinstance(found, str)
    assert says in found


def test_a_line_at_the_corner_of_a_loop_makes_it_uncertain() -> None:
    """Three ends within 1 mm of each other: stop, and show them (trade.md 1.8)."""
    found = taken(f'<path id="a" {LINE} d="M0 0H40V40 M40 40L0 0 M40 40L60 60"/>')
    assert found.region is None
    assert "meet at x 40.00, y 60.00 mm" in found.problem
