"""Orders that the recipe asks for by a step's `after:`."""

from __future__ import annotations

from pipeline.core.reasons import REASONS
from pipeline.core.recipe import Recipe
from pipeline.workshop.tasks import Link, Plan


def asked_links(plan: Plan, recipe: Recipe) -> None:
    """Adds a link from all work on the steps named to all work on the step that names them."""
    for step in recipe.steps.values():
        for name in step.after:
            place = step.place("after")
            before = [t.key for t in plan.tasks if name in t.steps]
            after = [t.key for t in plan.tasks if step.name in t.steps]
            plan.links += [
                Link(
                    before=b, after=a, reason=REASONS["asked"], place=place,
                    because=f"the recipe asks for {name} before {step.name}",
                )
                for a in after
                for b in before
                if a != b
            ]  # fmt: skip
