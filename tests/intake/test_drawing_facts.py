"""The facts N1 to N13 of outside_checks.md section 8, each by a small drawing and a number or golden words.

Sources: SVG 2 (coords, struct, painting), CSS Values 4, CSS Cascade 4. N14 to N20 stand in `test_drawing_facts_shapes.py`
and `test_drawing_path.py`, N21 to N28 in `test_drawing_facts_content.py` and `test_drawing_source.py`.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import read_drawing
from pipeline.steps.values import Drawing
from tests.intake.drawings import PAGE, area, document, fault, messages, recipe, svg, taken

CURVE_MM = 5e-5
"""Free-form curves come in within 50 nm (DEVELOPERS.md), so their area is off by at most this × perimeter."""
SQUARE = '<rect id="a" x="10" y="20" width="30" height="40"/>'


def bounds(body: str, name: str = "a", **more: str) -> tuple[float, ...]:
    return area(body, name, **more).bounds


def told(folder: Path, body: str, *lines: str, page: str = PAGE) -> Drawing:
    """A drawing as a recipe that takes the object ``a`` gets it, with all that is told of it."""
    return read_drawing(recipe(folder, svg(body, page), *lines, "steps: {part: {kind: outline, drawn: a}}"))


# -- N1, N2, N3: units ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("width", "mm"),
    [
        ("96px", 25.4), ("96", 25.4), ("72pt", 25.4), ("6pc", 25.4), ("25.4mm", 25.4), ("2.54cm", 25.4),
        ("1in", 25.4), ("101.6Q", 25.4), ("1IN", 25.4), (" 25.4mm ", 25.4), ("2.54e1mm", 25.4),
    ],
)  # fmt: skip
def test_n1_every_unit_of_the_page(width: str, mm: float) -> None:
    """CSS Values 4, 6.2: 1in = 2.54cm = 25.4mm = 101.6Q = 72pt = 6pc = 96px."""
    doc = document("", f'width="{width}" height="{width}" viewBox="0 0 100 100"')
    assert doc.page == pytest.approx((mm, mm), rel=1e-15)
    assert doc.unit_mm == pytest.approx(0.254, rel=1e-14)


def test_n1_without_a_view_box_a_unit_is_a_pixel() -> None:
    found = bounds(SQUARE, page='width="96mm" height="96mm"')
    k = 25.4 / 96
    assert found == pytest.approx((10 * k, 96 - 60 * k, 40 * k, 96 - 20 * k), abs=1e-12)


def test_n2_scale_is_width_over_view_box_and_an_inch_inside_is_96_units() -> None:
    k = 100 / 50
    body = '<rect id="a" width="0.1in" height="5"/>'
    found = bounds(body, page='width="100mm" height="100mm" viewBox="0 0 50 50"')
    assert found == pytest.approx((0, 100 - 5 * k, 9.6 * k, 100), abs=1e-12)


@pytest.mark.parametrize("page", ["", 'width="100%" height="100%"', 'viewBox="0 0 9 9"', 'width="auto"'])
def test_n3_no_physical_size(page: str) -> None:
    assert document("", page).sized == "none"


def test_n3_one_size_and_a_view_box_give_the_other() -> None:
    assert document("", 'width="300mm" viewBox="0 0 30 10"').page == pytest.approx((300, 100))
    assert document("", 'height="50mm" width="100%" viewBox="0 0 30 10"').page == pytest.approx((150, 50))


@pytest.mark.parametrize(
    "page",
    ['width="10em" height="1em"', 'width="-5mm" height="5mm"', 'width="abc"', 'width="0" height="5mm"',
     'width="5mm" viewBox="0 0 0 5"', 'width="5mm" viewBox="0 0 5"', 'width="1e400mm" height="1mm"',
     'width="5mm" height="5mm" viewBox="0 0 5 5" preserveAspectRatio="middle"'],
)  # fmt: skip
def test_n3_a_size_that_is_none_is_refused(page: str) -> None:
    with pytest.raises(Refused, match="of the drawing can't be used"):
        document("", page)


KNOWN = (
    '<g id="frame" fill="none" stroke="black"><circle id="p" cx="20" cy="50" r="1"/>'
    '<circle id="q" cx="120" cy="50" r="1"/></g>' + SQUARE
)


@pytest.mark.parametrize(
    ("is_", "says"),
    [
        (100 * 96 / 90, "That is the factor of units of 1/90 inch taken for 1/96 inch."),
        (100 * 96 / 72, "That is the factor of units of 1/72 inch taken for 1/96 inch."),
        (100 * 90 / 72, "That is the factor of units of 1/72 inch taken for 1/90 inch."),
        (100 * 90 / 96, "That is the factor of units of 1/96 inch taken for 1/90 inch."),
        (100 * 72 / 96, "That is the factor of units of 1/96 inch taken for 1/72 inch."),
        (100 * 72 / 90, "That is the factor of units of 1/90 inch taken for 1/72 inch."),
    ],
)
def test_n1_a_size_off_by_one_of_the_three_factors_is_told_by_name(tmp_path: Path, is_: float, says: str) -> None:
    """96/90 = 1.0667, 96/72 = 1.3333, 90/72 = 1.25 and their inverses, by a known length of 100 as drawn."""
    drawing = told(tmp_path, KNOWN, f"frame: {{origin: p, known: [{{between: [p, q], is: {is_!r}}}]}}")
    (found,) = [f for f in drawing.findings if f.check == "drawing-scale"]
    assert found.severity == "ask"
    assert found.measured == pytest.approx(is_ / 100, rel=1e-12)
    assert says in found.message
    assert drawing.scale_mm == pytest.approx(is_ / 100, rel=1e-12)


def test_n1_a_page_in_mm_without_a_view_box_is_asked_about(tmp_path: Path) -> None:
    """The affected files: a size other than pixels, and no viewBox. They are read by SVG 2, and told."""
    drawing = told(tmp_path, SQUARE, page='width="96mm" height="96mm"')
    (found,) = drawing.findings
    assert (found.check, found.severity) == ("drawing-scale", "ask")
    assert "no viewBox, so a unit in it is a pixel of 1/96 inch" in found.message
    assert "1/90 inch there: 1.0667 times as large" in found.message
    assert told(tmp_path, SQUARE, page='width="96mm" height="96mm" viewBox="0 0 96 96"').findings == ()
    frame = "frame: {origin: p, known: [{between: [p, q], is: 26.458333}]}"
    assert told(tmp_path, KNOWN, frame, page='width="96mm" height="96mm"').findings == ()


@pytest.mark.parametrize(
    ("length", "units"),
    [("0.1in", 9.6), ("10mm", 37.7952755905512), ("7.5pt", 10), ("1pc", 16), ("4q", 3.779527559055)],
)
def test_n2_units_inside_are_user_units_not_lengths(length: str, units: float) -> None:
    """CSS Values: 1in = 96px, so 10mm = 10 · 96 / 25.4 user units, whatever the view box makes of one."""
    found = bounds(
        f'<rect id="a" width="{length}" height="5"/>', page='width="100mm" height="50mm" viewBox="0 0 200 100"'
    )
    assert found[2] == pytest.approx(units * 0.5, abs=1e-9)


@pytest.mark.parametrize("page", ['width="100%" height="100%" viewBox="0 0 9 9"', 'viewBox="0 0 200 100"'])
def test_n3_no_physical_size_is_refused_by_name(tmp_path: Path, page: str) -> None:
    with pytest.raises(Refused, match="The drawing has no physical size and the recipe knows no length in it"):
        told(tmp_path, SQUARE, page=page)


# -- N4, N5: preserveAspectRatio and viewBox ----------------------------------------------------
ALIGN = [(x, y) for x in ("Min", "Mid", "Max") for y in ("Min", "Mid", "Max")]


@pytest.mark.parametrize(("x", "y"), ALIGN)
@pytest.mark.parametrize("how", ["meet", "slice"])
def test_n4_all_alignments(x: str, y: str, how: str) -> None:
    """SVG 2, 8.2: the equivalent transform of a viewBox, evaluated here by its own steps."""
    w, h = 200.0, 100.0
    vx, vy, vw, vh = 5.0, 7.0, 50.0, 40.0
    sx, sy = w / vw, h / vh
    s = max(sx, sy) if how == "slice" else min(sx, sy)
    tx, ty = -vx * s, -vy * s
    tx += {"Min": 0.0, "Mid": (w - vw * s) / 2, "Max": w - vw * s}[x]
    ty += {"Min": 0.0, "Mid": (h - vh * s) / 2, "Max": h - vh * s}[y]
    page = f'width="200mm" height="100mm" viewBox="5 7 50 40" preserveAspectRatio="x{x}Y{y} {how}"'
    found = bounds('<rect id="a" x="10" y="12" width="3" height="4"/>', page=page)
    assert found == pytest.approx((tx + 10 * s, h - ty - 16 * s, tx + 13 * s, h - ty - 12 * s), abs=1e-12)


def test_n4_default_is_uniform_and_centred() -> None:
    found = bounds(SQUARE, page='width="200mm" height="100mm" viewBox="0 0 100 100"')
    assert found == pytest.approx((60, 40, 90, 80), abs=1e-12)


def test_n4_none_stretches_a_circle_to_an_ellipse_and_says_so() -> None:
    page = 'width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="none"'
    body = '<circle id="a" cx="50" cy="50" r="10"/>'
    r = area(body, page=page)
    assert r.area == pytest.approx(math.pi * 20 * 10, abs=CURVE_MM * r.perimeter)
    assert r.bounds == pytest.approx((80, 40, 120, 60), abs=CURVE_MM)
    assert r.parts[0].outer.circle() is None
    assert "stretched" in messages(body, page)


@pytest.mark.parametrize(("x", "y"), [(-50, -20), (-50, 10), (7.5, 0), (1e5, -1e5)])
def test_n5_every_origin_of_the_view_box(x: float, y: float) -> None:
    """The view box's corner lies at the page's upper left corner."""
    body = f'<rect id="a" x="{x + 10}" y="{y + 20}" width="30" height="40"/>'
    found = bounds(body, page=f'width="200mm" height="100mm" viewBox="{x} {y} 200 100"')
    assert found == pytest.approx((10, 40, 40, 80), abs=1e-9)


def test_n5_view_box_with_any_origin() -> None:
    found = bounds(SQUARE, page='width="200mm" height="100mm" viewBox="-50 10 200 100"')
    assert found == pytest.approx((60, 50, 90, 90), abs=1e-12)


# -- N6, N7: transforms, y up ---------------------------------------------------------------------
def test_n6_transforms_nest_from_the_outside_in() -> None:
    body = '<g transform="translate(100,50)"><g transform="scale(2)"><rect id="a" x="1" y="2" width="3" height="4"/></g></g>'
    assert bounds(body) == pytest.approx((102, 38, 108, 46), abs=1e-12)


def test_n6_one_list_is_the_same_as_nested_groups() -> None:
    body = '<rect id="a" x="1" y="2" width="3" height="4" transform="translate(100 50)scale(2),rotate(0)"/>'
    assert bounds(body) == pytest.approx((102, 38, 108, 46), abs=1e-12)


@pytest.mark.parametrize(
    ("outer", "inner", "x"),
    [("translate(10)", "scale(3)", 10 + 3 * 2), ("scale(3)", "translate(10)", 3 * (10 + 2))],
)
def test_n6_the_inner_transform_comes_first(outer: str, inner: str, x: float) -> None:
    """x = 2 through both orders: 10 + 3 · 2 and 3 · (10 + 2)."""
    rect = '<rect id="a" x="2" width="1" height="1"/>'
    assert bounds(f'<g transform="{outer}"><g transform="{inner}">{rect}</g></g>')[0] == pytest.approx(
        x, abs=1e-12
    )
    assert bounds(rect.replace("/>", f' transform="{outer} {inner}"/>'))[0] == pytest.approx(x, abs=1e-12)


def test_n6_a_matrix_is_read_in_columns() -> None:
    """matrix(a b c d e f): (1, 0) goes to (a + e, b + f), (0, 1) to (c + e, d + f)."""
    r = area('<polygon id="a" points="0 0 1 0 0 1" transform="matrix(2 3 -5 7 60 40)"/>')
    assert r.area == pytest.approx((2 * 7 + 3 * 5) / 2, rel=1e-12)
    assert r.bounds == pytest.approx((55, 100 - 47, 62, 60), abs=1e-12)


@pytest.mark.parametrize("d", ["M10 10V30H30V10Z M15 15H25V25H15Z", "M10 10H30V30H10Z M15 15V25H25V15Z"])
def test_n6_a_mirror_flips_every_winding_so_holes_stay_holes(d: str) -> None:
    for mirror in ("", "scale(-1 1)", "scale(1 -1)", "matrix(0 1 1 0 0 0)"):
        r = area(f'<path id="a" d="{d}" transform="{mirror}"/>')
        assert r.area == pytest.approx(300, abs=1e-9)
        assert [h.area for p in r.parts for h in p.holes] == pytest.approx([-100], abs=1e-9)


@pytest.mark.parametrize(
    ("origin", "x", "y"),
    [("100px 50px", 100, 50), ("right top", 200, 0), ("bottom left", 0, 100), ("25%", 50, 50)],
)
def test_n6_every_form_of_a_transform_origin(origin: str, x: float, y: float) -> None:
    """A half turn about (x, y) takes the square's corner (10, 20) to (2x − 10, 2y − 20)."""
    found = bounds(SQUARE.replace("/>", f' style="transform: rotate(180deg); transform-origin: {origin}"/>'))
    assert found == pytest.approx((2 * x - 40, 100 - 2 * y + 20, 2 * x - 10, 100 - 2 * y + 60), abs=1e-9)


