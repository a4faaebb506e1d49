"""Contours as they are written: few arcs, coordinates of 6 decimals, bulges of 12, circles as circles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Contour, arc_centres

DECIMALS = 6
BULGE_DECIMALS = 12
NEARLY_ROUND = 20.0
"""An arc of a larger bulge (over 348°) is written as two, so that rounding its ends can't turn it."""

STRAIGHT_BULGE = 1e-9
"""A flatter arc is a line: half a micrometre off on a chord of a metre."""

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle as it is written: centre and radius in mm."""

    x: float
    y: float
    r: float

    @property
    def bounds(self) -> Bounds:
        return self.x - self.r, self.y - self.r, self.x + self.r, self.y + self.r


Curve = Contour | Circle


def rounded(value: float, decimals: int = DECIMALS) -> float:
    """``value`` of that many decimals, never minus zero."""
    return round(value, decimals) + 0.0


def written(contour: Contour) -> Curve:
    """The contour with numbers as a file holds them; a full circle becomes a Circle.

    Vertices that rounding brings together become one, so that no segment is without length and a closed
    contour stays closed. Raises ValueError when nothing is left.
    """
    found = contour.circle()
    if found:
        return Circle(rounded(found[0]), rounded(found[1]), rounded(found[2]))
    if np.abs(contour.bulge).max() > NEARLY_ROUND:
        contour = _halved(contour)
    xy = np.round(contour.xy, DECIMALS) + 0.0
    flat = np.abs(contour.bulge) < STRAIGHT_BULGE
    bulge = np.where(flat, 0.0, np.round(contour.bulge, BULGE_DECIMALS)) + 0.0
    if contour.closed:
        keep = np.any(xy != np.roll(xy, -1, axis=0), axis=1)
    else:
        keep = np.append(np.any(xy[:-1] != xy[1:], axis=1), True)
    straight = not bulge[keep].any()
    if keep.sum() < (3 if contour.closed and straight else 2):
        raise ValueError("a contour without extent can't be written")
    return Contour(xy[keep], bulge[keep], contour.free[keep], contour.closed)


def _halved(contour: Contour) -> Contour:
    """Each arc over NEARLY_ROUND as two arcs of half its sweep."""
    xy, bulge, free = [], [], []
    for i, (p, b, f) in enumerate(
        zip(contour.xy.tolist(), contour.bulge.tolist(), contour.free.tolist(), strict=True)
    ):
        xy.append(p)
        free.append(f)
        if abs(b) <= NEARLY_ROUND:
            bulge.append(b)
            continue
        start, end = contour.starts[i], contour.ends[i]
        centre, radius = arc_centres(start[None], end[None], np.array([b]))
        away = centre[0] - (start + end) / 2
        middle = centre[0] + away / np.hypot(*away) * radius[0]
        half = float(np.sign(b) * np.tan(np.arctan(abs(b)) / 2))
        bulge += [half, half]
        xy.append(middle.tolist())
        free.append(f)
    return Contour(np.array(xy), np.array(bulge), np.array(free, dtype=np.bool_), contour.closed)


def bounds_of(curves: tuple[Curve, ...]) -> Bounds | None:
    """Bounds of several curves with arcs, of 6 decimals; None when there are none."""
    if not curves:
        return None
    b = np.array([c.bounds for c in curves])
    lo, hi = b[:, :2].min(axis=0), b[:, 2:].max(axis=0)
    return rounded(float(lo[0])), rounded(float(lo[1])), rounded(float(hi[0])), rounded(float(hi[1]))
