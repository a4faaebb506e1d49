"""Index pins of a stack, and the waste tabs that carry those outside its outline."""

from __future__ import annotations

from typing import Any

from pipeline.geometry.boolean import intersection, union
from pipeline.geometry.morph import closing
from pipeline.geometry.offset import offset
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule
from pipeline.steps.stack import Spec
from pipeline.steps.values import Cut, World

EAR_RIM_MM = 9.0
"""Wood left round an index pin in an ear (common practice, no source)."""
EAR_FILLET_MM = 8.0
"""Radius where an ear meets the edge (common practice, no source)."""


def index_cuts(world: World, spec: Spec) -> tuple[tuple[Cut, bool], ...]:
    """Index holes, and whether they are bored in the laminations (else in the blank)."""
    found: list[tuple[Cut, bool]] = []
    for names, early in (
        ((spec.ears,) if spec.ears else (), True),
        (spec.cut, True),
        (spec.cut_blank, False),
    ):
        for n in names:
            if n == spec.outline or any(c.step == n for c, _ in found):
                continue
            found += [(c, early) for c in world.result(n).cuts if c.index]
    return tuple(found)


def with_ears(edge: Region, outline: Region, world: World, spec: Spec) -> tuple[Region, dict[str, Any]]:
    """The cut edge with a waste tab for every pin that stands outside it.

    A tab is what a straight neck of the ear's width sweeps from the pin to just inside the edge; it runs into the
    edge with a fillet, so that no corner is too sharp for a cutter.
    """
    if spec.ears is None:
        return edge, {}
    tabs: list[Region] = []
    for cut in world.result(spec.ears).cuts:
        x, y = cut.region.centroid
        width = (cut.diameter_mm or 0.0) + 2 * EAR_RIM_MM
        gap, (px, py) = nearest_boundary(edge, x, y)
        inside = edge.polygon.covers(cut.region.polygon.centroid)
        if inside and gap >= width / 2:
            continue
        # Anchor the neck a full width inside, along the way in from the pin.
        cx, cy = outline.centroid
        dx, dy = (px - x, py - y) if not inside and gap > 1e-6 else (cx - x, cy - y)
        length = (dx * dx + dy * dy) ** 0.5
        anchor = (px + dx / length * width / 2, py + dy / length * width / 2)
        tabs.append(solid(capsule((x, y), anchor, width)))
    if not tabs:
        return edge, {"ears": 0}
    joined = union(edge, *tabs)
    near = union(*(offset(t, 2 * EAR_FILLET_MM) for t in tabs))
    # Closing looks no further than its radius, so what lies round the tabs is enough of the outline for it.
    round_about = union(*(offset(t, 5 * EAR_FILLET_MM) for t in tabs))
    filled = intersection(closing(intersection(joined, round_about), EAR_FILLET_MM), near)
    return union(joined, filled), {"ears": len(tabs)}
