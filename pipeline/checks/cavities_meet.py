"""Cuts that break into one another without being meant to, or nearly do (trade.md 8, fault 14; 3.7).

Two cuts that overlap in plan and in height are one hole: a `stop`. Two that share heights but lie
side by side keep a wall; under 5 mm of plywood edge is a question (3 in solid wood).
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import LIMIT_MM, nearest, nearest_ends, polygons
from pipeline.checks.floor_thin import facing, gap_in_z
from pipeline.checks.view import View
from pipeline.checks.voids import Void, meant
from pipeline.core.findings import Finding, Shown

NAME = "cavities-meet"
WALL_MM = 5.0


def check(view: View) -> Iterator[Finding]:
    """One finding for each pair; drilled holes are let into cavities on purpose and are not asked about."""
    for blank, taken in view.blanks:
        cuts = [v for v in taken if not v.drilled]
        for i, a in enumerate(cuts):
            for b in cuts[i + 1 :]:
                if meant(a, b) or _joined_by_another(a, b, cuts):
                    continue
                yield from _pair(view, blank.name, a, b)


def _pair(view: View, blank: str, a: Void, b: Void) -> Iterator[Finding]:
    shared = shapely.intersection(a.shape, b.shape)
    if shared.area > 0.01:
        web, at = gap_in_z(a, b, shared)
        if web > 1e-6:
            return  # wood is left between them: floor-thin measures it
        same_face = a.face == b.face and a.mouth is None and b.mouth is None
        if same_face and shared.area > min(a.shape.area, b.shape.area) - 0.05:
            return  # a pocket in the floor of another
        yield Finding(
            check=NAME,
            severity="ask" if same_face else "stop",
            message=(
                f"{a.step.name} and {b.step.name} overlap on the {a.face} of {blank} over {shared.area:.1f} mm²; "
                "which of them makes the floor there is not said."
                if same_face
                else f"{b.step.name} breaks into {a.step.name}: over {shared.area:.1f} mm² they overlap by "
                f"{-web:.2f} mm in height."
            ),
            step=b.step.name,
            piece=blank,
            at_mm=at,
            face=b.face,
            measured=web,
            limit=0.0 if same_face else 3.0,
            remedy=(
                "move one of them, or draw the two as one shape"
                if same_face
                else f"make them {3.0 - web:.2f} mm shallower together, or move one of them"
            ),
            place=view.place(b.step.name, "depth", "floor", "centre"),
            shown=Shown(heights_mm=facing(a, b, at), left_mm=_loops(shared) if same_face else ()),
        )
        return
    (a0, a1), (b0, b1) = a.span(a.shape), b.span(b.shape)
    if max(a0, b0) >= min(a1, b1) - 1e-6:
        return
    wall, at = nearest(b.shape, a.shape)
    if wall < WALL_MM - LIMIT_MM:
        yield Finding(
            check=NAME,
            severity="ask",
            message=f"Between {a.step.name} and {b.step.name} the wall is {wall:.2f} mm thick.",
            step=b.step.name,
            piece=blank,
            at_mm=at,
            face=b.face,
            measured=wall,
            limit=WALL_MM,
            remedy=f"move one of them {WALL_MM - wall:.2f} mm away (3 mm is enough in solid wood)",
            place=view.place(b.step.name, "centre", "drawn", "opening"),
            shown=Shown(ends_mm=nearest_ends(b.shape, a.shape)),
        )


def _loops(shape: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(tuple((x, y) for x, y in p.exterior.coords[:-1]) for p in polygons(shape))


def _joined_by_another(a: Void, b: Void, cuts: list[Void]) -> bool:
    """True when a third cut is meant to run from one to the other, so that they are one room anyway."""
    return any(c is not a and c is not b and {a.step.name, b.step.name} <= set(c.step.needs) for c in cuts)
