"""Names of shapes and marks on a print, each where it meets no line."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from pipeline.geometry.contour import Contour
from pipeline.packet.print_room import Box, Room
from pipeline.packet.print_scene import Scene, Stroke
from pipeline.packet.shop_sheet_ink import LETTER_MM, cut_to, width

Point = tuple[float, float]
WIDEST_MM = 70.0
BESIDE_MM = 1.6
AROUND = 48
"""Places along a line at which its name is tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """A name with the left end of its base line; ``leader``: a thin line to it from what it names."""

    text: str
    x: float
    y: float
    leader: tuple[Point, Point] | None = None


def named(scene: Scene, room: Room) -> tuple[Name, ...]:
    """The names of all shapes, each once, and of all marks; their room is taken.

    A name stands inside its closed shape if it fits, else beside its line, with a leader where it stands further
    off; where no place is free, at the one that meets least.
    """
    x0, y0, x1, y1 = scene.bounds
    found: list[Name] = []

    def put(text: str, spots: Callable[[str, float], Iterator[Name]]) -> None:
        short = cut_to(text, WIDEST_MM)
        long = width(short)
        name = room.least(spots(short, long), lambda n: _box(n, long))
        room.box(_box(name, long))
        found.append(name)

    for text, x, y in scene.marks:
        if x0 <= x <= x1 and y0 <= y <= y1:
            put(text, partial(_by_mark, x, y))
    first: dict[str, Stroke] = {}
    for stroke in scene.strokes:
        if stroke.label and stroke.label != scene.name:
            first.setdefault(stroke.label, stroke)
    # The smallest first: it has the least choice.
    for label, stroke in sorted(first.items(), key=lambda v: (_size(v[1].contour), v[0])):
        put(label, partial(_by_shape, stroke))
    return tuple(found)


def _box(name: Name, long: float) -> Box:
    return name.x - 0.8, name.y - 1.2, name.x + long + 0.8, name.y + LETTER_MM + 0.6


def _size(c: Contour) -> float:
    x0, y0, x1, y1 = c.bounds
    return round((x1 - x0) * (y1 - y0), 3)


def _by_mark(x: float, y: float, text: str, long: float) -> Iterator[Name]:
    for far in (1.6, 4.0, 7.0, 10.0, 14.0):
        for up in (far, -far - LETTER_MM):
            for right in (1.6, 4.0, 8.0):
                yield Name(text=text, x=x + right, y=y + up)
                yield Name(text=text, x=x - right - long, y=y + up)


def _by_shape(stroke: Stroke, text: str, long: float) -> Iterator[Name]:
    """Places to try, the best first: about the middle of a closed shape, then along its line, on both sides."""
    c = stroke.contour
    x0, y0, x1, y1 = c.bounds
    if stroke.style in ("front", "back") and c.closed and x1 - x0 > long + 3.0 and not text.endswith(" recess"):
        for k in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9):
            for j in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9):
                yield Name(text=text, x=x0 + (x1 - x0 - long) * j, y=y0 + (y1 - y0 - LETTER_MM) * k)
    points, _ = c.flatten(0.1)
    pick = points[np.unique(np.linspace(0, len(points) - 1, AROUND).round().astype(int))].tolist()
    for away in (BESIDE_MM, 3.0, 7.0, 12.0, 18.0, 26.0):
        led = away > 3.0
        for px, py in pick:
            for end, x, y in (
                ((px + away - 0.8, py), px + away, py - LETTER_MM / 2),
                ((px - away + 0.8, py), px - away - long, py - LETTER_MM / 2),
                ((px, py + away - 0.8), px - long / 2, py + away),
                ((px, py - away + 0.8), px - long / 2, py - away - LETTER_MM),
            ):
                yield Name(text=text, x=x, y=y, leader=((px, py), end) if led else None)
