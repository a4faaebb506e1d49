"""Half outlines and their mirror images about the x axis (trade.md 1.5), exact for lines and arcs.

A half is an open contour whose ends lie on the axis. Where it meets the axis squarely, the last line or arc
and its mirror image are one, so that no vertex stands on the axis. Other axes are laid on the x axis first
(`symmetry.Axis.upright`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from pipeline.geometry.biarcs import biarcs
from pipeline.geometry.boolean import intersection
from pipeline.geometry.contour import Bools, Contour, Floats, chain
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.symmetry import Axis
from pipeline.geometry.transform import mirror_x_axis
from pipeline.geometry.wobble import Walk

BEND_DEG = 2.0
"""An end that deviates from square by less is bent to square (trade.md 1.5)."""
BEND_MM = 5.0
"""… over this length (trade.md 1.5)."""
EXACT_MM = 0.002
"""Ends that are off square or off the axis by so little that it moves nothing more than this are square."""
EXACT_DEG = 0.05
ON_MM = 1e-5
"""Vertices of a region cut along the axis lie on it within this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Where a half meets the axis: ``at`` as drawn, how far that was from the axis, how far its direction was from
    square, and what was done: nothing, ``bent`` to square, or left as a ``corner``."""

    at: tuple[float, float]
    gap_mm: float
    off_deg: float
    done: Literal["nothing", "bent", "corner"]


def doubled(halves: Sequence[Contour], apart: Sequence[Contour] = ()) -> tuple[Region, tuple[End, ...]]:
    """The region of halves and their mirror images about the x axis. Closed contours ``apart`` from the axis are
    mirrored too; contours within others are holes.

    Raises ValueError where contours cross.
    """
    loops: list[Contour] = []
    ends: list[End] = []
    for half in halves:
        half, last = ended(half)
        half, first = ended(half.reversed())
        ends += [first, last]
        loops.append(_loop(half.reversed(), first.done != "corner", last.done != "corner"))
    for c in apart:
        loops += [c, mirror_x_axis().contour(c)]
    return nested(loops), tuple(ends)


# -- ends ----------------------------------------------------------------------------------------
def ended(c: Contour) -> tuple[Contour, End]:
    """The open contour with its last point on the x axis, bent to square there where it nearly is."""
    walk = Walk.of(c)
    p, t = (v[0] for v in walk.at(np.array([walk.length])))
    gap = abs(float(p[1]))
    off = math.degrees(math.atan2(abs(float(t[0])), abs(float(t[1]))))
    told = {"at": (float(p[0]), float(p[1])), "gap_mm": gap, "off_deg": off}
    if off >= BEND_DEG:
        return _met(c, walk), End(**told, done="corner")  # type: ignore[arg-type]  # told has the right types
    last = walk.length - float(walk.stops[-2])
    small = off <= EXACT_DEG and max(gap, math.radians(off) * last / 8) <= EXACT_MM
    if small:
        xy = c.xy.copy()
        xy[-1, 1] = 0.0
        return Contour(xy, c.bulge, c.free, False), End(**told, done="nothing")  # type: ignore[arg-type]  # as above
    if off <= EXACT_DEG and c.bulge[-2] == 0:
        return _met(c, walk), End(**told, done="nothing")  # type: ignore[arg-type]  # as above
    keep, at, tangent = _cut(c, walk, walk.length - min(BEND_MM, walk.length / 2))
    foot = np.array([float(p[0] - p[1] * t[0] / t[1]), 0.0])
    down = np.array([0.0, math.copysign(1.0, float(t[1]))])
    joint, bulge = biarcs(np.stack([at, foot])[None], np.stack([tangent, down])[None])
    return _followed(keep, np.stack([at, joint[0], foot]), bulge[0]), End(**told, done="bent")  # type: ignore[arg-type]  # as above


def _met(c: Contour, walk: Walk) -> Contour:
    """The contour carried on straight to the axis, or cut where it crosses it."""
    p, t = (v[0] for v in walk.at(np.array([walk.length])))
    gap = float(p[1])
    if abs(gap) <= ON_MM:
        xy = c.xy.copy()
        xy[-1, 1] = 0.0
        return Contour(xy, c.bulge, c.free, False)
    reach = -gap / float(t[1]) if abs(float(t[1])) > 0.3 else 0.0
    if reach < 0:  # it stands out beyond the axis
        s = walk.length + np.linspace(4 * reach, 0.0, 4001)
        y = walk.at(s)[0][:, 1]
        before = np.flatnonzero(np.sign(y) == -math.copysign(1.0, gap))
        if len(before):
            keep, at, _ = _cut(c, walk, float(s[before[-1]]))
            return _followed(keep, np.stack([at, [at[0], 0.0]]), np.zeros(1))
    foot = [float(p[0] + reach * t[0]), 0.0] if reach > 0 else [float(p[0]), 0.0]
    if reach > 0 and c.bulge[-2] == 0:  # a line is made longer
        return Contour(np.vstack([c.xy[:-1], foot]), c.bulge, c.free, False)
    return _followed(c, np.vstack([p, foot]), np.zeros(1))


def _cut(c: Contour, walk: Walk, s: float) -> tuple[Contour, Floats, Floats]:
    """The contour up to arc length s, the point there and its tangent."""
    at, tangent = (v[0] for v in walk.at(np.array([s])))
    k = int(np.clip(np.searchsorted(walk.stops, s, side="right") - 1, 0, len(c) - 1))
    share = (s - walk.stops[k]) / (walk.stops[k + 1] - walk.stops[k])
    if share * (walk.stops[k + 1] - walk.stops[k]) < 1e-6 and k:
        return (
            Contour(c.xy[: k + 1], np.append(c.bulge[:k], 0.0), np.append(c.free[:k], False), False),
            at,
            tangent,
        )
    bulge = np.append(c.bulge[:k], [math.tan(math.atan(float(c.bulge[k])) * share), 0.0])
    return Contour(np.vstack([c.xy[: k + 1], at]), bulge, np.append(c.free[: k + 1], False), False), at, tangent


def _followed(c: Contour, points: Floats, bulges: Floats) -> Contour:
    """An open contour with segments after it: ``points`` (n + 1, 2) begin where it ends, bulges are (n,)."""
    xy = np.vstack([c.xy, points[1:]])
    bulge = np.concatenate([c.bulge[:-1], bulges, [0.0]])
    free = np.concatenate([c.free[:-1], np.zeros(len(bulges) + 1, dtype=np.bool_)])
    return Contour(xy, bulge, free, False)


# -- joining -------------------------------------------------------------------------------------
def _loop(half: Contour, square_first: bool, square_last: bool) -> Contour:
    """A half, with its ends on the axis, and its mirror image as one closed contour."""
    if len(half) == 1 and (square_first or square_last):  # one arc: it needs a vertex off the axis
        walk = Walk.of(half)
        _, at, _ = _cut(half, walk, walk.length / 2)
        part = math.tan(math.atan(float(half.bulge[0])) / 2)
        half = Contour(
            np.vstack([half.xy[:1], at, half.xy[1:]]),
            np.array([part, part, 0.0]),
            np.append(half.free[:1], half.free),
            False,
        )
    n = len(half)
    flip = np.array([1.0, -1.0])
    xy = np.vstack([half.xy, half.xy[-2:0:-1] * flip])
    bulge = np.concatenate([half.bulge[:-1], half.bulge[:-1][::-1]])
    free = np.concatenate([half.free[:-1], half.free[:-1][::-1]])
    keep = np.ones(len(xy), dtype=np.bool_)
    if square_last:
        keep[n] = False
        bulge[n - 1] = _across(xy[n - 1], xy[n])
    if square_first:
        keep[0] = False
        bulge[-1] = _across(xy[-1], xy[0])
    return Contour(xy[keep], bulge[keep], free[keep], True)


def _across(vertex: Floats, foot: Floats) -> float:
    """Bulge of the arc from a vertex through a point of the axis to the vertex's mirror image: what it stands
    out over half its chord."""
    return float(-(foot[0] - vertex[0]) / vertex[1])


def nested(loops: Sequence[Contour]) -> Region:
    """Closed contours that don't cross as a region: those within one, three … others are holes."""
    shapes = [shapely.Polygon(c.flatten()[0]) for c in loops]
    for k, a in enumerate(shapes):
        if not a.is_valid:
            raise ValueError("a half crosses the axis or itself")
        if any(shapely.intersects(a.exterior, b.exterior) for b in shapes[:k]):
            raise ValueError("two halves cross")
    over = [[j for j, b in enumerate(shapes) if j != i and shapely.contains(b, a)] for i, a in enumerate(shapes)]
    parts = []
    for i, c in enumerate(loops):
        if len(over[i]) % 2 == 0:
            holes = [h for j, h in enumerate(loops) if i in over[j] and len(over[j]) == len(over[i]) + 1]
            parts.append(Part(c, tuple(holes)))
    return region(parts)


