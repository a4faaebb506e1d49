"""Slanting bores for wires that come too near to a void they don't lead to (trade.md 8, fault 14; 3.5, 3.7).

The bore is a capsule: its axis keeps d/2 + 3 from every other void, in plan and height together. Voids that the
step names in `clear_of` are told by the step itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from pipeline.checks.view import View
from pipeline.checks.voids import Void
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.channel_clear import COVER_MM
from pipeline.steps.values import Blank

NAME = "bore-near"
EVERY_MM = 0.2
"""Distance of the places along the axis where it is measured."""


def check(view: View) -> Iterator[Finding]:
    """A `stop` for each void that a bore breaks into, an `ask` where less than 3 mm stay."""
    for blank, taken in view.blanks:
        for step in view.derived.order:
            drilled = getattr(step.spec, "drilled", None) if step.kind == "channel" else None
            if drilled is None or step.name not in getattr(view.steps[blank.step].spec, "by_hand", ()):
                continue
            ends = {step.spec.from_, step.spec.to, *drilled.clear_of}
            for void in taken:
                if void.step.name not in ends and void.step.name not in step.needs:
                    yield from _near(view, blank, step, void)


def _near(view: View, blank: Blank, step: Step, void: Void) -> Iterator[Finding]:
    told = view.derived.results[step.name].numbers
    (x0, y0), (x1, y1) = told["axis_mm"]
    front = told["face"] == "front"
    z0, z1 = (blank.thickness_mm - d if front else d for d in (told["entry_depth_mm"], told["exit_depth_mm"]))
    n = max(2, math.ceil(math.dist((x0, y0), (x1, y1)) / EVERY_MM) + 1)
    s = np.linspace(0.0, 1.0, n)
    xy = np.column_stack([x0 + s * (x1 - x0), y0 + s * (y1 - y0)])
    z = z0 + s * (z1 - z0)
    low, high = void.span(void.shape)
    aside = shapely.distance(void.shape, shapely.points(xy))
    over = np.maximum(np.maximum(low - z, z - high), 0.0)
    away = np.hypot(aside, over)
    k = int(np.argmin(away))
    left = float(away[k]) - told["diameter_mm"] / 2
    if left >= COVER_MM - 1e-3:
        return
    yield Finding(
        check=NAME,
        severity="stop" if left <= 0 else "ask",
        message=(
            f"{step.name} breaks into {void.step.name} on its way."
            if left <= 0
            else f"{step.name} passes {void.step.name} with {left:.2f} mm of wood between them."
        ),
        step=step.name,
        piece=blank.name,
        at_mm=(float(xy[k, 0]), float(xy[k, 1])),
        face=told["face"],
        measured=left,
        limit=COVER_MM,
        remedy=f"lead it {COVER_MM - left:.2f} mm farther away, or slope it otherwise",
        place=view.place(step.name, "drilled"),
    )
