"""How far wood bends: springback of glued laminations, and the least radius of one ply.

Springback (trade.md 6.7, derived): n equal plies that slide before the glue sets store n·EI·κ_form; glued they are
n³·EI stiff, so they keep κ = κ_form (1 − 1/n²). The angle of a bend is then n²/(n² − 1) times larger on the form.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Literal

Grain = Literal["along", "across", "diagonal"]
Wet = Literal["cold", "soaked"]
INCH = 25.4
ROUNDED_MM = 0.01
"""Thicknesses in mm that stand for inches are rounded by less."""
VENEER_ASK = 60.0
VENEER_STOP = 50.0
"""Least radius of solid dry veneer bent along its grain, in thicknesses (trade.md 6.7, common practice)."""


def kept(plies: int) -> float:
    """1 − 1/n²: the share of the form's curvature that n glued plies keep. Raises ValueError below 2."""
    if plies < 2:
        raise ValueError("a single ply keeps no bend at all")
    return 1.0 - 1.0 / plies**2


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table, in mm."""

    thickness: float
    plies: int
    radius: dict[tuple[Wet, bool], float]  # by wetness, and whether the face grain runs along the curve


@cache
def table() -> tuple[Row, ...]:
    """The rows of `pipeline/data/bending/plywood.csv`, thin to thick; its head names the source."""
    text = files("pipeline").joinpath("data/bending/plywood.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    rows = []
    for line in lines[1:]:
        t, plies, a, b, c, d = line.split(",")
        radius: dict[tuple[Wet, bool], float] = {
            ("cold", True): float(a) * INCH,
            ("cold", False): float(b) * INCH,
            ("soaked", True): float(c) * INCH,
            ("soaked", False): float(d) * INCH,
        }
        rows.append(Row(thickness=float(t) * INCH, plies=int(plies), radius=radius))
    return tuple(rows)


def least_radius(thickness_mm: float, grain: Grain, wet: Wet) -> float | None:
    """Least radius of one ply of plywood in mm, linear between the table's rows; None where it is thicker.

    ``along``: the face grain runs along the curve, the stiffer way, the table's 90 degrees. Plies thinner than the
    table's thinnest take its ratio of radius to thickness, which is on the safe side, since the ratio falls.
    """
    key = (wet, grain == "along")
    rows = table()
    if thickness_mm > rows[-1].thickness + ROUNDED_MM:
        return None
    thickness_mm = min(thickness_mm, rows[-1].thickness)
    if thickness_mm <= rows[0].thickness:
        return thickness_mm * rows[0].radius[key] / rows[0].thickness
    for a, b in pairwise(rows):
        if thickness_mm <= b.thickness + 1e-9:
            share = (thickness_mm - a.thickness) / (b.thickness - a.thickness)
            return a.radius[key] + share * (b.radius[key] - a.radius[key])
    raise AssertionError("the rows are in order")


def thickest(radius_mm: float, grain: Grain, wet: Wet) -> float:
    """The thickest ply that the table allows at a radius, in mm: the inverse of `least_radius`."""
    key = (wet, grain == "along")
    rows = table()
    if radius_mm <= rows[0].radius[key]:
        return radius_mm * rows[0].thickness / rows[0].radius[key]
    for a, b in pairwise(rows):
        if radius_mm < b.radius[key]:
            share = (radius_mm - a.radius[key]) / (b.radius[key] - a.radius[key])
            return a.thickness + share * (b.thickness - a.thickness)
    return rows[-1].thickness
