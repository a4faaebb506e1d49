"""The facts N21 to N28 of outside_checks.md section 8, each by a small drawing and a number or golden words.

More of N24 and N25 stands in `test_drawing_source.py`. Sources: SVG 2 (coords, struct, geometry), XML 1.0.
"""

from __future__ import annotations

import gzip
import math
import random
import socket
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import read_drawing, read_svg
from pipeline.intake.drawing.coarse import step_of
from pipeline.steps.values import Drawing
from tests.intake.drawings import PAGE, area, document, fault, messages, recipe, svg

CURVE_MM = 5e-5
"""Free-form curves come in within 50 nm (DEVELOPERS.md), so their area is off by at most this × perimeter."""
SQUARE = '<rect id="a" x="10" y="20" width="30" height="40"/>'


def bounds(body: str, name: str = "a", **more: str) -> tuple[float, ...]:
    return area(body, name, **more).bounds


def told(folder: Path, body: str, *lines: str, page: str = PAGE) -> Drawing:
    """A drawing as a recipe that takes the object ``a`` gets it, with all that is told of it."""
    return read_drawing(recipe(folder, svg(body, page), *lines, "steps: {part: {kind: outline, drawn: a}}"))


# -- N21, N22, N23 ----------------------------------------------------------------------------------
def test_n21_text_and_pictures_are_told_and_no_area() -> None:
    body = '<text id="a" x="5" y="9">Heron 4</text><image id="b" href="data:image/png;base64,AA"/>'
    assert "is text, which has no outline" in fault(body)
    assert "is a picture" in fault(body, "b")
    assert '"Heron 4"' in messages(body)
    assert "pictures aren't read" in messages(body)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ('<text id="a" font-family="No Such Font"><tspan>B</tspan></text>', "it is text, which has no outline"),
        ('<g id="a"><text>B</text></g>', "it is text, which has no outline"),
        ('<image id="a" width="9" height="9" href="data:image/png;base64,iVBORw0KGgo="/>', "it is a picture"),
        ('<image id="a" width="9" height="9" href="scan.jpg"/>', "it is a picture"),
    ],
)
def test_n21_only_text_or_only_a_picture_is_refused_by_name(tmp_path: Path, body: str, says: str) -> None:
    with pytest.raises(Refused) as refused:
        told(tmp_path, body)
    assert says in refused.value.show()


def test_n21_a_picture_beside_a_shape_is_told_and_the_shape_read(tmp_path: Path) -> None:
    found = told(tmp_path, f'<image id="scan" href="data:image/png;base64,AA"/><text>R 5</text>{SQUARE}')
    assert found.objects["a"].region is not None
    said = {f.message for f in found.findings}
    assert said == {
        'In the drawing pictures aren\'t read (once: "scan").',
        'In the drawing text isn\'t read (once: "R 5").',
    }


@pytest.mark.parametrize(
    ("body", "rx", "ry"),
    [
        ('<ellipse id="a" cx="50%" cy="50%" rx="10%" ry="10%"/>', 20, 10),
        ('<ellipse id="a" cx="50%" cy="50%" rx="10%"/>', 20, 20),
        ('<circle id="a" cx="50%" cy="50%" r="10%"/>', math.sqrt(250), math.sqrt(250)),
    ],
)
def test_n22_radii_in_percent(body: str, rx: float, ry: float) -> None:
    """rx of the width 200, ry of the height 100, r of √((200² + 100²)/2) (SVG 2, geometry properties)."""
    assert bounds(body) == pytest.approx((100 - rx, 50 - ry, 100 + rx, 50 + ry), abs=CURVE_MM)


def test_n22_corner_radii_of_a_rectangle_in_percent() -> None:
    r = area('<rect id="a" width="100" height="60" rx="5%" ry="5%"/>')
    assert r.area == pytest.approx(6000 - (4 - math.pi) * 10 * 5, abs=CURVE_MM * r.perimeter)


def test_n22_percentages_are_of_the_view_box_not_of_the_page() -> None:
    found = bounds(
        '<rect id="a" width="50%" height="10%"/>', page='width="100mm" height="100mm" viewBox="0 0 400 400"'
    )
    assert found == pytest.approx((0, 90, 50, 100), abs=1e-12)


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


@pytest.mark.parametrize(
    "extra",
    [
        '<x:namedview xmlns:x="urn:editor"><x:grid/><rect width="5" height="5"/></x:namedview>',
        "<script><![CDATA[ if (1 < 2) { draw(); } ]]></script>",
        '<metadata><r:RDF xmlns:r="urn:rdf"><rect width="5" height="5"/></r:RDF></metadata>',
        "<title>Heron</title><desc>a body</desc>",
        '<?xml-stylesheet href="http://example.org/x.css"?>',
    ],
)
def test_n23_what_draws_nothing_is_skipped_without_a_word(extra: str) -> None:
    doc = document(extra + SQUARE)
    assert [s.kind for s in doc.shapes] == ["rect"]
    assert doc.findings == ()


