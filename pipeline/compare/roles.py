"""What the lines of a piece are for: which edges rule, how true they must be, which holes locate it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.compare.changes import HOLES, Change
from pipeline.compare.pairs import Round, hole_of
from pipeline.compare.state import Line, State, Thing
from pipeline.geometry.contour import Contour

TEMPLATE_MM, ROUGH_MM, PRESS_MM = 0.10, 0.20, 0.05
"""Tolerances of templates and all finished pieces, of rough laminations, of press fits (trade.md 12.3)."""
SAME_PLACE_MM = 0.02
BOX_MM = 0.02
"""Boxes of a line and of what a step states that agree within this are of the same line."""


class Roles:
    """What is known of one piece at both revisions, by what packet.json says of the steps."""

    def __init__(self, old: Thing, new: Thing, old_state: State, new_state: State) -> None:
        self.old, self.new = old, new
        self._old_state, self._new_state = old_state, new_state
        self._old, self._new = _numbers(old, old_state), _numbers(new, new_state)
        self._press = [*_press(old_state), *_press(new_state)]

    @property
    def usual(self) -> float:
        """The tolerance of its edges but press fits."""
        return ROUGH_MM if self.new.role == "lamination" else TEMPLATE_MM

    def tolerance(self, c: Change) -> float:
        """How far this line may be off, in mm."""
        return PRESS_MM if any(_boxed(line, self._press) for line in (c.old, c.new) if line) else self.usual

    def rules(self, c: Change) -> bool:
        """True when something follows or fits this line; of a template only the edge that the follower runs
        along."""
        if c.kind == "carve line":
            return False
        edges = [n["edge_bounds_mm"] for n in (self._old, self._new) if n.get("edge_bounds_mm")]
        if self.new.role != "template" or not edges:
            return True
        return c.kind not in HOLES and any(_boxed(line, edges) for line in (c.old, c.new) if line)

    def is_index(self, c: Change) -> bool:
        """True for a hole that locates the piece."""
        if c.kind == "index":
            return True
        if c.kind != "hole":
            return False
        pairs = ((c.old, self._old_state), (c.new, self._new_state))
        return any(line is not None and _among(hole_of(line), state.index_holes) for line, state in pairs)

    def finished(self, c: Change) -> Contour | None:
        """The finished outline inside the outside of a lamination that is cut with an allowance, None without."""
        if self.new.role != "lamination" or c.kind != "outside" or c.new is None or not self.new.design:
            return None
        outer = max(self.new.design, key=lambda d: d.area)
        cut = c.new.contour
        off = max(abs(a - b) for a, b in zip(outer.bounds, cut.bounds, strict=True))
        return outer if off > BOX_MM else None

    def pair_words(self) -> str:
        """What is said when another follower or cutter runs along it now; "" where that is the same."""
        keys = ("follower_mm", "cutter_mm")
        if not all(k in n for n in (self._old, self._new) for k in keys):
            return ""
        was, now = ([float(n[k]) for k in keys] for n in (self._old, self._new))
        if max(abs(a - b) for a, b in zip(was, now, strict=True)) < 0.005:
            return ""
        return (
            f"it is followed by {now[0]:g} with cutter {now[1]:g} now, and was made for {was[0]:g} with {was[1]:g}"
        )

    def depth_of_served(self) -> str:
        """What is said when the depth changed of what a template serves; "" where it didn't."""
        if self.new.role != "template":
            return ""
        told = []
        for name in sorted(set(self._new.get("needs", ())) & set(self._old.get("needs", ()))):
            was, now = self._old_state.steps.get(name, {}), self._new_state.steps.get(name, {})
            if _depth(was) != _depth(now):
                told.append(f"{name} is cut by {_depth(now)} now, and was by {_depth(was)}")
        return ", ".join(told)

    @staticmethod
    def is_mdf(thing: Thing) -> bool:
        return "mdf" in f"{thing.sheet} {thing.material}".lower()


def _numbers(thing: Thing, state: State) -> Mapping[str, Any]:
    """What packet.json says of a piece's step; of a set of templates, of this one."""
    step = state.steps.get(thing.step, {})
    own = step.get("templates")
    if isinstance(own, Mapping) and isinstance(own.get(thing.name), Mapping):
        return {"needs": step.get("needs", ()), **own[thing.name]}
    return step


def _press(state: State) -> list[Sequence[float]]:
    """Boxes of what is made for a press fit: no clearance a side."""
    return [
        s["bounds_mm"] for s in state.steps.values() if s.get("clearance_a_side_mm") == 0 and s.get("bounds_mm")
    ]


def _depth(step: Mapping[str, Any]) -> str:
    tilt = f" at {step['tilt_deg']:g}°" if step.get("tilt_deg") else ""
    return f"{step.get('rule', 'none')} {float(step.get('mm', 0.0)):.2f}{tilt}"


def _boxed(line: Line, boxes: Sequence[Sequence[float]]) -> bool:
    return any(max(abs(a - b) for a, b in zip(line.contour.bounds, box, strict=True)) <= BOX_MM for box in boxes)


def _among(hole: Round | None, holes: Sequence[tuple[float, float, float]]) -> bool:
    return hole is not None and any(
        math.dist(hole.at, (x, y)) <= SAME_PLACE_MM and abs(hole.diameter - d) <= SAME_PLACE_MM
        for x, y, d in holes
    )
