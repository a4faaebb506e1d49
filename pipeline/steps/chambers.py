"""The `chambers` kind: hollows that make a stack lighter (its fields; the stack that cuts them solves them)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.fields import Count, Gap, MarkName, Mass, Point, Size, StepName, field
from pipeline.core.recipe import Recipe, Step
from pipeline.steps.common import many, place_in

WEB_MM = 10.0
"""Least wood between two cells of a chamber that was split (judged: trade.md 3.8)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """One place that stays solid: a spot of wood, or another step's shape."""

    at: Point | MarkName | None = field("centre of a round spot: a point or a mark", None)
    radius: Gap = field("radius of the spot; with `of`, how far it reaches beyond the shape", 0.0)
    of: StepName | None = field("a step whose shape it is", None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """Where chambers may be, and how much they shall take away."""

    in_: StepName = field("the outline in which they lie")
    laminations: tuple[Count, ...] = field("the laminations that are hollowed, 1 at the back")
    wall: Size = field("least wood between a chamber and the outline", 12.0)
    web: Size = field("least wood to every cavity, channel, hole, keep-out and other chamber", 10.0)
    target: Mass | None = field(
        "mass of the blank to its design edge; absent: as hollow as the rule lets it", None
    )
    cutter: Size | None = field("diameter of the cutter, which rounds inner corners; else the shop's widest", None)
    cell: Size = field("largest length of a chamber along x and y; longer ones get webs", 120.0)
    skin: Gap = field("least wood in front of the chambers and behind them", 5.0)
    keep_off: tuple[Solid, ...] = field("places that stay solid, `web` wider all round", ())


def problems(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """What is wrong with the fields of chambers together, and with when they are cut."""
    spec: Spec = step.spec
    if not spec.laminations or len(set(spec.laminations)) < len(spec.laminations):
        yield Problem(
            wrong=f"{step.name} {'names a lamination twice' if spec.laminations else 'names no lamination'}.",
            place=place_in(step, "laminations"),
            expected="the numbers of the laminations to be hollowed, such as [2]",
        )
    if min(spec.wall, spec.web) < 3.0:
        least = "wall" if spec.wall < 3.0 else "web"
        yield Problem(
            wrong=f"A {least} of {min(spec.wall, spec.web):g} is no wood to rely on.",
            place=place_in(step, least),
            expected="3 or more; a wall of 12 and webs of 10 are usual",
        )
    for i, off in enumerate(spec.keep_off):
        if (off.at is None) == (off.of is None) or (off.at is not None and not off.radius):
            yield Problem(
                wrong=f"{step.name} doesn't say which place stays solid.",
                place=place_in(step, f"keep_off.{i}"),
                expected="`{at: [x, y], radius: 15}`, `{at: mark, radius: 15}` or `{of: step}`",
            )
    yield from _late(step, recipe)


def _late(step: Step, recipe: Recipe) -> Iterator[Problem]:
    """Chambers are closed by the glue-up, so nothing else can cut them."""
    for other in recipe.steps.values():
        for path in ("cut", "cut_blank", "by_hand", "reference", "of"):
            named = many(getattr(other.spec, path, None) or ())
            if step.name not in named or (other.kind == "stack" and path == "cut"):
                continue
            yield Problem(
                wrong=f"{step.name} lies hidden between the laminations of a stack, so {other.name} can't have it "
                f"in `{path}`.",
                place=place_in(other, path),
                expected=f"{step.name} under `cut:` of a stack, which is done before glue-up",
            )
    for other in recipe.steps.values():
        if other.kind != "stack" or step.name not in other.spec.cut:
            continue
        aimed = [n for n in other.spec.cut if n in recipe.steps and _aims(recipe.steps[n])]
        if len(aimed) > 1 and aimed[-1] == step.name:
            yield Problem(
                wrong=f"{' and '.join(aimed)} both give {other.name} a mass to reach.",
                place=place_in(step, "target"),
                expected="one `target:` for each stack",
            )


def _aims(step: Step) -> bool:
    return isinstance(step.spec, Spec) and step.spec.target is not None
