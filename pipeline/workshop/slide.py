"""How far a part can slide straight before it touches what lies there: exact on its edges, no cells."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from pipeline.workshop.ways import LEVEL_MM, Edges, Faces

PAST_MM = 1e-6
"""Edges that lie behind a part by more than this are no longer in its way."""
SPARE_MM = 1e-9


@dataclass(frozen=True, slots=True)
class There:
    """Something that lies on a sheet: its box and the edges that can be touched."""

    box: tuple[float, float, float, float]
    faces: Faces


def left(part: There, others: Iterable[There], limit: float) -> float:
    """How far a part can go to the left, at most ``limit``, in mm."""
    return _slide(part.box, part.faces.left, [(t.box, t.faces.right) for t in others], 0, limit)


def down(part: There, others: Iterable[There], limit: float) -> float:
    """How far a part can go down, at most ``limit``, in mm."""
    return _slide(part.box, part.faces.down, [(t.box, t.faces.up) for t in others], 1, limit)


def up(part: There, others: Iterable[There], limit: float) -> float:
    """How far a part can go up, at most ``limit``, in mm: down in a mirror."""
    turned = [((b[0], -b[3], b[2], -b[1]), _mirrored(t.faces.down)) for t in others for b in (t.box,)]
    b = part.box
    return _slide((b[0], -b[3], b[2], -b[1]), _mirrored(part.faces.up), turned, 1, limit)


def _mirrored(edges: Edges) -> Edges:
    return edges * (1.0, -1.0, 1.0, -1.0)


def _slide(
    box: tuple[float, float, float, float],
    lead: Edges,
    others: list[tuple[tuple[float, float, float, float], Edges]],
    axis: int,
    limit: float,
) -> float:
    """The free way toward smaller coordinates of ``axis``; ``lead`` are the edges that face that way."""
    if limit <= 0.0:
        return 0.0
    across = 1 - axis
    lo, hi = box[across], box[across + 2]
    near = [
        e
        for b, e in others
        if b[across] < hi and b[across + 2] > lo and b[axis] < box[axis + 2] and b[axis + 2] > box[axis] - limit
    ]
    if not near:
        return limit
    return _free(lead, np.concatenate(near), axis, limit)


def _free(p: Edges, q: Edges, axis: int, limit: float) -> float:
    """Edges meet where their extents across the way overlap; the way between two is least at an end of that."""
    across = 1 - axis
    p_lo, p_hi, q_lo, q_hi = p[:, across], p[:, across + 2], q[:, across], q[:, across + 2]
    i, j = np.nonzero(np.minimum(p_hi[:, None], q_hi) - np.maximum(p_lo[:, None], q_lo) > LEVEL_MM)
    if not len(i):
        return limit
    lo, hi = np.maximum(p_lo[i], q_lo[j]), np.minimum(p_hi[i], q_hi[j])
    p_slope = (p[i, axis + 2] - p[i, axis]) / (p_hi[i] - p_lo[i])
    q_slope = (q[j, axis + 2] - q[j, axis]) / (q_hi[j] - q_lo[j])
    first = p[i, axis] + p_slope * (lo - p_lo[i]) - q[j, axis] - q_slope * (lo - q_lo[j])
    last = p[i, axis] + p_slope * (hi - p_lo[i]) - q[j, axis] - q_slope * (hi - q_lo[j])
    ahead = np.minimum(first, last)[first + last > -PAST_MM]
    if not len(ahead):
        return limit
    return max(0.0, min(limit, float(ahead.min()) - SPARE_MM))
