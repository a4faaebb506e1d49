"""The tilt of a neck from the heights that strings, board and bridge have (trade.md 3.2; outside_checks I3).

On a solid body the neck leans back by α, tan α = h / L, with L = (scale + compensation) − distance nut → joint and

* from the saddle: h = saddle − (2·a₁₂ − a_nut) − (board + fret), where a₁₂ and a_nut are the wanted heights of the
  string over the 12th fret and at the nut (derived: its height over the plane of the frets at the bridge);
* from a glued bridge (published form): h = (bridge + air gap) − (board + fret), the bridge without its saddle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, Gap, Size, field
from pipeline.core.recipe import Step
from pipeline.steps.common import mm, place_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Heights:
    """What a neck's tilt follows from; all heights stand on the body's face."""

    board: Size = field("height of the board over the body at the joint, with its frets or with `fret:` beside it")
    fret: Gap = field("height of a fret, where `board:` is without them", 0.0)
    saddle: Size | None = field("height of the strings over the body at the saddle", None)
    action_12: Gap | None = field("wanted height of the strings over the 12th fret; with `saddle:`", None)
    action_nut: Gap | None = field("wanted height of the strings at the nut; with `saddle:`", None)
    bridge: Size | None = field("height of a glued bridge without its saddle, instead of `saddle:`", None)
    air_gap: Gap = field("gap wanted between a straight edge on the frets and that bridge", 0.0)
    length: Size | None = field("from the joint to the saddle", None)
    scale: Size | None = field("the string length, instead of `length:`", None)
    compensation: Gap = field("what the saddle stands farther than the string length", 0.0)
    joint: Count | None = field("the fret at which the neck meets the body; with `scale:`", None)


def heights_problems(step: Step, heights: Heights, path: str) -> Iterator[Problem]:
    """What is wrong with the heights together; a neck that would have to lean forward among it."""
    if (heights.saddle is None) == (heights.bridge is None):
        yield Problem(
            wrong=f"The tilt of {step.name} needs the height of either the saddle or a glued bridge.",
            place=place_in(step, path),
            expected="exactly one of `saddle` (with `action_12`, `action_nut`) and `bridge` (with `air_gap`)",
            remedy="Never add the saddle to the bridge: the published form takes the bridge without it.",
        )
        return
    actions = (heights.action_12, heights.action_nut)
    if heights.saddle is not None and None in actions:
        yield Problem(
            wrong=f"The tilt of {step.name} from the saddle needs the wanted heights of the strings.",
            place=place_in(step, path),
            expected="`action_12:` over the 12th fret and `action_nut:` at the nut",
        )
        return
    if heights.bridge is not None and actions != (None, None):
        yield Problem(
            wrong=f"The tilt of {step.name} is told from a glued bridge, where the strings' heights don't enter.",
            place=place_in(step, f"{path}.action_12"),
            expected="`bridge:` and `air_gap:` alone, or `saddle:` with the strings' heights",
        )
    by_scale = (heights.scale is not None, heights.joint is not None)
    if (heights.length is None) != (by_scale == (True, True)) or (heights.length is not None and any(by_scale)):
        yield Problem(
            wrong=f"The tilt of {step.name} doesn't say how far it is from the joint to the saddle.",
            place=place_in(step, path),
            expected="`length:`, or `scale:` with `joint:` (the fret at which the neck meets the body)",
        )
        return
    h = drop_mm(heights)
    if h <= 0:
        yield Problem(
            wrong=f"With these heights the neck of {step.name} would lean forward: the board stands "
            f"{mm(-h)} too high."
            if h
            else f"With these heights {step.name} needs no tilt at all.",
            place=place_in(step, path),
            expected="a saddle that is higher than the board needs" if h else f"{step.name} without `tilt:`",
            remedy=f"Make the pocket {mm(-h)} deeper and the board's height as much less." if h else "",
        )


def drop_mm(heights: Heights) -> float:
    """h: by how much the strings at the bridge lie over the board's own plane there, in mm."""
    board = heights.board + heights.fret
    if heights.bridge is not None:
        return heights.bridge + heights.air_gap - board
    assert heights.saddle is not None
    string = 2 * (heights.action_12 or 0.0) - (heights.action_nut or 0.0)
    return heights.saddle - string - board


def reach_mm(heights: Heights) -> float:
    """L: from the joint to the saddle, scale·2^(−n/12) + compensation where the joint is fret n."""
    if heights.length is not None:
        return heights.length
    assert heights.scale is not None
    assert heights.joint is not None
    return heights.scale * 2 ** (-heights.joint / 12) + heights.compensation


def tilt_deg(heights: Heights) -> float:
    """α in degrees, tan α = h / L."""
    return math.degrees(math.atan2(drop_mm(heights), reach_mm(heights)))


def heel_gap_mm(depth_mm: float, angle_deg: float) -> float:
    """d·tan α: how far a leaning heel stands off from an upright wall at the face (trade.md 3.2)."""
    return depth_mm * math.tan(math.radians(angle_deg))


def wedge_mm(span_mm: float, angle_deg: float) -> float:
    """s·tan α: how much higher one end of a template must lie over ``span_mm`` to rout that ramp."""
    return span_mm * math.tan(math.radians(angle_deg))
