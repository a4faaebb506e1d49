"""Corners that are sharper than the smallest cutter that gets down there (trade.md 8, fault 1).

A cutter of radius r leaves r²(cot(θ/2) − (π − θ)/2) of a corner θ, r(1/sin(θ/2) − 1) deep (outside_checks O1);
measured here on the opening of the shape, so curved walls count as well.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.flat import SLIVER_MM2, Residue, opened
from pipeline.checks.jobs import Job
from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "corner-sharp"
SHARP_MM = 0.1
"""A corner with a smaller radius than this is called sharp."""


def check(view: View) -> Iterator[Finding]:
    """One finding for each corner that keeps wood; a `stop` where something must fit into it."""
    told: set[tuple[str, float, float]] = set()
    for job in view.jobs:
        for corner in job.corners:
            key = (job.step, round(corner.at_mm[0], 1), round(corner.at_mm[1], 1))
            if key not in told:
                told.add(key)
                yield _finding(view, job, corner)


def _finding(view: View, job: Job, corner: Residue) -> Finding:
    assert job.smallest is not None
    cutter = job.smallest.DC
    radius = fitting_radius(job, corner)
    has = f"has a radius of about {radius:.2f}" if radius >= SHARP_MM else "is sharp"
    smaller = f"a cutter of at most {2 * radius:.1f} mm that reaches {job.depth_mm:.1f} mm, or " if radius >= 0.5 else ""
    if job.edge is not None:
        remedy = f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more, {smaller}finish it by hand"
    else:
        remedy = (
            f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more and round what goes in to match, "
            f"{smaller}a relief circle of radius {cutter / 2:g} through the corner, or square it by chisel"
        )
    return Finding(
        check=NAME,
        severity="stop" if job.fit else "ask",
        message=(
            f"A corner of {job.step} {has}; the smallest cutter here that reaches {job.depth_mm:.1f} mm is "
            f"{cutter:g} mm wide and leaves {corner.depth_mm:.2f} mm ({corner.area_mm2:.2f} mm²) of wood in it"
            + (f", and a part must fit there ({job.fit})." if job.fit else ".")
        ),
        step=job.step,
        piece=job.piece,
        at_mm=corner.at_mm,
        face=job.face,
        measured=corner.depth_mm,
        limit=0.0,
        remedy=remedy,
        place=view.place(job.step, "part", "opening", "drawn"),
    )


def fitting_radius(job: Job, corner: Residue) -> float:
    """The radius of the largest cutter that leaves nothing worth telling in this corner, by bisection."""
    assert job.smallest is not None
    high = job.smallest.DC / 2
    near = shapely.Point(corner.at_mm).buffer(6 * high + corner.depth_mm)
    local = shapely.intersection(job.field, near)
    here = shapely.Point(corner.at_mm).buffer(2 * corner.depth_mm + 0.2)
    low = 0.0
    for _ in range(9):
        middle = (low + high) / 2
        left = shapely.intersection(shapely.difference(local, opened(local, middle)), here)
        if left.area > SLIVER_MM2 * (middle / (job.smallest.DC / 2)) ** 2 + 1e-3:
            high = middle
        else:
            low = middle
    return low
