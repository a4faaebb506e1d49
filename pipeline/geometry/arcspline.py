"""Tangent-continuous chains of lines and arcs, held so that they can be bent (`arcfit.py`): a start, a first
heading, and for each arc a curvature and the place where it ends."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.contour import Bools, Contour, Floats

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArcSpline:
    """``start`` (2,) mm, ``heading`` rad; arc i has ``curvature``[i] 1/mm and ends at the arc length
    ``joints``[i] mm, the last one at ``length``. ``straight`` (n,) keeps a curvature at 0.

    A loop begins within arc 0 and ends in it: it has as many joints as arcs, or none when it is one circle.
    """

    loop: bool
    start: Floats
    heading: float
    curvature: Floats
    joints: Floats
    length: float
    straight: Bools

    @property
    def owner(self) -> Ints:
        """The arc of each stretch between joints."""
        return np.arange(len(self.joints) + 1) % max(len(self.curvature), 1)

    @property
    def stops(self) -> Floats:
        return np.concatenate([[0.0], self.joints, [self.length]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A chain laid out: where its stretches begin (k + 1, 2) and head (k + 1,), its end last."""

    stops: Floats
    bend: Floats
    at: Floats
    heading: Floats

    def points(self, s: Floats) -> tuple[Floats, Floats, Ints]:
        """Points and tangents (m, 2) at arc lengths s (m,), and their stretches."""
        k = np.clip(np.searchsorted(self.stops, s, side="right") - 1, 0, len(self.bend) - 1)
        u = s - self.stops[k]
        half = self.bend[k] * u / 2
        chord = u * np.sinc(half / np.pi)
        middle, end = self.heading[k] + half, self.heading[k] + 2 * half
        points = self.at[k] + np.stack([chord * np.cos(middle), chord * np.sin(middle)], axis=1)
        return points, np.stack([np.cos(end), np.sin(end)], axis=1), k


def laid_out(c: ArcSpline) -> Laid:
    stops, bend = c.stops, c.curvature[c.owner]
    long = np.diff(stops)
    heading = c.heading + np.concatenate([[0.0], np.cumsum(bend * long)])
    half = bend * long / 2
    chord = long * np.sinc(half / np.pi)
    steps = np.stack([chord * np.cos(heading[:-1] + half), chord * np.sin(heading[:-1] + half)], axis=1)
    return Laid(
        stops=stops, bend=bend, at=np.vstack([c.start, c.start + np.cumsum(steps, axis=0)]), heading=heading
    )


def spline_of(c: Contour) -> ArcSpline:
    """The chain of a contour whose lines and arcs (nearly) meet smoothly; a loop begins in its longest."""
    chord = c.ends - c.starts
    size = np.hypot(*chord.T)
    sweep = 4 * np.arctan(c.bulges)
    long = size / np.sinc(sweep / 2 / np.pi)
    curvature = sweep / long
    way = np.arctan2(chord[:, 1], chord[:, 0]) - sweep / 2
    if not c.closed:
        return ArcSpline(
            loop=False,
            start=c.xy[0].copy(),
            heading=float(way[0]),
            curvature=curvature,
            joints=np.cumsum(long)[:-1],
            length=float(long.sum()),
            straight=np.zeros(len(c), dtype=np.bool_),
        )
    k = int(np.argmax(long))
    long, curvature = np.roll(long, -k), np.roll(curvature, -k)
    laid = Laid(stops=np.array([0.0, long[0]]), bend=curvature[:1], at=c.starts[k : k + 1], heading=way[k : k + 1])
    start, tangent, _ = laid.points(np.array([long[0] / 2]))
    return ArcSpline(
        loop=True,
        start=start[0],
        heading=math.atan2(tangent[0, 1], tangent[0, 0]),
        curvature=curvature,
        joints=np.cumsum(long) - long[0] / 2,
        length=float(long.sum()),
        straight=np.zeros(len(c), dtype=np.bool_),
    )


def contour_of(c: ArcSpline, end: Floats | None = None) -> Contour:
    """The contour of a chain. ``end`` is the exact last point of an open one."""
    laid = laid_out(c)
    long, bend = np.diff(laid.stops), laid.bend
    if not c.loop:
        xy = laid.at.copy()
        if end is not None:
            xy[-1] = end
        return _contour(xy, np.append(np.tan(bend * long / 4), 0.0), False)
    if not len(c.joints):  # a circle, as two halves
        far, _, _ = laid.points(np.array([c.length / 2]))
        half = math.tan(float(bend[0]) * c.length / 8)
        return _contour(np.vstack([laid.at[:1], far]), np.array([half, half]), True)
    first = long[0] + long[-1]
    return _contour(laid.at[1:-1], np.tan(np.append(bend[1:-1] * long[1:-1], bend[0] * first) / 4), True)


def _contour(xy: Floats, bulge: Floats, closed: bool) -> Contour:
    flat = np.abs(bulge) < 1e-12
    return Contour(xy, np.where(flat, 0.0, bulge), np.zeros(len(xy), dtype=np.bool_), closed)
