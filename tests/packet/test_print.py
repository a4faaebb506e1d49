"""Full-size prints, read back by PDFium: what a maker would measure on the paper."""

from __future__ import annotations

import ctypes
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest

from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.region import solid
from pipeline.packet.print_pdf import print_pdf, write_prints
from pipeline.packet.print_scene import scenes
from pipeline.packet.tiles import tiling
from pipeline.steps.values import Cut, Depth, Derived, Result
from tests.packet import factory as f

POINT = 25.4 / 72
"""A PDF point in mm (PDF reference: 1/72 inch)."""
CROSS = re.compile(r"^(-?\d+\.\d\d), (-?\d+\.\d\d)$")


def design() -> Derived:
    """Body W with its index holes, a pocket from either face and a carve line 20 mm inside the edge."""
    base = f.derived()
    inner = offset(solid(f.body_w()), -20.0)
    pockets = tuple(
        Cut(step="neck", name=n, region=r, design=r, face=face, depth=Depth(rule="depth", mm=9.0))
        for n, face, r in (
            ("neck", "front", solid(f.neck_pocket())),
            ("control", "back", solid(f.rectangle(80, 45, 8, x=-30, y=-45))),
        )
    )  # fmt: skip
    results = {
        "body": base.results["body"],
        "pins": base.results["pins"],
        "carve": Result(step="carve", kind="offset", region=inner),
        "neck": Result(step="neck", kind="cavity", cuts=pockets),  # type: ignore[arg-type]  # faces are literals
    }
    order = tuple(
        Step(name=n, kind=r.kind, spec=None, after=(), needs={}, places={"": f.PLACE}) for n, r in results.items()
    )
    return replace(base, order=order, results=results)


@dataclass(frozen=True)
class Line:
    """A path on a page: points in mm on the paper, dashes in mm, width in mm, inside the drawing or beside it."""

    points: tuple[tuple[float, float], ...]
    dashes: tuple[float, ...]
    width: float
    colour: tuple[int, int, int]
    drawn: bool


def cubic(*p: tuple[float, float]) -> list[tuple[float, float]]:
    """48 points of a Bezier curve (Bernstein form)."""
    points = []
    for t in (n / 48 for n in range(1, 49)):
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        x, y = (sum(w * q[k] for w, q in zip(weights, p, strict=True)) for k in (0, 1))
        points.append((x, y))
    return points


def lines(page: pdfium.PdfPage) -> Iterator[Line]:
    shift = (0.0, 0.0)
    for thing in page.get_objects(max_depth=4):
        if thing.type == raw.FPDF_PAGEOBJ_FORM:
            a, b, c, d, e, g = thing.get_matrix().get()
            assert (a, b, c, d) == (1, 0, 0, 1)  # full size, upright
            shift = (e, g)
        if thing.type != raw.FPDF_PAGEOBJ_PATH:
            continue
        inner = thing.level > 0
        m = thing.get_matrix()
        points: list[tuple[float, float]] = []
        bent: list[tuple[float, float]] = []
        for i in range(raw.FPDFPath_CountSegments(thing)):
            x, y = ctypes.c_float(), ctypes.c_float()
            segment = raw.FPDFPath_GetPathSegment(thing, i)
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            px, py = m.on_point(x.value, y.value)
            at = ((px + shift[0] * inner) * POINT, (py + shift[1] * inner) * POINT)
            if raw.FPDFPathSegment_GetType(segment) != raw.FPDF_SEGMENT_BEZIERTO:
                points.append(at)
                continue
            bent.append(at)
            if len(bent) == 3:
                points += cubic(points[-1], *bent)
                bent = []
        n = raw.FPDFPageObj_GetDashCount(thing)
        dashes = (ctypes.c_float * max(n, 1))()
        if n > 0:
            raw.FPDFPageObj_GetDashArray(thing, dashes, n)
        width = ctypes.c_float()
        raw.FPDFPageObj_GetStrokeWidth(thing, width)
        r, g_, b_, alpha = (ctypes.c_uint() for _ in range(4))
        raw.FPDFPageObj_GetStrokeColor(thing, r, g_, b_, alpha)
        yield Line(
            points=tuple(points),
            dashes=tuple(round(v * POINT, 2) for v in dashes[:n]) if n > 0 else (),
            width=width.value * POINT,
            colour=(r.value, g_.value, b_.value),
            drawn=inner,
        )