def test_n6_rotate_about_a_point() -> None:
    """rotate(90, 10, 20) takes (x, y) to (10 − (y − 20), 20 + (x − 10))."""
    found = bounds(SQUARE.replace("/>", ' transform="rotate(90,10,20)"/>'))
    assert found == pytest.approx((-30, 50, 10, 80), abs=1e-12)


@pytest.mark.parametrize(("what", "shear"), [("skewX(30)", "x"), ("skewY(30)", "y")])
def test_n6_skew(what: str, shear: str) -> None:
    t = math.tan(math.radians(30))
    x0, y0, x1, y1 = bounds(SQUARE.replace("/>", f' transform="{what}"/>'))
    if shear == "x":
        assert (x0, y0, x1, y1) == pytest.approx((10 + 20 * t, 40, 40 + 60 * t, 80), abs=1e-12)
    else:
        assert (x0, y0, x1, y1) == pytest.approx((10, 100 - 60 - 40 * t, 40, 100 - 20 - 10 * t), abs=1e-12)


def test_n6_a_mirror_keeps_area_positive_and_arcs_exact() -> None:
    body = '<path id="a" transform="matrix(-1 0 0 1 100 0)" d="M10 10H30A10 10 0 0 1 30 30H10Z"/>'
    r = area(body)
    outer = r.parts[0].outer
    assert len(outer) == 4
    assert outer.area == pytest.approx(20 * 20 + math.pi * 50, rel=1e-12)
    assert r.bounds == pytest.approx((60, 70, 90, 90), abs=1e-12)


