"""Union, difference and intersection of regions, exact for lines and arcs."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.nodes import noded
from pipeline.geometry.region import EMPTY, Region
from pipeline.geometry.segments import segments_of
from pipeline.geometry.trace import area_of


def union(*regions: Region) -> Region:
    """Everything that lies in at least one region; parts that touch along an edge become one."""
    return _combined([r for r in regions if r], np.logical_or.reduce)


def difference(region: Region, *others: Region) -> Region:
    """What of ``region`` lies in none of ``others``."""
    if not region:
        return EMPTY
    rest = [r for r in others if r]
    return _combined([region, *rest], lambda inside: inside[0] & ~np.logical_or.reduce(inside[1:]))


def intersection(a: Region, b: Region) -> Region:
    """What lies in both."""
    if not a or not b:
        return EMPTY
    return _combined([a, b], np.logical_and.reduce)


def _combined(regions: Sequence[Region], rule: Callable[[Bools], Bools]) -> Region:
    """Faces between all boundaries for which ``rule`` holds, given (regions, faces) of insideness."""
    if not regions:
        return EMPTY

    def inside(points: Floats) -> Bools:
        x, y = points[:, 0], points[:, 1]
        return rule(np.array([shapely.contains_xy(r.polygon, x, y) for r in regions], dtype=np.bool_))

    segs = noded(segments_of(c for r in regions for c in r.contours))
    return area_of(segs, inside)
