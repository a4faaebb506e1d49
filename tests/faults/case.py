"""A seeded fault or a near miss, and what comes of checking it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding
from tests.faults.design import Design, Outcome, checked, mended

PLACE_MM = 1.0
NUMBER = 0.01
"""A place within a millimetre, a number within one per cent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seed:
    """What must be found: by which check, where (None: it has no place), with which number.

    ``where`` is the fault itself, as a point, a line or an area. ``also`` are checks that rightly speak of the
    same thing. ``mends``: its remedy is a number, and clears it.
    """

    check: str
    measured: float | Callable[[Outcome], float] | None = None
    where: BaseGeometry | None = None
    limit: float | None = None
    severity: str = "ask"
    also: tuple[str, ...] = ()
    mends: bool = False
    refused: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A design of one fault of trade.md 8. ``seed`` None: it nearly has it and must pass."""

    fault: int
    name: str
    design: Design
    seed: Seed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What came of a case; ``wrong`` is empty when all is as it must be."""

    case: Case
    wrong: tuple[str, ...]
    place_mm: float = 0.0
    number: float = 0.0
    mended: bool = False
    false_alarms: int = 0
    outcome: Outcome = field(default_factory=Outcome)


def judged(case: Case) -> Verdict:
    """The case checked; a remedy that is a number is applied and the design checked again."""
    outcome = checked(case.design)
    if case.seed is None:
        loud = [_told(f) for f in outcome.loud()] + ([outcome.refused] if outcome.refused else [])
        return Verdict(case=case, wrong=tuple(loud), false_alarms=len(loud), outcome=outcome)
    if case.seed.refused:
        good = case.seed.refused in outcome.refused
        return Verdict(case=case, wrong=() if good else (f"not refused: {outcome.refused}",), outcome=outcome)
    return _found(case, case.seed, outcome)


def _found(case: Case, seed: Seed, outcome: Outcome) -> Verdict:
    if outcome.refused:
        return Verdict(case=case, wrong=(f"refused: {outcome.refused}",), outcome=outcome)
    mine = [f for f in outcome.findings if f.check == seed.check and f.severity == seed.severity]
    if not mine:
        told = [_told(f) for f in outcome.loud()] or ["nothing"]
        return Verdict(case=case, wrong=(f"{seed.check} not found, but {'; '.join(told)}",), outcome=outcome)
    finding = min(mine, key=lambda f: _place(seed, f))
    wrong: list[str] = []
    place, number = _place(seed, finding), _number(seed, finding, outcome)
    if place > PLACE_MM:
        wrong.append(f"{place:.2f} mm from the place: {_told(finding)}")
    if number > NUMBER:
        wrong.append(f"number {100 * number:.2f} % off: {_told(finding)}")
    if seed.limit is not None and not math.isclose(finding.limit or 0.0, seed.limit, rel_tol=1e-6):
        wrong.append(f"limit {finding.limit}, not {seed.limit}")
    others = [f for f in outcome.loud() if f is not finding and f.check not in (*seed.also, seed.check)]
    wrong += [f"false alarm: {_told(f)}" for f in others]
    if seed.mends and not finding.fix:
        wrong.append(f"no number in the remedy: {_told(finding)}")
    good = False
    if finding.fix:
        left = _left(case.design, finding, outcome)
        wrong += left
        good = not left
    return Verdict(
        case=case,
        wrong=tuple(wrong),
        place_mm=place,
        number=number,
        mended=good,
        false_alarms=len(others),
        outcome=outcome,
    )


def _left(design: Design, finding: Finding, before: Outcome) -> list[str]:
    """What is wrong with a design after its remedy: the same finding again, or a new one above `note`."""
    after = checked(mended(design, finding.fix))
    if after.refused:
        return [f"the remedy {finding.fix} is refused: {after.refused}"]
    known = {(f.check, f.step, f.piece) for f in before.loud()} - {(finding.check, finding.step, finding.piece)}
    return [
        f"after the remedy {finding.fix}: {_told(f)}"
        for f in after.loud()
        if (f.check, f.step, f.piece) not in known
    ]


def _place(seed: Seed, finding: Finding) -> float:
    if seed.where is None:
        return 0.0
    return math.inf if finding.at_mm is None else float(shapely.distance(seed.where, shapely.Point(finding.at_mm)))


def _number(seed: Seed, finding: Finding, outcome: Outcome) -> float:
    """How far the number is off, of itself; of the limit where it should be zero."""
    if seed.measured is None:
        return 0.0
    wanted = seed.measured if isinstance(seed.measured, (int, float)) else seed.measured(outcome)
    if finding.measured is None:
        return math.inf
    return abs(finding.measured - wanted) / (abs(wanted) or abs(finding.limit or 1.0))


def _told(f: Finding) -> str:
    at = "" if f.at_mm is None else f" at ({f.at_mm[0]:.2f}, {f.at_mm[1]:.2f})"
    return f"{f.severity} {f.check} of {f.step or f.piece}{at}: {f.message}"