@pytest.mark.parametrize(
    "style",
    [
        "transform: translate(10px, 5px) rotate(90deg)",
        "transform:translate(2.6458333333333335mm, 3.75pt) rotate(.25turn)",
    ],
)
def test_n6_css_transform(style: str) -> None:
    """10px = 2.6458333mm, 5px = 3.75pt; a quarter turn takes (x, y) to (−y, x)."""
    found = bounds(f'<rect id="a" width="4" height="6" style="{style}" transform="scale(9)"/>')
    assert found == pytest.approx((4, 91, 10, 95), abs=1e-9)


def test_n6_transform_origin() -> None:
    """CSS Transforms 1: translate by the origin, transform, translate back; 50 % of 200 × 100 is (100, 50)."""
    body = '<rect id="a" x="100" y="50" width="10" height="5" transform="scale(2)" style="transform-origin: 50% 50%"/>'
    assert bounds(body) == pytest.approx((100, 40, 120, 50), abs=1e-12)


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ('transform="rotate(abc)"', "isn't a number"),
        ('transform="rotate(1 2)"', "takes 1 or 3 numbers"),
        ('transform="spin(3)"', "isn't known here"),
        ('transform="scale(0)"', "flattens"),
        ('style="transform: translate(10, 5)"', "isn't a value"),
        ('style="transform: rotate(9deg); transform-box: fill-box"', "transform-box"),
        ('style="rotate: 30deg"', '"rotate"'),
        ('style="transform: translate(var(--x), 0px)"', "var(--x)"),
    ],
)
def test_n6_what_is_not_read_is_a_fault_by_name(extra: str, says: str) -> None:
    assert says in fault(f'<rect id="a" width="4" height="6" {extra}/>')


