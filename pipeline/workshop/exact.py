"""Measures a layout on the exact cut edges, apart from the search: gaps, borders, places to keep out of."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.recipe import Recipe, Sheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Nest, Piece, Placement
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.layout import nest_set_up, part_gap, view

EXACT_MM = 0.0011
"""What two flattened outlines (each within 0.0005 of its curves) may be nearer than they are drawn."""
ROUGH_MM = 0.03
"""How far a shape with fewer corners may lie from the exact one: what is searched, never what is measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a physical sheet offers: its outline and where nothing may be cut, from its lower left corner."""

    outline: shapely.Polygon
    keep_out: tuple[shapely.Polygon, ...] = ()


def ground(stock: Sheet, letter: str, number: int) -> Ground:
    """The sheet as it is; an offcut's corners and keep-outs belong to the one sheet of that letter."""
    offcut = stock.offcuts.get(letter) if number == 1 else None
    if offcut is None:
        return Ground(outline=shapely.box(0.0, 0.0, *stock.size))
    outline = shapely.Polygon(offcut.corners) if offcut.corners else shapely.box(0.0, 0.0, *stock.size_of(letter))
    return Ground(
        outline=outline, keep_out=tuple(shapely.box(x, y, x + w, y + h) for x, y, w, h in offcut.keep_out)
    )


class Lying:
    """The exact shapes of pieces as they lie on a sheet: each turn of each piece is worked out once."""

    def __init__(self, recipe: Recipe, pieces: Iterable[Piece]) -> None:
        self._recipe = recipe
        self._pieces = {p.name: p for p in pieces}
        self._turned: dict[tuple[str, int], shapely.Geometry] = {}
        self._boxes: dict[str, tuple[float, float, float, float]] = {}
        self._rough: dict[str, shapely.Geometry] = {}

    def turned(self, name: str, turn_deg: int) -> shapely.Geometry:
        """A piece as its nest shows it: from the face that frees it, turned about the origin."""
        found = self._turned.get((name, turn_deg))
        if found is None:
            piece = self._pieces[name]
            shape = self._turned.get((name, 0))
            if shape is None:
                seen = view(self._recipe, nest_set_up(piece).face).region(piece.cut)
                self._boxes[name] = seen.bounds
                shape = self._turned[name, 0] = seen.polygon
            found = quarter_turned(shape, turn_deg)
            self._turned[name, turn_deg] = found
        return found

    def box(self, name: str, turn_deg: int) -> tuple[float, float, float, float]:
        """The exact box of a turned piece: its curves reach a little further than their chords."""
        self.turned(name, 0)
        corners = quarter_turned(shapely.box(*self._boxes[name]), turn_deg)
        xmin, ymin, xmax, ymax = corners.bounds
        return float(xmin), float(ymin), float(xmax), float(ymax)

    def rough(self, name: str, turn_deg: int = 0) -> shapely.Geometry:
        """The same with fewer corners, within ROUGH_MM of it."""
        if name not in self._rough:
            self._rough[name] = shapely.simplify(self.turned(name, 0), ROUGH_MM)
        return quarter_turned(self._rough[name], turn_deg)

    def placed(self, p: Placement, *, rough: bool = False) -> shapely.Geometry:
        """A piece where it lies on the sheet."""
        shape = self.rough(p.piece, p.turn_deg) if rough else self.turned(p.piece, p.turn_deg)
        return shapely.transform(shape, lambda xy: xy + np.array([p.dx, p.dy]))


