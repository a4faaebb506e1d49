"""How a thing hangs on a strap between two buttons: friction on the shoulder, and the angle it hangs at.

Points are (x, y) in mm in the held frame: x toward the nut, y up while the neck lies level. ``tilt`` turns the
thing about the player's front-to-back axis, in degrees, neck up positive. The models are trade.md 10.2's: a
string over one shoulder point P with P plumb above the centre of gravity (two strings, capstan friction), and a
strap that doesn't slide on the shoulder (two fixed lengths).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Point = tuple[float, float]

STEEPEST_DEG = 60.0
"""Nobody plays steeper than this; slides are followed so far."""
STEP_DEG = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Slung:
    """A thing on its strap: front and tail button, centre of gravity, length of the strap from button to
    button."""

    front: Point
    tail: Point
    centre: Point
    length_mm: float

    @property
    def reaches(self) -> bool:
        """False when the strap is no longer than the buttons lie apart."""
        return self.length_mm > math.dist(self.front, self.tail)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """One tilt: ``friction`` is the least coefficient that holds it (inf: none does), ``sinks`` +1 when the neck
    goes down if it slides, −1 when it goes up, 0 when nothing pulls either way. ``shoulder`` is P in the turned
    frame about the centre of gravity, None without equilibrium; ``lengths_mm`` from it to the two buttons."""

    tilt_deg: float
    friction: float
    sinks: int
    shoulder: Point | None
    lengths_mm: tuple[float, float] | None


def turned(p: Point, about: Point, tilt_deg: float) -> Point:
    """(x, y) of ``p`` seen from ``about`` after the thing is turned neck up by ``tilt_deg``."""
    x, y = p[0] - about[0], p[1] - about[1]
    c, s = math.cos(math.radians(tilt_deg)), math.sin(math.radians(tilt_deg))
    return c * x - s * y, s * x + c * y


def quick_index(slung: Slung, tilt_deg: float = 0.0) -> float:
    """Share of the weight on the front button under a long strap: (x_G − x_B)/(x_A − x_B), both sides plumb.

    1 or more: the centre lies beyond the front button, and no strap holds it. ValueError when the buttons stand
    plumb above each other.
    """
    a, b = (turned(p, slung.centre, tilt_deg)[0] for p in (slung.front, slung.tail))
    if abs(a - b) < 1e-9:
        raise ValueError("the two buttons stand plumb above each other, so no share can be told")
    return -b / (a - b) + 0.0


def grip(slung: Slung, tilt_deg: float) -> Grip:
    """What one tilt asks of the shoulder: T_A/T_B = sin θ_B/sin θ_A, and |ln(T_A/T_B)| ≤ μ·(π − θ_A − θ_B).

    P lies plumb above G on the ellipse |PA| + |PB| = L: with |PA| = p + q·h linear in the height h, the upper root
    of a quadratic. ValueError when the strap is shorter than the buttons lie apart.
    """
    if not slung.reaches:
        raise ValueError("the strap is shorter than the distance between its buttons")
    (ax, ay), (bx, by) = (turned(p, slung.centre, tilt_deg) for p in (slung.front, slung.tail))
    if ax <= 0.0 or bx >= 0.0:  # both strings would pull to one side
        return Grip(
            tilt_deg=tilt_deg, friction=math.inf, sinks=1 if ax <= 0.0 else -1, shoulder=None, lengths_mm=None
        )
    length = slung.length_mm
    p = (length + (ax * ax - bx * bx + ay * ay - by * by) / length) / 2
    q = (by - ay) / length
    m = ay + p * q
    h = (m + math.sqrt(max(0.0, m * m - (1 - q * q) * (ax * ax + ay * ay - p * p)))) / (1 - q * q)
    one, two = math.atan2(ax, h - ay), math.atan2(-bx, h - by)
    pull = math.log(math.sin(two) / math.sin(one))
    wrap = math.pi - one - two
    needed = abs(pull) / wrap if wrap > 1e-12 else math.inf
    sinks = 0 if abs(pull) < 1e-12 else 1 if pull > 0 else -1
    lengths = (math.hypot(ax, h - ay), math.hypot(bx, h - by))
    return Grip(tilt_deg=tilt_deg, friction=needed, sinks=sinks, shoulder=(0.0, h), lengths_mm=lengths)


def held_between(slung: Slung, friction: float) -> tuple[tuple[float, float], ...]:
    """The intervals of tilt (degrees, within ±STEEPEST_DEG) that a coefficient of friction holds, lowest first."""
    count = round(2 * STEEPEST_DEG / STEP_DEG)
    tilts = [-STEEPEST_DEG + k * STEP_DEG for k in range(count + 1)]
    holds = [grip(slung, t).friction <= friction for t in tilts]
    found: list[tuple[float, float]] = []
    begin: float | None = tilts[0] if holds[0] else None
    for k in range(count):
        if holds[k] == holds[k + 1]:
            continue
        edge = _edge(slung, friction, tilts[k], tilts[k + 1], holds[k])
        if begin is None:
            begin = edge
        else:
            found.append((begin, edge))
            begin = None
    if begin is not None:
        found.append((begin, tilts[-1]))
    return tuple(found)


def _edge(slung: Slung, friction: float, low: float, high: float, holds: bool) -> float:
    """Where between two tilts holding begins or ends, to a thousandth of a degree."""
    while high - low > 1e-3:
        mid = (low + high) / 2
        if (grip(slung, mid).friction <= friction) == holds:
            low = mid
        else:
            high = mid
    return (low + high) / 2


def comes_to_rest(slung: Slung, friction: float, tilt_deg: float = 0.0) -> float | None:
    """The tilt at which it stays when it is let go at ``tilt_deg``; None when it slides on past ±STEEPEST_DEG.

    The strap runs over the shoulder toward the button that pulls harder, until friction holds it.
    """
    here, way = tilt_deg, 0
    while abs(here) <= STEEPEST_DEG:
        at = grip(slung, here)
        if at.friction <= friction or at.sinks == 0:
            low, high = sorted((here, here - way * STEP_DEG))
            return here if not way else _edge(slung, friction, low, high, way < 0)
        if way and -at.sinks != way:  # it turns round between two steps: it rests there
            return here
        way = -at.sinks
        here += way * STEP_DEG
    return None


def pinned_tilt(slung: Slung, lengths_mm: tuple[float, float]) -> tuple[float, Point]:
    """(tilt in degrees, P in the body's own frame) of a strap that doesn't slide: φ = atan2(P_x − G_x, P_y − G_y).

    P is the upper intersection of the circles of ``lengths_mm`` about the front and the tail button; the thing
    turns until its centre hangs under P. ValueError when the two lengths can't meet.
    """
    (ax, ay), (bx, by) = slung.front, slung.tail
    d = math.dist(slung.front, slung.tail)
    one, two = lengths_mm
    if d < 1e-9 or one + two <= d or abs(one - two) >= d:
        raise ValueError("two strap lengths that can't meet above the buttons")
    along = (one * one - two * two + d * d) / (2 * d)  # from the front button toward the tail
    off = math.sqrt(max(0.0, one * one - along * along))
    ux, uy = (bx - ax) / d, (by - ay) / d
    ends = [(ax + along * ux - s * off * uy, ay + along * uy + s * off * ux) for s in (1.0, -1.0)]
    x, y = max(ends, key=lambda p: p[1])
    return math.degrees(math.atan2(x - slung.centre[0], y - slung.centre[1])) + 0.0, (x, y)


def frictionless(slung: Slung) -> tuple[float, float]:
    """(how far G lies below the line through the buttons, how far it must: c²/b), in mm, for a shoulder without
    friction: P moves on an ellipse with the buttons as foci, c = |AB|/2, b = √(L²/4 − c²) (trade.md 10.2)."""
    if not slung.reaches:
        raise ValueError("the strap is shorter than the distance between its buttons")
    (ax, ay), (bx, by) = slung.front, slung.tail
    d = math.dist(slung.front, slung.tail)
    nx, ny = -(ay - by) / d, (ax - bx) / d  # upward where the front button lies toward the nut
    if ny < 0:
        nx, ny = -nx, -ny
    below = (bx - slung.centre[0]) * nx + (by - slung.centre[1]) * ny
    c = d / 2
    return below + 0.0, c * c / math.sqrt(slung.length_mm**2 / 4 - c * c)
