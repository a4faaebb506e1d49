"""Numbers that steps state of regions, and values read from the drawing for a step."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.core.errors import Problem, refuse
from pipeline.core.recipe import Step
from pipeline.core.text import quoted
from pipeline.geometry.contour import arc_centres
from pipeline.geometry.region import Region
from pipeline.steps.common import one_of_words, place_in
from pipeline.steps.values import World


def numbers_of(region: Region) -> dict[str, Any]:
    """Area, perimeter, bounds, least radii (None where there is no such arc), lines and arcs.

    Radii are those of the arcs, seen from inside the region: a panel's concave corner is one that a
    cutter must fit into, and so is a cavity's convex one.
    ``free_segments`` counts the fine arcs that stand for free-form curves.
    """
    convex, concave = least_radii(region)
    free = np.concatenate([c.free[: len(c)] for c in region.contours])
    bulges = np.concatenate([c.bulges for c in region.contours])
    return {
        "area_mm2": region.area,
        "perimeter_mm": region.perimeter,
        "bounds_mm": [v + 0.0 for v in region.bounds],
        "least_convex_radius_mm": convex,
        "least_concave_radius_mm": concave,
        "lines": int(np.sum(~free & (bulges == 0.0))),
        "arcs": int(np.sum(~free & (bulges != 0.0))),
        "free_segments": int(np.sum(free)),
    }


def least_radii(region: Region) -> tuple[float | None, float | None]:
    """(least convex, least concave) radius in mm of a region's arcs, None where it has none."""
    convex, concave = least_arcs(region)
    return convex and convex[0], concave and concave[0]


LeastArc = tuple[float, tuple[float, float]]
"""A radius in mm and the middle of the arc that has it."""


def least_arcs(region: Region) -> tuple[LeastArc | None, LeastArc | None]:
    """The least convex and the least concave arc of a region with their places, None where it has none."""
    least: list[LeastArc | None] = [None, None]
    for c in region.contours:
        b = c.bulges
        for k, curved in enumerate((b > 1e-9, b < -1e-9)):
            # Material lies left of every contour, so an anticlockwise arc bulges outward in holes too.
            if not curved.any():
                continue
            p, q, bulge = c.starts[curved], c.ends[curved], b[curved]
            _, radii = arc_centres(p, q, bulge)
            i = int(np.argmin(radii))
            known = least[k]
            if known is None or radii[i] < known[0]:
                d = q[i] - p[i]
                x, y = (p[i] + q[i]) / 2 + np.array([d[1], -d[0]]) * bulge[i] / 2
                least[k] = (float(radii[i]), (float(x) + 0.0, float(y) + 0.0))
    return least[0], least[1]


def point_of(world: World, step: Step, path: str, at: tuple[float, float] | str) -> tuple[float, float]:
    """A point, or the point of a mark of the drawing. Raises Refused with the place of the field."""
    if not isinstance(at, str):
        return at
    found = world.drawing.objects.get(at)
    if found is None or found.mark is None:
        marks = [n for n, d in world.drawing.objects.items() if d.mark is not None]
        what = "is no mark: it is neither a small closed shape, nor a cross, nor a line"
        raise refuse(
            f"The drawing has no mark called {quoted(at)}." if found is None else f"{quoted(at)} {what}.",
            place=place_in(step, path),
            expected=one_of_words(marks, at),
        )
    return found.mark.at


def inside_point(region: Region) -> tuple[float, float]:
    """The centroid where it lies inside, else some point that does; to show where a finding is."""
    import shapely

    x, y = region.centroid
    if not shapely.contains_xy(region.polygon, x, y):
        x, y = region.polygon.representative_point().coords[0]
    return float(x), float(y)


def no_region(step: Step, path: str, other: str) -> Problem:
    """The problem of a step that names another one which makes no shape."""
    return Problem(
        wrong=f"{step.name} needs a shape, and {other} makes none.",
        place=place_in(step, path),
        expected="the name of a step that makes one shape, such as an outline or a cavity",
    )


def shape_of(world: World, step: Step, path: str, other: str) -> Region:
    """The main shape of another step; raises Refused when it has none."""
    found = world.result(other).region
    if not found:
        from pipeline.core.errors import Refused

        raise Refused(no_region(step, path, other))
    return found
