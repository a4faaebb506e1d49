"""Plan rules that end up in no file: nothing cuts them, or the stack that should lies somewhere else."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.measures import inside_point
from pipeline.steps.template import served

NAME = "not-cut"
RULES = ("cavity", "chambers", "channel", "holes")
CUTTING = ("cut", "cut_blank", "by_hand", "ears")
"""Fields by which a step has something cut; a template of it (`of`) is a way to cut it by hand."""


def check(view: View) -> Iterator[Finding]:
    """An `ask` for a plan rule that nothing cuts, a `stop` for one that lies beside the stack that names it."""
    steps = view.derived.order
    for step in steps:
        if step.kind in RULES and not any(_cuts(view, other, step.name) for other in steps):
            yield _nowhere(view, step)
        if step.kind == "stack":
            yield from _beside(view, step)


def _cuts(view: View, other: Step, name: str) -> bool:
    for field in CUTTING:
        named = getattr(other.spec, field, None) or ()
        if name in ((named,) if isinstance(named, str) else named):
            return True
    return other.kind == "template" and name in served(other, view.derived.recipe)


def _nowhere(view: View, step: Step) -> Finding:
    cuts = view.derived.results[step.name].cuts
    return Finding(
        check=NAME,
        severity="ask",
        message=f"{step.name} is cut in nothing, so it stands in no shop's file.",
        step=step.name,
        at_mm=inside_point(cuts[0].design) if cuts else None,
        face=cuts[0].face if cuts else "",
        measured=0.0,
        limit=1.0,
        unit="places",
        remedy=f"name {step.name} under `cut:` of a panel or a stack, under `cut_blank:`, or take the step out",
        place=view.place(step.name),
    )


def _beside(view: View, stack: Step) -> Iterator[Finding]:
    outline = view.derived.results[stack.spec.outline].region
    for field in ("cut", "cut_blank", "by_hand"):
        for name in getattr(stack.spec, field):
            cuts = [c for c in view.derived.results[name].cuts if not c.index]
            if outline is None or not cuts or any(c.region.polygon.intersects(outline.polygon) for c in cuts):
                continue
            yield Finding(
                check=NAME,
                severity="stop",
                message=f"{name} lies beside {stack.spec.outline}, so {stack.name} can't be cut there.",
                step=name,
                piece=stack.name,
                at_mm=inside_point(cuts[0].design),
                face=cuts[0].face,
                measured=float(cuts[0].region.polygon.distance(outline.polygon)),
                limit=0.0,
                remedy=f"move {name} onto {stack.spec.outline}, or take it out of `{field}`",
                place=view.place(name, "centre", "at", "drawn"),
            )
