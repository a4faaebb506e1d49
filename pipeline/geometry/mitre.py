"""Corners that are carried on to a point: the parts that mitre joins add to an offset with round ones."""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.contour import Contour, Floats, line_chain
from pipeline.geometry.region import Region

MITRE_LIMIT = 4.0
"""Corners whose mitre would stand further than this many offsets from the vertex stay round."""


def normals(tangents: Floats) -> Floats:
    return np.stack([tangents[:, 1], -tangents[:, 0]], axis=1)


def turns(first: Floats, then: Floats) -> Floats:
    """Angles from unit vectors ``first`` to ``then``, anticlockwise positive."""
    cross = first[:, 0] * then[:, 1] - first[:, 1] * then[:, 0]
    turn: Floats = np.arctan2(cross, np.sum(first * then, axis=1))
    return turn


Corner = tuple[Floats, Floats, Floats]
"""A vertex and the unit normals of its two sides."""


def corners(region: Region, by_mm: float) -> list[Corner]:
    """Corners that are convex on the offset's side."""
    found: list[Corner] = []
    for c in region.contours:
        leaving, arriving = c.tangents()
        ahead = np.roll(leaving, -1, axis=0)
        turn = turns(arriving, ahead)
        for k in np.flatnonzero(turn * math.copysign(1, by_mm) > 1e-9).tolist():
            found.append((c.ends[k], normals(arriving[k : k + 1])[0], normals(ahead[k : k + 1])[0]))
    return found


def kite(vertex: Floats, n1: Floats, n2: Floats, by_mm: float) -> Contour | None:
    """The area between a corner's two parallels, with the mitre's tip; None past the mitre limit."""
    cos = 1 + float(n1 @ n2)  # 2 cos² of half the turn
    if cos < 2 / MITRE_LIMIT**2:
        return None
    tip = vertex + by_mm * (n1 + n2) / cos
    return line_chain([vertex, vertex + by_mm * n1, tip, vertex + by_mm * n2])
