"""How thick the wood is that a plan rule is cut in, and what a part's thread makes of the skin it goes through."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.core.findings import Finding
from pipeline.core.recipe import HardwarePart, Recipe, Step
from pipeline.core.shop import Cutter
from pipeline.steps.common import many, mm, place_in

if TYPE_CHECKING:
    from pipeline.steps.values import Cut

SKIN_MM = 3.0
"""A skin thinner than this breaks (trade.md 3.3, common practice)."""
NUT_MM = 3.0
"""What a nut and its washer take of a thread (trade.md 3.3, common practice)."""
BODY_MM = 4.0
"""A counterbore is wider than the part's body by this (trade.md 3.3, common practice)."""


def stacks_that_cut(name: str, recipe: Recipe) -> list[Step]:
    """The stacks that cut a plan rule, before or after glue-up or by hand, in the recipe's order."""
    return [
        s
        for s in recipe.steps.values()
        if s.kind == "stack" and name in (*s.spec.cut, *s.spec.cut_blank, *s.spec.by_hand)
    ]


def panels_that_cut(name: str, recipe: Recipe) -> list[Step]:
    """The steps other than stacks that cut it in a sheet of their own, in the recipe's order."""
    return [
        s
        for s in recipe.steps.values()
        if s.kind != "stack" and getattr(s.spec, "sheet", None) and name in (getattr(s.spec, "cut", ()) or ())
    ]


def cut_by(name: str, recipe: Recipe) -> tuple[str, ...]:
    """The names of all steps that cut it: their sheets give its thickness."""
    return tuple(s.name for s in (*stacks_that_cut(name, recipe), *panels_that_cut(name, recipe)))


def thickness_mm(name: str, recipe: Recipe, lamination: int | None = None) -> float | None:
    """The least thickness by the sheets' measure of what cuts a plan rule, of one lamination where it names one;
    None when nothing cuts it or a sheet isn't in the recipe (the step that names it says so)."""
    found: list[float] = []
    for stack in stacks_that_cut(name, recipe):
        sheets = [_sheet_mm(recipe, s) for s in stack.spec.laminations]
        known = [t for t in sheets if t is not None]
        if len(known) < len(sheets):
            continue
        if lamination is None:
            found.append(sum(known) + stack.spec.glue * (len(known) - 1))
        elif lamination <= len(known):
            found.append(known[lamination - 1])
    for panel in panels_that_cut(name, recipe):
        t = _sheet_mm(recipe, panel.spec.sheet)
        if t is not None:
            found.append(t)
    return min(found, default=None)


def _sheet_mm(recipe: Recipe, name: str) -> float | None:
    stock, letter = (name, "") if name in recipe.sheets else (name.rpartition(" ")[0], name.rpartition(" ")[2])
    sheet = recipe.sheets.get(stock)
    if sheet is None:
        return None
    return next(iter(sheet.measured.values())) if not letter else sheet.measured.get(letter)


def chosen_cutter(name: str, recipe: Recipe, depth_mm: float | None) -> Cutter | None:
    """The cutter a shop takes to finish a plan rule: its smallest flat end that reaches ``depth_mm`` (else its
    smallest of all); None where lasers alone cut it.

    What is cut in a glued blank or by hand needs the first router of the recipe.
    """
    sheets = [p.spec.sheet for p in panels_that_cut(name, recipe)]
    stacks = stacks_that_cut(name, recipe)
    sheets += [sheet for s in stacks if name in s.spec.cut for sheet in many(s.spec.laminations)]
    shops = [recipe.shop_of(s if s in recipe.sheets else s.rpartition(" ")[0]) for s in sheets]
    if any(name not in s.spec.cut for s in stacks):
        shops += recipe.shops.values()
    shop = next((s for s in shops or (recipe.default_shop,) if s.process == "router"), None)
    if shop is None or not shop.end_cutters:
        return None
    reaching = [c for c in shop.end_cutters if depth_mm is None or depth_mm <= c.LU]
    return (reaching or list(shop.end_cutters))[0]


def skin_finding(step: Step, cut: Cut, skin_mm: float, name: str, part: HardwarePart) -> Finding | None:
    """A `stop` where the nut of a part won't catch: skin + 3 must not be more than its thread.

    The lower bound, 3 mm, is floor-thin's matter; where a thread is too short for any skin, a counterbore it is.
    """
    most = part.thread - NUT_MM
    if skin_mm <= most + 1e-9:
        return None
    body = max(part.size[:2], default=0.0)
    bore = f"a counterbore of {mm(body + BODY_MM)}" if body else f"a counterbore {mm(BODY_MM)} wider than its body"
    return Finding(
        check="nut-wont-catch",
        severity="stop",
        message=(
            f"The nut of {name} will not catch: {step.name} leaves a skin of {mm(skin_mm)}, and of the thread of "
            f"{mm(part.thread)} the nut and washer take {mm(NUT_MM)}."
        ),
        step=step.name,
        at_mm=cut.design.centroid,
        face=cut.face,
        measured=skin_mm,
        limit=most,
        remedy=(
            f"leave a skin of {mm(SKIN_MM)} to {mm(most)}, or add {bore} in its floor, {mm(skin_mm - most)} deep"
            if most >= SKIN_MM
            else f"take a part with a thread of {mm(SKIN_MM + NUT_MM)} or more, or add {bore} in the floor, "
            f"{mm(skin_mm - most)} deep, which leaves only {mm(most)}"
        ),
        place=place_in(step, "floor" if step.spec.floor is not None else "depth"),
    )