def test_n23_foreign_object_is_told() -> None:
    body = f'<foreignObject id="f" width="9" height="9"><p xmlns="http://www.w3.org/1999/xhtml">x</p></foreignObject>{SQUARE}'
    assert messages(body) == 'In the drawing embedded foreign content isn\'t read (once: "f").'
    assert area(body).area == pytest.approx(1200)


# -- N24, N25: entities and bytes --------------------------------------------------------------------
def test_n24_namespaces_by_internal_entities_are_read() -> None:
    """As an older vector editor writes them: every namespace of the root is an entity of the document type."""
    spaces = {
        "ns_svg": "http://www.w3.org/2000/svg",
        "ns_link": "http://www.w3.org/1999/xlink",
        "ns_x": "http://example.org/x/1.0/",
    }
    declared = "".join(f'<!ENTITY {k} "{v}">\n' for k, v in spaces.items())
    data = (
        f'<?xml version="1.0"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://example.org/svg11.dtd" [\n{declared}]>'
        f'<svg xmlns="&ns_svg;" xmlns:xlink="&ns_link;" xmlns:x="&ns_x;" x:viewOrigin="1 2" {PAGE}>'
        f'<defs>{SQUARE}</defs><use id="u" xlink:href="#a"/></svg>'
    )
    doc = read_svg(data.encode(), "t.svg")
    assert [s.bounds for s in doc.shapes] == [pytest.approx((10, 40, 40, 80))]


def test_n24_an_entity_bomb_is_refused_before_it_grows() -> None:
    levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    data = f'<!DOCTYPE svg [<!ENTITY l0 "M0 0h9v9z ">{levels}]>{svg("<path id=" + chr(34) + "a" + chr(34) + " d=" + chr(34) + "&l9;" + chr(34) + "/>")}'
    with pytest.raises(Refused, match='declares the entity "l0", which stands for other text'):
        read_svg(data.encode(), "t.svg")


def test_n24_an_outside_document_type_is_never_fetched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No socket is opened, and a type that lies beside the drawing isn't opened either: its entity stays unknown."""

    def no(*_: object, **__: object) -> None:
        raise AssertionError("something was fetched")

    monkeypatch.setattr(socket, "socket", no)
    monkeypatch.setattr(socket, "create_connection", no)
    (tmp_path / "own.dtd").write_text('<!ENTITY wide "30">', encoding="utf-8")
    for where in ("http://example.org/svg11.dtd", (tmp_path / "own.dtd").as_uri()):
        plain = f'<!DOCTYPE svg SYSTEM "{where}">{svg(SQUARE)}'
        assert read_svg(plain.encode(), "t.svg").shapes[0].bounds == pytest.approx((10, 40, 40, 80))
        with pytest.raises(Refused, match='"&wide;" isn\'t defined'):
            read_svg(plain.replace('"30"', '"&wide;"').encode(), "t.svg")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("t.svg", svg(SQUARE).encode()),
        ("t.svgz", gzip.compress(svg(SQUARE).encode())),
        ("t.svg", gzip.compress(svg(SQUARE).encode("utf-16"))),
        ("t.svg", svg(SQUARE).encode("utf-16")),
        ("t.svg", ("\ufeff" + svg(SQUARE)).encode()),
        ("t.svg", svg(SQUARE).replace(" ", "\r\n").encode()),
        ("t.svg", svg(SQUARE).replace(" ", "\r").encode()),
        ("t.svg", svg("<!-- 1 -->" + SQUARE + "<!-- <rect width='9'/> -->").encode()),
    ],
    ids=["plain", "svgz", "gzip UTF-16", "UTF-16", "BOM", "CRLF", "CR", "comments"],
)
def test_n25_the_same_square_from_every_kind_of_file(tmp_path: Path, name: str, data: bytes) -> None:
    (tmp_path / name).write_bytes(data)
    (shape,) = read_svg(tmp_path / name, name).shapes
    assert shape.bounds == pytest.approx((10, 40, 40, 80), abs=1e-12)