def test_n7_y_is_flipped_once_and_arcs_with_it() -> None:
    """A bump that goes up on the screen goes up in the design."""
    r = area('<path id="a" d="M20 60A30 30 0 0 1 80 60Z"/>')
    assert r.bounds == pytest.approx((20, 40, 80, 70), abs=1e-12)
    assert r.area == pytest.approx(math.pi * 450, rel=1e-12)
    assert len(r.parts[0].outer) == 2


# -- N8, N9: fill rules, open fills ------------------------------------------------------------
SAME_WAY = "M0 0H100V100H0Z M25 25H75V75H25Z"
OTHER_WAY = "M0 0H100V100H0Z M25 25V75H75V25Z"


@pytest.mark.parametrize(
    ("d", "rule", "net"),
    [
        (SAME_WAY, "", 10000), (SAME_WAY, 'fill-rule="evenodd"', 7500), (SAME_WAY, 'style="fill-rule:evenodd"', 7500),
        (OTHER_WAY, "", 7500), (OTHER_WAY, 'fill-rule="evenodd"', 7500),
    ],
)  # fmt: skip
def test_n8_fill_rules(d: str, rule: str, net: float) -> None:
    """A ring in the same direction is a hole only under evenodd (SVG 2, painting)."""
    r = area(f'<path id="a" d="{d}" {rule}/>')
    assert r.area == pytest.approx(net, abs=1e-9)
    assert len(r.parts) == 1


