"""checks: can it be made? One file a check; each says what, where, how much, and what would help."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.checks.view import View
    from pipeline.core.findings import Finding
    from pipeline.steps.values import Derived, Nest

Check = Callable[["View"], Iterable["Finding"]]


def checks() -> tuple[Check, ...]:
    """All checks, in the order in which a maker would look."""
    from pipeline.checks import (
        balance,
        bore_near,
        cavities_meet,
        corner_sharp,
        cover_edge,
        depth_overlap,
        drawing_size,
        floor_round,
        floor_thin,
        grain_unstated,
        half_depth,
        hole_hits,
        hole_small,
        many_segments,
        part_small,
        part_thin,
        parts_close,
        runs_out,
        screw_short,
        sheet_measured,
        signs,
        slot_narrow,
        too_large,
        tool_reach,
        uncut,
        unmeasured_part,
        wall_thin,
        web_thin,
    )

    return (
        drawing_size.check,
        many_segments.check,
        sheet_measured.check,
        grain_unstated.check,
        unmeasured_part.check,
        uncut.check,
        runs_out.check,
        too_large.check,
        parts_close.check,
        part_small.check,
        part_thin.check,
        half_depth.check,
        tool_reach.check,
        slot_narrow.check,
        corner_sharp.check,
        floor_round.check,
        floor_thin.check,
        cavities_meet.check,
        depth_overlap.check,
        bore_near.check,
        wall_thin.check,
        cover_edge.check,
        web_thin.check,
        hole_small.check,
        hole_hits.check,
        screw_short.check,
        balance.check,
        signs.check,
    )


def findings(derived: Derived, nests: tuple[Nest, ...] = ()) -> tuple[Finding, ...]:
    """All there is to say about a design, worst first: what intake and the steps found, and the checks.

    Findings that the recipe accepts carry the maker's reason, unless they got worse.
    """
    from pipeline.checks.accepted import with_accepted
    from pipeline.core.findings import worst_first

    told = (*derived.drawing.findings, *(f for r in derived.results.values() for f in r.findings))
    return worst_first(with_accepted(derived.recipe, [*_each(derived, nests, told)]))


def _each(derived: Derived, nests: tuple[Nest, ...], told: tuple[Finding, ...]) -> Iterator[Finding]:
    """What was told, and what each check finds, with the remedies worked out; a check that would look at the same
    as last time is not asked again."""
    from pipeline.checks.fixes import with_fix
    from pipeline.checks.view import View
    from pipeline.graph.once import traced
    from pipeline.graph.watch import row, watched

    view = View(derived=watched(derived, ("derived",)), nests=row(nests, ("nests",)))
    roots = {"derived": derived, "nests": nests, "told": told}
    fixes = "pipeline.checks.fixes"
    yield from traced(
        "told", "", roots, lambda roots: tuple(with_fix(view, f) for f in roots["told"]), code=(fixes,)
    )
    for check in checks():
        code = (check.__module__, fixes)
        yield from traced("check", check.__module__, roots, partial(_asked, check, view), code=code)


def _asked(check: Check, view: View, _: Mapping[str, Any]) -> tuple[Finding, ...]:
    from pipeline.checks.fixes import with_fix

    return tuple(with_fix(view, f) for f in check(view))
