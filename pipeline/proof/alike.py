"""Whether a cut and a design have the same loops at the same depths: then no areas need to be overlaid."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.proof.loops import SLIVER_MM
from pipeline.proof.ramps import Plane
from pipeline.proof.solids import SAME_MM, Solid, Taken


def alike(cut: Solid, design: Solid) -> bool:
    """True when every loop of the cut lies on its own loop of the design, and the other way round."""
    edges, openings = _rings(design.parts)
    holes = [*openings, *(h for b in design.bored for h in _rings(b)[0])]
    inner = [r for s in (*cut.inner, *cut.bored) for r in _rings(s)[0]]
    if not _each(inner, holes) or not _each(openings, inner):
        return False
    outer = [r for s in cut.outer for r in _rings(s)[0]]
    if len(outer) != len(edges) or len(cut.inner) + len(cut.bored) > len(holes):
        return False
    if not _each(outer, edges) or not _each(edges, outer):
        return False
    return len(cut.taken) == len(design.taken) and _takes(cut.taken, design.taken)


def _takes(cut: Sequence[Taken], design: Sequence[Taken]) -> bool:
    free = list(design)
    for t in cut:
        same = next((d for d in free if _same_take(t, d)), None)
        if same is None:
            return False
        free.remove(same)
    return True


def _same_take(t: Taken, d: Taken) -> bool:
    if t.face != d.face or abs(t.depth - d.depth) > SAME_MM or abs(t.deep - d.deep) > SAME_MM:
        return False
    if not _same_floor(t.plane, d.plane, t.drawn):
        return False
    (t_out, t_in), (d_out, d_in) = _rings(t.drawn), _rings(d.drawn)
    return (
        len(t_out) == len(d_out)
        and len(t_in) == len(d_in)
        and _each(t_out, d_out)
        and _each(d_out, t_out)
        and _each(t_in, d_in)
        and _each(d_in, t_in)
    )


def _same_floor(one: Plane | None, other: Plane | None, shape: BaseGeometry) -> bool:
    if one is None or other is None:
        return one is other
    x0, y0, x1, y1 = shape.bounds
    corners = [(x, y) for x in (x0, x1) for y in (y0, y1)]
    # The table runs along the slope; across it both are level, so corners are as good as any places.
    return all(abs(one.under(x, y) - other.under(x, y)) <= 2 * SAME_MM for x, y in corners)


def _rings(shape: BaseGeometry) -> tuple[list[BaseGeometry], list[BaseGeometry]]:
    """Outer and inner rings of an area."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    outer = [p.exterior for p in parts if not p.is_empty]
    return outer, [r for p in parts for r in p.interiors]


def _each(rings: Sequence[BaseGeometry], others: Sequence[BaseGeometry]) -> bool:
    """True when each ring lies wholly on one of the others."""
    if not rings:
        return True
    if not others:
        return False
    a, b = shapely.bounds(rings), shapely.bounds(others)
    near = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2) <= 2 * SLIVER_MM
    return all(
        any(_on(ring, others[j]) for j in np.flatnonzero(row).tolist())
        for ring, row in zip(rings, near, strict=True)
    )


def _on(ring: BaseGeometry, other: BaseGeometry) -> bool:
    shapely.prepare(other)
    return bool(shapely.dwithin(other, shapely.points(shapely.get_coordinates(ring)), SLIVER_MM).all())
