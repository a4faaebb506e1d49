"""Union, difference and intersection of regions, exact for lines and arcs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
import shapely

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.loops import CLEAR_MM, bounded, chains, longest
from pipeline.geometry.nodes import noded, pieces
from pipeline.geometry.region import EMPTY, Region
from pipeline.geometry.segments import Segments, joined
from pipeline.geometry.tidy import tidy
from pipeline.geometry.trace import area_of

Rule = Callable[[Bools], Bools]
"""Given (regions, places) of insideness: which places (places,) are wanted."""


def union(*regions: Region) -> Region:
    """Everything that lies in at least one region; parts that touch along an edge become one."""
    return _combined(tuple(r for r in regions if r), _any)


def difference(region: Region, *others: Region) -> Region:
    """What of ``region`` lies in none of ``others``."""
    rest = tuple(r for r in others if r)
    return _combined((region, *rest), _first_alone) if region else EMPTY


def intersection(a: Region, b: Region) -> Region:
    """What lies in both."""
    return _combined((a, b), _all) if a and b else EMPTY


def _any(inside: Bools) -> Bools:
    return np.asarray(inside.any(axis=0))


def _all(inside: Bools) -> Bools:
    return np.asarray(inside.all(axis=0))


def _first_alone(inside: Bools) -> Bools:
    return np.asarray(inside[0] & ~inside[1:].any(axis=0))


@lru_cache(maxsize=64)
def _combined(regions: tuple[Region, ...], rule: Rule) -> Region:
    """Everything for which ``rule`` holds. Steps ask again and again for the same of the same regions."""
    if len(regions) < 2:
        return tidy(regions[0])[0] if regions else EMPTY
    segs = joined(r.segments for r in regions)
    plain = _from_pieces(regions, segs, rule)
    if plain is not None:
        return plain

    def inside(points: Floats) -> Bools:
        x, y = points[:, 0], points[:, 1]
        return rule(np.array([shapely.contains_xy(r.polygon, x, y) for r in regions], dtype=np.bool_))

    return area_of(noded(segs), inside)


def _from_pieces(regions: Sequence[Region], segs: Segments, rule: Rule) -> Region | None:
    """The same, where each piece of an edge clearly lies inside or outside of the other regions, or runs
    along their edges; else None."""
    lot = np.repeat(np.arange(len(regions)), [len(r.segments) for r in regions])
    cut = pieces(segs, lot)
    owner = lot[cut.parent]
    # Which regions each piece is an edge of: 1 of one to its left, -1 of one to its right.
    edge = np.zeros((len(regions), len(owner)), dtype=np.int64)
    edge[owner, cut.same] = np.where(cut.a == cut.a[cut.same], 1, -1)
    once = np.unique(cut.same)
    if np.count_nonzero(edge) != len(owner):
        return None  # an edge that touches itself
    edge, a, b, found = edge[:, once], cut.a[once], cut.b[once], cut.segs[once]
    chain = chains(a, b)
    spot = longest(chain, found.length)
    points = found.middle[spot]
    within = edge[:, spot] == 0
    for k, other in enumerate(regions):
        ask = np.flatnonzero(within[k])
        at = points[ask]
        if shapely.dwithin(other.edge, shapely.points(at), CLEAR_MM).any():
            return None
        within[k, ask] = shapely.contains_xy(other.polygon, at[:, 0], at[:, 1])
    beyond = within[:, chain]
    left, right = rule((edge > 0) | beyond), rule((edge < 0) | beyond)
    keep = np.flatnonzero(left != right)
    return bounded(found[keep], a[keep], b[keep], right[keep])
