"""The picture on a shop sheet: the set-up as the machinist sees it, with zero, axis, clamps and dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import shapely

from pipeline.packet.layers import CUT_WORKS, LOOKS, two_decimals
from pipeline.packet.shop_file import Drawn
from pipeline.packet.shop_sheet_clamps import Clamps
from pipeline.packet.shop_sheet_depths import DepthRow
from pipeline.packet.shop_sheet_gauge import Gauge
from pipeline.packet.shop_sheet_ink import (
    INK,
    NARROW_MM,
    WIDE_MM,
    Point,
    arrow_head,
    draw_curve,
    pen,
    width,
    write,
)
from pipeline.packet.shop_sheet_parts import Part
from pipeline.packet.shop_sheet_seen import Shown
from pipeline.packet.written import Bounds, Circle, bounds_of

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

SCALES = (
    10.0,
    5.0,
    2.0,
    1.0,
    1 / 1.5,
    1 / 2,
    1 / 2.5,
    1 / 3,
    1 / 4,
    1 / 5,
    1 / 6,
    1 / 8,
    1 / 10,
    1 / 15,
    1 / 20,
    1 / 50,
    0.01,
)
"""Scales of ISO 5455, and steps between them where a picture would get too small to read."""
RIM_MM = 10.0
"""Room round the lines for dimensions and marks."""
CLAMP, WARN, DIM, AXIS = "#009E73", "#D55E00", "#0072B2", "#0072B2"
HATCH_MM = 3.0
DOT_MM = 2.7
"""Radius of the ring round a mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """All that a picture shows. ``flip`` is the axis about which the work is turned over, with its place in the
    file's coordinates (y of an x axis, x of a y axis); None where nothing is turned."""

    sheet: Shown
    parts: Sequence[Part]
    rows: Sequence[DepthRow]
    gauges: Sequence[Gauge]
    clamps: Clamps | None
    flip: tuple[Literal["x", "y"], float] | None


@dataclass(slots=True)
class _Board:
    """The picture while it is drawn: paper mm, and boxes that words keep off."""

    canvas: Canvas
    scale: float
    shift: Point
    taken: list[shapely.Geometry] = field(default_factory=list)

    def to(self, x: float, y: float) -> Point:
        return x * self.scale + self.shift[0], y * self.scale + self.shift[1]

    def free(self, box: shapely.Geometry) -> bool:
        return not any(box.intersects(t) for t in self.taken)


def layers_of(sheet: Shown) -> tuple[Drawn, ...]:
    """What is drawn of a file: everything but words, legend and check square; of what stands beside a laser's
    cut file only what isn't drawn for reference, as its cuts are."""
    first, *rest = sheet.curves_of
    drawn = [*first.layers, *(v for f in rest for v in f.layers if v.work != "REFERENCE")]
    return tuple(v for v in drawn if v.work not in ("TEXT", "CHECK_SQUARE"))


def scale_of(sheet: Shown, wide: float, high: float) -> tuple[float, str]:
    """The largest scale at which the lines and their rim fit: the factor, and how it is written."""
    x0, y0, x1, y1 = _bounds(sheet)
    room = min((wide - 2 * RIM_MM) / max(x1 - x0, 1.0), (high - 2 * RIM_MM) / max(y1 - y0, 1.0))
    scale = next((s for s in SCALES if s <= room), SCALES[-1])
    return scale, f"{round(scale)}:1" if scale >= 1 else f"1:{round(1 / scale, 1):g}"


def draw_picture(canvas: Canvas, picture: Picture, box: Bounds) -> str:
    """Draws into a box of the page (mm); the scale as it is written."""
    wide, high = box[2] - box[0], box[3] - box[1]
    scale, said = scale_of(picture.sheet, wide, high)
    x0, y0, x1, y1 = _bounds(picture.sheet)
    shift = ((box[0] + box[2]) / 2 - (x0 + x1) / 2 * scale, (box[1] + box[3]) / 2 - (y0 + y1) / 2 * scale)
    board = _Board(canvas, scale, shift)
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(box[0], box[1], wide, high)
    canvas.clipPath(window, stroke=0, fill=0)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    if picture.clamps:
        _clamps(board, picture.clamps)
    for layer in layers_of(picture.sheet):
        _layer(board, layer)
    _zero(board)
    if picture.flip:
        _flip(board, picture.flip, (x0, y0, x1, y1))
    for g in picture.gauges:
        _dimension(board, g)
    for part in picture.parts:
        for place in part.places:
            _mark(board, part.mark, board.to(*place))
    _pins(board, picture.sheet)
    for row in picture.rows:
        for place in row.places:
            _mark(board, str(row.number), board.to(*place))
    canvas.restoreState()
    return said


