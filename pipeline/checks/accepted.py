"""Findings that the maker has looked at and accepts, as long as they get no worse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from pipeline.core.findings import Finding
from pipeline.core.recipe import Accepted, Recipe

SAME = 0.005
"""Numbers are shown with two decimals; half of the last one is no change."""


def with_accepted(recipe: Recipe, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, accepted where the recipe says so and they aren't worse than the number accepted.

    One that got worse stays open and says so. An entry that meets no finding any more becomes a note.
    """
    made: list[Finding] = []
    met: set[int] = set()
    for finding in findings:
        fitting = [(i, a) for i, a in enumerate(recipe.accepted) if _speaks_of(a, finding)]
        met.update(i for i, _ in fitting)
        good = next((a for _, a in fitting if not _worse(a, finding)), None)
        if good is not None:
            made.append(replace(finding, accepted=good.because))
        elif fitting:
            made.append(_reopened(fitting[0][1], finding))
        else:
            made.append(finding)
    made += [_gone(recipe, i, a) for i, a in enumerate(recipe.accepted) if i not in met]
    return tuple(made)


def _speaks_of(accepted: Accepted, finding: Finding) -> bool:
    return (
        accepted.check == finding.check and accepted.step == finding.step and accepted.piece in ("", finding.piece)
    )


def _worse(accepted: Accepted, finding: Finding) -> bool:
    """Further beyond its limit than the number that was accepted."""
    if accepted.measured is None or finding.measured is None:
        return False
    low_is_bad = finding.limit is not None and finding.measured < finding.limit
    change = finding.measured - accepted.measured
    return (-change if low_is_bad else change) > SAME + 1e-9


def _reopened(accepted: Accepted, finding: Finding) -> Finding:
    since = f" in revision {accepted.since}" if accepted.since else ""
    said = (
        f" It was accepted{since} at {accepted.measured:.2f} {finding.unit} ({accepted.because}) and is now "
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
        place=recipe.places.get(f"accepted.{index}") or recipe.places.get("accepted"),
    )
