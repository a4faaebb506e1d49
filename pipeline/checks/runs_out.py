"""Cavities and holes that run out over an edge though nobody wrote that they should (common practice)."""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step

NAME = "runs-out"
LEAST_MM = 0.1
"""What lies less far outside comes from a line drawn on the edge."""
FIELDS = ("cut", "cut_blank", "by_hand")


def check(view: View) -> Iterator[Finding]:
    """A note for each plan rule that lies partly outside the panel or stack that has it cut."""
    for step in view.derived.order:
        edge = _edge(view, step)
        if edge is None:
            continue
        for name in dict.fromkeys(n for field in FIELDS for n in getattr(step.spec, field, None) or ()):
            other = view.steps.get(name)
            if (
                other is not None
                and other.kind in ("cavity", "holes")
                and getattr(other.spec, "open", None) is None
            ):
                yield from _outside(view, step, other, edge)


def _edge(view: View, step: Step) -> shapely.Geometry | None:
    """The outline of a stack or of a panel, flattened; None for steps that have nothing cut."""
    if step.kind == "stack":
        region = view.derived.results[step.spec.outline].region
    elif getattr(step.spec, "cut", None) and getattr(step.spec, "sheet", None):
        region = view.derived.results[step.name].region
    else:
        return None
    return shapely.MultiPolygon([shapely.Polygon(p.polygon.exterior) for p in region.parts]) if region else None


def _outside(view: View, step: Step, other: Step, edge: shapely.Geometry) -> Iterator[Finding]:
    for cut in view.derived.results[other.name].cuts:
        if cut.index or not cut.region.polygon.intersects(edge):
            continue
        beyond = shapely.difference(cut.region.polygon, edge)
        if beyond.is_empty:
            continue
        points = shapely.points(shapely.get_coordinates(beyond))
        far = shapely.distance(points, edge)
        worst = int(far.argmax())
        if far[worst] <= LEAST_MM:
            continue
        yield Finding(
            check=NAME,
            severity="note",
            message=f"{cut.name} runs {far[worst]:.2f} mm out over the edge of {step.name}, so it notches it.",
            step=other.name,
            piece=step.name,
            at_mm=(float(points[worst].x), float(points[worst].y)),
            face=cut.face,
            measured=float(far[worst]),
            limit=0.0,
            remedy="write `open:` with the side if it is meant to run out, else move it inward or make it smaller",
            place=view.place(other.name, "centre", "at", "drawn"),
        )
