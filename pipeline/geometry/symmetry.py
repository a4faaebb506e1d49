"""The axis about which an outline is (nearly) its own mirror image, and how far it is from being so."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Floats
from pipeline.geometry.deviation import deviation
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move, mirror_x_axis, shift, turn
from pipeline.geometry.wobble import Walk

STEP_DEG = 3.0
"""Axes through the centroid are tried at this spacing; the centroid of a symmetric shape lies on its axis."""
ROUGH = 160
FINE = 800
"""Points along all contours with which axes are tried, and with which the best ones are made exact."""
CLOSER = 6
"""So many of the axes that were tried are made exact."""
SAME_MM = 0.002
"""Axes whose root mean square distances differ by less are equally good: the one nearest the x axis is taken."""
FLAT_MM = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The line of points p with n · p = ``offset_mm``, n = (−sin ``angle_deg``, cos ``angle_deg``);
    −90 < angle ≤ 90. The x axis is (0, 0), the y axis (90, 0)."""

    angle_deg: float
    offset_mm: float

    @property
    def upright(self) -> Move:
        """The move that lays this axis on the x axis."""
        return turn(-self.angle_deg).then(shift(0.0, -self.offset_mm))

    @property
    def back(self) -> Move:
        return shift(0.0, self.offset_mm).then(turn(self.angle_deg))

    def image(self, shape: Region) -> Region:
        """The mirror image of a region about this axis."""
        return self.upright.then(mirror_x_axis()).then(self.back).region(shape)


X_AXIS = Axis(angle_deg=0.0, offset_mm=0.0)
Y_AXIS = Axis(angle_deg=90.0, offset_mm=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Symmetry:
    """The best axis, the mean and the largest distance in mm between outline and mirror image, and where."""

    axis: Axis
    mean_mm: float
    worst_mm: float
    at_mm: tuple[float, float]


def symmetry(shape: Region) -> Symmetry:
    """The axis with the least mean squared distance between the outline and its mirror image.

    Where several do equally well (a circle, an ellipse) the one nearest the direction of x is taken. Raises
    ValueError on an empty region.
    """
    if not shape:
        raise ValueError("an empty region has no axis")
    edge = _Edge(shape)
    x, y = shape.centroid
    angles = np.arange(-90.0 + STEP_DEG, 90.0 + STEP_DEG / 2, STEP_DEG)
    points = _spread(shape, ROUGH)
    through = [Axis(angle_deg=a, offset_mm=_offset(a, x, y)) for a in angles.tolist()]
    rough = np.array([_rms(edge, points, axis) for axis in through])
    least = (rough <= np.roll(rough, 1)) & (rough <= np.roll(rough, -1))
    order = [k for k in np.argsort(rough, kind="stable").tolist() if least[k]][:CLOSER]
    middle = [k for k, a in enumerate(angles.tolist()) if a in (0.0, 90.0)]
    points = _spread(shape, FINE)
    near = [_closer(edge, points, through[k], 4) for k in dict.fromkeys([*order, *middle])]
    scores = [_rms(edge, points, a) for a in near]
    found = [
        _closer(edge, points, a, 40)
        for a, r in zip(near, scores, strict=True)
        if r <= 2 * min(scores) + 10 * SAME_MM
    ]
    scores = [_rms(edge, points, a) for a in found]
    best = min(scores)
    equal = [a for a, r in zip(found, scores, strict=True) if r <= best + SAME_MM]
    axis = min(equal, key=lambda a: (round(abs(a.angle_deg), 3), a.angle_deg < 0))
    far = np.abs(edge.off(_mirrored(points, axis))[0])
    worst = deviation(shape, axis.image(shape))
    return Symmetry(axis=axis, mean_mm=float(far.mean()), worst_mm=worst.worst_mm, at_mm=worst.at_mm)


class _Edge:
    """The flattened boundary of a region, to measure to."""

    def __init__(self, shape: Region) -> None:
        chords = []
        for c in shape.contours:
            p, _ = c.flatten(FLAT_MM)
            chords.append(np.stack([p, np.roll(p, -1, axis=0)], axis=1))
        self.chords: Floats = np.concatenate(chords)
        self.tree = shapely.STRtree(shapely.linestrings(self.chords))

    def off(self, points: Floats) -> tuple[Floats, Floats]:
        """Distances (m,) from the boundary and the unit vectors (m, 2) away from it."""
        spot, chord = self.tree.query_nearest(shapely.points(points), all_matches=False)
        order = np.argsort(spot, kind="stable")
        p, q = self.chords[chord[order], 0], self.chords[chord[order], 1]
        d = q - p
        t = np.clip(((points - p) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-30), 0.0, 1.0)
        w = points - p - t[:, None] * d
        far = np.hypot(w[:, 0], w[:, 1])
        left = np.stack([-d[:, 1], d[:, 0]], axis=1) / np.maximum(np.hypot(*d.T), 1e-30)[:, None]
        away = np.where((far > 1e-9)[:, None], w / np.maximum(far, 1e-9)[:, None], left)
        return far, away


def _spread(shape: Region, count: int) -> Floats:
    """About ``count`` points evenly along all contours."""
    total, parts = shape.perimeter, []
    for c in shape.contours:
        walk = Walk.of(c)
        n = max(8, round(count * walk.length / total))
        parts.append(walk.at((np.arange(n) + 0.5) * walk.length / n)[0])
    return np.concatenate(parts)


def _offset(angle_deg: float, x: float, y: float) -> float:
    a = math.radians(angle_deg)
    return -math.sin(a) * x + math.cos(a) * y


def _mirrored(points: Floats, axis: Axis) -> Floats:
    a = math.radians(axis.angle_deg)
    n = np.array([-math.sin(a), math.cos(a)])
    image: Floats = points - 2 * (points @ n - axis.offset_mm)[:, None] * n
    return image


def _rms(edge: _Edge, points: Floats, axis: Axis) -> float:
    far, _ = edge.off(_mirrored(points, axis))
    return float(np.sqrt(np.mean(far**2)))


def _closer(edge: _Edge, points: Floats, axis: Axis, rounds: int) -> Axis:
    """The axis moved to where the squares of the distances are least (Gauss and Newton's steps)."""
    centre = points.mean(axis=0)
    best, score = axis, _rms(edge, points, axis)
    for _ in range(rounds):
        a = math.radians(best.angle_deg)
        n, t = np.array([-math.sin(a), math.cos(a)]), np.array([math.cos(a), math.sin(a)])
        far, away = edge.off(_mirrored(points, best))
        # Turning about the axis's point nearest the centre keeps the two unknowns apart.
        pivot = centre - (float(centre @ n) - best.offset_mm) * n
        w = points - pivot
        turned = 2 * ((w @ t)[:, None] * n + (w @ n)[:, None] * t)
        slopes = np.stack([(away * turned).sum(axis=1), 2 * (away @ n)], axis=1)
        turn_by, move_by = np.linalg.lstsq(slopes, -far, rcond=1e-10)[0].tolist()
        moved = _through(a + turn_by, pivot + move_by * n)
        new = _rms(edge, points, moved)
        if new >= score:
            break
        best, score = moved, new
        if abs(turn_by) < 1e-9 and abs(move_by) < 1e-8:
            break
    return best


def _through(angle: float, point: Floats) -> Axis:
    a = math.remainder(angle, math.pi)
    if a <= -math.pi / 2:
        a += math.pi
    n = np.array([-math.sin(a), math.cos(a)])
    return Axis(angle_deg=math.degrees(a) + 0.0, offset_mm=float(point @ n) + 0.0)
