"""The tasks of a glued blank: from its laminations to the shape that is fitted and finished."""

from __future__ import annotations

from pipeline.core.text import listed
from pipeline.steps import cavity, stack
from pipeline.steps.values import Blank, Derived, Piece
from pipeline.workshop.cutting import set_up_tasks
from pipeline.workshop.glue_work import glue_tasks
from pipeline.workshop.hand_work import Bench, routed, trimmed
from pipeline.workshop.stock_work import Cut
from pipeline.workshop.tasks import MACHINE, Plan

CARVE_RULE = "carve until the corner at the glue line just disappears, and no further"


def blank_tasks(plan: Plan, derived: Derived, blank: Blank, cut: Cut) -> list[str]:
    """Glue-up, machining, hand work of one blank; the keys that finishing waits for."""
    mine = [p for p in derived.pieces if p.name in {v.piece for v in blank.laminations}]
    spec = derived.recipe.steps[blank.step].spec
    spec = spec if isinstance(spec, stack.Spec) else None
    parts = [key for p in mine for key in cut[p.name]]
    last = glue_tasks(plan, derived, blank, mine, parts, goes_on=bool(blank.set_ups or blank.by_hand))
    start, because = ("new-files", "") if len(mine) > 1 else ("made", "the blank has to be cut first")
    machined = list(set_up_tasks(plan, derived.recipe, blank, MACHINE, last, start, because))
    done = machined or last
    bench = Bench(plan, blank, "off-table" if machined else start)
    freed = any(op.work == "CUT_OUTSIDE" for s in blank.set_ups for op in s.ops)
    if freed:
        done = [bench.do("1 release", f"free {blank.name} and trim its bridges", done, "release")]
    ends = routed(bench, derived, mine, cut, done)
    walls = done
    outline = spec.outline if spec else ""
    if not freed and (spec is None or spec.ears or any(p.allowance_mm for p in mine)):
        walls = trimmed(bench, derived, mine, cut, done, ends)
    elif outline in ends:
        walls = ends[outline]
    edged = _edges(bench, derived, walls, [k for keys in ends.values() for k in keys])
    _carved(bench, derived, mine, edged or walls, ends)
    return plan.last(blank.name) or parts


def _edges(bench: Bench, derived: Derived, walls: list[str], cavities: list[str]) -> list[str]:
    """Mouths plugged, then roundings while the faces are flat, then what takes them away; the last tasks."""
    blank = bench.blank
    by_bit = [e for e in blank.edges if e.kind == "round" and e.by == "bit"]
    mouths = _mouths(derived, blank) if by_bit else []
    plugged = []
    if mouths:
        names = listed(mouths, "and")
        work = f"plug the mouth of {names} flush with the side, or stop the cut where it begins"
        plugged = [
            bench.do(
                "2 plug",
                work,
                [*walls, *cavities],
                "made",
                f"{names} must be cut before its mouth is plugged",
            )
        ]
    rounded: list[str] = []
    rows = dict.fromkeys((e.kind, e.face, e.size_mm, e.by) for e in blank.edges)
    for n, (_, face, size, by) in enumerate(r for r in rows if r[0] == "round"):
        if by == "bit":
            key = bench.do(
                f"3 round {n}", f"round the {face} edge {size:g}: end grain first, in two passes",
                walls, "full-wall",
                face=face, cutter=f"rounding bit r {size:g} with bearing",
            )  # fmt: skip
            bench.plan.wait(
                key,
                plugged,
                "plug",
                f"the bearing must not fall into the mouth of {listed(mouths, 'and')}" if mouths else "",
            )
        else:
            key = bench.do(
                f"3 round {n}",
                f"round the {face} edge {size:g} with rasp and paper",
                walls,
                "made",
                "the edge has to be there first",
            )
        bench.plan.wait(key, cavities, "flat-base", "the router that cuts cavities needs the whole flat face")
        rounded.append(key)
    last = rounded
    for n, (kind, face, size, _) in enumerate(r for r in rows if r[0] != "round"):
        blend = "; blend it by hand into the rounding" if any(r[:2] == ("round", face) for r in rows) else ""
        work = (
            f"bevel the {face} edge to its lines, {size:g} down{blend}"
            if kind == "bevel"
            else f"carve the hollow of the {face} edge until its depth holes just vanish{blend}"
        )
        key = bench.do(f"4 {kind} {n}", work, rounded or walls, "flat-base" if rounded else "made",
                       "" if rounded else "the edge has to be there first")  # fmt: skip
        bench.plan.wait(key, cavities, "flat-base")
        last = [*last, key]
    return last


def _carved(
    bench: Bench, derived: Derived, mine: list[Piece], after: list[str], ends: dict[str, list[str]]
) -> None:
    """Carving to lines that were drawn on the laminations, or on the blank where no edge treatment does it."""
    blank = bench.blank
    lined = any(op.work == "CARVE_LINE" for p in mine for s in p.set_ups for op in s.ops)
    lined = lined or derived.recipe.steps[blank.step].kind == "carved"
    drawn = any(op.work == "CARVE_LINE" for s in blank.set_ups for op in s.ops)
    if lined or (not blank.edges and drawn):
        reason, because = ("flat-base", "") if blank.edges else ("made", "the glued blank has to be there first")
        key = bench.do("5 carve", f"carve to the lines: {CARVE_RULE}", after, reason, because)
        bench.plan.wait(key, [k for keys in ends.values() for k in keys], "flat-base")


def _mouths(derived: Derived, blank: Blank) -> list[str]:
    """The cavities of a blank that open through its edge, before the roundings come."""
    spec = derived.recipe.steps[blank.step].spec
    if not isinstance(spec, stack.Spec):
        return []
    named = dict.fromkeys((*spec.cut, *spec.cut_blank, *blank.by_hand))
    found = {n: derived.recipe.steps[n].spec for n in named if n in derived.recipe.steps}
    return [n for n, s in found.items() if isinstance(s, cavity.Spec) and s.open is not None]
