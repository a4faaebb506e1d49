"""How many mm the drawing really measures: known lengths and their uncertainty (trade.md 1.2)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.recipe import Known, Recipe
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine
from pipeline.intake.drawing.document import Document
from pipeline.intake.drawing.segments import Subpath, box
from pipeline.intake.drawing.size import place_of, unlike_page, without_known
from pipeline.steps.values import Calibration, Mark

DIFFERS = 0.003
"""A known length that differs by more than this from the drawing's size is asked about."""
SHARE = 0.6
"""A known length that sets the scale should be at least this share of the longest dimension."""
SQUARE_DEG = 3.0
"""Two known lengths are perpendicular when their directions are within this of a right angle."""
ALONG_DEG = 30.0
"""A known length tells of the scale along an axis when it runs within this of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """One known length as drawn: its ``ends`` in page mm, ``way`` from one to the other along the frame's axes
    (page mm), and its number in the recipe."""

    known: Known
    number: int
    ends: tuple[complex, complex]
    way: complex

    @property
    def name(self) -> str:
        return " to ".join(self.known.between)

    @property
    def factor(self) -> float:
        """True over drawn."""
        return self.known.is_ / abs(self.way)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaled:
    """``x`` and ``y``: design mm per page mm along the frame's axes. ``decides`` is True when a known length
    sets the scale: the page has no size, or another one."""

    x: float
    y: float
    lengths: tuple[Length, ...]
    decides: bool
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]


def scaled(
    recipe: Recipe,
    doc: Document,
    marks: Mapping[str, Mark],
    widths: Mapping[str, tuple[Subpath, ...]],
    turn: complex,
) -> Scaled:
    """The scale of a drawing from the recipe's known lengths, else 1. ``turn`` takes page directions to the
    frame's; marks and the curves of objects whose width is known are in page mm."""
    findings: list[Finding] = []
    problems: list[Problem] = []
    frame = recipe.frame
    known = frame.known if frame else ()
    lengths: list[Length] = []
    for i, k in enumerate(known):
        ends = _ends(k, marks, widths, turn)
        if ends is None:
            continue
        way = turn * (ends[1] - ends[0])
        if abs(way) > 1e-6:
            lengths.append(Length(known=k, number=i, ends=ends, way=way))
        else:
            problems.append(
                Problem(
                    wrong=f"The known length {' to '.join(map(quoted, k.between))} is zero in the drawing.",
                    place=place_of(recipe, f"frame.known.{i}"),
                    expected="two marks that lie apart, or a line",
                )
            )
    if not known:
        without_known(recipe, doc, findings, problems)
    x = y = 1.0
    if frame and frame.stretch:
        both = _both(lengths)
        if both is not None:
            x, y = both
            findings.append(_stretched(recipe, x, y))
        elif not problems:
            problems.append(
                Problem(
                    wrong="`stretch` scales x and y separately, but the known lengths don't fix both.",
                    place=place_of(recipe, "frame.stretch"),
                    expected="under `known` one length along x and one along y "
                    f"(each within {ALONG_DEG:g} degrees)",
                )
            )
    elif lengths:
        # Least squares of true = k · drawn: long lengths count for more, as they should.
        x = y = sum(n.known.is_ * abs(n.way) for n in lengths) / sum(abs(n.way) ** 2 for n in lengths)
    mean = math.sqrt(x * y)
    findings += _disagreeing(recipe, lengths, x, y)
    differs = abs(mean - 1) > DIFFERS
    if doc.sized != "none" and lengths and differs:
        findings.append(unlike_page(recipe, doc, mean))
    return Scaled(
        x=x,
        y=y,
        lengths=tuple(lengths),
        decides=bool(lengths) and (doc.sized == "none" or differs),
        findings=tuple(findings),
        problems=tuple(problems),
    )


def calibrations(
    recipe: Recipe, found: Scaled, move: Affine, bounds: Sequence[float] | None
) -> tuple[tuple[Calibration, ...], tuple[Finding, ...]]:
    """Each known length as it was used, and what its shortness means.

    ``bounds`` is (xmin, ymin, xmax, ymax) of what the recipe takes from the drawing, design mm. A reading
    error e of a length's ends is e · L / Lc over the longest dimension L (trade.md 1.2).
    """
    made: list[Calibration] = []
    ends = [tuple(move(z) for z in n.ends) for n in found.lengths]
    xs = [z.real for e in ends for z in e] if bounds is None else [bounds[0], bounds[2]]
    ys = [z.imag for e in ends for z in e] if bounds is None else [bounds[1], bounds[3]]
    longest = max(max(xs) - min(xs), max(ys) - min(ys)) if ends else 0.0
    for n, (p, q) in zip(found.lengths, ends, strict=True):
        made.append(
            Calibration(
                name=n.name,
                ends=((p.real + 0.0, p.imag + 0.0), (q.real + 0.0, q.imag + 0.0)),
                true_mm=n.known.is_,
                drawn_mm=abs(n.way),
                comes_out_mm=abs(q - p),
                plus_minus_mm=n.known.reading * longest / n.known.is_,
            )
        )
    if not found.decides:
        return tuple(made), ()
    best = max(found.lengths, key=lambda n: n.known.is_)
    if best.known.is_ >= SHARE * longest:
        return tuple(made), ()
    error = best.known.reading * longest / best.known.is_
    return tuple(made), (
        Finding(
            check="drawing-scale",
            severity="ask",
            message=f"The scale rests on {best.name}, which is {best.known.is_:g} mm long; the longest dimension "
            f"is {longest:.1f} mm. If its ends are misread by {best.known.reading:g} mm, that dimension is "
            f"{error:.2f} mm wrong.",
            measured=best.known.is_,
            limit=SHARE * longest,
            remedy=f"give a known length of at least {SHARE * longest:.0f} mm",
            place=place_of(recipe, f"frame.known.{best.number}"),
        ),
    )


