"""Cuts deeper than the shop's cutters reach, or very deep for their width (trade.md 8, fault 6).

A cutter goes to LU − 2, and no deeper than its edge APMX when its shank is as thick as itself. Depth over
diameter above 3 is a note and above 5 a question (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.jobs import Job, reach
from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown
from pipeline.core.shop import Cutter

NAME = "tool-reach"
NOTE, ASK = 3.0, 5.0
"""Depth over diameter."""


def check(view: View) -> Iterator[Finding]:
    """A `stop` where no cutter gets down, else a word about slender ones; the worst place of each step."""
    worst: dict[tuple[str, str], Finding] = {}
    for job in view.jobs:
        found = _finding(view, job)
        if found is None:
            continue
        key = (found.step, found.severity)
        if key not in worst or (found.measured or 0.0) > (worst[key].measured or 0.0):
            worst[key] = found
    yield from worst.values()


def _finding(view: View, job: Job) -> Finding | None:
    cutters = job.shop.end_cutters
    if not cutters:
        return None
    at = job.shape.representative_point() if job.edge is None else job.edge.representative_point()
    where = (float(at.x), float(at.y))
    if not job.reaching:
        best = max(cutters, key=lambda c: (reach(c), -c.DC))
        return Finding(
            check=NAME,
            severity="stop",
            message=(
                f"{job.step} is {job.depth_mm:.2f} mm deep; of the cutters of {job.shop.name} the longest, "
                f"{best.DC:g} mm wide, reaches {reach(best):.1f} mm."
            ),
            step=job.step,
            piece=job.piece,
            at_mm=where,
            face=job.face,
            measured=job.depth_mm,
            limit=reach(best),
            remedy=(
                f"make it at most {reach(best):.1f} mm deep, cut it from both faces or in the laminations, or "
                f"name a shop whose cutter has a usable length (LU) of {job.depth_mm + 2:.0f} mm or more"
            ),
            place=view.place(job.step, "depth", "floor", "through"),
            shown=_shown(view, job, best),
        )
    if job.depth_mm <= NOTE * job.reaching[0].DC:
        return None
    cutter = _clean(job)
    ratio = job.depth_mm / cutter.DC
    if ratio <= NOTE:
        return None
    return Finding(
        check=NAME,
        severity="ask" if ratio > ASK else "note",
        message=(
            f"{job.step} needs a cutter of {cutter.DC:g} mm at {job.depth_mm:.2f} mm deep, {ratio:.1f} times its "
            "width; such a cutter bends, and is fed slowly."
        ),
        step=job.step,
        piece=job.piece,
        at_mm=where,
        face=job.face,
        measured=ratio,
        limit=ASK if ratio > ASK else NOTE,
        unit="times the width",
        remedy=f"make it wide enough everywhere for a cutter of {job.depth_mm / NOTE:.1f} mm, or shallower",
        place=view.place(job.step, "depth", "floor", "through"),
        shown=_shown(view, job, cutter),
    )


def _shown(view: View, job: Job, cutter: Cutter) -> Shown | None:
    """The cutter in its section, from the face it comes from; an outer edge is seen in plan."""
    found = {b.name: b.thickness_mm for b in view.derived.blanks}
    thick = (found | {p.name: p.thickness_mm for p in view.derived.pieces}).get(job.piece)
    if thick is None or job.edge is not None:
        return None
    heights = (0.0, job.depth_mm) if job.face == "back" else (thick, thick - job.depth_mm)
    return Shown(heights_mm=heights, cutter_mm=cutter.DC)


def _clean(job: Job) -> Cutter:
    """The widest reaching cutter that leaves no more than the smallest one does; the widest of all where even
    the smallest leaves corners, since those are another check's matter."""
    if job.corners or job.counts.is_empty:
        return job.reaching[-1]
    least = job.lost(job.reaching[0])
    for cutter in reversed(job.reaching[1:]):
        if job.lost(cutter) <= least + 0.2:
            return cutter
    return job.reaching[0]
