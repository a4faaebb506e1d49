"""Smooth parametric pieces followed by fine biarcs: two arcs that share a tangent where they meet.

All pieces are halved together, level by level, until every biarc lies within ``CURVE_MM`` of its part
of the curve. A biarc takes the curve's end points and end tangents; of the family that does, the one
with equal tangent lengths is taken (Bolton, "Biarc curves", Computer-Aided Design 7 (1975), from
memory). Its error falls with the cube of the length (outside_checks.md B8).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.contour import Bools, Floats

CURVE_MM = 5e-5
"""Largest distance between a mathematical curve and the chain of arcs that stands for it."""

INSIDE = np.arange(1, 8) / 8.0
"""Where each biarc is measured between its ends; the middle one is where it is halved."""
MIDDLE = 3
LEVELS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """m parametric pieces, each on t in 0…1, with its ends as the chain shall have them.

    ``coefficients`` (m, 4, 2): of 1, t, t², t³ for a cubic, of 1, cos u, sin u for an ellipse, where
    u = ``angles``[:, 0] + t · ``angles``[:, 1] (radians); ``round`` (m,) tells the two apart.
    ``ends`` (m, 2, 2) mm and ``tangents`` (m, 2, 2), unit vectors: start and end.
    """

    coefficients: Floats
    angles: Floats
    round: Bools
    ends: Floats
    tangents: Floats

    def at(self, k: NDArray[np.int64], t: Floats) -> tuple[Floats, Floats]:
        """Points and derivatives, each (n, s, 2), of pieces k (n,) at t (n, s)."""
        zero, one = np.zeros_like(t), np.ones_like(t)
        base = np.stack([one, t, t * t, t * t * t], axis=-1)
        slope = np.stack([zero, one, 2 * t, 3 * t * t], axis=-1)
        is_round = self.round[k]
        if is_round.any():
            turn = self.angles[k, 1:][is_round]
            u = self.angles[k, :1][is_round] + turn * t[is_round]
            c, s, z = np.cos(u), np.sin(u), zero[is_round]
            base[is_round] = np.stack([one[is_round], c, s, z], axis=-1)
            slope[is_round] = np.stack([z, -s * turn, c * turn, z], axis=-1)
        coefficients = self.coefficients[k]
        return base @ coefficients, slope @ coefficients


class Smooth(Protocol):
    """m smooth pieces of any formula, as `Pieces` are of cubics and ellipses."""

    @property
    def ends(self) -> Floats: ...
    @property
    def tangents(self) -> Floats: ...
    def at(self, k: NDArray[np.int64], t: Floats) -> tuple[Floats, Floats]: ...


def followed(pieces: Smooth) -> list[tuple[Floats, Floats]]:
    """For each piece the vertices (2 n, 2) and bulges (2 n,) of its n biarcs; its end is left out.

    Raises ValueError where a curve can't be followed.
    """
    k = np.arange(len(pieces.ends))
    t = np.stack([np.zeros(len(k)), np.ones(len(k))], axis=1)
    ends, tangents = pieces.ends, pieces.tangents
    done: list[tuple[NDArray[np.int64], Floats, Floats, Floats]] = []
    for _ in range(LEVELS):
        if not len(k):
            break
        inner = t[:, :1] + (t[:, 1:] - t[:, :1]) * INSIDE
        points, slopes = pieces.at(k, inner)
        joint, bulges, error = _measured(ends, tangents, points)
        chord = ends[:, 1] - ends[:, 0]
        onward = (np.einsum("nsx,nx->ns", slopes, chord) > 0).all(axis=1)
        onward &= (np.einsum("nsx,nx->ns", tangents, chord) > 0).all(axis=1)
        good = onward & (error <= 0.9 * CURVE_MM)
        # Hooks smaller than what is promised are not followed round, but crossed.
        extent = np.abs(np.concatenate([points - ends[:, :1], chord[:, None]], axis=1)).max(axis=(1, 2))
        tiny = ~good & (extent <= CURVE_MM / 4)
        joint[tiny], bulges[tiny] = ends[tiny].mean(axis=1), 0.0
        good |= tiny
        done.append((k[good], t[good, 0], np.stack([ends[good, 0], joint[good]], axis=1), bulges[good]))
        bad = ~good
        middle, slope = points[bad, MIDDLE], slopes[bad, MIDDLE]
        speed = np.hypot(slope[:, 0], slope[:, 1])
        slope = slope / np.where(speed > 0, speed, 1.0)[:, None]
        k = np.repeat(k[bad], 2)
        t = _halves(t[bad], inner[bad, MIDDLE])
        ends, tangents = _halves(ends[bad], middle), _halves(tangents[bad], slope)
    if len(k):
        x, y = ends[0, 0]
        raise ValueError(f"a curve turns too sharply to be followed near ({x:.3f}, {y:.3f})")
    owner = np.concatenate([d[0] for d in done])
    order = np.lexsort([np.concatenate([d[1] for d in done]), owner])
    xy = np.concatenate([d[2] for d in done])[order].reshape(-1, 2)
    bulge = np.concatenate([d[3] for d in done])[order].reshape(-1)
    cuts = 2 * np.searchsorted(owner[order], np.arange(1, len(pieces.ends)))
    return list(zip(np.split(xy, cuts), np.split(bulge, cuts), strict=True))


def _halves(pair: Floats, middle: Floats) -> Floats:
    """(n, 2, …) start and end, split at ``middle`` (n, …): (2 n, 2, …)."""
    halves: Floats = np.stack([pair[:, 0], middle, middle, pair[:, 1]], axis=1)
    return halves.reshape(-1, 2, *pair.shape[2:])


def _measured(ends: Floats, tangents: Floats, points: Floats) -> tuple[Floats, Floats, Floats]:
    """The biarcs between ``ends`` (n, 2, 2) with ``tangents``: joints (n, 2), bulges (n, 2), and the
    largest distance (n,) of ``points`` (n, s, 2) from them. A biarc that can't be is infinitely far."""
    p, q, tp, tq = ends[:, 0], ends[:, 1], tangents[:, 0], tangents[:, 1]
    v = q - p
    vv, along = _dot(v, v), _dot(v, tp + tq)
    root = along + np.sqrt(along * along + 2 * (1 - _dot(tp, tq)) * vv)
    possible = (vv > 0) & (root > 1e-9 * np.sqrt(vv))
    reach = np.where(possible, vv / np.where(possible, root, 1.0), 0.0)[:, None]
    a, b = p + reach * tp, q - reach * tq
    joint = (a + b) / 2
    bulges = np.stack([_bulge(joint - p, tp), -_bulge(joint - q, -tq)], axis=1)
    late = _dot(points - joint[:, None], (b - a)[:, None]) > 0
    base = np.where(late[..., None], q[:, None], p[:, None])
    tangent = np.where(late[..., None], tq[:, None], tp[:, None])
    chord = np.sqrt(np.stack([_dot(joint - p, joint - p), _dot(q - joint, q - joint)], axis=1))
    possible &= (chord > 0).all(axis=1)
    curvature = 4 * bulges / ((1 + bulges * bulges) * np.where(chord > 0, chord, 1.0))
    bend = np.where(late, curvature[:, 1:], curvature[:, :1])
    far = np.abs(circle_distance(points - base, tangent, bend)).max(axis=1)
    return joint, bulges, np.where(possible, far, np.inf)


