"""The tasks of set-ups: what is cut with which cutter, and what has to come first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely

from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.core.text import listed
from pipeline.steps import cavity, holes
from pipeline.steps.values import Blank, Op, Piece, SetUp
from pipeline.workshop.cutters import CUTS, cutter_for, cutter_name, enclosed, shop_named
from pipeline.workshop.layout import nest_set_up
from pipeline.workshop.tasks import Plan, Task

LAST_THINGS = ("CUT_INSIDE", "CUT_OUTSIDE")
MARKS = ("ENGRAVE", "SCORE")
VERBS = {
    "DRILL": "drill",
    "POCKET": "pocket",
    "RAMP": "pocket with a sloped floor",
    "GROOVE": "cut grooves",
    "ENGRAVE": "engrave",
    "SCORE": "score the marks",
    "CUT_INSIDE": "cut the openings",
    "CUT_OUTSIDE": "cut the outside",
}
LIGHT_PASS = "last, in a light pass with a fresh cutter"


@dataclass(frozen=True, slots=True)
class _Group:
    """Operations of one set-up that one cutter does in one go."""

    work: str
    cutter: str
    ops: tuple[Op, ...]
    index: bool


@dataclass(frozen=True, slots=True)
class _Bed:
    """Where a set-up lies: the words of its clamping, its headline, and how its tasks' keys begin."""

    clamping: str
    group: str
    key: str


def set_up_tasks(
    plan: Plan,
    recipe: Recipe,
    subject: Piece | Blank,
    stage: int,
    after: Iterable[str],
    reason: str,
    because: str = "",
) -> tuple[str, ...]:
    """Adds the tasks of all set-ups of a piece or blank, in their working order; gives all their keys.

    ``after`` is what all of them wait for, and why.
    """
    made: list[str] = []
    before: list[str] = []
    earlier: list[tuple[str, _Group]] = []
    shop = shop_named(recipe, subject.shop)
    table = _table(plan, subject, shop, stage, after)
    for i, set_up in enumerate(subject.set_ups):
        bed = _bed(subject, set_up, i, shop)
        on_pins = bool(table) and any(op.work == "INDEX" for op in set_up.ops)
        if i:
            flip = plan.add(
                Task(
                    key=f"{bed.key} turn over",
                    work=f"turn {subject.name} over{' onto its pins' if on_pins else ''}{_times(subject.count)}",
                    stage=stage,
                    clamping=bed.clamping,
                    piece=subject.name,
                    face=set_up.face,
                    who=shop.name,
                    group=bed.group,
                    steps=(subject.step,),
                ),
                before,
                "one-flip",
            )
            made.append(flip)
            before, after, reason, because = [], (flip,), "face-down", ""
        added = _one_set_up(plan, recipe, subject, set_up, bed, stage, after, reason, because, earlier)
        before = [key for key, _ in added]
        if on_pins:
            for key in (flip,) if i else before:
                plan.wait(key, (table,), "pins")
        earlier += added
        made += before
    return tuple(made)


def _bed(subject: Piece | Blank, set_up: SetUp, number: int, shop: Shop) -> _Bed:
    if isinstance(subject, Piece) and shop.wants == "nests" and set_up.face == nest_set_up(subject).face:
        sheet = f"{subject.sheet} {subject.letter}".strip()
        return _Bed(f"sheet {sheet}", f"Sheet {sheet} ({shop.name})", f"sheet {sheet}.")
    face = f", {set_up.face} up" if len(subject.set_ups) > 1 or set_up.face == "back" else ""
    name = f"{subject.name} {set_up.face}"
    return _Bed(name, f"{subject.name}{face} ({shop.name})", f"{subject.name}.{number}")


def _table(plan: Plan, subject: Piece | Blank, shop: Shop, stage: int, after: Iterable[str]) -> str:
    """The machine's table is made ready for pins where a set-up stands on them; the task's key, or ""."""
    if not any(op.work == "INDEX" for s in subject.set_ups for op in s.ops):
        return ""
    task = Task(
        key=f"{subject.name} table",
        work=f"skim the machine's table and bore its pin holes for {subject.name}",
        stage=stage,
        who=shop.name,
        group=f"The machine's table ({shop.name})",
        because="pins need true holes, square to a flat table",
        kind="place",
        steps=(subject.step,),
    )
    return plan.add(task, after, "pins", "pins need true holes, square to a flat table")


def _one_set_up(
    plan: Plan,
    recipe: Recipe,
    subject: Piece | Blank,
    set_up: SetUp,
    bed: _Bed,
    stage: int,
    after: Iterable[str],
    reason: str,
    because: str,
    faces_done: Sequence[tuple[str, _Group]],
) -> list[tuple[str, _Group]]:
    shop = shop_named(recipe, subject.shop)
    made: list[tuple[str, _Group]] = []
    for n, g in enumerate(_groups(recipe, set_up, shop, subject.thickness_mm)):
        order = f"{_rank(g)} {subject.name}.{n}" if bed.key.endswith(".") else f".{n}"
        behind = _open_behind(g, faces_done)
        block = f", a block behind them in {listed(dict.fromkeys(behind.values()), 'and')}" if behind else ""
        own = () if isinstance(subject, Piece) and subject.role == "lamination" else (subject.step,)
        key = plan.add(
            Task(
                key=f"{bed.key}{order} {VERBS[g.work]}",
                work=_told(g, recipe, shop, subject.count) + block,
                stage=stage,
                clamping=bed.clamping,
                piece=subject.name,
                face=set_up.face,
                cutter=g.cutter,
                who=shop.name,
                group=bed.group,
                steps=tuple(dict.fromkeys((*(op.step for op in g.ops if op.step in recipe.steps), *own))),
            ),
            after,
            reason,
            because,
        )
        for earlier, e in made:
            why = _why(e, g, shop)
            if why:
                plan.wait(key, (earlier,), why)
        for pocket, steps in behind.items():
            plan.wait(
                key, (pocket,), "back-up", f"{steps} is open behind these holes, so a block backs them there"
            )
        made.append((key, g))
    return made


