"""The vocabulary in which step specs and shop profiles say what each of their fields is.

A spec is a frozen dataclass; each field has one of the types below (or a tuple, a Literal, an
optional, a union or a nested frozen dataclass of them) and a sentence of documentation. The recipe
reader, the JSON Schema, the graph and the recipe reference all walk these annotations, so nothing
about a field is said twice.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal


@dataclass(frozen=True, slots=True)
class Unit:
    """A number with a unit; the recipe may write it as a number, with a unit, or as arithmetic."""

    name: Literal["mm", "deg", "g", "kg/m3", "money", "mm/min", "rpm", "min", "1"]


@dataclass(frozen=True, slots=True)
class Refers:
    """A name of something else in the recipe or drawing."""

    to: Literal["step", "sheet", "shop", "drawn", "mark", "part"]


@dataclass(frozen=True, slots=True)
class AtLeast:
    """A bound on a number (``above``: must be greater than, not equal)."""

    value: float
    above: bool = False


Length = Annotated[float, Unit("mm")]
"""Millimetres, any sign."""
Size = Annotated[float, Unit("mm"), AtLeast(0.0, above=True)]
"""Millimetres, greater than zero."""
Gap = Annotated[float, Unit("mm"), AtLeast(0.0)]
"""Millimetres, zero or more."""
Angle = Annotated[float, Unit("deg")]
Mass = Annotated[float, Unit("g"), AtLeast(0.0)]
Density = Annotated[float, Unit("kg/m3"), AtLeast(0.0, above=True)]
Money = Annotated[float, Unit("money"), AtLeast(0.0)]
Feed = Annotated[float, Unit("mm/min"), AtLeast(0.0, above=True)]
Minutes = Annotated[float, Unit("min"), AtLeast(0.0)]
Number = Annotated[float, Unit("1")]
NotNegative = Annotated[float, Unit("1"), AtLeast(0.0)]
"""A plain number, zero or more."""
Count = Annotated[int, AtLeast(1)]
Point = tuple[Length, Length]
"""(x, y) in mm in the design frame."""
StepName = Annotated[str, Refers("step")]
"""Names a step: an edge of the graph."""
SheetName = Annotated[str, Refers("sheet")]
"""A stock, with its letter where it has several sheets: ``birch12 A``."""
DrawnName = Annotated[str, Refers("drawn")]
"""An object of the drawing."""
MarkName = Annotated[str, Refers("mark")]
"""A mark of the drawing."""
PartName = Annotated[str, Refers("part")]
"""A bought part of ``hardware``."""
Direction = Literal["+x", "-x", "+y", "-y", "bass", "treble", "nut", "bridge"]
FaceName = Literal["front", "back"]

NEEDED: Any = dataclasses.MISSING


def field(doc: str, default: Any = NEEDED) -> Any:
    """A documented dataclass field; without a default the recipe must give it."""
    if default is NEEDED:
        return dataclasses.field(metadata={"doc": doc})
    if isinstance(default, Mapping):  # dataclasses take these for mutable
        return dataclasses.field(default_factory=lambda: default, metadata={"doc": doc})
    return dataclasses.field(default=default, metadata={"doc": doc})
