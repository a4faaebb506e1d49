"""As few arcs as will do: joints of a fitted chain are taken out one by one while it stays near its points."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pipeline.geometry.arcfit import Fit, refined
from pipeline.geometry.arcspline import ArcSpline
from pipeline.geometry.contour import Floats

STRAIGHT_MM = 30.0
"""A stretch at least this long becomes a line where it nearly is one (trade.md 1.6)."""
STRAIGHT_OFF_MM = 0.1
"""That is where its arc stands out from its chord by at most this (trade.md 1.6), and half of what the line may
move. A parabola lies 0.73 times its height from its chord in the root mean square."""
WORSE = 1.1
"""The root mean square distance may grow by this factor when a joint goes (common practice, no source)."""
CHEAP = 0.1
"""Joints that seem to cost less than this share of the bound are taken out together."""
MOST = 80
"""A chain with more joints follows its points at every turn: there is nothing to gain by looking at each."""
FAR = 1.5
"""Joints that seem to cost more than this many bounds are not tried."""
SHARE = 1 / 8
"""… or up to this share of what the line may move (common practice, no source)."""


def fewer(fit: Fit, points: Floats, bound_mm: float, end: Floats | None) -> Fit:
    """The fit with as few arcs as keep every point within ``bound_mm`` and the mean distance nearly as small."""
    allowed = max(WORSE * fit.rms, SHARE * bound_mm)

    def good(tried: Fit | None) -> bool:
        return tried is not None and tried.worst <= bound_mm and tried.rms <= allowed

    fit = _many_at_once(fit, points, bound_mm, end, good)
    if len(fit.chain.joints) > MOST:
        return fit
    hopeless = np.zeros(len(fit.chain.joints), dtype=np.bool_)
    while True:
        cost = np.where(hopeless, np.inf, _costs(fit.chain))
        if not len(cost) or float(cost.min()) > FAR * bound_mm:
            break
        k = int(np.argmin(cost))
        tried = refined(merged(fit.chain, k), points, fit.s, end, rounds=4, give_up_mm=2 * allowed)
        if tried is not None and good(tried):
            if len(tried.chain.joints) == len(cost) - 1:  # those beside it may go now
                hopeless[[k - 1, (k + 1) % len(cost)]] = False
                hopeless = np.delete(hopeless, k)
            else:
                hopeless = np.zeros(0, dtype=np.bool_)
            fit = tried
        else:
            hopeless[k] = True
    return _straightened(fit, points, bound_mm, end)


def _many_at_once(
    fit: Fit, points: Floats, bound_mm: float, end: Floats | None, good: Callable[[Fit | None], bool]
) -> Fit:
    """Without the joints that cost next to nothing, taken out together; fewer of them when that is too much."""
    share = 1.0
    while share > 0.2:
        cost = _costs(fit.chain)
        cheap = [k for k in np.argsort(cost, kind="stable").tolist() if cost[k] <= CHEAP * bound_mm]
        chosen: list[int] = []
        for k in cheap[: max(1, int(share * len(cheap)))]:
            if not {(k - 1) % len(cost), (k + 1) % len(cost)} & set(chosen):
                chosen.append(k)
        if len(chosen) < 3 or len(cost) - len(chosen) < 4:
            break
        c = fit.chain
        for k in sorted(chosen, reverse=True):
            c = merged(c, k)
        tried = refined(c, points, fit.s, end, rounds=4)
        if tried is not None and good(tried):
            fit = tried
        else:
            share /= 2
    return fit


def _costs(c: ArcSpline) -> Floats:
    """About how far (n,) the chain must move to do without each joint: two arcs of lengths a and b whose
    curvatures differ by κ stand κ · (ab / (a + b))² / 8 or so off the one arc in their place."""
    long = np.diff(c.stops)
    if c.loop:
        long = np.concatenate([[long[0] + long[-1]], long[1:-1], [long[0] + long[-1]]])
    a, b = long[:-1], long[1:]
    cost: Floats = np.abs(np.diff(c.curvature[c.owner])) * (a * b / (a + b)) ** 2 / 8
    return cost


def merged(c: ArcSpline, k: int) -> ArcSpline:
    """The chain without joint k: one arc of the mean curvature in place of the two beside it."""
    n = len(c.curvature)
    if c.loop and n <= 2:
        whole = np.array([float(np.sum(c.curvature[c.owner] * np.diff(c.stops))) / c.length])
        return replace(c, curvature=whole, joints=np.empty(0), straight=np.zeros(1, dtype=np.bool_))
    a, b = k, (k + 1) % n
    long = np.zeros(n)
    np.add.at(long, c.owner, np.diff(c.stops))
    curvature, straight = c.curvature.copy(), c.straight.copy()
    mean = (curvature[a] * long[a] + curvature[b] * long[b]) / (long[a] + long[b])
    both = bool(straight[a] and straight[b])
    # Arc 0 of a loop holds its start, so it is the one that stays.
    stay, go = (b, a) if b == 0 else (a, b)
    curvature[stay], straight[stay] = 0.0 if both else mean, both
    return replace(
        c, curvature=np.delete(curvature, go), straight=np.delete(straight, go), joints=np.delete(c.joints, k)
    )


def _straightened(fit: Fit, points: Floats, bound_mm: float, end: Floats | None) -> Fit:
    """Long stretches whose arc stands out from its chord by little become lines."""
    off_mm = min(STRAIGHT_OFF_MM, bound_mm / 2)
    for i in range(len(fit.chain.curvature)):
        c = fit.chain
        long = float(np.sum(np.diff(c.stops)[c.owner == i]))
        sagitta = abs(float(c.curvature[i])) * long * long / 8
        if c.straight[i] or long < STRAIGHT_MM or sagitta > off_mm or (len(c.curvature) == 1 and c.loop):
            continue
        straight = c.straight.copy()
        straight[i] = True
        tried = refined(
            replace(c, straight=straight, curvature=np.where(straight, 0.0, c.curvature)), points, fit.s, end
        )
        if tried is not None and tried.worst <= bound_mm and tried.rms <= math.hypot(fit.rms, 0.75 * off_mm):
            fit = tried
    return fit
