"""Full-size prints as they are asked for: held, from the back, corrected, on a roll, with odd titles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pypdfium2 as pdfium
import pytest

from pipeline.packet.print_how import How, how_asked
from pipeline.packet.print_pdf import print_pdf, write_prints
from pipeline.packet.print_scene import from_the_back, scenes
from tests.packet.pages import POINT, lines, size, words
from tests.packet.printed import CROSS, DESIGN, PDF, SCENE, design, edge_of, opened, squares


@pytest.fixture
def pages() -> Iterator[list[pdfium.PdfPage]]:
    yield from opened(PDF)


def test_held_stands_on_every_sheet() -> None:
    for found in opened(print_pdf(DESIGN, SCENE, How(held=True))):
        assert all("HELD" in [w.text for w in words(page)] for page in found)


def test_the_back_is_the_mirror_and_its_words_read_right(pages: list[pdfium.PdfPage]) -> None:
    """Turned over about x: a point (x, y) of the design lies at (x, -y). The neck pocket, 3 off the centreline to
    the bass side, comes to the other side; the crosses name points of the design; no letter is mirrored."""
    scene = from_the_back(SCENE, "x")
    for found in opened(print_pdf(DESIGN, scene)):
        page = found[0]
        edge = edge_of(page).box
        sx, sy = edge[0] + 100.0, edge[1] + 120.0  # the edge's box, (-100, -120, 232, 120), is its own mirror
        neck = [
            v.box for v in lines(page) if v.box == pytest.approx((129 + sx, -25 + sy, 191 + sx, 19 + sy), abs=0.05)
        ]
        assert len(neck) == 1
        strokes = [v for v in lines(page) if not v.drawn and len(v.points) == 2 and abs(v.width - 0.13) < 0.005]
        across = [v.box for v in strokes if v.box[3] - v.box[1] < 1e-3 and abs(v.box[2] - v.box[0] - 6) < 1e-2]
        named = [w for w in words(page) if CROSS.match(w.text)]
        for b in across:
            cx, cy = (b[0] + b[2]) / 2, b[1]
            m = CROSS.match(min(named, key=lambda w: abs(w.middle[0] - cx) + abs(w.middle[1] - cy)).text)
            assert m is not None
            assert (float(m[1]), -float(m[2])) == pytest.approx((cx - sx, cy - sy), abs=0.03)
        for word in words(page):
            a, b_, c, d = word.matrix
            assert a * d - b_ * c > 0
            assert (a > 0 and d > 0) or (b_ > 0 and c < 0)  # upright, or turned a quarter
        assert any("seen from the back" in w.text for w in words(page))
    # About y the x mirrors, and the centreline's arrow still points the way x grows in the design.
    ends = from_the_back(SCENE, "y")
    assert ends.bounds == pytest.approx((-SCENE.bounds[2], SCENE.bounds[1], -SCENE.bounds[0], SCENE.bounds[3]))
    assert ends.signs == (-1.0, 1.0)


def test_a_print_is_corrected_for_its_printer() -> None:
    """trade.md 11: 199.2 measured of 200 asks for 1.00402. The paper stays A4, all on it grows: square and rule
    measure 100.402 and 200.803 along x, of which that printer makes 100.00 and 200.00; y by its own factor."""
    how = how_asked("A4", measured="199.2,200.4")
    fx, fy = 200 / 199.2, 200 / 200.4
    assert round(fx, 5) == 1.00402
    for found in opened(print_pdf(DESIGN, SCENE, how)):
        for page in found:
            assert sorted(size(page)) == pytest.approx([210, 297], abs=0.01)
            box = edge_of(page).box
            assert (box[2] - box[0], box[3] - box[1]) == pytest.approx((332 * fx, 240 * fy), abs=0.01)
            assert "corrected by x 1.00402, y 0.99800" in " ".join(w.text for w in words(page))
        ((_, square),) = [(n, s) for n, page in enumerate(found) for s in squares(page)]
        assert (square[2] - square[0], square[3] - square[1]) == pytest.approx((100 * fx, 100 * fy), abs=0.005)
        rules = [
            v.box for v in lines(found[0]) if not v.drawn and abs(v.width - 0.25) < 0.005 and len(v.points) == 2
        ]
        assert any(b[2] - b[0] == pytest.approx(200 * fx, abs=0.01) for b in rules)
        assert any(b[3] - b[1] == pytest.approx(200 * fy, abs=0.01) for b in rules)


def test_a_roll_has_a_leader_and_a_square_at_both_ends() -> None:
    """trade.md 11: one long piece along x, 20 left at either end, the same square at both ends."""
    for found in opened(print_pdf(DESIGN, SCENE, How(paper="roll-420"))):
        (page,) = found
        w, h = size(page)
        assert h == pytest.approx(420, abs=0.01)
        two = sorted(squares(page))
        assert len(two) == 2
        assert two[0][0] < edge_of(page).box[0] < edge_of(page).box[2] < two[1][0]
        for v in (*(v.box for v in lines(page) if not v.drawn), *(v.box for v in words(page))):
            assert v[0] >= 20.0
            assert v[2] <= w - 20.0 + 0.01


def test_equal_designs_give_equal_bytes() -> None:
    """No clock, no random identifiers: the same bytes from a design built anew."""
    again = design()
    assert print_pdf(again, scenes(again)[0]) == PDF
    assert b"/tmp" not in PDF


@pytest.mark.parametrize(
    "title", ["Лира é", "ש" * 300, "x" * 300, "<script>alert(1)</script>", "=cmd|' /C calc'!A0"]
)
def test_odd_titles_stay_on_the_sheet(title: str) -> None:
    """A letter that the built-in faces lack becomes a question mark; what is too long is cut, never clipped."""
    odd = replace(DESIGN, recipe=replace(DESIGN.recipe, title=title))
    for found in opened(print_pdf(odd, SCENE)):
        for page in found:
            w, _ = size(page)
            text = list(words(page))
            assert all(t.box[0] >= 4.2 and t.box[2] <= w - 4.2 for t in text if not t.drawn)
            assert any("seen from the front" in t.text for t in text)
    if title == "Лира é":
        document = pdfium.PdfDocument(print_pdf(odd, SCENE))
        assert "???? é, revision B" in document[0].get_textpage().get_text_bounded()
        document.close()


def test_file_names(tmp_path) -> None:  # type: ignore[no-untyped-def]  # pytest's fixture
    assert write_prints(tmp_path, DESIGN, How(paper="A3")) == ("print/heron-B_body_A3.pdf",)
    document = pdfium.PdfDocument(tmp_path / "print/heron-B_body_A3.pdf")
    assert sorted(v * POINT for v in document[0].get_size()) == pytest.approx([297, 420], abs=0.01)
    document.close()
    asked = how_asked("Letter", back=True, measured="200,199.5")
    assert write_prints(tmp_path, DESIGN, asked) == ("print/heron-B_body_Letter_back_corrected.pdf",)
