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
MOST = 7
"""So many further places are named."""


def check(view: View) -> Iterator[Finding]:
    """One finding for each step and shape, at its worst corner, with the places of the others.

    A `stop` where something must fit into it.
    """
    worst: dict[tuple[str, bool], Job] = {}
    spots: dict[tuple[str, bool], dict[tuple[float, float], Residue]] = {}
    for job in view.jobs:
        key = (job.step, job.edge is not None)
        for corner in job.corners:
            near = (round(corner.at_mm[0], 1), round(corner.at_mm[1], 1))
            known = spots.setdefault(key, {}).get(near)
            if known is None or corner.depth_mm > known.depth_mm:
                spots[key][near] = corner
            if key not in worst or corner.depth_mm > worst[key].corners[0].depth_mm:
                worst[key] = job
    for key, job in worst.items():
        corners = sorted(spots[key].values(), key=lambda r: (-round(r.depth_mm, 3), r.at_mm))
        yield _finding(view, job, job.corners[0], corners[1:])


def _finding(view: View, job: Job, corner: Residue, others: list[Residue]) -> Finding:
    assert job.smallest is not None
    cutter, deep = job.smallest.DC, job.depth_mm
    radius = fitting_radius(job, corner)
    has = f"has a radius of about {radius:.2f}" if radius >= SHARP_MM else "is sharp"
    smaller = f"a cutter of at most {2 * radius:.1f} mm that reaches {deep:.1f} mm, or " if radius >= 0.5 else ""
    if job.edge is not None:
        remedy = f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more, {smaller}finish it by hand"
    else:
        remedy = (
            f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more and round what goes in to match, "
            f"{smaller}a relief circle of radius {cutter / 2:g} through the corner, or square it by chisel"
        )
    fit = f", and a part must fit there ({job.fit})" if job.fit else ""
    return Finding(
        check=NAME,
        severity="stop" if job.fit else "ask",
        message=(
            f"A corner of {job.step} {has}; the smallest cutter here that reaches {deep:.1f} mm is "
            f"{cutter:g} mm wide and leaves {corner.depth_mm:.2f} mm ({corner.area_mm2:.2f} mm²) of wood in it"
            f"{fit}.{_more(others)}"
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


def _more(others: list[Residue]) -> str:
    """The other corners of the same shape, the first few by place."""
    if not others:
        return ""
    spots = ", ".join(f"({r.at_mm[0]:.1f}, {r.at_mm[1]:.1f})" for r in others[:MOST])
    rest = f" and {len(others) - MOST} more" if len(others) > MOST else ""
    corners = "One more corner" if len(others) == 1 else f"{len(others)} more corners"
    return f" {corners} of it, {others[-1].depth_mm:.2f} to {others[0].depth_mm:.2f} mm: {spots}{rest}."


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
