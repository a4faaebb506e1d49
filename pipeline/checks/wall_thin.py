"""Walls between a cut and the outline that are too thin (trade.md 8, fault 15; 15, "min wall at outline").

Nearest distance in plan (blueprint 6.6). A cut that runs out through the edge on purpose has no wall at
its mouth: there the distance is taken only where it points across the wall (within 75° of its normal),
so a mouth cut square through the edge says nothing and a horn that feathers out does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import LIMIT_MM, nearest, nearest_ends, outer, thin
from pipeline.checks.view import View
from pipeline.checks.voids import Void
from pipeline.core.findings import Finding, Shown
from pipeline.steps.values import Blank

NAME = "wall-thin"
WALL_MM = 10.0
"""Least wall at the outline (common practice, no source; 8 to 12 are used)."""
ACROSS = math.cos(math.radians(75.0))
NOTHING_MM = 0.05
"""A wall that gets thinner than this ends in nothing."""
STEP_MM = 0.25
"""Distance between the places where the wall of an open cut is measured."""


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each cavity or channel of a blank whose wall is thin, at its thinnest place.

    The recess of a cover is another check's matter; holes too.
    """
    for blank, taken in view.blanks:
        thinnest: dict[str, Finding] = {}
        for void in taken:
            if void.drilled or is_recess(void, taken):
                continue
            edge, more = wood_for(blank, taken, void).boundary, ""
            if void.opens:
                found = open_wall(void, edge)
                wall, at, more = found.least, found.at, found.told()
            else:
                wall, at = nearest(void.shape, edge)
            if wall >= WALL_MM - LIMIT_MM:
                continue
            old = thinnest.get(void.step.name)
            if old is None or wall < (old.measured or 0.0):
                thinnest[void.step.name] = _finding(view, blank.name, edge, void, wall, at, more)
        yield from thinnest.values()


def wood_for(blank: Blank, taken: tuple[Void, ...], void: Void) -> BaseGeometry:
    """The finished outline as a cut finds it: less what other steps cut through and out at its edge."""
    whole = outer(thin(blank.region.polygon))
    gone = [
        v.whole
        for v in taken
        if v.cut.depth.rule == "through" and not v.drilled and v.step.name != void.step.name and v.opens
    ]
    return shapely.difference(whole, shapely.union_all(gone)) if gone else whole


def is_recess(void: Void, taken: tuple[Void, ...]) -> bool:
    """True for the shallow wide cut of a cavity with a ledge: its step has a deeper one inside it."""
    low, high = void.span(void.shape)
    for other in taken:
        if other is void or other.step.name != void.step.name or other.face != void.face:
            continue
        other_low, other_high = other.span(other.shape)
        deeper = other_high - other_low > high - low + 1e-6
        if deeper and void.shape.area > other.shape.area and void.shape.intersects(other.shape):
            return True
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenWall:
    """The least wall beside a cut that runs out through the edge, and the places where it begins to be thin."""

    least: float
    at: tuple[float, float]
    begins: tuple[tuple[float, float], ...] = ()

    def told(self) -> str:
        """Where it begins to be thin, farthest from its thinnest place."""
        if not self.begins:
            return ""
        x, y = max(self.begins, key=lambda p: math.dist(p, self.at))
        return f"; it falls below {WALL_MM:g} mm from ({x:.1f}, {y:.1f}) on"


