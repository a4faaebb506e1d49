"""Taking the wobble of a hand out of a drawn line without moving the shape (trade.md 1.6).

The drawn line is split at its corners, which stay. Each stretch is filtered once to see where its arcs
lie, and then as few tangent-continuous lines and arcs as will do are fitted to the *drawn* points by least
squares: fitting has no inside and outside, so nothing shrinks. The result is measured against the drawn
line both ways.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.geometry.arcfit import finished, refined
from pipeline.geometry.arcspline import ArcSpline, contour_of, spline_of
from pipeline.geometry.biarcs import biarcs
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.curves import SMOOTH_DEG
from pipeline.geometry.deviation import deviation
from pipeline.geometry.fewer import fewer
from pipeline.geometry.fit import fitted
from pipeline.geometry.region import Part, Region, region
from pipeline.geometry.wobble import breaks, calmed, corners, sampled

CORNER_DEG = 25.0
"""A turn of more than this within a millimetre is a corner (trade.md 1.6)."""
TRIES = (0.96, 0.8, 0.6, 0.4)
"""Shares of the bound that the fit may use: less when what lies between the points takes more."""

LEAST_MM = 1e-3
CALM = 1 / 20
"""A curve that moves by no more than this share of the bound has no wobble: it only needs fewer arcs."""
FITTED = 400
"""About so many of the points are fitted while joints are taken out; all are in the end."""


class SmoothFailed(ValueError):
    """No smooth line was found within the bound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothed:
    """The smooth region; how far the line moved at most and where; corners kept; sign changes of curvature and
    numbers of lines and arcs before and after."""

    region: Region
    worst_mm: float
    at_mm: tuple[float, float]
    corners: int
    bends: tuple[int, int]
    entities: tuple[int, int]


def smoothed(shape: Region, bound_mm: float, corner_deg: float = CORNER_DEG) -> Smoothed:
    """The region with smooth contours, none of which moved by more than ``bound_mm`` (both ways).

    Corners stay where they are, straight runs become lines. Raises SmoothFailed where no such line is
    found, ValueError when the bound is not more than 0.
    """
    if not bound_mm > 0:
        raise ValueError("the bound must be more than 0")
    if bound_mm < LEAST_MM:
        raise SmoothFailed(f"{bound_mm:g} mm is less than curves are kept to")
    kept = {id(c): corners(c, corner_deg) for c in shape.contours}
    for share in TRIES:
        made = region(
            Part(
                _contour(p.outer, kept[id(p.outer)], share * bound_mm),
                tuple(_contour(h, kept[id(h)], share * bound_mm) for h in p.holes),
            )
            for p in shape
        )
        worst = deviation(shape, made)
        if worst.worst_mm <= bound_mm and made.polygon.is_valid:
            return Smoothed(
                region=made,
                worst_mm=worst.worst_mm,
                at_mm=worst.at_mm,
                corners=sum(len(k) for k in kept.values()),
                bends=(bends(shape), bends(made)),
                entities=(sum(len(c) for c in shape.contours), sum(len(c) for c in made.contours)),
            )
    raise SmoothFailed(f"no smooth line lies within {bound_mm:g} mm of the drawn one")


def bends(shape: Region) -> int:
    """How often the curvature of the contours changes its sign, corners included."""
    count = 0
    for c in shape.contours:
        turn = np.stack([breaks(c), 4 * np.arctan(c.bulges)], axis=1).reshape(-1)
        sign = np.sign(turn[np.abs(turn) > 1e-6])
        count += int(np.count_nonzero(sign != np.roll(sign, 1)))
    return count


def _contour(c: Contour, kept: list[int], bound: float) -> Contour:
    if _is_plain(c, kept):
        return c
    if not kept:
        return _stretch(c, bound)
    c = c.rolled(kept[0])
    edges = [k - kept[0] for k in kept] + [len(c)]
    parts = [_stretch(_part(c, a, b), bound) for a, b in pairwise(edges)]
    xy = np.concatenate([p.xy[:-1] for p in parts])
    bulge = np.concatenate([p.bulge[:-1] for p in parts])
    return Contour(xy, bulge, np.concatenate([p.free[:-1] for p in parts]), True)


