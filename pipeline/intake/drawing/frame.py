"""The design frame: where zero stands, which way x runs, and how many mm the drawing really measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.recipe import Recipe
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine
from pipeline.intake.drawing.document import Document
from pipeline.intake.drawing.scale import Scaled, scaled
from pipeline.intake.drawing.segments import Subpath
from pipeline.intake.drawing.size import place_of
from pipeline.steps.values import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """``move`` takes page mm to design mm: a similarity, unless the recipe asks for ``stretch``. ``scale`` is
    its (mean) factor; ``scaled`` tells what it rests on."""

    move: Affine
    scale: float
    scaled: Scaled
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]


def placed(
    recipe: Recipe, doc: Document, marks: Mapping[str, Mark], widths: Mapping[str, tuple[Subpath, ...]]
) -> Placed:
    """The map into the design frame, from marks in page mm and the curves of objects of known width."""
    problems: list[Problem] = []
    frame = recipe.frame
    origin = marks.get(frame.origin) if frame and frame.origin else None
    toward = marks.get(frame.x_toward) if frame and frame.x_toward else None
    turn = 1 + 0j
    if toward is not None:
        if origin is None:
            problems.append(
                Problem(
                    wrong="`x_toward` tells which way x runs, but no `origin` tells from where.",
                    place=place_of(recipe, "frame.x_toward"),
                    expected="`origin:` with another mark of the drawing",
                )
            )
        else:
            d = complex(*toward.at) - complex(*origin.at)
            if abs(d) < 1e-6:
                problems.append(
                    Problem(
                        wrong=f"The marks {quoted(origin.name)} and {quoted(toward.name)} "
                        "stand at the same place.",
                        place=place_of(recipe, "frame.x_toward"),
                        expected="two marks that lie apart",
                    )
                )
            else:
                turn = (d / abs(d)).conjugate()
    if doc.page is None and origin is None and doc.form == "SVG":
        problems.append(
            Problem(
                wrong="The drawing has no page, so nothing tells where its lower left corner is.",
                place=recipe.drawing_place,
                expected="width and height in the drawing, or a `frame` with an `origin`",
            )
        )
    found = scaled(recipe, doc, marks, widths, turn)
    move = Affine(turn.real * found.x, turn.imag * found.y, -turn.imag * found.x, turn.real * found.y)
    if origin is not None:
        zero = move(complex(*origin.at))
        move = Affine(move.a, move.b, move.c, move.d, -zero.real, -zero.imag)
    return Placed(
        move=move,
        scale=move.size,
        scaled=found,
        findings=found.findings,
        problems=(*problems, *found.problems),
    )
