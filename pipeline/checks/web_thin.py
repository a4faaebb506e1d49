"""Wood between two cuts, or between a cut and the edge, that is too thin to stand (trade.md 8, fault 28; 7.4).

In a sheet: laser max(1.5, t/2), router max(3, T/4) (common practice, no source); a fastener's hole wants its own
diameter of wood besides. In a glued blank the walls of cavities are other checks' matter, and holes keep 3 mm or a
fastener's diameter.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from pipeline.checks.flat import LIMIT_MM, nearest_ends, outer, thin
from pipeline.checks.sheets import Bite, SheetPiece, hole_at
from pipeline.checks.view import View
from pipeline.checks.voids import Void, meant
from pipeline.core.findings import Finding, Shown
from pipeline.core.recipe import Step

NAME = "web-thin"
MEETS_MM = 0.02
"""Cuts that come nearer than this are one opening, or run out through the edge."""
HOLE_MM = 3.0
"""Wood round a hole in a glued blank (trade.md 7.4, common practice)."""
Spots = tuple[tuple[float, float], tuple[float, float]]


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each web that is too thin, at its thinnest place, the worst of each two steps."""
    for sheet in view.sheets:
        if sheet.piece.role not in ("lamination", "coupon"):
            yield from _worst(_sheet(view, sheet))
    for blank, taken in view.blanks:
        yield from _worst(_blank(view, blank.name, outer(thin(blank.region.polygon)), taken))


def _worst(found: Iterator[tuple[str, str, Finding]]) -> Iterator[Finding]:
    worst: dict[tuple[str, str], Finding] = {}
    for a, b, finding in found:
        key = (min(a, b), max(a, b))
        if key not in worst or finding.off > worst[key].off:
            worst[key] = finding
    yield from worst.values()


# -- one sheet -----------------------------------------------------------------------------------------
def _sheet(view: View, sheet: SheetPiece) -> Iterator[tuple[str, str, Finding]]:
    bites = sheet.bites
    if not bites:
        return
    shapes = np.array([b.shape for b in bites])
    limits = [_limit(view, sheet, b) for b in bites]
    tree = shapely.STRtree(shapes)
    for i, j in sorted(tree.query(shapes, predicate="dwithin", distance=max(limits)).T.tolist()):
        a, b = bites[i], bites[j]
        if i >= j or not a.meets_in_height(b):
            continue
        web = float(shapely.distance(a.shape, b.shape))
        limit = max(limits[i], limits[j])
        if MEETS_MM < web < limit - LIMIT_MM:
            mine, other = (b, a) if b.diameter_mm is not None or a.diameter_mm is None else (a, b)
            yield a.step, b.step, _finding(view, sheet.piece.name, mine, other, web, limit)
    rim = sheet.edge.boundary
    for b, limit in zip(bites, limits, strict=True):
        wall = float(shapely.distance(b.shape, rim))
        if MEETS_MM < wall < limit - LIMIT_MM and shapely.contains(sheet.edge, b.shape):
            yield b.step, "", _finding(view, sheet.piece.name, b, None, wall, limit, rim=rim)


def _limit(view: View, sheet: SheetPiece, bite: Bite) -> float:
    holds = bite.diameter_mm is not None and _fastens(view, bite.step, bite.centre)
    return max(sheet.web_mm, (bite.diameter_mm or 0.0) if holds else 0.0)


def _fastens(view: View, step: str, at: tuple[float, float]) -> bool:
    known = view.steps.get(step)
    if known is None or known.kind != "holes":
        found = hole_at(view.derived, at)
        known = view.steps.get(found[0]) if found else None
    return known is not None and _is_fastener(known)


def _is_fastener(step: Step) -> bool:
    spec = step.spec
    return step.kind == "holes" and (getattr(spec, "role", "") == "screw" or bool(getattr(spec, "fastener", "")))


def _finding(
    view: View,
    piece: str,
    mine: Bite,
    other: Bite | None,
    web: float,
    limit: float,
    *,
    rim: shapely.Geometry | None = None,
) -> Finding:
    ends = nearest_ends(mine.shape, rim if other is None else other.shape)
    what = "the edge" if other is None else other.step if other.step != mine.step else "the next cut of it"
    return _told(view, piece, mine.step, mine.face, what, web, limit, ends)


# -- a glued blank -------------------------------------------------------------------------------------
def _blank(
    view: View, blank: str, wanted: shapely.Geometry, taken: tuple[Void, ...]
) -> Iterator[tuple[str, str, Finding]]:
    holes = [v for v in taken if v.drilled]
    for n, hole in enumerate(holes):
        width = hole.cut.diameter_mm or 0.0
        limit = max(HOLE_MM, width if _is_fastener(hole.step) else 0.0)
        wall = float(shapely.distance(hole.whole, wanted.boundary))
        if MEETS_MM < wall < limit - LIMIT_MM and shapely.contains(wanted, hole.whole):
            ends = nearest_ends(hole.whole, wanted.boundary)
            yield hole.step.name, "", _told(view, blank, hole.step.name, hole.face, "the edge", wall, limit, ends)
        for other in (*holes[:n], *(v for v in taken if not v.drilled)):
            if (meant(hole, other) and not other.drilled) or not _same_height(hole, other):
                continue
            web = float(shapely.distance(hole.shape, other.shape))
            if MEETS_MM < web < limit - LIMIT_MM:
                ends = nearest_ends(hole.shape, other.shape)
                name = other.step.name if other.step.name != hole.step.name else "the next hole of it"
                yield (
                    hole.step.name,
                    other.step.name,
                    _told(view, blank, hole.step.name, hole.face, name, web, limit, ends),
                )


def _same_height(a: Void, b: Void) -> bool:
    (a0, a1), (b0, b1) = a.span(a.shape), b.span(b.shape)
    return max(a0, b0) < min(a1, b1) - 1e-6


def _told(
    view: View, piece: str, step: str, face: str, what: str, web: float, limit: float, ends: Spots
) -> Finding:
    return Finding(
        check=NAME,
        severity="ask",
        message=f"Between {step} and {what} {web:.2f} mm of {piece} is left; that breaks out, or burns away.",
        step=step,
        piece=piece,
        at_mm=ends[0],
        face=face,
        measured=web,
        limit=limit,
        remedy=f"move it {limit - web:.2f} mm away, or make it smaller by so much",
        place=view.place(step, "at", "pattern", "centre", "drawn"),
        shown=Shown(ends_mm=ends),
    )
