"""Drawings in the wrong unit, told by their size (trade.md 8, fault 10; 1.2)."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "drawing-size"
LEAST_MM, MOST_MM = 20.0, 3000.0
USUAL_MM = (120.0, 1500.0)
"""Most hand-held, body-hugging things are about so long; a factor that leads there is named first."""
FACTORS = (
    (25.4, "it was drawn in inches and read as millimetres"),
    (1 / 25.4, "it was drawn in millimetres and read as inches"),
    (10.0, "it was drawn in centimetres and read as millimetres"),
    (0.1, "it was drawn in tenths of a millimetre"),
    (1000.0, "it was drawn in metres and read as millimetres"),
    (0.001, "it was drawn in micrometres"),
    (96 / 25.4, "millimetres were taken for pixels of 1/96 inch"),
    (25.4 / 96, "pixels of 1/96 inch were taken for millimetres"),
    (72 / 25.4, "millimetres were taken for points of 1/72 inch"),
    (25.4 / 72, "points of 1/72 inch were taken for millimetres"),
)


def check(view: View) -> Iterator[Finding]:
    """A `stop` when all outlines together are shorter than 20 mm or longer than 3 m."""
    boxes = [
        r.region.bounds
        for r in view.derived.results.values()
        if r.kind == "outline" and r.region is not None and r.region
    ]
    if not boxes:
        return
    x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
    x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
    longest = max(x1 - x0, y1 - y0)
    if LEAST_MM <= longest <= MOST_MM:
        return
    step = next(n for n, r in view.derived.results.items() if r.kind == "outline" and r.region)
    guess = next(((k, why) for k, why in FACTORS if USUAL_MM[0] <= longest * k <= USUAL_MM[1]), None)
    hint = (
        f" If {guess[1]}, the factor is {guess[0]:.6g} and it is {longest * guess[0]:.0f} mm long."
        if guess
        else ""
    )
    recipe = view.derived.recipe
    yield Finding(
        check=NAME,
        severity="stop",
        message=f"The outline is {x1 - x0:.4g} by {y1 - y0:.4g} mm, which is no size for this.{hint}",
        step=step,
        at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
        measured=longest,
        limit=LEAST_MM if longest < LEAST_MM else MOST_MM,
        remedy="give one known length under `frame`, `known`, or set the drawing's page size right",
        place=recipe.places.get("frame.known") or recipe.drawing_place,
    )
