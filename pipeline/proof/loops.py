"""Closed contours of a file as flat areas: which loop is an edge, which is an island that stays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.contour import Contour

FLATTEN_MM = 0.02
"""Chords lie this near their curves: enough for areas and for what holds together; how far a contour is off is
measured on the exact curves elsewhere."""
SLIVER_MM = 0.03
"""Strips narrower than twice this come of flattening two forms of one curve, and are no difference."""
NOTHING = shapely.Polygon()


def flat(contour: Contour) -> shapely.Polygon:
    """What a closed contour encloses, flattened within FLATTEN_MM; empty when it is open or has no area."""
    if not contour.closed:
        return NOTHING
    points = contour.flatten(FLATTEN_MM)[0]
    if len(points) < 3:
        return NOTHING
    shape = shapely.Polygon(points)
    return shape if shape.is_valid else shapely.make_valid(shape)


def areas(contours: Iterable[Contour]) -> list[BaseGeometry]:
    """The areas that closed contours of one layer bound, read as a machinist reads them.

    A loop inside an odd number of others is an island of the one it lies in; loops that cross or lie apart
    each bound an area. Two loops in the same place cancel out, which shows as a difference.
    """
    shapes = [s for s in (flat(c) for c in contours) if not s.is_empty]
    if len(shapes) < 2:
        return list(shapes)
    order = sorted(range(len(shapes)), key=lambda i: -shapes[i].area)
    shapes = [shapes[i] for i in order]
    tree = shapely.STRtree(shapes)
    # covers(big, small): pairs of (index of the smaller, index of what covers it).
    small, big = tree.query(shapes, predicate="covered_by")
    inside: list[list[int]] = [[] for _ in shapes]
    for i, j in zip(small.tolist(), big.tolist(), strict=True):
        if j < i:
            inside[i].append(j)
    found: list[BaseGeometry] = []
    for i, shape in enumerate(shapes):
        if len(inside[i]) % 2:
            continue
        islands = [
            shapes[k] for k in range(len(shapes)) if i in inside[k] and len(inside[k]) == len(inside[i]) + 1
        ]
        found.append(shapely.difference(shape, shapely.union_all(islands)) if islands else shape)
    return found


def thick(shape: BaseGeometry, sliver_mm: float = SLIVER_MM) -> BaseGeometry:
    """What is left of an area without its slivers; empty where it is nothing but slivers."""
    if shape.is_empty or shape.area < sliver_mm * sliver_mm:
        return NOTHING
    return shapely.buffer(shape, -sliver_mm, quad_segs=2)


def middle(shape: BaseGeometry) -> tuple[float, float]:
    """A point inside the largest part of an area."""
    parts = shapely.get_parts(shape)
    largest = parts[int(np.argmax(shapely.area(parts)))] if len(parts) else shape
    at = largest.representative_point()
    return float(at.x), float(at.y)


def united(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """The union of areas; empty without any."""
    kept = [s for s in shapes if not s.is_empty]
    if len(kept) < 2:
        return kept[0] if kept else NOTHING
    return shapely.union_all(kept)
