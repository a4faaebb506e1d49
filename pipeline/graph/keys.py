"""A fingerprint for every step: its own fields, the steps before it, what it reads of others, the inputs."""

from __future__ import annotations

import hashlib
import os
from dataclasses import replace

from pipeline.core.shop import Rates
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Derived


def keys(derived: Derived) -> dict[str, str]:
    """Step name → 16 hex digits over its kind and fields, the keys of what it needs, sheets, shops and inputs."""
    recipe = derived.recipe
    path = os.path.relpath(recipe.drawing, recipe.root).replace(os.sep, "/")
    drawing = next((i.sha256 for i in recipe.inputs if i.path == path), "")
    ground = repr(
        (
            # Prices, rates and where a sheet is cut are no part of a shape: a changed price is not a changed design.
            [(n, replace(s, price=0.0, offcuts={})) for n, s in sorted(recipe.sheets.items())],
            [(n, replace(s, rates=Rates())) for n, s in sorted(recipe.shops.items(), key=lambda s: s[0])],
            [(n, replace(h, price=0.0)) for n, h in sorted(recipe.hardware.items())],
            recipe.frame,
            recipe.tolerance,
            recipe.make,
            drawing,
            *(("mirrored",) if recipe.mirrored else ()),
        )
    )
    found: dict[str, str] = {}
    for step in derived.order:
        needs = [found[n] for n in sorted(step.needs) if n in found]
        kind = KINDS.get(step.kind)
        reads = kind.also_reads(step, recipe) if kind and kind.also_reads else ()
        others = [recipe.steps[n].spec for n in reads]
        # A stack's height may be measured, which stands in no field of the recipe.
        made = derived.results.get(step.name)
        height = made.numbers.get("thickness_mm") if made else None
        text = repr((step.name, step.kind, step.spec, needs, others, height, ground))
        found[step.name] = hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
    return found
