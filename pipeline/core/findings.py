"""Findings: what a makeability check has to say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pipeline.core.place import Place

Severity = Literal["stop", "ask", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "ask", "note")


Spot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What a picture of a finding draws beside its place; all of it optional, in the design frame, mm.

    ``ends_mm``: the two ends, in plan, of what was measured. ``heights_mm``: where it lies in depth, as two
    heights above the back of its piece, the one it is measured from first; its picture is then a section.
    ``cutter_mm``: the diameter of the cutter it speaks of, at ``cutter_at_mm`` (else at the place itself).
    ``left_mm``: outlines of the wood that is left, or of what is taken by mistake.
    """

    ends_mm: tuple[Spot, Spot] | None = None
    heights_mm: tuple[float, float] | None = None
    cutter_mm: float | None = None
    cutter_at_mm: Spot | None = None
    left_mm: tuple[tuple[Spot, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One result of a check: always with place, number, limit and remedy.

    ``at_mm`` is (x, y) in the design frame seen from the front; ``measured`` and ``limit`` carry
    the unit that ``unit`` names. ``accepted`` is the maker's reason, empty while it is open, with the
    revision (``accepted_since``) and who said so. ``place`` is the recipe line that a remedy would change,
    ``shown`` what its picture draws. ``fix`` is the remedy as far as it is a number: field paths from the top of
    the recipe ("steps.well.depth", "steps.pins.at.0.1") with the values that clear it, texts as YAML; a path that
    isn't there yet is to be added.
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
    accepted_since: str = ""
    accepted_by: str = ""
    shown: Shown | None = None
    fix: tuple[tuple[str, float | str], ...] = ()

    @property
    def holds(self) -> bool:
        """True when this finding holds the packet back."""
        return self.severity == "stop" and not self.accepted

    @property
    def off(self) -> float:
        """How far beyond its limit, to compare findings: 0 at the limit or without one, larger the worse."""
        if self.measured is None or self.limit is None or self.measured == self.limit:
            return 0.0
        if self.limit == 0.0:
            return round(abs(self.measured) / (abs(self.measured) + 1.0), 6)
        return round(abs(self.measured - self.limit) / max(abs(self.measured), abs(self.limit)), 6)


def worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings in reading order: open before accepted, stop before ask before note, then the farther beyond
    its limit the sooner, then by name."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                bool(f.accepted),
                SEVERITIES.index(f.severity),
                -f.off,
                f.check,
                f.step,
                f.piece,
                f.at_mm or (0.0, 0.0),
                f.message,
            ),
        )
    )
