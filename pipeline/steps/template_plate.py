"""A template's followed edge, its plate round an opening, and the index holes it carries."""

from __future__ import annotations

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.common import mm, place_in
from pipeline.steps.template import Follow, Spec
from pipeline.steps.template_text import Job
from pipeline.steps.values import Cut, World

MARGIN_MM = 90.0
"""Round an opening: the router's base, about 80 in radius, and 10 (trade.md 5.2, derived)."""
PLATE_CORNER_MM = 10.0


def followed_of(job: Job, step: Step, finish: Follow | None) -> Region:
    """The region whose edge is followed: F ⊖ o outside, F ⊕ o as an opening, o of the last follower."""
    o = finish.offset if finish else 0.0
    followed = offset(job.wanted, -o if job.use == "outside" else o) if o else job.wanted
    if not followed:
        raise refuse(
            f"Nothing is left of the template {job.name}: its edge lies {mm(o)} mm inside {job.of}.",
            place=place_in(step, job.path),
            expected="a follower nearer to the cutter's size",
        )
    return followed


def plate_round(opening: Region, margin: float) -> Region:
    """The rectangle round an opening with the margin on every side."""
    x0, y0, x1, y1 = opening.bounds
    w, h = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin
    corner = min(PLATE_CORNER_MM, margin)
    return solid(rectangle(w, h, corner, x=(x0 + x1) / 2, y=(y0 + y1) / 2))


def body_of(job: Job, step: Step, spec: Spec, followed: Region) -> tuple[Region, list[Finding]]:
    """The template's wood before any hole; an island that falls out of it is left out and said."""
    if job.use == "outside":
        return followed, []
    body = difference(plate_round(followed, spec.margin or MARGIN_MM), followed)
    if len(body.parts) == 1:
        return body, []
    return Region((max(body.parts, key=lambda p: p.outer.area),)), [_island(job, step, body)]


def pins_of(spec: Spec, world: World, body: Region) -> tuple[Cut, ...]:
    """The index holes that fall wholly inside the template's own solid."""
    if spec.index is None:
        return ()
    holes = world.result(spec.index).cuts
    return tuple(c for c in holes if body.polygon.contains_properly(c.region.polygon))


def _island(job: Job, step: Step, body: Region) -> Finding:
    loose = min(body.parts, key=lambda p: p.outer.area)
    x, y = loose.polygon.representative_point().coords[0]
    return Finding(
        check="template-island",
        severity="ask",
        message=f"{job.of} has an island, which falls out of the template {job.name}; it is left out.",
        step=step.name,
        piece=job.name,
        at_mm=(float(x), float(y)),
        measured=float(len(body.parts)),
        limit=1.0,
        unit="pieces",
        remedy="rout the island's edge by another template, or stick the loose piece down by hand",
        place=place_in(step, "of"),
    )
