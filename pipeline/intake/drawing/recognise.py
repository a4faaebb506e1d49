"""Curves that stand for circles and circular arcs, as programs write them that know only cubics.

A cubic with handles (4/3) tan(φ/4) · r runs beside an arc of the angle φ, up to 0.02725 % of r outside it
at φ = 90° (outside_checks.md B1, B4). Closed ones are one true circle, whatever its size; single ones become
arcs only where that moves the line very little (`recognise_arcs.py`). What merely looks round stays as drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.curves import CURVE_MM
from pipeline.intake.drawing.recognise_arcs import (
    ARC_MM,
    HANDLE,
    TYPED,
    Points,
    agree,
    alike,
    along,
    control,
    with_arcs,
)
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Subpath

BESIDE = 2.7253e-4
"""How far a quarter circle by a cubic lies beside the arc, of its radius, whichever handle is in use (B1)."""
COARSEST_MM = 0.0254
"""Coordinates rounded more coarsely than this (0.001 in) are judged as if they were rounded to it."""
COARSEST = 0.01
"""The same, of the radius."""
ANCHOR = 0.75
"""Steps of rounding by which an anchor may lie off its circle (√½, and a little)."""
WIDEST = math.radians(91)
"""One cubic of a circle sweeps at most a quarter turn."""
MOST_PIECES = 64
SAMPLE = 64
FINEST = 7
TENS = tuple(10.0**k for k in range(FINEST))


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A circle that was drawn in cubics: the line moved by at most ``moved_mm``."""

    centre: complex
    radius_mm: float
    moved_mm: float


def rounding(paths: Iterable[Subpath]) -> float:
    """The step to which the coordinates of curves are rounded, in their own unit; 0 where there are none.

    It is found from the first few dozen coordinates: the largest power of ten that divides them all, or six
    significant digits of the largest where none has more, as many programs write numbers.
    """
    places, digits, largest = 0, 0, 0.0
    for v in islice(_coordinates(paths), SAMPLE):
        size = abs(v)
        if size == 0:
            continue
        own = 0
        while own < FINEST and abs(size * TENS[own] - round(size * TENS[own])) > 1e-4:
            own += 1
        if own == FINEST:
            return 10.0**-FINEST
        places, largest = max(places, own), max(largest, size)
        digits = max(digits, own + math.floor(math.log10(size)) + 1)
    if not largest:
        return 0.0
    step = 10.0**-places
    return max(step, 10.0 ** (math.floor(math.log10(largest)) - 5)) if digits <= 6 else step


def _coordinates(paths: Iterable[Subpath]) -> Iterator[float]:
    for path in paths:
        for s in path.segments:
            if not isinstance(s, Line):
                for z in (s.c1, s.c2, s.q) if isinstance(s, Cubic) else (s.q,):
                    yield z.real
                    yield z.imag


def recognised(path: Subpath, rounded_mm: float, within_mm: float = ARC_MM) -> tuple[Subpath, Round | None]:
    """``path`` (mm) with arcs in place of the cubics that stand for them, and the circle of cubics that it was.

    ``rounded_mm`` is the step of its rounded coordinates (``rounding``, in mm). Arcs of a circle that follow each
    other become one. Except for a circle no line moves by more than ``within_mm``. Ends and corners stay; where
    the path was smooth it stays so (``curves.SMOOTH_DEG``). Without such curves it is ``path`` itself.
    """
    if all(isinstance(s, Line) for s in path.segments):
        return path, None
    found = _circle(path, rounded_mm)
    return found if found is not None else (with_arcs(path, rounded_mm, within_mm), None)


