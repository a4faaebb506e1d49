"""Regions: areas bounded by contours, with exact curves beside their flattened form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from pipeline.geometry.contour import FLATTEN_MM, Contour
from pipeline.geometry.segments import Segments, segments_of


@dataclass(frozen=True, eq=False)
class Part:
    """One connected area: ``outer`` runs anticlockwise, each of ``holes`` clockwise."""

    outer: Contour
    holes: tuple[Contour, ...] = ()

    @cached_property
    def polygon(self) -> shapely.Polygon:
        """The flattened form (within FLATTEN_MM; finer where it would cross itself at a flat tip)."""
        for finer in (1, 8, 64):
            edges = [c.flatten(FLATTEN_MM / finer)[0] for c in (self.outer, *self.holes)]
            polygon = shapely.Polygon(edges[0], edges[1:])
            if shapely.is_valid(polygon):
                break
        return polygon


@dataclass(frozen=True, eq=False)
class Region:
    """Parts that lie apart, in a fixed order (by the bounds of their outer contour: x, then y)."""

    parts: tuple[Part, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.parts)

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts)

    @property
    def contours(self) -> tuple[Contour, ...]:
        return tuple(c for p in self.parts for c in (p.outer, *p.holes))

    @cached_property
    def segments(self) -> Segments:
        """All segments of all contours, in their order."""
        return segments_of(self.contours)

    @cached_property
    def area(self) -> float:
        """Net area in mm², exact (Green's theorem on the curves)."""
        return sum(c.area for c in self.contours)

    @cached_property
    def perimeter(self) -> float:
        """Length of all contours in mm, exact."""
        return sum(c.length for c in self.contours)

    @cached_property
    def centroid(self) -> tuple[float, float]:
        m = np.sum([c.moment for c in self.contours], axis=0)
        return float(m[0] / self.area), float(m[1] / self.area)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(xmin, ymin, xmax, ymax); raises ValueError on an empty region."""
        if not self.parts:
            raise ValueError("an empty region has no bounds")
        b = np.array([p.outer.bounds for p in self.parts])
        lo, hi = b[:, :2].min(axis=0), b[:, 2:].max(axis=0)
        return float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])

    @cached_property
    def polygon(self) -> shapely.MultiPolygon:
        """The flattened form (within FLATTEN_MM of the curves), prepared for queries."""
        shape = shapely.MultiPolygon([p.polygon for p in self.parts])
        shapely.prepare(shape)
        return shape

    @cached_property
    def edge(self) -> shapely.Geometry:
        """The boundary of the flattened form, prepared for queries."""
        line = shapely.boundary(self.polygon)
        shapely.prepare(line)
        return line


EMPTY = Region()


def region(parts: Iterable[Part]) -> Region:
    """A Region of ``parts`` with orientation and order normalised."""
    turned = [
        Part(
            p.outer if p.outer.area > 0 else p.outer.reversed(),
            tuple(sorted((h if h.area < 0 else h.reversed() for h in p.holes), key=_key)),
        )
        for p in parts
    ]
    return Region(tuple(sorted(turned, key=lambda p: _key(p.outer))))


def solid(*outers: Contour) -> Region:
    """A region of closed contours that neither touch nor nest."""
    return region(Part(c) for c in outers)


def _key(c: Contour) -> tuple[float, ...]:
    return tuple(round(v, 6) for v in c.bounds)
