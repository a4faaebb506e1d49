"""Lines and letters on a shop sheet: one unit is a millimetre of paper, y up from the lower left corner."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.geometry.contour import Contour, arc_centres
from pipeline.packet.print_words import latin
from pipeline.packet.written import Curve

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas, PDFPathObject

Point = tuple[float, float]
To = Callable[[float, float], Point]

LETTER_MM = 2.5
"""Height of capitals, the least on a shop sheet; one of ISO 3098's."""
CAPITAL = 0.718
"""Height of capitals by the size of the font (Helvetica's own metrics: 718 of 1000)."""
SIZE = LETTER_MM / CAPITAL
PITCH_MM = 4.4
"""From line to line of the least letters."""
NARROW_MM, WIDE_MM = 0.25, 0.5
"""Two widths of lines, 1 : 2, both of ISO 128-2's row."""
PLAIN, BOLD = "Helvetica", "Helvetica-Bold"
INK = "#000000"


def width(text: str, size: float = SIZE, font: str = PLAIN) -> float:
    """Width in mm of a line of text."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(latin(text), font, size))


@lru_cache(maxsize=1024)  # what is measured to find room is wrapped again where it is written
def wrapped(text: str, room: float, size: float = SIZE, font: str = PLAIN) -> tuple[str, ...]:
    """The text in lines no wider than ``room``; a word that is wider by itself is broken."""
    lines: list[str] = []
    used, blank = room, width(" ", size, font)
    for word in text.split():
        for part in _broken(word, room, size, font):
            w = width(part, size, font)
            if lines and used + blank + w <= room:
                lines[-1] += f" {part}"
                used += blank + w
            else:
                lines.append(part)
                used = w
    return tuple(lines or [""])


def _broken(word: str, room: float, size: float, font: str) -> Iterator[str]:
    while width(word, size, font) > room and len(word) > 1:
        n = max(1, next((i for i in range(len(word), 0, -1) if width(word[:i], size, font) <= room), 1))
        yield word[:n]
        word = word[n:]
    yield word


def cut_to(text: str, room: float, size: float = SIZE, font: str = PLAIN) -> str:
    """The text, its middle replaced by an ellipsis where it is wider than ``room``."""
    if width(text, size, font) <= room:
        return text
    for n in range(len(text) - 1, 1, -1):
        short = f"{text[: (n + 1) // 2]}…{text[len(text) - n // 2 :]}"
        if width(short, size, font) <= room:
            return short
    return "…"


def write(
    canvas: Canvas, x: float, y: float, text: str, size: float = SIZE, font: str = PLAIN, *, align: str = "l"
) -> None:
    """A line of text at its baseline; ``align`` is l, c or r."""
    canvas.setFont(font, size)
    draw = {"l": canvas.drawString, "c": canvas.drawCentredString, "r": canvas.drawRightString}[align]
    draw(x, y, latin(text))


def pen(canvas: Canvas, width_mm: float = NARROW_MM, colour: str = INK, dash: Sequence[float] = ()) -> None:
    """Line width, colour and pattern of what is drawn next, and the colour of letters."""
    red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    canvas.setLineWidth(width_mm)
    canvas.setStrokeColorRGB(red, green, blue)
    canvas.setFillColorRGB(red, green, blue)
    canvas.setDash([max(abs(d), 0.3) for d in dash])


def draw_curve(canvas: Canvas, curve: Curve, to: To, scale: float) -> None:
    """A contour or circle, its points through ``to``, which shrinks or grows by ``scale``."""
    if isinstance(curve, Contour):
        path = canvas.beginPath()
        trace(path, curve, to)
        canvas.drawPath(path, stroke=1, fill=0)
    else:
        x, y = to(curve.x, curve.y)
        canvas.circle(x, y, curve.r * scale, stroke=1, fill=0)


def trace(path: PDFPathObject, contour: Contour, to: To) -> None:
    """Lines as lines, arcs as cubics of at most 45° (radial error 4.2e-6 of the radius)."""
    path.moveTo(*to(*contour.xy[0].tolist()))
    b, curved = contour.bulges, np.abs(contour.bulges) > 1e-9
    bowed = np.where(curved, b, 1.0)  # a line has no centre: any number does, it isn't read
    centres, radii = arc_centres(contour.starts, contour.ends, bowed)
    rows = (contour.starts, contour.ends, b, curved, centres, radii)
    for p, q, bulge, arc, (cx, cy), r in zip(*(v.tolist() for v in rows), strict=True):
        if not arc:
            path.lineTo(*to(*q))
            continue
        a, sweep = math.atan2(p[1] - cy, p[0] - cx), 4 * math.atan(bulge)
        n = max(1, math.ceil(abs(sweep) / (math.pi / 4) - 1e-9))
        k = 4 / 3 * math.tan(sweep / n / 4) * r
        for _ in range(n):
            c, s, a = math.cos(a), math.sin(a), a + sweep / n
            c2, s2 = math.cos(a), math.sin(a)
            path.curveTo(
                *to(cx + r * c - k * s, cy + r * s + k * c),
                *to(cx + r * c2 + k * s2, cy + r * s2 - k * c2),
                *to(cx + r * c2, cy + r * s2),
            )
    if contour.closed:
        path.close()


def arrow_head(canvas: Canvas, tip: Point, angle: float, size: float = 2.2) -> None:
    """A filled arrow head whose tip stands at ``tip``, pointing along ``angle`` (radians)."""
    path = canvas.beginPath()
    path.moveTo(*tip)
    for turn in (math.radians(165), -math.radians(165)):
        path.lineTo(tip[0] + size * math.cos(angle + turn), tip[1] + size * math.sin(angle + turn))
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def tick(canvas: Canvas, x: float, y: float) -> None:
    """A tick mark of 3 mm; ``x``, ``y`` is the lower left corner of its box."""
    pen(canvas, WIDE_MM)
    canvas.line(x, y + 1.1, x + 1.0, y)
    canvas.line(x + 1.0, y, x + 3.0, y + 2.8)
    pen(canvas)
