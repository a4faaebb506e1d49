"""Findings that the maker has looked at and accepts, as long as they get no worse.

Worse is farther the wrong way, which the finding itself tells: a wall under its limit gets worse as it gets
smaller, a depth over a cutter's reach as it gets larger.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Accepted, Recipe

SAME = 0.005
"""Numbers are shown with two decimals; half of the last one is no change."""


def with_accepted(recipe: Recipe, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, accepted where the recipe says so and they aren't worse than the number accepted.

    One that got worse stays open and says so. An entry that meets no finding any more becomes a note, and so
    does one that says nothing that an earlier one doesn't say already.
    """
    entries = list(enumerate(recipe.accepted))
    made: list[Finding] = []
    met: dict[int, Finding] = {}
    used: set[int] = set()
    for finding in findings:
        fitting = [(i, a) for i, a in entries if _speaks_of(a, finding)]
        for i, _ in fitting:
            met.setdefault(i, finding)
        good = next(((i, a) for i, a in fitting if _worse_by(a, finding) <= SAME + 1e-9), None)
        if good is not None:
            used.add(good[0])
            made.append(_accepted(good[1], finding))
        elif fitting:
            i, nearest = min(fitting, key=lambda row: (_worse_by(row[1], finding), row[0]))
            used.add(i)
            made.append(_reopened(nearest, finding))
        else:
            made.append(finding)
    made += [_gone(recipe, i, a) for i, a in entries if i not in met]
    made += [_twice(recipe, i, met[i]) for i, _ in entries if i in met and i not in used]
    return tuple(made)


def _speaks_of(accepted: Accepted, finding: Finding) -> bool:
    return (
        accepted.check == finding.check and accepted.step == finding.step and accepted.piece in ("", finding.piece)
    )


def _worse_by(accepted: Accepted, finding: Finding) -> float:
    """How much farther beyond its limit it is than the number that was accepted; 0 or less when it isn't.

    An entry without a number accepts whatever it measures.
    """
    if accepted.measured is None or finding.measured is None:
        return 0.0
    low_is_bad = finding.limit is not None and finding.measured < finding.limit
    change = finding.measured - accepted.measured
    return -change if low_is_bad else change


def _accepted(accepted: Accepted, finding: Finding) -> Finding:
    return replace(finding, accepted=accepted.because, accepted_since=accepted.since, accepted_by=accepted.by)


def _reopened(accepted: Accepted, finding: Finding) -> Finding:
    since = f" in revision {accepted.since}" if accepted.since else ""
    who = f" by {accepted.by}" if accepted.by else ""
    said = (
        f" It was accepted{who}{since} at {accepted.measured:.2f} {finding.unit} ({accepted.because}) and is now "
        f"{finding.measured:.2f}, which is worse, so it is open again."
    )
    return replace(finding, message=finding.message + said)


def _gone(recipe: Recipe, index: int, accepted: Accepted) -> Finding:
    return Finding(
        check="accepted-gone",
        severity="note",
        message=(
            f"`accepted` lists {accepted.check} of {accepted.step or 'the design'}, and nothing of that kind is "
            "found any more."
        ),
        step=accepted.step,
        piece=accepted.piece,
        remedy="take the entry out, or mend the name in it",
        place=_line(recipe, index),
    )


def _twice(recipe: Recipe, index: int, finding: Finding) -> Finding:
    return Finding(
        check="accepted-twice",
        severity="note",
        message=(
            f"`accepted` lists {finding.check} of {finding.step or 'the design'} more than once, and another "
            "entry says it already."
        ),
        step=finding.step,
        piece=finding.piece,
        remedy="keep the entry whose number is the one you looked at",
        place=_line(recipe, index),
    )


def _line(recipe: Recipe, index: int) -> Place | None:
    return recipe.places.get(f"accepted.{index}") or recipe.places.get("accepted")
