"""Makes a cavity: its finished shape, what is cut (overrun, pads, recess included) and how deep."""

from __future__ import annotations

from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.recipe import Recipe, Step
from pipeline.geometry.boolean import difference, intersection, union
from pipeline.geometry.morph import opening, swept
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.geometry.transform import mirror_x_axis, shift, turn
from pipeline.steps.cavity import Spec, covers_of, problems
from pipeline.steps.cavity_neck import tilt_deg
from pipeline.steps.cavity_relief import relieved
from pipeline.steps.cavity_skin import stacks_that_cut, thickness_mm
from pipeline.steps.cavity_told import followers, kept_corners, made, relief, skins, tilted
from pipeline.steps.common import UNIT, mm, place_in, refuse_all
from pipeline.steps.cover_make import screw_places
from pipeline.steps.fits import Shape, film_mm, fit_words, place_of, plan_of, room_mm
from pipeline.steps.measures import numbers_of, point_of
from pipeline.steps.outline_make import drawn_region
from pipeline.steps.solids import s_range
from pipeline.steps.values import Cut, Depth, Result, Tilt, World

PAD_FILLET_MM = 4.0
"""Radius where a pad meets the wall: the inside corner of a cutter of 8 mm (common practice, no source)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """One plan rule, and a second one called ``<step> recess`` where there is a ledge."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    whole = _shape(step, spec, world)
    depth = _depth(spec, whole)
    wide = offset(whole, spec.ledge.width) if spec.ledge else None
    run = _overrun(step, spec, world, whole) if spec.open else 0.0
    toward = UNIT[spec.open] if spec.open else (1.0, 0.0)

    pads = _pads(step, world, wide)
    design = _round_pads(whole, pads) if pads else whole
    region = swept(whole, toward, run) if run else whole
    if pads and run:
        region = _round_pads(region, pads)
    elif pads:
        region = design
    if not design:
        raise refuse(
            f"The pads under the screws fill the whole cavity {name}.",
            place=step.place(),
            expected="smaller `pads:` at its cover",
        )
    numbers: dict[str, Any] = {}
    reports: list[str] = []
    if spec.relief is not None and spec.cutter is not None:
        corners = kept_corners(design, region)
        bare = design.area
        design = relieved(design, corners, spec.cutter / 2, spec.relief, spec.relief_into)
        region = relieved(region, corners, spec.cutter / 2, spec.relief, spec.relief_into)
        numbers["relief"], said = relief(name, spec, corners, design.area - bare)
        reports.append(said)
    cuts = [
        Cut(
            step=name,
            name=name,
            region=region,
            design=design,
            face=spec.face,
            depth=depth,
            fit="" if spec.fit is None else fit_words(spec.fit),
        )
    ]
    numbers = {
        **numbers_of(design),
        "face": spec.face,
        "rule": depth.rule,
        "mm": depth.mm,
        **numbers,
    }
    if len(design.parts) > len(whole.parts):
        reports.append(f"{name}: the pads under its cover's screws leave it in {len(design.parts)} parts.")
    thick = thickness_mm(name, world.recipe)
    numbers |= made(step, spec, design, depth, thick, world)
    if depth.tilt:
        told, words = tilted(name, spec, depth, depth.tilt, thick)
        numbers |= told
        reports += words
    told, findings = skins(step, spec, cuts[0], depth, thick, world)
    numbers |= told
    if run:
        numbers["overrun_mm"] = run
    if spec.ledge and wide is not None:
        recess = swept(wide, toward, run) if run else wide
        cuts.append(
            Cut(
                step=name,
                name=f"{name} recess",
                region=recess,
                design=wide,
                face=spec.face,
                depth=Depth(rule="depth", mm=spec.ledge.depth),
            )
        )
        numbers["recess"] = {**numbers_of(wide), "depth_mm": spec.ledge.depth}
        if spec.ledge.bush is not None and spec.ledge.cutter is not None:
            numbers["followers"], off = followers(step, spec.ledge, wide, whole)
            findings += off
    if spec.part is not None and spec.fit is not None:
        side = room_mm(spec.fit, spec.film)
        numbers["clearance_a_side_mm"] = side
        film = film_mm(spec.film)
        reports.append(
            f"{name}: {mm(side)} mm room a side ({fit_words(spec.fit)}{f', film {mm(film)}' if film else ''})."
        )
    return Result(
        step=name,
        kind="cavity",
        region=region,
        cuts=tuple(cuts),
        numbers=numbers,
        reports=tuple(reports),
        findings=tuple(findings),
    )


# -- shape and depth -------------------------------------------------------------------------------
def _shape(step: Step, spec: Spec, world: World) -> Region:
    """The finished cavity: the part grown by its clearance, the opening, or what is drawn."""
    if spec.drawn:
        drawn = drawn_region(world, step, "drawn", spec.drawn)
        return _other_hand(drawn) if spec.handed and world.recipe.mirrored else drawn
    if spec.part is not None and spec.fit is not None:
        shape, room, path = spec.part, room_mm(spec.fit, spec.film), "part"
    else:
        assert spec.opening is not None  # `problems` has seen to it
        shape, room, path = spec.opening, 0.0, "opening"
    outer = _grown(step, world.recipe, path, shape, room, sharp=spec.relief is not None)
    x, y = _centre(step, spec, world, shape)
    return turn(spec.turn).then(shift(x, y)).region(outer)


def _other_hand(shape: Region) -> Region:
    """The shape mirrored where it stands: the mirroring of the whole design turns it right again."""
    _, y0, _, y1 = shape.bounds
    return mirror_x_axis().then(shift(0.0, y0 + y1)).region(shape)


