"""Whether a drilled channel clears rim, faces and other voids, and comes out where it should (trade.md 3.5)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.steps.common import mm, place_in
from pipeline.steps.heights import floor_of
from pipeline.steps.values import Cut

COVER_MM = 3.0
"""Wood between a bore and a face or another void (trade.md 3.5, common practice)."""
CHUCK_MM = 40.0
"""What chuck and guide take of a bit's length (trade.md 3.5, common practice)."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """A bore settled: where it enters one wall and comes out of the other, in plan; ``room`` behind the entry in
    its cavity, ``run`` between the walls; the depths of its axis below the face it starts from."""

    entry: Point
    exit: Point
    room: float
    run: float
    slope: float  # tangent
    least: float  # tangent of the least slope that clears the rim
    depth: float
    diameter: float

    @property
    def exit_depth(self) -> float:
        return self.depth + self.run * self.slope

    @property
    def slope_deg(self) -> float:
        return math.degrees(math.atan(self.slope))

    @property
    def cos(self) -> float:
        return 1 / math.hypot(1.0, self.slope)

    @property
    def need(self) -> float:
        """d/2 + 3: how far the axis keeps from faces and voids."""
        return self.diameter / 2 + COVER_MM

    @property
    def length(self) -> float:
        return self.run * math.hypot(1.0, self.slope)


def least_slope(depth_mm: float, diameter_mm: float, room_mm: float) -> float:
    """(e + d/2)/a, a tangent: the least slope at which the shank passes over the opposite rim."""
    return (depth_mm + diameter_mm / 2) / room_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie:
    """A bore where it lies: the cuts it starts in and leads to, the thickness of the wood (None: not known)."""

    step: Step
    bore: Bore
    first: Cut
    last: Cut
    thick: float | None


def rim(lie: Lie) -> list[Finding]:
    """The shank passes over the opposite rim of the cavity it starts in, and the bit enters above its floor."""
    b, found = lie.bore, []
    if b.slope < b.least - 1e-9:
        least, highest = math.degrees(math.atan(b.least)), b.slope * b.room - b.diameter / 2
        also = f", or enter the wall at most {mm(highest)} deep" if highest * b.cos >= b.need else ""
        found.append(
            _stop(
                lie,
                "bore-rim",
                f"The shank of {lie.step.name} meets the far rim of {lie.first.step}: at {b.slope_deg:.1f} "
                f"degrees it doesn't rise out of {mm(b.room)} of cavity.",
                (b.slope_deg, least, "deg"),
                f"drill at {least:.1f} degrees or more{also}",
                b.entry,
            )
        )
    span = z_span(lie.first, lie.first, lie.thick)
    if span is not None and b.depth + b.diameter / 2 > span[1] + 1e-9:
        found.append(
            _stop(
                lie,
                "bore-floor",
                f"{lie.step.name} enters the wall {mm(b.depth)} deep, and {lie.first.step} is {mm(span[1])} deep: "
                f"the bit of {mm(b.diameter)} would cut into its floor.",
                (b.depth, span[1] - b.diameter / 2, "mm"),
                f"enter the wall at most {mm(span[1] - b.diameter / 2)} deep",
                b.entry,
            )
        )
    return found


def cover(lie: Lie) -> list[Finding]:
    """Enough wood between the bore and both faces, each where it comes nearest."""
    b, found = lie.bore, []
    half, over = b.diameter / 2, b.depth * b.cos
    if over < b.need - 1e-9:
        found.append(
            _stop(
                lie,
                "bore-cover",
                f"{lie.step.name} has {mm(over - half)} of wood between its bore and the {lie.first.face} face.",
                (over - half, COVER_MM, "mm"),
                f"enter the wall {mm(b.need / b.cos)} deep or more",
                b.entry,
            )
        )
    under = math.inf if lie.thick is None else (lie.thick - b.exit_depth) * b.cos
    if under < b.need - 1e-9:
        found.append(
            _stop(
                lie,
                "bore-cover",
                f"{lie.step.name} comes within {mm(under - half)} of the far face before {lie.last.step}.",
                (under - half, COVER_MM, "mm"),
                f"enter the wall {mm((b.need - under) / b.cos)} higher, or slope it less",
                b.exit,
            )
        )
    return found


def meets(lie: Lie) -> list[Finding]:
    """It comes out between the mouth and the floor of what it leads to."""
    b, span = lie.bore, z_span(lie.last, lie.first, lie.thick)
    if span is None or span[0] - 1e-9 <= b.exit_depth <= span[1] + 1e-9:
        return []
    deep = b.exit_depth > span[1]
    bound = span[1] if deep else span[0]
    return [
        _stop(
            lie,
            "bore-misses",
            f"{lie.step.name} comes to {lie.last.step} {mm(b.exit_depth)} below the {lie.first.face} face, and "
            f"that lies from {mm(span[0])} to {mm(span[1])}: it passes {'under' if deep else 'over'} it.",
            (b.exit_depth, bound, "mm"),
            f"enter the wall {mm(abs(b.exit_depth - bound))} {'higher' if deep else 'deeper'}",
            b.exit,
        )
    ]


def length(lie: Lie, bit_mm: float | None) -> list[Finding]:
    """No longer than the bit less what chuck and guide take of it."""
    b = lie.bore
    if bit_mm is None or b.length <= bit_mm - CHUCK_MM + 1e-9:
        return []
    return [
        _stop(
            lie,
            "bore-bit",
            f"{lie.step.name} is {mm(b.length)} long, and a bit of {mm(bit_mm)} reaches {mm(bit_mm - CHUCK_MM)}: "
            f"chuck and guide take {mm(CHUCK_MM)}.",
            (b.length, bit_mm - CHUCK_MM, "mm"),
            f"take a bit of {mm(b.length + CHUCK_MM)} or more",
            b.entry,
        )
    ]


def clear(lie: Lie, cut: Cut) -> list[Finding]:
    """Enough wood between the bore and another cut: by plan and height, as if it stood at its nearest height."""
    b = lie.bore
    axis = shapely.LineString([b.entry, b.exit])
    span = z_span(cut, lie.first, lie.thick)
    gap = 0.0 if span is None else max(span[0] - b.exit_depth, b.depth - span[1], 0.0) * b.cos
    away = math.hypot(float(axis.distance(cut.region.polygon)), gap)
    if away >= b.need - 1e-9:
        return []
    x, y = shapely.get_coordinates(shapely.shortest_line(axis, cut.region.polygon))[0].tolist()
    left = away - b.diameter / 2
    return [
        _stop(
            lie,
            "bore-cover",
            f"Between {lie.step.name} and {cut.name} {mm(max(left, 0.0))} of wood is left.",
            (left, COVER_MM, "mm"),
            f"lead it {mm(b.need - away)} farther away",
            (x, y),
        )
    ]


def z_span(cut: Cut, first: Cut, thick: float | None) -> tuple[float, float] | None:
    """Depths below the face of ``first`` between which a cut takes wood away; None where it isn't known."""
    if cut.lamination is not None:
        return None
    if thick is None:
        known = cut.face == first.face and cut.depth.rule == "depth" and cut.depth.tilt is None
        return (0.0, cut.depth.mm) if known else None
    deep = floor_of(cut, thick).deep
    return (0.0, deep) if cut.face == first.face else (thick - deep, thick)


def _stop(
    lie: Lie, check: str, message: str, numbers: tuple[float, float, str], remedy: str, at: Point
) -> Finding:
    measured, limit, unit = numbers
    return Finding(
        check=check,
        severity="stop",
        message=message,
        step=lie.step.name,
        at_mm=at,
        face=lie.first.face,
        measured=measured,
        limit=limit,
        unit=unit,
        remedy=remedy,
        place=place_in(lie.step, "drilled"),
    )
