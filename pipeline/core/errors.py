"""All the ways a run can end badly.

MouldloftError
├── Refused          2  a recipe, drawing, packet or argument can't be used (one or many Problems)
└── MachineFailed    3  disk full, permissions, a lock held by another run

A design that is merely held back (a ``stop`` finding) is no error: the run ends with exit code 1.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.core.failures import MachineFailed, MouldloftError
from pipeline.core.place import Place

__all__ = ["MachineFailed", "MouldloftError", "Problem", "Refused", "refuse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with what the maker gave us.

    ``wrong`` is a full sentence without the place; ``expected`` and ``remedy`` are sentences or
    empty. ``show()`` gives the golden text: place, sentence, source line, caret, expectation.
    """

    wrong: str
    place: Place | None = None
    expected: str = ""
    remedy: str = ""

    def show(self) -> str:
        head = f"{self.place}: {self.wrong}" if self.place else self.wrong
        lines = [head]
        if self.place and self.place.text and self.place.line:
            from pipeline.core.text import unsafe

            # Long lines are cut round the column so that the caret stays in sight.
            start = max(0, self.place.column - 1 - 60)
            cut = self.place.text[start : start + 110].replace("\t", " ").rstrip()
            snippet = "".join("?" if unsafe(c) else c for c in cut)  # what hides or reorders is shown as a sign
            lines.append(f"    {snippet}")
            lines.append("    " + " " * (self.place.column - 1 - start) + "^")
        if self.expected:
            lines.append(f"  expected: {self.expected}")
        if self.remedy:
            lines.append(f"  to do: {self.remedy}")
        return "\n".join(lines)


class Refused(MouldloftError):
    """Input that can't be used: exit code 2. Carries every problem found, sorted by place."""

    exit_code = 2

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        found = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.problems: tuple[Problem, ...] = tuple(
            sorted(found, key=lambda p: (p.place is None, p.place or Place(file=""), p.wrong))
        )
        super().__init__("; ".join(p.wrong for p in self.problems))

    def show(self) -> str:
        return "\n".join(p.show() for p in self.problems)


def refuse(wrong: str, *, place: Place | None = None, expected: str = "", remedy: str = "") -> Refused:
    """A Refused with a single problem, for ``raise refuse(...)``."""
    return Refused(Problem(wrong=wrong, place=place, expected=expected, remedy=remedy))
