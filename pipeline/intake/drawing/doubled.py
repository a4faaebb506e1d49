"""A line doubled at the width of a stroke: a stroke that was turned into an outline (trade.md 1.8)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from pipeline.geometry.contour import Contour

LEAST_MM, MOST_MM = 0.1, 0.5
"""Usual widths of a drawn line."""
SLACK_MM = 0.005
LONG = 20
"""A strip at least so many times as long as it is wide is a line."""


@dataclass(frozen=True, slots=True)
class Doubled:
    """A strip of constant width along a closed contour, or one thin contour alone."""

    spacing: float
    at: tuple[float, float]
    ring: bool


def doubled(contours: Sequence[Contour]) -> Doubled | None:
    """The first strip of a stroke's width among closed contours, each alone or each with one inside it."""
    contours = [c for c in contours if len(c) > 2 or c.bulges.any()]
    flat = [c.flatten()[0] for c in contours]
    boxes = [c.bounds for c in contours]
    order = sorted(range(len(contours)), key=lambda k: boxes[k][0])
    for n, k in enumerate(order):
        width = _strip(shapely.Polygon(flat[k])) if _thin(contours[k]) else None
        if width is not None:
            return Doubled(width, _xy(contours[k]), ring=False)
        for m in order[n + 1 :]:
            if boxes[m][0] - boxes[k][0] > 2 * MOST_MM:
                break
            if all(0 < d < 2 * MOST_MM for d in _inside(boxes[k], boxes[m])):
                width = _strip(shapely.Polygon(flat[k], [flat[m]]))
                if width is not None:
                    return Doubled(width, _xy(contours[k]), ring=True)
    return None


def _thin(c: Contour) -> bool:
    return 2 * abs(c.area) < (MOST_MM + SLACK_MM) * c.length


def _inside(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, ...]:
    """How far box b lies inside box a on its four sides."""
    return b[0] - a[0], b[1] - a[1], a[2] - b[2], a[3] - b[3]


def _strip(shape: shapely.Polygon) -> float | None:
    """The width of a strip of nearly constant width between LEAST_MM and MOST_MM; None for other shapes.

    A strip of area A has the perimeter 2 A / w. Taking 0.4 w off either side leaves a fifth of it, 0.6 w
    nothing; of a wedge or a lens more is left.
    """
    if not shape.is_valid or not shape.area:
        return None
    w = 2 * shape.area / shape.length
    for _ in range(2):  # the ends of one thin contour count as sides first
        if len(shape.interiors) == 0:
            w = 2 * shape.area / (shape.length - 2 * w)
    if not LEAST_MM - SLACK_MM <= w <= MOST_MM + SLACK_MM or shape.length < 2 * LONG * w:
        return None
    left = shape.buffer(-0.4 * w).area / shape.area
    rest = shape.buffer(-0.6 * w).area / shape.area  # a little is left in sharp corners
    return w if 0.12 <= left <= 0.28 and rest <= 0.02 else None


def _xy(c: Contour) -> tuple[float, float]:
    return float(c.xy[0, 0]), float(c.xy[0, 1])
