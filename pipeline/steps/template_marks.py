"""What is engraved on a template: text, feed arrows, keep and waste, check crosses, centreline."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.region import Region
from pipeline.steps.follow import Use
from pipeline.steps.labels import CLEAR_MM, block_of, placed, width_of
from pipeline.steps.template_arrows import GAP_MM, Mark, Plate, arrows_of
from pipeline.steps.values import Label

CROSS_MM = 3.0
"""Half the length of the lines of a check cross."""
CHECK_MM = 100.0
"""Between the two check crosses (trade.md 5.3)."""
SHORT_MM = 1.0
"""The centreline ends so far from every edge, so that the edge that is followed stays whole."""
LEAST_LINE_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Strokes to engrave, words, and what found no room."""

    strokes: tuple[Contour, ...] = ()
    labels: tuple[Label, ...] = ()
    text: tuple[Label, ...] = ()
    no_room: tuple[str, ...] = ()


def marks_of(plate: Plate, full: bool) -> Marks:
    """The text in the roomiest place; with ``full`` the rest of what belongs on a template, where it fits."""
    wood = plate.wood.polygon
    strip = _strip(plate) if full and plate.centreline else shapely.Polygon()
    text = _words(plate, plate.wood, plate.lines)
    if text and not strip.is_empty:
        # Beside the centreline where the letters needn't be smaller for it.
        beside = _words(plate, _area(wood.difference(strip)), plate.lines)
        if beside and beside[0].height_mm >= text[0].height_mm:
            text = beside
    if not full:
        return Marks(labels=text, text=text)
    free = shapely.difference(wood, strip).buffer(-CLEAR_MM, quad_segs=8).simplify(0.01)
    free = free.difference(block_of(text).polygon)
    labels, strokes = list(text), []
    taken = [block_of(text).polygon]
    no_room = []
    if plate.followed is not None:
        arrows = arrows_of(plate, free)
        if not arrows:
            no_room.append("feed arrows")
        for box, drawn, words in arrows:
            strokes += drawn
            labels += words
            taken.append(box)
            free = free.difference(box.buffer(GAP_MM))
        said = _words(plate, _area(free), _sides(plate.use), clear_mm=0.0)
        labels += said
        taken.append(block_of(said).polygon)
        free = free.difference(taken[-1])
        if not said:
            no_room.append("the words keep and waste")
    crosses = _crosses(free)
    if crosses is None:
        no_room.append(f"check crosses {CHECK_MM:.0f} mm apart")
    else:
        box, drawn, words = crosses
        strokes += drawn
        labels += words
        taken.append(box)
    if plate.centreline:
        strokes += centreline(plate.wood, taken)
    return Marks(strokes=tuple(strokes), labels=tuple(labels), text=text, no_room=tuple(no_room))


def _words(plate: Plate, area: Region, lines: tuple[str, ...], clear_mm: float = CLEAR_MM) -> tuple[Label, ...]:
    """A block of words that reads from the top down once the design is mirrored and the back turned up."""
    made = placed(area, lines, plate.shop, clear_mm=clear_mm)
    back = plate.face == "back"
    upside = (back and plate.over == "x") != plate.mirrored
    sideways = back and plate.over == "y"
    if made and (upside if made[0].turn_deg == 0.0 else sideways):
        made = tuple(replace(v, text=w.text) for v, w in zip(made, made[::-1], strict=True))
    return made


def _area(shape: Any) -> Region:
    """A flattened shape as a region, for placing words only."""
    from pipeline.geometry.region import Part, region

    return region(
        Part(line_chain(_open_ring(p.exterior)), tuple(line_chain(_open_ring(r)) for r in p.interiors))
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and p.area > 1.0
    )


def _open_ring(ring: Any) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]]


def _sides(use: Use) -> tuple[str, ...]:
    waste = "WASTE OUTSIDE" if use == "outside" else "WASTE INSIDE"
    return ("KEEP UNDER IT", waste, "CUTTER TURNS", "CLOCKWISE")


# -- centreline --------------------------------------------------------------------------------------
def _strip(plate: Plate) -> Any:
    """Room round the centreline."""
    x0, _, x1, _ = plate.wood.bounds
    return shapely.box(x0, -0.5, x1, 0.5)


def centreline(wood: Region, taken: list[Any]) -> list[Contour]:
    """The frame's x axis over the wood, ending a millimetre short of every edge and of what else is engraved."""
    x0, _, x1, _ = wood.bounds
    room = wood.polygon.buffer(-SHORT_MM, quad_segs=8)
    for box in taken:
        room = room.difference(box.buffer(SHORT_MM, join_style="mitre"))
    found = []
    for line in shapely.get_parts(shapely.intersection(shapely.LineString([(x0, 0.0), (x1, 0.0)]), room)):
        if line.geom_type == "LineString" and line.length >= LEAST_LINE_MM:
            a, b = sorted(round(float(x), 3) for x in shapely.get_coordinates(line)[[0, -1], 0])
            found.append((a, b))
    return [line_chain([(a, 0.0), (b, 0.0)], closed=False) for a, b in sorted(found)]


# -- check crosses -----------------------------------------------------------------------------------
def _crosses(free: Any) -> Mark | None:
    """Two fine crosses exactly CHECK_MM apart, lying or standing, with their distance beside the first."""
    if free.is_empty:
        return None
    x0, y0, x1, y1 = free.bounds
    half = CROSS_MM + GAP_MM
    shapely.prepare(free)
    xs, ys = np.arange(math.ceil(x0), x1, 3.0), np.arange(math.ceil(y0), y1, 3.0)
    gx, gy = (g.ravel() for g in np.meshgrid(xs, ys))
    order = np.lexsort((gx, gy))
    gx, gy = gx[order], gy[order]
    text = f"{CHECK_MM:.1f}"
    for height in (5.0, 3.5, 2.5):
        wide = width_of(text, height)
        tall = max(half, height / 2 + GAP_MM)
        for dx, dy in ((CHECK_MM, 0.0), (0.0, CHECK_MM)):
            here = shapely.box(gx - half, gy - tall, gx + half + wide, gy + tall)
            first = np.flatnonzero(shapely.contains_properly(free, here))
            fx, fy = gx[first] + dx, gy[first] + dy
            there = shapely.box(fx - half, fy - half, fx + half, fy + half)
            both = np.flatnonzero(shapely.contains_properly(free, there))
            if not len(both):
                continue
            good, other = first[both], there[both[0]]
            k = int(good[0])
            x, y = float(gx[k]), float(gy[k])
            strokes = [s for p in ((x, y), (x + dx, y + dy)) for s in cross(*p)]
            label = Label(
                text=text, at=(round(x + half + wide / 2, 3), y), height_mm=height, engrave=True, centred=True
            )
            return shapely.union(here[k], other), strokes, [label]
    return None


def cross(x: float, y: float) -> list[Contour]:
    """Two short lines that cross at a point."""
    return [
        line_chain([(x - CROSS_MM, y), (x + CROSS_MM, y)], closed=False),
        line_chain([(x, y - CROSS_MM), (x, y + CROSS_MM)], closed=False),
    ]


def as_deep(labels: tuple[Label, ...], depth_mm: float) -> tuple[Label, ...]:
    """The same words, engraved to a depth."""
    return tuple(replace(v, depth_mm=depth_mm) for v in labels)