def open_wall(void: Void, edge: BaseGeometry, limit: float = WALL_MM) -> OpenWall:
    """The wall beside a cut that runs out through the edge, as far as it lies across the way to the edge; it
    begins to be thin where it gets thinner than ``limit``."""
    inner = shapely.difference(void.whole.boundary, shapely.buffer(edge, 0.005))
    inner = shapely.intersection(inner, void.shape.buffer(0.01))
    wood = shapely.build_area(edge)
    inner = shapely.intersection(inner, wood)
    spots: list[np.ndarray] = []
    ways: list[np.ndarray] = []
    halves: list[np.ndarray] = []
    lines: list[np.ndarray] = []
    for n, line in enumerate(shapely.get_parts(shapely.segmentize(inner, STEP_MM))):
        p = shapely.get_coordinates(line)
        if len(p) < 2:
            continue
        d = p[1:] - p[:-1]
        spots.append(p[:-1] + d / 2)
        ways.append(d / np.maximum(np.hypot(*d.T), 1e-12)[:, None])
        halves.append(d / 2)
        lines.append(np.full(len(d), n))
    if not spots:
        return OpenWall(least=math.inf, at=(0.0, 0.0))
    at, way, reach, line_of = np.vstack(spots), np.vstack(ways), np.vstack(halves), np.concatenate(lines)
    ends = shapely.get_coordinates(shapely.shortest_line(shapely.points(at), edge)).reshape(-1, 2, 2)
    to = ends[:, 1] - ends[:, 0]
    gap = np.hypot(*to.T)
    # The component of the shortest way across the wall, over its length: the cosine to the normal.
    across = np.abs(to[:, 0] * -way[:, 1] + to[:, 1] * way[:, 0]) / np.maximum(gap, 1e-12)
    ahead = at + to / np.maximum(gap, 1e-12)[:, None] * 0.02
    counts = (across >= ACROSS) & (gap > 1e-9) & ~shapely.contains_xy(void.whole, ahead[:, 0], ahead[:, 1])
    if not counts.any():
        return OpenWall(least=math.inf, at=(0.0, 0.0))
    gap = np.where(counts, gap, np.inf)
    k = int(np.argmin(gap))
    tips = np.vstack([at[k], at[k] + reach[k], at[k] - reach[k]])
    gaps = shapely.distance(shapely.points(tips), edge)
    best = int(np.argmin(gaps))
    least = float(gaps[best])
    return OpenWall(
        least=least if least > NOTHING_MM else 0.0,
        at=(float(tips[best, 0]), float(tips[best, 1])),
        begins=_begins(at, gap, line_of, limit),
    )


def _begins(at: np.ndarray, gap: np.ndarray, line_of: np.ndarray, limit: float) -> tuple[tuple[float, float], ...]:
    """Where the wall passes the limit between two neighbouring places; one that is thin all along begins at its
    ends."""
    found: list[tuple[float, float]] = []
    thin_here = gap < limit
    for i in np.flatnonzero(thin_here):
        for j in (i - 1, i + 1):
            if not 0 <= j < len(gap) or line_of[j] != line_of[i] or not np.isfinite(gap[j]):
                found.append((float(at[i, 0]), float(at[i, 1])))
            elif not thin_here[j]:
                share = (limit - gap[i]) / (gap[j] - gap[i])
                x, y = at[i] + share * (at[j] - at[i])
                found.append((float(x), float(y)))
    return tuple(dict.fromkeys(found))


def _finding(
    view: View, blank: str, edge: BaseGeometry, void: Void, wall: float, at: tuple[float, float], more: str
) -> Finding:
    name = void.step.name
    if void.opens:
        how = f"is {wall:.2f} mm thick at its thinnest" if wall > 0.0 else "feathers out to nothing"
        message = f"The wall beside the open end of {name} {how}{more}."
        remedy = "cut the outline square where it opens, make it wider there, or accept it and blend it by hand"
    else:
        message = f"Between {name} and the outline {wall:.2f} mm of wood is left."
        remedy = f"move it {WALL_MM - wall:.2f} mm inward, or make it so much smaller on this side"
    return Finding(
        check=NAME,
        severity="ask",
        message=message,
        step=name,
        piece=blank,
        at_mm=at,
        face=void.face,
        measured=wall,
        limit=WALL_MM,
        remedy=remedy,
        place=view.place(name, "centre", "drawn", "open", "opening", "part"),
        shown=Shown(ends_mm=nearest_ends(shapely.Point(at), edge)),
    )