# -- x and y apart ------------------------------------------------------------------------------------
def _both(lengths: Sequence[Length]) -> tuple[float, float] | None:
    """Factors along x and y: least squares of (kx dx)² + (ky dy)² = true², weighted so that it is the
    difference in length that counts: (l² − t²) / 2t ≈ l − t. None when the lengths don't fix both."""
    if not any(_along_x(n) for n in lengths) or not any(_along_y(n) for n in lengths):
        return None
    true = np.array([n.known.is_ for n in lengths])
    rows = np.array([[n.way.real**2, n.way.imag**2] for n in lengths]) / (2 * true[:, None])
    squares = np.linalg.lstsq(rows, true / 2, rcond=None)[0]
    if squares.min() <= 0:
        return None
    return math.sqrt(squares[0]), math.sqrt(squares[1])


def _along_x(n: Length) -> bool:
    return abs(n.way.imag) <= math.tan(math.radians(ALONG_DEG)) * abs(n.way.real)


def _along_y(n: Length) -> bool:
    return abs(n.way.real) <= math.tan(math.radians(ALONG_DEG)) * abs(n.way.imag)


def _stretched(recipe: Recipe, x: float, y: float) -> Finding:
    return Finding(
        check="drawing-stretch",
        severity="note",
        message=f"x is scaled by {x:.6g} and y by {y:.6g}, since `frame` asks for `stretch`.",
        measured=x / y,
        unit="",
        place=place_of(recipe, "frame.stretch"),
    )


def _disagreeing(recipe: Recipe, lengths: Sequence[Length], x: float, y: float) -> list[Finding]:
    """Perpendicular lengths that tell of a stretched scan, then every other length that comes out wrong."""
    findings: list[Finding] = []
    told: set[int] = set()
    cosine = math.sin(math.radians(SQUARE_DEG))
    pairs = [
        (abs(a.factor / b.factor - 1), a, b)
        for one, two in combinations(lengths, 2)
        for a, b in [(one, two) if _along_x(one) else (two, one)]
        if _along_x(a) and _along_y(b)
        and abs((a.way.conjugate() * b.way).real) <= cosine * abs(a.way) * abs(b.way)
    ]  # fmt: skip
    stretch = recipe.frame is not None and recipe.frame.stretch
    worst = max(pairs, key=lambda p: p[0], default=None)
    if worst is not None and worst[0] > DIFFERS and not stretch:
        off, a, b = worst
        told = {a.number, b.number}
        findings.append(
            Finding(
                check="drawing-scale",
                severity="ask",
                message=f"The drawing is stretched: by {a.name} x is {a.factor:.5g} times as long as drawn, by "
                f"{b.name} y is {b.factor:.5g} times. They differ by {100 * off:.2f} %; one factor serves both.",
                measured=a.factor / b.factor,
                limit=1 + math.copysign(DIFFERS, a.factor - b.factor),
                unit="",
                remedy="measure both again, or write `stretch: true` under `frame`: then x and y are scaled "
                "separately",
                place=place_of(recipe, f"frame.known.{a.number}"),
            )
        )
    for n in lengths:
        out = math.hypot(x * n.way.real, y * n.way.imag)
        if n.number not in told and abs(n.known.is_ / out - 1) > DIFFERS:
            findings.append(
                Finding(
                    check="drawing-scale",
                    severity="ask",
                    message=f"The known lengths don't agree: {n.name} comes out as {out:.3f} mm instead of "
                    f"{n.known.is_:g} mm.",
                    measured=out,
                    limit=n.known.is_,
                    remedy="measure again, or leave out the length that you trust less",
                    place=place_of(recipe, f"frame.known.{n.number}"),
                )
            )
    return findings


def _ends(
    length: Known, marks: Mapping[str, Mark], widths: Mapping[str, tuple[Subpath, ...]], turn: complex
) -> tuple[complex, complex] | None:
    """The ends of a known length, in page mm; None when its marks are missing (told elsewhere)."""
    if len(length.between) == 2:
        p, q = (marks.get(n) for n in length.between)
        return None if p is None or q is None else (complex(*p.at), complex(*q.at))
    name = length.between[0] if length.between else ""
    if name in widths:
        bounds = box(p.mapped(Affine(turn.real, turn.imag, -turn.imag, turn.real)) for p in widths[name])
        if bounds is None:
            return None
        x0, y0, x1, y1 = bounds
        return complex(x0, (y0 + y1) / 2) / turn, complex(x1, (y0 + y1) / 2) / turn
    mark = marks.get(name)
    return (complex(*mark.ends[0]), complex(*mark.ends[1])) if mark is not None and mark.ends else None
