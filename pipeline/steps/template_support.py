"""Will the router stand and the cutter reach? trade.md 5.2: base, first pass, collar, length (hand routers)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.common import mm, place_in
from pipeline.steps.template import Follow

INSIDE_MM = 10.0
"""So far inside the hull of what carries the base its centre must lie (trade.md 5.2, derived)."""
STEP_MM = 4.0
"""Distance of the places that are looked at along the path of the cutter's centre."""
RING_MM = 20.0
"""Distance of the rings inside an opening that are looked at."""
ROUGH_MM = 0.05
"""The wood is simplified by this before it is looked at: far less than INSIDE_MM."""
LARGEST_BASE_MM = 200.0
CONTACT_MM = 4.0
"""Height of the bearing that must lie against the template (trade.md 5.2, derived)."""
COLLAR_ROOM_MM = 0.5
"""The bush's collar must end so far above the work (trade.md 5.2, common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """The worst place on the path: how far the centre of the base lies inside the hull of the wood under it
    (negative: outside of it), and where."""

    inside_mm: float
    at: tuple[float, float]


def path_points(line: Region, *, within: bool) -> list[tuple[float, float]]:
    """Places at most STEP_MM apart along the boundary of the region of the cutter's centres; ``within``: also
    along rings further and further inside it, every RING_MM, and where it is widest: all of it is cleared."""
    found: list[tuple[float, float]] = []
    shape = line.polygon.simplify(ROUGH_MM)
    if within:
        for part in shapely.get_parts(shape):
            x, y = shapely.get_coordinates(shapely.maximum_inscribed_circle(part, tolerance=0.1))[0]
            found.append((round(float(x), 3) + 0.0, round(float(y), 3) + 0.0))
    while not shape.is_empty:
        for part in shapely.get_parts(shape):
            for ring in (part.exterior, *part.interiors):
                n = max(8, int(np.ceil(ring.length / STEP_MM)))
                spots = shapely.line_interpolate_point(ring, np.arange(n) * (ring.length / n))
                found += [(float(x), float(y)) for x, y in shapely.get_coordinates(spots)]
        if not within:
            break
        shape = shape.buffer(-RING_MM, quad_segs=4)
    return found


def supported(wood: Region, places: list[tuple[float, float]], base_mm: float) -> Support:
    """How well a round base stands on the wood, its centre at each place: the least of all places.

    The base stands when its centre lies inside the convex hull of what of the wood is under it.
    Raises ValueError without places.
    """
    if not places:
        raise ValueError("there is no place where the router stands")
    solid = wood.polygon.simplify(ROUGH_MM)
    shapely.prepare(solid)
    centres = shapely.points(np.array(places))
    under = shapely.intersection(shapely.buffer(centres, base_mm, quad_segs=16), solid)
    hulls = shapely.convex_hull(under)
    far = shapely.distance(shapely.boundary(hulls), centres)
    inside = np.where(shapely.contains(hulls, centres), far, -np.nan_to_num(far, nan=base_mm))
    inside = np.where(shapely.area(hulls) > 0, inside, -base_mm)
    k = int(np.argmin(np.round(inside, 6)))
    return Support(inside_mm=float(inside[k]), at=places[k])


def base_needed(wood: Region, places: list[tuple[float, float]], base_mm: float) -> float | None:
    """The least radius of a base, in steps of 5 mm, that stands everywhere; None up to LARGEST_BASE_MM."""
    worst = supported(wood, places, base_mm)
    radius = 5.0 * np.ceil((base_mm + 1) / 5.0)
    while radius <= LARGEST_BASE_MM:
        if supported(wood, [worst.at], radius).inside_mm >= INSIDE_MM:
            worst = supported(wood, places, radius)
            if worst.inside_mm >= INSIDE_MM:
                return float(radius)
        radius += 5.0
    return None


def first_pass(follow: Follow, thickness_mm: float) -> float | None:
    """How deep the first pass of a bearing above the cutter is at least: d1 = Lc − (tt + p − h); None for a bush
    or an unknown length. 0 where any depth will do."""
    if follow.bearing is None or follow.length is None:
        return None
    return max(0.0, follow.length - (thickness_mm + follow.packing - CONTACT_MM))


def packing_for(follow: Follow, thickness_mm: float, depth_mm: float) -> float:
    """Packing under the template with which the first pass is ``depth_mm`` deep: p = Lc − tt + h − d."""
    assert follow.length is not None
    return max(0.0, follow.length - thickness_mm + CONTACT_MM - depth_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """One follower's work: ``depth_mm`` of its cut where it is known, ``alone`` when nothing was roughed out."""

    follow: Follow
    path: str
    depth_mm: float | None
    alone: bool
    by_hand: bool


