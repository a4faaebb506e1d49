"""Where chambers may be, as a rule that runs twice: flattened while a wall is looked for, exactly at the end.

Region = outline ⊖ wall − (all that stays solid ⊕ web) − webs, opened by the cutter (trade.md 3.8). `Kit` holds the
five operations that the rule needs, so that both runs are the same rule.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import chain
from pipeline.geometry.offset import offset
from pipeline.geometry.region import EMPTY, Region, solid

T = TypeVar("T")
Box = tuple[float, float, float, float]
"""(xmin, ymin, xmax, ymax) in mm."""

LEAST_CELL_MM2 = math.pi * 12.5**2
"""A cell smaller than a bore of 25 mm isn't worth its set-up and is dropped (our judgement, no source)."""
ROUND = 24
"""Segments of a quarter circle while a wall is looked for: an arc's area is then right to 0.1 %."""
SAME_MM = 0.01
"""A web that is narrower than wanted by less than this is the flattening's, not the rule's."""


@dataclass(frozen=True, slots=True)
class Kit(Generic[T]):
    """Operations on one sort of shapes: ``grown(shape, mm)`` (negative shrinks), ``less(shape, others)``,
    ``parts(shape)``, ``area(part)``, ``flat(part)``: its flattened form; ``box(b)``: a rectangle."""

    grown: Callable[[T, float], T]
    less: Callable[[T, Sequence[T]], T]
    parts: Callable[[T], list[T]]
    area: Callable[[T], float]
    flat: Callable[[T], BaseGeometry]
    box: Callable[[Box], T]


def _flat_grown(shape: BaseGeometry, mm: float) -> BaseGeometry:
    return shapely.buffer(shape, mm, quad_segs=ROUND)


def _flat_less(shape: BaseGeometry, others: Sequence[BaseGeometry]) -> BaseGeometry:
    return shapely.difference(shape, shapely.union_all(others)) if others else shape


def _flat_parts(shape: BaseGeometry) -> list[BaseGeometry]:
    return [p for p in shapely.get_parts(shape).tolist() if isinstance(p, shapely.Polygon) and not p.is_empty]


def _exact_box(b: Box) -> Region:
    x0, y0, x1, y1 = b
    return solid(chain([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], [0.0] * 4))


