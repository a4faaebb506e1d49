"""Lengths, view boxes and how a view box fits its viewport (SVG 2, coords; CSS Values and Units).

Inside a drawing every length becomes user units; only the outermost width and height are physical.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import _NUMBER, LARGEST, PIXELS, Affine, Malformed

MM = {
    "mm": 1.0, "cm": 10.0, "in": 25.4, "q": 0.25, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "": 25.4 / 96,
}  # fmt: skip
"""Millimetres of each unit; a number without unit is a pixel, 1/96 inch."""

_LENGTH = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z%]*)\s*")
_FIT = re.compile(r"\s*(?:defer\s+)?(none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?\s*")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}

Axis = Literal["x", "y", "r"]


@dataclass(frozen=True, slots=True)
class Viewport:
    """The size in user units that percentages refer to; not-a-number where it is unknown."""

    width: float
    height: float

    def share(self, axis: Axis) -> float:
        """100 %: the width, the height, or √((w² + h²)/2)."""
        if axis == "x":
            return self.width
        if axis == "y":
            return self.height
        return math.sqrt((self.width**2 + self.height**2) / 2)


def split_length(text: str) -> tuple[float, str]:
    """(number, unit in lower case). Raises Malformed."""
    found = _LENGTH.fullmatch(text)
    if not found:
        raise Malformed(f"{quoted(text.strip(), 20)} isn't a length")
    if not abs(float(found[1])) <= LARGEST:
        raise Malformed(f"{quoted(text.strip(), 20)} is too large for a drawing")
    return float(found[1]), found[2].lower()


def user_length(text: str, viewport: Viewport, axis: Axis) -> float:
    """A length in user units. Raises Malformed on a unit that a drawing has no measure for."""
    number, unit = split_length(text)
    if unit == "%":
        share = viewport.share(axis)
        if math.isnan(share):
            raise Malformed(f"{quoted(text.strip(), 20)} is a share of a page whose size is unknown")
        return number / 100 * share
    if unit not in PIXELS:
        raise Malformed(f"the unit {quoted(unit)} of {quoted(text.strip(), 20)} has no fixed length")
    return number * PIXELS[unit]


def parse_view_box(text: str) -> tuple[float, float, float, float]:
    """(x, y, width, height). Raises Malformed unless it is four numbers with a positive size."""
    words = [w for w in re.split(r"[\s,]+", text.strip()) if w]
    if len(words) != 4 or not all(re.fullmatch(_NUMBER, w) for w in words):
        raise Malformed(f"{quoted(text.strip())} isn't four numbers")
    x, y, w, h = (float(v) for v in words)
    if not all(abs(v) <= LARGEST for v in (x, y, w, h)):
        raise Malformed(f"{quoted(text.strip())} is too large for a drawing")
    if w < 1 / LARGEST or h < 1 / LARGEST:
        raise Malformed("its width and height must be greater than zero")
    return x, y, w, h


def fit(width: float, height: float, box: tuple[float, float, float, float], how: str = "") -> Affine:
    """The map from a view box to a viewport of ``width`` by ``height`` (SVG 2, 8.2).

    ``how`` is preserveAspectRatio, "" for xMidYMid meet. Raises Malformed.
    """
    found = _FIT.fullmatch(how or "xMidYMid meet")
    if not found:
        raise Malformed(f"{quoted(how.strip())} isn't an alignment")
    x, y, w, h = box
    sx, sy = width / w, height / h
    if found[1] == "none":
        return Affine(sx, 0.0, 0.0, sy, -x * sx, -y * sy)
    s = max(sx, sy) if found[4] == "slice" else min(sx, sy)
    dx = (width - w * s) * _SHARE[found[2]]
    dy = (height - h * s) * _SHARE[found[3]]
    return Affine(s, 0.0, 0.0, s, dx - x * s, dy - y * s)
