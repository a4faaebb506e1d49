"""Which cutter makes an operation, and what it is called on a list."""

from __future__ import annotations

from functools import lru_cache

import shapely

from pipeline.core.recipe import Recipe
from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.contour import Contour
from pipeline.steps.values import Op, Work

CUTS: tuple[Work, ...] = (
    "DRILL", "POCKET", "RAMP", "GROOVE", "ENGRAVE", "SCORE", "CUT_INSIDE", "CUT_OUTSIDE",
)  # fmt: skip
"""Works that take material away; all others are drawn only."""
RESIDUE_MM2 = 0.2
"""Four corners of 0.05 mm² each: what a cutter may leave and still be called fitting (trade judgement)."""
SIMPLER_MM = 0.005


def shop_named(recipe: Recipe, name: str) -> Shop:
    """The shop that pieces and nests call by that name: its own name, else the recipe's word for it."""
    return next((s for s in recipe.shops.values() if s.name == name), None) or recipe.shops[name]


def cutter_for(op: Op, shop: Shop, thickness_mm: float) -> Cutter | None:
    """The largest of the shop's cutters that makes the whole shape and reaches its depth.

    Where none does, the smallest one, round an outside the usual one (the checks speak of what it
    leaves); None for a laser, for what is only drawn, and for a hole that no cutter of the list makes.
    """
    if shop.process == "laser" or op.work not in CUTS:
        return None
    depth = depth_of(op, thickness_mm)
    ends = [c for c in shop.end_cutters if depth <= c.LU] or list(shop.end_cutters)
    if op.work == "DRILL":
        wide = op.diameter_mm or 0.0
        made = [c for c in shop.cutters if c.kind == "drill" and abs(c.DC - wide) < 0.005]
        made += [c for c in reversed(ends) if wide + 0.005 >= c.DC]  # a larger hole is milled round
        return made[0] if made else None
    if op.work == "GROOVE":
        narrow = [c for c in ends if (op.diameter_mm or ends[-1].DC) + 0.005 >= c.DC]
        return narrow[-1] if narrow else None
    if op.work in ("ENGRAVE", "SCORE"):
        fine = sorted((c for c in shop.cutters if c.kind != "drill"), key=lambda c: (c.DC, c.kind))
        return fine[0] if fine else None
    outside = op.work == "CUT_OUTSIDE"
    for cutter in reversed(ends):
        if _left(op.contours, cutter.DC / 2, outside) <= RESIDUE_MM2:
            return cutter
    if outside:  # corners that no cutter reaches from outside: the checks tell them
        return shop.profile_cutter
    return ends[0] if ends else None


@lru_cache(maxsize=256)  # order of work, minutes and parts list all ask; contours are told apart by identity
def _left(contours: tuple[Contour, ...], radius: float, outside: bool) -> float:
    return residue(enclosed(contours), radius, outside=outside)


def residue(shape: shapely.Geometry, radius: float, *, outside: bool) -> float:
    """Area (mm²) that a cutter of this radius can't reach, from inside the shape or from outside.

    Opening, or closing, of the shape by a disc; a square corner leaves (1 − π/4) r². An opening
    lies inside the shape and a closing outside, so the difference of areas is the area of the difference.
    """
    first = radius if outside else -radius
    there_and_back = shape.buffer(first, quad_segs=32).buffer(-first, quad_segs=32)
    return abs(float(shape.area - there_and_back.area))


def enclosed(contours: tuple[Contour, ...]) -> shapely.Geometry:
    """What closed contours enclose, islands left out; with fewer points than they were flattened to."""
    rings = [(c.area > 0, shapely.Polygon(c.flatten()[0])) for c in contours if c.closed]
    whole = shapely.union_all([p for positive, p in rings if positive])
    if not whole.is_empty:
        whole = whole.difference(shapely.union_all([p for positive, p in rings if not positive]))
    else:  # a set of openings, drawn clockwise
        whole = shapely.union_all([p for _, p in rings])
    return shapely.simplify(whole, SIMPLER_MM)


def depth_of(op: Op, thickness_mm: float) -> float:
    """How deep an operation goes at its deepest, mm below its face."""
    if op.work in ("CUT_INSIDE", "CUT_OUTSIDE") or op.through:
        return thickness_mm
    return max(op.depth_mm or 0.0, op.deep_mm or 0.0)


def cutter_name(op: Op, shop: Shop, cutter: Cutter | None) -> str:
    """What stands on the list: ``cutter 6``, ``drill 5``, ``beam``; empty where nothing is cut."""
    if op.work not in CUTS:
        return ""
    if shop.process == "laser":
        return "beam"
    if cutter is None:
        return f"drill {op.diameter_mm:g} (not on the shop's list)" if op.diameter_mm else "cutter missing"
    return f"{'drill' if cutter.kind == 'drill' else 'ball' if cutter.kind == 'ball' else 'cutter'} {cutter.DC:g}"
