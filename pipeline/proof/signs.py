"""What engraved words should look like: the package's single-stroke alphabet, laid out once more.

The signs are data (`pipeline/data/strokes.txt`); this module reads and sets them without the code that
engraves them, so a mirrored, shifted or missing letter shows when the two are compared.
"""

from __future__ import annotations

import math
from functools import cache
from importlib.resources import files

import numpy as np

from pipeline.geometry.contour import Contour, chain

UNITS = 10.0
"""Units of the alphabet to the height of a capital (the data file says so)."""
LETTER, WORD = 3.0, 7.0
"""Units between the axes of strokes of neighbouring letters and words (the data file says so, after ISO 3098)."""
_BULGE = {"": 0.0, "(": math.tan(math.pi / 8), ")": -math.tan(math.pi / 8), "((": 1.0, "))": -1.0}

Stroke = tuple[tuple[tuple[float, float], ...], tuple[float, ...], bool]
_UNKNOWN: tuple[float, tuple[Stroke, ...]] = (
    5.0,
    ((((0.0, 0.0), (5.0, 0.0), (5.0, 10.0), (0.0, 10.0)), (0.0,) * 4, True),),
)


@cache
def _alphabet() -> dict[str, tuple[float, tuple[Stroke, ...]]]:
    """Sign → (width, strokes as points, bulges, closed)."""
    found: dict[str, tuple[float, tuple[Stroke, ...]]] = {}
    for line in files("pipeline").joinpath("data/strokes.txt").read_text(encoding="utf-8").splitlines():
        if line[:1] not in ("", "#"):
            sign, width, strokes = line.split(" ", 2)
            found[sign] = (float(width), tuple(_stroke(s.split()) for s in strokes.split(";")))
    return found


def _stroke(words: list[str]) -> Stroke:
    ends_on_start = words[-1] == "o"
    points, bulges = [], []
    for word in words[: len(words) - ends_on_start]:
        spot = word.rstrip("()")
        x, y = spot.split(",")
        points.append((float(x), float(y)))
        bulges.append(_BULGE[word[len(spot) :]])
    return tuple(points), tuple(bulges), ends_on_start


def width_of(text: str, height_mm: float) -> float:
    """Length in mm of a line of text, from its first stroke's axis to its last one's."""
    return max((x + _sign(c)[0] for c, x in _places(text)), default=0.0) * height_mm / UNITS


def strokes_of(text: str, at: tuple[float, float], height_mm: float, turn_deg: float) -> list[Contour]:
    """A line of text whose baseline begins at ``at`` and runs at ``turn_deg``."""
    k = height_mm / UNITS
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    matrix = np.array([[c, s], [-s, c]]) * k
    return [
        chain((np.array(points) + np.array((x, 0.0))) @ matrix + np.array(at), bulges, closed=closed)
        for sign, x in _places(text)
        for points, bulges, closed in _sign(sign)[1]
    ]


def _sign(sign: str) -> tuple[float, tuple[Stroke, ...]]:
    return _alphabet().get(sign, _UNKNOWN)


def _places(text: str) -> list[tuple[str, float]]:
    """Each sign with the x of its left edge, in units; runs of spaces add up."""
    found: list[tuple[str, float]] = []
    edge, spaces = 0.0, 0
    for sign in text:
        if sign == " ":
            spaces += 1
            continue
        if spaces:
            edge += WORD * spaces
        elif found:
            edge += LETTER
        found.append((sign, edge))
        edge += _sign(sign)[0]
        spaces = 0
    return found
