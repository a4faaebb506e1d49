"""A drawing as read: its objects, their curves in page mm with y up, and what can't be read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from pipeline.core.errors import Problem
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.intake.drawing.segments import Subpath

Sized = Literal["mm", "px", "none"]
"""What the page's size rests on: a physical unit, pixels (1/96 inch), or nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One element that draws something: ``number`` counts from 1 in the order of the drawing.

    ``kind`` is its element name; a text or image has no subpaths. ``hidden`` says why it isn't seen
    ("" when it is). ``faults`` make it useless when a recipe names it; ``place`` is where it stands.

    ``bounds`` is (xmin, ymin, xmax, ymax), None without subpaths. ``rounded_mm`` is the step to which the
    coordinates of its cubics are rounded (`recognise.rounding`), in page mm; ``step_mm`` that of all its
    coordinates where they were rounded when it was saved (`coarse.step_of`). ``unread`` is a kind of
    object that is told of and left out beside others.
    """

    number: int
    kind: str
    entry: int
    subpaths: tuple[Subpath, ...]
    bounds: tuple[float, float, float, float] | None
    filled: bool
    stroked: bool
    even_odd: bool
    hidden: str
    faults: tuple[Problem, ...]
    place: Place
    rounded_mm: float = 0.0
    step_mm: float = 0.0
    unread: bool = False

    @property
    def painted(self) -> bool:
        return (self.filled or self.stroked) and not self.hidden


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One object that can have a name: a shape, a group, or an instance drawn by ``use``.

    ``direct`` is False inside a ``use``: the element itself stands elsewhere. ``node`` identifies the
    element; ``parent`` is the index of the entry around it, -1 at the top. ``also`` are the indices of
    further entries that hold it: its layer, where it stands in a block; the block, where it inserts one.
    """

    index: int
    parent: int
    kind: str
    id: str
    labels: tuple[str, ...]
    direct: bool
    node: int
    place: Place
    hidden: str
    also: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        return self.id or (self.labels[0] if self.labels else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A drawing in page mm, y up, origin at the page's lower left corner (of a DXF: at its own zero).

    ``page`` is (width, height) in mm, None when the drawing doesn't say. ``unit_mm`` is the mm of one
    user unit of the outermost element; 1 when nothing says so (``sized`` is then "none").
    ``undrawn`` maps the ids of elements that are never drawn (definitions) to their element name. ``form`` is
    the kind of file; ``unit`` tells in words what its unit is, or what hints at it where nothing says.
    """

    file: str
    page: tuple[float, float] | None
    unit_mm: float
    sized: Sized
    shapes: tuple[Shape, ...]
    entries: tuple[Entry, ...]
    undrawn: dict[str, str]
    findings: tuple[Finding, ...]
    form: Literal["SVG", "DXF"] = "SVG"
    unit: str = ""

    def members(self, index: int) -> tuple[Shape, ...]:
        """The shapes of an entry: its own, or all within the group."""
        inside = set()
        for entry in self.entries[index:]:
            if entry.index == index or entry.parent in inside or any(i in inside for i in entry.also):
                inside.add(entry.index)
        return tuple(s for s in self.shapes if s.entry in inside)

    def name_of(self, shape: Shape) -> str:
        """The nearest name of a shape: its own, or that of the group around it, else its element."""
        entry = self.entries[shape.entry]
        if entry.name:
            return entry.name
        while entry.parent >= 0:
            entry = self.entries[entry.parent]
            if entry.name:
                return f"{shape.kind} in {entry.name}"
        return f"{shape.kind} on line {shape.place.line}"


def renumbered(shapes: list[Shape]) -> tuple[Shape, ...]:
    """The shapes numbered from 1."""
    return tuple(replace(s, number=i) for i, s in enumerate(shapes, 1))
