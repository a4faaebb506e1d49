"""Where a boundary moved between two states of a shape: the places that a picture points at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.region import Region

SPACING_MM = 0.25
"""Points along the boundary are at most this far apart."""
MOST_POINTS = 20_000
"""of one contour; longer ones are looked at more coarsely."""
FLAT_MM = 0.002
"""How close the flattened curves are to the true ones: moves are told to a hundredth."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A point of the boundary before (``at``), the nearest one after (``to``) and their distance."""

    at: Point
    to: Point
    mm: float


def moves(
    before: Region, after: Region, least_mm: float, most_mm: float, apart_mm: float
) -> tuple[tuple[Moved, ...], bool]:
    """Where the boundary of ``before`` lies more than ``least_mm`` from that of ``after``, the farthest first,
    none nearer than ``apart_mm``, or five times the move, to one that moved more; and whether some stretch of it
    reaches more than ``most_mm`` away.

    Such a stretch was left out or replaced, not moved, so nothing of it is listed (a half's own axis, for
    instance, which begins at the outline). Raises ValueError when ``after`` is empty.
    """
    if not after:
        raise ValueError("nothing moves to an empty region")
    chords = _chords(after.contours)
    tree = shapely.STRtree(shapely.linestrings(chords))
    points, feet, left_out = np.empty((0, 2)), np.empty((0, 2)), False
    for c in before.contours:
        p = _points(c)
        f = _feet(p, chords[tree.query_nearest(shapely.points(p), all_matches=False)[1]])
        mm = np.hypot(*(p - f).T)
        stays = (mm > least_mm) & ~_stretches_beyond(mm, least_mm, most_mm)
        left_out |= bool((mm > most_mm).any())
        points, feet = np.vstack([points, p[stays]]), np.vstack([feet, f[stays]])
    mm = np.hypot(*(points - feet).T)
    chosen: list[int] = []
    for k in np.argsort(-mm, kind="stable").tolist():
        if all(np.hypot(*(points[k] - points[j])) >= max(apart_mm, 5 * mm[j]) for j in chosen):
            chosen.append(k)
    found = tuple(Moved(at=_point(points[k]), to=_point(feet[k]), mm=float(mm[k])) for k in chosen)
    return found, left_out


def _stretches_beyond(mm: Floats, least: float, most: float) -> Bools:
    """Which points of a contour lie on a stretch over ``least`` off that reaches over ``most``."""
    ends = np.flatnonzero(mm <= least)
    if not len(ends):
        return np.full(len(mm), bool((mm > most).any()))
    turned = np.roll(mm, -ends[0])
    run = np.cumsum(turned <= least)
    far = np.unique(run[turned > most])
    beyond: Bools = np.roll(np.isin(run, far) & (turned > least), ends[0])
    return beyond


def _chords(contours: tuple[Contour, ...]) -> Floats:
    rows = []
    for c in contours:
        xy = c.flatten(FLAT_MM)[0]
        ends = np.roll(xy, -1, axis=0) if c.closed else xy[1:]
        rows.append(np.stack([xy[: len(ends)], ends], axis=1))
    return np.concatenate(rows)


def _points(c: Contour) -> Floats:
    xy = c.flatten(FLAT_MM)[0]
    ring = np.vstack([xy, xy[:1]]) if c.closed else xy
    step = max(SPACING_MM, c.length / MOST_POINTS)
    points: Floats = shapely.get_coordinates(shapely.segmentize(shapely.LineString(ring), step))
    return points


def _feet(points: Floats, chords: Floats) -> Floats:
    p, d = chords[:, 0], chords[:, 1] - chords[:, 0]
    square = np.sum(d * d, axis=1)
    t = np.sum((points - p) * d, axis=1) / np.where(square > 0, square, 1.0)
    feet: Floats = p + d * np.clip(t, 0.0, 1.0)[:, None]
    return feet


def _point(xy: Floats) -> Point:
    return float(xy[0]) + 0.0, float(xy[1]) + 0.0