def quarter_turned(shape: shapely.Geometry, turn_deg: int) -> shapely.Geometry:
    """A shape turned by 0, 90, 180 or 270 degrees anticlockwise about the origin, without rounding."""
    c, s = {0: (1.0, 0.0), 90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}[turn_deg]
    if turn_deg == 0:
        return shape
    return shapely.transform(
        shape, lambda xy: np.column_stack([c * xy[:, 0] - s * xy[:, 1], s * xy[:, 0] + c * xy[:, 1]])
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clear:
    """Least distances in mm: of two parts, of a part to the edge of the sheet (negative: over it), to a place to
    keep out of; infinite where there are none. ``overlap`` is how deep two parts lie in each other."""

    gap: float
    border: float
    keep_out: float
    overlap: float

    def wrong(self, gap_mm: float, border_mm: float) -> str:
        """What is violated, in a sentence; empty where nothing is."""
        if self.overlap > EXACT_MM:
            return "two parts lie over each other"
        if self.gap < gap_mm - EXACT_MM:
            return f"two parts lie {self.gap:.3f} mm apart, where {gap_mm:g} are needed"
        if self.border < border_mm - EXACT_MM:
            return f"a part lies {self.border:.3f} mm from the edge of the sheet, where {border_mm:g} are needed"
        if self.keep_out < gap_mm - EXACT_MM:
            return f"a part lies {self.keep_out:.3f} mm from a place to keep out of, where {gap_mm:g} are needed"
        return ""


def clear(shapes: Sequence[shapely.Geometry], on: Ground) -> Clear:
    """Measures shapes that lie on a sheet; the depth of an overlap is its area over half its edge."""
    gap = keep_out = border = math.inf
    overlap = 0.0
    lying = np.array(shapes, dtype=object)
    if len(lying) > 1:
        tree = shapely.STRtree(lying)
        gap = float(tree.query_nearest(lying, exclusive=True, return_distance=True)[1].min())
        a, b = (i.tolist() for i in tree.query(lying, predicate="intersects"))
        pairs = [(i, j) for i, j in zip(a, b, strict=True) if i < j]
        overlap = max((_depth(lying[i], lying[j]) for i, j in pairs), default=0.0)
    for shape in shapes:
        border = min(border, _inside_by(shape, on.outline))
        keep_out = min([keep_out, *(float(shapely.distance(shape, k)) for k in on.keep_out)])
    return Clear(gap=gap, border=border, keep_out=keep_out, overlap=overlap)


def _depth(a: shapely.Geometry, b: shapely.Geometry) -> float:
    shared = shapely.intersection(a, b)
    edge = float(shapely.length(shared))
    return 2.0 * float(shapely.area(shared)) / edge if edge and shapely.area(shared) else 0.0


def _inside_by(shape: shapely.Geometry, outline: shapely.Polygon) -> float:
    """How far a shape keeps inside an outline; negative by how far its box or area stands out."""
    xmin, ymin, xmax, ymax = shape.bounds
    x0, y0, x1, y1 = outline.bounds
    if outline.equals(shapely.box(x0, y0, x1, y1)):
        return float(min(xmin - x0, ymin - y0, x1 - xmax, y1 - ymax))
    if not shapely.covers(outline, shape):
        return -float(shapely.hausdorff_distance(shapely.difference(shape, outline), outline.exterior))
    return float(shapely.distance(shape, outline.exterior))


def clearances(derived: Derived, nest: Nest) -> tuple[float, float]:
    """(least distance of two parts, least distance of a part from the sheet's edge) in mm.

    Measured on the exact cut edges (flattened within 0.0005); infinite for fewer than two parts or none.
    """
    found = clearance(derived, nest, Lying(derived.recipe, derived.pieces))
    return found.gap, found.border


def clearance(derived: Derived, nest: Nest, lying: Lying) -> Clear:
    """What a nest keeps clear."""
    stock = derived.recipe.sheets[nest.sheet]
    return clear([lying.placed(p) for p in nest.placements], ground(stock, nest.letter, nest.number))


def least_gap(stock: Sheet, shop: Shop) -> float:
    """The gap that parts of a stock keep: that of its thickest sheet."""
    return part_gap(shop, max(stock.measured.values()))


def faults(derived: Derived, nest: Nest, lying: Lying) -> str:
    """What is violated on a nest, in a sentence; empty where nothing is."""
    stock, shop = derived.recipe.sheets[nest.sheet], shop_named(derived.recipe, nest.shop)
    return clearance(derived, nest, lying).wrong(least_gap(stock, shop), shop.sheet_border)
