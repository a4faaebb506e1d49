"""Does what `edge:` of a stack asks for: every treatment by itself, then the wall that two of them leave.

Nothing here is cut by the machine, except holes that tell the depth of a hollow where the recipe asks for them:
the laminations' outlines stay full, the lines are drawn in the set-ups that there are, and all numbers are told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from pipeline.core.findings import Finding
from pipeline.geometry.alongside import Interval, Rim, common
from pipeline.geometry.rounding import largest_radius
from pipeline.steps.common import mm, refuse_all
from pipeline.steps.edge import Edge, problems
from pipeline.steps.edge_bevel import make_bevel
from pipeline.steps.edge_ground import Ground, Told, finding, stretches
from pipeline.steps.edge_round import make_round
from pipeline.steps.edge_scoop import make_scoop
from pipeline.steps.heights import Floor
from pipeline.steps.values import EdgeRun, Op, SetUp

MAKERS = {"round": make_round, "bevel": make_bevel, "scoop": make_scoop}


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """What comes of all treatments: runs for the blank, ``guides`` to be drilled in it, lines for its set-ups."""

    runs: tuple[EdgeRun, ...] = ()
    guides: tuple[Floor, ...] = ()
    ops: tuple[Op, ...] = ()
    numbers: tuple[dict[str, Any], ...] = ()
    findings: tuple[Finding, ...] = ()
    reports: tuple[str, ...] = ()

    def drawn(self, set_ups: tuple[SetUp, ...]) -> tuple[SetUp, ...]:
        """The set-ups with the lines of their face, never cut; a face without work stays without one."""
        return tuple(
            replace(s, ops=(*s.ops, *mine)) if (mine := [o for o in self.ops if o.face == s.face]) else s
            for s in set_ups
        )


def treated(g: Ground, edge: Edge | None) -> Edges:
    """All treatments of a blank's edges. Raises Refused where the fields make no sense together."""
    if edge is None:
        return Edges()
    refuse_all(problems(g.step, edge))
    told: list[tuple[int, Told]] = []
    for face, number, t in edge.all():
        told.append((number, MAKERS[t.kind](g, face, number, t, stretches(g, face, number, t))))
    walls = _walls(g, told)
    rows = []
    for number, v in told:
        wall = min((w for f, n, w, _, _ in walls if (f, n) == (v.face, number)), default=None)
        rows.append({**v.row, **({"wall_left_mm": wall} if wall is not None else {})})
    return Edges(
        runs=tuple(r for _, v in told for r in v.runs),
        guides=tuple(f for _, v in told for f in v.guides),
        ops=tuple(o for _, v in told for o in v.ops),
        numbers=tuple(rows),
        findings=(*(f for _, v in told for f in v.findings), *_too_low(g, told, walls)),
        reports=tuple(s for _, v in told for s in v.reports),
    )


# -- the wall for the bearing ------------------------------------------------------------------------
Wall = tuple[str, int, float, Told | None, tuple[float, float]]
"""(face, number, wall left, what takes the rest from the other face, place)."""


def _walls(g: Ground, told: list[tuple[int, Told]]) -> list[Wall]:
    """The straight wall that each rounding by a bit finds under its curve, alone and against the other face."""
    found: list[Wall] = []
    for number, v in told:
        if not v.treatment.by_bit:
            continue
        alone = g.total - v.treatment.reach
        where = _first(v)
        if where is None:
            continue
        found.append((v.face, number, alone, None, where))
        for _, other in told:
            if other.face == v.face:
                continue
            meet = _meeting(v, other)
            if meet is not None:
                found.append((v.face, number, alone - other.treatment.reach, other, meet))
    return found


def _first(v: Told) -> tuple[float, float] | None:
    for s in v.stretches:
        for i in s.runs:
            return _middle(s.rim, i)
    return None


def _meeting(one: Told, two: Told) -> tuple[float, float] | None:
    """The middle of a stretch of the edge that both treat."""
    for a in one.stretches:
        for b in two.stretches:
            if a.rim is b.rim:
                for i in common(a.runs, b.runs, a.rim.length):
                    return _middle(a.rim, i)
    return None


def _middle(rim: Rim, i: Interval) -> tuple[float, float]:
    return rim.point((i[0] + i[1]) / 2)


def _too_low(g: Ground, told: list[tuple[int, Told]], walls: list[Wall]) -> list[Finding]:
    """A `stop` for the second of two roundings that leave the bearing no wall, or for one that leaves none."""
    found: list[Finding] = []
    for number, v in told:
        t = v.treatment
        mine = [w for w in walls if (w[0], w[1]) == (v.face, number) and w[2] < t.bearing_height - 1e-9]
        if not mine:
            continue
        _, _, wall, other, at = min(mine, key=lambda w: w[2])
        if other is not None and other.treatment.by_bit and v.face == "front":
            continue  # told once, at the back edge, which is the second one
        radius = t.round or 0.0
        if other is None:
            most = largest_radius(g.total, t.bearing_height, 1)
            first = f"round it by {mm(most)} at most" if most > 0 else "make the blank thicker"
        elif other.treatment.kind == "round":
            most = largest_radius(g.total, t.bearing_height, 2)
            first = f"round both edges by {mm(most)} at most" if most > 0 else "make the blank thicker"
        else:
            most = largest_radius(g.total - other.treatment.reach, t.bearing_height, 1)
            first = (
                f"round it by {mm(most)} at most" if most > 0 else f"stop it where the {other.face} is taken down"
            )
        rest = " and the other edge" if other is not None else ""
        found.append(
            finding(
                g,
                v.face,
                number,
                "round",
                check="edge-wall",
                severity="stop",
                message=(
                    f"Under the {v.face} rounding of {mm(radius)}{rest} {mm(max(wall, 0.0))} mm of straight wall "
                    f"are left of {mm(g.total)}, and the bearing is {mm(t.bearing_height)} high."
                ),
                at=at,
                measured=wall,
                limit=t.bearing_height,
                remedy=(
                    f"{first}; or rout the second edge with the offcut taped back on, rout it at a table with a "
                    "fence, or take a rasp (`by: hand`)"
                ),
            )
        )
    return found
