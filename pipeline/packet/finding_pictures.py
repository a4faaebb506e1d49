"""Pictures of findings: the place zoomed, the number on a dimension line, the limit and the cutter to scale.

A picture is as wide as a phone whatever it shows, so its words can be read there. Line type carries the meaning
(solid: cut from the face that is seen; dashed: from the other face), colour (Okabe-Ito) only helps.
"""

from __future__ import annotations

from pipeline.core.findings import Finding, Shown
from pipeline.packet.finding_marks import STYLE, Seen
from pipeline.packet.finding_plan import plan
from pipeline.packet.finding_sections import Woods
from pipeline.packet.finding_through import side, through_place

DEEP = frozenset({
    "floor", "deep", "depth", "skin", "reach", "tip", "proud", "through", "ramp", "round", "rounding",
    "lamination", "mouth", "ridge", "bore", "drill", "carved", "blind", "veneer", "bevel", "scoop",
    "break",
})  # fmt: skip
"""A check with one of these words in its name measures in depth, also where it doesn't tell between which
heights."""


def pictures(f: Finding, woods: Woods, key: str) -> str:
    """The pictures of a finding as inline SVG: its place in plan, and a section where depth matters.

    Empty for a finding without a place. ``key`` begins the ids in it and must not repeat on a page.
    """
    if f.at_mm is None:
        return ""
    wood = woods.of(f.piece, f.step, f.at_mm)
    seen = Seen.of(f.face, woods.derived)
    shown = f.shown or Shown()
    if wood is None or not _is_deep(f, shown):
        return plan(f, shown, wood, seen, woods.derived, None, f"{key}p")
    cut = through_place(f, shown, wood, seen)
    return plan(f, shown, wood, seen, woods.derived, cut, f"{key}p") + side(
        f, shown, cut, wood, woods.derived, f"{key}s"
    )


def _is_deep(f: Finding, shown: Shown) -> bool:
    return shown.heights_mm is not None or (shown.ends_mm is None and bool(DEEP & set(f.check.split("-"))))


__all__ = ["STYLE", "Woods", "pictures"]