def words(page: pdfium.PdfPage) -> Iterator[tuple[str, float, float]]:
    """(text, x, y) in mm of the texts beside the drawing."""
    text = page.get_textpage()
    for thing in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=1, textpage=text):
        x0, y0, x1, y1 = thing.get_bounds()
        yield thing.extract().strip(), (x0 + x1) / 2 * POINT, (y0 + y1) / 2 * POINT


def box(points: tuple[tuple[float, float], ...]) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


DESIGN = design()
(SCENE,) = scenes(DESIGN)
PDF = print_pdf(DESIGN, SCENE)


@pytest.fixture
def pages() -> Iterator[list[pdfium.PdfPage]]:
    document = pdfium.PdfDocument(PDF)
    found = [document[i] for i in range(len(document))]
    yield found
    for page in found:
        page.close()
    document.close()


def test_pages_are_a4(pages: list[pdfium.PdfPage]) -> None:
    """ISO 216: 210 x 297 mm; as many pages as tiles (formula of trade.md 11, see test_tiles)."""
    x0, y0, x1, y1 = SCENE.bounds
    want = tiling(x1 - x0, y1 - y0)
    assert len(pages) == want.sheets > 1
    for page in pages:
        assert sorted(v * POINT for v in page.get_size()) == pytest.approx([210, 297], abs=0.01)


def test_the_check_square(pages: list[pdfium.PdfPage]) -> None:
    """One square of 100.00 mm on the whole print, named so, measured on its corner points."""
    squares = []
    for page in pages:
        for line in lines(page):
            x0, y0, x1, y1 = box(line.points)
            if not line.drawn and len(line.points) >= 4 and abs(x1 - x0 - 100) < 1 and abs(y1 - y0 - 100) < 1:
                squares.append((x1 - x0, y1 - y0))
                assert any("check square 100.00 x 100.00 mm" in t for t, _, _ in words(page))
    assert len(squares) == 1
    assert squares[0] == pytest.approx((100.0, 100.0), abs=0.05)


@pytest.mark.parametrize(
    ("bounds", "shared"), [(SCENE.bounds, 2), ((-165.0, -160.0, 305.0, 160.0), 4)], ids=["3 x 1", "2 x 2"]
)
def test_crosses_tell_where_they_stand(bounds: tuple[float, float, float, float], shared: int) -> None:
    """Each cross's printed coordinates are its place in the design: told from where body W's own edge, whose
    box is (-100, -120, 232, 120), lies on the same sheet. A name that stands on several tiles is one place."""
    document = pdfium.PdfDocument(print_pdf(DESIGN, replace(SCENE, bounds=bounds)))
    found: dict[str, set[int]] = {}
    for number, page in enumerate(document):
        every = list(lines(page))
        edge = [
            v for v in every if v.drawn and v.colour == (0, 0, 0) and box(v.points)[2] - box(v.points)[0] > 300
        ]
        assert edge
        left = min(box(v.points)[0] for v in edge)
        top = max(box(v.points)[3] for v in edge)
        shift = (left + 100.0, top - 120.0)
        strokes = [v.points for v in every if not v.drawn and len(v.points) == 2 and abs(v.width - 0.13) < 0.005]
        across = [p for p in strokes if abs(p[0][1] - p[1][1]) < 1e-3 and abs(abs(p[0][0] - p[1][0]) - 6) < 1e-2]
        centres = [((a[0] + b[0]) / 2, a[1]) for a, b in across]
        assert len(centres) == 4
        named = [(t, x, y) for t, x, y in words(page) if CROSS.match(t)]
        assert len(named) == 4
        for cx, cy in centres:
            text = min(named, key=lambda n: abs(n[1] - cx) + abs(n[2] - cy))[0]
            match = CROSS.match(text)
            assert match is not None
            assert float(match[1]) == pytest.approx(cx - shift[0], abs=0.03)
            assert float(match[2]) == pytest.approx(cy - shift[1], abs=0.03)
            found.setdefault(text, set()).add(number)
    x0, y0, x1, y1 = bounds
    t = tiling(x1 - x0, y1 - y0)
    # Crosses stand in the middle of the overlaps: (columns + 1)(rows + 1) places for all tiles together.
    assert len(found) == (t.columns + 1) * (t.rows + 1)
    assert sum(len(v) for v in found.values()) == 4 * t.sheets
    assert max(len(v) for v in found.values()) == shared
    document.close()


