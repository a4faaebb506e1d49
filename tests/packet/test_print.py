"""Full-size prints, read back by PDFium: what stands on the paper, and where."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import pypdfium2 as pdfium
import pytest
import shapely

from pipeline.geometry.contour import line_chain
from pipeline.packet.print_pdf import print_pdf
from pipeline.packet.print_scene import Stroke
from pipeline.packet.tiles import tiling
from tests.packet.pages import Line, lines, size, words
from tests.packet.printed import CROSS, DESIGN, PDF, SCENE, WIDE, edge_of, opened, squares


@pytest.fixture
def pages() -> Iterator[list[pdfium.PdfPage]]:
    yield from opened(PDF)


@pytest.fixture
def wide() -> Iterator[list[pdfium.PdfPage]]:
    yield from opened(print_pdf(DESIGN, WIDE))


def test_pages_are_a4(pages: list[pdfium.PdfPage]) -> None:
    """ISO 216: 210 x 297 mm; as many pages as tiles (formula of trade.md 11, see test_tiles)."""
    x0, y0, x1, y1 = SCENE.bounds
    want = tiling(x1 - x0, y1 - y0)
    assert len(pages) == want.sheets > 1
    for page in pages:
        assert sorted(size(page)) == pytest.approx([210, 297], abs=0.01)


def test_the_check_square_meets_nothing_that_is_drawn(pages: list[pdfium.PdfPage]) -> None:
    """One square of 100.00 mm on the whole print, on the first sheet, named so; no line of the drawing, no cross
    and no word of another thing reaches into it."""
    found = [(n, s) for n, page in enumerate(pages) for s in squares(page)]
    ((number, box),) = found
    assert number == 0
    assert (box[2] - box[0], box[3] - box[1]) == pytest.approx((100.0, 100.0), abs=0.05)
    texts = [w.text for w in words(pages[0])]
    assert "Check square 100.00 x 100.00 mm" in texts
    area = shapely.box(*box)
    for line in lines(pages[0]):
        if line.drawn:
            assert not shapely.LineString(line.points).intersects(area)
    for word in words(pages[0]):
        inside = area.buffer(-1.0).contains(shapely.box(*word.box))
        assert inside or not area.intersects(shapely.box(*word.box)), word.text


def test_rules_of_200_along_both_directions(pages: list[pdfium.PdfPage]) -> None:
    """Each has a tick every 10: 21 of them."""
    thick = [v for v in lines(pages[0]) if not v.drawn and len(v.points) == 2 and abs(v.width - 0.25) < 0.005]
    for k in (0, 1):
        (rule,) = [v.box for v in thick if abs(v.box[k + 2] - v.box[k] - 200.0) < 0.05]
        ticks = [
            v.box
            for v in thick
            if v.box[k + 2] - v.box[k] < 0.001
            and 0.5 < v.box[3 - k] - v.box[1 - k] < 3
            and v.box[1 - k] - 0.01 <= rule[1 - k] <= v.box[3 - k] + 0.01
        ]
        at = sorted(t[k] - rule[k] for t in ticks)
        assert at == pytest.approx([10.0 * n for n in range(21)], abs=0.02)
    assert all(v.box[0] >= 4.9 and v.box[1] >= 4.9 for v in thick)


def test_without_room_the_square_gets_a_sheet_of_its_own() -> None:
    """A grid of lines every 60 mm leaves no room for 100 x 100."""
    grid = [
        Stroke(style="edge", contour=line_chain(p, closed=False), label="grid")
        for k in range(-240, 241, 60)
        for p in ([(k, -270.0), (k, 270.0)], [(-180.0, k), (180.0, k)])
    ]
    scene = replace(SCENE, strokes=tuple(grid), bounds=(-187.0, -274.0, 187.0, 274.0), marks=(), name="grid")
    for found in opened(print_pdf(DESIGN, scene)):
        assert len(found) == tiling(374, 548).sheets + 1
        assert len(squares(found[0])) == 1
        assert not [v for v in lines(found[0]) if v.drawn]
        assert not any(squares(p) for p in found[1:])


@pytest.mark.parametrize(("which", "shared"), [("pages", 2), ("wide", 4)], ids=["3 x 1", "2 x 2"])
def test_crosses_tell_where_they_stand(which: str, shared: int, request: pytest.FixtureRequest) -> None:
    """Each cross's printed coordinates are its place in the design: told from where body W's own edge, whose
    box is (-100, -120, 232, 120), lies on the same sheet. A name that stands on several tiles is one place."""
    found: dict[str, set[int]] = {}
    document = request.getfixturevalue(which)
    for number, page in enumerate(document):
        edge = edge_of(page).box
        shift = (edge[0] + 100.0, edge[3] - 120.0)
        strokes = [v for v in lines(page) if not v.drawn and len(v.points) == 2 and abs(v.width - 0.13) < 0.005]
        across = [v.box for v in strokes if v.box[3] - v.box[1] < 1e-3 and abs(v.box[2] - v.box[0] - 6) < 1e-2]
        centres = [((b[0] + b[2]) / 2, b[1]) for b in across]
        assert len(centres) == 4
        named = [w for w in words(page) if CROSS.match(w.text)]
        assert len(named) == 4
        for cx, cy in centres:
            text = min(named, key=lambda w: abs(w.middle[0] - cx) + abs(w.middle[1] - cy)).text
            match = CROSS.match(text)
            assert match is not None
            assert float(match[1]) == pytest.approx(cx - shift[0], abs=0.03)
            assert float(match[2]) == pytest.approx(cy - shift[1], abs=0.03)
            found.setdefault(text, set()).add(number)
    bounds = SCENE.bounds if which == "pages" else WIDE.bounds
    t = tiling(bounds[2] - bounds[0], bounds[3] - bounds[1])
    # Crosses stand in the middle of the overlaps: (columns + 1)(rows + 1) places for all tiles together.
    assert len(found) == (t.columns + 1) * (t.rows + 1)
    assert sum(len(v) for v in found.values()) == 4 * t.sheets
    assert max(len(v) for v in found.values()) == shared


def test_the_two_diagonals_are_those_of_the_far_crosses(wide: list[pdfium.PdfPage]) -> None:
    """From the coordinates printed at the outermost crosses, by Pythagoras."""
    at = [tuple(float(v) for v in m.groups()) for p in wide for w in words(p) if (m := CROSS.match(w.text))]
    xs, ys = [a[0] for a in at], [a[1] for a in at]
    across = ((max(xs) - min(xs)) ** 2 + (max(ys) - min(ys)) ** 2) ** 0.5
    text = " ".join(w.text for w in words(wide[0]))
    named = re.findall(r"([A-Z]\d) to ([A-Z]\d) (\d+\.\d\d)", text)
    assert [(a, b) for a, b, _ in named] == [("A1", "B2"), ("A2", "B1")]
    assert all(float(v) == pytest.approx(across, abs=0.02) for _, _, v in named)


def test_line_kinds(pages: list[pdfium.PdfPage]) -> None:
    """trade.md 11: carve lines dashed, cavities from the back chain lines, edges full, all 0.25 wide (ISO 128)."""
    drawn = [v for v in lines(pages[0]) if v.drawn and abs(v.width - 0.25) < 0.005]
    ex0, _, _, ey1 = edge_of(pages[0]).box
    sx, sy = ex0 + 100.0, ey1 - 120.0

    def of(x0: float, y0: float, x1: float, y1: float) -> Line:
        want = (x0 + sx, y0 + sy, x1 + sx, y1 + sy)
        (found,) = [v for v in drawn if v.box == pytest.approx(want, abs=0.05)]
        return found

    assert of(-100, -120, 232, 120).dashes == ()
    assert of(-80, -100, 212, 100).dashes == (4.0, 2.0)  # the carve line, 20 inside
    assert of(-70, -67.5, 10, -22.5).dashes == (8.0, 1.5, 1.0, 1.5)  # the control cavity, from the back
    assert of(129, -19, 191, 25).dashes == ()  # the neck pocket, from the front
    long_dash_dot = [v for v in drawn if v.dashes == (12.0, 2.0, 1.0, 2.0)]
    (axis,) = [v for v in long_dash_dot if abs(v.box[1] - sy) < 0.01]
    assert axis.box[2] - axis.box[0] > 300


def test_every_tile_says_what_it_is(pages: list[pdfium.PdfPage]) -> None:
    """trade.md 11: tile name, design, revision, no scaling, on every tile. The pins reach from -118 to 251: with a
    rim of 6 a side 381 x 252, (381 - 10)/(194 - 10) is 3 columns, one row."""
    names = []
    for n, page in enumerate(pages, start=1):
        texts = [w.text for w in words(page)]
        names += [t for t in texts if re.fullmatch(r"[A-Z]\d", t)][:1]
        whole = " ".join(texts)
        assert "Heron, a travel tenor, revision B" in whole
        assert f"Sheet {n} of {len(pages)}" in whole
        assert "print at 100 %, no scaling" in whole
        assert "carve line: dashed" in whole
        assert "HELD" not in whole
    assert names == ["A1", "A2", "A3"]


def test_bands_and_cut_lines_right_and_bottom_alone(wide: list[pdfium.PdfPage]) -> None:
    """The dashed cut lines of the tiles of 2 x 2: one upright at the left column's right, one lying at the top
    row's bottom, through the crosses there."""
    told = []
    for page in wide:
        cut = [v.box for v in lines(page) if v.dashes == (2.0, 1.5)]
        w, h = size(page)
        told.append(
            (
                sum(1 for b in cut if b[2] - b[0] < 0.01 and b[0] > w / 2),
                sum(1 for b in cut if b[3] - b[1] < 0.01 and b[1] < h / 2),
                len(cut),
            )
        )
    assert told == [(1, 1, 2), (0, 1, 1), (1, 0, 1), (0, 0, 0)]


