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
        cavities_meet,
        corner_sharp,
        cover_edge,
        drawing_size,
        floor_thin,
        half_depth,
        sheet_measured,
        slot_narrow,
        too_large,
        tool_reach,
        uncut,
        unmeasured_part,
        wall_thin,
    )

    return (
        drawing_size.check,
        sheet_measured.check,
        unmeasured_part.check,
        uncut.check,
        too_large.check,
        half_depth.check,
        tool_reach.check,
        slot_narrow.check,
        corner_sharp.check,
        floor_thin.check,
        cavities_meet.check,
        wall_thin.check,
        cover_edge.check,
    )


def findings(derived: Derived, nests: tuple[Nest, ...] = ()) -> tuple[Finding, ...]:
    """All there is to say about a design, worst first: what intake and the steps found, and the checks.

    Findings that the recipe accepts carry the maker's reason, unless they got worse.
    """
    from pipeline.checks.accepted import with_accepted
    from pipeline.checks.view import View
    from pipeline.core.findings import worst_first

    view = View(derived=derived, nests=nests)
    found = [
        *derived.drawing.findings,
        *(f for r in derived.results.values() for f in r.findings),
        *(f for check in checks() for f in check(view)),
    ]
    return worst_first(with_accepted(derived.recipe, found))
