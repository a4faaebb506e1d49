"""Blind holes whose tip comes through, or nearly, into a cavity of the other face (trade.md 8, fault 40; 3.6).

A drill of 118° goes 0.30·d below the full depth (derived: 1/(2·tan 59°)). Under 3 mm of wood a screw splits it
out. What stays to the other face is told by the hole's own step.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.floor_thin import facing, gap_in_z
from pipeline.checks.view import View
from pipeline.checks.voids import Void, meant
from pipeline.core.findings import Finding, Shown
from pipeline.steps.holes_make import TIP

NAME = "hole-hits"
LEFT_MM = 3.0


def check(view: View) -> Iterator[Finding]:
    """A `stop` where a hole comes out in a cavity, an `ask` where less than 3 mm stay; the worst of two steps."""
    for blank, taken in view.blanks:
        worst: dict[tuple[str, str], Finding] = {}
        for hole in taken:
            if not hole.drilled or hole.cut.depth.rule == "through" or _through(hole) == "both":
                continue
            for other in taken:
                if other.drilled or other.face == hole.face or meant(hole, other):
                    continue
                found = _pair(view, blank.name, hole, other)
                key = (hole.step.name, other.step.name)
                if found is not None and (key not in worst or _number(found) < _number(worst[key])):
                    worst[key] = found
        yield from worst.values()


def _pair(view: View, blank: str, hole: Void, other: Void) -> Finding | None:
    shared = shapely.intersection(hole.shape, other.shape)
    if shared.area <= 0.01:
        return None
    tip = TIP * (hole.cut.diameter_mm or 0.0)
    left = gap_in_z(hole, other, shared)[0] - tip
    if left >= LEFT_MM - 1e-6:
        return None
    x, y = hole.cut.design.centroid
    what = f"comes out in {other.step.name}" if left <= 0 else f"stays {left:.2f} mm short of {other.step.name}"
    return Finding(
        check=NAME,
        severity="stop" if left <= 0 else "ask",
        message=f"The tip of the drill for {hole.step.name} {what}.",
        step=hole.step.name,
        piece=blank,
        at_mm=(x, y),
        face=hole.face,
        measured=left,
        limit=LEFT_MM,
        remedy=f"make the hole {LEFT_MM - left:.2f} mm shallower and take a shorter screw, or move it",
        place=view.place(hole.step.name, "depth", "floor", "length"),
        shown=Shown(heights_mm=facing(hole, other, (x, y))),
    )


def _through(hole: Void) -> object:
    return getattr(hole.step.spec, "through", False)


def _number(finding: Finding) -> float:
    return finding.measured if finding.measured is not None else 0.0
