"""What packets and their files are called."""

from __future__ import annotations

from pipeline.core.recipe import Recipe


def packet_name(recipe: Recipe) -> str:
    """The name of a design's packet folder: ``heron``, or ``heron-left`` for a variant."""
    return f"{recipe.design}-{recipe.variant}" if recipe.variant else recipe.design


def file_prefix(recipe: Recipe) -> str:
    """What the names of all files for shops begin with: ``heron-B``, ``heron-left-B``."""
    return f"{packet_name(recipe)}-{recipe.revision}"


def issued_name(recipe: Recipe, revision: str) -> str:
    """The folder under ``issued/`` of what went out under a letter."""
    return f"{packet_name(recipe)}-{revision}"
