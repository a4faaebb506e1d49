"""Chains of arcs fitted to points by least squares.

Bending an arc by δκ over du turns all that follows about the point there, so a point P(s) with tangent T(s)
moves sideways by T · (P(s) − P(u)) δκ du; moving a joint by δσ does the same with the difference of the two
curvatures. With these slopes the squares are made least (Levenberg and Marquardt's damping), while the
ends, or the closing of a loop, are kept as conditions (Lagrange's multipliers).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pipeline.geometry.arcspline import ArcSpline, Laid, laid_out
from pipeline.geometry.contour import Floats

SHORTEST_MM = 0.5
"""No arc of a fitted chain gets shorter than this while it is fitted."""
CLOSED_MM = 1e-10
"""How well a finished chain closes or ends where it must; while it is sought ROUGH_MM will do."""
ROUGH_MM = 1e-4
ROUNDS = 12
ENOUGH = 1e-3
"""The search stops when a round gains less than this share."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A chain, the arc lengths (m,) of the points it was fitted to, and their signed distances (m,) mm."""

    chain: ArcSpline
    s: Floats
    off: Floats

    @property
    def worst(self) -> float:
        return float(np.abs(self.off).max())

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.mean(self.off**2)))


def measured(c: ArcSpline, points: Floats, s: Floats) -> Fit:
    """Distances of points (m, 2) from the chain, found from guesses s (m,) of where they are nearest."""
    laid = laid_out(c)
    for _ in range(3):
        at, tangent, k = laid.points(s)
        w = points - at
        ahead = (w * tangent).sum(axis=1)
        left = tangent[:, 0] * w[:, 1] - tangent[:, 1] * w[:, 0]
        s = s + np.clip(ahead / np.maximum(1 - laid.bend[k] * left, 0.3), -5.0, 5.0)
        s = s % c.length if c.loop else np.clip(s, 0.0, c.length)
    at, tangent, _ = laid.points(s)
    w = points - at
    left = tangent[:, 0] * w[:, 1] - tangent[:, 1] * w[:, 0]
    return Fit(chain=c, s=s, off=np.copysign(np.hypot(w[:, 0], w[:, 1]), left))


def refined(
    c: ArcSpline,
    points: Floats,
    s: Floats,
    end: Floats | None = None,
    rounds: int = ROUNDS,
    give_up_mm: float = math.inf,
) -> Fit | None:
    """The chain moved so that the sum of squared distances of ``points`` is least; ``end`` is where an
    open one must end (it keeps its start). None where no such chain is found. It closes within ROUGH_MM:
    `finished` closes it. The search ends after a round whose mean distance is over ``give_up_mm``."""
    closed = _closed(c, end, ROUGH_MM)
    if closed is None:
        return None
    best = measured(closed, points, s)
    damping = 1e-4
    for _ in range(rounds):
        step = _step(best, end, damping)
        moved = None if step is None else _closed(step, end, ROUGH_MM)
        trial = None if moved is None else measured(moved, points, best.s * (moved.length / best.chain.length))
        if trial is None or trial.rms > best.rms:
            damping *= 30
            if damping > 1e4:
                break
            continue
        gain = best.rms - trial.rms
        best, damping = trial, max(damping / 10, 1e-9)
        if gain <= ENOUGH * best.rms + 1e-10 or best.rms > give_up_mm:
            break
    return best


def finished(c: ArcSpline, points: Floats, s: Floats, end: Floats | None = None) -> Fit | None:
    """The chain fitted to ``points`` and closed exactly; None where that fails."""
    fine = refined(c, points, s, end)
    closed = None if fine is None else _closed(fine.chain, end, CLOSED_MM)
    return None if fine is None or closed is None else measured(closed, points, fine.s)


def _slopes(c: ArcSpline, s: Floats) -> tuple[Floats, Floats, Floats]:
    """Points, tangents (m, 2) at s, and how they move (m, 2, p) with (x, y, heading, curvatures, joints)."""
    laid = laid_out(c)
    at, tangent, _ = laid.points(s)
    begin, end = laid.stops[:-1], laid.stops[1:]
    within = np.clip(s[:, None] - begin, 0.0, end - begin)
    # ∫P du over what of each stretch lies before s, by Simpson's rule.
    flat = (begin + within).reshape(-1)
    half = (begin + within / 2).reshape(-1)
    shape = (*within.shape, 2)
    sums = laid.at[:-1] + 4 * laid.points(half)[0].reshape(shape) + _inner(laid, flat, within).reshape(shape)
    arm = within[..., None] * at[:, None] - within[..., None] * sums / 6
    bends = np.zeros((len(s), len(c.curvature), 2))
    for stretch, arc in enumerate(c.owner.tolist()):
        bends[:, arc] += arm[:, stretch]
    joints = np.where((s[:, None] > c.joints)[..., None], at[:, None] - laid.at[1:-1], 0.0)
    joints = joints * -np.diff(laid.bend)[:, None]
    arms = np.concatenate([(at - c.start)[:, None], bends, joints], axis=1)
    turned = np.stack([-arms[..., 1], arms[..., 0]], axis=1)
    shifts = np.broadcast_to(np.eye(2), (len(s), 2, 2))
    return at, tangent, np.concatenate([shifts, turned], axis=2)


