"""A whole comparison: pieces, order of work, money; what `mouldloft compare` shows."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.compare.order import WorkChange, order_changes
from pipeline.compare.state import State
from pipeline.compare.things import Compared, Fact, all_compared, totals_changed
from pipeline.core.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two states, what became of each piece, and what that means for what was cut (``verdicts``; ``unknown`` says
    why there are none)."""

    old: State
    new: State
    things: tuple[Compared, ...]
    work: tuple[WorkChange, ...]
    totals: tuple[Fact, ...]
    verdicts: tuple[Verdict, ...] = ()
    unknown: str = ""

    @property
    def same(self) -> bool:
        """True when nothing differs, to a shop and in the order of work."""
        return all(t.state == "same" for t in self.things) and not self.work and not self.totals

    def with_state(self, *states: str) -> tuple[Compared, ...]:
        return tuple(t for t in self.things if t.state in states)


def comparison(old: State, new: State, *, verdicts: tuple[Verdict, ...] = (), unknown: str = "") -> Comparison:
    """Compare two states piece by piece."""
    return Comparison(
        old=old,
        new=new,
        things=all_compared(old, new),
        work=order_changes(old.sequence, new.sequence),
        totals=totals_changed(old.totals, new.totals),
        verdicts=verdicts,
        unknown=unknown,
    )
