"""Closing one gap between two ends: by the meeting of their tangents, else by a straight line (trade.md 1.8)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment

How = Literal["moved", "corner", "line"]
REACH = 2.0
"""Tangents must meet within so many times the gap from either end."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap that was closed: ``width`` in mm, ``at`` its middle, and ``how``.

    "moved": one end was put on the other; "corner": both sides run on (or end earlier) to where their
    tangents meet; "line": a straight line. ``moved`` is how far what is new lies from what was drawn, mm.
    """

    width: float
    at: complex
    how: How
    moved: float


def bridged(before: Segment, after: Segment) -> tuple[Segment, tuple[Line, ...], Segment, Gap]:
    """The two segments on either side of a gap, what stands between them now, and the gap.

    Lines are made longer or shorter; arcs and curves are kept and run on by a straight piece.
    """
    p, q = before.q, after.p
    width = abs(q - p)
    middle = (p + q) / 2
    meeting = _meeting(before, after, width)
    if meeting is None:
        return before, (Line(p, q),), after, Gap(width, middle, "line", width / 2)
    corner, on, back = meeting
    pieces: list[Line] = []
    if isinstance(before, Line):
        before = Line(before.p, corner)
    elif on:
        pieces.append(Line(p, corner))
    if isinstance(after, Line):
        after = Line(corner, after.q)
    elif back:
        pieces.append(Line(corner, q))
    moved = max(width / 2, min(on, back), -on, -back)
    return before, tuple(pieces), after, Gap(width, middle, "corner", moved)


def _meeting(before: Segment, after: Segment, gap: float) -> tuple[complex, float, float] | None:
    """(corner, mm that ``before`` runs on to it, mm that ``after`` begins earlier); None where there is none.

    Negative lengths are what a line loses: at most half of it, and only of lines.
    """
    d, e = arrives(before), -leaves(after)
    sine = (d.conjugate() * e).imag
    if abs(sine) < 1e-6:
        return None
    off = after.p - before.q
    on = (off.conjugate() * e).imag / sine
    back = (off.conjugate() * d).imag / sine
    if max(abs(on), abs(back)) > REACH * gap:
        return None
    for s, length in ((before, on), (after, back)):
        if length < 0 and not (isinstance(s, Line) and -length <= abs(s.q - s.p) / 2):
            return None
    return before.q + on * d, on, back


def leaves(s: Segment) -> complex:
    """Unit tangent at the start of a segment, in its direction."""
    if isinstance(s, Bow):
        return _unit(math.copysign(1.0, s.sweep) * (s.v * math.cos(s.start) - s.u * math.sin(s.start)))
    if isinstance(s, Cubic):
        return _unit(next((c - s.p for c in (s.c1, s.c2) if abs(c - s.p) > 1e-9), s.q - s.p))
    return _unit(s.q - s.p)


def arrives(s: Segment) -> complex:
    """Unit tangent at the end of a segment, in its direction."""
    return -leaves(s.reversed())


def _unit(d: complex) -> complex:
    return d / abs(d) if d else 0j
