"""Full-size prints, tiled on paper: lines to lay hardware on, judge by eye and tape to a foam model.

One drawing is placed once as a form and shown through the window of every tile, so tiles can't
disagree. Lines are 0.25 mm (ISO 128 narrow); the edge is the middle of the line.
"""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.geometry.contour import Contour, arc_centres
from pipeline.packet.names import file_prefix
from pipeline.packet.print_scene import Scene, Stroke, scenes
from pipeline.packet.tiles import Tiling, tiling
from pipeline.steps.values import Derived

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas, PDFPathObject

MM = 72 / 25.4
NARROW_MM = 0.25
DASHES: dict[str, list[float]] = {
    "edge": [],
    "front": [],
    "back": [8, 1.5, 1, 1.5],
    "carve": [4, 2],
    "mark": [],
}
COLOURS = {"edge": "#000000", "front": "#0072B2", "back": "#D55E00", "carve": "#009E73", "mark": "#555555"}
WORDS = {
    "edge": "outline: full line",
    "front": "cut from the front: full line inside it",
    "back": "cut from the back: chain line",
    "carve": "carve line: dashed",
}
CHECK_MM = 100.0


def write_prints(folder: Path, derived: Derived, paper: str = "A4") -> tuple[str, ...]:
    """Write ``print/<design>[-<variant>]-<rev>_<name>_<paper>.pdf`` for every scene; the paths written."""
    written: list[str] = []
    (folder / "print").mkdir(parents=True, exist_ok=True)
    r = derived.recipe
    for scene in scenes(derived):
        path = f"print/{file_prefix(r)}_{scene.name}_{paper}.pdf"
        (folder / path).write_bytes(print_pdf(derived, scene, paper))
        written.append(path)
    return tuple(written)


def print_pdf(derived: Derived, scene: Scene, paper: str = "A4") -> bytes:
    """The tiled print of one scene as a PDF file, byte-equal for equal inputs."""
    from reportlab.pdfgen.canvas import Canvas

    x0, y0, x1, y1 = scene.bounds
    tiles = tiling(x1 - x0, y1 - y0, paper)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(tiles.page[0] * MM, tiles.page[1] * MM), invariant=1, pageCompression=1)
    canvas.setTitle(latin(f"{_called(derived)}: {scene.name}, full size"))
    canvas.setAuthor("mouldloft")
    canvas.setSubject("Print at 100 %, no scaling")
    canvas.beginForm("drawing", -5, -5, (x1 - x0) * MM + 5, (y1 - y0) * MM + 5)
    _drawing(canvas, scene)
    canvas.endForm()
    for row in range(tiles.rows):
        for column in range(tiles.columns):
            _tile(canvas, derived, scene, tiles, column, row)
            canvas.showPage()
    canvas.save()
    return out.getvalue()


def latin(text: str) -> str:
    """Text as the built-in PDF faces can show it; anything else becomes a question mark."""
    return text.encode("cp1252", "replace").decode("cp1252")


def _drawing(canvas: Canvas, scene: Scene) -> None:
    """All strokes, with the drawing's lower left corner at the origin."""
    x0, y0, x1, y1 = scene.bounds
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    canvas.setLineWidth(NARROW_MM * MM)
    for stroke in scene.strokes:
        canvas.setStrokeColor(COLOURS[stroke.style])
        canvas.setDash([d * MM for d in DASHES[stroke.style]] or [])
        path = canvas.beginPath()
        _walk(path, stroke.contour, x0, y0)
        canvas.drawPath(path, stroke=1, fill=0)
    # The centre line runs along y = 0 with an arrow the way x grows.
    if y0 < 0 < y1:
        canvas.setStrokeColor("#555555")
        canvas.setDash([12 * MM, 2 * MM, 1 * MM, 2 * MM])
        canvas.line(0, -y0 * MM, (x1 - x0) * MM, -y0 * MM)
        canvas.setDash([])
        tip, y = (x1 - x0 - 4) * MM, -y0 * MM
        canvas.line(tip - 3 * MM, y + 1.2 * MM, tip, y)
        canvas.line(tip - 3 * MM, y - 1.2 * MM, tip, y)
    canvas.setDash([])
    canvas.setStrokeColor(COLOURS["mark"])
    canvas.setFillColor(COLOURS["mark"])
    canvas.setFont("Helvetica", 2.5 * MM)
    for name, x, y in scene.marks:
        if x0 <= x <= x1 and y0 <= y <= y1:
            px, py = (x - x0) * MM, (y - y0) * MM
            canvas.line(px - 3 * MM, py, px + 3 * MM, py)
            canvas.line(px, py - 3 * MM, px, py + 3 * MM)
            canvas.drawString(px + 1.2 * MM, py + 1.2 * MM, latin(name))
    _labels(canvas, scene)


