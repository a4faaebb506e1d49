"""What keeps laminations in register: dowels that stay in the wood, and index pins that tie set-ups together.

Two roles of holes. Dowels (`role: dowel`, in `cut`) stand at the same place in all laminations that they join;
a blind one is bored 2 deeper than the dowel is long, so that glue has somewhere to go. Index pins come out again.
Rules: trade.md 2.1 (derived) and 6.4 (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise, permutations
from typing import Any

import shapely
from shapely.affinity import affine_transform

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.common import mm, place_in
from pipeline.steps.heights import Floor, Span
from pipeline.steps.stack_mix import PLY_MM
from pipeline.steps.values import Cut

DEEPER_MM = 2.0
"""How much deeper than its dowel a blind hole is."""
SAME_MM = 1.0
"""Two patterns that agree within this are the same to a hand with a mallet."""
CLEARANCE_MM = 0.1
"""A hole's diameter over its pin's (common practice, no source)."""
SAME_EDGE = 0.02
"""Outlines that differ by less than this share of their area look the same to whoever stacks them."""

Move = tuple[float, float, float, float, float, float]
"""(a, b, d, e, x, y): x' = a·x + b·y + x, y' = d·x + e·y + y, as shapely takes it."""


def is_dowel(cut: Cut) -> bool:
    """True for a hole that a dowel of the glue-up goes into."""
    return cut.fit == "dowel" and cut.diameter_mm is not None and cut.lamination is None


def turn_error(clearance_mm: float, spacing_mm: float, beyond_mm: float) -> float:
    """How far a point ``beyond_mm`` past two pins can lie off: δ/2 + δ·D/L (trade.md 2.1)."""
    return clearance_mm / 2 + clearance_mm * beyond_mm / spacing_mm


def register_numbers(
    dowels: Sequence[Floor], pins: Sequence[Cut], levels: Sequence[Span], outline: Region
) -> dict[str, Any]:
    """Each hole with its role; of dowels the laminations they join and their length; spacings and errors."""
    rows: list[dict[str, Any]] = []
    for floor in dowels:
        low, high = _reach(floor)
        rows.append(
            {
                "hole": floor.cut.name,
                "role": "dowel",
                "at_mm": list(floor.cut.region.centroid),
                "diameter_mm": floor.cut.diameter_mm,
                "through": floor.through,
                "laminations": [v.number for v in levels if low < v.z1 - 1e-6 and high > v.z0 + 1e-6],
                "dowel_length_mm": high - low - (0.0 if floor.through else DEEPER_MM),
            }
        )
    rows += [
        {"hole": c.name, "role": "index", "at_mm": list(c.region.centroid), "diameter_mm": c.diameter_mm}
        for c in pins
    ]
    found: dict[str, Any] = {"holes": rows}
    for role, cuts in (("dowel", [f.cut for f in dowels]), ("index", list(pins))):
        spacing = _spacing(cuts)
        if spacing > 0.0:
            found[f"{role}_spacing_mm"] = spacing
            found[f"{role}_error_mm"] = turn_error(CLEARANCE_MM, spacing, _beyond(cuts, outline))
    return found if rows else {}


def _reach(floor: Floor) -> tuple[float, float]:
    """z from and to of a hole."""
    floor_z = floor.height(floor.depth)
    return (floor_z, floor.total) if floor.face == "front" else (0.0, floor_z)


def _spacing(cuts: Sequence[Cut]) -> float:
    """The distance between the two holes that lie farthest apart."""
    return max((math.dist(a.region.centroid, b.region.centroid) for a, b in combinations(cuts, 2)), default=0.0)


def _beyond(cuts: Sequence[Cut], outline: Region) -> float:
    """The farthest that the outline reaches past its nearest hole."""
    points = shapely.points(outline.polygon.convex_hull.exterior.coords)
    holes = shapely.MultiPoint([c.region.centroid for c in cuts])
    return float(max(shapely.distance(points, holes)))


# -- what can be put on the wrong way ----------------------------------------------------------------
def wrong_ways(cuts: Sequence[Cut], outline: Region | None) -> tuple[str, ...]:
    """How a piece can be put on its pins wrongly: "turned by 180 degrees", "turned over", or nothing.

    Every turn in the plane that takes each hole onto one of the same diameter (within SAME_MM) is one. Turning
    over counts only where it also takes the outline onto itself, since it shows at the edge otherwise; with no
    outline (index pins, about whose line a blank is turned over on purpose) it never counts.
    """
    found: list[str] = []
    for move, turned, over in _moves(cuts):
        if not over:
            found.append(f"turned by {turned:.0f} degrees")
        elif outline is not None and _same_edge(outline, move):
            found.append("turned over")
    return tuple(sorted(set(found)))


def _moves(cuts: Sequence[Cut]) -> Iterator[tuple[Move, float, bool]]:
    """Every move that takes the holes onto each other, with its turn in degrees, and whether it turns over."""
    holes = [(*c.region.centroid, c.diameter_mm or 0.0) for c in cuts]
    if len(holes) < 2:
        return
    a, b = max(combinations(range(len(holes)), 2), key=lambda ij: math.dist(holes[ij[0]][:2], holes[ij[1]][:2]))
    way = math.atan2(holes[b][1] - holes[a][1], holes[b][0] - holes[a][0])
    for i, j in permutations(range(len(holes)), 2):
        if abs(math.dist(holes[i][:2], holes[j][:2]) - math.dist(holes[a][:2], holes[b][:2])) > SAME_MM:
            continue
        to = math.atan2(holes[j][1] - holes[i][1], holes[j][0] - holes[i][0])
        for over in (False, True):
            t = to + way if over else to - way
            c, s = math.cos(t), math.sin(t)
            linear = (c, s, s, -c) if over else (c, -s, s, c)
            # Middle onto middle, so that what spacings differ by is shared between both ends.
            mx, my = (holes[a][0] + holes[b][0]) / 2, (holes[a][1] + holes[b][1]) / 2
            nx, ny = (holes[i][0] + holes[j][0]) / 2, (holes[i][1] + holes[j][1]) / 2
            x = nx - linear[0] * mx - linear[1] * my
            y = ny - linear[2] * mx - linear[3] * my
            turned = math.degrees(t) % 360.0
            turned = min(turned, 360.0 - turned)
            if not over and turned < 1.0:
                continue
            move = (*linear, x, y)
            if _onto(holes, move):
                yield move, turned, over


def _onto(holes: Sequence[tuple[float, float, float]], move: Move) -> bool:
    left = list(holes)
    for x, y, d in holes:
        to = (move[0] * x + move[1] * y + move[4], move[2] * x + move[3] * y + move[5])
        hit = next((h for h in left if abs(h[2] - d) < SAME_MM and math.dist(h[:2], to) <= SAME_MM), None)
        if hit is None:
            return False
        left.remove(hit)
    return True


def _same_edge(outline: Region, move: Move) -> bool:
    moved = affine_transform(outline.polygon, list(move))
    return bool(outline.polygon.symmetric_difference(moved).area <= SAME_EDGE * outline.area)


# -- what is said ----------------------------------------------------------------------------------
def register_findings(
    step: Step,
    numbers: dict[str, Any],
    dowels: Sequence[Cut],
    pins: Sequence[Cut],
    levels: Sequence[Span],
    outline: Region,
) -> list[Finding]:
    """Questions: a pattern that fits the wrong way too, and a joint that no dowels hold (a veneer needs none)."""
    found: list[Finding] = []
    for role, cuts, edge in (("dowels", dowels, outline), ("index pins", pins, None)):
        ways = wrong_ways(cuts, edge)
        if ways:
            names = ", ".join(c.name for c in cuts)
            x, y = cuts[0].region.centroid
            found.append(
                Finding(
                    check="register-symmetric",
                    severity="ask",
                    message=(
                        f"On the {role} {names} a lamination of {step.name} fits {' and '.join(ways)} as well."
                    ),
                    step=cuts[0].step,
                    at_mm=(x, y),
                    measured=float(len(ways)),
                    limit=0.0,
                    unit="ways",
                    remedy=(
                        f"make one of them {mm((cuts[0].diameter_mm or 0.0) + 2.0)} wide"
                        if ways[0].startswith("turned by")
                        else "move one of them 10 mm off the line about which the outline is symmetric"
                    ),
                    place=place_in(step, "cut"),
                )
            )
    if not dowels:
        return found
    joined = [set(r["laminations"]) for r in numbers["holes"] if r["role"] == "dowel"]
    thick = [a.number for a, b in pairwise(levels) if min(a.thickness, b.thickness) >= PLY_MM]
    loose = [k for k in thick if sum(k in j and k + 1 in j for j in joined) < 2]
    if loose:
        k = loose[0]
        held = sum(k in j and k + 1 in j for j in joined)
        x, y = dowels[0].region.centroid
        more = f" (and {len(loose) - 1} more {'joint' if len(loose) == 2 else 'joints'})" if len(loose) > 1 else ""
        found.append(
            Finding(
                check="register-loose",
                severity="ask",
                message=(
                    f"{held} {'dowel holds' if held == 1 else 'dowels hold'} lamination {k + 1} of {step.name} on "
                    f"lamination {k}{more}; one dowel lets it turn and none lets it slip."
                ),
                step=dowels[0].step,
                at_mm=(x, y),
                measured=float(held),
                limit=2.0,
                unit="dowels",
                remedy="bore two dowels through every lamination, or deep enough to reach into each",
                place=place_in(step, "cut"),
            )
        )
    return found
