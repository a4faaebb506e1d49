"""The design frame: where zero stands, which way x runs, and how many mm the drawing really measures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Known, Recipe
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine
from pipeline.intake.drawing.document import SvgDocument
from pipeline.intake.drawing.segments import Subpath, box
from pipeline.steps.values import Mark

DIFFERS = 0.003
"""A known length that differs by more than this from the drawing's size is asked about."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """``move`` takes page mm to design mm: a similarity. ``scale`` is its factor."""

    move: Affine
    scale: float
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]


def likely_mistake(factor: float) -> str:
    """The usual unit mistake that a factor (true over drawn) stands for, "" when it is none (±0.5 %)."""
    return next((why for k, why in FACTORS if abs(factor / k - 1) <= 0.005), "")


def placed(
    recipe: Recipe, doc: SvgDocument, marks: Mapping[str, Mark], widths: Mapping[str, tuple[Subpath, ...]]
) -> Placed:
    """The map into the design frame, from marks in page mm and the curves of objects of known width."""
    problems: list[Problem] = []
    findings: list[Finding] = []
    frame = recipe.frame
    origin = marks.get(frame.origin) if frame and frame.origin else None
    toward = marks.get(frame.x_toward) if frame and frame.x_toward else None
    turn = 1 + 0j
    if toward is not None:
        if origin is None:
            problems.append(
                Problem(
                    wrong="`x_toward` tells which way x runs, but no `origin` tells from where.",
                    place=_at(recipe, "frame.x_toward"),
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
                        place=_at(recipe, "frame.x_toward"),
                        expected="two marks that lie apart",
                    )
                )
            else:
                turn = (d / abs(d)).conjugate()
    if doc.page is None and origin is None:
        problems.append(
            Problem(
                wrong="The drawing has no page, so nothing tells where its lower left corner is.",
                place=recipe.drawing_place,
                expected="width and height in the drawing, or a `frame` with an `origin`",
            )
        )
    scale = _scale(recipe, doc, marks, widths, turn, findings, problems)
    k = turn * scale
    move = Affine(k.real, k.imag, -k.imag, k.real, 0.0, 0.0)
    if origin is not None:
        zero = move(complex(*origin.at))
        move = Affine(move.a, move.b, move.c, move.d, -zero.real, -zero.imag)
    return Placed(move=move, scale=scale, findings=tuple(findings), problems=tuple(problems))


def _scale(
    recipe: Recipe,
    doc: SvgDocument,
    marks: Mapping[str, Mark],
    widths: Mapping[str, tuple[Subpath, ...]],
    turn: complex,
    findings: list[Finding],
    problems: list[Problem],
) -> float:
    """True mm per page mm: from the known lengths, else 1."""
    known = recipe.frame.known if recipe.frame else ()
    pairs: list[tuple[float, float, int]] = []
    for i, length in enumerate(known):
        measured = _measured(length, marks, widths, turn)
        if measured is not None and measured > 1e-6:
            pairs.append((length.is_, measured, i))
        elif measured is not None:
            problems.append(
                Problem(
                    wrong=f"The known length {' to '.join(map(quoted, length.between))} is zero in the drawing.",
                    place=_at(recipe, f"frame.known.{i}"),
                    expected="two marks that lie apart, or a line",
                )
            )
    if not known:
        _without_known(recipe, doc, findings, problems)
    if not pairs:
        return 1.0
    # Least squares of true = k · measured: long lengths count for more, as they should.
    k = sum(t * m for t, m, _ in pairs) / sum(m * m for _, m, _ in pairs)
    for true, m, i in pairs:
        if abs(true / (k * m) - 1) > DIFFERS:
            findings.append(
                Finding(
                    check="drawing-scale",
                    severity="ask",
                    message=f"The known lengths don't agree: {' to '.join(known[i].between)} comes out as "
                    f"{k * m:.3f} mm instead of {true:g} mm.",
                    measured=k * m,
                    limit=true,
                    remedy="measure again, or leave out the length that you trust less",
                    place=_at(recipe, f"frame.known.{i}"),
                )
            )
    if doc.sized != "none" and abs(k - 1) > DIFFERS:
        guess = likely_mistake(k)
        findings.append(
            Finding(
                check="drawing-scale",
                severity="ask",
                message=f"By its known length the drawing is {k:.6g} times as large as its page size says. "
                + (f"That is the factor of {guess}. " if guess else "")
                + "The known length is used.",
                measured=k,
                limit=1.0,
                unit="",
                remedy="check the known length, or the width and height in the drawing",
                place=_at(recipe, "frame.known"),
            )
        )
    return k


def _without_known(recipe: Recipe, doc: SvgDocument, findings: list[Finding], problems: list[Problem]) -> None:
    if doc.sized == "none":
        problems.append(
            Problem(
                wrong="The drawing has no physical size and the recipe knows no length in it, so nothing tells "
                "how large it is.",
                place=recipe.drawing_place,
                expected='width and height with a unit in the drawing (width="420mm"), or `frame: {known: …}`',
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


def _measured(
    length: Known, marks: Mapping[str, Mark], widths: Mapping[str, tuple[Subpath, ...]], turn: complex
) -> float | None:
    """A known length as drawn, in page mm; None when its marks are missing (told elsewhere)."""
    if len(length.between) == 2:
        p, q = (marks.get(n) for n in length.between)
        return None if p is None or q is None else math.dist(p.at, q.at)
    name = length.between[0] if length.between else ""
    if name in widths:
        bounds = box(p.mapped(Affine(turn.real, turn.imag, -turn.imag, turn.real)) for p in widths[name])
        return bounds[2] - bounds[0] if bounds else None
    mark = marks.get(name)
    return math.dist(*mark.ends) if mark is not None and mark.ends else None


def _at(recipe: Recipe, path: str) -> Place:
    while path:
        if path in recipe.places:
            return recipe.places[path]
        path = path.rpartition(".")[0]
    return recipe.drawing_place
