"""What a quote assumes, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.recipe import Recipe
from pipeline.workshop.cutters import shop_named
from pipeline.workshop.sheet_counts import Stock
from pipeline.workshop.shop_time import Load


def assumed(recipe: Recipe, loads: Sequence[Load], stocks: Sequence[Stock]) -> tuple[str, ...]:
    """What a reader has to know to take the numbers for what they are."""
    terms = recipe.quote
    said = [f"All prices are in {terms.currency}." if terms.currency else "No currency is named."]
    said.append(
        "No tax is added, and the prices are taken as the recipe and the shops have them."
        if terms.tax is None
        else f"Tax of {terms.tax:g} % is added at the end; all prices are without it."
    )
    said.append(f"Prices of {terms.priced}." if terms.priced else "The day of the prices is not given.")
    said.append(f"Valid: {terms.valid}." if terms.valid else "How long the quote stands is not given.")
    said.append("Whole sheets are charged; what is left of them is the maker's.")
    for s in stocks:
        if s.sets:
            each = f" of each letter ({', '.join(s.letters)})" if len(s.letters) > 1 else ""
            objects = "1 object goes" if s.sets == 1 else f"{s.sets} objects go"
            said.append(
                f"{s.name}: {objects} on a sheet{each}, counted by laying the pieces' boxes in rows; a layout by "
                f"shape may hold more. For {recipe.make}, as ordered, the layout drawn is counted."
            )
        elif s.one:
            said.append(f"{s.name}: one object takes more than one sheet of each letter.")
        else:
            said.append(f"{s.name}: only what is made once is cut from it, however many objects there are.")
    for shop in dict.fromkeys(x.shop for x in loads):
        r = shop_named(recipe, shop).rates
        feed = f"{r.feed:g} mm/min" if not r.feeds else "its feeds by thickness"
        said.append(
            f"{shop}: {r.set_up:g} min for a set-up, {r.load_minutes:g} min for every further clamping, "
            + ("" if shop_named(recipe, shop).process == "laser" else f"{r.tool_change:g} min for a tool change, ")
            + f"{feed}, {r.rapid:g} mm/min from cut to cut."
        )
    if not terms.hand.minutes:
        said.append("Work by hand is not counted; write `quote: {hand: {hour: …, minutes: …}}`.")
    said.append("Delivery is not counted.")
    return tuple(said)
