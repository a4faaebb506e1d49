"""Corners that are sharper than the smallest cutter that gets down there (trade.md 8, fault 1).

A cutter of radius r leaves r²(cot(θ/2) − (π − θ)/2) of a corner θ, r(1/sin(θ/2) − 1) deep (outside_checks O1);
measured here on the opening of the shape, so curved walls count as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import shapely

from pipeline.checks.flat import SLIVER_MM2, Residue, opened
from pipeline.checks.jobs import Job
from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown

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
    coupons = {p.name for p in view.derived.pieces if p.role == "coupon"}
    for job in view.jobs:
        if job.piece in coupons:  # a square that is measured between its sides; a slice shows its own corners
            continue
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
    left = _exact(view, job, corner)
    has = f"has a radius of about {radius:.2f}" if radius >= SHARP_MM else "is sharp"
    smaller = f"a cutter of at most {2 * radius:.1f} mm that reaches {deep:.1f} mm, or " if radius >= 0.5 else ""
    if job.edge is not None:
        remedy = f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more, {smaller}finish it by hand"
    else:
        remedy = (
            f"give the corner a radius of {cutter / 2 + 0.2:.1f} or more and round what goes in to match, "
            f"{smaller}a relief circle of radius {cutter / 2:g} through the corner, or square it by chisel"
        )
    stands = _stands(job, corner, cutter / 2)
    fit = f", and a part must fit there ({job.fit})" if job.fit else ""
    return Finding(
        check=NAME,
        severity="stop" if job.fit else "ask",
        message=(
            f"A corner of {job.step} {has}; the smallest cutter here that reaches {deep:.1f} mm is "
            f"{cutter:g} mm wide and leaves {left:.2f} mm ({corner.area_mm2:.2f} mm²) of wood in it"
            f"{fit}.{_more(others)}"
        ),
        step=job.step,
        piece=job.piece,
        at_mm=corner.at_mm,
        face=job.face,
        measured=left,
        limit=0.0,
        remedy=remedy,
        place=view.place(job.step, "part", "opening", "drawn"),
        shown=Shown(
            ends_mm=_depth(corner, stands),
            cutter_mm=cutter,
            cutter_at_mm=stands,
            left_mm=(tuple((x, y) for x, y in corner.shape.exterior.coords[:-1]),),
        ),
    )


def _exact(view: View, job: Job, corner: Residue) -> float:
    """How deep what is left of this corner is, on the shape's own curves and with the cutter as wide as it is.

    Looked at near the corner alone; where other cuts beside it lend a wall, what was measured stays.
    """
    assert job.smallest is not None
    result = view.derived.results.get(job.step)
    radius, spot = job.smallest.DC / 2, shapely.Point(corner.at_mm)
    for region in (c.region for c in result.cuts) if result else ():
        if shapely.distance(region.polygon.boundary, spot) > 0.01:
            continue
        local = shapely.intersection(region.polygon, spot.buffer(8 * radius + corner.depth_mm))
        core = shapely.buffer(local, -radius, quad_segs=4)
        rim = shapely.points(shapely.get_coordinates(local))
        near = rim[shapely.distance(rim, spot) <= 2 * corner.depth_mm + 0.01]
        if core.is_empty or not len(near):
            break
        return max(float(shapely.distance(core, near).max()) - radius, 0.0)
    return corner.depth_mm


def _stands(job: Job, corner: Residue, radius: float) -> tuple[float, float] | None:
    """Where the cutter's middle is when it has come as far into the corner as it can."""
    local = shapely.intersection(job.field, shapely.Point(corner.at_mm).buffer(6 * radius + corner.depth_mm))
    middles = shapely.buffer(local, -(radius - 0.003), quad_segs=4)
    if middles.is_empty:
        return None
    x, y = shapely.get_coordinates(shapely.shortest_line(middles, shapely.Point(corner.at_mm)))[0].tolist()
    return x, y


def _depth(
    corner: Residue, stands: tuple[float, float] | None
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """From the corner to the cutter, toward its middle."""
    if stands is None:
        return None
    share = corner.depth_mm / max(math.dist(corner.at_mm, stands), 1e-9)
    (ax, ay), (bx, by) = corner.at_mm, stands
    return corner.at_mm, (ax + (bx - ax) * share, ay + (by - ay) * share)


def _more(others: list[Residue]) -> str:
    """The other corners of the same shape, the first few by place."""
    if not others:
        return ""
    spots = ", ".join(f"({r.at_mm[0]:.1f}, {r.at_mm[1]:.1f})" for r in others[:MOST])
    rest = f" and {len(others) - MOST} more" if len(others) > MOST else ""
    corners = "One more corner" if len(others) == 1 else f"{len(others)} more corners"
    least, most = (f"{r.depth_mm:.2f}" for r in (others[-1], others[0]))
    return f" {corners} of it, {least if least == most else f'{least} to {most}'} mm: {spots}{rest}."


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