def _part(c: Contour, first: int, last: int) -> Contour:
    """Segments first … last − 1 of a closed contour as an open one."""
    k = np.arange(first, last)
    xy = np.vstack([c.starts[k], c.ends[k[-1:]]])
    return Contour(xy, np.append(c.bulge[k], 0.0), np.append(c.free[k], False), False)


def _is_plain(c: Contour, kept: list[int]) -> bool:
    """Is it lines and arcs that meet smoothly or at corners, so that there is nothing to smooth?"""
    return not _is_rough(c, kept) and not c.free[: len(c)].any()


def _is_rough(c: Contour, kept: list[int]) -> bool:
    """Does it break at other vertices than those?"""
    rough = np.abs(breaks(c)) > math.radians(SMOOTH_DEG)
    rough[kept] = False
    return bool(rough.any())


def _rms(off: Floats) -> float:
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1))))


def _stretch(c: Contour, bound: float) -> Contour:
    """One loop, or one line between corners, in few lines and arcs that meet smoothly."""
    if _is_plain(c, []):
        return c
    points, spacing = sampled(c)
    calm = calmed(points, spacing, c.closed, 0.8 * bound)
    if c.free[: len(c)].all() and _rms(points - calm) <= CALM * bound and not _is_rough(c, []):
        return fitted(c, bound)
    first = fitted(_chain(calm, c.closed), max(bound / 8, 1e-3))
    spline = spline_of(first)
    end = None if c.closed else points[-1]
    s = _places(calm, spline)
    step = max(1, len(points) // FITTED)
    fit = refined(spline, points[::step], s[::step], end)
    if fit is None or fit.worst > bound:
        return first
    fit = fewer(fit, points[::step], bound, end)
    whole = finished(fit.chain, points, _places(calm, fit.chain), end)
    return first if whole is None else contour_of(whole.chain, end)


def _places(calm: Floats, spline: ArcSpline) -> Floats:
    """Arc lengths (m,) of the spline at which the calm points (m, 2) lie, about."""
    if not spline.loop:
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(calm, axis=0).T))])
        along: Floats = s * (spline.length / s[-1])
        return along
    long = np.hypot(*(np.roll(calm, -1, axis=0) - calm).T)
    s = np.concatenate([[0.0], np.cumsum(long)[:-1]])
    begin = s[int(np.argmin(np.hypot(*(calm - spline.start).T)))]
    around: Floats = ((s - begin) * (spline.length / float(long.sum()))) % spline.length
    return around


def _chain(calm: Floats, closed: bool) -> Contour:
    """The curve through points as biarcs, with the tangents of parabolas through three of the points each."""
    if closed:
        ends = np.vstack([calm, calm[:1]])
        slope = np.roll(calm, -1, axis=0) - np.roll(calm, 1, axis=0)
        slope = np.vstack([slope, slope[:1]])
    else:
        ends = calm
        slope = np.empty_like(calm)
        slope[1:-1] = calm[2:] - calm[:-2]
        slope[0] = -3 * calm[0] + 4 * calm[1] - calm[2]
        slope[-1] = 3 * calm[-1] - 4 * calm[-2] + calm[-3]
    tangent = slope / np.hypot(*slope.T)[:, None]
    joint, bulge = biarcs(np.stack([ends[:-1], ends[1:]], axis=1), np.stack([tangent[:-1], tangent[1:]], axis=1))
    xy = np.stack([ends[:-1], joint], axis=1).reshape(-1, 2)
    bulges = bulge.reshape(-1)
    if not closed:
        xy, bulges = np.vstack([xy, ends[-1:]]), np.append(bulges, 0.0)
    return Contour(xy, bulges, np.ones(len(xy), dtype=np.bool_), closed)