def _inner(laid: Laid, s: Floats, within: Floats) -> Floats:
    """Points at s, each on its own stretch also where that ends."""
    k = np.tile(np.arange(within.shape[1]), within.shape[0])
    u = s - laid.stops[k]
    half = laid.bend[k] * u / 2
    chord, way = u * np.sinc(half / np.pi), laid.heading[k] + half
    return laid.at[k] + np.stack([chord * np.cos(way), chord * np.sin(way)], axis=1)


def _conditions(c: ArcSpline, end: Floats | None) -> tuple[Floats, Floats]:
    """Slopes (r, p + 1) of what must hold and what is still missing (r,); the last column is the length."""
    at, tangent, move = _slopes(c, np.array([c.length]))
    laid = laid_out(c)
    n, k = len(c.curvature), len(c.joints)
    rows = np.zeros((2, 3 + n + k + 1))
    rows[:, :-1], rows[:, -1] = move[0], tangent[0]
    if end is not None or not c.loop:
        goal = at[0] if end is None else end
        keep = np.zeros((2, rows.shape[1]))
        keep[0, 0] = keep[1, 1] = 1.0
        return np.vstack([rows, keep, _kept(c)]), np.concatenate(
            [goal - at[0], np.zeros(2 + int(c.straight.sum()))]
        )
    rows[0, 0] -= 1.0
    rows[1, 1] -= 1.0
    turn = np.zeros(rows.shape[1])
    np.add.at(turn, 3 + c.owner, np.diff(laid.stops))
    turn[3 + n : 3 + n + k] = -np.diff(laid.bend)
    turn[-1] = laid.bend[-1]
    total = float(laid.heading[-1] - laid.heading[0])
    missing = math.tau * round(total / math.tau) - total
    return (
        np.vstack([rows, turn, _kept(c)]),
        np.concatenate([c.start - at[0], [missing], np.zeros(int(c.straight.sum()))]),
    )


def _kept(c: ArcSpline) -> Floats:
    """Conditions that straight stretches stay straight."""
    rows = np.zeros((int(c.straight.sum()), 3 + len(c.curvature) + len(c.joints) + 1))
    rows[np.arange(len(rows)), 3 + np.flatnonzero(c.straight)] = 1.0
    return rows


def _step(fit: Fit, end: Floats | None, damping: float) -> ArcSpline | None:
    c = fit.chain
    _, tangent, move = _slopes(c, fit.s)
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    a = np.einsum("mx,mxp->mp", normal, move)
    a = np.concatenate([a, np.zeros((len(a), 1))], axis=1)
    rows, missing = _conditions(c, end)
    scale = np.sqrt((a * a).sum(axis=0))
    scale[scale < 1e-9 * scale.max()] = 1.0
    a, rows = a / scale, rows / scale
    p, r = a.shape[1], len(rows)
    system = np.zeros((p + r, p + r))
    system[:p, :p] = a.T @ a + damping * np.eye(p)
    system[:p, p:], system[p:, :p] = rows.T, rows
    try:
        solved = np.linalg.solve(system, np.concatenate([a.T @ fit.off, missing]))
    except np.linalg.LinAlgError:  # conditions that say the same twice
        return None
    return _moved(c, solved[:p] / scale)


def _moved(c: ArcSpline, step: Floats) -> ArcSpline | None:
    """The chain after a step, cut short where stretches would get too short."""
    n, k = len(c.curvature), len(c.joints)
    long = np.diff(c.stops)
    change = np.diff(np.concatenate([[0.0], step[3 + n : 3 + n + k], step[-1:]]))
    room = np.minimum(0.5 * long, np.maximum(long - SHORTEST_MM, 0.0))
    shrink = change < -room
    share = float(np.min(room[shrink] / -change[shrink])) if shrink.any() else 1.0
    if share < 0.01:
        return None
    step = step * share
    return replace(
        c,
        start=c.start + step[:2],
        heading=c.heading + float(step[2]),
        curvature=np.where(c.straight, 0.0, c.curvature + step[3 : 3 + n]),
        joints=c.joints + step[3 + n : 3 + n + k],
        length=c.length + float(step[-1]),
    )


def _closed(c: ArcSpline, end: Floats | None, within_mm: float) -> ArcSpline | None:
    """The chain made to close, or to end at ``end``, by the least change of it; None where that fails."""
    size = max(c.length, 1.0)
    for _ in range(20):
        rows, missing = _conditions(c, end)
        if float(np.abs(missing[:2]).max()) <= within_mm and float(np.abs(missing).max()) <= within_mm / 50:
            return c
        scale = np.concatenate([[1.0, 1.0], np.full(1, 1 / size), np.full(len(c.curvature), 1 / size**2)])
        scale = np.concatenate([scale, np.ones(len(c.joints) + 1)])
        least = np.linalg.lstsq(rows * scale, missing, rcond=None)[0] * scale
        moved = _moved(c, least)
        if moved is None:
            return None
        c = moved
    return None