@pytest.mark.parametrize(
    "wrap",
    [
        "<style>path{{fill-rule:evenodd}}</style>{0}", '<g fill-rule="evenodd">{0}</g>',
        '<g style="fill-rule:evenodd"><g>{0}</g></g>', "<style>.k{{fill-rule:evenodd}}</style><g class='k'>{0}</g>",
    ],
)  # fmt: skip
def test_n8_evenodd_may_come_from_a_sheet_or_a_group(wrap: str) -> None:
    assert area(wrap.format(f'<path id="a" d="{SAME_WAY}"/>')).area == pytest.approx(7500, abs=1e-9)


def test_n8_an_island_in_a_hole() -> None:
    body = '<path id="a" fill-rule="evenodd" d="M0 0H90V90H0Z M10 10H80V80H10Z M20 20H70V70H20Z"/>'
    r = area(body)
    assert r.area == pytest.approx(90**2 - 70**2 + 50**2, abs=1e-9)
    assert len(r.parts) == 2


def test_n9_an_open_fill_is_closed_by_a_straight_line_and_told() -> None:
    found = taken('<path id="a" stroke="black" d="M0 0H60V40"/>')
    assert found.region is not None
    assert found.region.area == pytest.approx(1200, abs=1e-9)
    told = [f for f in found.findings if f.check == "drawing-open"]
    assert [f.severity for f in told] == ["ask"]
    assert told[0].measured == pytest.approx(math.hypot(60, 40), abs=1e-9)


def test_n9_only_stroked_it_is_open() -> None:
    """The stroke lacks the edge that a fill would have: nothing is closed that nobody drew."""
    found = taken('<path id="a" fill="none" stroke="black" d="M0 0H60V40"/>')
    assert found.region is None
    assert "72.11 mm from where it begins" in found.problem  # √(60² + 40²)
    assert len(found.lines) == 1


def test_n9_an_open_curve_is_closed_by_its_chord() -> None:
    """A half circle without a closing line: the fill is the half disc."""
    found = taken('<path id="a" d="M20 60A30 30 0 0 1 80 60"/>')
    assert found.region is not None
    assert found.region.area == pytest.approx(math.pi * 450, rel=1e-12)
    (told_of,) = found.findings
    assert told_of.check == "drawing-open"
    assert told_of.measured == pytest.approx(60, abs=1e-9)


def test_n9_each_open_subpath_is_closed_by_itself() -> None:
    found = taken('<path id="a" d="M0 0H60V40 M100 0H110V10"/>')
    assert found.region is not None
    assert found.region.area == pytest.approx(1200 + 50, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-open"] * 2


# -- N10: duplicates ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    "second",
    [
        '<rect x="10" y="20" width="30" height="40" fill="none" stroke="red"/>',
        '<path d="M40 60V20H10V60Z" fill="none" stroke="red"/>',
        '<path d="M10 60H40V20H10Z"/>',
        '<path d="M10.005 20.005V60H40V20Z" fill="none" stroke="red"/>',
    ],
    ids=["stroke on fill", "other start, reversed", "filled twice", "a hair off"],
)
def test_n10_a_contour_drawn_twice_counts_once(second: str) -> None:
    found = taken(f'<g id="a"><rect x="10" y="20" width="30" height="40"/>{second}</g>')
    assert found.region is not None
    assert found.region.area == pytest.approx(1200, abs=1e-9)
    assert [f.check for f in found.findings] == ["drawing-duplicate"]
    assert found.findings[0].measured == 1


RED = 'fill="none" stroke="red"'
DISC = '<circle cx="50" cy="50" r="20" {}/>'