def _circle(path: Subpath, rounded_mm: float) -> tuple[Subpath, Round | None] | None:
    """A circle of at least four cubics or three arcs; its centre and radius are the anchors' by least squares."""
    if not path.closed or not 2 <= len(path.segments) <= MOST_PIECES:
        return None
    if len(path.segments) == 2:
        return _two_halves(path, rounded_mm)
    pieces: list[Cubic | Bow] = []
    for s in path.segments:
        if (isinstance(s, Cubic) and alike(s)) or (isinstance(s, Bow) and s.roundness <= CURVE_MM):
            pieces.append(s)
        elif not isinstance(s, Line) or abs(s.q - s.p) > 3 * rounded_mm:  # what rounding left open
            return None
    if len(pieces) < 3:
        return None
    at = np.array([s.p for s in pieces])
    centre, r = _through(at)
    if not 0 < r < math.inf:
        return None
    step = _step(rounded_mm, r)
    if np.abs(np.abs(at - centre) - r).max() > ANCHOR * step:
        return None
    phi = np.angle((np.roll(at, -1) - centre) / (at - centre))
    way = math.copysign(1.0, pieces[0].bulge if isinstance(pieces[0], Bow) else phi[0])
    phi = np.where(phi * way < 0, phi + 2 * math.pi * way, phi)
    if abs(abs(phi.sum()) - 2 * math.pi) > 1e-6:
        return None
    moved = _moved(pieces, centre, r, phi, HANDLE * step)
    if moved is None:
        return None
    u = complex(r * (at[0] - centre) / abs(at[0] - centre))
    told = Round(centre=centre, radius_mm=r, moved_mm=moved) if any(isinstance(s, Cubic) for s in pieces) else None
    return _whole(centre, u, way), told


def _two_halves(path: Subpath, rounded_mm: float) -> tuple[Subpath, None] | None:
    """Two half turns: their centres, which lie midway between the ends only in exact numbers, become one."""
    a, b = path.segments
    if not (isinstance(a, Bow) and isinstance(b, Bow) and max(a.roundness, b.roundness) <= CURVE_MM):
        return None
    centre, u = (a.p + b.p) / 2, (a.p - b.p) / 2
    off = max(abs(a.centre - centre), abs(b.centre - centre))
    if off > HANDLE * _step(rounded_mm, abs(u)) or a.bulge * b.bulge <= 0 or abs(abs(a.sweep) - math.pi) > 0.1:
        return None
    return (path if off == 0 else _whole(centre, u, math.copysign(1.0, a.bulge))), None


def _whole(centre: complex, u: complex, way: float) -> Subpath:
    """The circle from centre + u, anticlockwise where ``way`` is 1."""
    p, q, v, half = centre + u, centre - u, u * 1j, way * math.pi
    return Subpath((Bow(p, q, centre, u, v, 0.0, half), Bow(q, p, centre, u, v, half, half)), True)


def _step(rounded_mm: float, r: float) -> float:
    """The rounding that is believed in, and what the centres of half turns lose in exact numbers (√ε)."""
    return min(rounded_mm, COARSEST_MM, COARSEST * r) + 1e-7 * r


def _moved(pieces: Sequence[Cubic | Bow], centre: complex, r: float, phi: Floats, slack: float) -> float | None:
    """How far pieces that sweep ``phi`` lie from a circle; None when they aren't what is written for it.

    ``slack`` (mm) is how far rounding can have moved a handle.
    """
    way = math.copysign(1.0, phi[0])
    cubic = np.array([isinstance(s, Cubic) for s in pieces])
    if np.abs(phi[cubic]).max(initial=0.0) > WIDEST:
        return None
    for s, turn in zip(pieces, phi.tolist(), strict=True):
        if isinstance(s, Bow) and (
            max(abs(s.centre - centre), abs(abs(s.u) - r)) > slack
            or abs(4 * math.atan(s.bulge) - turn) * r > slack
        ):
            return None
    if cubic.any():
        points = control(s for s in pieces if isinstance(s, Cubic))
        leaves, arrives = (1j * way * (z - centre) / np.abs(z - centre) for z in (points[:, 0], points[:, 3]))
        handle = r * 4 / 3 * np.tan(np.abs(phi[cubic]) / 4)
        fits: Bools = agree(points, leaves, arrives, handle, np.full(len(handle), slack))
        if not fits.all():
            return None
    moved = max(float(np.abs(np.abs(along(s) - centre) - r).max()) for s in pieces)
    return moved if moved <= (BESIDE + TYPED) * r + slack else None


def _through(z: Points) -> tuple[complex, float]:
    """Centre and radius of the circle through points (n,) by least squares (Kåsa 1976, linear in the centre: for
    points that lie on a circle but for rounding it is the geometric fit). Radius 0 when there is none."""
    mean = complex(z.mean())
    w = z - mean
    size = float(np.abs(w).max())
    if size == 0:
        return mean, 0.0
    w = w / size
    system = np.stack([2 * w.real, 2 * w.imag, np.ones(len(w))], axis=1)
    (x, y, k), _, rank, _ = np.linalg.lstsq(system, np.abs(w) ** 2, rcond=1e-9)
    if rank < 3:
        return mean, 0.0
    return mean + size * complex(x, y), size * math.sqrt(max(float(k + x * x + y * y), 0.0))