# -- taking halves -------------------------------------------------------------------------------
def halves_of(shape: Region, side: int) -> tuple[list[Contour], list[Contour]]:
    """The edge of what of a region lies above (side 1) or below (−1) the x axis, less the axis: open contours
    that end on it, and closed ones that lie apart from it."""
    x0, y0, x1, y1 = shape.bounds
    tall = max(abs(y0), abs(y1)) + 10.0
    low, high = sorted((0.0, side * tall))
    plane = solid(chain([(x0 - 10, low), (x1 + 10, low), (x1 + 10, high), (x0 - 10, high)], [0.0] * 4))
    open_: list[Contour] = []
    apart: list[Contour] = []
    for c in intersection(shape, plane).contours:
        on = (np.abs(c.starts[:, 1]) <= ON_MM) & (np.abs(c.ends[:, 1]) <= ON_MM) & (c.bulges == 0)
        if not on.any():
            apart.append(c)
        else:
            open_ += without(c, on)
    return open_, apart


def even(shape: Region, axis: Axis) -> Region:
    """A region that is nearly its own mirror image about an axis, made exactly so from its upper half."""
    made, _ = doubled(*halves_of(axis.upright.region(shape), 1))
    return axis.back.region(made)


def without(c: Contour, gone: Bools) -> list[Contour]:
    """What is left of a closed contour without some of its segments (n,): open contours."""
    start = int(np.flatnonzero(gone)[-1]) + 1
    c, gone = c.rolled(start % len(c)), np.roll(gone, -start)
    found: list[Contour] = []
    stay = np.flatnonzero(~gone)
    for run in np.split(stay, np.flatnonzero(np.diff(stay) > 1) + 1):
        if len(run):
            xy = np.vstack([c.starts[run], c.ends[run[-1:]]])
            found.append(Contour(xy, np.append(c.bulge[run], 0.0), np.append(c.free[run], False), False))
    return found
