"""What has to be said of a layout."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Piece
from pipeline.workshop.kept_layout import Sheetful
from pipeline.workshop.layout import letters_for, usable


def place_of(recipe: Recipe, sheet: str) -> Place:
    """Where a stock stands in the recipe."""
    return recipe.places.get(f"sheets.{sheet}") or recipe.places.get("sheets") or recipe.places[""]


def larger_than_bed(recipe: Recipe, name: str, shop: Shop) -> Iterator[Finding]:
    """An `ask` for the sheets that the bed doesn't take, the largest named."""
    stock, (bx, by) = recipe.sheets[name], shop.bed
    sizes = [stock.size_of(x) for x in stock.measured if usable(stock, x, shop) != stock.size_of(x)]
    if not sizes:
        return
    w, h = max(sizes, key=lambda s: (s[0] * s[1], s))
    yield Finding(
        check="sheet-larger-than-bed",
        severity="ask",
        message=(
            f"A sheet of {name} is {w:g} by {h:g}, more than the bed of {shop.name} takes ({bx:g} by "
            f"{by:g}); the parts are laid out in its lower left {min(w, bx):g} by {min(h, by):g}."
        ),
        measured=max(w, h),
        limit=max(bx, by),
        remedy="have the sheets cut to that size when you buy them, or state the size of the offcuts",
        place=place_of(recipe, name),
    )


def no_room(derived: Derived, piece: Piece, copies: int) -> Finding:
    """A `stop` for a piece that fits its sheet by its size alone, and finds no room on it."""
    step = derived.recipe.steps.get(piece.step)
    xmin, ymin, xmax, ymax = piece.cut.bounds
    letters = letters_for(derived.recipe, piece)
    where = f"sheet {piece.sheet} {letters[0]}" if len(letters) == 1 else f"any sheet of {piece.sheet}"
    what = piece.name if copies == 1 == piece.count else f"{copies} of {piece.count} {piece.name}"
    return Finding(
        check="no-room",
        severity="stop",
        message=(
            f"There is no room for {what} ({xmax - xmin:.1f} by {ymax - ymin:.1f}) on {where}: its outline, its "
            "places to keep out of or the other parts don't leave any."
        ),
        step=piece.step,
        piece=piece.name,
        at_mm=((xmin + xmax) / 2, (ymin + ymax) / 2),
        remedy="let it come from another sheet, measure a whole sheet and list it, or divide the piece",
        place=step.place("sheet") if step else place_of(derived.recipe, piece.sheet),
    )


def more_sheets(recipe: Recipe, name: str, laid: Sequence[Sheetful]) -> Iterator[Finding]:
    """An `ask` for each letter of which more sheets are needed than there are."""
    for letter in recipe.sheets[name].measured:
        count = max((s.number for s in laid if s.letter == letter), default=0)
        if count > 1:
            yield Finding(
                check="more-sheets",
                severity="ask",
                message=(
                    f"The parts of {name} {letter} need {count} sheets as thick as {letter} "
                    f"({recipe.sheets[name].measured[letter]:g}); the recipe lists one."
                ),
                measured=float(count),
                limit=1.0,
                unit="sheets",
                remedy=f"measure another sheet and list it under {name}, or make fewer at a time",
                place=place_of(recipe, name),
            )


def layout_outdated(recipe: Recipe, name: str, why: str) -> Finding:
    """A `note`: a kept layout isn't used any more, and why."""
    return Finding(
        check="layout-outdated",
        severity="note",
        message=f"The kept layout of {name} is not used: {why}. The parts are laid out anew.",
        remedy="let a better layout be searched and kept again: mouldloft build --improve 60",
        place=place_of(recipe, name),
    )


def no_spare(recipe: Recipe, piece: Piece, copies: int) -> Finding:
    """A `note`: what was asked for to spare found no room."""
    what = f"a spare {piece.name}" if copies == 1 else f"{copies} spares of {piece.name}"
    return Finding(
        check="no-spare",
        severity="note",
        message=f"There is no room left for {what} on the sheets of {piece.sheet}; no sheet is taken for it.",
        step=piece.step,
        piece=piece.name,
        remedy="raise `make:`, or leave `spare:` away",
        place=recipe.places.get(f"spare.{piece.step}") or place_of(recipe, piece.sheet),
    )
