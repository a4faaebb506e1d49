"""A drawn contour as evenly spaced points, its corners, and the line without its wobble.

The wobble of a hand has wavelengths of 2 to 20 mm (trade.md 1.6). It is taken out by a filter of the
points along the curve that lets all longer waves pass: its gain at wavelength w is 1 / (1 + (c/w)^8) for a
cut c, so it moves a circle of radius R inward by only R (c / 2πR)^8, where averaging with a Gaussian of σ
moves it by σ²/2R. Where that moves the line too far, at tight curves, a shorter cut is taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.biarcs import along
from pipeline.geometry.contour import Bools, Contour, Floats

WITHIN_MM = 1.0
"""A turn of more than the corner's angle within this length is a corner (trade.md 1.6)."""
BESIDE_MM = 6.0
"""So far to both sides it is looked whether a turn is more than wobble (common practice, no source)."""
CUTS_MM = (2.5, 5.0, 10.0, 20.0, 40.0)
ORDER = 8
SPACING_MM = 0.5
POINTS = 2400
LEAST = 48
"""Points are SPACING_MM apart, but at most POINTS and at least LEAST on a stretch."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walk:
    """A contour by its arc length: ``stops`` (n + 1,) mm at its vertices."""

    contour: Contour
    stops: Floats

    @staticmethod
    def of(c: Contour) -> Walk:
        sweep = 4 * np.arctan(c.bulges)
        long = np.hypot(*(c.ends - c.starts).T) / np.sinc(sweep / 2 / np.pi)
        return Walk(contour=c, stops=np.concatenate([[0.0], np.cumsum(long)]))

    @property
    def length(self) -> float:
        return float(self.stops[-1])

    def at(self, s: Floats) -> tuple[Floats, Floats]:
        """Points and unit tangents (m, 2) at arc lengths s; a closed contour goes round."""
        c = self.contour
        s = s % self.length if c.closed else np.clip(s, 0.0, self.length)
        k = np.clip(np.searchsorted(self.stops, s, side="right") - 1, 0, len(c) - 1)
        long = self.stops[k + 1] - self.stops[k]
        return along(c.starts[k], c.ends[k], c.bulges[k], (s - self.stops[k]) / np.where(long > 0, long, 1.0))


# -- corners -------------------------------------------------------------------------------------
def breaks(c: Contour) -> Floats:
    """The turn of the tangent at each vertex (len,), rad; 0 at the first one of an open contour."""
    leaves, arrives = c.tangents()
    came = np.roll(arrives, 1, axis=0)
    turn: Floats = np.arctan2(came[:, 0] * leaves[:, 1] - came[:, 1] * leaves[:, 0], (came * leaves).sum(axis=1))
    if not c.closed:
        turn[0] = 0.0
    return turn


def corners(c: Contour, corner_deg: float) -> list[int]:
    """The vertices at which the contour turns by more than ``corner_deg`` within WITHIN_MM, and not by wobble.

    A vertex between two stretches of BESIDE_MM and more without a break counts by its own turn. Any other
    must show the turn also between the curves (parabolas by least squares) before and after it.
    """
    walk, turn, limit = Walk.of(c), breaks(c), math.radians(corner_deg)
    near = _turn_within(c, walk, turn)
    found = np.flatnonzero((np.abs(near) > limit) & (np.abs(turn) > limit / 8))
    kept: list[int] = []
    broken = walk.stops[:-1][np.abs(turn) > math.radians(0.1)]
    for k in sorted(found.tolist(), key=lambda k: (-abs(turn[k]), k)):
        s = float(walk.stops[k])
        if any(_gap(walk, s, float(walk.stops[o])) <= WITHIN_MM / 2 for o in kept):
            continue
        clear = [g for b in broken.tolist() if (g := _gap(walk, s, b)) > 1e-9]
        alone = min(clear, default=math.inf) >= BESIDE_MM
        if (alone and abs(turn[k]) > limit) or abs(_turn_between(walk, s)) > limit:
            kept.append(k)
    return sorted(kept)


def _gap(walk: Walk, a: float, b: float) -> float:
    gap = abs(a - b)
    return min(gap, walk.length - gap) if walk.contour.closed else gap


def _turn_within(c: Contour, walk: Walk, turn: Floats) -> Floats:
    """How far the tangent turns (len,) within WITHIN_MM around each vertex, rad."""
    heading = np.cumsum(turn + np.concatenate([[0.0], 4 * np.arctan(c.bulges)[:-1]]))
    sweep = 4 * np.arctan(c.bulges)
    half = WITHIN_MM / 2

    def headed(s: Floats) -> Floats:
        rounds = np.floor(s / walk.length) if c.closed else np.zeros(len(s))
        s = s - rounds * walk.length
        s = np.clip(s, 0.0, walk.length)
        k = np.clip(np.searchsorted(walk.stops, s, side="right") - 1, 0, len(c) - 1)
        long = walk.stops[k + 1] - walk.stops[k]
        whole = float(turn.sum() + sweep.sum())
        return heading[k] + sweep[k] * (s - walk.stops[k]) / np.where(long > 0, long, 1.0) + rounds * whole

    at = walk.stops[:-1]
    return headed(at + half) - headed(at - half)


def _turn_between(walk: Walk, s: float) -> float:
    """The turn at s between the parabolas that fit BESIDE_MM before and after it best, rad."""
    u = np.linspace(0.0, BESIDE_MM, 25)
    if not walk.contour.closed:
        if s < BESIDE_MM / 4 or s > walk.length - BESIDE_MM / 4:
            return 0.0
        before, after = u[u <= s], u[u <= walk.length - s]
    else:
        before = after = u[u <= walk.length / 2]
    back = np.polyfit(-before, walk.at(s - before)[0], 2)[1]
    ahead = np.polyfit(after, walk.at(s + after)[0], 2)[1]
    return math.atan2(back[0] * ahead[1] - back[1] * ahead[0], back[0] * ahead[0] + back[1] * ahead[1])


# -- the filter ----------------------------------------------------------------------------------
def sampled(c: Contour) -> tuple[Floats, float]:
    """Points (m, 2) along a contour and their even spacing in mm; an open one has both its ends among them."""
    walk = Walk.of(c)
    n = int(np.clip(math.ceil(walk.length / SPACING_MM), LEAST, POINTS))
    s = np.arange(n) * walk.length / n if c.closed else np.linspace(0.0, walk.length, n + 1)
    points = walk.at(s)[0]
    if not c.closed:
        points[0], points[-1] = c.xy[0], c.xy[-1]
    return points, walk.length / n


def calmed(points: Floats, spacing_mm: float, closed: bool, bound_mm: float) -> Floats:
    """The points without their wobble, none moved by more than ``bound_mm``; ends of an open line stay."""
    calm = points
    for cut in CUTS_MM:
        if cut < 4 * spacing_mm or (not closed and len(points) * spacing_mm < 1.5 * cut):
            continue
        tried = _filtered(points, spacing_mm, closed, cut)
        near = np.hypot(*(tried - points).T) <= bound_mm
        calm = calm + _share(near, cut / spacing_mm, closed)[:, None] * (tried - calm)
    return calm


def _filtered(points: Floats, spacing: float, closed: bool, cut: float) -> Floats:
    if closed:
        return _passed(points, spacing, cut)
    # Turned half round about its ends the line goes on smoothly, and the filter keeps them in place.
    t = np.linspace(0.0, 1.0, len(points))[:, None]
    chord = points[:1] + (points[-1:] - points[:1]) * t
    w = points - chord
    twice = np.concatenate([w, -w[-2:0:-1]])
    return chord + _passed(twice, spacing, cut)[: len(points)]


def _passed(points: Floats, spacing: float, cut: float) -> Floats:
    waves = np.fft.rfft(points, axis=0)
    per_mm = np.fft.rfftfreq(len(points), spacing)
    passed: Floats = np.fft.irfft(waves / (1 + (cut * per_mm[:, None]) ** ORDER), n=len(points), axis=0)
    return passed


def _share(near: Bools, width: float, closed: bool) -> Floats:
    """1 where all points within ``width`` / 2 are near, falling to 0 smoothly beside those that are not."""
    if near.all():
        return np.ones(len(near))
    half = max(1, int(width / 2))
    half = min(half, len(near) // 4)
    box = np.ones(2 * half + 1)
    wide = np.pad(~near, 2 * half, mode="wrap" if closed else "edge").astype(np.float64)
    bad = np.convolve(wide, box, mode="valid") > 0.5
    share = np.convolve(1.0 - bad, box / len(box), mode="valid")
    smooth: Floats = share * share * (3 - 2 * share)
    return smooth
