"""A carved shape by its height profile: how far it stands back at each height, and the area of its sections.

The section at height z is the outline moved inward by inset(z) (outward where it is negative), so of any two
sections one holds the other, and the union of all between two heights is that of the least inset (trade.md 4.4).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.geometry.rounding import curvature, integral
from pipeline.geometry.sections import monotone

NODES = 17
"""Sections that are measured where Steiner's formula doesn't hold; every second one gives the error."""
PIECES = 32
"""Parts into which each stretch of a profile is cut for the integral there."""
SAME_AREA = 1e-7
"""Steiner's formula holds when it meets the area of the deepest section by this share."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """``insets`` at rising ``heights`` (n,), mm; between them straight, or (``smooth``) a monotone cubic.

    Raises ValueError where the heights don't rise.
    """

    heights: Floats
    insets: Floats
    smooth: bool = False

    def __post_init__(self) -> None:
        if len(self.heights) < 2 or (np.diff(self.heights) <= 0).any():
            raise ValueError("a profile needs two heights or more, each above the one before")

    @property
    def top(self) -> float:
        return float(self.heights[-1])

    def at(self, z: Floats) -> Floats:
        """Insets at heights within the profile."""
        if not self.smooth:
            found: Floats = np.interp(z, self.heights, self.insets)
            return found
        xs, ys = self.heights.tolist(), self.insets.tolist()
        return np.array([monotone(xs, ys, min(max(v, xs[0]), xs[-1])) for v in np.atleast_1d(z).tolist()])

    def one(self, z: float) -> float:
        return float(self.at(np.array([z]))[0])

    def stops(self, low: float, high: float) -> Floats:
        """The two heights and those of the profile between them."""
        inner = self.heights[(self.heights > low + 1e-9) & (self.heights < high - 1e-9)]
        return np.concatenate([[low], inner, [high]])

    def least(self, low: float, high: float) -> float:
        """The least inset between two heights: a monotone piece has it at an end."""
        return float(self.at(self.stops(low, high)).min())

    def steepest_deg(self) -> float:
        """The steepest slope to the level between two of its points, 90 is upright."""
        rise, run = np.diff(self.heights), np.abs(np.diff(self.insets))
        return float(np.degrees(np.arctan2(rise, run)).max())


def of_line(line: Contour) -> Profile:
    """The profile that a drawn open line shows, from its lower end up: x is the inset, y the height.

    Inward is the side on which its upper end lies. Raises ValueError where the line doesn't rise all the way.
    """
    points, _ = line.flatten()
    if points[0, 1] > points[-1, 1]:
        points = points[::-1]
    way = 1.0 if points[-1, 0] >= points[0, 0] else -1.0
    heights = points[:, 1] - points[0, 1]
    if (np.diff(heights) <= 0).any():
        x, y = points[int(np.argmax(np.diff(heights) <= 0))].tolist()
        raise ValueError(f"the line turns back at ({x:.2f}, {y:.2f}) instead of rising")
    return Profile(heights=heights, insets=(points[:, 0] - points[0, 0]) * way)


def section(outline: Region, inset_mm: float) -> Region:
    """The outline moved inward by ``inset_mm`` (outward when negative); empty where nothing is left."""
    return offset(outline, -inset_mm) if inset_mm else outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Areas:
    """Area of the section by its inset: ``at(n)`` for n (m,). ``exact`` where Steiner's formula holds all the way;
    else ``rough`` is the same from half as many measured sections, for the error."""

    at: Callable[[Floats], Floats]
    rough: Callable[[Floats], Floats]
    exact: bool

    def between(self, profile: Profile, low: float, high: float) -> tuple[float, float]:
        """(∫ area dz, its error) between two heights of a profile."""
        stops = profile.stops(low, high)
        if not self.exact:  # the cubics' joints don't lie at the profile's points
            share = np.arange(PIECES) / PIECES
            stops = np.append((stops[:-1, None] + np.diff(stops)[:, None] * share).ravel(), stops[-1])
        whole = integral(lambda z: self.at(profile.at(z)), stops)
        if self.exact:
            return whole, 0.0
        return whole, abs(whole - integral(lambda z: self.rough(profile.at(z)), stops))


def areas(outline: Region, least: float, most: float) -> Areas:
    """Areas of the sections with insets from ``least`` to ``most``.

    A − L·n + K·n² inward and A − L·n + K'·n² outward where the two outermost sections agree with it; else cubics
    through NODES measured sections whose slopes are their perimeters (dA/dn = −perimeter).
    """
    inner = sum(curvature(c) for c in outline.contours)
    outer = sum(_outward(c) for c in outline.contours)
    a, length = outline.area, outline.perimeter

    def steiner(n: Floats) -> Floats:
        found: Floats = a - length * n + np.where(n > 0, inner, outer) * n * n
        return found

    ends = [v for v in (least, most) if v]
    measured = [section(outline, v).area for v in ends]
    if all(
        abs(m - float(steiner(np.array([v]))[0])) <= SAME_AREA * a for v, m in zip(ends, measured, strict=True)
    ):
        return Areas(at=steiner, rough=steiner, exact=True)
    nodes = np.linspace(least, most, NODES)
    sections = [section(outline, float(v)) for v in nodes]
    values = np.array([s.area if s else 0.0 for s in sections])
    slopes = np.array([-s.perimeter if s else 0.0 for s in sections])
    return Areas(
        at=_cubic(nodes, values, slopes),
        rough=_cubic(nodes[::2], values[::2], slopes[::2]),
        exact=False,
    )


def _outward(c: Contour) -> float:
    """K' of a contour: outward it is the concave corners that meet in a corner, the convex ones become arcs."""
    return -curvature(c.reversed())


def _cubic(x: Floats, y: Floats, slope: Floats) -> Callable[[Floats], Floats]:
    """The piecewise cubic through points with slopes (Hermite)."""

    def at(v: Floats) -> Floats:
        k = np.clip(np.searchsorted(x, v, side="right") - 1, 0, len(x) - 2)
        h = x[k + 1] - x[k]
        u = (v - x[k]) / h
        found: Floats = (
            y[k] * (1 + 2 * u) * (1 - u) ** 2
            + y[k + 1] * u * u * (3 - 2 * u)
            + h * u * (1 - u) * (slope[k] * (1 - u) - slope[k + 1] * u)
        )
        return found

    return at
