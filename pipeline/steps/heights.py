"""Heights in a stack: where each lamination lies and how deep each cut goes in it.

z = 0 is the back face of the blank, z = T its front. Depth is measured from the face a cut is made
from; a tilted floor is a plane in s = p·toward (see `Tilt`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pipeline.core.fields import FaceName
from pipeline.steps.values import Cut

EPS = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One lamination between two heights."""

    number: int
    z0: float
    z1: float

    @property
    def thickness(self) -> float:
        return self.z1 - self.z0


def spans(thicknesses: tuple[float, ...], glue_mm: float) -> tuple[Span, ...]:
    """Spans from the back: z of each lamination is the sum of all before it and their glue lines."""
    found: list[Span] = []
    z = 0.0
    for n, t in enumerate(thicknesses, start=1):
        found.append(Span(number=n, z0=z, z1=z + t))
        z += t + glue_mm
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """The floor of one cut in a blank of thickness ``total``: depth below its face,
    ``depth_at(s) = depth + (s − shallow)·slope``; ``slope`` is 0 for a flat floor."""

    cut: Cut
    total: float
    depth: float
    deep: float
    slope: float = 0.0

    @property
    def face(self) -> FaceName:
        return self.cut.face

    @property
    def through(self) -> bool:
        return self.depth >= self.total - EPS and self.slope == 0.0

    def depth_at(self, s: float) -> float:
        tilt = self.cut.depth.tilt
        return self.depth if tilt is None else self.depth + (s - tilt.shallow) * self.slope

    def s_at(self, depth: float) -> float:
        """Where a tilted floor has this depth."""
        tilt = self.cut.depth.tilt
        assert tilt is not None
        assert self.slope > 0
        return tilt.shallow + (depth - self.depth) / self.slope

    def height(self, depth: float) -> float:
        """z of a depth below this cut's face."""
        return self.total - depth if self.face == "front" else depth


def floor_of(cut: Cut, total: float) -> Floor:
    """The floor of a plan rule in a blank of thickness ``total`` mm.

    With a tilt, ``depth`` holds at the shallow end and ``floor`` at the deepest end of the shape
    before any overrun (blueprint, Depth): d(s) = d₀ + (s − s₀)·tan α.
    """
    rule = cut.depth
    tilt = rule.tilt
    slope = math.tan(math.radians(tilt.angle_deg)) if tilt else 0.0
    run = (tilt.deep - tilt.shallow) if tilt else 0.0
    if rule.rule == "through":
        return Floor(cut=cut, total=total, depth=total, deep=total)
    if rule.rule == "floor":
        deep = total - rule.mm
        return Floor(cut=cut, total=total, depth=deep - run * slope, deep=deep, slope=slope)
    return Floor(cut=cut, total=total, depth=rule.mm, deep=rule.mm + run * slope, slope=slope)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bite:
    """What a floor takes from one lamination over a band of s: all of it, or a pocket.

    ``action``: "through", "pocket" (flat, ``depth`` below the lamination's own face) or "ramp"
    (``depth`` at ``s_from``, ``deep`` at ``s_to``). Bands with nothing taken are not listed.
    """

    action: Literal["through", "pocket", "ramp"]
    s_from: float
    s_to: float
    depth: float
    deep: float


def bites(floor: Floor, span: Span, s_min: float, s_max: float) -> tuple[Bite, ...]:
    """How a floor meets one lamination, over the s-range [s_min, s_max] of the region it is cut in.

    Depths are below the lamination's face on the cut's side; they can reach past the shape's own ends
    when the region has an overrun.
    """
    # Depth below the blank's face at which this lamination begins and ends.
    top = floor.total - span.z1 if floor.face == "front" else span.z0
    bottom = top + span.thickness
    if floor.slope == 0.0:
        d = floor.depth
        if d <= top + EPS:
            return ()
        if d >= bottom - EPS:
            return (Bite(action="through", s_from=s_min, s_to=s_max, depth=span.thickness, deep=span.thickness),)
        return (Bite(action="pocket", s_from=s_min, s_to=s_max, depth=d - top, deep=d - top),)
    enters = min(max(floor.s_at(top), s_min), s_max)
    leaves = min(max(floor.s_at(bottom), s_min), s_max)
    found: list[Bite] = []
    if leaves - enters > EPS:
        found.append(
            Bite(
                action="ramp",
                s_from=enters,
                s_to=leaves,
                depth=floor.depth_at(enters) - top,
                deep=floor.depth_at(leaves) - top,
            )
        )
    if s_max - leaves > EPS:
        found.append(Bite(action="through", s_from=leaves, s_to=s_max, depth=span.thickness, deep=span.thickness))
    return tuple(found)
