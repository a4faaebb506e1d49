"""How a thing rests on the thigh: where its weight comes down, what the hand at the nut must hold (trade.md
10.3)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Floats

GRAVITY = 9.80665
"""Standard gravity in m/s² (ISO 80000-3): 1 g weighs 0.00980665 N."""
HAND_N = 2.0
"""What a hand at the nut shall hold at most (trade.md 10.3, a judgement)."""
WAIST_MM = 12.0
"""Least depth of the waist below its chord, so that it doesn't slide (trade.md 10.3, common practice)."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seated:
    """``low`` and ``high`` bound the thigh along x; ``over_mm`` is how far the centre lies outside, negative
    toward the tail, 0 within. ``moment_nmm`` turns it; ``hand_n`` at the nut holds it: above 0 the hand lifts,
    below 0 the neck must be pressed down, 0 within. None where the nut isn't beyond the thigh."""

    low: float
    high: float
    centre_x: float
    over_mm: float
    moment_nmm: float
    hand_n: float | None

    @property
    def stable(self) -> bool:
        return self.over_mm == 0.0


def weight_n(mass_g: float) -> float:
    """What a mass weighs, in newtons."""
    return mass_g * GRAVITY / 1000.0


def seated(mass_g: float, centre_x: float, seat_x: float, half_mm: float, nut_x: float | None) -> Seated:
    """A thing of ``mass_g`` on a thigh that is 2·``half_mm`` wide about ``seat_x``, held at ``nut_x``.

    Within the thigh it is stable. Beyond it, about the thigh's edge: M = W·(x_G − x₂), F = M/(x_nut − x₂).
    """
    low, high = seat_x - half_mm, seat_x + half_mm
    over = max(centre_x - high, 0.0) + min(centre_x - low, 0.0)
    moment = weight_n(mass_g) * over
    edge = high if over >= 0 else low
    hand = None if nut_x is None or nut_x <= high else moment / (nut_x - edge) + 0.0
    return Seated(low=low, high=high, centre_x=centre_x, over_mm=over, moment_nmm=moment, hand_n=hand)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waist:
    """The hollow that rests on the thigh: its chord's two ends, its depth below it (mm), and where it is
    deepest."""

    chord: tuple[Point, Point]
    depth_mm: float
    at: Point


def waist(outline: shapely.Polygon, x: float) -> Waist | None:
    """The hollow of the lower edge at ``x``, under the chord of the convex hull there; None where the outline
    doesn't reach that far."""
    edge = _anticlockwise(outline.exterior)
    hull = _anticlockwise(shapely.convex_hull(outline).exterior)
    ahead = np.roll(hull, -1, axis=0)
    over = np.flatnonzero((hull[:, 0] < ahead[:, 0]) & (hull[:, 0] <= x) & (x <= ahead[:, 0]))
    if not len(over):  # along the lower edge the hull runs toward +x
        return None
    p, q = hull[over[0]], ahead[over[0]]
    a, b = (int(np.argmin(np.hypot(*(edge - v).T))) for v in (p, q))
    between = np.roll(edge, -a, axis=0)[: (b - a) % len(edge) + 1]
    (ux, uy), d = q - p, between - p
    depth = (ux * d[:, 1] - uy * d[:, 0]) / np.hypot(ux, uy)
    k = int(depth.argmax())
    return Waist(
        chord=((float(p[0]), float(p[1])), (float(q[0]), float(q[1]))),
        depth_mm=max(float(depth[k]), 0.0),
        at=(float(between[k, 0]), float(between[k, 1])),
    )


def _anticlockwise(ring: shapely.LinearRing) -> Floats:
    points: Floats = shapely.get_coordinates(ring)[:-1]
    return points if shapely.is_ccw(ring) else points[::-1]