def test_line_kinds(pages: list[pdfium.PdfPage]) -> None:
    """trade.md 11: carve lines dashed, cavities from the back chain lines, edges full, all 0.25 wide (ISO 128)."""
    drawn = [v for v in lines(pages[0]) if v.drawn and abs(v.width - 0.25) < 0.005]

    def of(x0: float, y0: float, x1: float, y1: float) -> Line:
        edge = next(v for v in drawn if v.colour == (0, 0, 0))
        ex0, _, _, ey1 = box(edge.points)
        sx, sy = ex0 + 100.0, ey1 - 120.0
        want = (x0 + sx, y0 + sy, x1 + sx, y1 + sy)
        (found,) = [v for v in drawn if box(v.points) == pytest.approx(want, abs=0.05)]
        return found

    assert of(-100, -120, 232, 120).dashes == ()
    assert of(-80, -100, 212, 100).dashes == (4.0, 2.0)  # the carve line, 20 inside
    assert of(-70, -67.5, 10, -22.5).dashes == (8.0, 1.5, 1.0, 1.5)  # the control cavity, from the back
    assert of(129, -19, 191, 25).dashes == ()  # the neck pocket, from the front


def test_every_tile_says_what_it_is(pages: list[pdfium.PdfPage]) -> None:
    """trade.md 11: tile name, design, revision, no scaling, on every tile. The pins reach from -118 to 251: with a
    rim of 6 a side 381 x 252, (381 - 10)/(194 - 10) is 3 columns, one row."""
    names = []
    for n, page in enumerate(pages, start=1):
        texts = [t for t, _, _ in words(page)]
        names += [t for t in texts if re.fullmatch(r"[A-Z]\d", t)]
        whole = " ".join(texts)
        assert "Heron, a travel tenor, revision B" in whole
        assert f"sheet {n} of {len(pages)}" in whole
        assert "print at 100 %, no scaling" in whole
        assert "carve line: dashed" in whole
    assert names == ["A1", "A2", "A3"]


def test_equal_designs_give_equal_bytes() -> None:
    """No clock, no random identifiers: the same bytes from a design built anew."""
    again = design()
    assert print_pdf(again, scenes(again)[0]) == PDF
    assert b"/tmp" not in PDF


def test_words_beyond_latin_do_not_stop_a_print() -> None:
    """The built-in faces show Windows-1252; another letter becomes a question mark."""
    odd = replace(DESIGN, recipe=replace(DESIGN.recipe, title="Лира é"))
    document = pdfium.PdfDocument(print_pdf(odd, SCENE))
    assert "???? é, revision B" in document[0].get_textpage().get_text_bounded()
    document.close()


def test_file_names(tmp_path) -> None:  # type: ignore[no-untyped-def]  # pytest's fixture
    assert write_prints(tmp_path, DESIGN, "A3") == ("print/heron-B_body_A3.pdf",)
    document = pdfium.PdfDocument(tmp_path / "print/heron-B_body_A3.pdf")
    assert sorted(v * POINT for v in document[0].get_size()) == pytest.approx([297, 420], abs=0.01)
    document.close()
