"""The `template` kind: patterns for a hand router (its fields; `template_make.py` does the work)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.fields import FaceName, Gap, SheetName, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import place_in

SERVED = ("outline", "offset", "cavity", "stack", "cover")


@dataclass(frozen=True, slots=True, kw_only=True)
class Follow:
    """What runs along the template: a bearing on the cutter or a guide bush round it (one of them)."""

    cutter: Size = field("diameter of the cutter")
    bearing: Size | None = field("diameter of the bearing", None)
    bush: Size | None = field("outside diameter of the guide bush", None)
    length: Size | None = field(
        "length of the cutting edge; tells how deep the first pass with a bearing is", None
    )
    packing: Gap = field("height of the packing between work and template", 0.0)
    collar: Size | None = field("how far the bush stands out below the router's base", None)
    reach: Size | None = field("how far the cutter comes out below the router's base at most", None)

    @property
    def diameter(self) -> float:
        """Diameter of the follower; the cutter's own when none is named."""
        return self.bearing or self.bush or self.cutter

    @property
    def offset(self) -> float:
        """Distance from the template's edge to the cut edge, (B − D)/2 (outside_checks K2, K5)."""
        return (self.diameter - self.cutter) / 2

    @property
    def kind(self) -> str:
        return "bush" if self.bush is not None else "bearing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Set:
    """Which templates a set holds, where it isn't simply all of them."""

    of: StepName = field("the stack, or its outline")
    cavities: Follow | tuple[Follow, ...] | None = field("the followers of its cavities, if others", None)
    covers: Follow | tuple[Follow, ...] | None = field("the followers of its covers, if others", None)
    without: tuple[StepName, ...] = field("what gets no template", ())
    mark: Size = field("diameter of the centre marks in the drill guide", 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What it serves and how it is followed."""

    of: StepName | None = field("the shape that shall come out", None)
    set_: StepName | Set | None = field("a stack or its outline: all templates that it needs, in one step", None)
    use: Literal["outside", "opening"] | None = field("follow it round the outside, or inside an opening", None)
    follow: Follow | tuple[Follow, ...] = field(
        "the follower and its cutter; of two, the first one roughs out and the second one finishes"
    )
    sheet: SheetName | None = field("the sheet it is cut from", None)
    recess: bool = field("serve the recess of a cavity with a ledge, not the cavity itself", False)
    ledge: bool = field(
        "serve a cavity and its recess by one hole: bush for the cavity, bearing for the recess", False
    )
    margin: Size | None = field("what stays round an opening; the router's base needs it: 90 when absent", None)
    base: Size = field("radius of the router's base", 80.0)
    face: FaceName | None = field("the face that lies up; that of the shape it serves when absent", None)
    index: StepName | None = field("index holes; those that fall inside its own solid are carried", None)
    marks: Literal["full", "text", "none"] = field(
        "what is engraved: text, arrows, centreline and crosses where they fit, the text alone, or nothing", "full"
    )
    windows: bool = field("slots on the centreline at both ends, to see the pencil line through", False)
    scored: bool = field("a scored centreline on the underside of clear plastic, in place of windows", False)
    material: Literal["wood", "acrylic"] = field("acrylic is engraved less deep", "wood")
    paper: bool = field("on paper alone: full size on the print, cut from no sheet", False)

    @property
    def stages(self) -> tuple[Follow, ...]:
        """The followers in the order in which they are used; the last one finishes."""
        return stages_of(self.follow)

    @property
    def whole_set(self) -> Set | None:
        """The set, also where the recipe names the stack alone."""
        return Set(of=self.set_) if isinstance(self.set_, str) else self.set_


def stages_of(follow: Follow | tuple[Follow, ...]) -> tuple[Follow, ...]:
    """One or several followers, as several."""
    return follow if isinstance(follow, tuple) else (follow,)


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of a template together."""
    spec: Spec = step.spec
    yield from _follow_problems(step, "follow", spec.stages)
    if spec.whole_set is not None:
        for path, follow in (("set.cavities", spec.whole_set.cavities), ("set.covers", spec.whole_set.covers)):
            if follow is not None:
                yield from _follow_problems(step, path, stages_of(follow))
    if (spec.of is None) == (spec.set_ is None):
        yield _problem(
            step, "set", f"{step.name} must serve one shape or be a whole set.", "exactly one of `of` and `set`"
        )
    elif spec.set_ is not None:
        yield from _set_problems(step, recipe)
    elif spec.use is None:
        yield _problem(
            step, "of", f"{step.name} doesn't say how it is followed.", "`use: outside` or `use: opening`"
        )
    if spec.paper == (spec.sheet is not None):
        yield _problem(
            step,
            "paper" if spec.paper else "follow",
            f"{step.name} is on paper, so no sheet is cut." if spec.paper else f"{step.name} has no sheet.",
            "exactly one of `sheet:` and `paper: true`",
        )
    if spec.windows and spec.scored:
        yield _problem(
            step,
            "scored",
            f"{step.name} has both windows and a scored line; one of them shows the pencil line.",
            "one of `windows: true` and `scored: true`",
        )
    if spec.use == "outside" and spec.margin is not None:
        yield _problem(
            step,
            "margin",
            f"{step.name} is followed round its outside, so nothing stays round it.",
            "`margin:` only with `use: opening`",
        )
    yield from _target_problems(step, recipe)
    index = recipe.steps.get(spec.index or "")
    if index is not None and not (index.kind == "holes" and index.spec.role == "index"):
        yield _problem(
            step, "index", f"{spec.index} holds no index holes.", "a step of kind holes with `role: index`"
        )


def _problem(step: Step, path: str, wrong: str, expected: str) -> Problem:
    return Problem(wrong=wrong, place=place_in(step, path), expected=expected)


def _follow_problems(step: Step, path: str, stages: tuple[Follow, ...]) -> Iterator[Problem]:
    if not 1 <= len(stages) <= 2:
        yield _problem(
            step,
            path,
            f"{step.name} names {len(stages)} followers.",
            "one follower, or two: one that roughs out and one that finishes",
        )
    for i, follow in enumerate(stages):
        at = path if len(stages) == 1 else f"{path}.{i}"
        if (follow.bearing is None) == (follow.bush is None):
            yield _problem(
                step,
                at,
                f"{step.name} must be followed by a bearing or by a bush.",
                "exactly one of `bearing` and `bush`, beside `cutter`",
            )
        if follow.bush is not None and follow.bush <= follow.cutter:
            yield _problem(
                step,
                f"{at}.bush",
                f"A cutter of {follow.cutter:g} doesn't pass through a bush of {follow.bush:g}.",
                "a bush wider than the cutter",
            )
        if follow.collar is not None and follow.bush is None:
            yield _problem(step, f"{at}.collar", "A bearing has no collar.", "`collar:` only beside `bush:`")
    if len(stages) == 2 and stages[0].offset <= stages[1].offset:
        yield _problem(
            step,
            path,
            f"The first follower of {step.name} leaves nothing for the second one: it cuts "
            f"{stages[0].offset:g} from the template's edge, the second one {stages[1].offset:g}.",
            "first the follower that keeps away, such as a bush, then the one that finishes, such as a bearing",
        )


def _target_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the one shape that a template serves."""
    spec: Spec = step.spec
    target = recipe.steps.get(spec.of or "")
    if target is None:
        return
    for path in ("recess", "ledge"):
        if getattr(spec, path) and not (target.kind == "cavity" and target.spec.ledge):
            yield _problem(step, path, f"{spec.of} has no ledge, so it has no recess.", "a cavity with `ledge:`")
    if spec.ledge and (len(spec.stages) != 2 or spec.use == "outside" or spec.recess):
        yield _problem(
            step,
            "ledge",
            f"{step.name} serves a cavity and its recess by one hole, so it needs two followers.",
            "`use: opening` with `follow: [{bush: …, cutter: …}, {bearing: …, cutter: …}]`, and no `recess`",
        )
    if target.kind not in SERVED:
        yield _problem(
            step,
            "of",
            f"No template can be made of {spec.of}: that is a step of kind {target.kind}.",
            "an outline, an offset, a cavity, a stack or a cover",
        )


def _set_problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    spec: Spec = step.spec
    wanted = spec.whole_set
    assert wanted is not None
    target = recipe.steps.get(wanted.of)
    for path in ("use", "recess", "ledge", "face"):
        if getattr(spec, path):
            yield _problem(
                step,
                path,
                f"{step.name} is a whole set, which knows its own `{path}`.",
                f"`set:` without `{path}:`",
            )
    if target is None:
        return
    stacks = [s for s in recipe.steps.values() if s.kind == "stack" and wanted.of in (s.name, s.spec.outline)]
    if not stacks:
        yield _problem(
            step,
            "set",
            f"{step.name} needs a stack, and {wanted.of} is neither one nor the outline of one.",
            "the name of a stack, or of its outline",
        )
    elif len(stacks) > 1:
        yield _problem(
            step,
            "set",
            f"{wanted.of} is the outline of {len(stacks)} stacks.",
            f"the name of one of them: {', '.join(s.name for s in stacks)}",
        )


# -- the steps of a set ------------------------------------------------------------------------------
def stack_of(spec: Spec, recipe: Recipe) -> Step:
    """The stack that a set serves; `problems` has seen to it that there is one."""
    wanted = spec.whole_set
    assert wanted is not None
    return next(s for s in recipe.steps.values() if s.kind == "stack" and wanted.of in (s.name, s.spec.outline))


def served(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """The steps whose shapes a template, or a set of them, brings out or marks, in a fixed order."""
    spec: Spec = step.spec
    wanted = spec.whole_set
    if wanted is None:
        return () if spec.of is None else (spec.of,)
    stacks = [s for s in recipe.steps.values() if s.kind == "stack" and wanted.of in (s.name, s.spec.outline)]
    if not stacks:
        return ()
    stack = stacks[0].spec
    named = dict.fromkeys((stack.outline, *stack.cut, *stack.cut_blank, *stack.by_hand))
    known = [n for n in named if n in recipe.steps]
    covers = [s.name for s in recipe.steps.values() if s.kind == "cover" and s.spec.of in named]
    return tuple(
        n
        for n in (*known, *covers)
        if n not in wanted.without
        and recipe.steps[n].kind in ("outline", "cavity", "cover", "holes")
        and not (recipe.steps[n].kind == "outline" and n != stack.outline)
        and n != spec.index
    )


def also_needs(step: Step, recipe: Recipe) -> Mapping[str, str]:
    """A set needs all shapes of its stack."""
    return dict.fromkeys(served(step, recipe), "set") if step.spec.set_ is not None else {}


def also_reads(step: Step, recipe: Recipe) -> tuple[str, ...]:
    """What of a stack is routed by hand, or belongs to the set, is told by the stack's fields."""
    named = served(step, recipe)
    spec: Spec = step.spec
    stacks = [s for s in recipe.steps.values() if s.kind == "stack"]
    return tuple(s.name for s in stacks if spec.set_ is not None or any(n in s.spec.by_hand for n in named))
