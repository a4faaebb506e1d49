"""Pictures of the report: curves where they are, sections to scale with the numbers of the worked body, stacks
taken apart, equal pieces and curves once."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from math import radians, tan

import numpy as np
import pytest
import shapely
from svgelements import Path as SvgPath

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle
from pipeline.geometry.transform import Move, mirror_x_axis, shift, turn
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.packet import path_text
from pipeline.packet.finding_sections import Woods
from pipeline.packet.pictures import dimension, setup_picture
from pipeline.packet.report_pieces import pieces
from pipeline.packet.report_sections import sections
from pipeline.packet.report_stack import lamination_table, stack_picture
from pipeline.packet.shared import shared
from pipeline.packet.shop_files import shop_files
from pipeline.packet.strokes import text_strokes
from pipeline.steps.values import Derived
from tests.packet import factory as f
from tests.readback import CASES

TOTAL = 11.8 + 11.7 + 11.9 + 0.6 + 3 * 0.05
"""Body W: three plies, a veneer and three glue lines (tests/cases/body-w, trade notes)."""


@cache
def body_w() -> Derived:
    recipe = read_recipe(CASES / "body-w" / "body-w.yaml")
    derived = derive(recipe, read_drawing(recipe))
    shop_files(derived, ())
    path_text.forget()
    return derived


def drawn(data: str) -> shapely.LineString:
    """Path data as a line of points, by a reader that shares no code with the writer; y up."""
    points = [(p.x, -p.y) for s in SvgPath(data).segments() for p in map(s.point, np.linspace(0, 1, 301)) if p]
    return shapely.LineString(points)


CURVES = {
    "body": f.body_w(),
    "pocket": f.neck_pocket(),
    "circle": circle(12.345, -6.789, 3.21),
    "open": chain([(0, 0), (30, 4), (41.005, -7)], [0.3, -0.7, 0.0], closed=False),
    "nearly round": chain([(0, 0), (0.4, 0)], [9.0, 0.0]),
}


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("move", [Move(), mirror_x_axis(), turn(90).then(shift(10, 20)), turn(33.3)])
def test_a_curve_lies_where_it_is(name: str, move: Move) -> None:
    """Written path data, read back, keeps within a hundredth and a half of the contour, however it is moved."""
    path_text.forget()
    contour: Contour = CURVES[name]
    line = drawn(path_text.path_data((contour,), move))
    moved = move.contour(contour)
    xy = moved.flatten(0.001)[0]
    exact = shapely.LineString(np.vstack([xy, xy[:1]]) if contour.closed else xy)
    assert shapely.hausdorff_distance(line, exact, densify=0.2) < 0.015


def test_a_moved_picture_is_the_moved_curve() -> None:
    """The transform of a group does to the written curve what the move does to the contour."""
    move = mirror_x_axis().then(turn(90)).then(shift(310.25, 40.5))
    attribute = re.fullmatch(r' transform="matrix\(([^)]*)\)"', path_text.matrix(move))
    assert attribute is not None
    a, b, c, d, e, g = map(float, attribute[1].split())
    for x, y in ((0.0, 0.0), (100.0, 3.0), (-7.5, 42.0)):
        u, v = x, -y
        assert (a * u + c * v + e, -(b * u + d * v + g)) == pytest.approx(move.point(x, y), abs=1e-6)
    assert path_text.matrix(Move()) == ""


def test_engraved_words_lie_on_their_strokes() -> None:
    """The path of a line of words against the strokes that are cut, turned and shifted by its own transform."""
    made = path_text.words_path("line", "HERON B2", (30.0, -12.0), 7.0, 25.0)
    found = re.search(r'translate\((\S+) (\S+)\) rotate\((\S+)\) scale\((\S+)\)" d="([^"]+)"', made)
    assert found is not None
    x, y, degrees, scale = map(float, found.groups()[:4])
    strokes = text_strokes("HERON B2", 30.0, -12.0, 7.0, 25.0)
    parts = [p for p in re.split(r"(?=M)", found[5]) if p]
    assert len(parts) == len(strokes)
    place = Move(a=scale).then(turn(-degrees)).then(shift(x, -y))
    for part, stroke in zip(parts, strokes, strict=True):
        line = shapely.LineString([place.point(*p) for p in drawn(part).coords])
        exact = shapely.LineString(stroke.flatten(0.001)[0]) if not stroke.closed else None
        if exact is not None:
            assert shapely.hausdorff_distance(line, exact, densify=0.05) < 0.02


def test_a_curve_is_worked_out_once() -> None:
    path_text.forget()
    body = f.body_w()
    assert path_text.path_data((body,)) == path_text.path_data((body.rolled(0),))
    assert len(path_text._done) == 1


# -- sections --------------------------------------------------------------------------------------------
@cache
def figures() -> dict[str, str]:
    """Sections of body W's blank by their captions."""
    derived = body_w()
    html = sections(derived.blanks[0], derived, Woods(derived))
    found = re.findall(r"<figure>(.*?)<figcaption>(.*?)</figcaption>", html, flags=re.S)
    return {words: svg for svg, words in found}


