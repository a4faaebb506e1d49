"""Where clamps may stand in a router's set-up, and how far they keep off what is cut."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from pipeline.geometry.contour import Contour
from pipeline.packet.shop_sheet_seen import Shown
from pipeline.steps.values import Derived, Op
from pipeline.workshop.cutters import CUTS, cutter_for

CLEAR_MM = 5.0
"""From the cutter's own edge to a clamp or screw: the path grown by D/2 + 5 (trade practice, no source)."""
FOOT_MM = 20.0
"""Least width that a clamp's foot needs (common practice, no source)."""
FLAT_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamps:
    """``may``: where clamps may stand, empty where that isn't known; ``off``: what they keep out of, both in the
    file's coordinates; ``off_mm``: how far outside the outer cut that is."""

    may: shapely.Geometry
    off: shapely.Geometry
    off_mm: float


def clamps(sheet: Shown, derived: Derived) -> Clamps | None:
    """None for a laser, which needs none, and where nothing is cut.

    Off limits is all that the cutters sweep, grown by 5 mm, and the pins. Where the stock, or the work itself,
    has a known edge, what is left of it and holds a clamp's foot is where clamps may stand.
    """
    if sheet.shop.process == "laser":
        return None
    swept: list[shapely.Geometry] = []
    stock: list[shapely.Geometry] = []
    off_mm, frees = 0.0, False
    for seen in sheet.seen:
        for op in seen.set_up.ops:
            curves = [seen.move.contour(c) for c in op.contours]
            if op.work == "STOCK":
                stock += [_inside(c) for c in curves]
            elif op.work == "INDEX":
                swept += [_inside(c).buffer(CLEAR_MM, quad_segs=8) for c in curves]
            elif op.work in CUTS:
                wide = _wide(op, sheet)
                frees = frees or op.work == "CUT_OUTSIDE"
                by = CLEAR_MM + (wide if op.work == "CUT_OUTSIDE" else 0.0 if _filled(op) else wide / 2)
                off_mm = max(off_mm, by if op.work == "CUT_OUTSIDE" else 0.0)
                swept += [(_inside(c) if _filled(op) else _line(c)).buffer(by, quad_segs=8) for c in curves]
    if not swept:
        return None
    off = shapely.union_all(swept)
    if sheet.nest:
        nest = sheet.nest
        stock = [shapely.Polygon(nest.corners) if nest.corners else shapely.box(0.0, 0.0, *nest.size)]
    elif not stock and not frees:
        stock = [_inside(sheet.first.move.contour(p.outer)) for p in sheet.first.thing.region.parts]
    left = shapely.union_all(stock).difference(off) if stock else shapely.Polygon()
    wide = left.buffer(-FOOT_MM / 2, quad_segs=8).buffer(FOOT_MM / 2, quad_segs=8).intersection(left)
    may = shapely.union_all([p for p in shapely.get_parts(wide) if p.area >= FOOT_MM**2])
    return Clamps(may=may, off=off, off_mm=off_mm)


def _wide(op: Op, sheet: Shown) -> float:
    cutter = cutter_for(op, sheet.shop, sheet.thickness_mm)
    return cutter.DC if cutter else op.diameter_mm or 0.0


def _filled(op: Op) -> bool:
    """All that lies inside its contours is off limits, not their lines alone."""
    return op.work in ("CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL")


def _inside(c: Contour) -> shapely.Geometry:
    return shapely.simplify(shapely.Polygon(c.flatten(FLAT_MM)[0]), FLAT_MM).buffer(0)


def _line(c: Contour) -> shapely.Geometry:
    points = c.flatten(FLAT_MM)[0]
    return shapely.LineString([*points, points[0]] if c.closed else points)
