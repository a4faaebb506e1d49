"""What a drawing is drawn with: lines, arcs, cubics and elliptic arcs, made into exact contours.

Lines, circular arcs, straight cubics and ellipses with equal axes come out as the lines and arcs they
are. Everything else becomes a fine tangent-continuous chain of arcs, marked ``free``, within
``CURVE_MM`` of the mathematical curve (`biarcs.py`). Neighbours that meet within ``SMOOTH_DEG`` are
made to meet tangentially; every larger break stays a corner, exactly where it was drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from pipeline.geometry.biarcs import CURVE_MM, Pieces, followed
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.drawn import (
    SAME_MM,
    Arc,
    Cubic,
    Curve,
    EllipseArc,
    Line,
    PathSegment,
    Plain,
    Point,
    extent,
    plain,
    quadratic,
    unit,
)

__all__ = [
    "CURVE_MM",
    "SMOOTH_DEG",
    "Arc",
    "Cubic",
    "EllipseArc",
    "Line",
    "PathSegment",
    "contour",
    "quadratic",
]

SMOOTH_DEG = 0.1
"""Largest break of tangents that counts as smooth (blueprint section 6)."""


def contour(segments: Sequence[PathSegment], closed: bool) -> Contour:
    """One contour of segments that join end to start; a closed one gets the line that is missing.

    Segments shorter than ``SAME_MM`` are dropped. Raises ValueError, in a plain sentence, when a number
    isn't finite or is out of reach, when segments don't join, or when nothing is left.
    """
    steps = _joined([part for s in segments for part in plain(s)], closed)
    if not steps:
        raise ValueError("the path has no length")
    directions = [_directions(s) for s in steps]
    n = len(steps)
    for i in range(n if closed else n - 1):
        j = (i + 1) % n
        arrives, leaves = directions[i][1], directions[j][0]
        break_deg = math.degrees(abs(math.atan2(_cross(arrives, leaves), _dot(arrives, leaves))))
        if break_deg <= SMOOTH_DEG:
            if not isinstance(steps[i], Curve):
                mean = arrives
            elif not isinstance(steps[j], Curve):
                mean = leaves
            else:
                mean = unit(arrives[0] + leaves[0], arrives[1] + leaves[1])
            # A line or arc keeps its own direction; nobody reads it again.
            directions[i] = (directions[i][0], mean)
            directions[j] = (mean, directions[j][1])
    chains = iter(_chains(steps, directions))
    xy, bulge, free = [], [], []
    for s in steps:
        if isinstance(s, Curve):
            vertices, bulges = next(chains)
        else:
            vertices, bulges = np.array([s.p]), np.array([s.bulge if isinstance(s, Arc) else 0.0])
        xy.append(vertices)
        bulge.append(bulges)
        free.append(np.full(len(bulges), isinstance(s, Curve)))
    if not closed:
        xy.append(np.array([steps[-1].q]))
        bulge.append(np.zeros(1))
        free.append(np.zeros(1, dtype=np.bool_))
    return Contour(np.concatenate(xy), np.concatenate(bulge), np.concatenate(free), closed)


def _chains(steps: list[Plain], directions: list[tuple[Point, Point]]) -> list[tuple[Floats, Floats]]:
    curves = [(s, d) for s, d in zip(steps, directions, strict=True) if isinstance(s, Curve)]
    if not curves:
        return []
    return followed(
        Pieces(
            coefficients=np.array([s.coefficients for s, _ in curves]),
            angles=np.array([s.angles or (0.0, 0.0) for s, _ in curves]),
            round=np.array([s.angles is not None for s, _ in curves]),
            ends=np.array([(s.p, s.q) for s, _ in curves]),
            tangents=np.array([d for _, d in curves]),
        )
    )


def _joined(parts: list[Plain], closed: bool) -> list[Plain]:
    """The same without what has no length, each beginning exactly where the last one ends."""
    steps: list[Plain] = []
    for now, then in pairwise(parts):
        if math.dist(now.q, then.p) > 2 * SAME_MM:
            raise ValueError(
                f"the path breaks off at ({now.q[0]:.3f}, {now.q[1]:.3f}) "
                f"and goes on at ({then.p[0]:.3f}, {then.p[1]:.3f})"
            )
    for s in parts:
        if extent(s) <= SAME_MM:
            continue
        if steps and math.dist(steps[-1].q, s.p) > SAME_MM:  # many dropped ones can add up
            steps.append(Line(steps[-1].q, s.p))
        steps.append(replace(s, p=steps[-1].q) if steps else s)
    if steps and closed:
        if math.dist(steps[-1].q, steps[0].p) > SAME_MM:
            steps.append(Line(steps[-1].q, steps[0].p))
        else:
            steps[-1] = replace(steps[-1], q=steps[0].p)
    return steps


def _directions(s: Plain) -> tuple[Point, Point]:
    """Unit tangents at start and end."""
    if isinstance(s, Curve):
        return s.leaves, s.arrives
    along = unit(s.q[0] - s.p[0], s.q[1] - s.p[1])
    half = 2 * math.atan(s.bulge) if isinstance(s, Arc) else 0.0
    c, n = math.cos(half), math.sin(half)
    return (
        (along[0] * c + along[1] * n, along[1] * c - along[0] * n),
        (along[0] * c - along[1] * n, along[1] * c + along[0] * n),
    )


def _cross(a: Point, b: Point) -> float:
    return a[0] * b[1] - a[1] * b[0]


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]
