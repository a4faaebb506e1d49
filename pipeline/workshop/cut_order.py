"""The order in which a sheet is cut (trade.md 7.2): inside before outside, small before large, what is freed last.

A cut that frees something comes after every cut inside it. Of those that may come next, openings go before
outsides, then small before large; of equal ones the nearest to the last is taken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from pipeline.steps.values import NestCut, Placement

ALIKE_MM2 = 1.0


def cut_order(
    placements: Sequence[Placement], shapes: Sequence[shapely.Geometry]
) -> tuple[tuple[Placement, ...], tuple[NestCut, ...]]:
    """The placements in the order in which they are freed, and the cuts in theirs.

    ``shapes`` are the shapes of the placements where they lie, their openings as holes.
    """
    cuts = [cut for k, shape in enumerate(shapes) for cut in _cuts(k, shape)]
    inner = _inner(cuts, shapes)
    waits = [
        {
            j
            for j, other in enumerate(cuts)
            if other.owner in inner[i] or (cut.outside and other.owner == cut.owner and not other.outside)
        }
        for i, cut in enumerate(cuts)
    ]
    done: dict[int, None] = {}
    left = list(range(len(cuts)))
    at = (0.0, 0.0)
    while left:
        ready = [i for i in left if waits[i] <= done.keys()]
        outside, area = min(cuts[i].rank for i in ready)
        alike = [i for i in ready if cuts[i].outside == outside and cuts[i].rank[1] < area + ALIKE_MM2]
        i = min(alike, key=lambda i: (round(math.dist(at, cuts[i].at), 3), i))
        at = cuts[i].at
        done[i] = None
        left.remove(i)
    order = [cuts[i].owner for i in done if cuts[i].outside]
    place = {k: n for n, k in enumerate(order)}
    told = (
        NestCut(
            placement=place[cuts[i].owner],
            work="CUT_OUTSIDE" if cuts[i].outside else "CUT_INSIDE",
            contours=len(cuts[i].loops),
            inner=tuple(sorted(place[k] for k in inner[i])),
        )
        for i in done
    )
    return tuple(placements[k] for k in order), tuple(told)


class _Cut:
    """All openings of one part, or its outside."""

    __slots__ = ("at", "loops", "outside", "owner", "rank")

    def __init__(self, owner: int, loops: Sequence[shapely.Polygon], *, outside: bool) -> None:
        self.owner, self.loops, self.outside = owner, loops, outside
        area = float(max(shapely.area(list(loops))))
        centre = shapely.centroid(shapely.MultiPolygon(list(loops)))
        self.at = (float(centre.x), float(centre.y))
        self.rank = (outside, area)


def _cuts(owner: int, shape: shapely.Geometry) -> list[_Cut]:
    parts = shapely.get_parts(shape)
    holes = [shapely.Polygon(h) for p in parts for h in p.interiors]
    inner = [_Cut(owner, holes, outside=False)] if holes else []
    return [*inner, _Cut(owner, [shapely.Polygon(p.exterior) for p in parts], outside=True)]


def _inner(cuts: Sequence[_Cut], shapes: Sequence[shapely.Geometry]) -> list[set[int]]:
    """For each cut the other parts that lie inside its contours."""
    spots = [shapely.point_on_surface(s) for s in shapes]
    tree = shapely.STRtree(spots)
    return [{int(k) for p in c.loops for k in tree.query(p, predicate="contains")} - {c.owner} for c in cuts]