def biarcs(ends: Floats, tangents: Floats) -> tuple[Floats, Floats]:
    """The biarcs between ``ends`` (n, 2, 2) with unit ``tangents`` (n, 2, 2): joints (n, 2), bulges (n, 2)."""
    joint, bulges, _ = _measured(ends, tangents, ends[:, :1])
    return joint, bulges


def along(p: Floats, q: Floats, bulge: Floats, fraction: Floats) -> tuple[Floats, Floats]:
    """Points and unit tangents, each (n, 2), at ``fraction`` (n,) of the sweep of lines and arcs p→q."""
    d = q - p
    sweep = 4 * np.arctan(bulge)
    straight = np.abs(sweep) < 1e-9
    share = np.sin(fraction * sweep / 2) / np.where(straight, 1.0, np.sin(sweep / 2))
    share = np.where(straight, fraction, share)
    points = p + share[:, None] * _turned(d, (fraction - 1) * sweep / 2)
    tangents = _turned(d, (fraction - 0.5) * sweep) / np.hypot(d[:, 0], d[:, 1])[:, None]
    return points, tangents


def circle_distance(w: Floats, tangent: Floats, curvature: Floats) -> Floats:
    """Signed distance from a circle (or line) through the origin, of points w (…, 2); left is negative.

    With unit ``tangent`` (…, 2) there and signed ``curvature`` (…,), left positive; written so that it
    stays exact as the curvature goes to 0: with g = κ|w|²/2 − n·w, distance = 2g / (1 + √(1 + 2κg)).
    """
    left = tangent[..., 0] * w[..., 1] - tangent[..., 1] * w[..., 0]
    g = curvature * _dot(w, w) / 2 - left
    far: Floats = 2 * g / (1 + np.sqrt(np.maximum(1 + 2 * curvature * g, 0.0)))
    return far


def _bulge(chord: Floats, tangent: Floats) -> Floats:
    """Bulge of the arc that leaves with ``tangent`` and spans ``chord``, (n,): tan of half the angle."""
    cross = tangent[:, 0] * chord[:, 1] - tangent[:, 1] * chord[:, 0]
    across = np.hypot(chord[:, 0], chord[:, 1]) + _dot(tangent, chord)
    return np.where(across > 0, cross / np.where(across > 0, across, 1.0), 0.0)


def _dot(a: Floats, b: Floats) -> Floats:
    dot: Floats = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return dot


def _turned(v: Floats, angle: Floats) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([v[:, 0] * c - v[:, 1] * s, v[:, 0] * s + v[:, 1] * c], axis=1)
