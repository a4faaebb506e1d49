"""A cover's recess too near the edge, so that the cover would hang over it (trade.md 8, fault 36; 3.3).

The flat face ends where a rounding, bevel or hollow begins: a rounding of radius r takes r of it (trade.md 4.1).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import LIMIT_MM, nearest, nearest_ends, outer, thin
from pipeline.checks.view import View
from pipeline.checks.voids import Void
from pipeline.checks.wall_thin import is_recess
from pipeline.core.findings import Finding, Shown
from pipeline.geometry.contour import Contour
from pipeline.steps.values import Blank, EdgeRun

NAME = "cover-edge"
FLAT_MM = 3.0
"""Flat wood beside a cover, on top of any rounding (trade.md 3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """What a recess comes near to: its distance, how much it needs, and what takes the face away there."""

    line: BaseGeometry
    away: float
    needs: float
    run: EdgeRun | None = None


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each recess with less than FLAT_MM of flat wood beside it, where it has least."""
    for blank, taken in view.blanks:
        for void in taken:
            if is_recess(void, taken):
                yield from _recess(view, blank, void)


def _recess(view: View, blank: Blank, void: Void) -> Iterator[Finding]:
    near = max(_beside(blank, void), key=lambda n: n.needs - n.away)
    if void.opens:
        edge = outer(thin(blank.region.polygon)).boundary
        near = Near(line=edge, away=0.0, needs=FLAT_MM)
    if near.away >= near.needs - LIMIT_MM:
        return
    lacks, flat = near.needs - near.away, near.away - near.needs + FLAT_MM
    name, run = void.step.name, near.run
    if void.opens:
        message = f"The recess of {name} runs out through the edge; the cover would hang over it."
    elif run is None:
        message = f"The recess of {name} keeps {near.away:.2f} mm of flat wood to the outline."
    elif run.kind == "round":
        message = (
            f"The recess of {name} lies {near.away:.2f} mm from the outline, and the {run.face} rounding takes "
            f"{run.size_mm:g} mm of that: {max(flat, 0.0):.2f} mm of flat wood are left."
        )
    else:
        what = "bevel" if run.kind == "bevel" else "hollow"
        message = (
            f"The recess of {name} keeps {near.away:.2f} mm of flat wood to the {what} of the {run.face} edge."
        )
    smaller = ""
    if run is not None and run.kind == "round" and run.size_mm > lacks:
        smaller = f", or round the edge by {run.size_mm - lacks:.2f} at most"
    yield Finding(
        check=NAME,
        severity="ask",
        message=message,
        step=name,
        piece=blank.name,
        at_mm=nearest(void.shape, near.line)[1],
        face=void.face,
        measured=near.away,
        limit=near.needs,
        remedy=f"make the ledge {lacks:.2f} mm narrower, move the cavity so much inward{smaller}",
        place=view.place(name, "ledge.width", "ledge"),
        shown=None if void.opens else Shown(ends_mm=nearest_ends(void.shape, near.line)),
    )


def _beside(blank: Blank, void: Void) -> Iterator[Near]:
    """The outline, and each edge treatment of the recess's face."""
    edge = outer(thin(blank.region.polygon)).boundary
    yield Near(line=edge, away=float(shapely.distance(void.shape, edge)), needs=FLAT_MM)
    for run in blank.edges:
        if run.face != void.face:
            continue
        if run.kind == "round":
            line = _line(run.edge)
            away, needs = float(shapely.distance(void.shape, line)), FLAT_MM + run.size_mm
        else:
            if not run.lines:
                continue
            line = shapely.union_all([_line(c) for c in run.lines])
            away, needs = float(shapely.distance(void.shape, line)), FLAT_MM
        yield Near(line=line, away=away, needs=needs, run=run)


def flat_mm(blank: Blank, void: Void) -> float:
    """How far a recess keeps from the outline, beside the widest treatment of its face."""
    widest = 0.0
    for run in blank.edges:
        if run.face != void.face:
            continue
        edge = _line(run.edge)
        spots = [shapely.points(c.flatten()[0]) for c in run.lines]
        width = max((float(shapely.distance(edge, s).max()) for s in spots if len(s)), default=0.0)
        widest = max(widest, run.size_mm if run.kind == "round" else width)
    return FLAT_MM + widest


def _line(contour: Contour) -> BaseGeometry:
    xy = contour.flatten()[0]
    return shapely.LinearRing(xy) if contour.closed else shapely.LineString(xy)
