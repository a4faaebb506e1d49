"""Why an object gives no certain area, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.text import quoted
from pipeline.intake.drawing.document import Shape
from pipeline.intake.drawing.fill import Crossing
from pipeline.intake.drawing.joins import ASK_MM
from pipeline.intake.drawing.segments import Subpath
from pipeline.intake.drawing.told import count, where

MANY_ENDS = 400
"""Among the first so many loose ends the nearest two are looked for, to name a gap."""


def crossing(name: str, c: Crossing) -> str:
    spot = where(complex(*c.at))
    if c.first == c.second:
        return (
            f"A line of {quoted(name)} crosses itself at {spot} and isn't filled, so it encloses no certain area."
        )
    return f"Two lines of {quoted(name)} cross at {spot} and aren't filled, so they enclose no certain area."


def fork(name: str, z: complex) -> str:
    return (
        f"Three or more ends of {quoted(name)} meet at {where(z)}, within {ASK_MM:g} mm of each other, "
        "so it isn't certain which lines belong together."
    )


def open_lines(name: str, paths: Sequence[Subpath]) -> str:
    """Which line is open, with both ends of its gap: the narrowest one that there is."""
    more = f" (and {len(paths) - 1} more like it)" if len(paths) > 1 else ""
    ends = [(z, n) for n, p in enumerate(paths) for z in (p.start, p.end)]
    gaps = [
        (abs(z - w), i, j)
        for i, (z, n) in enumerate(ends[:MANY_ENDS])
        for j, (w, m) in enumerate(ends[:MANY_ENDS])
        if i < j and (n != m or len(paths) == 1 or len(paths[n].segments) > 1)
    ]
    width, i, j = min(gaps)
    (p, first), (q, second) = ends[i], ends[j]
    if first == second:
        return (
            f"A line of {quoted(name)} is open{more}: it ends at {where(q)}, "
            f"{width:.2f} mm from where it begins at {where(p)}."
        )
    return (
        f"{count(len(paths), 'line')} of {quoted(name)} are open: the nearest two ends, at {where(p)} and at "
        f"{where(q)}, lie {width:.2f} mm apart. Gaps wider than {ASK_MM:g} mm aren't closed."
    )


def unseen(shapes: Sequence[Shape], name: str) -> str:
    """Why nothing of an object can be seen."""
    if not shapes:
        return f"{quoted(name)} is empty: it draws nothing."
    first = shapes[0]
    if all(s.hidden for s in shapes):
        return f"{quoted(name)} can't be seen: {first.hidden}."
    drawn = [s for s in shapes if s.subpaths]
    if drawn and not any(s.filled or s.stroked for s in drawn):
        return f"{quoted(name)} can't be seen: it is neither filled nor stroked."
    return f"{quoted(name)} has no outline."
