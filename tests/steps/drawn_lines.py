"""A stack on an outline with one open line in its drawing."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from pipeline.core.place import Place
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.steps.edge import Edge, Treatment
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Drawing, Drawn, Result, World
from tests.steps.factory import SHEETS, step, world


def with_lines(drawing: Drawing, **lines: Contour) -> Drawing:
    """The drawing with open lines by name."""
    more = {
        n: Drawn(name=n, region=None, lines=(c,), mark=None, place=Place(file="test.svg"))
        for n, c in lines.items()
    }
    return replace(drawing, objects=MappingProxyType({**drawing.objects, **more}))


def with_line(line: Contour, treatment: Treatment, outline: Region) -> Result:
    """The stack of two sheets with a treatment of its back edge and a drawn line called limit."""
    body = step("body", "outline", drawn=("body",))
    blank = step(
        "blank", "stack", outline="body", laminations=("birch12 A", "birch12 B"), edge=Edge(back=(treatment,))
    )
    w = world(body, blank, drawn={"body": outline})
    recipe = replace(w.recipe, sheets=SHEETS)
    drawing = with_lines(w.drawing, limit=line)
    results: dict[str, Result] = {}
    for s in recipe.steps.values():
        results[s.name] = KINDS[s.kind].make(
            s.name, s.spec, World(recipe=recipe, drawing=drawing, results=results)
        )
    return results["blank"]
