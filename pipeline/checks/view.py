"""What every check looks at: one design, its nests, and what several checks work out from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.checks.jobs import Job, jobs
from pipeline.checks.sheets import SheetPiece, sheet_pieces
from pipeline.checks.voids import Void, voids
from pipeline.core.place import Place
from pipeline.core.recipe import Step
from pipeline.graph.watch import shared
from pipeline.steps.values import Blank, Derived, Nest


@dataclass(frozen=True, eq=False)
class View:
    """A design as the checks see it; what takes work is worked out once, when a check first asks."""

    derived: Derived
    nests: Sequence[Nest] = ()

    @shared
    def jobs(self) -> tuple[Job, ...]:
        """All that routers are asked to cut."""
        return jobs(self.derived)

    @shared
    def blanks(self) -> tuple[tuple[Blank, tuple[Void, ...]], ...]:
        """Each glued blank with what is taken out of it."""
        return tuple((b, voids(self.derived, b)) for b in self.derived.blanks)

    @shared
    def sheets(self) -> tuple[SheetPiece, ...]:
        """Each piece of one sheet with what is cut in it."""
        return sheet_pieces(self.derived)

    @shared
    def steps(self) -> dict[str, Step]:
        return {s.name: s for s in self.derived.order}

    def place(self, step: str, *paths: str) -> Place | None:
        """The recipe line of the first of these fields that is written, else the step's own line."""
        known = self.steps.get(step)
        if known is None:
            return None
        return next((known.places[p] for p in paths if p in known.places), known.place())