@pytest.mark.parametrize(
    ("one", "two"),
    [
        (DISC.format(RED), DISC.format(RED)),
        (DISC.format(RED), f'<path d="M50 30A20 20 0 0 0 50 70A20 20 0 0 0 50 30Z" {RED}/>'),
        (DISC.format(RED), f'<path d="M50 30A20 20 0 0 1 50 70A20 20 0 0 1 50 30Z" {RED}/>'),
        (DISC.format(RED), f'<circle cx="50.006" cy="50" r="20.003" {RED}/>'),
        (DISC.format(""), DISC.format(RED)),
        (DISC.format(RED), DISC.format("")),
        (DISC.format(""), '<path d="M50 30A20 20 0 0 0 50 70A20 20 0 0 0 50 30Z"/>'),
    ],
    ids=["identical", "reversed", "other start", "tiny offset", "fill, then stroke", "stroke, then fill", "fills"],
)
def test_n10_every_kind_of_duplicate_counts_once(one: str, two: str) -> None:
    """Each alone, as round contours; a tiny offset is one below 0.01 mm (trade.md 1.8)."""
    found = taken(f'<g id="a">{one}{two}</g>')
    assert found.region is not None
    (circle,) = (p.outer.circle() for p in found.region.parts)
    assert circle == pytest.approx((50, 50, 20), abs=1e-9)
    assert [(f.check, f.severity) for f in found.findings] == [("drawing-duplicate", "note")]


def test_n10_a_wider_offset_is_no_duplicate() -> None:
    """Two rings 1.2 mm apart are a ring, not a circle drawn twice: π (20² − 18.8²)."""
    found = taken(f'<g id="a">{DISC.format(RED)}<circle cx="50" cy="50" r="18.8" {RED}/></g>')
    assert found.region is not None
    assert found.region.area == pytest.approx(math.pi * (20**2 - 18.8**2), rel=1e-12)
    assert "drawing-duplicate" not in [f.check for f in found.findings]


def test_n10_two_unfilled_copies_do_not_cancel_out() -> None:
    ring = '<circle cx="50" cy="50" r="20" fill="none" stroke="black"/>'
    found = taken(f'<g id="a">{ring}{ring}</g>')
    assert found.region is not None
    assert found.region.area == pytest.approx(math.pi * 400, rel=1e-12)


# -- N11: use, symbol, defs -----------------------------------------------------------------------
@pytest.mark.parametrize("tag", ["defs", "symbol", "clipPath", "mask", "marker", "pattern"])
def test_n11_definitions_are_not_drawn(tag: str) -> None:
    doc = document(f'<{tag} id="d">{SQUARE}</{tag}>')
    assert doc.shapes == ()
    assert doc.undrawn["a"] == "rect"


@pytest.mark.parametrize("href", ["href", "xlink:href"])
def test_n11_use_shifts_after_its_own_transform(href: str) -> None:
    body = f'<defs>{SQUARE}</defs><use id="u" {href}="#a" x="5" y="7" transform="scale(2)"/>'
    assert bounds(body, "u") == pytest.approx((30, -34, 90, 46), abs=1e-12)
    assert bounds(body, "a") == pytest.approx((30, -34, 90, 46), abs=1e-12)


def test_n11_a_symbol_is_scaled_by_its_view_box() -> None:
    body = (
        '<symbol id="s" viewBox="0 0 10 10"><rect x="1" y="2" width="3" height="4"/></symbol>'
        '<use id="u" href="#s" x="20" y="10" width="50" height="50"/>'
    )
    assert bounds(body, "u") == pytest.approx((25, 60, 40, 80), abs=1e-12)


def test_n11_use_of_use() -> None:
    body = '<defs><rect id="r" width="4" height="6"/><use id="v" href="#r" x="10"/></defs><use id="u" href="#v" x="3" y="1"/>'
    assert bounds(body, "u") == pytest.approx((13, 93, 17, 99), abs=1e-12)


def test_n11_the_style_of_a_use_is_inherited() -> None:
    body = (
        '<defs><rect id="r" width="4" height="6"/></defs><g fill="none"><use id="u" href="#r" stroke="red"/></g>'
    )
    shape = document(body).shapes[0]
    assert (shape.filled, shape.stroked) == (False, True)


@pytest.mark.parametrize(
    "body",
    [
        '<g id="g"><use href="#g"/></g>',
        '<defs><g id="p"><use href="#q"/></g><g id="q"><use href="#p"/></g></defs><use href="#p"/>',
    ],
)
def test_n11_a_use_that_loops_is_refused(body: str) -> None:
    with pytest.raises(Refused, match="contains a copy of itself"):
        document(body)