def _grown(step: Step, recipe: Recipe, path: str, shape: Shape, room: float, *, sharp: bool) -> Region:
    """A shape about (0, 0), larger by ``room`` a side; its corners grow with it.

    ``sharp`` keeps square corners square: they get relief circles, and a square part must go into them.
    """
    plan = plan_of(shape, recipe)
    if plan.circle is not None:
        radius = plan.circle / 2 + room
        if radius <= 0:
            raise _no_room(step, path, room)
        return solid(circle(0.0, 0.0, radius))
    length, width = plan.sides
    if min(length, width) / 2 + room <= 0:
        raise _no_room(step, path, room)
    corner = 0.0 if sharp and plan.corner == 0.0 else max(0.0, plan.corner + room)
    return solid(rectangle(length + 2 * room, width + 2 * room, corner))


def _no_room(step: Step, path: str, room: float) -> Exception:
    return refuse(
        f"Nothing is left of the shape of {step.name} with {room:g} mm a side.",
        place=place_in(step, path),
        expected="a fit smaller than half the part",
    )


def _centre(step: Step, spec: Spec, world: World, shape: Shape) -> tuple[float, float]:
    if spec.centre is not None:
        return point_of(world, step, "centre", spec.centre)
    at = place_of(shape, world.recipe)
    assert at is not None  # `problems` has seen to it
    return at


def _depth(spec: Spec, shape: Region) -> Depth:
    if spec.through:
        return Depth(rule="through")
    tilt = None
    if spec.tilt is not None:
        toward = UNIT[spec.tilt.deeper]
        shallow, deep = s_range(shape, toward)
        heights = spec.tilt.heights
        angle = tilt_deg(heights) if heights is not None else spec.tilt.angle or 0.0
        tilt = Tilt(angle_deg=angle, toward=toward, shallow=shallow, deep=deep)
    if spec.floor is not None:
        return Depth(rule="floor", mm=spec.floor, tilt=tilt)
    assert spec.depth is not None  # `problems` has seen to it
    return Depth(rule="depth", mm=spec.depth, tilt=tilt)


# -- open side and pads ----------------------------------------------------------------------------
def _overrun(step: Step, spec: Spec, world: World, shape: Region) -> float:
    """How far the shape runs on, in mm: its full width passes the cut edge by a cutter's radius.

    The cut edge is the outline of the stack that cuts it, with its allowance; without a stack the
    shape runs on by twice the largest cutter's radius. Raises Refused when that edge lies elsewhere.
    """
    assert spec.open is not None
    u = UNIT[spec.open]
    stacks = stacks_that_cut(step.name, world.recipe)
    if not stacks:
        return world.recipe.default_shop.profile_cutter.DC
    found = 0.0
    for stack in stacks:
        outline = world.result(stack.spec.outline).region
        assert outline is not None  # the stack's own step refuses what has none
        edge = offset(outline, stack.spec.allowance) if stack.spec.allowance else outline
        leaves = _leaves(edge, shape, u)
        if leaves is None:
            raise refuse(
                f"{step.name} lies beside {stack.spec.outline}, so its open side meets no edge.",
                place=place_in(step, "open"),
                expected=f"a cavity that begins inside {stack.spec.outline}",
            )
        sheet = stack.spec.laminations[0]
        stock = sheet if sheet in world.recipe.sheets else sheet.rpartition(" ")[0]
        radius = world.recipe.shop_of(stock).profile_cutter.DC / 2
        found = max(found, leaves + radius - _full_width_end(shape, u))
    return max(found, 0.0)


def _leaves(edge: Region, shape: Region, u: tuple[float, float]) -> float | None:
    """The farthest p·u at which the shape, running on along u, is still inside the edge."""
    x0, y0, x1, y1 = shape.bounds
    reach = sum(abs(v) for v in (*edge.bounds, *shape.bounds))
    ahead, behind = [max(v, 0.0) * reach for v in u], [max(-v, 0.0) * reach for v in u]
    x0, y0, x1, y1 = x0 - behind[0], y0 - behind[1], x1 + ahead[0], y1 + ahead[1]
    strip = solid(rectangle(x1 - x0, y1 - y0, x=(x0 + x1) / 2, y=(y0 + y1) / 2))
    touching = [p for p in intersection(edge, strip).parts if p.polygon.intersects(shape.polygon)]
    if not touching:
        return None
    return max(s_range(Region((part,)), u)[1] for part in touching)


def _full_width_end(shape: Region, u: tuple[float, float]) -> float:
    """The p·u up to which the shape has its full width on both sides: round corners end before it."""
    v = np.array([-u[1], u[0]])
    points = np.vstack([c.flatten()[0] for c in shape.contours])
    across, along = points @ v, points @ np.array(u)
    sides = (across >= across.max() - 1e-6, across <= across.min() + 1e-6)
    return float(min(along[side].max() for side in sides))


def _round_pads(shape: Region, pads: tuple[Region, ...]) -> Region:
    """The shape less its pads, each pad running into the wall with a fillet that a cutter can follow."""
    bare = difference(shape, *pads)
    near = union(*(offset(p, 3 * PAD_FILLET_MM) for p in pads))
    return union(opening(bare, PAD_FILLET_MM), difference(bare, near))


def _pads(step: Step, world: World, recess: Region | None) -> tuple[Region, ...]:
    """Discs of wood that stay under the screws of the covers over this cavity."""
    if recess is None:
        return ()
    found: list[Region] = []
    for cover in covers_of(step.name, world.recipe):
        screws = cover.spec.screws
        if screws.pads:
            places = screw_places(recess, screws, world, cover)
            found += [disc(x, y, screws.pads / 2) for x, y in places]
    return tuple(found)
