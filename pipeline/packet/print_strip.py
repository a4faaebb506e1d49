"""The edge of a blank unrolled onto paper, to be wrapped round a foam model: as long as its outline, as high as it
is thick, with the glue lines, a tick every 50 mm, corners, the centreline and marks.

It begins at the outline's foremost point and runs on to the right as the outline runs anticlockwise, so the
printed side is seen from outside with the front face on top.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.core.errors import refuse
from pipeline.geometry.alongside import Rim
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.shapes import rectangle
from pipeline.geometry.wobble import corners
from pipeline.packet.print_how import How
from pipeline.packet.print_loose import Text, Thing
from pipeline.packet.print_scene import Stroke, Style, scene_of
from pipeline.packet.shop_sheet_ink import LETTER_MM, width
from pipeline.steps.values import Blank, Derived

TAB_MM = 12.0
EVERY_MM = 50.0
CORNER_DEG = 25.0
"""A turn of more than this is a corner (trade.md 15)."""
NEAR_MM = 20.0
"""A mark as near to the outline as this is shown on its edge."""
BAND_MM = 4.0
"""A lamination as thick as this takes a line of words between its glue lines."""
ROW_MM = 4.4
TICK_MM = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """A place on the edge, by its arc length."""

    s: float
    text: str


def thickness_of(derived: Derived, outline: str, how: How) -> float | None:
    """How thick the edge of an outline is: as asked, else that of the blank made from it, else None."""
    if how.thickness_mm is not None:
        return how.thickness_mm
    blank = _blank_of(derived, outline)
    return blank.thickness_mm if blank else None


def _blank_of(derived: Derived, outline: str) -> Blank | None:
    for blank in derived.blanks:
        if getattr(derived.recipe.steps[blank.step].spec, "outline", "") == outline:
            return blank
    return None


def strip_things(derived: Derived, outline: str, how: How, room_mm: float) -> tuple[Thing, ...]:
    """The edge of every outer contour of an outline in pieces no longer than ``room_mm``, tab included.

    Raises Refused where nothing says how thick the edge is.
    """
    thick = thickness_of(derived, outline, how)
    if thick is None:
        raise refuse(
            f"No stack is made from {outline}, so nothing says how thick its edge is.",
            remedy="say it: --thickness 40",
        )
    blank = _blank_of(derived, outline) if how.thickness_mm is None else None
    heights = [v.z1 for v in blank.laminations[:-1]] if blank else []
    region = derived.results[outline].region
    assert region is not None
    found: list[Thing] = []
    for k, part in enumerate(region.parts):
        rim = Rim.of(part.outer)
        name = outline if len(region.parts) == 1 else f"{outline}, part {k + 1}"
        found += _pieces(name, rim.length, _places(derived, outline, rim), thick, heights, room_mm)
    return tuple(found)


def _places(derived: Derived, outline: str, rim: Rim) -> list[_Place]:
    """Corners, crossings of the centreline and marks, in the order of the edge."""
    c = rim.contour
    found = [
        _Place(s=(float(rim.walk.stops[i]) - rim.zero) % rim.length, text="corner") for i in corners(c, CORNER_DEG)
    ]
    scene = scene_of(derived, outline, (Stroke(style="edge", contour=c),))
    if scene.axis:
        found += [_Place(s=s, text="centreline") for s in _crossings(rim)]
    for name, x, y in scene.marks:
        s, away = rim.locate(x, y)
        if away <= NEAR_MM:
            found.append(_Place(s=s, text=name))
    return sorted(found, key=lambda p: (p.s, p.text))


def _crossings(rim: Rim) -> Iterator[float]:
    """Arc lengths at which the edge crosses y = 0, between points 0.25 mm apart by their straight line."""
    s = np.linspace(0.0, rim.length, max(16, math.ceil(rim.length / 0.25)) + 1)
    y = rim.at(s)[0][:, 1]
    for i in np.flatnonzero((y[:-1] < 0) != (y[1:] < 0)).tolist():
        yield float(s[i] + (s[i + 1] - s[i]) * y[i] / (y[i] - y[i + 1]))


def _pieces(
    name: str, length: float, places: Sequence[_Place], thick: float, heights: Sequence[float], room_mm: float
) -> Iterator[Thing]:
    """Equal pieces of the strip, each with a tab for the next one, the last with one to close the ring."""
    count = max(1, math.ceil(length / (room_mm - TAB_MM) - 1e-9))
    long = length / count
    rows, below = _rows(thick, heights)
    for n in range(count):
        a, b = n * long, (n + 1) * long
        strokes = [
            _line("edge", rectangle(long, thick, x=long / 2, y=below + thick / 2)),
            _line("carve", rectangle(TAB_MM, thick, x=long + TAB_MM / 2, y=below + thick / 2)),
            *(_straight("carve", 0.0, below + z, long, below + z) for z in heights),
        ]
        numbers: list[tuple[float, str]] = []
        for k in range(math.ceil(a / EVERY_MM - 1e-9), math.floor(b / EVERY_MM + 1e-9) + 1):
            at = k * EVERY_MM - a
            strokes += _ticks("edge", at, below, thick)
            numbers.append((at, f"{k * EVERY_MM:.0f}"))
        names = [(0.0, f"{name}: edge {n + 1} of {count}, {thick:.2f} mm thick, front face on top")]
        marks: list[tuple[float, str]] = []
        for p in places:
            if a - 1e-9 <= p.s < b - 1e-9:
                strokes += _ticks("front", p.s - a, below, thick)
                marks.append((p.s - a, f"{p.text} {p.s:.1f}"))
        words: list[Text] = []
        for row, texts in zip(rows, (numbers, marks, names), strict=True):
            words += _in_a_row(texts, row, long)
        words.append(Text(text="glue", x=long + 2.0, y=below + thick / 2 - LETTER_MM / 2))
        yield Thing(
            name=f"{name}, the strip of its edge",
            size=(long + TAB_MM, thick + below),
            strokes=tuple(strokes),
            words=tuple(words),
        )


def _rows(thick: float, heights: Sequence[float]) -> tuple[tuple[float, float, float], float]:
    """Base lines of the three rows of words, and what the rows below the strip need: each in a lamination of its
    own where there is one thick enough, three in one that takes them, else below the strip."""
    levels = [0.0, *heights, thick]
    spots: list[float] = []
    for low, high in sorted(pairwise(levels), key=lambda v: -v[0]):
        fit = int((high - low - 2 * TICK_MM * (high - low >= 3 * BAND_MM)) // BAND_MM)
        middle = (low + high) / 2 - LETTER_MM / 2
        spots += [middle + BAND_MM * ((fit - 1) / 2 - k) for k in range(fit)]
    if len(spots) > 3 and len(levels) > 3:  # one a lamination reads better than three in the topmost
        middles = [(a + b) / 2 - LETTER_MM / 2 for a, b in pairwise(levels) if b - a >= BAND_MM]
        if len(middles) >= 3:
            spots = middles[::-1]
    inside = spots[:3]
    outside = 3 - len(inside)
    below = outside * ROW_MM + (1.0 if outside else 0.0)
    rows = [below + y for y in inside] + [below - ROW_MM * (k + 1) + 0.8 for k in range(outside)]
    return (rows[0], rows[1], rows[2]), below


def _in_a_row(texts: Sequence[tuple[float, str]], y: float, long: float) -> Iterator[Text]:
    """Words behind their places, pushed on where the one before is in the way, back where the strip ends."""
    end = 0.0
    for x, text in texts:
        wide = width(text)
        at = max(x + 0.8, end)
        if at + wide > long - 0.5 and x - 0.8 - wide >= end:
            at = x - 0.8 - wide
        yield Text(text=text, x=at, y=y)
        end = at + wide + 1.6


def _line(style: Style, contour: Contour) -> Stroke:
    return Stroke(style=style, contour=contour)


def _straight(style: Style, xa: float, ya: float, xb: float, yb: float) -> Stroke:
    return _line(style, line_chain([(xa, ya), (xb, yb)], closed=False))


def _ticks(style: Style, x: float, below: float, thick: float) -> tuple[Stroke, Stroke]:
    """A tick down from the front edge and one up from the back edge."""
    tick = min(TICK_MM, thick / 4)
    top = below + thick
    return _straight(style, x, top, x, top - tick), _straight(style, x, below, x, below + tick)
