"""A small world for tests of step kinds: recipes and drawings built as values, without the readers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.core.place import Place
from pipeline.core.recipe import By, HardwarePart, Recipe, Sheet, Step
from pipeline.core.shop import Shop
from pipeline.geometry.contour import chain
from pipeline.geometry.region import EMPTY, Region, solid
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Drawing, Drawn, Mark, Result, World

ROUTER = Shop(name="router")
LASER = Shop(name="laser", process="laser", kerf=0.18)
SHEETS = {
    "birch12": Sheet(measured={"A": 11.8, "B": 11.7, "C": 11.9}, density=680.0, grain="x"),
    "mdf9": Sheet(measured={"A": 9.1}, density=740.0),
    "ply3": Sheet(measured={"A": 3.1}, density=660.0, shop="laser"),
    "plain": Sheet(measured={"A": 6.0}),
}


def step(name: str, kind: str, **fields: Any) -> Step:
    """A step whose fields all stand in one line of a recipe called test.yaml."""
    spec = KINDS[kind].spec(**fields)
    places = {"": Place(file="test.yaml", line=10, column=3)}
    for column, key in enumerate(fields, start=20):
        places[key.rstrip("_")] = Place(file="test.yaml", line=10, column=column)
    return Step(name=name, kind=kind, spec=spec, after=(), needs={}, places=places)


def world(
    *steps: Step,
    drawn: Mapping[str, Region] | None = None,
    marks: Mapping[str, tuple[float, float]] | None = None,
    hardware: Mapping[str, HardwarePart] | None = None,
    shops: Mapping[str, Shop] | None = None,
    make: int = 1,
    since: Mapping[str, str] | None = None,
) -> World:
    """A world with these steps and drawn regions, and no results yet."""
    place = Place(file="test.yaml", line=1, column=1)
    recipe = Recipe(
        design="test",
        title="Test",
        revision="B",
        by=By(),
        make=make,
        parameters={},
        drawing="test.svg",
        drawing_place=place,
        frame=None,
        shops=shops or {"router": ROUTER, "laser": LASER},
        sheets=SHEETS,
        hardware=hardware or {},
        steps={s.name: s for s in steps},
        balance=None,
        notes=(),
        accepted=(),
        variant="",
        tolerance=0.005,
        made="",
        root="",
        path="test.yaml",
        inputs=(),
        places={"": place},
    )
    here = Place(file="test.svg")
    objects = {
        n: Drawn(name=n, region=r or None, lines=(), mark=None, place=here, problem="" if r else "It is open.")
        for n, r in (drawn or {}).items()
    }
    for n, at in (marks or {}).items():
        mark = Mark(name=n, at=at)
        objects[n] = Drawn(name=n, region=None, lines=(), mark=mark, place=here)
    parts = tuple(p for r in (drawn or {}).values() for p in r.parts)
    everything = Drawn(name="all", region=Region(parts) if parts else None, lines=(), mark=None, place=here)
    drawing = Drawing(file="test.svg", objects=objects, all=everything)
    return World(recipe=recipe, drawing=drawing, results={}, since=since or {})


def derived(w: World) -> dict[str, Result]:
    """The results of all steps, made in the order in which they are listed."""
    results: dict[str, Result] = {}
    for s in w.recipe.steps.values():
        now = World(recipe=w.recipe, drawing=w.drawing, results=results, since=w.since)
        results[s.name] = KINDS[s.kind].make(s.name, s.spec, now)
    return results


def body_w() -> Region:
    """Body W of the trade: the convex hull of circle R 120 at (20, 0) and circle R 42 at (190, 0).

    Its tangent points lie at the angle α from the y axis, sin α = (R − r)/d (external tangents of two
    circles): 2 lines and 2 arcs.
    """
    big, small, x0, x1 = 120.0, 42.0, 20.0, 190.0
    alpha = math.asin((big - small) / (x1 - x0))
    s, c = math.sin(alpha), math.cos(alpha)
    points = [
        (x1 + small * s, -small * c),
        (x1 + small * s, small * c),
        (x0 + big * s, big * c),
        (x0 + big * s, -big * c),
    ]
    # Arcs: the small end turns by π − 2α, the big one by π + 2α; bulge = tan(turn / 4).
    bulges = [math.tan((math.pi - 2 * alpha) / 4), 0.0, math.tan((math.pi + 2 * alpha) / 4), 0.0]
    return solid(chain(points, bulges))


def nothing() -> Region:
    return EMPTY
