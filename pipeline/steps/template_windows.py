"""Windows on the centreline of a template, or a scored line under clear plastic (trade.md 5.3)."""

from __future__ import annotations

import shapely

from pipeline.core.fields import FaceName
from pipeline.core.recipe import Step, other_face
from pipeline.geometry.contour import Contour, chain, line_chain
from pipeline.geometry.region import Region, solid
from pipeline.steps.common import Stock
from pipeline.steps.ops import index
from pipeline.steps.values import Cut, Depth, Op, Piece, SetUp

LONG_MM, WIDE_MM = 25.0, 2.0
"""A window: its length, and its width where the cutter allows it (trade.md 5.3)."""
RIM_MM = 8.0
"""Wood kept between a window and the template's edge."""
ROOM_MM = 0.2
"""A router's window is so much wider than its smallest cutter."""
NOTCH_MM = 3.0
"""Length of the two strokes of an engraved notch."""


def width_for(stock: Stock) -> float:
    """WIDE_MM, or what the smallest cutter of a router passes."""
    if stock.shop.process == "laser" or not stock.shop.end_cutters:
        return WIDE_MM
    return max(WIDE_MM, stock.shop.end_cutters[0].DC + ROOM_MM)


def windows_of(
    wood: Region, step: Step, stock: Stock, face: FaceName
) -> tuple[tuple[Cut, ...], tuple[Contour, ...]]:
    """Slots on the x axis near both ends of the wood that lies on it, clear of its holes, and strokes to engrave
    beside them.

    A laser's slot ends in points of 90 degrees that lie on the line. A router's has round ends, and the notch
    of 90 degrees that points at the line is engraved beyond each. None where there is no room.
    """
    laser = stock.shop.process == "laser"
    wide = width_for(stock)
    tips = wide / 2 if laser else NOTCH_MM
    x0, _, x1, _ = wood.bounds
    band = wood.polygon.buffer(-(RIM_MM + wide / 2), quad_segs=8)
    on_line = shapely.intersection(shapely.LineString([(x0, 0.0), (x1, 0.0)]), band)
    spans = []
    for line in shapely.get_parts(on_line):
        if line.geom_type == "LineString":
            a, b = sorted(float(x) for x in shapely.get_coordinates(line)[[0, -1], 0])
            spans.append((a, b))
    spans = [s for s in sorted(spans) if s[1] - s[0] >= LONG_MM + 2 * tips]
    if not spans:
        return (), ()
    starts = [round(spans[0][0] + tips, 2), round(spans[-1][1] - tips - LONG_MM, 2)]
    if starts[1] - starts[0] < LONG_MM + 2 * tips + RIM_MM:
        starts = starts[:1]
    cuts, strokes = [], []
    for i, x in enumerate(starts, start=1):
        shape = solid(_slot(x, wide, laser))
        cuts.append(
            Cut(
                step=step.name,
                name=f"{step.name} window {i}",
                region=shape,
                design=shape,
                face=face,
                depth=Depth(rule="through"),
            )
        )
        if not laser:
            strokes += [_notch(x, -1.0), _notch(x + LONG_MM, 1.0)]
    return tuple(cuts), tuple(strokes)


def _slot(x: float, wide: float, laser: bool) -> Contour:
    """LONG_MM along the x axis from ``x``; with points beyond it for a laser, else with round ends within it."""
    r = wide / 2
    if laser:
        return line_chain(
            [(x, -r), (x + LONG_MM, -r), (x + LONG_MM + r, 0.0), (x + LONG_MM, r), (x, r), (x - r, 0.0)]
        )
    a, b = x + r, x + LONG_MM - r
    return chain([(a, -r), (b, -r), (b, r), (a, r)], [0.0, 1.0, 0.0, 1.0])


def _notch(x: float, way: float) -> Contour:
    """Two strokes at 90 degrees whose point lies on the line, half a millimetre beyond a window's end at ``x``."""
    tip, back = x + way * 0.5, x + way * (0.5 + NOTCH_MM / 2**0.5)
    rise = NOTCH_MM / 2**0.5
    return line_chain([(back, rise), (tip, 0.0), (back, -rise)], closed=False)


def scored_line(piece: Piece, face: FaceName, plate: Region, pins: tuple[Cut, ...]) -> SetUp:
    """The set-up of the underside: the x axis scored from edge to edge, located by index holes and outline."""
    under = other_face(face)
    x0, _, x1, _ = piece.region.bounds
    found = []
    for line in shapely.get_parts(
        shapely.intersection(shapely.LineString([(x0, 0.0), (x1, 0.0)]), piece.region.polygon)
    ):
        if line.geom_type == "LineString":
            a, b = sorted(round(float(x), 6) for x in shapely.get_coordinates(line)[[0, -1], 0])
            found.append(line_chain([(a, 0.0), (b, 0.0)], closed=False))
    ops = [index(c, under) for c in pins]
    if found:
        ops.append(Op(work="SCORE", face=under, contours=tuple(found), step=piece.name))
    ops.append(Op(work="REFERENCE", face=under, contours=plate.contours, step=piece.name))
    return SetUp(face=under, ops=tuple(ops))
