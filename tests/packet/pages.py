"""A print read back by PDFium, in true millimetres of the paper: its lines, its words, its pixels."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw

POINT = 25.4 / 72
"""A PDF point in mm (PDF reference: 1/72 inch)."""


@dataclass(frozen=True)
class Line:
    """A path on a page: points in mm on the paper, dashes and width in mm, whether it is filled, and whether it
    stands in the drawing or beside it."""

    points: tuple[tuple[float, float], ...]
    dashes: tuple[float, ...]
    width: float
    colour: tuple[int, int, int]
    filled: bool
    drawn: bool

    @property
    def box(self) -> tuple[float, float, float, float]:
        xs, ys = [p[0] for p in self.points], [p[1] for p in self.points]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class Word:
    """A text: bounds in mm, the height of its capitals (0.718 of the size, Helvetica's metrics), its matrix."""

    text: str
    box: tuple[float, float, float, float]
    capitals: float
    matrix: tuple[float, float, float, float]
    drawn: bool

    @property
    def middle(self) -> tuple[float, float]:
        return (self.box[0] + self.box[2]) / 2, (self.box[1] + self.box[3]) / 2


def cubic(*p: tuple[float, float]) -> list[tuple[float, float]]:
    """48 points of a Bezier curve (Bernstein form)."""
    points = []
    for t in (n / 48 for n in range(1, 49)):
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        x, y = (sum(w * q[k] for w, q in zip(weights, p, strict=True)) for k in (0, 1))
        points.append((x, y))
    return points


def size(page: pdfium.PdfPage) -> tuple[float, float]:
    w, h = page.get_size()
    return w * POINT, h * POINT


def _objects(page: pdfium.PdfPage, **options: Any) -> Iterator[tuple[Any, pdfium.PdfMatrix]]:
    """Each object with the matrix that takes its own points to the page."""
    outer = pdfium.PdfMatrix()
    for thing in page.get_objects(max_depth=4, **options):
        if thing.level == 0:
            outer = pdfium.PdfMatrix()
        if thing.type == raw.FPDF_PAGEOBJ_FORM:
            outer = thing.get_matrix()
        yield thing, (outer if thing.level > 0 else pdfium.PdfMatrix())


def lines(page: pdfium.PdfPage) -> Iterator[Line]:
    for thing, outer in _objects(page):
        if thing.type != raw.FPDF_PAGEOBJ_PATH:
            continue
        m = thing.get_matrix().multiply(outer)
        points: list[tuple[float, float]] = []
        bent: list[tuple[float, float]] = []
        for i in range(raw.FPDFPath_CountSegments(thing)):
            x, y = ctypes.c_float(), ctypes.c_float()
            segment = raw.FPDFPath_GetPathSegment(thing, i)
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            px, py = m.on_point(x.value, y.value)
            at = (px * POINT, py * POINT)
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
        r, g, b, alpha = (ctypes.c_uint() for _ in range(4))
        raw.FPDFPageObj_GetStrokeColor(thing, r, g, b, alpha)
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        raw.FPDFPath_GetDrawMode(thing, fill, stroke)
        a, _, _, d, _, _ = m.get()
        scale = float(np.sqrt(abs(a * d))) if a * d else float(np.sqrt(abs(np.linalg.det(_linear(m)))))
        yield Line(
            points=tuple(points),
            dashes=tuple(round(v * scale * POINT, 2) for v in dashes[:n]) if n > 0 else (),
            width=width.value * scale * POINT,
            colour=(r.value, g.value, b.value),
            filled=fill.value != 0,
            drawn=thing.level > 0,
        )


def _linear(m: pdfium.PdfMatrix) -> np.ndarray[Any, Any]:
    a, b, c, d, _, _ = m.get()
    return np.array([[a, b], [c, d]])


def words(page: pdfium.PdfPage) -> Iterator[Word]:
    text = page.get_textpage()
    for thing, outer in _objects(page, textpage=text):
        if thing.type != raw.FPDF_PAGEOBJ_TEXT:
            continue
        points = ctypes.c_float()
        raw.FPDFTextObj_GetFontSize(thing, points)
        m = thing.get_matrix().multiply(outer)
        a, b, c, d, _, _ = m.get()
        x0, y0, x1, y1 = thing.get_bounds()
        corners = [outer.on_point(x, y) for x in (x0, x1) for y in (y0, y1)]
        xs, ys = [p[0] * POINT for p in corners], [p[1] * POINT for p in corners]
        yield Word(
            text=thing.extract().strip(),
            box=(min(xs), min(ys), max(xs), max(ys)),
            capitals=points.value * float(np.hypot(c, d)) * POINT * 0.718,
            matrix=(a, b, c, d),
            drawn=thing.level > 0,
        )


def pixels(page: pdfium.PdfPage, dpi: float = 600.0) -> np.ndarray[Any, Any]:
    """How dark each pixel is, 0 to 255, the lower left one first."""
    image = page.render(scale=dpi / 72, grayscale=True).to_numpy()
    return 255.0 - image[::-1].reshape(image.shape[0], image.shape[1]).astype(float)


def peak(profile: np.ndarray[Any, Any], dpi: float = 600.0) -> float:
    """Where a single dark line crosses a profile, in mm from its beginning: the centroid about its maximum."""
    top = int(np.argmax(profile))
    near = round(0.3 / 25.4 * dpi)
    a, b = max(0, top - near), min(len(profile), top + near + 1)
    weight = profile[a:b] - np.median(profile)
    weight = np.clip(weight, 0.0, None)
    return float((np.arange(a, b) + 0.5) @ weight / weight.sum()) * 25.4 / dpi
