"""checks: can it be made? One file a check; each says what, where, how much, and what would help."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.checks.view import View
    from pipeline.core.findings import Finding
    from pipeline.steps.values import Derived, Nest

Check = Callable[["View"], Iterable["Finding"]]


def checks() -> tuple[Check, ...]:
    """All checks, in the order in which a maker would look."""
    from pipeline.checks import (
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
    )


def findings(derived: Derived, nests: tuple[Nest, ...] = ()) -> tuple[Finding, ...]:
    """All there is to say about a design, worst first: what intake and the steps found, and the checks.

    Findings that the recipe accepts carry the maker's reason, unless they got worse.
    """
    from pipeline.checks.accepted import with_accepted
    from pipeline.checks.fixes import with_fix
    from pipeline.checks.view import View
    from pipeline.core.findings import worst_first

    view = View(derived=derived, nests=nests)
    found = [
        *derived.drawing.findings,
        *(f for r in derived.results.values() for f in r.findings),
        *(f for check in checks() for f in check(view)),
    ]
    return worst_first(with_accepted(derived.recipe, [with_fix(view, f) for f in found]))
