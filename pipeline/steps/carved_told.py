"""What is said of a carved shape: numbers of its laminations, ledges too wide or too narrow, overhangs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.profiles import Profile
from pipeline.geometry.region import Region
from pipeline.geometry.rounding import scallop
from pipeline.steps.carved import Spec
from pipeline.steps.common import mm, place_in
from pipeline.steps.measures import inside_point

RULE = "carve until the corner at the glue line just disappears, and no further"
WIDE = 3.0
"""A ledge wider than this many thicknesses is much hand work (trade.md 4.4, common practice)."""
NARROW_MM = 0.3
"""A ledge narrower than this is not worth a step (trade.md 4.4, common practice)."""
STEEP_DEG = 60.0
"""Steeper than this a ball needs passes at levels (common practice, no source)."""
SAME_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One lamination: insets at its underside, its upper face and of its cut outline, mm; volumes in mm³."""

    number: int
    piece: str
    z0: float
    z1: float
    below_mm: float
    above_mm: float
    cut_mm: float
    finished_mm3: float
    carve_mm3: float
    error_mm3: float

    @property
    def thickness(self) -> float:
        return self.z1 - self.z0

    @property
    def ledge_mm(self) -> float:
        """The wider of the two ledges between the cut edge and the finished surface at its faces."""
        return max(self.above_mm, self.below_mm) - self.cut_mm


def row_numbers(r: Row) -> dict[str, Any]:
    """A lamination for packet.json."""
    return {
        "lamination": r.number,
        "piece": r.piece,
        "z_mm": [r.z0, r.z1],
        "inset_below_mm": r.below_mm,
        "inset_above_mm": r.above_mm,
        "cut_inset_mm": r.cut_mm,
        "ledge_mm": r.ledge_mm,
        "finished_mm3": r.finished_mm3,
        "to_carve_mm3": r.carve_mm3,
    }


def ball_numbers(spec: Spec, profile: Profile) -> dict[str, Any]:
    """What a ball leaves on a level and on the steepest slope (None where that is upright)."""
    if spec.ball is None:
        return {}
    steep = profile.steepest_deg()
    radius = spec.ball.diameter / 2
    return {
        "ball_mm": spec.ball.diameter,
        "ball_step_mm": spec.ball.step,
        "scallop_mm": scallop(radius, spec.ball.step),
        "steepest_deg": steep,
        "scallop_steepest_mm": scallop(radius, spec.ball.step, steep) if steep < 89.9 else None,
        "level_passes": steep > STEEP_DEG,
    }


def wrong_height(step: Step, top: float, total: float, outline: Region) -> Iterator[Finding]:
    """Sheets that are lower or higher than the profile."""
    if abs(top - total) <= SAME_MM:
        return
    low = total < top
    yield Finding(
        check="carved-height",
        severity="stop" if low else "ask",
        message=(
            f"The laminations of {step.name} are {mm(total)} high and its profile {mm(top)}: "
            + (
                f"{mm(top - total)} mm of the shape are missing."
                if low
                else f"{mm(total - top)} mm must come off the top."
            )
        ),
        step=step.name,
        piece=step.name,
        at_mm=inside_point(outline),
        measured=total,
        limit=top,
        remedy=(
            f"add a sheet of {mm(top - total)} mm, or end the profile at {mm(total)}"
            if low
            else f"end the profile at {mm(total)}, or take thinner sheets"
        ),
        place=place_in(step, "laminations"),
    )


def findings_of(step: Step, rows: list[Row], outline: Region) -> list[Finding]:
    """Ledges and overhangs, lamination by lamination."""
    at = tuple(v for v in (outline.parts[0].outer.xy[0].tolist()))
    found: list[Finding] = []

    def note(check: str, r: Row, message: str, measured: float, limit: float, remedy: str) -> None:
        found.append(
            Finding(
                check=check,
                severity="note",
                message=message,
                step=step.name,
                piece=r.piece,
                at_mm=(float(at[0]), float(at[1])),
                measured=measured,
                limit=limit,
                remedy=remedy,
                place=place_in(step, "laminations"),
            )
        )

    for r in rows:
        if r.ledge_mm > WIDE * r.thickness + 1e-9:
            half = r.thickness / 2
            note(
                "carved-ledge",
                r,
                f"{r.piece} keeps a ledge of {mm(r.ledge_mm)} mm, over {WIDE:g} times its "
                f"{mm(r.thickness)}: much to carve.",
                r.ledge_mm,
                WIDE * r.thickness,
                f"two sheets of {mm(half)} mm in its place have ledges of {mm(r.ledge_mm / 2)} mm and half as "
                "much to carve",
            )
        elif 1e-6 < r.ledge_mm < NARROW_MM:
            note(
                "carved-ledge",
                r,
                f"{r.piece} keeps a ledge of only {mm(r.ledge_mm)} mm.",
                r.ledge_mm,
                NARROW_MM,
                f"cut {r.piece} and a neighbour to one outline, or from one sheet of twice the thickness",
            )
    for low, high in pairwise(rows):
        over = low.cut_mm - high.cut_mm
        if over > 1e-6:
            note(
                "carved-overhang",
                high,
                f"{high.piece} stands {mm(over)} mm out over {low.piece}.",
                over,
                0.0,
                f"support its rim with a caul of {mm(over)} mm and more when it is glued",
            )
    return found