def _bounds(sheet: Shown) -> Bounds:
    return bounds_of(tuple(c for v in layers_of(sheet) for c in v.curves)) or (0.0, 0.0, 1.0, 1.0)


def _layer(board: _Board, layer: Drawn) -> None:
    look = LOOKS[layer.work]
    colour = f"#{look.rgb[0]:02X}{look.rgb[1]:02X}{look.rgb[2]:02X}"
    wide = WIDE_MM if layer.work in CUT_WORKS and layer.work not in ("ENGRAVE", "SCORE", "GROOVE") else NARROW_MM
    # A cut is black and wide; other lines have their layer's colour beside their pattern.
    pen(board.canvas, wide, INK if layer.work in ("CUT_OUTSIDE", "CUT_INSIDE") else colour, look.pattern)
    for curve in layer.curves:
        draw_curve(board.canvas, curve, board.to, board.scale)


def _zero(board: _Board) -> None:
    """Zero with the directions in which x and y grow."""
    c = board.canvas
    x, y = board.to(0.0, 0.0)
    pen(c, WIDE_MM)
    c.circle(x, y, 1.6, stroke=1, fill=0)
    for (dx, dy), name in (((1.0, 0.0), "X"), ((0.0, 1.0), "Y")):
        tip = (x + 9.0 * dx, y + 9.0 * dy)
        c.line(x, y, x + 7.5 * dx, y + 7.5 * dy)
        arrow_head(c, tip, math.atan2(dy, dx))
        write(c, tip[0] + (0.8 if dx else 1.0), tip[1] + (-1.0 if dx else -1.8), name)
    board.taken.append(
        shapely.union_all([shapely.box(x - 2, y - 2, x + 13, y + 2), shapely.box(x - 2, y, x + 4.5, y + 10)])
    )


def _clamps(board: _Board, clamps: Clamps) -> None:
    """Hatched where clamps may stand; dotted round what they keep out of where that is all that is known."""
    c = board.canvas
    if clamps.may.is_empty:
        pen(c, NARROW_MM, WARN, (0.3, 1.2))
        for part in shapely.get_parts(clamps.off):
            _ring(board, part.exterior)
        return
    c.saveState()
    path = c.beginPath()
    for part in shapely.get_parts(clamps.may):
        for ring in (part.exterior, *part.interiors):
            points = [board.to(x, y) for x, y in ring.coords[:-1]]
            path.moveTo(*points[0])
            for p in points[1:]:
                path.lineTo(*p)
            path.close()
    c.clipPath(path, stroke=0, fill=0, fillMode=0)
    pen(c, 0.13, CLAMP)
    x0, y0, x1, y1 = clamps.may.bounds
    (a, b), (d, e) = board.to(x0, y0), board.to(x1, y1)
    k = a - (e - b)
    while k < d:
        c.line(k, b, k + (e - b), e)
        k += HATCH_MM
    c.restoreState()


def _ring(board: _Board, ring: shapely.LinearRing) -> None:
    path = board.canvas.beginPath()
    points = [board.to(x, y) for x, y in ring.coords[:-1]]
    path.moveTo(*points[0])
    for p in points[1:]:
        path.lineTo(*p)
    path.close()
    board.canvas.drawPath(path, stroke=1, fill=0)


def _pins(board: _Board, sheet: Shown) -> None:
    """Index holes that are there already: a pin sits in each."""
    for layer in layers_of(sheet):
        if layer.work == "INDEX":
            for curve in layer.curves:
                if isinstance(curve, Circle):
                    _mark(board, f"pin {two_decimals(2 * curve.r)}", board.to(curve.x, curve.y), beside=True)


