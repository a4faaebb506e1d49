"""The verdict on a glued blank: does the new solid still lie in the wood that is there (trade.md 12.3)?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.compare.judge import Judged
from pipeline.compare.measure import Point, clock, polygon_of, spot
from pipeline.compare.roles import ROUGH_MM
from pipeline.compare.solid import STEP_MM, Shape, Void, cuts_of, outside_of, slabs, taken
from pipeline.compare.state import Layer, State, Thing

WHOLE = 0.9
"""A cavity of which more than this share is missing at some height isn't wanted there at all."""
GRID = 24
"""So many points along and across a cavity with a sloped floor."""
MOST = 6
"""So many things in the way are named; of more, how many."""


Floats = NDArray[np.float64]
_Reach = tuple[float, Point, float]
"""How far in mm, where, over what area in mm²."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """Wood that the new design wants and the blank doesn't have: how far it reaches at most and where, its area in
    plan, and what is in the way."""

    mm: float
    at: Point
    area: float
    what: str


def judged_blank(
    old: Thing, old_state: State, new: Thing, new_state: State, *, machined: Sequence[str] = ()
) -> Judged:
    """Continue with a glued blank, or scrap it: every slab of the new solid against what was glued.

    The blank is what its laminations were cut to, allowance and ears included; ``machined`` are the faces of the
    blank that are done already. Tolerance as of rough laminations.
    """
    if old.problem or new.problem:
        return Judged(what="measure it", because=f"Its files can't be compared: {old.problem or new.problem}.")
    if len(old.layers) != len(new.layers):
        return Judged(
            what="scrap",
            because=f"It is glued of {len(old.layers)} laminations, and the design has {len(new.layers)} now.",
        )
    gone = cuts_of(old, old_state, faces=machined)
    wanted = cuts_of(new, new_state)
    edge = _finished(new, new_state)
    lacks = [
        *_outside_lacks(old, old_state, new, new_state, edge, machined),
        *_cavity_lacks(old, new, gone, wanted, edge),
    ]
    if not lacks:
        return Judged(
            what="continue",
            because=f"The new solid lies in the glued wood within {ROUGH_MM:.2f}.",
            mm=0.0,
            tolerance_mm=ROUGH_MM,
            remarks=_to_remove(old, old_state, edge),
        )
    worst = max(lacks, key=lambda v: v.mm)
    ways = list(dict.fromkeys(v.what for v in sorted(lacks, key=lambda v: -v.mm)))
    more = f" and {len(ways) - MOST} more" if len(ways) > MOST else ""
    return Judged(
        what="scrap",
        because=(
            f"{worst.mm:.2f} mm of wood are missing at {spot(worst.at, 1)}. "
            "Scrap it, or change the design so that it fits: a new blank is needed for this one."
        ),
        mm=worst.mm,
        tolerance_mm=ROUGH_MM,
        at_mm=worst.at,
        area_mm2=max(v.area for v in lacks),
        remarks=(f"In the way: {'; '.join(ways[:MOST])}{more}.",),
    )


def _finished(blank: Thing, state: State) -> Shape:
    """The finished outline: as the blank is cut, else as the design has it, else as its laminations are cut."""
    cut = outside_of(blank)
    if not cut.is_empty:
        return cut
    if blank.design:
        return polygon_of(blank.design)
    return shapely.union_all([outside_of(state.thing(v.piece)) for v in blank.layers])


def _outside_lacks(
    old: Thing, old_state: State, new: Thing, new_state: State, edge: Shape, machined: Sequence[str]
) -> list[_Lack]:
    """Where the new outline lies outside of the glued laminations, or of the blank if its edge is cut already."""
    found = []
    done = [line for line in old.of("CUT_OUTSIDE") if line.face in machined]
    for was, now in zip(old.layers, new.layers, strict=True):
        have = polygon_of(tuple(v.contour for v in done)) if done else outside_of(old_state.thing(was.piece))
        want = shapely.intersection(edge, outside_of(new_state.thing(now.piece)))
        lack = _lack(want, have)
        if lack is not None:
            mm, at, area = lack
            x0, y0, x1, y1 = have.bounds
            way = clock(at, ((x0 + x1) / 2, (y0 + y1) / 2))
            what = f"the outline lies {mm:.2f} outside of {was.piece} at {spot(at, 1)}, {way}"
            found.append(_Lack(mm=mm, at=at, area=area, what=what))
    return found


def _cavity_lacks(old: Thing, new: Thing, gone: list[Void], wanted: list[Void], edge: Shape) -> list[_Lack]:
    """Cavities that are cut already where the new design has wood."""
    sloped = [v.plan for v in wanted if v.plane]
    found = []
    for void in gone:
        plan = shapely.intersection(void.plan, edge)
        if plan.is_empty:
            continue
        slabs_of = []
        for z0, z1 in slabs(old.layers, (void, *wanted)):
            z = (z0 + z1) / 2
            if _in_wood(old.layers, z) and not void.at(z).is_empty:
                slabs_of.append((z1 - z0, z, taken(wanted, _same_height(z, old.layers, new.layers))))
        if void.plane or any(p.intersects(plan) for p in sloped):
            told = _by_depth(void, plan, slabs_of)
        else:
            told = _told(void, [_row(height, plan, open_now) for height, _, open_now in slabs_of])
        if told is not None:
            found.append(told)
    return found


def _row(height: float, plan: Shape, open_now: Shape) -> tuple[float, _Reach | None, bool]:
    lack = _lack(plan, open_now)
    return height, lack, lack is not None and lack[2] > WHOLE * plan.area


def _by_depth(void: Void, plan: Shape, slabs_of: Sequence[tuple[float, float, Shape]]) -> _Lack | None:
    """The same where a floor slopes: at points all over the cavity, how much of its depth is wood now."""
    points = _spread(shapely.buffer(plan, -ROUGH_MM))
    if not len(points):
        return None
    deep, lost = np.zeros(len(points)), np.zeros(len(points))
    for height, z, open_now in slabs_of:
        here = shapely.contains_xy(void.at(z), points)
        deep += height * here
        lost += height * (here & ~shapely.contains_xy(open_now, points))
    k = int(np.argmax(np.round(lost, 6)))
    mm, at = float(lost[k]), (float(points[k, 0]), float(points[k, 1]))
    if mm <= ROUGH_MM + STEP_MM / 2:
        return None
    if mm < WHOLE * deep[k]:
        return _Lack(mm=mm, at=at, area=plan.area, what=f"{void.what} is cut already, {mm:.2f} mm too deep")
    widest = max(slabs_of, key=lambda s: void.at(s[1]).area)
    lack = _lack(shapely.intersection(void.at(widest[1]), plan), widest[2])
    if lack is None or lack[2] > WHOLE * plan.area:
        what = f"{void.what} is cut already and isn't wanted there"
        return _Lack(mm=2 * _radius(plan), at=at, area=plan.area, what=what)
    what = f"{void.what} is cut already and reaches {lack[0]:.2f} too far"
    return _Lack(mm=lack[0], at=lack[1], area=lack[2], what=what)


def _spread(shape: Shape) -> Floats:
    """Points all over a shape, its rim among them; none of an empty one."""
    if shape.is_empty:
        return np.empty((0, 2))
    x0, y0, x1, y1 = shape.bounds
    grid = np.stack(np.meshgrid(np.linspace(x0, x1, GRID), np.linspace(y0, y1, GRID)), axis=-1).reshape(-1, 2)
    rim = shapely.get_coordinates(shapely.segmentize(shape, 2.0))
    points: Floats = np.concatenate([grid[shapely.contains_xy(shape, grid)], rim])
    return points


def _told(void: Void, rows: Sequence[tuple[float, _Reach | None, bool]]) -> _Lack | None:
    """What is wrong with one cavity by its slabs (height, what is missing, whether all of it): it reaches too
    far, it is too deep, or it isn't wanted at all; None within the tolerance."""
    partly = [lack for _, lack, whole in rows if lack is not None and not whole]
    if partly:
        mm, at, area = max(partly, key=lambda v: v[0])
        return _Lack(mm=mm, at=at, area=area, what=f"{void.what} is cut already and reaches {mm:.2f} too far")
    full = [(height, lack) for height, lack, whole in rows if lack is not None and whole]
    deep = sum(height for height, _ in full)
    if deep <= ROUGH_MM:
        return None
    _, (_, at, area) = full[0]
    if len(full) == len(rows):
        what = f"{void.what} is cut already and isn't wanted there"
        return _Lack(mm=2 * _radius(void.plan), at=at, area=area, what=what)
    return _Lack(mm=deep, at=at, area=area, what=f"{void.what} is cut already, {deep:.2f} mm too deep")


