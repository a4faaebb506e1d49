"""Volume, mass and centre of what a set of cuts leaves of a stack; exact on flat and sloped floors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.boolean import difference, intersection
from pipeline.geometry.contour import Floats, chain
from pipeline.geometry.region import Region, solid
from pipeline.steps.heights import Floor, Span, bites


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Mass in g and centre (x, y, z) in mm."""

    mass_g: float
    centre_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Plane:
    """A height z = z0 + gx·x + gy·y in mm."""

    z0: float
    gx: float = 0.0
    gy: float = 0.0

    def at(self, x: Floats, y: Floats) -> Floats:
        return self.z0 + self.gx * x + self.gy * y


def band(region: Region, toward: tuple[float, float], s_from: float, s_to: float) -> Region:
    """The part of a region with s_from ≤ p·toward ≤ s_to."""
    lo, hi = s_range(region, toward)
    if s_from <= lo + 1e-9 and s_to >= hi - 1e-9:
        return region
    x0, y0, x1, y1 = region.bounds
    reach = abs(x0) + abs(x1) + abs(y0) + abs(y1) + 10.0
    u = np.array(toward)
    v = np.array([-u[1], u[0]])
    a, b = max(s_from, lo - 1.0), min(s_to, hi + 1.0)
    box = chain([u * a - v * reach, u * b - v * reach, u * b + v * reach, u * a + v * reach], [0.0] * 4)
    return intersection(region, solid(box))


def s_range(region: Region, toward: tuple[float, float]) -> tuple[float, float]:
    """Least and largest p·toward over a region (exact along x and y, to the flattening elsewhere)."""
    x0, y0, x1, y1 = region.bounds
    axis = {(1.0, 0.0): (x0, x1), (-1.0, 0.0): (-x1, -x0), (0.0, 1.0): (y0, y1), (0.0, -1.0): (-y1, -y0)}
    if toward in axis:
        return axis[toward]
    s = np.concatenate([c.flatten()[0] for c in region.contours]) @ np.array(toward)
    return float(s.min()), float(s.max())


def bites_of(floor: Floor, span: Span, region: Region) -> tuple[tuple[Region, str, float, float], ...]:
    """(band of the region, action, depth, deep) of one cut in one lamination."""
    tilt = floor.cut.depth.tilt
    toward = tilt.toward if tilt else (1.0, 0.0)
    lo, hi = s_range(region, toward)
    return tuple(
        (band(region, toward, b.s_from, b.s_to) if tilt else region, b.action, b.depth, b.deep)
        for b in bites(floor, span, lo, hi)
    )


def body(outline: Region, layers: Sequence[tuple[Span, float]], floors: Sequence[Floor]) -> Body:
    """Mass and centre of a stack less its cuts, to the design edge.

    ``layers`` pairs each span (glue line included, so that spans touch) with its density in kg/m³.
    Where cuts from one face overlap, the deeper one counts; a hole all the way through counts once.
    """
    total = np.zeros(4)  # mass, and mass × (x, y, z)
    holes = [f.cut.region for f in floors if _all_through(f)]
    for span, density in layers:
        total += density * 1e-6 * _prism(outline, Plane(span.z0), Plane(span.z1))
        for face in ("front", "back"):
            # A hole all the way through counts once, with the front.
            taken = list(holes) if face == "back" else []
            side = [f for f in floors if face == ("front" if _all_through(f) else f.face)]
            mine = [f for f in side if f.cut.lamination in (None, span.number)]
            for floor in sorted(mine, key=lambda f: (-f.deep, f.cut.name)):
                region = difference(intersection(floor.cut.region, outline), *taken)
                gone = _removed(region, floor, span) if region else np.zeros(4)
                total -= density * 1e-6 * gone
                if gone[0] > 0:  # what doesn't reach this lamination hides nothing in it
                    taken.append(floor.cut.region)
    mass = float(total[0])
    x, y, z = (float(v) for v in total[1:] / mass)
    return Body(mass_g=mass, centre_mm=(x, y, z))


def _all_through(floor: Floor) -> bool:
    return floor.through and floor.cut.lamination is None


def _removed(region: Region, floor: Floor, span: Span) -> Floats:
    """Volume and moments of what one cut takes from one lamination over ``region``."""
    low, high = Plane(span.z0), Plane(span.z1)
    cut = floor.cut
    if cut.lamination is not None:  # its depth is measured in its own lamination
        depth = span.thickness if cut.depth.rule in ("sheet", "through") else min(cut.depth.mm, span.thickness)
        return _prism(
            region,
            Plane(span.z1 - depth) if cut.face == "front" else low,
            high if cut.face == "front" else Plane(span.z0 + depth),
        )
    total = np.zeros(4)
    for part, action, _depth, _deep in bites_of(floor, span, region):
        if not part:
            continue
        if action == "through":
            total += _prism(part, low, high)
        elif cut.face == "front":
            total += _prism(part, _plane(floor), high)
        else:
            total += _prism(part, low, _plane(floor))
    return total


def _plane(floor: Floor) -> Plane:
    """The floor of a cut as a plane in z above the back face."""
    tilt = floor.cut.depth.tilt
    sign = -1.0 if floor.face == "front" else 1.0
    if tilt is None:
        return Plane(floor.height(floor.depth))
    z0 = floor.height(floor.depth - tilt.shallow * floor.slope)
    return Plane(z0, sign * floor.slope * tilt.toward[0], sign * floor.slope * tilt.toward[1])


def _prism(region: Region, low: Plane, high: Plane) -> Floats:
    """(V, ∫x, ∫y, ∫z) of the solid over a region between two planes.

    Level planes: exact from the contours. Sloped: over triangles from the centroid to every flattened
    edge, with the three-midpoint rule, which is exact for the quadratic integrands here.
    """
    cx, cy = region.centroid
    if low.gx == low.gy == high.gx == high.gy == 0.0:
        volume = region.area * (high.z0 - low.z0)
        return np.array([volume, volume * cx, volume * cy, volume * (low.z0 + high.z0) / 2])
    total = np.zeros(4)
    for contour in region.contours:
        p = contour.flatten()[0]
        q = np.roll(p, -1, axis=0)
        area = 0.5 * ((p[:, 0] - cx) * (q[:, 1] - cy) - (q[:, 0] - cx) * (p[:, 1] - cy))
        for m in ((p + q) / 2, (p + np.array([cx, cy])) / 2, (q + np.array([cx, cy])) / 2):
            x, y = m[:, 0], m[:, 1]
            z0, z1 = low.at(x, y), high.at(x, y)
            h = (z1 - z0) * area / 3
            total += [h.sum(), (h * x).sum(), (h * y).sum(), (h * (z0 + z1) / 2).sum()]
    return total