def test_n11_use_can_not_multiply_without_end() -> None:
    """Twenty levels of two copies each would be a million objects."""
    levels = "".join(f'<g id="l{n}"><use href="#l{n + 1}"/><use href="#l{n + 1}"/></g>' for n in range(20))
    body = f'<defs>{levels}<rect id="l20" width="1" height="1"/></defs><use href="#l0"/>'
    with pytest.raises(Refused, match="more than 20000 copies"):
        document(body)


def test_n11_href_goes_before_xlink_href() -> None:
    body = f'<defs>{SQUARE}<circle id="c" cx="50" cy="50" r="9"/></defs><use id="u" href="#c" xlink:href="#a"/>'
    assert bounds(body, "u") == pytest.approx((41, 41, 59, 59), abs=1e-12)


@pytest.mark.parametrize(
    ("how", "x0", "y0", "w", "h"),
    [
        ("", 5, 0, 10, 10),
        ("xMinYMin meet", 0, 0, 10, 10),
        ("xMaxYMid slice", 0, -5, 20, 20),
        ("none", 0, 0, 20, 10),
    ],
)
def test_n11_a_symbol_has_its_own_preserve_aspect_ratio(
    how: str, x0: float, y0: float, w: float, h: float
) -> None:
    """A view box of 4 × 4 in a viewport of 20 × 10, drawn wholly: x0, y0, w, h in the viewport (SVG 2, 8.2)."""
    body = (
        f'<symbol id="s" viewBox="0 0 4 4" preserveAspectRatio="{how}" overflow="visible"><rect id="r" width="4" '
        'height="4"/></symbol><use id="u" href="#s" x="30" y="40" width="20" height="10"/>'
    )
    found = bounds(body, "u")
    assert found == pytest.approx((30 + x0, 60 - y0 - h, 30 + x0 + w, 60 - y0), abs=1e-12)


@pytest.mark.parametrize(("href", "says"), [("#none", "doesn't exist"), ("other.svg#a", "never fetched")])
def test_n11_a_missing_or_outside_target_is_a_fault(href: str, says: str) -> None:
    assert says in fault(f'<use id="a" href="{href}"/>')
    assert "left out" in messages(f'<use id="a" href="{href}"/>')


# -- N12: clip and mask ---------------------------------------------------------------------------
CLIP = '<clipPath id="c"><rect width="{w}" height="100"/></clipPath><g clip-path="url(#c)">' + SQUARE + "</g>"


def test_n12_a_clip_that_cuts_nothing_off_is_harmless() -> None:
    assert document(CLIP.format(w=41)).shapes[0].faults == ()


def test_n12_a_clip_that_cuts_is_a_fault() -> None:
    assert 'the clip path "c" cuts part of it off' in fault(CLIP.format(w=39))


def test_n12_a_mask_is_a_fault() -> None:
    assert "mask" in fault(f'<mask id="m"/><g mask="url(#m)">{SQUARE}</g>')


@pytest.mark.parametrize(
    ("clip", "what"),
    [
        ('<clipPath id="c"><circle cx="25" cy="40" r="22"/></clipPath>', 'the clip path "c"'),
        ('<clipPath id="c"><path d="M0 0H100V30H0Z"/></clipPath>', 'the clip path "c"'),
        (
            '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>',
            'clip path "c"',
        ),
        ('<clipPath id="c"/>', 'the clip path "c"'),
    ],
)
def test_n12_what_a_clip_leaves_is_never_taken_for_the_path(clip: str, what: str) -> None:
    body = f'{clip}<g clip-path="url(#c)">{SQUARE}</g>'
    assert what in fault(body)
    assert "so what is seen isn't its own outline" in fault(body)


@pytest.mark.parametrize(
    "style", ["clip-path: inset(3px)", "clip-path: circle(4px)", "clip-path: polygon(0 0, 9px 9px)"]
)
def test_n12_css_clips_are_faults_by_name(style: str) -> None:
    assert style.split(": ")[1] in fault(SQUARE.replace("/>", f' style="{style}"/>'))


