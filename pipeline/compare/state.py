"""What is cut at one revision, in the design frame: of a packet's own files or of a design just derived.

A State holds no recipe: two of them are compared by their lines alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pipeline.geometry.contour import Contour

NOTHING: Mapping[str, Any] = MappingProxyType({})
Point = tuple[float, float]

CUT = ("CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL", "GROOVE", "SCORE", "ENGRAVE", "INDEX", "CARVE_LINE")
"""Works that are compared; what only helps the eye (text, zero, stock, reference) is not."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """One contour that is cut (or carved to), in the design frame. ``depth_mm`` counts from ``face``,
    ``deep_mm`` is the deep end of a sloped floor, ``ramp`` its table (x, y, depth) in the design frame."""

    work: str
    face: str
    contour: Contour
    depth_mm: float | None = None
    deep_mm: float | None = None
    diameter_mm: float | None = None
    through: bool = False
    ramp: tuple[tuple[float, float, float], ...] = ()

    @property
    def goes_through(self) -> bool:
        return self.through or self.work in ("CUT_OUTSIDE", "CUT_INSIDE", "INDEX")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One lamination of a blank: its number from the back, its span in mm from the back, its piece."""

    number: int
    piece: str
    z0: float
    z1: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauged:
    """A dimension that a page of the shop sheet asks for, and what it is by the files."""

    page: str
    letter: str
    kind: str
    what: str
    size_mm: float
    plus_minus_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thing:
    """One piece or glued blank at one revision. ``pages`` are the files it stands in, by name without ending;
    ``design`` are contours of its finished outline where they are known; ``problem`` says why it has no lines."""

    name: str
    blank: bool
    lines: tuple[Line, ...]
    role: str = ""
    step: str = ""
    sheet: str = ""
    letter: str = ""
    material: str = ""
    shop: str = ""
    count: int = 1
    since: str = ""
    thickness_mm: float = 0.0
    mass_g: float | None = None
    layers: tuple[Layer, ...] = ()
    gauges: tuple[Gauged, ...] = ()
    pages: tuple[str, ...] = ()
    design: tuple[Contour, ...] = ()
    problem: str = ""

    @property
    def key(self) -> tuple[str, bool]:
        return self.name, self.blank

    @property
    def said(self) -> str:
        """How it is called in messages."""
        return f"the glued blank {self.name}" if self.blank else self.name

    def of(self, *works: str) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.work in works)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """All that one packet (or one derivation) holds. ``steps`` are what packet.json says of each, by name;
    ``sequence`` and ``totals`` as there (empty where nothing is known); ``source`` names it in messages."""

    source: str
    design: str
    variant: str
    revision: str
    things: tuple[Thing, ...]
    steps: Mapping[str, Mapping[str, Any]] = field(default_factory=lambda: NOTHING)
    sequence: tuple[Mapping[str, Any], ...] = ()
    totals: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    title: str = ""

    def thing(self, name: str, *, blank: bool = False) -> Thing | None:
        return next((t for t in self.things if t.key == (name, blank)), None)

    @property
    def index_holes(self) -> tuple[tuple[float, float, float], ...]:
        """(x, y, diameter) of all index holes that the steps state."""
        found = []
        for step in self.steps.values():
            if step.get("kind") == "holes" and step.get("role") == "index":
                for hole in step.get("holes", ()):
                    x, y = hole["at_mm"][:2]
                    found.append((float(x), float(y), float(hole["diameter_mm"])))
        return tuple(found)
