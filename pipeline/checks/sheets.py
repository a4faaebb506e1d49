"""What is taken out of single sheets: every opening, hole and pocket of a piece, with the heights it takes."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import filled, outer, thin
from pipeline.core.shop import Shop
from pipeline.graph.watch import shared
from pipeline.steps.values import Derived, Piece

ROUND = 0.985
"""An opening that fills so much of 4πA = P² is a hole: a circle does wholly, a square by 0.785."""
SAME_MM = 0.02
"""A hole lies where a step says it when the two centres are no farther apart."""


@dataclass(frozen=True, eq=False)
class Bite:
    """One thing taken out of a piece between two heights over its back; ``diameter_mm`` of a round hole."""

    step: str
    face: str
    shape: BaseGeometry
    low: float
    high: float
    diameter_mm: float | None = None
    pocket: bool = False

    @property
    def centre(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.shape.bounds
        return (x0 + x1) / 2, (y0 + y1) / 2

    def meets_in_height(self, other: Bite) -> bool:
        return max(self.low, other.low) < min(self.high, other.high) - 1e-6


@dataclass(frozen=True, eq=False)
class SheetPiece:
    """A piece with its shop, its finished outer edge without anything cut in it, and what is cut in it."""

    piece: Piece
    shop: Shop

    @shared
    def bites(self) -> tuple[Bite, ...]:
        return tuple(_bites(self.piece))

    @shared
    def edge(self) -> BaseGeometry:
        return outer(thin(self.piece.region.polygon))

    @property
    def web_mm(self) -> float:
        """Least wood between two cuts (trade.md 7.4): laser max(1.5, t/2), router max(3, T/4)."""
        t = self.piece.thickness_mm
        return max(1.5, t / 2) if self.shop.process == "laser" else max(3.0, t / 4)


def sheet_pieces(derived: Derived) -> tuple[SheetPiece, ...]:
    """Every piece of a design."""
    shops = derived.recipe.shops
    named = {s.name: s for s in shops.values()}
    return tuple(SheetPiece(piece=p, shop=named[p.shop]) for p in derived.pieces if p.shop in named)


def _bites(piece: Piece) -> list[Bite]:
    t = piece.thickness_mm
    found: list[Bite] = []
    for op in (op for s in piece.set_ups for op in s.ops):
        step = op.step or piece.step
        if op.work in ("POCKET", "RAMP"):
            deep = max(op.depth_mm or 0.0, op.deep_mm or 0.0)
            low, high = (t - deep, t) if op.face == "front" else (0.0, deep)
            found.append(Bite(step=step, face=op.face, shape=filled(op.contours), low=low, high=high, pocket=True))
        elif op.work in ("CUT_INSIDE", "DRILL"):
            deep = t if op.work == "CUT_INSIDE" or op.through else op.depth_mm or 0.0
            low, high = (t - deep, t) if op.face == "front" else (0.0, deep)
            for contour in op.contours:
                if not contour.closed:
                    continue
                shape = filled((contour,))
                found.append(
                    Bite(
                        step=step,
                        face=op.face,
                        shape=shape,
                        low=low,
                        high=high,
                        diameter_mm=op.diameter_mm if op.work == "DRILL" else _round(shape),
                    )
                )
    return found


def _round(shape: BaseGeometry) -> float | None:
    """The diameter of a circle, None of anything else."""
    if shape.is_empty or 4 * 3.141592653589793 * shape.area < ROUND * shape.length**2:
        return None
    x0, y0, x1, y1 = shape.bounds
    return float(max(x1 - x0, y1 - y0))


def hole_at(derived: Derived, at_mm: tuple[float, float]) -> tuple[str, int] | None:
    """The step whose hole stands at a point, and its number among the holes of that step as they are listed."""
    spot = shapely.Point(at_mm)
    for name, result in derived.results.items():
        if result.kind != "holes":
            continue
        for i, row in enumerate(result.numbers.get("holes", ())):
            if shapely.dwithin(spot, shapely.Point(row["at_mm"]), SAME_MM):
                return name, i
    return None
