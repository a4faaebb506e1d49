"""Places for engraved text: wholly inside a piece's own wood, clear of every cut."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.core.shop import Shop
from pipeline.geometry.region import EMPTY, Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.values import Label

HEIGHTS_MM = (6.0, 5.0, 4.0, 3.5, 3.0, 2.5)
"""Letter heights, the first that fits is taken: 6 for a router, 2.5 is the least a laser engraves
(trade.md 7.4, common practice)."""
ROUTER_LEAST_MM = 6.0
ADVANCE = 0.9
WIDE_ADVANCE = 1.15
"""Most that a letter takes with its gap, in letter heights, for letters of ISO 3098 type B; M and W more."""
LEADING = 1.7
CLEAR_MM = 2.0
"""Wood kept between text and any cut."""
STROKE_MM = 0.3
"""Depth of engraved strokes (trade.md 7.4: 0.2 to 0.4)."""
GRID = 32


def placed(
    area: Region,
    lines: tuple[str, ...],
    shop: Shop,
    keep_off: tuple[Region, ...] = (),
    *,
    mirrored: bool = False,
    clear_mm: float = CLEAR_MM,
) -> tuple[Label, ...]:
    """The lines as one block of centred labels, upright or turned a quarter, as large as fits.

    ``area`` is the piece less its openings, ``keep_off`` what is pocketed. Empty when even the
    smallest letters fit nowhere. ``clear_mm`` stays free round the block. Of the places that fit, the
    roomiest is taken. ``mirrored``: the design will be mirrored about the x axis, which turns the order of
    upright lines, so they are set the other way round.
    """
    free = shapely.difference(area.polygon, shapely.unary_union([k.polygon for k in keep_off]))
    free = free.buffer(-clear_mm, quad_segs=8).simplify(0.01)
    if free.is_empty:
        return ()
    for height in HEIGHTS_MM:
        for turn in (0.0, 90.0):
            spot = _spot(free, lines, height, turn)
            if spot is not None:
                turned = mirrored and turn == 0.0
                return _block(lines[::-1] if turned else lines, spot, height, turn)
    return ()


def fits_well(labels: tuple[Label, ...], shop: Shop) -> bool:
    """True when the letters are as high as the shop's way of cutting asks for."""
    return bool(labels) and (shop.process == "laser" or labels[0].height_mm >= ROUTER_LEAST_MM)


def width_of(text: str, height: float) -> float:
    """The most that one line of text is long, in mm."""
    return sum(WIDE_ADVANCE if c in "MW" else ADVANCE for c in text) * height


def block_of(labels: tuple[Label, ...]) -> Region:
    """The rectangle that a block of labels, as ``placed`` gives it, keeps for itself; empty without labels."""
    if not labels:
        return EMPTY
    first = labels[0]
    w, h = block_size(tuple(v.text for v in labels), first.height_mm)
    x, y = (sum(v.at[k] for v in labels) / len(labels) for k in (0, 1))
    return solid(rectangle(w, h, x=x, y=y) if first.turn_deg == 0.0 else rectangle(h, w, x=x, y=y))


def block_size(lines: tuple[str, ...], height: float) -> tuple[float, float]:
    """Width and height of the block, half a letter to spare above and below."""
    width = max(width_of(t, height) for t in lines)
    return width, ((len(lines) - 1) * LEADING + 2.0) * height


def _spot(
    free: shapely.Geometry, lines: tuple[str, ...], height: float, turn: float
) -> tuple[float, float] | None:
    w, h = block_size(lines, height) if turn == 0.0 else block_size(lines, height)[::-1]
    x0, y0, x1, y1 = free.bounds
    if x1 - x0 < w or y1 - y0 < h:
        return None
    xs, ys = np.linspace(x0 + w / 2, x1 - w / 2, GRID), np.linspace(y0 + h / 2, y1 - h / 2, GRID)
    cx, cy = (g.ravel() for g in np.meshgrid(xs, ys))
    boxes = shapely.box(cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2)
    shapely.prepare(free)
    good = np.flatnonzero(shapely.contains_properly(free, boxes))
    if not len(good):
        return None
    room = np.round(shapely.distance(boxes[good], free.boundary), 3)
    best = good[np.lexsort((cy[good], cx[good], -room))[0]]
    return round(float(cx[best]), 2), round(float(cy[best]), 2)


def _block(lines: tuple[str, ...], spot: tuple[float, float], height: float, turn: float) -> tuple[Label, ...]:
    x, y = spot
    found = []
    for i, text in enumerate(lines):
        below = (i - (len(lines) - 1) / 2) * LEADING * height
        at = (x, y - below) if turn == 0.0 else (x + below, y)
        found.append(
            Label(
                text=text, at=at, height_mm=height, engrave=True, depth_mm=STROKE_MM, turn_deg=turn, centred=True
            )
        )
    return tuple(found)