def _dimension(board: _Board, g: Gauge) -> None:
    """A dimension line with its letter in a square; off the edge where it measures across the outside."""
    c = board.canvas
    (ax, ay), (bx, by) = (board.to(*p) for p in g.ends)
    off = 6.5 if any(g.side) else 0.0
    p, q = (ax + g.side[0] * off, ay + g.side[1] * off), (bx + g.side[0] * off, by + g.side[1] * off)
    pen(c, NARROW_MM, DIM)
    if off:
        for (sx, sy), (ex, ey) in (((ax, ay), p), ((bx, by), q)):
            c.line(sx + g.side[0], sy + g.side[1], ex + 1.5 * g.side[0], ey + 1.5 * g.side[1])
    c.line(*p, *q)
    angle = math.atan2(q[1] - p[1], q[0] - p[0])
    if math.dist(p, q) > 5.0:
        arrow_head(c, q, angle)
        arrow_head(c, p, angle + math.pi)
    board.taken.append(shapely.LineString([p, q]).buffer(0.6))
    x, y = p[0] + (q[0] - p[0]) * 0.3, p[1] + (q[1] - p[1]) * 0.3
    if math.dist(p, q) < 14.0:  # too short to hold its letter: beside its end
        x, y = q[0] + 4.0 * math.cos(angle), q[1] + 4.0 * math.sin(angle)
    board.taken.append(shapely.box(x - 2.5, y - 2.5, x + 2.5, y + 2.5))
    c.setFillColor("#FFFFFF")
    c.rect(x - 2.2, y - 2.2, 4.4, 4.4, stroke=1, fill=1)
    c.setFillColor(DIM)
    write(c, x, y - 1.25, g.letter, align="c")


def _mark(board: _Board, text: str, at: Point, *, beside: bool = False) -> None:
    """A number in a ring at its place, or near it with a leader where the place is taken or is to be seen."""
    c = board.canvas
    half = max(DOT_MM, width(text) / 2 + 1.2)
    for ring in range(2 if beside else 0, 14):
        for k in (0,) if ring == 0 else range(8):
            r, angle = ring * 3.0, (k + 0.5) * math.pi / 4
            x, y = at[0] + (r + half - DOT_MM) * math.cos(angle), at[1] + r * math.sin(angle)
            if ring == 0:
                x = at[0]
            box = shapely.box(x - half, y - DOT_MM, x + half, y + DOT_MM)
            if board.free(box):
                board.taken.append(box)
                pen(c, NARROW_MM)
                if ring:
                    c.line(*at, x, y)
                    c.circle(*at, 0.5, stroke=0, fill=1)
                c.setFillColor("#FFFFFF")
                c.roundRect(x - half, y - DOT_MM, 2 * half, 2 * DOT_MM, DOT_MM, stroke=1, fill=1)
                c.setFillColor(INK)
                write(c, x, y - 1.25, text, align="c")
                return


def _flip(board: _Board, flip: tuple[Literal["x", "y"], float], bounds: Bounds) -> None:
    """The turn-over axis as a chain line with an arrow round its end; through the middle where it lies outside."""
    c = board.canvas
    axis, at = flip
    lo, hi = (bounds[1], bounds[3]) if axis == "x" else (bounds[0], bounds[2])
    if not lo <= at <= hi:
        at = (lo + hi) / 2
    pen(c, NARROW_MM, AXIS, (6.0, 1.2, 0.3, 1.2))
    if axis == "x":
        (x0, y), (x1, _) = board.to(bounds[0], at), board.to(bounds[2], at)
        c.line(x0 - 3.0, y, x1 + 6.0, y)
        board.taken.append(shapely.box(x1 + 3.0, y - 6.0, x1 + 9.0, y + 6.0))
        pen(c, WIDE_MM, AXIS)
        c.arc(x1 + 4.5, y - 5.0, x1 + 8.0, y + 5.0, -60.0, 270.0)
        a = math.radians(210.0)
        tip = (x1 + 6.25 + 1.75 * math.cos(a), y + 5.0 * math.sin(a))
        arrow_head(c, tip, -math.pi / 2, 2.6)
    else:
        (x, y0), (_, y1) = board.to(at, bounds[1]), board.to(at, bounds[3])
        c.line(x, y0 - 3.0, x, y1 + 6.0)
        board.taken.append(shapely.box(x - 6.0, y1 + 3.0, x + 6.0, y1 + 9.0))
        pen(c, WIDE_MM, AXIS)
        c.arc(x - 5.0, y1 + 4.5, x + 5.0, y1 + 8.0, -150.0, 270.0)
        a = math.radians(120.0)
        tip = (x + 5.0 * math.cos(a), y1 + 6.25 + 1.75 * math.sin(a))
        arrow_head(c, tip, math.pi, 2.6)
