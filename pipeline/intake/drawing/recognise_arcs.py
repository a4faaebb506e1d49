"""Single cubics that stand for circular arcs, and neighbouring arcs that are one."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.curves import CURVE_MM, SMOOTH_DEG
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, Subpath

ARC_MM = 0.0025
"""How far a line may move when a cubic or a run of arcs becomes one arc: half the usual tolerance."""
SHORTEST = 0.55178 / 0.5522847498
"""The handles in use for a quarter circle run from the one that keeps the area (0.55178) through the one of least
error (0.551915, B2) to the one of B1 (0.552285)."""
TYPED = 4e-5
"""Of the handle: what a constant typed with four decimals (0.5523) is too long."""
HANDLE = 2.0
"""Steps of rounding by which a handle may be off against its anchor and its circle."""
VAGUE = 0.01
"""Of its length: a handle that rounding may have changed by more tells of no arc. The same of radii; rad."""
SAME = 1e-6
"""Arcs that were drawn as arcs are one only when their radii are the same but for this share."""
LARGEST_MM = 2000.0
"""Cubics for larger arcs stay curves: a bulge tells little of them."""
FLATTEST, LONGEST = math.radians(10), math.radians(340)
"""Cubics for smaller arcs than the first stay curves: every short piece of a free curve is nearly an arc, and
`fit.py` makes few arcs of many only where they are free. No arc is merged to more than the second."""
ALIKE = 0.1
"""Handles whose lengths differ by more than this share are no arc's, however they are rounded."""

_T = np.linspace(0, 1, 33)
_WEIGHTS = np.stack([(1 - _T) ** 3, 3 * (1 - _T) ** 2 * _T, 3 * (1 - _T) * _T**2, _T**3])

PEAKS = 0.99
"""Of a largest distance: what the points of _T find of it, at least."""

Points = np.typing.NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class _Piece:
    """A segment as it is now, and as it was drawn."""

    now: Segment
    drawn: tuple[Segment, ...]


def with_arcs(path: Subpath, rounded_mm: float, within_mm: float) -> Subpath:
    """``path`` with arcs instead of cubics that stand for arcs, and one arc instead of a run on one circle.

    ``path`` itself where there is nothing of the kind. See ``recognise.recognised``.
    """
    pieces = [_Piece(s, (s,)) for s in path.segments]
    likely = [(k, s) for k, s in enumerate(path.segments) if isinstance(s, Cubic) and alike(s)]
    if likely:
        where = [k for k, _ in likely]
        arcs = _arcs(control(s for _, s in likely), rounded_mm, within_mm)
        for k, bow in zip(where, arcs, strict=True):
            if bow is not None:
                pieces[k] = replace(pieces[k], now=bow)
        if any(arcs):
            _keep_smooth(pieces, path.closed)
    if path.closed and _one(pieces[-1], pieces[0], within_mm):
        # Begin where no run goes on, so that none is cut in two.
        ends = (k for k, (a, b) in enumerate(pairwise(pieces), 1) if not _one(a, b, within_mm))
        start = next(ends, 0)
        pieces = pieces[start:] + pieces[:start]
    pieces = _merged(pieces, path.closed, within_mm)
    if len(pieces) == len(path.segments) and not any(map(_is_new, pieces)):
        return path
    return Subpath(tuple(p.now for p in pieces), path.closed)


def control(cubics: Iterable[Cubic]) -> Points:
    """Control points (n, 4)."""
    return np.array([(s.p, s.c1, s.c2, s.q) for s in cubics])


def alike(s: Cubic) -> bool:
    """Are both handles about equally long, as for every circular arc?"""
    one, other = abs(s.c1 - s.p), abs(s.q - s.c2)
    return abs(one - other) <= ALIKE * max(one, other)


def along(s: Cubic | Bow) -> Points:
    """Points (33,) of a segment, both ends among them."""
    if isinstance(s, Cubic):
        return np.asarray(np.array([s.p, s.c1, s.c2, s.q]) @ _WEIGHTS, dtype=np.complex128)
    turn = s.start + s.sweep * _T
    points = np.asarray(s.centre + s.u * np.cos(turn) + s.v * np.sin(turn), dtype=np.complex128)
    points[0], points[-1] = s.p, s.q
    return points


def agree(points: Points, leaves: Points, arrives: Points, handle: Floats, slack: Floats) -> Bools:
    """Which cubics (n, 4) have handles along their unit tangents (n,) and as long as they are written for arcs."""
    ok = np.ones(len(points), dtype=np.bool_)
    for h in ((points[:, 1] - points[:, 0]) * leaves.conj(), (points[:, 3] - points[:, 2]) * arrives.conj()):
        ok &= np.abs(h.imag) <= slack
        ok &= (h.real <= handle * (1 + TYPED) + slack) & (h.real >= handle * SHORTEST - slack)
    return ok


def _is_new(piece: _Piece) -> bool:
    return piece.now is not piece.drawn[0]


