"""Balance of the finished object: how it hangs on a strap, sits on a thigh, stands, hangs at a wall, is carried.

Strap, thigh, wall and hand are worked out in the held frame, where y runs up while the neck lies level. That is
the design frame; a left-handed design is played the other way up, so there y is turned over (``Balanced.up``
−1). What stands is seen from above, in the design frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely

from pipeline.core.balance import Balance
from pipeline.core.text import listed
from pipeline.geometry.region import Region
from pipeline.steps.values import Blank, Derived
from pipeline.workshop.levers import Lever, Part, Setting, State, best, levers, state, strap_set
from pipeline.workshop.mass import OBJECT_ROLES, left_out, mass_and_centre, unknown
from pipeline.workshop.seat import Waist, waist
from pipeline.workshop.stands import Hung, Stool, from_line, hung, inside_mm, stool, tip_angle
from pipeline.workshop.strap import Point, frictionless, held_between

UP = {"+x": (1.0, 0.0), "-x": (-1.0, 0.0), "+y": (0.0, 1.0), "-y": (0.0, -1.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class OnStrap:
    """``held``: the tilts that friction holds. ``below_mm`` and ``wanted_mm``: how far the centre lies below the
    line through the buttons, and how far it must to hang by itself on a shoulder without friction."""

    held: tuple[tuple[float, float], ...]
    below_mm: float
    wanted_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """On a base: the convex hull that it stands on, where the centre lies in plan with what is put on it, how far
    within (mm), how far it may lean (degrees), and how far within the centre of what is put on it lies."""

    on: str
    base: shapely.Geometry
    centre: Point
    inside_mm: float
    lean_deg: float
    device_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Balanced:
    """All there is to tell. ``centre_mm`` is in the design frame; what is None was not asked for or can't be
    told, and then ``untold`` says why. ``now`` is how it hangs and sits, ``tried`` the levers, ``best`` the one
    that helps most. ``carried``: (distance, the two ends of the hand's line, foot on it) in the held frame."""

    mass_g: float | None
    centre_mm: tuple[float, float, float] | None
    up: float
    outline: Region | None
    setting: Setting
    now: State | None = None
    tried: tuple[Lever, ...] = ()
    best: Lever | None = None
    strap: OnStrap | None = None
    waist: Waist | None = None
    stool: Stool | None = None
    standing: Standing | None = None
    hung: tuple[Point, Hung] | None = None
    carried: tuple[float, tuple[Point, Point], Point] | None = None
    untold: tuple[str, ...] = ()

    @property
    def held(self) -> Point | None:
        """The centre in the held frame."""
        return None if self.centre_mm is None else (self.centre_mm[0], self.centre_mm[1] * self.up + 0.0)


def balance_of(derived: Derived) -> Balanced | None:
    """The balance of one finished object; None where the recipe has no `balance:`."""
    asked = derived.recipe.balance
    if asked is None:
        return None
    up = -1.0 if derived.recipe.mirrored else 1.0
    mass, centre = mass_and_centre(derived)
    outline = object_outline(derived)
    setting = _setting(derived, asked, up)
    untold = [*unknown(derived), *left_out(derived), *_no_pieces(derived, asked)]
    if centre is None and mass is not None and asked.legs is not None:
        untold.append("The stool is taken to have its centre of gravity over the middle of its feet.")
    if centre is None or mass is None:
        return Balanced(
            mass_g=mass,
            centre_mm=centre,
            up=up,
            outline=outline,
            setting=setting,
            stool=_stool(derived, asked, mass, None),
            untold=tuple(untold),
        )
    g = (centre[0], centre[1] * up + 0.0)
    setting = strap_set(setting, g)
    held = setting.front is not None or setting.seat is not None
    now = state(setting, mass, g) if held else None
    tried = levers(setting, now, _parts(derived, up), _wood(derived, g, up), _hollows(derived, up)) if now else ()
    slung = setting.slung(g)
    on_strap = None
    if slung is not None and not slung.reaches:
        untold.append("The strap is no longer than its buttons lie apart, so how it hangs can't be told.")
    elif slung is not None:
        below, wanted = frictionless(slung)
        on_strap = OnStrap(held=held_between(slung, setting.friction), below_mm=below, wanted_mm=wanted)
        if setting.given and now is not None and now.hang is not None and now.hang.pinned_deg is None:
            untold.append("The two lengths under `strap_set` can't meet above the buttons.")
    if setting.seat is not None and setting.nut is None:
        untold.append(
            "No place of the hand is known (`nut:`, or `x_toward` of the frame), so its force isn't told."
        )
    return Balanced(
        mass_g=mass,
        centre_mm=centre,
        up=up,
        outline=outline,
        setting=setting,
        now=now,
        tried=tried,
        best=best(now, [v for v in tried if not v.name.endswith("solid")]) if now else None,
        strap=on_strap,
        waist=_waist(outline, setting, up),
        stool=_stool(derived, asked, mass, centre),
        standing=_standing(derived, asked, centre),
        hung=_hung(derived, asked, g, up),
        carried=_carried(derived, asked, g, up, untold),
        untold=tuple(untold),
    )


def object_outline(derived: Derived) -> Region | None:
    """What it looks like from the front: the blanks, else the panels, else the first outline."""
    parts = [b.region for b in derived.blanks] or [p.region for p in derived.pieces if p.role in OBJECT_ROLES]
    found = parts or [r.region for r in derived.results.values() if r.kind == "outline" and r.region]
    return max(found, key=lambda r: r.area) if found else None


def _no_pieces(derived: Derived, asked: Balance) -> Iterator[str]:
    known = [p.name for p in derived.pieces if p.role in OBJECT_ROLES]
    for name in asked.pieces:
        if name not in known:
            there = f"those are {listed(known, 'and')}" if known else "there is none"
            what = "is no panel or cover of the finished object"
            yield f"`balance: {{pieces: …}}` names {name}, which {what}; {there}."


# -- places --------------------------------------------------------------------------------------------
def _at(derived: Derived, at: str | Point, up: float) -> Point | None:
    """A mark or a point in the held frame."""
    if isinstance(at, str):
        drawn = derived.drawing.objects.get(at)
        if drawn is None or drawn.mark is None:
            return None
        at = drawn.mark.at
    return at[0], at[1] * up + 0.0


def _setting(derived: Derived, asked: Balance, up: float) -> Setting:
    frame = derived.recipe.frame
    buttons = [_at(derived, v, up) for v in asked.strap]
    return Setting(
        front=buttons[0] if buttons else None,
        tail=buttons[1] if buttons else None,
        length_mm=sum(asked.strap_set) if asked.strap_set else asked.strap_length,
        lengths_mm=asked.strap_set,
        given=asked.strap_set is not None,
        friction=asked.friction,
        seat=_at(derived, asked.seat, up) if asked.seat else None,
        thigh_mm=asked.thigh,
        nut=_at(derived, asked.nut or (frame.x_toward if frame else ""), up),
    )


# -- what levers pull at -------------------------------------------------------------------------------
def _parts(derived: Derived, up: float) -> list[Part]:
    return [
        Part(name=name, mass_g=part.mass * part.count, at=(part.at[0], part.at[1] * up + 0.0))
        for name, part in derived.recipe.hardware.items()
        if part.mass and part.at is not None
    ]


def _wood(derived: Derived, centre: Point, up: float) -> list[Part]:
    """The middles of the blank's wood on the nut side and on the tail side of the centre of gravity."""
    found: list[Part] = []
    for b in derived.blanks:
        x0, y0, x1, y1 = b.region.bounds
        x = centre[0]
        for word, lo, hi in (("the nut side", x, x1), ("the tail side", x0, x)):
            part = shapely.intersection(b.region.polygon, shapely.box(lo, y0, hi, y1)) if hi > lo else None
            if part is not None and part.area > 0:
                found.append(Part(name=word, mass_g=0.0, at=(part.centroid.x, part.centroid.y * up + 0.0)))
        break
    return found


def _hollows(derived: Derived, up: float) -> list[Part]:
    """The chambers of each blank as the wood that they took."""
    found = []
    for b in derived.blanks:
        mass, mx, my = 0.0, 0.0, 0.0
        for cut in derived.results[b.step].cuts:
            took = _took(derived, b, cut.lamination, cut.depth.mm if cut.depth.rule == "depth" else None)
            if took is not None:
                m = took * cut.region.area
                mass, mx, my = mass + m, mx + m * cut.region.centroid[0], my + m * cut.region.centroid[1]
        if mass > 0:
            found.append(Part(name=f"the hollows of {b.name}", mass_g=mass, at=(mx / mass, my / mass * up + 0.0)))
    return found


def _took(derived: Derived, blank: Blank, number: int | None, depth: float | None) -> float | None:
    """Grams a mm² that a cut of one lamination takes."""
    lams = blank.laminations
    lam = next((v for v in lams if v.number == number), None)
    density = derived.recipe.sheets[lam.sheet].density if lam and lam.sheet in derived.recipe.sheets else None
    if lam is None or density is None:
        return None
    top = next((v.z0 for v in lams if v.number == lam.number + 1), lam.z1)
    return density * 1e-6 * (top - lam.z0 if depth is None else min(depth, lam.z1 - lam.z0))


# -- seat, legs, base, wall, hand ----------------------------------------------------------------------
def _waist(outline: Region | None, setting: Setting, up: float) -> Waist | None:
    if outline is None or setting.seat is None:
        return None
    polygon = max(shapely.get_parts(outline.polygon), key=lambda p: p.area)
    return waist(shapely.transform(polygon, lambda xy: xy * (1.0, up)), setting.seat[0])


def _stool(
    derived: Derived, asked: Balance, mass: float | None, centre: tuple[float, float, float] | None
) -> Stool | None:
    legs = asked.legs
    middle = _at(derived, legs.centre, 1.0) if legs else None
    if legs is None or middle is None or mass is None:
        return None
    return stool(
        legs=legs.count,
        radius_mm=legs.radius,
        middle=middle,
        first_deg=legs.first,
        centre=centre[:2] if centre else middle,
        mass_g=mass,
        seat_mm=legs.seat,
        load_g=legs.load,
    )


def _standing(derived: Derived, asked: Balance, centre: tuple[float, float, float]) -> Standing | None:
    stands = asked.stands
    result = derived.results.get(stands.on) if stands else None
    if stands is None or result is None or not result.region:
        return None
    base = shapely.convex_hull(result.region.polygon)
    x, y, z = centre
    device = None
    if stands.device is not None:
        (dx, dy, dz), m, mass = stands.device.at, stands.device.mass, _mass(derived)
        device = inside_mm(base, (dx, dy))
        x, y, z = ((mass * a + m * b) / (mass + m) for a, b in zip((x, y, z), (dx, dy, dz), strict=True))
    inside = inside_mm(base, (x, y))
    return Standing(
        on=stands.on, base=base, centre=(x, y), inside_mm=inside, lean_deg=tip_angle(inside, z), device_mm=device
    )


def _mass(derived: Derived) -> float:
    return mass_and_centre(derived)[0] or 0.0


def _hung(derived: Derived, asked: Balance, g: Point, up: float) -> tuple[Point, Hung] | None:
    point = _at(derived, asked.hang, up) if asked.hang else None
    return None if point is None else (point, hung(point, g, UP[asked.up]))


def _carried(
    derived: Derived, asked: Balance, g: Point, up: float, untold: list[str]
) -> tuple[float, tuple[Point, Point], Point] | None:
    if not asked.handle:
        return None
    ends = [_at(derived, v, up) for v in asked.handle]
    if len(ends) == 1 and isinstance(asked.handle[0], str):
        drawn = derived.drawing.objects.get(asked.handle[0])
        marked = drawn.mark.ends if drawn and drawn.mark else ()
        ends = [(x, y * up + 0.0) for x, y in marked]
    if len(ends) != 2 or ends[0] is None or ends[1] is None or ends[0] == ends[1]:
        untold.append("The line of the hand needs two points that lie apart, or one drawn line.")
        return None
    away, foot = from_line((ends[0], ends[1]), g)
    return away, (ends[0], ends[1]), foot
