"""The facts of outside_checks.md section 8 (N1–N26), each by a small drawing and a number.

Sources: SVG 2 (coords, struct, paths, shapes, painting), CSS Values 4, CSS Cascade 4.
"""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from tests.intake.drawings import area, document, fault, messages, taken

CURVE_MM = 5e-5
"""Free-form curves come in within 50 nm (DEVELOPERS.md), so their area is off by at most this × perimeter."""
SQUARE = '<rect id="a" x="10" y="20" width="30" height="40"/>'


def bounds(body: str, name: str = "a", **more: str) -> tuple[float, ...]:
    return area(body, name, **more).bounds


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


def test_n20_points_that_fall_together_and_spikes() -> None:
    """Zero-length segments go; a spike encloses nothing, filled or not."""
    d = "M10 10L10 10H50V10L50 50V50H30V90V50H10Z"
    assert area(f'<path id="a" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)
    assert area(f'<path id="a" fill="none" stroke="red" d="{d}"/>').area == pytest.approx(1600, abs=1e-9)


def test_n20_a_cubic_with_its_handles_on_the_anchors_is_a_line() -> None:
    r = area('<path id="a" d="M10 10C10 10 50 10 50 10C50 10 50 50 50 50L10 50Z"/>')
    assert r.area == pytest.approx(1600, abs=1e-9)
    assert len(r.parts[0].outer) == 4
    assert not r.parts[0].outer.free.any()


def test_n21_text_and_pictures_are_told_and_no_area() -> None:
    body = '<text id="a" x="5" y="9">Heron 4</text><image id="b" href="data:image/png;base64,AA"/>'
    assert "is text, which has no outline" in fault(body)
    assert "is a picture" in fault(body, "b")
    assert '"Heron 4"' in messages(body)
    assert "pictures aren't read" in messages(body)


def test_n22_percentages() -> None:
    """Of the viewBox: width, height, and √((w² + h²)/2) for radii (SVG 2, coords)."""
    found = bounds('<rect id="a" x="10%" y="10%" width="50%" height="50%"/>')
    assert found == pytest.approx((20, 40, 120, 90), abs=1e-12)
    circle = area('<circle id="a" cx="50%" cy="50%" r="10%"/>').parts[0].outer.circle()
    assert circle == pytest.approx((100, 50, 0.1 * math.sqrt((200**2 + 100**2) / 2)), abs=1e-12)


def test_n22_a_percentage_of_an_unknown_page_is_a_fault() -> None:
    assert "size is unknown" in fault('<rect id="a" width="50%" height="5"/>', page="")


def test_n23_foreign_content_is_skipped() -> None:
    body = (
        '<x:thing xmlns:x="urn:x"><rect id="no" width="1" height="1"/></x:thing><script>alert(1)</script>'
        f'<metadata><rect id="no2"/></metadata><switch><foreignObject requiredExtensions="urn:y"/><g>{SQUARE}</g></switch>'
    )
    doc = document(body)
    assert [s.kind for s in doc.shapes] == ["rect"]
    assert area(body).area == pytest.approx(1200)


def test_n23_an_unknown_element_is_told() -> None:
    assert '"flowRoot"' in messages("<flowRoot/>")


def test_n26_a_rotated_ellipse_and_a_circle_of_four_cubics() -> None:
    """π a b; and the four-cubic circle lies outside by 2.7e-4 r at most (B1), so its area by < 5.5e-4."""
    r = area('<ellipse id="a" cx="60" cy="50" rx="40" ry="15" transform="rotate(30 60 50)"/>')
    assert r.area == pytest.approx(math.pi * 40 * 15, abs=CURVE_MM * r.perimeter)
    half = math.hypot(40 * math.cos(math.radians(30)), 15 * math.sin(math.radians(30)))
    assert (r.bounds[0], r.bounds[2]) == pytest.approx((60 - half, 60 + half), abs=CURVE_MM)
    k = 4 / 3 * (math.sqrt(2) - 1) * 40
    d = f"M90 50C90 {50 + k} {50 + k} 90 50 90S10 {50 + k} 10 50S{50 - k} 10 50 10S90 {50 - k} 90 50Z"
    four = area(f'<path id="a" d="{d}"/>')
    assert 0 < four.area / (math.pi * 1600) - 1 < 5.5e-4


def test_markers_dashes_filters_patterns_are_told() -> None:
    body = (
        '<marker id="m"/><filter id="f"/><pattern id="p"/>'
        '<g id="a" filter="url(#f)"><rect width="9" height="9" fill="url(#p)"/>'
        '<path d="M0 50h20" stroke="red" stroke-dasharray="2 1" marker-end="url(#m)"/></g>'
    )
    told = messages(body)
    for word in ("pattern", "dashed", "markers", "filter"):
        assert word in told