FLAT: Kit[Any] = Kit(
    grown=_flat_grown,
    less=_flat_less,
    parts=_flat_parts,
    area=lambda p: float(p.area),
    flat=lambda p: p,
    box=lambda b: shapely.box(*b),
)
EXACT: Kit[Region] = Kit(
    grown=offset,
    less=lambda r, others: difference(r, *others) if r else r,
    parts=lambda r: [Region((p,)) for p in r.parts],
    area=lambda r: r.area,
    flat=lambda r: r.polygon,
    box=_exact_box,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground(Generic[T]):
    """What a plan starts from: the region the chambers lie in, and what they leave with the web round it.

    ``web_mm`` is also kept between two chambers; ``radius_mm`` is the cutter's.
    """

    kit: Kit[T]
    inside: T
    blocked: tuple[T, ...]
    web_mm: float
    radius_mm: float

    def room(self, wall_mm: float, webs: Sequence[Box] = ()) -> T:
        """All that a cutter reaches: outline ⊖ wall − blocked − webs, opened by its radius."""
        kit = self.kit
        left = kit.less(kit.grown(self.inside, -wall_mm), [*self.blocked, *(kit.box(b) for b in webs)])
        return self.opened(left)

    def opened(self, shape: T) -> T:
        kit = self.kit
        return kit.grown(kit.grown(shape, -self.radius_mm), self.radius_mm)

    def cells(
        self, wall_mm: float, webs: Sequence[Box] = (), least_mm2: float = LEAST_CELL_MM2
    ) -> tuple[list[T], int]:
        """The chambers by x, then y, and how many were dropped because they are smaller than a bore.

        Where the cutter's radius closes a neck, the two chambers beside it may lie nearer than a web: then the
        smaller one keeps off the larger.
        """
        kit = self.kit
        waiting = kit.parts(self.room(wall_mm, webs))
        kept: list[T] = []
        dropped = 0
        while waiting:
            waiting.sort(key=lambda p: (-kit.area(p), kit.flat(p).bounds))
            cell = waiting.pop(0)
            if kit.area(cell) < least_mm2:
                dropped += 1
                continue
            shape = kit.flat(cell)
            near = [k for k in kept if shapely.distance(kit.flat(k), shape) < self.web_mm - SAME_MM]
            if near:
                waiting += kit.parts(self.opened(kit.less(cell, [kit.grown(k, self.web_mm) for k in near])))
            else:
                kept.append(cell)
        return sorted(kept, key=lambda p: tuple(round(v, 3) for v in kit.flat(p).bounds)), dropped


def ground(inside: Region, solids: Sequence[Region], web_mm: float, radius_mm: float) -> Ground[Region]:
    """The exact ground of a plan. ``solids`` are all cavities, holes and keep-outs, without any web."""
    blocked = offset(union(*solids), web_mm) if solids else EMPTY
    return Ground(
        kit=EXACT, inside=inside, blocked=(blocked,) if blocked else (), web_mm=web_mm, radius_mm=radius_mm
    )


def flattened(exact: Ground[Region]) -> Ground[Any]:
    """The same ground on flattened shapes: quick, and right to about 1 mm² in 10 000."""
    return Ground(
        kit=FLAT,
        inside=shapely.simplify(exact.inside.polygon, 0.005),
        blocked=tuple(shapely.simplify(b.polygon, 0.005) for b in exact.blocked),
        web_mm=exact.web_mm,
        radius_mm=exact.radius_mm,
    )


# -- webs ------------------------------------------------------------------------------------------
def webs_of(flat: Ground[Any], wall_mm: float, cell_mm: float, width_mm: float) -> list[Box]:
    """Straight webs that leave no chamber longer than ``cell_mm`` along x or y, and no island in one.

    First a web through the middle of each island (a pin, a keep-out), the largest first, so that it hangs on
    both sides; then as many as a chamber's longer side needs, in equal distances. A web runs along the shorter
    side. They are found at the least wall and hold for every larger one, whose chambers lie within these.
    """
    webs: list[Box] = []
    for _ in range(100):
        parts = flat.kit.parts(flat.room(wall_mm, webs))
        parts = sorted((p for p in parts if p.area >= LEAST_CELL_MM2), key=lambda p: p.bounds)
        more = [b for p in parts for b in _through_island(p, width_mm)]
        more = more or [b for p in parts for b in _across(p, cell_mm, width_mm)]
        if not more:
            break
        webs += more
    return webs


def _through_island(part: shapely.Polygon, width_mm: float) -> list[Box]:
    holes = [shapely.Polygon(ring) for ring in part.interiors]
    if not holes:
        return []
    hole = max(holes, key=lambda h: (round(h.area, 3), h.bounds))
    at = hole.centroid if hole.contains(hole.centroid) else hole.representative_point()
    return [_strip(part.bounds, _along_x(part.bounds), (at.x, at.y), width_mm)]


def _across(part: shapely.Polygon, cell_mm: float, width_mm: float) -> list[Box]:
    x0, y0, x1, y1 = part.bounds
    along_x = _along_x(part.bounds)
    low, long = (x0, x1 - x0) if along_x else (y0, y1 - y0)
    if long <= cell_mm + SAME_MM:
        return []
    n = math.ceil((long + width_mm) / (cell_mm + width_mm) - 1e-9)
    pitch = (long + width_mm) / n
    found = [low + i * pitch - width_mm / 2 for i in range(1, n)]
    return [_strip(part.bounds, along_x, (s, s), width_mm) for s in found]


def _along_x(bounds: Box) -> bool:
    """Whether a shape is at least as long along x as along y (a tie to a hundredth goes to x)."""
    x0, y0, x1, y1 = bounds
    return x1 - x0 >= y1 - y0 - SAME_MM


def _strip(bounds: Box, along_x: bool, at: tuple[float, float], width_mm: float) -> Box:
    """A web square to the longer side of a box and past both of its sides, on whole hundredths."""
    x0, y0, x1, y1 = bounds
    if along_x:
        x = round(at[0] - width_mm / 2, 2)
        return (x, math.floor(y0) - 1.0, x + width_mm, math.ceil(y1) + 1.0)
    y = round(at[1] - width_mm / 2, 2)
    return (math.floor(x0) - 1.0, y, math.ceil(x1) + 1.0, y + width_mm)
