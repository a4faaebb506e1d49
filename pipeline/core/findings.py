"""Findings: what a makeability check has to say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.place import Place

Severity = Literal["stop", "ask", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "ask", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One result of a check: always with place, number, limit and remedy.

    ``at_mm`` is (x, y) in the design frame seen from the front; ``measured`` and ``limit`` carry
    the unit that ``unit`` names. ``accepted`` is the maker's reason, empty while it is open.
    ``place`` is the recipe line that a remedy would change.
    """

    check: str
    severity: Severity
    message: str
    step: str = ""
    piece: str = ""
    at_mm: tuple[float, float] | None = None
    face: str = ""
    measured: float | None = None
    limit: float | None = None
    unit: str = "mm"
    remedy: str = ""
    accepted: str = ""
    place: Place | None = None

    @property
    def holds(self) -> bool:
        """True when this finding holds the packet back."""
        return self.severity == "stop" and not self.accepted


def worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings in reading order: open before accepted, stop before ask before note, then by name."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                bool(f.accepted),
                SEVERITIES.index(f.severity),
                f.check,
                f.step,
                f.piece,
                f.at_mm or (0.0, 0.0),
                f.message,
            ),
        )
    )
