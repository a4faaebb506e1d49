"""From cut pieces straight to regions, wherever nothing is in doubt.

Pieces that have the wanted area on their left bound it when at every point as many end as begin. Where just
one does, they make loops that nobody has to be asked about; otherwise `trace.py` lets GEOS decide.
"""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.geometry.contour import FLATTEN_MM, Bools, Contour, Floats
from pipeline.geometry.region import EMPTY, Region
from pipeline.geometry.segments import Ints, Segments
from pipeline.geometry.tidy import tidied

CLEAR_MM = 10 * FLATTEN_MM
"""Further than this from a curve the flattened form tells its sides for certain."""


def chains(a: Ints, b: Ints) -> Ints:
    """The number of the chain that each piece (from point a to point b) belongs to, in rising order.

    A chain goes on to the next piece where this begins at the end of the last and no third one meets them there.
    """
    meets = _meeting(a, b)
    fresh = np.ones(len(a), dtype=np.bool_)
    fresh[1:] = (a[1:] != b[:-1]) | (meets[a[1:]] != 2)
    return np.cumsum(fresh) - 1


def _meeting(a: Ints, b: Ints) -> Ints:
    """How many ends of pieces meet at each point."""
    return np.bincount(np.concatenate([a, b]))


def longest(chain: Ints, length: Floats) -> Ints:
    """The longest piece of each chain (numbered in rising order), the first of equals."""
    order = np.lexsort((-length, chain))
    fresh = np.ones(len(order), dtype=np.bool_)
    fresh[1:] = np.diff(chain[order]) > 0
    return order[fresh]


def closed_ones(a: Ints, b: Ints) -> Ints:
    """The pieces that are left when chains with a loose end are taken off until there is none."""
    left = np.arange(len(a))
    while len(left):
        p, q = a[left], b[left]
        meets = _meeting(p, q)
        loose = (meets[p] == 1) | (meets[q] == 1)
        if not loose.any():
            break
        chain = chains(p, q)
        left = left[np.bincount(chain, weights=loose)[chain] == 0]
    return left


def bounded(segs: Segments, a: Ints, b: Ints, back: Bools) -> Region | None:
    """The region to the left of ``segs`` (to the right of those that are turned ``back``), which run from
    point a to point b; None where they make no plain loops, or none that lie apart."""
    if not len(segs):
        return EMPTY
    start, end = np.where(back, b, a), np.where(back, a, b)
    count = int(max(start.max(), end.max())) + 1
    if (np.bincount(start, minlength=count) != np.bincount(end, minlength=count)).any():
        return None
    leaving = np.full(count, -1)
    leaving[start] = np.arange(len(start))
    if np.count_nonzero(leaving >= 0) != len(start):
        return None
    xy = np.where(back[:, None], segs.q, segs.p)
    bulge = np.where(back, -segs.bulge, segs.bulge)
    rings = [Contour(xy[k], bulge[k], segs.free[k]) for k in _rings(leaving[end]) if len(k) > 1]
    parts = _parts(rings)
    if parts is None:
        return None
    made = tidied(parts)[0]
    return made if shapely.is_valid(made.polygon) else None


def _rings(follower: Ints) -> list[Ints]:
    """Cycles of the pieces, each followed by the one that leaves where it ends."""
    then = follower.tolist()
    seen = [False] * len(then)
    found: list[Ints] = []
    for first in range(len(then)):
        if seen[first]:
            continue
        ring, k = [], first
        while not seen[k]:
            seen[k] = True
            ring.append(k)
            k = then[k]
        found.append(np.array(ring))
    return found


def _parts(rings: list[Contour]) -> list[tuple[Contour, tuple[Contour, ...]]] | None:
    """Holes with the smallest outer contour that holds them; None when one lies in none."""
    areas = [c.area for c in rings]
    outers = [(c, area) for c, area in zip(rings, areas, strict=True) if area > 0]
    holes: list[list[Contour]] = [[] for _ in outers]
    flat: list[shapely.Polygon] = []
    for c, area in zip(rings, areas, strict=True):
        if area > 0:
            continue
        if len(outers) == 1:
            holes[0].append(c)
            continue
        flat = flat or [shapely.Polygon(o.flatten()[0]) for o, _ in outers]
        x, y = c.xy[0].tolist()
        around = [k for k, f in enumerate(flat) if shapely.contains_xy(f, x, y)]
        if not around:
            return None
        holes[min(around, key=lambda k: outers[k][1])].append(c)
    return [(c, tuple(inner)) for (c, _), inner in zip(outers, holes, strict=True)]