def _labels(canvas: Canvas, scene: Scene) -> None:
    """The name of every shape once, beside its first stroke."""
    seen: set[str] = set()
    x0, y0 = scene.bounds[:2]
    for stroke in scene.strokes:
        if not stroke.label or stroke.label in seen or stroke.style == "edge":
            continue
        seen.add(stroke.label)
        canvas.setFillColor(COLOURS[stroke.style])
        x, y = _label_place(stroke)
        canvas.drawString((x - x0) * MM, (y - y0) * MM, latin(stroke.label))


def _label_place(stroke: Stroke) -> tuple[float, float]:
    bx0, by0, bx1, by1 = stroke.contour.bounds
    if stroke.style == "carve":
        return (bx0 + bx1) / 2, by1 - 4.0
    if stroke.label.endswith(" recess"):  # it stands round its own cavity, whose name is in the middle
        return (bx0 + bx1) / 2, by0 - 3.5
    return (bx0 + 2.0, (by0 + by1) / 2) if bx1 - bx0 > 25 else (bx1 + 1.0, by1 + 1.0)


def _walk(path: PDFPathObject, contour: Contour, x0: float, y0: float) -> None:
    """Lines as lines, arcs as cubics of at most 45° (radial error 4.2e-6 of the radius)."""
    path.moveTo((contour.xy[0, 0] - x0) * MM, (contour.xy[0, 1] - y0) * MM)
    starts, ends, bulges = contour.starts, contour.ends, contour.bulges
    for i in range(len(contour)):
        b = float(bulges[i])
        if abs(b) < 1e-12:
            path.lineTo((ends[i, 0] - x0) * MM, (ends[i, 1] - y0) * MM)
            continue
        centre, radius = arc_centres(starts[i : i + 1], ends[i : i + 1], bulges[i : i + 1])
        cx, cy, r = float(centre[0, 0]), float(centre[0, 1]), float(radius[0])
        a = math.atan2(starts[i, 1] - cy, starts[i, 0] - cx)
        sweep = 4 * math.atan(b)
        n = max(1, math.ceil(abs(sweep) / (math.pi / 4) - 1e-9))
        step = sweep / n
        k = 4 / 3 * math.tan(step / 4) * r
        for _ in range(n):
            c, s, a2 = math.cos(a), math.sin(a), a + step
            c2, s2 = math.cos(a2), math.sin(a2)
            path.curveTo(
                (cx + r * c - k * s - x0) * MM,
                (cy + r * s + k * c - y0) * MM,
                (cx + r * c2 + k * s2 - x0) * MM,
                (cy + r * s2 - k * c2 - y0) * MM,
                (cx + r * c2 - x0) * MM,
                (cy + r * s2 - y0) * MM,
            )
            a = a2
    if contour.closed:
        path.close()


def _tile(canvas: Canvas, derived: Derived, scene: Scene, tiles: Tiling, column: int, row: int) -> None:
    m, (w, h) = tiles.margin, tiles.usable
    cx, cy = tiles.corner(column, row)
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(m * MM, m * MM, w * MM, h * MM)
    canvas.clipPath(window, stroke=0, fill=0)
    canvas.translate((m - cx) * MM, (m - cy) * MM)
    canvas.doForm("drawing")
    canvas.restoreState()
    _bands(canvas, tiles, column, row)
    _crosses(canvas, scene, tiles, cx, cy)
    _margin_text(canvas, derived, scene, tiles, column, row)
    if (column, row) == (0, tiles.rows - 1):
        _check_square(canvas, tiles)
    _key_map(canvas, tiles, column, row)
    canvas.setStrokeColor("#999999")
    canvas.setLineWidth(0.1 * MM)
    canvas.rect(m * MM, m * MM, w * MM, h * MM, stroke=1, fill=0)


def _bands(canvas: Canvas, tiles: Tiling, column: int, row: int) -> None:
    """Overlap bands, lightly hatched, with a cut line: only right and bottom, where the next tile lies over."""
    m, (w, h), o = tiles.margin, tiles.usable, tiles.overlap
    canvas.setStrokeColor("#BBBBBB")
    canvas.setLineWidth(0.1 * MM)
    if column < tiles.columns - 1:
        for y in range(0, int(h - o), 6):
            canvas.line((m + w - o) * MM, (m + y) * MM, (m + w) * MM, (m + y + o) * MM)
        _cut_line(canvas, m + w - o / 2, m, m + w - o / 2, m + h)
    if row < tiles.rows - 1:
        for x in range(0, int(w - o), 6):
            canvas.line((m + x) * MM, m * MM, (m + x + o) * MM, (m + o) * MM)
        _cut_line(canvas, m, m + o / 2, m + w, m + o / 2)


def _cut_line(canvas: Canvas, xa: float, ya: float, xb: float, yb: float) -> None:
    canvas.saveState()
    canvas.setStrokeColor("#777777")
    canvas.setDash([2 * MM, 1.5 * MM])
    canvas.setLineWidth(0.18 * MM)
    canvas.line(xa * MM, ya * MM, xb * MM, yb * MM)
    canvas.restoreState()