@pytest.mark.parametrize(
    "body",
    [
        '<rect id="a" x="10" y="20" style="/* 9 */width:/* 99 */30px;height: 40px /* 7 */"/>',
        '<style>/* #a{width:9px} */ #a{width:/* 9 */30px;/* height:9px */height:40px}</style><rect id="a" x="10" y="20"/>',
        '<rect id="a" x="10" y="20" width="30" height="40"><!-- width="9" --></rect>',
        '<path id="a" d="M10 20&#10;H40&#x9;V60 H10Z"/>',
    ],
)
def test_n25_comments_and_references_beside_numbers(body: str) -> None:
    assert bounds(body) == pytest.approx((10, 40, 40, 80), abs=1e-12)


def test_n23_an_unknown_element_is_told() -> None:
    assert '"flowRoot"' in messages("<flowRoot/>")


# -- N26 ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("turn", [0, 17, 45, 90, 133])
def test_n26_ellipses_under_rotation(turn: float) -> None:
    """π a b under every turn; half its width is √(a² cos² φ + b² sin² φ)."""
    r = area(f'<ellipse id="a" cx="60" cy="50" rx="40" ry="15" transform="rotate({turn} 60 50)"/>')
    assert r.area == pytest.approx(math.pi * 600, abs=CURVE_MM * r.perimeter)
    half = math.hypot(40 * math.cos(math.radians(turn)), 15 * math.sin(math.radians(turn)))
    assert r.bounds[2] - r.bounds[0] == pytest.approx(2 * half, abs=2 * CURVE_MM)


def test_n26_a_circle_of_four_cubics_is_the_circle() -> None:
    """It lies outside by 2.7253e-4 r at most (B1), its handles are 4/3 (√2 − 1) r: nothing else is drawn so."""
    k = 4 / 3 * (math.sqrt(2) - 1) * 40
    d = f"M90 50C90 {50 + k} {50 + k} 90 50 90S10 {50 + k} 10 50S{50 - k} 10 50 10S90 {50 - k} 90 50Z"
    (part,) = area(f'<path id="a" d="{d}"/>').parts
    assert part.outer.circle() == pytest.approx((50, 50, 40), abs=1e-6)


def test_n26_an_arc_exported_as_a_cubic_is_the_arc_within_its_known_error() -> None:
    """A quarter of r = 10 by the handle 4/3 (√2 − 1) r lies up to 2.7253e-4 r outside (B1): so does its area."""
    k = 4 / 3 * (math.sqrt(2) - 1) * 10
    r = area(f'<path id="a" d="M50 40C{50 + k!r} 40 60 {50 - k!r} 60 50H50Z"/>')
    assert r.area == pytest.approx(math.pi * 25, abs=10 * math.pi / 2 * 2.7253e-4 * 10)
    assert r.bounds == pytest.approx((50, 50, 60, 60), abs=2.8e-3)


# -- N27: rounded coordinates ------------------------------------------------------------------------
def wavy(decimals: int, size: float, digits: random.Random) -> str:
    """A closed chain of curves round the middle of a page of ``size`` units, its coordinates rounded."""

    def at(k: float, r: float) -> str:
        x, y = size / 2 + size * r * math.cos(k), size / 2 + size * r * math.sin(k)
        return f"{x:.{decimals}f} {y:.{decimals}f}"

    steps = [2 * math.pi * (k + 0.3 * digits.random()) / 18 for k in range(18)]
    points = [at(a, 0.3 + 0.1 * digits.random()) for a in steps]
    curves = " ".join(f"C{points[k]} {points[k + 1]} {points[k + 2]}" for k in range(0, 15, 3))
    return f"M{points[17]} {curves}Z"


@pytest.mark.parametrize(
    ("decimals", "units", "step", "severity"),
    [
        (2, 1.0, 1.0, "ask"),  # N27: viewBox 0 0 1 1 at 100 mm, 2 decimals: 1 mm
        (3, 1.0, 0.1, "note"),
        (2, 25.4, 0.0393701, "note"),
        (1, 100.0, 0.1, "note"),
        (0, 100.0, 1.0, "ask"),
        (4, 1.0, 0.0, ""),  # 0.01 mm: within the limit
        (2, 100.0, 0.0, ""),
        (2, 100 * 96 / 25.4, 0.0, ""),  # N27: at 1 unit = 1 px, 0.01 unit = 0.0026 mm
    ],
)
def test_n27_a_coarse_step_of_the_coordinates_is_told(
    tmp_path: Path, decimals: int, units: float, step: float, severity: str
) -> None:
    page = f'width="100mm" height="100mm" viewBox="0 0 {units!r} {units!r}"'
    found = told(tmp_path, f'<path id="a" d="{wavy(decimals, units, random.Random(7))}"/>', page=page)
    coarse = [f for f in found.findings if f.check == "drawing-coarse"]
    if not severity:
        assert coarse == []
        return
    assert [f.severity for f in coarse] == [severity]
    assert coarse[0].measured == pytest.approx(step, rel=1e-6)
    assert coarse[0].limit == 0.01
    assert f"rounded to steps of {step:.3g} mm when the drawing was saved" in coarse[0].message


