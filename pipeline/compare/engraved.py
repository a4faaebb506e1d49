"""What is engraved on a piece: the same strokes, the same words elsewhere, or other words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.compare.measure import SAME_MM, apart
from pipeline.compare.state import Line, Thing
from pipeline.geometry.contour import Contour

LONG_MM = 25.0
"""A longer stroke is a line to place the piece by (a centreline, an arrow), no letter."""
LETTER_MM = 0.1
"""Strokes whose sizes agree within this are the same sign."""

Engraved = Literal["same", "elsewhere", "marks", "words"]
Floats = NDArray[np.float64]


def engraved(old: Thing, new: Thing, tolerance_mm: float = LETTER_MM) -> Engraved:
    """``same``: every stroke within SAME_MM; ``elsewhere``: the same words in another place; ``marks``: a long
    line lies farther off than the tolerance; ``words``: other signs."""
    a, b = old.of("ENGRAVE"), new.of("ENGRAVE")
    if len(a) == len(b) and (
        not a or _paired(np.hstack([_boxes(a), _sizes(a)]), np.hstack([_boxes(b), _sizes(b)]), SAME_MM)
    ):
        return "same"
    (long, signs), (there, others) = (_split(v) for v in (a, b))
    limit = max(LETTER_MM, tolerance_mm)
    if len(signs) != len(others) or (signs and _paired(_sizes(signs), _sizes(others), limit) is None):
        return "words"
    off = [min((_beside(v.contour, w.contour) for w in there), default=np.inf) for v in long]
    return "marks" if len(long) != len(there) or max(off, default=0.0) > tolerance_mm else "elsewhere"


def _split(lines: Sequence[Line]) -> tuple[list[Line], list[Line]]:
    """Long lines, and signs."""
    long = [v for v in lines if v.contour.length > LONG_MM]
    return long, [v for v in lines if v.contour.length <= LONG_MM]


def _beside(old: Contour, new: Contour) -> float:
    """How far two lines lie off each other, whatever their ends: a centreline may be longer on a larger piece."""
    if len(old.xy) != 2 or len(new.xy) != 2 or old.bulge.any() or new.bulge.any():
        return apart(old, new).mm
    p, q = old.xy
    along = (q - p) / np.hypot(*(q - p))
    return float(np.abs((new.xy - p) @ np.array([-along[1], along[0]])).max())


def _boxes(lines: Sequence[Line]) -> Floats:
    return np.array([v.contour.bounds for v in lines])


def _sizes(lines: Sequence[Line]) -> Floats:
    """What tells one sign from another wherever it stands: its size, length, depth, where its vertices lie in
    it."""
    rows = []
    for v in lines:
        x0, y0, x1, y1 = v.contour.bounds
        x, y = v.contour.xy.mean(axis=0).tolist()
        rows.append((x1 - x0, y1 - y0, v.contour.length, v.depth_mm or 0.0, x - x0, y - y0))
    return np.array(rows)


def _paired(a: Floats, b: Floats, limit: float) -> dict[int, int] | None:
    """Each row of ``a`` with one of ``b`` that agrees within the limit in every number; None when that can't
    be."""
    near = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2) <= limit
    free = list(range(len(b)))
    pairs: dict[int, int] = {}
    for i in range(len(a)):
        match = next((j for j in free if near[i, j]), None)
        if match is None:
            return None
        free.remove(match)
        pairs[i] = match
    return pairs