def _crosses(canvas: Canvas, scene: Scene, tiles: Tiling, cx: float, cy: float) -> None:
    """A cross in the middle of each overlap corner, with its coordinates in the design frame: the same
    cross stands on every tile that shows it."""
    m, (w, h), o = tiles.margin, tiles.usable, tiles.overlap
    canvas.setStrokeColor("#000000")
    canvas.setFillColor("#000000")
    canvas.setLineWidth(0.13 * MM)
    canvas.setFont("Helvetica", 2.0 * MM)
    for x in (o / 2, w - o / 2):
        for y in (o / 2, h - o / 2):
            px, py = (m + x) * MM, (m + y) * MM
            canvas.line(px - 3 * MM, py, px + 3 * MM, py)
            canvas.line(px, py - 3 * MM, px, py + 3 * MM)
            text = f"{scene.bounds[0] + cx + x:.2f}, {scene.bounds[1] + cy + y:.2f}"
            (canvas.drawString if x < w / 2 else canvas.drawRightString)(
                px + (1 * MM if x < w / 2 else -1 * MM), py + 1 * MM, text
            )


def _margin_text(canvas: Canvas, derived: Derived, scene: Scene, tiles: Tiling, column: int, row: int) -> None:
    canvas.setFillColor("#000000")
    canvas.setFont("Helvetica-Bold", 3.5 * MM)
    canvas.drawString(tiles.margin * MM, (tiles.page[1] - 6.0) * MM, tiles.name(column, row))
    canvas.setFont("Helvetica", 2.6 * MM)
    text = (
        f"{_called(derived)} - {scene.name}, seen from the front - "
        f"sheet {row * tiles.columns + column + 1} of {tiles.sheets} - print at 100 %, no scaling"
    )
    canvas.drawString((tiles.margin + 10) * MM, (tiles.page[1] - 5.8) * MM, latin(text))
    styles = [s for s in ("edge", "front", "back", "carve") if any(k.style == s for k in scene.strokes)]
    canvas.setFont("Helvetica", 2.2 * MM)
    canvas.drawString(
        tiles.margin * MM,
        3.6 * MM,
        latin(
            "; ".join(WORDS[s] for s in styles) + ". The edge is the middle of the line. Trim right and bottom."
        ),
    )


def _check_square(canvas: Canvas, tiles: Tiling) -> None:
    """A 100.00 mm square and rules along both directions, to be measured before anything is trusted."""
    m, (w, h) = tiles.margin, tiles.usable
    canvas.saveState()
    canvas.setStrokeColor("#CC79A7")
    canvas.setFillColor("#CC79A7")
    canvas.setLineWidth(0.18 * MM)
    x, y = m + 14, m + 14
    canvas.rect(x * MM, y * MM, CHECK_MM * MM, CHECK_MM * MM, stroke=1, fill=0)
    canvas.setFont("Helvetica", 2.5 * MM)
    canvas.drawString(
        (x + 2) * MM, (y + 2) * MM, "check square 100.00 x 100.00 mm: measure it before you trust the print"
    )
    along = 200 if w > 216 else 150
    up = 200 if h > 216 else 150
    for k in range(0, along + 1, 10):
        canvas.line((x + k) * MM, (y - 3) * MM, (x + k) * MM, (y - (6 if k % 50 else 8)) * MM)
    canvas.line(x * MM, (y - 3) * MM, (x + along) * MM, (y - 3) * MM)
    canvas.drawString((x + along + 1) * MM, (y - 5) * MM, f"{along} mm")
    for k in range(0, up + 1, 10):
        canvas.line((x - 3) * MM, (y + k) * MM, (x - (6 if k % 50 else 8)) * MM, (y + k) * MM)
    canvas.line((x - 3) * MM, y * MM, (x - 3) * MM, (y + up) * MM)
    canvas.drawString((x - 8) * MM, (y + up + 1) * MM, f"{up} mm")
    canvas.restoreState()


def _key_map(canvas: Canvas, tiles: Tiling, column: int, row: int) -> None:
    """A small map of all tiles with this one filled, in the upper right corner."""
    a, b = 4.0, 4.0 * tiles.page[1] / tiles.page[0]
    scale = min(1.0, 5.5 / (b * tiles.rows))
    a, b = a * scale, b * scale
    left = tiles.page[0] - tiles.margin - a * tiles.columns
    top = tiles.page[1] - 1.5
    canvas.setLineWidth(0.1 * MM)
    canvas.setStrokeColor("#000000")
    canvas.setFillColor("#000000")
    for r in range(tiles.rows):
        for c in range(tiles.columns):
            canvas.rect(
                (left + c * a) * MM,
                (top - (r + 1) * b) * MM,
                a * MM,
                b * MM,
                stroke=1,
                fill=int((c, r) == (column, row)),
            )


def _called(derived: Derived) -> str:
    """The design with its variant and revision, so that no two prints look alike on a bench."""
    r = derived.recipe
    return f"{r.title}{f', variant {r.variant}' if r.variant else ''}, revision {r.revision}"
