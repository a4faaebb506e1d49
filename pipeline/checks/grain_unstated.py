"""Faced sheets whose grain the recipe doesn't state (trade.md 8, fault 25).

A veneer always has one; a sheet that is glued to sheets with a stated grain ought to.
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "grain-unstated"
VENEER_MM = 1.5
"""A thinner sheet is a veneer (trade.md 3.7: one veneer under 1.5)."""


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each stock, with the first piece that comes of it."""
    recipe = view.derived.recipe
    for blank in view.derived.blanks:
        stocks = dict.fromkeys(lam.sheet for lam in blank.laminations)
        grained = any(_written(view, s) and recipe.sheets[s].grain != "none" for s in stocks)
        for stock in stocks:
            mine = [lam for lam in blank.laminations if lam.sheet == stock]
            veneer = min(lam.z1 - lam.z0 for lam in mine) < VENEER_MM
            if _written(view, stock) or not (veneer or grained):
                continue
            x0, y0, x1, y1 = blank.region.bounds
            yield Finding(
                check=NAME,
                severity="ask",
                message=(
                    f"The grain of {stock} isn't stated; {mine[0].piece} could be cut with it along or across."
                ),
                step=blank.step,
                piece=mine[0].piece,
                at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
                measured=0.0,
                limit=1.0,
                unit="directions",
                remedy=f"write `grain: x` (along its length), `y` or `none` at {stock}",
                place=recipe.places.get(f"sheets.{stock}") or recipe.places.get("sheets"),
            )


def _written(view: View, stock: str) -> bool:
    return f"sheets.{stock}.grain" in view.derived.recipe.places
