"""Places too narrow for the smallest cutter that gets down there (trade.md 8, fault 2)."""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import Narrow
from pipeline.checks.jobs import Job
from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown

NAME = "slot-narrow"
FEW = 4
"""So many equal places are told one by one."""


def check(view: View) -> Iterator[Finding]:
    """A `stop` for each part of a shape that a cutter can't enter or pass: it would not be there at all.

    Many equal ones of one step (the slots of a lattice) are told once, with their number.
    """
    alike: dict[tuple[str, float, float], list[tuple[Job, Narrow]]] = {}
    told: set[tuple[str, float, float]] = set()
    for job in view.jobs:
        for narrow in job.narrows:
            key = (job.step, round(narrow.at_mm[0], 1), round(narrow.at_mm[1], 1))
            if key in told or job.smallest is None:
                continue
            told.add(key)
            alike.setdefault((job.step, round(narrow.width_mm, 2), job.smallest.DC), []).append((job, narrow))
    for (_, _, cutter), places in alike.items():
        for job, narrow in places[:1] if len(places) > FEW else places:
            yield _finding(view, job, narrow, cutter, len(places) if len(places) > FEW else 1)


def _finding(view: View, job: Job, narrow: Narrow, cutter: float, places: int) -> Finding:
    where = "here" if places == 1 else f"here and at {places - 1} other places"
    return Finding(
        check=NAME,
        severity="stop",
        message=(
            f"{job.step} is only {narrow.width_mm:.2f} mm wide {where}; the smallest cutter that reaches "
            f"{job.depth_mm:.1f} mm is {cutter:g} mm wide and does not go in."
        ),
        step=job.step,
        piece=job.piece,
        at_mm=narrow.at_mm,
        face=job.face,
        measured=narrow.width_mm,
        limit=cutter,
        remedy=(
            f"widen it to {cutter + 0.2:.1f} mm, or name a shop with a cutter of at most "
            f"{0.95 * narrow.width_mm:.2f} mm that reaches so deep"
        ),
        place=view.place(job.step, "width", "opening", "part", "drawn"),
        shown=Shown(ends_mm=_walls(job.field, narrow.at_mm), cutter_mm=cutter),
    )


def _walls(field: BaseGeometry, at: tuple[float, float]) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The two walls at a place: the nearest one, and what lies opposite it."""
    walls, spot = shapely.boundary(field), shapely.Point(at)
    ((ax, ay),) = shapely.get_coordinates(shapely.shortest_line(walls, spot))[:1].tolist()
    n = shapely.distance(walls, spot)
    if n < 1e-6:
        return None
    far = 1e3 / n
    ray = shapely.LineString([at, (at[0] + (at[0] - ax) * far, at[1] + (at[1] - ay) * far)])
    hits = shapely.intersection(walls, ray)
    if hits.is_empty:
        return None
    bx, by = shapely.get_coordinates(shapely.shortest_line(hits, spot))[0].tolist()
    return (ax, ay), (bx, by)
