"""The drawing of a recipe, read once as long as its bytes and what the recipe asks of it are the same."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from typing import Any

from pipeline.core.recipe import Recipe
from pipeline.graph.once import traced
from pipeline.steps.values import Drawing

CODE = ("pipeline.intake.drawing",)


def drawing_of(recipe: Recipe) -> Drawing:
    """The drawing as `read_drawing` gives it. Raises Refused, OSError."""
    from pipeline.intake.drawing import read_drawing

    before = _state(recipe.drawing)

    def work(roots: Mapping[str, Any]) -> Drawing:
        read = read_drawing(roots["recipe"])
        if _state(recipe.drawing) != before:
            raise _Moving
        return read

    try:
        return traced("drawing", "", {"recipe": recipe}, work, code=CODE, given={"bytes": before[0]})
    except _Moving:
        return read_drawing(recipe)


class _Moving(Exception):
    """The file was written to while it was read: what was read stands for no hash, so it is not kept."""


def _state(path: str) -> tuple[str, int, int, int, int]:
    """The hash of a file's bytes, and what the disk says of it, which tells of a change and back."""
    with open(path, "rb") as stream:
        sha = hashlib.file_digest(stream, "sha256").hexdigest()
        at = os.fstat(stream.fileno())
    return sha, at.st_size, at.st_mtime_ns, at.st_ctime_ns, at.st_ino
