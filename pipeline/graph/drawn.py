"""The drawing of a recipe, read once as long as its bytes and what the recipe asks of it are the same."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.core.recipe import Recipe
from pipeline.graph.once import traced
from pipeline.steps.values import Drawing

CODE = ("pipeline.intake.drawing",)


def drawing_of(recipe: Recipe) -> Drawing:
    """The drawing as `read_drawing` gives it, of the very bytes whose hash the recipe recorded. Raises Refused."""
    from pipeline.intake.drawing.read import read_drawing, recorded

    sha256 = recorded(recipe)
    if not sha256:
        return read_drawing(recipe)

    def work(roots: Mapping[str, Any]) -> Drawing:
        return read_drawing(roots["recipe"], sha256=sha256)

    return traced("drawing", "", {"recipe": recipe}, work, code=CODE, given={"bytes": sha256})
