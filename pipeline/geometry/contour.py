"""Contours: chains of lines and arcs, open or closed, with exact measures.

A contour is held as DXF holds it: vertices and bulges (bulge = tan(θ/4) of the arc that leaves a
vertex, positive anticlockwise, 0 for a line). Free-form curves enter as fine tangent-continuous arc
chains (`curves.py`) whose segments are marked ``free``; `fit.py` turns runs of free segments into
few arcs on export. Everything between is exact work on lines and arcs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FLATTEN_MM = 0.0005
"""Largest distance of the flattened form from the curve, used wherever GEOS decides topology."""


@dataclass(frozen=True, eq=False)
class Contour:
    """A chain of lines and arcs.

    ``xy`` (n, 2) mm; ``bulge`` (n,), the segment leaving each vertex (of an open contour the last
    one is unused and 0); ``free`` (n,), True where the segment stands for part of a free-form curve.
    Raises ValueError on bad shapes or non-finite numbers.
    """

    xy: Floats
    bulge: Floats
    free: Bools
    closed: bool = True

    def __post_init__(self) -> None:
        n = len(self.xy)
        if self.xy.shape != (n, 2) or self.bulge.shape != (n,) or self.free.shape != (n,) or n < 2:
            raise ValueError(f"contour of wrong shape: {self.xy.shape}, {self.bulge.shape}")
        if not (np.isfinite(self.xy).all() and np.isfinite(self.bulge).all()):
            raise ValueError("contour with a coordinate that is not a number")
        for a in (self.xy, self.bulge, self.free):
            a.setflags(write=False)

    # -- parts ---------------------------------------------------------------------------------
    def __len__(self) -> int:
        """Number of segments."""
        return len(self.xy) if self.closed else len(self.xy) - 1

    @property
    def starts(self) -> Floats:
        return self.xy if self.closed else self.xy[:-1]

    @cached_property
    def ends(self) -> Floats:
        return np.concatenate([self.xy[1:], self.xy[:1]]) if self.closed else self.xy[1:]

    @property
    def bulges(self) -> Floats:
        """Bulge of each segment, (len,)."""
        return self.bulge if self.closed else self.bulge[:-1]

    def reversed(self) -> Contour:
        xy = self.xy[::-1].copy()
        if self.closed:
            return Contour(xy, -np.roll(self.bulge[::-1], -1), np.roll(self.free[::-1], -1), True)
        bulge = np.append(-self.bulge[:-1][::-1], 0.0)
        free = np.append(self.free[:-1][::-1], False)
        return Contour(xy, bulge, free, False)

    def rolled(self, start: int) -> Contour:
        """The same closed contour beginning at vertex ``start``."""
        return Contour(
            np.roll(self.xy, -start, axis=0),
            np.roll(self.bulge, -start),
            np.roll(self.free, -start),
            self.closed,
        )

    # -- exact measures --------------------------------------------------------------------------
    @cached_property
    def length(self) -> float:
        chord = np.hypot(*(self.ends - self.starts).T)
        return float(np.sum(chord * _arc_factor(self.bulges)))

    @cached_property
    def area(self) -> float:
        """Signed area by Green's theorem, anticlockwise positive, exact for lines and arcs."""
        x0, y0 = self.starts.T
        x1, y1 = self.ends.T
        return float(0.5 * np.sum(x0 * y1 - x1 * y0) + np.sum(self._segment_areas()))

    @cached_property
    def moment(self) -> tuple[float, float]:
        """(∫x dA, ∫y dA), signed like ``area``; a circular segment has moment c³/12 about its centre."""
        origin = self.xy.mean(axis=0)
        p, q = self.starts - origin, self.ends - origin
        cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
        m = np.sum((p + q) * (cross / 6.0)[:, None], axis=0)
        b = self.bulges
        curved = np.abs(b) > 1e-12
        if curved.any():
            p, q, b = p[curved], q[curved], b[curved]
            seg = self._segment_areas()[curved]
            d = q - p
            chord = np.hypot(*d.T)
            right = np.stack([d[:, 1], -d[:, 0]], axis=1) / chord[:, None]  # outward for b > 0
            sign = np.sign(b)
            # Distance from the chord's middle to the centre, against the bulging side.
            h = chord * (1 - b * b) / (4 * np.abs(b))
            centre = (p + q) / 2 - right * (h * sign)[:, None]
            m = m + np.sum(centre * seg[:, None], axis=0)
            m = m + np.sum(right * (chord**3 / 12.0)[:, None], axis=0)
        a = self.area
        return float(m[0] + a * origin[0]), float(m[1] + a * origin[1])

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(xmin, ymin, xmax, ymax), arcs included exactly."""
        lo, hi = self.xy.min(axis=0), self.xy.max(axis=0)
        b = self.bulges
        curved = np.abs(b) > 1e-12
        if curved.any():
            c, r = arc_centres(self.starts[curved], self.ends[curved], b[curved])
            a0 = np.arctan2(*(self.starts[curved] - c).T[::-1])
            sweep = 4 * np.arctan(b[curved])
            for k, (ux, uy) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
                turn = (k * math.pi / 2 - a0) % (2 * math.pi)
                inside = np.where(sweep > 0, turn <= sweep, turn - 2 * math.pi >= sweep)
                if inside.any():
                    tips = (c + r[:, None] * np.array([ux, uy]))[inside]
                    lo, hi = np.minimum(lo, tips.min(axis=0)), np.maximum(hi, tips.max(axis=0))
        return float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])

    def _segment_areas(self) -> Floats:
        """Signed area between each segment and its chord: ½R²(θ − sin θ)."""
        b = self.bulges
        chord2 = np.sum((self.ends - self.starts) ** 2, axis=1)
        small = np.abs(b) < 1e-3
        safe = np.where(small, 1.0, b)
        theta = 4 * np.arctan(safe)
        r2 = chord2 * (1 + safe * safe) ** 2 / (16 * safe * safe)
        exact = 0.5 * r2 * (theta - np.sin(theta))
        series = chord2 * b / 3 * (1 + 0.2 * b * b)
        areas: Floats = np.where(small, series, exact)
        return areas

    # -- queries ---------------------------------------------------------------------------------
    def circle(self) -> tuple[float, float, float] | None:
        """(cx, cy, r) when the closed contour is one full circle, else None."""
        b = self.bulges
        if not self.closed or np.any(np.abs(b) < 1e-12) or not (np.all(b > 0) or np.all(b < 0)):
            return None
        c, r = arc_centres(self.starts, self.ends, b)
        if abs(abs(float(np.sum(4 * np.arctan(b)))) - 2 * math.pi) > 1e-6:
            return None
        mean, radius = c.mean(axis=0), float(r.mean())
        if np.abs(c - mean).max() > 1e-6 or np.abs(r - radius).max() > 1e-6:
            return None
        return float(mean[0]), float(mean[1]), radius

    def tangents(self) -> tuple[Floats, Floats]:
        """Unit tangents at the start and at the end of each segment, each (len, 2)."""
        d = self.ends - self.starts
        d = d / np.hypot(*d.T)[:, None]
        half = 2 * np.arctan(self.bulges)
        return _turned(d, -half), _turned(d, half)

    def flatten(self, tol_mm: float = FLATTEN_MM) -> tuple[Floats, NDArray[np.int64]]:
        """Points of the chords and the segment each chord belongs to.

        Points are (m, 2), beginning with every segment's exact start (a closed contour does not
        repeat its first point, an open one ends with its last); chords lie within ``tol_mm``.
        """
        b = self.bulges
        p, q = self.starts, self.ends
        chord = np.hypot(*(q - p).T)
        theta = 4 * np.arctan(np.abs(b))
        curved = theta > 1e-9
        n = np.ones(len(b), dtype=np.int64)
        if curved.any():
            bb = np.abs(b[curved])
            r = chord[curved] * (1 + bb * bb) / (4 * bb)
            step = 2 * np.arccos(np.clip(1 - tol_mm / r, -0.5, 1 - 1e-15))
            n[curved] = np.maximum(1, np.ceil(theta[curved] / step)).astype(np.int64)
        seg = np.repeat(np.arange(len(b)), n)
        first = np.concatenate([[0], np.cumsum(n)[:-1]])
        frac = (np.arange(len(seg)) - first[seg]) / n[seg]
        pts = p[seg].copy()
        inner = frac > 0
        if inner.any():
            s = seg[inner]
            c, _ = arc_centres(p[s], q[s], b[s])
            a = frac[inner] * 4 * np.arctan(b[s])
            v = p[s] - c
            pts[inner] = c + _turned(v, a)
        if not self.closed:
            pts = np.vstack([pts, q[-1:]])
        return pts, seg


def line_chain(points: object, *, closed: bool = True, free: bool = False) -> Contour:
    """A contour of straight segments through ``points`` (n, 2)."""
    xy = np.array(points, dtype=np.float64)
    return Contour(xy, np.zeros(len(xy)), np.full(len(xy), free), closed)


def chain(points: object, bulges: object, *, closed: bool = True) -> Contour:
    """A contour of lines and arcs from vertices and bulges (for an open one the last is ignored)."""
    xy = np.array(points, dtype=np.float64)
    b = np.array(bulges, dtype=np.float64)
    if not closed:
        b[-1] = 0.0
    return Contour(xy, b, np.zeros(len(xy), dtype=np.bool_), closed)


def arc_centres(p: Floats, q: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Centres (n, 2) and radii (n,) of the arcs p→q with bulge b (b must not be 0)."""
    d = q - p
    left = np.stack([-d[:, 1], d[:, 0]], axis=1)
    centre = (p + q) / 2 + left * ((1 - b * b) / (4 * b))[:, None]
    radius = np.hypot(*d.T) * (1 + b * b) / (4 * np.abs(b))
    return centre, radius


def _arc_factor(b: Floats) -> Floats:
    """Arc length over chord length: atan(b)(1 + b²)/b."""
    safe = np.where(np.abs(b) < 1e-6, 1.0, b)
    return np.where(np.abs(b) < 1e-6, 1 + 2 * b * b / 3, np.arctan(safe) * (1 + safe * safe) / safe)


def _turned(v: Floats, angle: Floats) -> Floats:
    """Vectors (n, 2) turned anticlockwise by angle (n,) radians."""
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([v[:, 0] * c - v[:, 1] * s, v[:, 0] * s + v[:, 1] * c], axis=1)