def test_n27_the_step_follows_transforms_and_known_lengths(tmp_path: Path) -> None:
    """Two decimals under scale(3) are 0.03 mm; where the drawing is known to be twice as large, 0.06."""
    marks = '<circle id="p" cx="10" cy="5" r="1"/><circle id="q" cx="60" cy="5" r="1"/>'
    body = f'<g transform="scale(3)"><path id="a" d="{wavy(2, 30, random.Random(3))}"/></g>{marks}'
    steps = []
    for is_ in (50, 100):
        frame = f"frame: {{origin: p, known: [{{between: [p, q], is: {is_}}}]}}"
        found = told(tmp_path, body, frame)
        steps.append(next(f.measured for f in found.findings if f.check == "drawing-coarse"))
    assert steps == [pytest.approx(0.03, rel=1e-9), pytest.approx(0.06, rel=1e-9)]


@pytest.mark.parametrize(
    "d",
    [
        "M10 20H40V60H10Z",  # a handful of whole numbers: somebody typed them
        "M12 7L13 9L17 11L21 6L14 3Z",
        "M12.5 7.5L13.5 9L17 11.5L21 6.5L14.5 3.5L10.5 2.5L9.5 4.5Z",  # a grid of half a millimetre
        "M10 10C10 20 20 30 30 30C40 30 50 20 50 10C50 0 40 -10 30 -10C20 -10 10 0 10 10C15 20 25 35 35 40Z",
        "M10.123456 20.234567L30.345678 40.456789L50.567891 60.678912L12.345678 9.876543Z",
    ],
)
def test_n27_what_was_typed_on_a_grid_or_is_fine_is_not_told(tmp_path: Path, d: str) -> None:
    assert "drawing-coarse" not in [f.check for f in told(tmp_path, f'<path id="a" d="{d}"/>').findings]


@pytest.mark.parametrize(
    ("data", "step"),
    [
        ("M1.23 4.56L7.89 1.12 3.47 5.68 9.12 3.46Z", 0.01),
        ("M1.23e1 4.56e1L7.89e1 1.12e1 3.47e1 5.68e1 9.12e1 3.46e1Z", 0.1),
        ("M.12.34L.56.78.91.23.47.68Z", 0.01),
        ("M1.23 4.56a9.87 6.54 0 0 1 3.21 7.89a1.23 4.56 0 1 0 7.89 1.23", 0.01),
        ("M1.23 4.56", 0.0),
        ("", 0.0),
    ],
)
def test_n27_the_step_by_its_digits(data: str, step: float) -> None:
    assert step_of(data) == pytest.approx(step, rel=1e-12, abs=1e-15)


# -- N28: where a reader may go wrong -----------------------------------------------------------------
@pytest.mark.parametrize(("units", "mm"), [(96, 25.4), (9600, 2540.0), (96e4, 254e3 / 1.0)])
def test_n28_no_number_comes_from_a_rounded_factor(units: float, mm: float) -> None:
    """A factor with a relative error of 5e-7 would be 1.3 µm off on 2540 mm; exact is 25.4/96."""
    found = bounds(f'<rect id="a" width="{units}" height="{units}"/>', page='width="10mm" height="10mm"')
    assert found[2] == pytest.approx(mm, rel=1e-14)


def test_n28_clips_are_seen_and_symbols_are_scaled_and_never_drawn_by_themselves() -> None:
    symbol = '<symbol id="s" viewBox="0 0 10 10"><rect id="a" width="10" height="10"/></symbol>'
    assert document(symbol).shapes == ()
    assert bounds(f'{symbol}<use id="u" href="#s" width="30" height="30"/>', "u") == pytest.approx(
        (0, 70, 30, 100)
    )
    clip = f'<clipPath id="c"><rect width="20" height="99"/></clipPath><g clip-path="url(#c)">{SQUARE}</g>'
    assert "cuts part of it off" in fault(clip)


def test_markers_dashes_filters_patterns_are_told() -> None:
    body = (
        '<marker id="m"/><filter id="f"/><pattern id="p"/>'
        '<g id="a" filter="url(#f)"><rect width="9" height="9" fill="url(#p)"/>'
        '<path d="M0 50h20" stroke="red" stroke-dasharray="2 1" marker-end="url(#m)"/></g>'
    )
    told = messages(body)
    for word in ("pattern", "dashed", "markers", "filter"):
        assert word in told