def _groups(recipe: Recipe, set_up: SetUp, shop: Shop, thickness_mm: float) -> list[_Group]:
    """Operations by work and cutter: index holes first, openings and outside last. What the recipe asks an
    order for stands alone."""
    apart = {name for s in recipe.steps.values() if s.after for name in (s.name, *s.after)}
    found: dict[tuple[bool, bool, int, str, str], list[Op]] = {}
    for op in set_up.ops:
        if op.work not in CUTS:
            continue
        index = op.work in ("DRILL", "CUT_INSIDE") and _is_index(recipe, op.step)
        cutter = cutter_name(op, shop, cutter_for(op, shop, thickness_mm))
        freeing = op.work in LAST_THINGS and not index
        alone = op.step if op.step in apart else ""
        found.setdefault((not index, freeing, CUTS.index(op.work), cutter, alone), []).append(op)
    texts = tuple(label for label in set_up.labels if label.engrave)
    if texts and not any(op.work == "ENGRAVE" for op in set_up.ops):
        engrave = Op(work="ENGRAVE", face=set_up.face, contours=())
        cutter = cutter_name(engrave, shop, cutter_for(engrave, shop, thickness_mm))
        found[(True, False, CUTS.index("ENGRAVE"), cutter, "")] = [engrave]
    return [
        _Group(ops[0].work, key[3], tuple(ops), not key[0])
        for key, ops in sorted(found.items(), key=lambda item: item[0])
    ]


def _rank(group: _Group) -> int:
    """Where a work comes on a whole sheet: marks while everything lies flat, outsides last."""
    if group.index:
        return 0
    return 1 if group.work in MARKS else 2 + CUTS.index(group.ops[0].work)


def _is_index(recipe: Recipe, step: str) -> bool:
    spec = recipe.steps[step].spec if step in recipe.steps else None
    return isinstance(spec, holes.Spec) and spec.role == "index"


def _why(earlier: _Group, later: _Group, shop: Shop) -> str:
    """Why one group waits for an earlier one of the same set-up, by name; empty when it needn't."""
    if later.index:
        return ""
    if earlier.index:
        return "located"
    if later.work not in LAST_THINGS or later.work == earlier.work:
        return ""
    if shop.process == "laser":
        return "lens"
    if later.work == "CUT_OUTSIDE":
        return "clamp"
    return "mark-first" if earlier.work in MARKS else ""


def _open_behind(group: _Group, earlier: Sequence[tuple[str, _Group]]) -> dict[str, str]:
    """The pockets from the other face that through holes break into: the key of each, and whose it is."""
    if group.work != "DRILL" or group.index or not earlier:
        return {}
    rings = [c.circle() for op in group.ops if op.through for c in op.contours]
    points = [shapely.Point(c[0], c[1]) for c in rings if c]
    return {
        key: ", ".join(dict.fromkeys(op.step for op in pocket.ops if op.step))
        for key, pocket in earlier
        if pocket.work in ("POCKET", "RAMP")
        and any(enclosed(op.contours).contains(p) for op in pocket.ops for p in points)
    }


def _told(group: _Group, recipe: Recipe, shop: Shop, copies: int) -> str:
    steps = dict.fromkeys(op.step for op in group.ops if op.step)
    count = sum(len(op.contours) for op in group.ops)
    verb = "cut the index holes" if group.index and group.work == "CUT_INSIDE" else VERBS[group.work]
    if group.index and group.work == "DRILL":
        verb = "bore the index holes"
    if group.work == "DRILL" and not group.index:
        verb = f"drill {count} {'hole' if count == 1 else 'holes'}"
    if group.work == "ENGRAVE" and not count:
        verb = "engrave the text"
    depths = dict.fromkeys(_depth(op) for op in group.ops)
    where = f" ({', '.join(steps)})" if steps and group.work != "CUT_OUTSIDE" else ""
    fits = [s for s in steps if group.work in ("POCKET", "RAMP") and shop.process == "router" and _fits(recipe, s)]
    walls = "its walls" if len(fits) == len(steps) == 1 else f"the walls of {listed(fits, 'and')}"
    end = f"; {walls} {LIGHT_PASS}" if fits else ""
    return f"{verb}{where}{''.join(f', {d}' for d in depths if d)}{_times(copies)}{end}"


def _fits(recipe: Recipe, step: str) -> bool:
    """Does something have to fit into this cavity?"""
    spec = recipe.steps[step].spec if step in recipe.steps else None
    return isinstance(spec, cavity.Spec) and spec.fit is not None


def _depth(op: Op) -> str:
    if op.work == "RAMP" and op.depth_mm is not None and op.deep_mm is not None:
        return f"{op.depth_mm:.2f} to {op.deep_mm:.2f} deep"
    if op.through:
        return f"{op.diameter_mm:g} through" if op.diameter_mm else "through"
    if op.depth_mm is None or op.work in LAST_THINGS:
        return ""
    wide = f"{op.diameter_mm:g} wide, " if op.diameter_mm else ""
    return f"{wide}{op.depth_mm:.2f} deep"


def _times(copies: int) -> str:
    return f", {copies} times" if copies > 1 else ""
