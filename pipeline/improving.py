"""`build --improve SECONDS`: looks for better layouts of a recipe's parts and stores those that are better."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import MachineFailed, Refused, refuse
from pipeline.graph.stale import shown

if TYPE_CHECKING:
    from pipeline.core.recipe import Recipe, StoredSheet
    from pipeline.workshop.improve import Improved

MOST_S = 86_400.0


def improve(path: str, seconds: float, tell: Callable[[str], None] | None = None) -> list[str]:
    """Search better layouts for a recipe and all its variants, ``seconds`` in all, and store those that are.

    Returns what has to be said. A recipe that can't be used says so in the build that follows; Raises Refused for
    a time that is none, MachineFailed when the layouts can't be written.
    """
    from pipeline.intake.layouts import write_layouts
    from pipeline.intake.recipe import read_recipe
    from pipeline.workshop.strip import available

    if not 0.0 < seconds <= MOST_S:
        raise refuse(f"{seconds:g} is no time to search for.", expected="seconds, such as --improve 60")
    said = []
    if not available():
        said.append(
            "The packing library is not there, so only mouldloft's own search is used. More comes of it with the "
            "extra `improve`: pip install 'mouldloft[improve]'."
        )
    try:
        recipe = read_recipe(path)
        names = ("", *recipe.variants)
        layouts: dict[str, tuple[StoredSheet, ...]] = dict(recipe.layouts)
        for name in names:
            said += _variant(read_recipe(path, variant=name), seconds / len(names), layouts, tell)
    except Refused:
        return said  # the build tells why
    if layouts != dict(recipe.layouts):
        try:
            write_layouts(Path(recipe.nests), layouts)
        except OSError as error:
            raise MachineFailed(f"{shown(recipe.nests)} can't be written: {error.strerror}.") from error
        said.append(f"The layouts are kept in {shown(recipe.nests)}; later builds take them as long as they hold.")
    return said


def _variant(
    recipe: Recipe,
    seconds: float,
    layouts: dict[str, tuple[StoredSheet, ...]],
    tell: Callable[[str], None] | None,
) -> list[str]:
    from pipeline.graph.derive import derive
    from pipeline.graph.drawn import drawing_of
    from pipeline.intake.made import read_made
    from pipeline.workshop.improve import improved

    made = read_made(recipe.made)
    derived = derive(recipe, drawing_of(recipe), blank_measured=made.blanks)
    found: Mapping[str, Improved] = improved(derived, seconds, tell)
    said = []
    for key, one in sorted(found.items()):
        if one.after < one.before:
            layouts[key] = one.sheets
        said.append(_told(recipe, one))
    return said


def _told(recipe: Recipe, one: Improved) -> str:
    name = f"{os.path.basename(recipe.path)}{f' ({recipe.variant})' if recipe.variant else ''}, {one.sheet}"
    (sheets, length), (fewer, shorter) = one.before, one.after
    if one.after >= one.before:
        return f"{name}: no better layout was found ({_sheets(sheets)}, {length:.0f} mm of their length)."
    if fewer < sheets:
        return f"{name}: {_sheets(fewer)} instead of {sheets}."
    return f"{name}: {shorter:.0f} mm of the sheets' length instead of {length:.0f}."


def _sheets(count: int) -> str:
    return "1 sheet" if count == 1 else f"{count} sheets"
