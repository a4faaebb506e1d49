"""Makes every step of a recipe in order and gathers all that went wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType
from typing import Any

from pipeline.core.errors import Problem, Refused
from pipeline.core.recipe import Recipe, Step
from pipeline.graph.once import traced
from pipeline.graph.order import ordered
from pipeline.steps.values import NOTHING, Derived, Drawing, Result, World

FARTHEST_MM = 20_000.0
"""Nothing that is cut lies farther than this from the design's zero."""

Make = Callable[[str, Any, World], Result]


def derive(
    recipe: Recipe,
    drawing: Drawing,
    *,
    blank_measured: Mapping[str, float] = NOTHING,
    since: Mapping[str, str] = NOTHING,
    makers: Mapping[str, Make] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Derived:
    """The whole derivation of one design.

    ``blank_measured`` holds measured thicknesses (mm) of glued blanks by stack name, ``since`` the
    revision in which each piece last changed. ``makers`` replaces the registered kinds; ``tell`` hears
    of each step. A step sees the results of the steps it needs, and of those that they need, and no
    others: so nothing can depend on the alphabet. A step that can't be made doesn't stop those that don't need it;
    raises Refused with all their problems.
    """
    from shapely.errors import ShapelyError

    order = ordered(recipe)
    results: dict[str, Result] = {}
    behind: dict[str, set[str]] = {}
    problems: list[Problem] = []
    for step in order:
        behind[step.name] = set(step.needs).union(*(behind[need] for need in step.needs))
        if any(need not in results for need in step.needs):
            continue  # what it needs has failed and says so itself
        seen = {name: made for name, made in results.items() if name in behind[step.name]}
        roots = {
            "recipe": recipe,
            "drawing": drawing,
            "results": MappingProxyType(seen),
            "blank_measured": blank_measured,
            "since": since,
        }
        make, module = _maker(step.kind, makers)
        if tell:
            tell(f"deriving {step.name}")
        try:
            results[step.name] = traced("step", step.name, roots, partial(_done, step.name, make), code=module)
        except Refused as refused:
            problems += refused.problems
        except (ValueError, MemoryError, ShapelyError) as error:
            problems.append(_problem(step, error))
    if problems:
        raise Refused(problems)
    derived = Derived(recipe=recipe, drawing=drawing, order=order, results=MappingProxyType(results))
    if recipe.mirrored:
        from pipeline.steps.mirror import mirrored

        return mirrored(derived)
    return derived


def _done(name: str, make: Make, roots: Mapping[str, Any]) -> Result:
    """A step's work, with what it may look at. Raises Refused for what lies too far off."""
    step = roots["recipe"].steps[name]
    world = World(**{root: roots[root] for root in ("recipe", "drawing", "results", "blank_measured", "since")})
    made = make(name, step.spec, world)
    huge = _too_far(step, made)
    if huge is not None:
        raise Refused(huge)
    return made


def _too_far(step: Step, made: Result) -> Problem | None:
    """A slip of a unit makes pieces of kilometres, which no sheet, picture or print could hold."""
    named = [*((p.name, p.region) for p in made.pieces), *((b.name, b.region) for b in made.blanks)]
    for name, region in named:
        if not region:
            continue
        x0, y0, x1, y1 = region.bounds
        size = max(x1 - x0, y1 - y0, abs(x0), abs(y0), abs(x1), abs(y1))
        if size > FARTHEST_MM:
            return Problem(
                wrong=f"{name} would be, or lie, {size / 1000:,.0f} m away from zero.",
                place=step.place(),
                expected=f"pieces within {FARTHEST_MM / 1000:g} m",
                remedy="look at the units and sizes of this step and of what it starts from",
            )
    return None


def _maker(kind: str, makers: Mapping[str, Make] | None) -> tuple[Make, tuple[str, ...]]:
    """The work of a kind, and the module of ours that does it."""
    if makers is not None:
        return makers[kind], ()
    from pipeline.steps.registry import KINDS

    return KINDS[kind].make, (KINDS[kind].maker.partition(":")[0],)


def _problem(step: Step, error: Exception) -> Problem:
    """A geometry error, told with the step and the recipe line that asked for it."""
    said = str(error).rstrip(".") or type(error).__name__
    if isinstance(error, MemoryError):
        said = "its numbers ask for more memory than there is"
    return Problem(
        wrong=f"{step.name} ({step.kind}) can't be made: {said}.",
        place=step.place(),
        remedy="look at the sizes of this step and at the drawn shape it starts from",
    )
