"""What the drawing itself says of its size, and the usual unit mistakes (trade.md 1.2)."""

from __future__ import annotations

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe
from pipeline.intake.drawing.document import Document

FACTORS = (
    (25.4, "an inch taken for a millimetre"),
    (1 / 25.4, "a millimetre taken for an inch"),
    (25.4 / 96, "a pixel of 1/96 inch taken for a millimetre"),
    (96 / 25.4, "a millimetre taken for a pixel of 1/96 inch"),
    (25.4 / 72, "a point of 1/72 inch taken for a millimetre"),
    (72 / 25.4, "a millimetre taken for a point of 1/72 inch"),
    (25.4 / 90, "a pixel of 1/90 inch taken for a millimetre"),
    (90 / 25.4, "a millimetre taken for a pixel of 1/90 inch"),
    (96 / 72, "units of 1/72 inch taken for 1/96 inch"),
    (72 / 96, "units of 1/96 inch taken for 1/72 inch"),
    (96 / 90, "units of 1/90 inch taken for 1/96 inch"),
    (90 / 96, "units of 1/96 inch taken for 1/90 inch"),
    (90 / 72, "units of 1/72 inch taken for 1/90 inch"),
    (72 / 90, "units of 1/90 inch taken for 1/72 inch"),
    (10.0, "a centimetre taken for a millimetre"),
    (0.1, "a millimetre taken for a centimetre"),
)
"""True size over drawn size of the usual unit mistakes (trade.md 1.2; 90/72: outside_checks.md N1)."""


def likely_mistake(factor: float) -> str:
    """The usual unit mistake that a factor (true over drawn) stands for, "" when it is none (±0.5 %)."""
    return next((why for k, why in FACTORS if abs(factor / k - 1) <= 0.005), "")


def place_of(recipe: Recipe, path: str) -> Place:
    """Where a field is written, or what holds it; the drawing's own line when nothing is."""
    while path:
        if path in recipe.places:
            return recipe.places[path]
        path = path.rpartition(".")[0]
    return recipe.drawing_place


def unlike_page(recipe: Recipe, doc: Document, k: float) -> Finding:
    """The known lengths make the drawing ``k`` times as large as it says itself."""
    guess = likely_mistake(k)
    page = doc.form == "SVG"
    return Finding(
        check="drawing-scale",
        severity="ask",
        message=f"By its known length the drawing is {k:.6g} times as large as its "
        f"{'page size' if page else 'unit'} says. "
        + (f"That is the factor of {guess}. " if guess else "")
        + "The known length is used.",
        measured=k,
        limit=1.0,
        unit="",
        remedy="check the known length, or the "
        + ("width and height in the drawing" if page else "unit of the drawing"),
        place=place_of(recipe, "frame.known"),
    )


def without_known(recipe: Recipe, doc: Document, findings: list[Finding], problems: list[Problem]) -> None:
    """Tell what is missing or doubtful where a recipe knows no length."""
    if doc.sized == "none":
        problems.append(
            Problem(
                wrong=(
                    "The drawing has no physical size"
                    if doc.form == "SVG"
                    else f"The drawing doesn't say what its unit is ({doc.unit})"
                )
                + " and the recipe knows no length in it, so nothing tells how large it is.",
                place=recipe.drawing_place,
                expected='width and height with a unit in the drawing (width="420mm"), or `frame: {known: …}`'
                if doc.form == "SVG"
                else "a drawing that is saved with its unit ($INSUNITS), or `frame: {known: …}`",
                remedy="Give one length that you know: known: [{between: [mark, mark], is: 430}]",
            )
        )
    elif doc.sized == "px":
        findings.append(
            Finding(
                check="drawing-scale",
                severity="ask",
                message="The size of the drawing is given in pixels only. They are read as 1/96 inch; some "
                f"programs write 1/72 inch: 1.3333 times as large. A unit is {doc.unit_mm:.6g} mm now.",
                measured=doc.unit_mm,
                unit="mm",
                remedy="give one known length under `frame`, `known`, or a page size in mm",
                place=recipe.drawing_place,
            )
        )
    elif doc.form == "SVG" and doc.unit:
        findings.append(
            Finding(
                check="drawing-scale",
                severity="ask",
                message=f"The drawing has no viewBox, so a unit in it is a {doc.unit}, whatever its page says. "
                "Older programs counted 1/90 inch there: 1.0667 times as large.",
                measured=doc.unit_mm,
                unit="mm",
                remedy="give one known length under `frame`, `known`, or save the drawing with a viewBox",
                place=recipe.drawing_place,
            )
        )