def words(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def box(svg: str, look: str) -> tuple[float, float]:
    """Width and height in dots of the first shape that looks so."""
    data = re.search(rf'<path class="{look}" fill-rule="evenodd" d="([^"]+)"', svg)
    assert data is not None
    x0, y0, x1, y1 = SvgPath(data[1]).bbox()
    return x1 - x0, y1 - y0


def test_every_cavity_along_both_ways() -> None:
    assert [w.split(",")[0] for w in figures()] == [
        "neck_pocket along x",
        "neck_pocket along y",
        "control along x",
        "control along y",
    ]


def test_the_control_cavity_in_section() -> None:
    """By hand: 36.15 thick less a floor of 4 is 32.15 deep from the back; 45 wide, its ledge 4.5 wider on either
    side and 3 deep; all laminations with their thickness; to one scale."""
    svg = figures()["control along y, at x -30.0"]
    said = words(svg)
    for number in ("36.15", "32.15", "4.00 left", "3.00", "45.00", "54.00"):
        assert number in said
    assert [w for w in said if re.match(r"\d \w", w) and "left" not in w and "mm" not in w] == [
        "1 A 11.80",
        "2 B 11.70",
        "3 C 11.90",
        "4 A 0.60",
    ]
    wide, high = box(svg, "far")
    scale = wide / 54.0 if wide / high > 5 else wide / 45.0
    assert high / scale == pytest.approx(3.0 if wide / high > 5 else TOTAL - 4.0, abs=0.2)
    assert svg.count('class="glue"') == 3
    along = words(figures()["control along x, at y -45.0"])
    assert {"80.00", "89.00", "32.15", "4.00 left"} <= set(along)


def test_the_neck_pocket_in_section() -> None:
    """16 at its shallow end and 16 + 60 tan 2° at the deep one, across its middle half of that."""
    said = words(figures()[next(w for w in figures() if w.startswith("neck_pocket along x"))])
    assert "16.00" in said
    assert f"{16 + 60 * tan(radians(2)):.2f}" in said
    assert any(w.endswith(" left") for w in said)
    across = words(figures()[next(w for w in figures() if w.startswith("neck_pocket along y"))])
    assert "42.20" in across


def test_a_stack_without_cavities_has_one_section() -> None:
    derived = f.derived()
    html = sections(derived.blanks[0], derived, Woods(derived))
    assert html.count("<figure>") == 1
    assert f"{derived.blanks[0].thickness_mm:.2f}" in words(html)


# -- stacks ----------------------------------------------------------------------------------------------
def test_a_stack_taken_apart() -> None:
    """Four laminations from the back up, each above the one before; number, sheet, letter and thickness beside
    each; the table tells what is cut in which."""
    derived = body_w()
    blank = derived.blanks[0]
    svg = stack_picture(blank, derived)
    assert words(svg) == [
        "1 back",
        "ply A 11.80",
        "2",
        "ply B 11.70",
        "3",
        "ply C 11.90",
        "4 front",
        "veneer A 0.60",
    ]
    tops = [float(m) for m in re.findall(r'class="top"[^>]* transform="matrix\(1 0 \S+ \S+ 0 (\S+)\)"', svg)]
    assert len(tops) == 4
    assert tops == sorted(tops, reverse=True)  # y down
    table = lamination_table(blank, derived.results["blank"].numbers)
    rows = re.findall(r"<tr><th scope=\"row\">(\d)</th>(.*?)</tr>", table)
    assert [n for n, _ in rows] == ["4", "3", "2", "1"]
    told = dict(rows)
    assert "control through" in told["1"]
    assert "control ledge 3.00 deep from the back" in told["1"] or "3.00 deep from the back" in told["1"]
    assert "neck_pocket" in told["4"]
    assert "control" not in told["4"]


# -- pieces ----------------------------------------------------------------------------------------------
def test_equal_pieces_share_a_card() -> None:
    """Three covers alike are drawn once and named together; one that is thicker has a card of its own."""
    derived = f.derived()
    cover = derived.pieces[-1]
    result = derived.results[cover.step]
    alike = tuple(replace(cover, name=n) for n in ("cover-1", "cover-2", "cover-3"))
    thick = replace(cover, name="cover-4", thickness_mm=5.0)
    more = replace(derived, results={**derived.results, cover.step: replace(result, pieces=(*alike, thick))})
    html = pieces(more)
    assert "cover-1, cover-2 and cover-3, seen from the front" in html
    assert html.count("<h3>cover") == 2
    one = setup_picture(alike[0], alike[0].set_ups[0], Move())
    assert html.count(one) == 1


def test_overall_sizes_on_dimension_lines() -> None:
    """Numbers of the cut edge's box, on lines with two arrows each that end where the piece does."""
    derived = f.derived()
    cover = derived.pieces[-1]
    x0, y0, x1, y1 = cover.cut.bounds
    svg = setup_picture(cover, cover.set_ups[0], Move())
    assert {f"{x1 - x0:.2f}", f"{y1 - y0:.2f}"} <= set(words(svg))
    tips = re.findall(r'<path class="tip" d="([^"]+)"', svg)
    assert len(tips) == 2
    points = [(float(x), -float(y)) for t in tips for x, y in re.findall(r"M(\S+) (\S+?)L", t)]
    assert [p[0] for p in points[:2]] == pytest.approx([x0, x1], abs=0.01)
    assert [p[1] for p in points[2:]] == pytest.approx([y0, y1], abs=0.01)


def test_arrows_point_in_where_there_is_no_room() -> None:
    wide = dimension((0.0, 0.0), (100.0, 0.0), "100.00", 4.0)
    small = dimension((0.0, 0.0), (5.0, 0.0), "5.00", 4.0)
    assert "M0 0L3 " in wide  # from the tip to the right, within the line
    assert "M0 0L-3 " in small
    assert 'd="M-6 0L11 0' in small


# -- curves kept once ------------------------------------------------------------------------------------
def test_a_path_drawn_twice_is_kept_once() -> None:
    """References put back where the paths were give the page again; what is drawn once stays as it is."""
    long, other = "M0 0" + "l1 1" * 40 + "z", "M5 5" + "l2 -1" * 40
    page = (
        f'<path class="a" fill-rule="evenodd" d="{long}"/><g>'
        f'<path class="b" transform="matrix(1 0 0 1 2 3)" d="{long}"/></g>'
        f'<path class="c" d="{other}"/><path class="d" d="M0 0h1"/><path class="d" d="M0 0h1"/>'
    )
    short, holder = shared(page)
    assert holder.count(long) == 1
    assert long not in short
    assert other in short
    assert short.count("M0 0h1") == 2
    kept = dict(re.findall(r'<path id="(\w+)" d="([^"]+)"/>', holder))
    back = re.sub(
        r'<use((?: [a-z-]+="[^"]*")*) href="#(\w+)"/>', lambda m: f'<path{m[1]} d="{kept[m[2]]}"/>', short
    )
    assert back == page
    assert shared("<p>none</p>") == ("<p>none</p>", "")
