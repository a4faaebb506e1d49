"""Walls between a cut and the outline that are too thin (trade.md 8, fault 15; 15, "min wall at outline").

Nearest distance in plan (blueprint 6.6). A cut that runs out through the edge on purpose has no wall at
its mouth: there the distance is taken only where it points across the wall (within 75° of its normal),
so a mouth cut square through the edge says nothing and a horn that feathers out does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import nearest, outer, thin
from pipeline.checks.view import View
from pipeline.checks.voids import Void
from pipeline.core.findings import Finding

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
        edge = outer(thin(blank.region.polygon)).boundary
        thinnest: dict[str, Finding] = {}
        for void in taken:
            if void.drilled or is_recess(void, taken):
                continue
            wall, at, more = _open_wall(void, edge) if void.opens else (*nearest(void.shape, edge), "")
            if wall >= WALL_MM - 1e-3:
                continue
            old = thinnest.get(void.step.name)
            if old is None or wall < (old.measured or 0.0):
                thinnest[void.step.name] = _finding(view, blank.name, void, wall, at, more)
        yield from thinnest.values()


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


def _open_wall(void: Void, edge: BaseGeometry) -> tuple[float, tuple[float, float], str]:
    """Least wall of a cut that runs out through the edge, its place, and where it begins to be thin."""
    inner = shapely.difference(void.whole.boundary, shapely.buffer(edge, 0.005))
    inner = shapely.intersection(inner, void.shape.buffer(0.01))
    spots: list[np.ndarray] = []
    ways: list[np.ndarray] = []
    for line in shapely.get_parts(shapely.segmentize(inner, STEP_MM)):
        p = shapely.get_coordinates(line)
        if len(p) < 2:
            continue
        d = p[1:] - p[:-1]
        spots.append(p[:-1] + d / 2)
        ways.append(d / np.maximum(np.hypot(*d.T), 1e-12)[:, None])
    if not spots:
        return math.inf, (0.0, 0.0), ""
    at, way = np.vstack(spots), np.vstack(ways)
    lines = shapely.shortest_line(shapely.points(at), edge)
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    to = ends[:, 1] - ends[:, 0]
    gap = np.hypot(*to.T)
    # The component of the shortest way across the wall, over its length: the cosine to the normal.
    across = np.abs(to[:, 0] * -way[:, 1] + to[:, 1] * way[:, 0]) / np.maximum(gap, 1e-12)
    counts = (across >= ACROSS) & (gap > 1e-9)
    if not counts.any():
        return math.inf, (0.0, 0.0), ""
    gap = np.where(counts, gap, np.inf)
    k = int(np.argmin(gap))
    thin_ones = at[gap < WALL_MM]
    more = ""
    if len(thin_ones) > 1:
        far = int(np.argmax(np.hypot(*(thin_ones - at[k]).T)))
        x, y = thin_ones[far]
        more = f"; it falls below {WALL_MM:g} mm from ({x:.1f}, {y:.1f}) on"
    least = float(gap[k])
    return (least if least > NOTHING_MM else 0.0), (float(at[k, 0]), float(at[k, 1])), more


def _finding(view: View, blank: str, void: Void, wall: float, at: tuple[float, float], more: str) -> Finding:
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
    )
