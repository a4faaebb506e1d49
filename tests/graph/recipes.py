"""Recipes made by hand, without a reader: only what order and derivation look at."""

from __future__ import annotations

from typing import Any

from pipeline.core.place import Place
from pipeline.core.recipe import By, Recipe, Step
from pipeline.core.shop import Shop
from pipeline.steps.values import Drawing, Drawn

FILE = "wren.yaml"


def place(line: int, column: int = 3) -> Place:
    return Place(file=FILE, line=line, column=column)


def recipe(steps: dict[str, dict[str, str]], kinds: dict[str, str] | None = None, **more: Any) -> Recipe:
    """A recipe of named steps and what each needs; step n stands on line 10 n, its fields below it."""
    made = {}
    for n, (name, needs) in enumerate(steps.items(), start=1):
        places = {"": place(10 * n)}
        places |= {why: place(10 * n + k, 9) for k, why in enumerate(needs.values(), start=1)}
        made[name] = Step(
            name=name,
            kind=(kinds or {}).get(name, "thing"),
            spec=None,
            after=(),
            needs=needs,
            places=places,
        )
    values: dict[str, Any] = {
        "design": "wren",
        "title": "Wren",
        "revision": "A",
        "by": By(),
        "make": 1,
        "parameters": {},
        "drawing": "wren.svg",
        "drawing_place": place(2),
        "frame": None,
        "shops": {"router": Shop()},
        "sheets": {},
        "hardware": {},
        "steps": made,
        "balance": None,
        "notes": (),
        "accepted": (),
        "variant": "",
        "tolerance": 0.005,
        "made": "",
        "root": "",
        "path": FILE,
        "inputs": (),
        "places": {"": place(1)},
    }
    return Recipe(**(values | more))


def drawing() -> Drawing:
    whole = Drawn(name="all", region=None, lines=(), mark=None, place=Place(file="wren.svg"))
    return Drawing(file="wren.svg", objects={}, all=whole)
