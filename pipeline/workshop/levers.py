"""What a maker can do about balance, each as a pair: as it is, and as it would be (trade.md 10.2)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from pipeline.workshop.seat import Seated, seated
from pipeline.workshop.strap import Point, Slung, comes_to_rest, grip, pinned_tilt, quick_index, turned

HORN_MM = 25.0
"""How much farther toward the nut the front button is tried (trade.md 10.2)."""
STEP_G = 50.0
"""How much lighter or heavier a bought part is tried, and how much wood is tried to be taken out; at most half
of a bought part."""
MINUS = "\u2212"
GOOD_INDEX = (0.4, 0.6)
"""Shares of the weight on the front button that hang well (trade.md 10.2, a judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How it is held, in the held frame: buttons, strap, thigh, hand. Absent parts are None. ``lengths_mm`` of the
    strap from front button to shoulder to tail button; ``given``: the maker gave them."""

    front: Point | None = None
    tail: Point | None = None
    length_mm: float = 1200.0
    lengths_mm: tuple[float, float] | None = None
    given: bool = False
    friction: float = 0.25
    seat: Point | None = None
    thigh_mm: float = 60.0
    nut: Point | None = None

    def slung(self, centre: Point) -> Slung | None:
        if self.front is None or self.tail is None:
            return None
        return Slung(front=self.front, tail=self.tail, centre=centre, length_mm=self.length_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """How it hangs on its strap. ``friction``: what the level neck needs (inf: none holds it). ``rest_deg``: the
    tilt where it stays when it is let go with the neck level, None when it slides away. ``pinned_deg``: the tilt
    when the strap keeps ``Setting.lengths_mm`` and doesn't slide, None where they can't meet. ``tilt_deg`` and
    ``shoulder`` (held frame) are what pictures show: it at rest, or pinned where the maker gave the lengths or
    nothing rests."""

    friction: float
    rest_deg: float | None
    pinned_deg: float | None
    tilt_deg: float | None
    shoulder: Point | None


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One way it can be: mass, centre, front button, share of the weight on it, and what strap and seat say."""

    mass_g: float
    centre: Point
    front: Point | None
    index: float | None
    hang: Hang | None
    seat: Seated | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One thing to try: what it is, and the state after it."""

    name: str
    after: State


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A bought part, or the hollows of a blank: its mass and centre (held frame)."""

    name: str
    mass_g: float
    at: Point


def state(setting: Setting, mass_g: float, centre: Point) -> State:
    """How a thing of this mass and centre hangs and sits in a setting."""
    slung, index = setting.slung(centre), None
    if slung is not None and abs(slung.front[0] - slung.tail[0]) > 1e-9:
        index = quick_index(slung)
    rest = None
    if setting.seat is not None:
        nut = setting.nut[0] if setting.nut else None
        rest = seated(mass_g, centre[0], setting.seat[0], setting.thigh_mm, nut)
    return State(
        mass_g=mass_g,
        centre=centre,
        front=setting.front,
        index=index,
        hang=_hang(setting, slung) if slung is not None and slung.reaches else None,
        seat=rest,
    )


def _hang(setting: Setting, slung: Slung) -> Hang:
    rest = comes_to_rest(slung, setting.friction)
    pinned = None
    if setting.lengths_mm is not None and _meet(slung, setting.lengths_mm):
        pinned = pinned_tilt(slung, setting.lengths_mm)
    tilt, shoulder = pinned or (None, None)
    if rest is not None and not setting.given:
        tilt, (_, h) = rest, grip(slung, rest).shoulder or (0.0, 0.0)
        x, y = turned((0.0, h), (0.0, 0.0), -rest)
        shoulder = (slung.centre[0] + x, slung.centre[1] + y)
    return Hang(
        friction=grip(slung, 0.0).friction,
        rest_deg=rest,
        pinned_deg=pinned[0] if pinned else None,
        tilt_deg=tilt,
        shoulder=shoulder,
    )


def _meet(slung: Slung, lengths: tuple[float, float]) -> bool:
    d = math.dist(slung.front, slung.tail)
    return d > 1e-9 and lengths[0] + lengths[1] > d > abs(lengths[0] - lengths[1])


def strap_set(setting: Setting, centre: Point) -> Setting:
    """The setting with its two strap lengths. Those that nobody gave are the ones at which it rests when it is
    let go with the neck level, or those of the level neck where it slides away; none where nothing can be
    told."""
    slung = setting.slung(centre)
    if slung is None or not slung.reaches or setting.lengths_mm is not None:
        return setting
    rest = comes_to_rest(slung, setting.friction)
    return replace(setting, lengths_mm=grip(slung, 0.0 if rest is None else rest).lengths_mm)


def moved(mass_g: float, centre: Point, more_g: float, at: Point) -> tuple[float, Point]:
    """Mass and centre after ``more_g`` (negative: taken away) at a place: ΔG = m·(r − G)/(M + m) (trade.md 10.1).

    ValueError when nothing would be left.
    """
    total = mass_g + more_g
    if total <= 0:
        raise ValueError("taking away all the mass leaves no centre")
    x, y = (c + more_g * (p - c) / total for c, p in zip(centre, at, strict=True))
    return total, (x, y)


def levers(
    setting: Setting, now: State, parts: Sequence[Part], wood: Sequence[Part], hollows: Sequence[Part]
) -> tuple[Lever, ...]:
    """Every lever that this design has, cheapest first.

    ``parts`` are the bought ones; ``wood`` are places of the blank from which some may be taken (named);
    ``hollows`` are chambers that the design has already, told as what would be with the wood still in.
    """
    return tuple(_levers(setting, now, parts, wood, hollows))


def _levers(
    setting: Setting, now: State, parts: Sequence[Part], wood: Sequence[Part], hollows: Sequence[Part]
) -> Iterator[Lever]:
    def with_mass(name: str, more_g: float, at: Point) -> Lever:
        return Lever(name=name, after=state(setting, *moved(now.mass_g, now.centre, more_g, at)))

    if setting.front is not None:
        out = replace(setting, front=(setting.front[0] + HORN_MM, setting.front[1]))
        yield Lever(
            name=f"front button {HORN_MM:g} mm nearer the nut (a longer horn)",
            after=state(out, now.mass_g, now.centre),
        )

    def does(p: Part) -> float:
        return min(STEP_G, p.mass_g / 2) * (p.at[0] - now.centre[0])

    for p in [p for p in sorted(parts, key=does, reverse=True) if does(p) > 0][:2]:
        less = min(STEP_G, p.mass_g / 2)
        yield with_mass(f"{p.name} lighter by {less:.0f} g", -less, p.at)
    for p in [p for p in sorted(parts, key=does) if does(p) < 0][:1]:
        more = min(STEP_G, p.mass_g / 2)
        yield with_mass(f"{p.name} heavier by {more:.0f} g", more, p.at)
    for p in wood:
        yield with_mass(
            f"{STEP_G:g} g of wood out of {p.name} (at x {f'{p.at[0]:.0f}'.replace('-', MINUS)})", -STEP_G, p.at
        )
    for p in hollows:
        yield with_mass(f"{p.name} left solid", p.mass_g, p.at)


def best(now: State, tried: Sequence[Lever]) -> Lever | None:
    """The lever that helps most: to a good share on the buttons first, then least in the hand.

    None when none helps, or when it hangs and sits well already.
    """

    def bad(s: State) -> tuple[float, float]:
        hand = abs(s.seat.moment_nmm) if s.seat else 0.0
        low, high = GOOD_INDEX
        return (0.0 if s.index is None else max(low - s.index, s.index - high, 0.0)), hand

    if not tried or bad(now) == (0.0, 0.0):
        return None
    chosen = min(tried, key=lambda v: bad(v.after))
    return chosen if bad(chosen.after) < bad(now) else None
