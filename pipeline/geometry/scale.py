"""Where frets, strings and edges of a fretboard lie: plain arithmetic, mm, x from the bridge (0) to the nut.

Fret n of a scale of d equal steps to the octave lies S(1 − 2^(−n/d)) from the nut (outside_checks.md section 4;
M. Koch, *Building Electric Guitars*, gives the factors for d = 12). Every fret is reckoned from the nut, so errors
don't add up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """``length`` S mm from bridge to nut, ``divisions`` of the octave."""

    length: float
    divisions: int = 12

    def from_nut(self, fret: float) -> float:
        """Distance of a fret from the nut, mm."""
        return self.length * (1.0 - math.pow(2.0, -fret / self.divisions))

    def x_of(self, fret: float) -> float:
        """Distance of a fret from the bridge line, mm: its x in the design frame."""
        return self.length * math.pow(2.0, -fret / self.divisions)

    def fret_at(self, x: float) -> float:
        """The fret, whole or not, that lies x > 0 from the bridge: d · log2(S/x)."""
        return self.divisions * math.log2(self.length / x)


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A fretboard in plan: widths mm at the nut line and at the last fret, straight edges between and beyond.

    ``overhang`` and ``beyond_nut`` are what it is longer than from the nut line to the last fret. ``crown`` holds
    the radii of its face at the nut line and at the last fret, None for a flat one.
    """

    scale: Scale
    frets: int
    nut_width: float
    last_width: float
    overhang: float = 0.0
    beyond_nut: float = 0.0
    crown: tuple[float, float] | None = None

    @property
    def last(self) -> float:
        """x of the last fret."""
        return self.scale.x_of(self.frets)

    @property
    def span(self) -> tuple[float, float]:
        """x of its two ends, the bridge's side first."""
        return self.last - self.overhang, self.scale.length + self.beyond_nut

    def width_at(self, x: float) -> float:
        return self._along(self.nut_width, self.last_width, x)

    def radius_at(self, x: float) -> float | None:
        """Radius of the crown at x: linear between its ends, so the face is part of a cone."""
        return None if self.crown is None else self._along(*self.crown, x)

    def drop_at(self, x: float, half: float) -> float:
        """How far the crown has dropped at ``half`` mm from the middle; 0 on a flat board."""
        radius = self.radius_at(x)
        return 0.0 if radius is None else sagitta(radius, 2 * half)

    def _along(self, at_nut: float, at_last: float, x: float) -> float:
        share = (self.scale.length - x) / (self.scale.length - self.last)
        return at_nut + (at_last - at_nut) * share


def linear(at_nut: float, at_bridge: float, length: float, x: float) -> float:
    """What runs straight from the nut (x = length) to the bridge (x = 0), such as the strings' spread."""
    return at_bridge + (at_nut - at_bridge) * x / length


def sagitta(radius: float, chord: float) -> float:
    """Height of an arc over its chord: ρ − √(ρ² − c²/4), written so that it keeps its digits when flat.

    Raises ValueError where the chord is longer than the circle is wide.
    """
    if chord > 2 * radius:
        raise ValueError(f"a chord of {chord:g} does not go into a radius of {radius:g}")
    half = chord / 2
    return half * half / (radius + math.sqrt(radius * radius - half * half))
