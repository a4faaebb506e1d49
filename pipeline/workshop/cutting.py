"""The tasks of set-ups: what is cut with which cutter, and what has to come first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.steps import holes
from pipeline.steps.values import Blank, Op, Piece, SetUp
from pipeline.workshop.arrange import Link, Task
from pipeline.workshop.cutters import CUTS, cutter_for, cutter_name, shop_named

LAST_THINGS = ("CUT_INSIDE", "CUT_OUTSIDE")
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
LOCATES = "all that follows is located from the index holes"
LENS = "once the outside is cut the piece can drop or tilt under the lens"
CLAMP = "what is around it is the clamp: the cut that frees the work comes last"
FLAT = "marks and text come out true only while the sheet lies flat and whole"
ONE_FLIP = "a side is finished before the work is turned, so it is turned only once"
FACE_DOWN = "this face lies down until the work is turned"


@dataclass(slots=True)
class Plan:
    """Tasks and links as they are gathered."""

    tasks: list[Task] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)

    def add(self, task: Task, after: Iterable[str] = (), because: str = "") -> str:
        """Adds a task that waits for others; gives its key."""
        self.tasks.append(task)
        self.wait(task.key, after, because)
        return task.key

    def wait(self, key: str, after: Iterable[str], because: str) -> None:
        self.links += [Link(before=b, after=key, because=because) for b in dict.fromkeys(after)]


@dataclass(frozen=True, slots=True)
class _Group:
    """Operations of one set-up that one cutter does in one go."""

    work: str
    cutter: str
    ops: tuple[Op, ...]
    index: bool


def set_up_tasks(
    plan: Plan, recipe: Recipe, subject: Piece | Blank, stage: int, after: Iterable[str], because: str
) -> tuple[str, ...]:
    """Adds the tasks of all set-ups of a piece or blank, in their working order; gives all their keys.

    ``after`` is what all of them wait for, and why.
    """
    made: list[str] = []
    before: list[str] = []
    shop = shop_named(recipe, subject.shop)
    for i, set_up in enumerate(subject.set_ups):
        if i:
            flip = plan.add(
                Task(
                    key=f"{subject.name}.{i} turn over",
                    work=f"turn {subject.name} over{_times(subject.count)}",
                    stage=stage,
                    clamping=f"{subject.name} {set_up.face}",
                    piece=subject.name,
                    face=set_up.face,
                    who=shop.name,
                ),
                before,
                ONE_FLIP,
            )
            made.append(flip)
            before, after, because = [], (flip,), FACE_DOWN
        before = _one_set_up(plan, recipe, subject, set_up, i, shop, stage, after, because)
        made += before
    return tuple(made)


def _one_set_up(
    plan: Plan,
    recipe: Recipe,
    subject: Piece | Blank,
    set_up: SetUp,
    number: int,
    shop: Shop,
    stage: int,
    after: Iterable[str],
    because: str,
) -> list[str]:
    groups = _groups(recipe, set_up, shop, subject.thickness_mm)
    keys: list[str] = []
    for n, g in enumerate(groups):
        name = f"{subject.name}.{number}.{n} {VERBS[g.work]}"
        task = Task(
            key=name,
            work=_told(g, subject.count),
            stage=stage,
            clamping=f"{subject.name} {set_up.face}",
            piece=subject.name,
            face=set_up.face,
            cutter=g.cutter,
            who=shop.name,
        )
        plan.add(task, after, because)
        for earlier, e in zip(keys, groups, strict=False):
            reason = _reason(e, g, shop)
            if reason:
                plan.wait(name, (earlier,), reason)
        keys.append(name)
    return keys


def _groups(recipe: Recipe, set_up: SetUp, shop: Shop, thickness_mm: float) -> list[_Group]:
    """Operations by work and cutter: index holes first, openings and outside last."""
    found: dict[tuple[bool, bool, int, str], list[Op]] = {}
    for op in set_up.ops:
        if op.work not in CUTS:
            continue
        index = op.work in ("DRILL", "CUT_INSIDE") and _is_index(recipe, op.step)
        cutter = cutter_name(op, shop, cutter_for(op, shop, thickness_mm))
        freeing = op.work in LAST_THINGS and not index
        found.setdefault((not index, freeing, CUTS.index(op.work), cutter), []).append(op)
    texts = tuple(label for label in set_up.labels if label.engrave)
    if texts and not any(op.work == "ENGRAVE" for op in set_up.ops):
        engrave = Op(work="ENGRAVE", face=set_up.face, contours=())
        cutter = cutter_name(engrave, shop, cutter_for(engrave, shop, thickness_mm))
        found[(True, False, CUTS.index("ENGRAVE"), cutter)] = [engrave]
    return [
        _Group(ops[0].work, cutter, tuple(ops), not plain)
        for (plain, _, _, cutter), ops in sorted(found.items(), key=lambda item: item[0])
    ]


def _is_index(recipe: Recipe, step: str) -> bool:
    spec = recipe.steps[step].spec if step in recipe.steps else None
    return isinstance(spec, holes.Spec) and spec.role == "index"


def _reason(earlier: _Group, later: _Group, shop: Shop) -> str:
    """Why one group waits for an earlier one of the same set-up; empty when it needn't."""
    if later.index:
        return ""
    if earlier.index:
        return LOCATES
    if later.work not in LAST_THINGS or later.work == earlier.work:
        return ""
    if earlier.work in ("ENGRAVE", "SCORE"):
        return FLAT
    if later.work == "CUT_INSIDE":
        return "" if shop.process == "router" else LENS
    return CLAMP if shop.process == "router" else LENS


def _told(group: _Group, copies: int) -> str:
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
    return f"{verb}{where}{''.join(f', {d}' for d in depths if d)}{_times(copies)}"


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