def _in_wood(layers: Sequence[Layer], z: float) -> bool:
    return any(v.z0 < z < v.z1 for v in layers)


def _same_height(z: float, old: Sequence[Layer], new: Sequence[Layer]) -> float:
    """The height in the new stack of what lies at ``z`` in the old one: in the same lamination, as far up in
    it."""
    for a, b in zip(old, new, strict=True):
        if a.z0 <= z <= a.z1:
            return b.z0 + (z - a.z0) / (a.z1 - a.z0) * (b.z1 - b.z0)
    return z


def _lack(want: Shape, have: Shape) -> _Reach | None:
    """How far a shape reaches out of another at most, where, and over what area; None within the tolerance."""
    over = shapely.difference(want, have)
    if over.is_empty or over.area < 1e-6:
        return None
    points = shapely.get_coordinates(shapely.segmentize(over, 0.5))
    nothing = np.full(len(points), 2 * _radius(over))
    away = nothing if have.is_empty else shapely.distance(shapely.points(points), have)
    k = int(np.argmax(np.round(away, 6)))
    if away[k] <= ROUGH_MM:
        return None
    parts = [p for p in shapely.get_parts(over) if not p.buffer(-0.0025, quad_segs=2).is_empty]
    return float(away[k]), (float(points[k, 0]), float(points[k, 1])), float(sum(p.area for p in parts))


def _radius(shape: Shape) -> float:
    """Of the largest circle in a shape."""
    return float(shapely.length(shapely.maximum_inscribed_circle(shape, 0.1)))


def _to_remove(old: Thing, state: State, edge: Shape) -> tuple[str, ...]:
    """What has to come off the outline of the glued blank."""
    have = shapely.union_all([outside_of(state.thing(v.piece)) for v in old.layers])
    over = shapely.difference(have, edge)
    lack = _lack(have, edge)
    if lack is None:
        return ()
    own = outside_of(old)
    more = ", allowance and ears among them" if not own.is_empty and _lack(have, own) is not None else ""
    return (f"{over.area:.1f} mm² come off its outline{more}, {lack[0]:.2f} mm at most.",)
