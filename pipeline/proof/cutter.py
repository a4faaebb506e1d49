"""What a shop's cutter or beam takes when it follows a contour: from the profile's own numbers."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.shop import Cutter, Shop
from pipeline.proof.loops import FLATTEN_MM, NOTHING, thick

CORNER_MM2 = 0.2
"""What a cutter may leave in all corners of a contour and still be the one for it (trade judgement)."""
ARC_SEGMENTS = 16
"""Chords to a quarter turn: for a radius of 4 mm they lie within 0.005 mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Left:
    """What stays of the sheet (``part``) or goes (``hole``), and what no cutter of the shop reaches."""

    shape: BaseGeometry
    residue: BaseGeometry
    wide_mm: float


@dataclass(slots=True)
class Bench:
    """One shop at work. Equal contours (laminations share edges) are worked out once."""

    shop: Shop
    _known: dict[tuple[bool, float, bytes], Left] = field(default_factory=dict)

    @property
    def kerf_mm(self) -> float:
        """The kerf that stands in the lines already."""
        return self.shop.kerf if self.shop.compensation == "kerf" else 0.0

    @property
    def narrowest_mm(self) -> float:
        """Width of the narrowest cut that goes round a part."""
        ends = self.shop.end_cutters or (self.shop.profile_cutter,)
        return self.shop.kerf if self.shop.process == "laser" else ends[0].DC

    def part(self, shape: BaseGeometry, depth_mm: float) -> Left:
        """What an outside contour leaves: its inside, with the inner corners that a round cutter can't reach."""
        return self._followed(shape, depth_mm, outside=True, through=True)

    def opening(self, shape: BaseGeometry, depth_mm: float) -> Left:
        """What an inside contour takes: all that a round cutter reaches from within, and the slug."""
        return self._followed(shape, depth_mm, outside=False, through=True)

    def pocket(self, shape: BaseGeometry, depth_mm: float) -> Left:
        """What is cleared of a pocket."""
        return self._followed(shape, depth_mm, outside=False, through=False)

    def _followed(self, shape: BaseGeometry, depth_mm: float, *, outside: bool, through: bool) -> Left:
        if shape.is_empty:
            return Left(shape=shape, residue=NOTHING, wide_mm=0.0)
        key = (outside, depth_mm, shapely.to_wkb(shapely.set_precision(shape, 1e-4, mode="pointwise")))
        if key not in self._known:
            self._known[key] = self._worked(shape, depth_mm, outside=outside, through=through)
        return self._known[key]

    def _worked(self, shape: BaseGeometry, depth_mm: float, *, outside: bool, through: bool) -> Left:
        if self.shop.process == "laser":
            return self._beam(shape, outside=outside, through=through)
        found = Left(shape=shape if outside else NOTHING, residue=NOTHING, wide_mm=0.0)
        for cutter in self._cutters(depth_mm):
            found = _round(shape, cutter.DC / 2, outside=outside)
            if found.residue.area <= CORNER_MM2:
                break
        return found

    def _beam(self, shape: BaseGeometry, *, outside: bool, through: bool) -> Left:
        """A beam in the line takes half its kerf on either side; else the shop moves it into the waste itself."""
        half = self.kerf_mm / 2 if through else 0.0
        if half:
            by = -half if outside else half
            return Left(shape=shapely.buffer(shape, by, quad_segs=8), residue=NOTHING, wide_mm=self.shop.kerf)
        return _round(shape, self.shop.kerf / 2, outside=outside)

    def _cutters(self, depth_mm: float) -> tuple[Cutter, ...]:
        """The largest flat end that reaches, and the smallest one, which cleans out what that leaves."""
        ends = self.shop.end_cutters or (self.shop.profile_cutter,)
        reach = [c for c in ends if depth_mm <= c.LU] or list(ends)
        return (reach[-1], reach[0]) if len(reach) > 1 else (reach[0],)


def _round(shape: BaseGeometry, radius: float, *, outside: bool) -> Left:
    """Closed (from outside) or opened (from inside) by a disc."""
    if radius <= 0:
        return Left(shape=shape, residue=NOTHING, wide_mm=0.0)
    by = radius if outside else -radius
    there = shapely.buffer(shape, by, quad_segs=ARC_SEGMENTS)
    back = shapely.buffer(there, -by, quad_segs=ARC_SEGMENTS)
    over = shapely.difference(back, shape) if outside else shapely.difference(shape, back)
    rest = thick(over, FLATTEN_MM)  # thinner than that is the flattening's own
    if rest.is_empty:
        return Left(shape=shape, residue=NOTHING, wide_mm=2 * radius)
    return Left(shape=back, residue=over, wide_mm=2 * radius)
