"""Engraved words: a single-stroke alphabet of our own, drawn as open and closed polylines.

The signs stand in `pipeline/data/strokes.txt` on a grid of 10 units to the height; this module reads them
and sets lines of text. A sign that the alphabet lacks is drawn as a box, and `unknown_signs` names it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import QUARTER
from pipeline.geometry.transform import Move, shift, turn

GRID = 10.0
"""Units of the data file to the height of a capital."""
BETWEEN = 3.0
"""Between the axes of neighbouring letters: 2/10 h clear (ISO 3098 type B) and one stroke of 1/10 h."""
SPACE = 7.0
"""Between the axes of neighbouring words: 6/10 h clear (ISO 3098 type B) and one stroke."""

_ARCS: Mapping[str, float] = MappingProxyType({"(": QUARTER, ")": -QUARTER, "((": 1.0, "))": -1.0, "": 0.0})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One sign on the grid: its width and its strokes."""

    width: float
    strokes: tuple[Contour, ...]


@cache
def alphabet() -> Mapping[str, Sign]:
    """All signs by character. Raises ValueError on a damaged data file."""
    text = files("pipeline").joinpath("data/strokes.txt").read_text(encoding="utf-8")
    signs: dict[str, Sign] = {}
    for n, line in enumerate(text.split("\n"), 1):
        if not line or line.startswith("#"):
            continue
        sign, width, *rest = line.split(" ")
        if len(sign) != 1 or sign in signs:
            raise ValueError(f"strokes.txt line {n}: {sign!r} is no new single sign")
        strokes = " ".join(rest).split(" ; ")
        signs[sign] = Sign(width=float(width), strokes=tuple(_stroke(s) for s in strokes))
    return MappingProxyType(signs)


def _stroke(text: str) -> Contour:
    words = text.split(" ")
    closed = words[-1] == "o"
    points: list[tuple[float, float]] = []
    bulges: list[float] = []
    for word in words[:-1] if closed else words:
        place = word.rstrip("()")
        x, y = place.split(",")
        points.append((float(x), float(y)))
        bulges.append(_ARCS[word[len(place) :]])
    return chain(points, bulges, closed=closed)


_BOX = Sign(width=5.0, strokes=(chain([(0, 0), (5, 0), (5, 10), (0, 10)], [0.0] * 4),))


def unknown_signs(text: str) -> tuple[str, ...]:
    """The signs of ``text`` that the alphabet lacks, each once, in order."""
    return tuple(dict.fromkeys(c for c in text if c != " " and c not in alphabet()))


def text_width(text: str, height: float) -> float:
    """Length in mm of one line of text, from the first stroke's axis to the last one's."""
    return _width(text) * height / GRID


def _width(text: str) -> float:
    """Width on the grid; a space replaces the gap between its neighbours."""
    at, gap = 0.0, 0.0
    for c in text:
        if c == " ":
            gap = SPACE if gap <= BETWEEN else gap + SPACE
            continue
        at += gap + alphabet().get(c, _BOX).width
        gap = BETWEEN
    return at


def text_strokes(
    text: str, x: float, y: float, height: float, turn_deg: float = 0.0, centred: bool = False
) -> tuple[Contour, ...]:
    """One line of text as strokes of lines and arcs.

    (``x``, ``y``) in mm is the left end of the baseline, or with ``centred`` the middle of the line's length and
    of a capital's height; ``turn_deg`` turns it anticlockwise about that point; ``height`` is a capital's.
    """
    scale = height / GRID
    start = Move(a=scale, e=-_width(text) * scale / 2, f=-height / 2) if centred else Move(a=scale)
    place = start.then(turn(turn_deg)).then(shift(x, y))
    return tuple(shift(at, 0.0).then(place).contour(s) for at, strokes in placed_signs(text) for s in strokes)


def placed_signs(text: str) -> Iterator[tuple[float, tuple[Contour, ...]]]:
    """Where each sign of a line begins on the grid, and its strokes there."""
    at, gap = 0.0, 0.0
    for c in text:
        if c == " ":
            gap = SPACE if gap <= BETWEEN else gap + SPACE
            continue
        sign = alphabet().get(c, _BOX)
        yield at + gap, sign.strokes
        at += gap + sign.width
        gap = BETWEEN
