"""The places of holes: points and marks as they are listed, or those of a pattern."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import Region
from pipeline.steps.common import place_in
from pipeline.steps.holes import Spec
from pipeline.steps.holes_pattern import Along, bolt_circle, chord_mm, grid_points
from pipeline.steps.measures import point_of, shape_of
from pipeline.steps.values import World

Point = tuple[float, float]


def places(step: Step, spec: Spec, world: World) -> tuple[tuple[Point, ...], dict[str, Any]]:
    """(points in the order of their numbers, what a pattern states of itself). Raises Refused for a mark that is
    none and for a line that has no room."""
    if spec.pattern is None:
        return tuple(point_of(world, step, f"at.{i}", p) for i, p in enumerate(spec.at)), {}
    pattern = spec.pattern
    at = (0.0, 0.0) if pattern.centre is None else point_of(world, step, "pattern.centre", pattern.centre)
    if pattern.circle is not None:
        c = pattern.circle
        told: dict[str, Any] = {"circle_mm": c.diameter, "chord_mm": chord_mm(c.diameter, c.count)}
        return bolt_circle(c.diameter, c.count, c.start, at), {"pattern": told}
    if pattern.grid is not None:
        points = grid_points(pattern.grid.count, pattern.grid.spacing, at, pattern.turn)
        return points, {"pattern": {"spacing_mm": [v + 0.0 for v in pattern.grid.spacing]}}
    if pattern.along is not None:
        return _along(step, pattern.along, world)
    found: list[Point] = []
    for i, p in enumerate(pattern.pair):
        x, y = point_of(world, step, f"pattern.pair.{i}", p)
        found += [(x, y), (x, 0.0 - y)] if y else [(x, y)]
    return tuple(found), {"pattern": {"pairs": len(found) // 2}}


def _along(step: Step, along: Along, world: World) -> tuple[tuple[Point, ...], dict[str, Any]]:
    edge = shape_of(world, step, "pattern.along.of", along.of)
    line = offset(edge, -along.inset) if along.inset else edge
    if len(line.parts) != 1:
        raise refuse(
            f"The line of {step.name} {along.inset:g} inside {along.of} comes in {len(line.parts)} pieces.",
            place=place_in(step, "pattern.along.inset"),
            expected="an inset that leaves one line",
        )
    start = None if along.start is None else point_of(world, step, "pattern.along.start", along.start)
    points, spacing = along_edge(line, start, along.spacing, along.count)
    return points, {"pattern": {"spacing_mm": spacing, "inset_mm": along.inset}}


MOST = 1000
"""Holes that one pattern may ask for."""


def along_edge(
    line: Region, start: Point | None, spacing: float | None, count: int | None
) -> tuple[tuple[Point, ...], float]:
    """(points, mm from one to the next along the line): anticlockwise along the outer edge of a shape of one part.

    Exact on lines and arcs. With ``spacing`` the whole length is shared out by the fewest holes that stand no
    farther apart. The first is the line's nearest point to ``start``; None is its right end. Raises ValueError for
    more than MOST holes.
    """
    from pipeline.geometry.segments import segments_of

    (part,) = line.parts
    alone = Region((part,))
    segs = segments_of([part.outer])
    ends = np.cumsum(segs.length)
    whole = float(ends[-1])
    n = count if count is not None else max(1, math.ceil(whole / (spacing or whole) - 1e-9))
    if n > MOST:
        raise ValueError(f"{n:,} holes would stand along {whole:.0f} mm; at most {MOST} are drilled")
    _, (x, y) = nearest_boundary(alone, *(start or (line.bounds[2], line.centroid[1])))
    s, away = segs.along(np.arange(len(segs)), np.tile([x, y], (len(segs), 1)))
    on = (np.abs(away) < 1e-6) & (s > -1e-6) & (s < segs.length + 1e-6)
    first = int(np.flatnonzero(on)[0])
    begin = float(ends[first] - segs.length[first] + np.clip(s[first], 0.0, segs.length[first]))
    stations = (begin + whole * np.arange(n) / n) % whole
    k = np.minimum(np.searchsorted(ends, stations, side="right"), len(segs) - 1)
    found = segs.at(k, stations - (ends[k] - segs.length[k]))
    return tuple((float(px) + 0.0, float(py) + 0.0) for px, py in found), whole / n
