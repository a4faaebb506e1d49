"""The door to the packing library `spyrrow` (the extra `improve`): parts in a strip as short as it finds.

It knows neither sheets nor openings, and its answer depends on how fast the machine is: so it only proposes, what
it proposes is measured exactly, and what is taken is stored (`improve.py`).
"""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

LIBRARY = "spyrrow"
SEED = 1
LEAST_S = 2.0
"""Its two phases take a second each at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What is packed: one outline without openings, and the turns (degrees) that it may take."""

    outline: shapely.Polygon
    turns: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A shape turned about the origin, then shifted."""

    shape: int
    turn_deg: int
    dx: float
    dy: float


def available() -> bool:
    """Is the library installed?"""
    return importlib.util.find_spec(LIBRARY) is not None


def packed(shapes: Sequence[Shape], height: float, seconds: float) -> tuple[Packed, ...]:
    """The shapes in a strip of that height from (0, 0) to the right; all of them, in their order.

    Shapes are taken as they are: whatever gap they shall keep, they have grown by. Raises ModuleNotFoundError.
    """
    import spyrrow

    items = [
        spyrrow.Item(
            str(n),
            [(float(x), float(y)) for x, y in shapely.get_coordinates(s.outline.exterior)[:-1]],
            1,
            [float(t) for t in s.turns],
        )
        for n, s in enumerate(shapes)
    ]
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=max(1, round(seconds)), seed=SEED
    )
    solution = spyrrow.StripPackingInstance("parts", strip_height=height, items=items).solve(config)
    found = [
        Packed(
            shape=int(p.id),
            turn_deg=round(p.rotation) % 360,
            dx=float(p.translation[0]),
            dy=float(p.translation[1]),
        )
        for p in solution.placed_items
    ]
    return tuple(sorted(found, key=lambda p: p.shape))