def test_the_key_map_fills_this_tile(wide: list[pdfium.PdfPage]) -> None:
    """On tiles without the check square (which holds a map with names): four cells, one filled, at its place."""
    for k, page in enumerate(wide):
        if squares(page):
            assert {"A1", "A2", "B1", "B2"} <= {w.text for w in words(page)}
            continue
        cells = [v for v in lines(page) if len(v.points) >= 4 and 1 < v.box[2] - v.box[0] < 10 and not v.drawn]
        assert len(cells) == 4
        (full,) = [v for v in cells if v.filled]
        rest = [v.box for v in cells if not v.filled]
        left = all(full.box[0] <= b[0] + 0.01 for b in rest)
        top = all(full.box[1] >= b[1] - 0.01 for b in rest)
        assert (left, top) == ((k % 2 == 0), (k < 2))


def test_nothing_is_filled_but_the_key_map(pages: list[pdfium.PdfPage], wide: list[pdfium.PdfPage]) -> None:
    for page in (*pages, *wide):
        filled = [v for v in lines(page) if v.filled]
        assert len(filled) == (0 if squares(page) else 1)


def test_words_are_large_enough_and_within_what_printers_reach(
    pages: list[pdfium.PdfPage], wide: list[pdfium.PdfPage]
) -> None:
    """ISO 3098: 2.5 mm; 5 mm from the edge of the paper, less the 0.7 that letters hang below their line."""
    for page in (*pages, *wide):
        w, h = size(page)
        for word in words(page):
            assert word.capitals >= 2.5 - 1e-3, word.text
            if not word.drawn:
                x0, y0, x1, y1 = word.box
                assert min(x0, y0, w - x1, h - y1) >= 4.2, word.text


def test_no_word_stands_on_a_line_or_on_another(pages: list[pdfium.PdfPage], wide: list[pdfium.PdfPage]) -> None:
    """On every tile: words against words, words of the drawing against its strokes (leaders, 0.13 thin, may touch
    their own), crosses' coordinates against strokes and hatching."""
    for page in (*pages, *wide):
        every = list(words(page))
        for a, b in combinations(every, 2):
            assert not shapely.box(*a.box).intersects(shapely.box(*b.box)), (a.text, b.text)
        strokes = [shapely.LineString(v.points) for v in lines(page) if v.drawn and v.width > 0.2]
        hatch = [shapely.LineString(v.points) for v in lines(page) if v.colour == (0xBB, 0xBB, 0xBB)]
        for word in every:
            box = shapely.box(*word.box)
            if word.drawn or CROSS.match(word.text):
                assert not any(s.intersects(box) for s in strokes), word.text
                assert not any(s.intersects(box) for s in hatch), word.text