def _arcs(points: Points, rounded_mm: float, within_mm: float) -> list[Bow | None]:
    """For each cubic (n, 4) the arc between its ends that it stands for, with the mean of its end tangents."""
    found: list[Bow | None] = [None] * len(points)
    chord = points[:, 3] - points[:, 0]
    leaves, arrives = points[:, 1] - points[:, 0], points[:, 3] - points[:, 2]
    phi = np.angle(chord * leaves.conj()) + np.angle(arrives * chord.conj())
    fits = (np.abs(phi) >= FLATTEST) & (np.abs(phi) <= math.pi)
    fits &= (chord != 0) & (leaves != 0) & (arrives != 0)
    index = np.flatnonzero(fits)
    if not len(index):
        return found
    points, chord, phi = points[index], chord[index], phi[index]
    size, half = np.abs(chord), np.abs(phi) / 2
    r = size / (2 * np.sin(half))
    handle = r * 4 / 3 * np.tan(half / 2)
    slack = np.minimum(HANDLE * rounded_mm, VAGUE * handle)
    way = chord / size
    ok = (r <= LARGEST_MM) & (size * np.tan(half / 2) / 2 >= 10 * slack)  # it bows out of its rounding
    ok &= agree(points, way * np.exp(-0.5j * phi), way * np.exp(0.5j * phi), handle, slack)
    for k in np.flatnonzero(ok).tolist():
        bow = _bow(complex(points[k, 0]), complex(points[k, 3]), math.tan(float(phi[k]) / 4))
        if np.abs(np.abs(points[k] @ _WEIGHTS - bow.centre) - r[k]).max() <= PEAKS * within_mm:
            found[int(index[k])] = bow
    return found


def _bow(p: complex, q: complex, bulge: float) -> Bow:
    """The circular arc from p to q (y up; a positive bulge runs anticlockwise)."""
    centre = (p + q) / 2 + 1j * (q - p) * (1 - bulge * bulge) / (4 * bulge)
    u = p - centre
    return Bow(p, q, centre, u, u * 1j, 0.0, 4 * math.atan(bulge))


def _keep_smooth(pieces: list[_Piece], closed: bool) -> None:
    """Give back, in place, the arcs that would break a tangent which was smooth."""
    again = True
    while again:
        again = False
        for k in range(0 if closed else 1, len(pieces)):
            if _breaks(pieces[k - 1], pieces[k]):
                for j in (k - 1, k):
                    again |= _is_new(pieces[j])
                    pieces[j] = replace(pieces[j], now=pieces[j].drawn[0])


def _breaks(a: _Piece, b: _Piece) -> bool:
    """Is a joint that was smooth no longer so, or a corner sharper by more than SMOOTH_DEG?"""
    limit, drawn = math.radians(SMOOTH_DEG), _turn(a.drawn[-1], b.drawn[0])
    return _turn(a.now, b.now) > (max(0.9 * limit, drawn + 1e-9) if drawn <= limit else drawn + limit)


def _turn(a: Segment, b: Segment) -> float:
    """Angle between the end of one segment and the start of the next, rad."""
    back, leaves = _leaves(a.reversed()), _leaves(b)
    return abs(cmath.phase(-leaves / back)) if back and leaves else 0.0


def _leaves(s: Segment) -> complex:
    """A vector along which a segment starts."""
    if isinstance(s, Line):
        return s.q - s.p
    if isinstance(s, Cubic):
        return next((z - s.p for z in (s.c1, s.c2) if z != s.p), s.q - s.p)
    return (s.v * math.cos(s.start) - s.u * math.sin(s.start)) * math.copysign(1.0, s.sweep)


def _merged(pieces: list[_Piece], closed: bool, within_mm: float) -> list[_Piece]:
    """Neighbouring arcs of one circle as one arc."""
    done: list[_Piece] = []
    for k, piece in enumerate(pieces):
        one = _one(done[-1], piece, within_mm) if done else None
        if one is not None:
            before = done[-2] if len(done) > 1 else (pieces[-1] if closed else None)
            after = pieces[k + 1] if k + 1 < len(pieces) else (done[0] if closed else None)
            if not (before and _breaks(before, one)) and not (after and _breaks(one, after)):
                done[-1] = one
                continue
        done.append(piece)
    return done


def _one(a: _Piece, b: _Piece, within_mm: float) -> _Piece | None:
    """Two arcs as one with the same ends, as near as can be to the anchors between them."""
    if not (isinstance(a.now, Bow) and isinstance(b.now, Bow)):
        return None
    sweep, r = abs(a.now.sweep) + abs(b.now.sweep), abs(a.now.u)
    same = VAGUE if _is_new(a) or _is_new(b) else SAME
    if a.now.bulge * b.now.bulge <= 0 or sweep > LONGEST or abs(abs(b.now.u) - r) > same * r:
        return None
    if max(a.now.roundness, b.now.roundness) > CURVE_MM or _turn(a.now, b.now) > math.radians(SMOOTH_DEG):
        return None
    drawn = (*a.drawn, *b.drawn)
    p, q = a.now.p, b.now.q
    if abs(q - p) <= CURVE_MM:
        return None
    z = (np.array([s.p for s in drawn[1:]]) - (p + q) / 2) / ((q - p) / 2)
    # Circles through −1 and 1 with their centre at i m: x² + y² − 1 = 2 y m; their tips are at i (m ± √(1 + m²)).
    m = float((z.imag * (np.abs(z) ** 2 - 1)).sum() / (2 * (z.imag**2).sum()))
    sign = math.copysign(1.0, a.now.bulge)
    bow = _bow(p, q, math.hypot(1.0, m) * sign - m)
    if abs(bow.sweep * sign - sweep) > VAGUE:
        return None
    off = (
        float(np.abs(np.abs(along(s) - bow.centre) - abs(bow.u)).max()) for s in drawn if not isinstance(s, Line)
    )
    return _Piece(bow, drawn) if max(off) <= PEAKS * within_mm else None
