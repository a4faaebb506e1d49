"""Cautions of the order of work that a recipe leaves out: only those of quality may go."""

from __future__ import annotations

from typing import Any

from pipeline.core.reasons import REASONS, RELAXABLE
from pipeline.core.text import nearest, quoted
from pipeline.intake.reading import FAILED, Reading


def check_relaxed(relax: Any, reading: Reading) -> None:
    """Reports each `relax:` entry that names no caution, or one that can't be left out."""
    for n, entry in enumerate(() if relax is FAILED else relax):
        place = reading.places[f"relax.{n}.caution"]
        reason = REASONS.get(entry.caution)
        if reason is None:
            guess = nearest(entry.caution, RELAXABLE)
            reading.wrong(
                f"The order of work has no caution called {quoted(entry.caution)}.",
                place,
                expected=f"one of {', '.join(RELAXABLE)}",
                remedy=f"did you mean {guess}?" if guess else "",
            )
        elif reason.name == "asked":
            reading.wrong(
                "What the recipe asks for isn't left out by `relax:`.",
                place,
                remedy="take the name out of the step's `after:` instead.",
            )
        elif reason.kind != "quality":
            reading.wrong(
                f"{quoted(reason.name)} can't be left out, because {reason.because} ({reason.kind}).",
                place,
                expected="a caution of quality, as the order of work names them",
            )
