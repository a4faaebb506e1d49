"""Feed arrows on a template.

A wrong feed arrow is a safety defect. The rule (trade.md 5.3, published): with a hand router, whose cutter turns
clockwise seen from above, feed anticlockwise round an outside edge and clockwise inside an opening. Either way
the template's wood lies to the left of the feed, seen from above with the up face up. The design frame is
seen from the front, so on a template whose back lies up the arrow is drawn with the wood on its right, and the
packet turns it over; a left-handed design is mirrored after it is made, so there it is drawn the other way
round again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely

from pipeline.core.fields import FaceName
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, Floats, line_chain
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.steps.follow import Use
from pipeline.steps.labels import CLEAR_MM, HEIGHTS_MM, width_of
from pipeline.steps.values import Label

ARROW_MM, BARB_MM = 24.0, 3.0
"""Length of a feed arrow, and of its head to either side."""
INSET_MM = 7.0
"""Distance of an arrow from the edge that is followed."""
WORDS = "HAND ROUTER"
GAP_MM = 1.5
STRAIGHT_MM = 0.3
"""The second arrow may lie by an edge that is so much less straight than the first one's."""
SPOTS_MM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A template as it is marked: ``wood`` is one part of it less all its holes, ``followed`` the region whose
    edge is followed (None where none is), ``face`` lies up. ``centreline``: the x axis is one. ``mirrored``: the
    whole design is mirrored about the x axis when it is done. ``over``: about which axis a
    back is turned up."""

    wood: Region
    followed: Region | None
    use: Use
    face: FaceName
    shop: Shop
    lines: tuple[str, ...]
    centreline: bool
    mirrored: bool
    over: Literal["x", "y"] = "x"


def material_left(face: FaceName, mirrored: bool) -> bool:
    """Whether the wood lies to the left of a feed arrow as it is drawn in the design frame, before any mirroring.

    Front up: the frame is what one sees. Back up: it is seen from below. A mirrored design: once more.
    """
    return (face == "front") != mirrored


Mark = tuple[Any, list[Contour], list[Label]]


def arrows_of(plate: Plate, free: Any) -> list[Mark]:
    """Up to two arrows along the edge that is followed, as far apart as may be, each with its words."""
    assert plate.followed is not None
    inward = -INSET_MM if plate.use == "outside" else INSET_MM
    paths = [p.outer for p in offset(plate.followed, inward).parts]
    if plate.use == "outside":
        paths += [h for p in offset(plate.followed, inward).parts for h in p.holes]
    for height in HEIGHTS_MM:
        for beside in (True, False):
            found = [s for path in paths for s in _spots(plate, path, free, height, beside)]
            if not found:
                continue
            first = min(found, key=lambda s: (s.bow, s.x, s.y))
            straight = [s for s in found if s.bow <= first.bow + STRAIGHT_MM]
            far = max(straight, key=lambda s: (round(math.hypot(s.x - first.x, s.y - first.y), 3), -s.x, -s.y))
            pair = [first]
            if not far.box.buffer(CLEAR_MM).intersects(first.box):
                pair.append(far)
            return [_drawn(s, height) for s in pair]
    return []


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """A place of an arrow: its middle, its direction, the middle of its words, its box; ``bow``: how far the edge
    departs from straight along it."""

    x: float
    y: float
    ux: float
    uy: float
    words: tuple[float, float]
    box: Any
    bow: float


def _spots(plate: Plate, path: Contour, free: Any, height: float, beside: bool) -> Iterator[_Spot]:
    """Places along a path where arrow and words lie in the free wood; the words beside it or behind it."""
    ring = shapely.LinearRing(path.flatten(0.01)[0])
    if ring.length < 2 * ARROW_MM:
        return
    n = math.ceil(ring.length / SPOTS_MM)
    at = np.arange(n) * (ring.length / n)
    middle, tail, tip = (_along(ring, at + d) for d in (0.0, -ARROW_MM / 2, ARROW_MM / 2))
    bow = np.zeros(n)
    for d in (-0.5, -0.25, 0.25, 0.5):
        bow = np.maximum(bow, np.abs(_beside(tail, tip, _along(ring, at + d * ARROW_MM))))
    bow = np.maximum(bow, np.abs(_beside(tail, tip, middle)))
    way = tip - tail
    length = np.hypot(way[:, 0], way[:, 1])
    good = np.flatnonzero(length > ARROW_MM / 2)
    way[good] /= length[good][:, None]
    left = material_left(plate.face, plate.mirrored)
    if (
        plate.use == "outside"
    ) != left:  # the path has the wood on its left outside, on its right round an opening
        way = -way
    to_wood = np.stack([-way[:, 1], way[:, 0]], axis=1) * (1.0 if left else -1.0)
    wide = width_of(WORDS, height)
    for k in good.tolist():
        u, w, c = way[k], to_wood[k], middle[k]
        if beside:
            words = c + w * (BARB_MM + GAP_MM + height / 2)
            half, low, high = max(ARROW_MM, wide) / 2, -BARB_MM, BARB_MM + GAP_MM + height
            box = _box(c, u, w, -half, half, low, high)
        else:
            words = c - u * (ARROW_MM / 2 + 2 * GAP_MM + wide / 2)
            side = max(BARB_MM, height / 2)
            box = _box(c, u, w, -(ARROW_MM / 2 + 2 * GAP_MM + wide), ARROW_MM / 2, -side, side)
        if shapely.contains_properly(free, box):
            yield _Spot(
                x=round(float(c[0]), 3),
                y=round(float(c[1]), 3),
                ux=float(u[0]),
                uy=float(u[1]),
                words=(round(float(words[0]), 3), round(float(words[1]), 3)),
                box=box,
                bow=round(float(bow[k]), 2),
            )


def _along(ring: Any, at: Floats) -> Floats:
    points: Floats = shapely.get_coordinates(shapely.line_interpolate_point(ring, at % ring.length))
    return points


def _beside(p: Floats, q: Floats, points: Floats) -> Floats:
    d = q - p
    off: Floats = (d[:, 0] * (points - p)[:, 1] - d[:, 1] * (points - p)[:, 0]) / np.maximum(np.hypot(*d.T), 1e-9)
    return off


def _box(c: Floats, u: Floats, w: Floats, a: float, b: float, low: float, high: float) -> Any:
    """The rectangle from a to b along u and from low to high along w, about c."""
    return shapely.Polygon([c + u * a + w * low, c + u * b + w * low, c + u * b + w * high, c + u * a + w * high])


def _drawn(s: _Spot, height: float) -> Mark:
    """Shaft from tail to tip, and a head whose middle vertex is the tip."""
    c, u, v = np.array([s.x, s.y]), np.array([s.ux, s.uy]), np.array([-s.uy, s.ux])
    tail, tip = c - u * ARROW_MM / 2, c + u * ARROW_MM / 2
    barbs = [tip - u * 2 * BARB_MM + v * BARB_MM * k for k in (1, -1)]
    strokes = [
        line_chain([_xy(tail), _xy(tip)], closed=False),
        line_chain([_xy(barbs[0]), _xy(tip), _xy(barbs[1])], closed=False),
    ]
    turn = math.degrees(math.atan2(s.uy, s.ux))
    turn = (turn + 90.0) % 180.0 - 90.0
    turn = 90.0 if round(turn, 2) == -90.0 else round(turn, 2) + 0.0
    words = Label(text=WORDS, at=s.words, height_mm=height, engrave=True, turn_deg=turn, centred=True)
    return s.box, strokes, [words]


def _xy(p: Floats) -> tuple[float, float]:
    return round(float(p[0]), 6) + 0.0, round(float(p[1]), 6) + 0.0
