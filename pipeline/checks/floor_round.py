"""Floors that a cutter with a rounded end leaves a fillet round (trade.md 8, fault 5; RE of ISO 13399).

A corner radius RE leaves a fillet of RE where wall and floor meet, (1 − π/4)·RE² in section (outside_checks O1),
so a part with a square lower edge stands on it.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown

NAME = "floor-round"
WORTH_MM = 0.1
"""A smaller radius is an edge broken against splinters."""


def check(view: View) -> Iterator[Finding]:
    """One finding a step, an `ask` where a part must sit on the floor, else a `note`; none where a flat-ended
    cutter makes the shape as well."""
    thick = {b.name: b.thickness_mm for b in view.derived.blanks}
    thick |= {p.name: p.thickness_mm for p in view.derived.pieces}
    told: set[str] = set()
    for job in view.jobs:
        cutter = job.smallest
        through = job.depth_mm >= thick.get(job.piece, float("inf")) - 1e-6
        if cutter is None or job.edge is not None or through or job.step in told or cutter.RE < WORTH_MM:
            continue
        flat = [c for c in job.reaching if c.RE < WORTH_MM]
        if any(job.lost(c) <= job.lost(cutter) + 0.2 for c in flat):
            continue
        told.add(job.step)
        x, y = shapely.get_coordinates(job.counts.representative_point())[0].tolist()
        yield Finding(
            check=NAME,
            severity="ask" if job.fit else "note",
            message=(
                f"The cutter of {cutter.DC:g} mm that makes {job.step} has corners of radius {cutter.RE:g}, so a "
                f"fillet of {cutter.RE:g} mm stays all round its floor"
                f"{f', and a part must sit there ({job.fit})' if job.fit else ''}."
            ),
            step=job.step,
            piece=job.piece,
            at_mm=(x, y),
            face=job.face,
            measured=cutter.RE,
            limit=0.0,
            remedy=(
                f"round the lower edges of what goes in by {cutter.RE + 0.2:.1f} mm, or name a shop with a "
                f"flat-ended cutter that reaches {job.depth_mm:.1f} mm"
            ),
            place=view.place(job.step, "depth", "floor"),
            shown=Shown(cutter_mm=cutter.DC),
        )
