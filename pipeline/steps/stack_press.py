"""Pressing a stack: force, clamps, glue, and how many joints can be closed before the glue sets.

trade.md 6.5. Pressure from 0.7 MPa (light wood) to 1.7 (dense): Wood Handbook, chapter 10. Spread, open time
and what a clamp gives: common practice, no source; the recipe's `press:` replaces them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.common import mm, place_in
from pipeline.steps.stack import Press

SPREAD_MIN = 2.5
"""Minutes for spreading the glue on one joint of SPREAD_MM2 (common practice, no source)."""
SPREAD_MM2 = 60_000.0
WASTE = 1.2
"""Glue that runs out or stays in the pot (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One load of the press: the numbers of the laminations of each thing in it, from the back."""

    number: int
    things: tuple[tuple[int, int], ...]

    @property
    def made(self) -> tuple[int, int]:
        """First and last lamination of what comes out."""
        return self.things[0][0], self.things[-1][1]

    @property
    def joints(self) -> int:
        return len(self.things) - 1


def loads(laminations: int, joints: int) -> tuple[Load, ...]:
    """Loads of the press for a stack when ``joints`` can be closed at once: sub-stacks of about the same size
    first, then those onto each other. Nothing for a single lamination. Raises ValueError for joints below 1.
    """
    if joints < 1:
        raise ValueError("a press closes one joint at least")
    things = [(n, n) for n in range(1, laminations + 1)]
    found: list[Load] = []
    while len(things) > 1:
        groups = math.ceil(len(things) / (joints + 1))
        ends = [round(k * len(things) / groups) for k in range(groups + 1)]
        joined: list[tuple[int, int]] = []
        for a, b in pairwise(ends):
            joined.append((things[a][0], things[b - 1][1]))
            if b - a > 1:
                found.append(Load(number=len(found) + 1, things=tuple(things[a:b])))
        things = joined
    return tuple(found)


def press_numbers(
    press: Press, pressed_mm2: float, glued_mm2: Sequence[float], laminations: int
) -> dict[str, Any]:
    """What the press needs: kN = MPa · mm² / 1000, clamps, glue in g, joints in one load, and the loads.

    ``pressed_mm2`` is the area under the caul (openings carry no pressure, but the caul does not know), and
    ``glued_mm2`` the area of each joint.
    """
    force = press.pressure * pressed_mm2 / 1000.0
    spread = press.spread_time or SPREAD_MIN * max(glued_mm2) / SPREAD_MM2
    joints = math.floor(press.open_time / spread + 1e-9) if spread else len(glued_mm2)
    found = loads(laminations, max(joints, 1))
    return {
        "pressure_mpa": press.pressure,
        "force_kn": force,
        "clamps": math.ceil(force / press.clamp_force - 1e-9),
        "glue_g": sum(glued_mm2) * 1e-6 * press.glue * WASTE,
        "spread_min": spread,
        "joints_in_one_load": joints,
        "loads": [
            {
                "load": v.number,
                "laminations": [span(t) for t in v.things],
                "makes": span(v.made),
                "joints": v.joints,
            }
            for v in found
        ],
    }


def span(ends: tuple[int, int]) -> str:
    """Laminations from one number to another: `2`, or `1-3`."""
    return f"{ends[0]}" if ends[0] == ends[1] else f"{ends[0]}-{ends[1]}"


def press_sentences(name: str, numbers: dict[str, Any]) -> tuple[str, ...]:
    """What the maker needs at the bench, in words."""
    clamps = numbers["clamps"]
    said = [
        f"{name}: pressing needs {numbers['force_kn']:.1f} kN ({numbers['pressure_mpa']:g} MPa on its face), "
        f"{clamps} {'clamp' if clamps == 1 else 'clamps'}, and about {math.ceil(numbers['glue_g'])} g of glue."
    ]
    found = numbers["loads"]
    if len(found) > 1:
        lines = "; ".join(f"load {v['load']} joins {_and(v['laminations'])}" for v in found)
        said.append(
            f"{name}: the glue stays open for {max(numbers['joints_in_one_load'], 1)} joint(s), "
            f"so it is pressed in {len(found)} loads: {lines}."
        )
    return tuple(said)


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def press_findings(step: Step, press: Press, numbers: dict[str, Any]) -> list[Finding]:
    """An `ask` when the glue sets before even one joint is spread."""
    if numbers["joints_in_one_load"] >= 1:
        return []
    return [
        Finding(
            check="open-time",
            severity="ask",
            message=(
                f"Spreading one joint of {step.name} takes {mm(numbers['spread_min'])} minutes, and the glue "
                f"stays open for {mm(press.open_time)}."
            ),
            step=step.name,
            measured=numbers["spread_min"],
            limit=press.open_time,
            unit="min",
            remedy=(
                f"take a slower glue with at least {math.ceil(numbers['spread_min'])} minutes, or spread it by "
                "two people with a roller, and write `press: {{spread_time: …}}`"
            ),
            place=place_in(step, "press"),
        )
    ]
