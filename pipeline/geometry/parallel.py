"""Lines that bend: their lengths and turns, true parallels, the same line bent more or less, stretches of it.

A chain of lines and arcs is laid again from the length and the turn of each segment (turn = length × curvature),
so that changing all curvatures by one factor is exact: every arc stays an arc of its own length. A parallel at
distance d has arcs of radius R − d on the side of the centre and R + d on the other, about the same centres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.wobble import Walk, breaks

LEAST_MM = 1e-6
"""A parallel whose arc has a smaller radius is none."""


class TooTight(ValueError):
    """A parallel that folds over: the line bends to ``radius_mm`` at ``at`` and the distance is larger."""

    def __init__(self, radius_mm: float, at: tuple[float, float], by_mm: float) -> None:
        self.radius_mm, self.at, self.by_mm = radius_mm, at, by_mm
        super().__init__(f"a radius of {radius_mm:.3f} mm has no parallel {abs(by_mm):.3f} mm inside it")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bends:
    """A chain by what each of its n segments does: ``lengths`` mm, ``turns`` rad (left positive), ``joints`` rad
    (the break of the tangent before it, 0 at the first of an open one), ``free``; it leaves ``start`` along
    ``heading``."""

    lengths: Floats
    turns: Floats
    joints: Floats
    free: Bools
    start: tuple[float, float]
    heading: float

    @property
    def headings(self) -> Floats:
        """Heading at the start and at the end of each segment (n, 2), rad, never wrapped."""
        first = np.cumsum(self.joints) + np.concatenate([[0.0], np.cumsum(self.turns)[:-1]])
        made: Floats = self.heading + np.stack([first, first + self.turns], axis=1)
        return made

    @property
    def curvatures(self) -> Floats:
        """1/mm of each segment, left positive, 0 for a line."""
        made: Floats = self.turns / self.lengths
        return made

    @property
    def total_turn(self) -> float:
        """From the first heading to the last, rad."""
        return float(self.turns.sum() + self.joints.sum())


def bends(c: Contour) -> Bends:
    """What each segment of a chain does; a closed one is told as if it ended where it began."""
    stops = Walk.of(c).stops
    leaves, _ = c.tangents()
    joints = breaks(c).copy()
    joints[0] = 0.0
    return Bends(
        lengths=np.diff(stops),
        turns=4 * np.arctan(c.bulges),
        joints=joints,
        free=c.free[: len(c)],
        start=(float(c.xy[0, 0]), float(c.xy[0, 1])),
        heading=math.atan2(float(leaves[0, 1]), float(leaves[0, 0])),
    )


def laid(b: Bends) -> Contour:
    """The open chain of these bends."""
    half = b.turns / 2
    chord = b.lengths * np.sinc(half / np.pi)
    way = b.headings[:, 0] + half
    x = np.concatenate([[0.0], np.cumsum(chord * np.cos(way))]) + b.start[0]
    y = np.concatenate([[0.0], np.cumsum(chord * np.sin(way))]) + b.start[1]
    bulge = np.append(np.tan(b.turns / 4), 0.0)
    return Contour(np.stack([x, y], axis=1), bulge, np.append(b.free, False), False)


def rebent(c: Contour, factor: float) -> Contour:
    """An open chain with all its curvatures times ``factor``; its middle stays where and as it is."""
    b = bends(c)
    more = Bends(
        lengths=b.lengths,
        turns=b.turns * factor,
        joints=b.joints * factor,
        free=b.free,
        start=b.start,
        heading=b.heading,
    )
    bent = laid(more)
    here, there = _middle(c), _middle(bent)
    turn = complex(*here[1]) / complex(*there[1])
    turn /= abs(turn)
    z = (bent.xy[:, 0] + 1j * bent.xy[:, 1] - complex(*there[0])) * turn + complex(*here[0])
    return Contour(np.stack([z.real, z.imag], axis=1), bent.bulge.copy(), bent.free.copy(), False)


def _middle(c: Contour) -> tuple[Floats, Floats]:
    walk = Walk.of(c)
    at, way = walk.at(np.array([walk.length / 2]))
    return at[0], way[0]


def parallel(c: Contour, by_mm: float) -> Contour:
    """The line ``by_mm`` to the left of a chain (negative: to the right), segment for segment.

    Small breaks of the tangent stay breaks, at the tips of their mitres. Raises TooTight where it would fold over.
    """
    if by_mm == 0.0:
        return c
    b = bends(c)
    n = len(c)
    leaves, arrives = c.tangents()
    turn = breaks(c)
    came = np.roll(arrives, 1, axis=0)
    if not c.closed:
        turn, came = np.append(turn, 0.0), np.concatenate([leaves[:1], arrives])
        leaves = np.concatenate([leaves, arrives[-1:]])
    way = came + leaves
    way /= np.hypot(*way.T)[:, None]
    tip = c.xy + by_mm * np.stack([-way[:, 1], way[:, 0]], axis=1) / np.cos(turn / 2)[:, None]
    longer = -by_mm * np.tan(turn / 2)
    before = longer[:n]
    after = np.roll(longer, -1)[:n]
    curved = b.turns != 0.0
    sign = np.sign(b.turns)
    radius = np.where(curved, b.lengths / np.where(curved, np.abs(b.turns), 1.0), np.inf)
    around = radius - by_mm * sign
    length = (
        np.where(curved, np.where(np.isinf(around), 0.0, around) * np.abs(b.turns), b.lengths) + before + after
    )
    bad = (around < LEAST_MM) | (length <= 0.0)
    if bad.any():
        least = np.where(bad, np.where(curved, radius, b.lengths / np.maximum(np.abs(turn[:n]), 1e-12)), np.inf)
        k = int(np.argmin(least))
        at = Walk.of(c).at(np.array([float(b.lengths[:k].sum() + b.lengths[k] / 2)]))[0][0]
        raise TooTight(float(least[k]), (float(at[0]), float(at[1])), by_mm)
    sweep = b.turns + sign * (np.arctan(before / around) + np.arctan(after / around))
    bulge = np.where(curved, np.tan(sweep / 4), 0.0)
    return Contour(tip, bulge if c.closed else np.append(bulge, 0.0), c.free.copy(), c.closed)


def stretch(c: Contour, first_mm: float, last_mm: float) -> Contour:
    """The open chain from one arc length of a contour to another; on a closed one it may run past its start.

    Raises ValueError where nothing lies between.
    """
    if c.closed and last_mm <= first_mm:
        last_mm += Walk.of(c).length
    b = bends(c)
    k = 2 if c.closed else 1
    lengths, turns, free = np.tile(b.lengths, k), np.tile(b.turns, k), np.tile(b.free, k)
    joints = np.concatenate([b.joints, breaks(c)]) if c.closed else b.joints
    ends = np.cumsum(lengths)
    part = np.clip(np.minimum(ends, last_mm) - np.maximum(ends - lengths, first_mm), 0.0, None)
    keep = np.flatnonzero(part > LEAST_MM)
    if not len(keep):
        raise ValueError("nothing lies between the two places")
    at, way = Walk.of(c).at(np.array([max(first_mm, 0.0) + 0.0]))
    kept = joints[keep].copy()
    kept[0] = 0.0
    return laid(
        Bends(
            lengths=part[keep],
            turns=turns[keep] * part[keep] / lengths[keep],
            joints=kept,
            free=free[keep],
            start=(float(at[0, 0]), float(at[0, 1])),
            heading=math.atan2(float(way[0, 1]), float(way[0, 0])),
        )
    )


def extended(c: Contour, by_mm: float) -> Contour:
    """An open chain carried straight on at both ends."""
    if by_mm <= 0.0:
        return c
    leaves, arrives = c.tangents()
    xy = np.concatenate([c.xy[:1] - by_mm * leaves[:1], c.xy, c.xy[-1:] + by_mm * arrives[-1:]])
    bulge = np.concatenate([[0.0], c.bulge, [0.0]])
    free = np.concatenate([[False], c.free, [False]])
    return Contour(xy, bulge, free, False)