def pass_findings(step: Step, piece: str, thickness_mm: float, job: Pass) -> Iterator[Finding]:
    """What is wrong with cutter and follower over a template of this thickness, as far as it can be known."""
    follow = job.follow
    least = first_pass(follow, thickness_mm)
    if least is not None:
        yield from _deep_bite(step, piece, thickness_mm, job, least)
    if follow.collar is not None:
        room = thickness_mm + follow.packing - COLLAR_ROOM_MM
        if follow.collar > room + 1e-9:
            yield Finding(
                check="bush-collar",
                severity="ask",
                message=(
                    f"The bush stands out {mm(follow.collar)} mm, and {piece} is {mm(thickness_mm)} mm thick: it "
                    f"would rub on the work or lift the router."
                ),
                step=step.name,
                piece=piece,
                measured=follow.collar,
                limit=room,
                remedy=(
                    f"saw the collar off to {mm(room)} mm, or put {mm(follow.collar - room)} mm more packing under"
                ),
                place=place_in(step, f"{job.path}.collar"),
            )
    if follow.reach is not None and job.depth_mm is not None:
        needed = thickness_mm + follow.packing + job.depth_mm
        if needed > follow.reach + 1e-9:
            yield Finding(
                check="cutter-short",
                severity="ask",
                message=(
                    f"Through {piece} the cutter has to come out {mm(needed)} mm below the router's base to cut "
                    f"{mm(job.depth_mm)} mm deep; it reaches {mm(follow.reach)} mm."
                ),
                step=step.name,
                piece=piece,
                measured=follow.reach,
                limit=needed,
                remedy="take a longer cutter, three quarters of its shank in the collet, or a thinner template",
                place=place_in(step, f"{job.path}.reach"),
            )
    missing = _missing(job)
    if missing and job.by_hand:
        yield Finding(
            check="follower-unknown",
            severity="note",
            message=f"{piece} is followed by hand, and the recipe doesn't say {' or '.join(missing)}.",
            step=step.name,
            piece=piece,
            remedy="write it beside `cutter:`, so that it can be checked",
            place=place_in(step, job.path),
        )


def _missing(job: Pass) -> list[str]:
    follow = job.follow
    said = []
    if follow.bearing is not None and follow.length is None:
        said.append("how long the cutting edge is (`length:`), which tells how deep the first pass is")
    if follow.bush is not None and follow.collar is None:
        said.append("how far the bush stands out (`collar:`), which must stay above the work")
    return said


def _deep_bite(step: Step, piece: str, thickness_mm: float, job: Pass, least: float) -> Iterator[Finding]:
    """A first pass deeper than half the cutter's diameter, or deeper than the whole cut."""
    follow = job.follow
    limits = [d for d in (follow.cutter / 2 if job.alone else None, job.depth_mm) if d is not None]
    if not limits or least <= min(limits) + 1e-9:
        return
    limit = min(limits)
    why = (
        f"the whole cut is only {mm(limit)} mm deep"
        if job.depth_mm is not None and limit == job.depth_mm
        else "a hand router takes half the cutter's diameter in one pass"
    )
    packing = math.ceil(packing_for(follow, thickness_mm, limit) * 10 - 1e-6) / 10
    yield Finding(
        check="first-pass",
        severity="ask",
        message=(
            f"With {piece} {mm(thickness_mm)} mm thick the bearing finds the template only {mm(least)} mm deep, "
            f"and {why}."
        ),
        step=step.name,
        piece=piece,
        measured=least,
        limit=limit,
        remedy=(
            f"put {mm(packing)} mm of packing under the template (`packing: {packing:g}`), or take a cutter "
            f"with a cutting edge of at most {mm(limit + thickness_mm + follow.packing - CONTACT_MM)} mm"
        ),
        place=place_in(step, f"{job.path}.length"),
    )


def base_finding(
    step: Step, piece: str, wood: Region, line: Region, base_mm: float, wider: Region | None
) -> Finding | None:
    """What is said where a round base tips. ``wider`` is the wood with a full margin, where it has less; None for
    a template that is followed round its outside."""
    places = path_points(line, within=wider is not None)
    if not places:
        return None
    found = supported(wood, places, base_mm)
    if found.inside_mm >= INSIDE_MM:
        return None
    cures = []
    fix: tuple[tuple[str, float], ...] = ()
    if wider is not None:
        larger = base_needed(wood, places, base_mm)
        if larger is not None:
            cures.append(f"a sub-base of {mm(larger)} mm radius")
            fix = ((f"steps.{step.name}.base", larger),)
        if wider is not wood and supported(wider, places, base_mm).inside_mm >= INSIDE_MM:
            cures.insert(0, f"a margin of {mm(base_mm + INSIDE_MM)} mm")
            fix = ((f"steps.{step.name}.margin", base_mm + INSIDE_MM),)
        cures.append("an island of the same thickness stuck down inside the opening")
    else:
        cures.append("a strip of the same thickness laid beside the work")
        cures.append(
            f"a sub-base that reaches {mm(base_mm + INSIDE_MM - found.inside_mm)} mm in over the template"
        )
    out = f"{mm(-found.inside_mm)} mm outside" if found.inside_mm < 0 else f"only {mm(found.inside_mm)} mm inside"
    return Finding(
        check="router-tips",
        severity="ask" if wider is not None else "note",
        message=(
            f"On {piece} a router base of {mm(base_mm)} mm radius can tip: its centre comes to lie {out} of the "
            f"wood that carries it."
        ),
        step=step.name,
        piece=piece,
        at_mm=found.at,
        measured=found.inside_mm,
        limit=INSIDE_MM,
        remedy=", or ".join(cures),
        place=place_in(step, "margin" if wider is not None else "base"),
        fix=fix,
    )
