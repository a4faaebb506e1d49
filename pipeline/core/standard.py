"""Standard bought parts and fasteners: tables that come with the package, each row with its source.

The tables lie in `pipeline/data/standard/*.json`. ``trust`` says how far a row can be relied on: "read" (a
re-tabulation was read), "from memory" (the standard recalled, not read again) or "common practice" (no single
source). A measured part of the recipe's `hardware:` always stands above them.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

from pipeline.core.recipe import HardwarePart, Recipe

Use = Literal["clearance", "tap", "pilot", "insert", "dowel", "index", "pin", "string", "ferrule"]
Class = Literal["fine", "medium", "coarse"]
Wood = Literal["softwood", "plywood", "hardwood"]
PILOT: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"softwood": (0.60, 0.65), "plywood": (0.60, 0.65), "hardwood": (0.70, 0.75)}
)
"""A wood screw's pilot hole as a share of its nominal diameter, least and most (trade.md 3.6, common practice)."""
SHANK_MM = 0.2
"""A wood screw's clearance hole is larger than its shank by this (common practice, no source)."""
BELOW_MM = 2.0
"""A blind hole is this much deeper than the thread, insert or dowel in it (trade.md 3.6, common practice)."""
HARDWOOD_INSERT_MM = 0.5
"""An insert's hole in dense hardwood is wider by this (trade.md 3.6, common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The hole that a fastener needs: diameter in mm with its bounds, depth in mm (None: through), its source."""

    diameter_mm: float
    least_mm: float
    most_mm: float
    depth_mm: float | None
    chamfer_mm: float
    source: str
    trust: str


@cache
def table(name: str) -> Mapping[str, Mapping[str, Any]]:
    """The rows of one table by the part's name; each has ``source`` and ``trust``. Lengths in mm."""
    text = files("pipeline").joinpath(f"data/standard/{name}.json").read_text(encoding="utf-8")
    whole = json.loads(text)
    ground = {"source": whole["source"], "trust": whole["trust"]}
    return MappingProxyType({key: MappingProxyType({**ground, **row}) for key, row in whole["rows"].items()})


def part_of(recipe: Recipe, name: str) -> HardwarePart | None:
    """A bought part by name: the recipe's own, else the standard one, else None.

    What the recipe's entry leaves open (size, thread, hole, round) the standard part of the same name fills.
    """
    own, row = recipe.hardware.get(name), table("parts").get(name)
    if row is None:
        return own
    size = tuple(float(v) for v in row["size"])
    thread, hole, is_round = float(row.get("thread", 0)), float(row.get("hole", 0)), bool(row.get("round", False))
    if own is None:
        return HardwarePart(size=size, thread=thread, hole=hole, round=is_round)
    return replace(
        own,
        size=own.size or size,
        thread=own.thread or thread,
        hole=own.hole or hole,
        round=own.round if own.size else is_round,
    )


def trust_of(recipe: Recipe, name: str) -> tuple[str, str]:
    """(source, how far to trust it) of a part's sizes: the recipe's own stand above the tables'."""
    own, row = recipe.hardware.get(name), table("parts").get(name)
    if own is not None and (own.hole or row is None):
        return "the recipe's `hardware`", "measured" if own.measured else "as stated"
    assert row is not None, f"{name} is no part"
    return str(row["source"]), str(row["trust"])


def part_names(recipe: Recipe) -> tuple[str, ...]:
    """All names that ``part_of`` knows: the recipe's own first."""
    return (*recipe.hardware, *(n for n in table("parts") if n not in recipe.hardware))


def fastener_names() -> tuple[str, ...]:
    """The names that ``hole_for`` knows, in the tables' order."""
    return (*table("fasteners"), *table("wood_screws"), *table("pegs"))


def uses_of(name: str) -> tuple[Use, ...]:
    """What holes there are for a fastener; none for a name that no table holds."""
    found: list[Use] = []
    if name in table("fasteners"):
        found += ["clearance", "tap"]
        if name in table("inserts"):
            found.append("insert")
    elif name in table("wood_screws"):
        found += ["clearance", "pilot"]
    elif name in table("pegs"):
        found.append(table("pegs")[name]["for"])
    return tuple(found)


def hole_for(
    name: str, use: Use, *, fit: Class = "medium", wood: Wood = "plywood", length_mm: float | None = None
) -> Hole:
    """The hole of a fastener for one use, by the tables.

    ``length_mm`` is the thread, insert or dowel that goes into the wood: the hole is 2 deeper; a dowel sits
    half in each of two parts, which share those 2. Raises KeyError for a use that the fastener hasn't got.
    """
    if use not in uses_of(name):
        raise KeyError(f"{name} has no hole for {use}")
    depth = None if length_mm is None or use in ("clearance", "string") else length_mm + BELOW_MM
    chamfer = 0.0
    if use == "insert":
        row = table("inserts")[name]
        least = float(row["hole"])
        most = least + HARDWOOD_INSERT_MM
        d = most if wood == "hardwood" else least
    elif name in table("fasteners"):
        row = table("fasteners")[name]
        d = float(row["clearance"][fit]) if use == "clearance" else float(row["tap"])
        least = float(row["clearance"]["fine"]) if use == "clearance" else d
        most = float(row["clearance"]["coarse"]) if use == "clearance" else d
    elif name in table("wood_screws"):
        row = table("wood_screws")[name]
        nominal = float(row["nominal"])
        shares = PILOT[wood] if use == "pilot" else (1.0, 1.0)
        more = 0.0 if use == "pilot" else SHANK_MM
        least, most = nominal * shares[0] + more, nominal * shares[1] + more
        d = _tenths((least + most) / 2)
    else:
        row = table("pegs")[name]
        least = most = d = float(row["hole"])
        chamfer = float(row.get("mouth_chamfer", 0.0))
        if use == "dowel" and length_mm is not None:
            depth = (length_mm + BELOW_MM) / 2
    return Hole(
        diameter_mm=d,
        least_mm=least,
        most_mm=most,
        depth_mm=depth,
        chamfer_mm=chamfer,
        source=str(row["source"]),
        trust=str(row["trust"]),
    )


def _tenths(value: float) -> float:
    """Rounded half up to a tenth: drills come in tenths of a millimetre."""
    return math.floor(value * 10 + 0.5 + 1e-9) / 10
