"""A shape that only lies elsewhere: the shift or turn that takes its old line to the new one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pipeline.compare.measure import apart
from pipeline.geometry.contour import Contour
from pipeline.geometry.transform import Move

Pairs = Sequence[tuple[Contour, Contour]]
CLOSE_MM = 0.02
"""Lengths of segments that agree within this may be the same segment."""


def moved_alike(pairs: Pairs, tolerance_mm: float) -> Move | None:
    """The one shift or turn that brings every old contour within the tolerance of its new one, None without any.

    The largest pair proposes it: a shift by its middle, or, with as many vertices on either side, the turn that
    fits them best (least squares, Kabsch 1976).
    """
    if not pairs:
        return None
    old, new = max(pairs, key=lambda p: p[0].length)
    for move in (*_shifts(old, new), *_turns(old, new)):
        if all(apart(move.contour(a), b).mm <= tolerance_mm for a, b in pairs):
            return move
    return None


def said(move: Move) -> str:
    """A move in words: ``0.40 in x, −1.20 in y`` and, where it turns, by how many degrees about zero."""
    degrees = math.degrees(math.atan2(move.b, move.a))
    shift = f"{move.e:+.2f} in x, {move.f:+.2f} in y"
    return shift if abs(degrees) < 1e-4 else f"turned by {degrees:.3f}° about zero, then {shift}"


def length_of(move: Move, near: Sequence[float]) -> float:
    """How far a move takes the farthest corner of a box, in mm."""
    x0, y0, x1, y1 = near
    return max(math.dist(move.point(x, y), (x, y)) for x in (x0, x1) for y in (y0, y1))


def _shifts(old: Contour, new: Contour) -> list[Move]:
    a, b = (np.array(c.bounds) for c in (old, new))
    middle = (b[:2] + b[2:] - a[:2] - a[2:]) / 2
    return [Move(1.0, 0.0, float(middle[0]), float(middle[1]))]


def _turns(old: Contour, new: Contour) -> list[Move]:
    if len(old.xy) != len(new.xy) or old.closed != new.closed or len(old.xy) < 2:
        return []
    mine, theirs = (np.hypot(*(c.ends - c.starts).T) for c in (old, new))
    found = []
    for k in range(len(new.xy) if new.closed else 1):
        if np.abs(np.roll(theirs, -k) - mine).max() <= CLOSE_MM:
            found.append(_fit(old.xy, np.roll(new.xy, -k, axis=0)))
    return found


def _fit(old: np.ndarray, new: np.ndarray) -> Move:
    a, b = old.mean(axis=0), new.mean(axis=0)
    p, q = old - a, new - b
    angle = math.atan2(float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()), float((p * q).sum()))
    c, s = math.cos(angle), math.sin(angle)
    return Move(c, s, float(b[0] - c * a[0] + s * a[1]), float(b[1] - s * a[0] - c * a[1]))