# -- N13: visibility and the cascade ------------------------------------------------------------
@pytest.mark.parametrize(
    "body",
    [
        f'<g display="none">{SQUARE}</g>',
        f'<g style="display:none">{SQUARE}</g>',
        f'<g visibility="hidden">{SQUARE}</g>',
        f'<g opacity="0">{SQUARE}</g>',
        f"<style>.h{{opacity:0%}}</style><g class='k h'>{SQUARE}</g>",
        f"<style>#a{{display:none}}</style>{SQUARE}",
        f"<style>g > rect{{visibility:hidden}}</style><g>{SQUARE}</g>",
        f"<style>svg rect{{display:none}}</style><g>{SQUARE}</g>",
        f"<style><![CDATA[ /* x */ circle, rect {{ display : none }} ]]></style>{SQUARE}",
    ],
)
def test_n13_hidden_objects_are_not_seen(body: str) -> None:
    found = taken(body)
    assert found.region is None
    assert "hidden" in found.problem


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (SQUARE.replace("/>", ' display="none"/>'), 'it is hidden: display of "a" is none'),
        (SQUARE.replace("/>", ' visibility="collapse"/>'), "it is hidden: its visibility is hidden"),
        (SQUARE.replace("/>", ' style="opacity:0.0"/>'), 'it is hidden: opacity of "a" is 0'),
        (f'<g xmlns:e="urn:e" e:groupmode="layer" e:label="Old shapes" style="display:none">{SQUARE}</g>',
         'it is hidden: display of "Old shapes" is none'),
        (f'<g display="none">{SQUARE.replace("/>", " display=" + chr(34) + "inline" + chr(34) + "/>")}</g>', "display of"),
        (f'<g opacity="0">{SQUARE.replace("/>", " opacity=" + chr(34) + "1" + chr(34) + "/>")}</g>', "opacity of"),
        (SQUARE.replace("/>", ' fill="none"/>'), "it is neither filled nor stroked"),
        (SQUARE.replace("/>", ' fill="none" stroke="red" stroke-width="0"/>'), "it is neither filled nor stroked"),
        (SQUARE.replace("/>", ' fill-opacity="0" stroke="red" stroke-opacity="0%"/>'), "it is neither filled nor stroked"),
        (f"<svg>{SQUARE}</svg>".replace("<svg", '<svg width="0" height="9"'), "has no size"),
        (f'<style media="print">#a{{display:none}}</style>{SQUARE}', "display of"),
        (f"{SQUARE}<style>g, #a{{display:none !important}}</style>", "display of"),
    ],
)  # fmt: skip
def test_n13_every_way_to_hide_is_named(body: str, says: str) -> None:
    found = taken(body)
    assert found.region is None
    assert found.problem.startswith('"a" can\'t be seen: ')
    assert says in found.problem


def test_n13_a_child_may_be_visible_in_a_hidden_group() -> None:
    shown = SQUARE.replace("/>", ' visibility="visible"/>')
    assert area(f'<g visibility="hidden">{shown}</g>').area == pytest.approx(1200)


@pytest.mark.parametrize(
    ("sheet", "attributes", "filled"),
    [
        ("", 'fill="none"', False),
        ("rect{fill:red}", 'fill="none"', True),
        ("rect{fill:red}", 'style="fill:none"', False),
        ("rect{fill:red !important}", 'style="fill:none"', True),
        (".k{fill:none} rect{fill:red}", 'class="k"', False),
        ("#a{fill:none} .k.l{fill:red} rect{fill:red}", 'class="k l"', False),
        ("rect{fill:none} rect{fill:red}", "", True),
        ("*{fill:none}", "", False),
        ("", 'fill="transparent"', False),
        ("", 'fill="rgba(0,0,0,0)"', False),
        ("", 'fill="rgb(10 20 30 / 0%)"', False),
        ("", 'fill="rgb(10, 20, 0)"', True),
        ("", 'fill="#12345600"', False),
        ("", 'fill-opacity="0"', False),
        ("", 'fill="url(#gone) none"', False),
        ("", 'fill="white"', True),
    ],
)
def test_n13_the_cascade(sheet: str, attributes: str, filled: bool) -> None:
    """CSS Cascade 4: attribute < sheet by specificity, then order < style attribute; important above."""
    body = f"<style>{sheet}</style>" + SQUARE.replace("/>", f" {attributes}/>")
    assert document(body).shapes[0].filled is filled


@pytest.mark.parametrize(
    ("css", "says"),
    [
        ("rect:hover{display:none}", '"rect:hover" (it sets display)'),
        ("[id=a]{fill:none}", "[id=a]"),
        ("@media print{rect{display:none}}", "@media"),
        ("@import url(http://example.org/x.css);", "@import"),
    ],
)
def test_n13_style_that_is_not_read_is_told_by_name(css: str, says: str) -> None:
    assert says in messages(f"<style>{css}</style>{SQUARE}")


def test_n13_style_that_can_not_change_a_shape_is_not_told() -> None:
    assert messages(f"<style>rect:hover{{color:red}} @font-face{{font-family:x}}</style>{SQUARE}") == ""
