"""What all edge treatments start from: outer edges by arc length, what is taken out, and stretches of the edge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding, Severity
from pipeline.core.recipe import Step
from pipeline.geometry.alongside import Interval, Rim, common, merged, mouths, widened, without
from pipeline.geometry.contour import Floats
from pipeline.geometry.region import Part, Region
from pipeline.steps.common import place_in
from pipeline.steps.edge import Treatment, path
from pipeline.steps.heights import Floor, Span
from pipeline.steps.measures import point_of
from pipeline.steps.values import Cut, EdgeRun, Op, World

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One cut of the blank between two heights, z0 < z1 (of a sloped floor: at its deepest)."""

    cut: Cut
    z0: float
    z1: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """A blank before its edges are treated. ``solid`` is its outline without openings, ``rims`` its outer edges;
    ``layers`` are spans with densities in kg/m³ (empty when one is unknown)."""

    step: Step
    world: World
    solid: Region
    rims: tuple[Rim, ...]
    total: float
    taken: tuple[Taken, ...]
    layers: tuple[tuple[Span, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Where one treatment goes on one outer edge: ``asked`` for, and ``runs`` that are left after ``skipped``."""

    rim: Rim
    asked: tuple[Interval, ...]
    skipped: tuple[tuple[str, Interval], ...]
    runs: tuple[Interval, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What comes of one treatment."""

    face: FaceName
    treatment: Treatment
    stretches: tuple[Stretch, ...]
    runs: tuple[EdgeRun, ...]
    row: dict[str, Any]
    ops: tuple[Op, ...] = ()
    guides: tuple[Floor, ...] = ()
    findings: tuple[Finding, ...] = ()
    reports: tuple[str, ...] = ()


def ground(
    step: Step,
    world: World,
    outline: Region,
    levels: Sequence[Span],
    total: float,
    floors: Iterable[Floor],
    layers: Sequence[tuple[Span, float]],
) -> Ground:
    """The blank as its edges find it."""
    solid = Region(tuple(Part(p.outer) for p in outline.parts))
    taken: dict[tuple[str, str], Taken] = {}
    for f in floors:
        t = _taken(f, levels)
        known = taken.get((t.cut.step, t.cut.name))
        if known is None or known.z1 - known.z0 < t.z1 - t.z0:
            taken[t.cut.step, t.cut.name] = t
    return Ground(
        step=step,
        world=world,
        solid=solid,
        rims=tuple(Rim.of(p.outer) for p in solid.parts),
        total=total,
        taken=tuple(taken.values()),
        layers=tuple(layers),
    )


def _taken(floor: Floor, levels: Sequence[Span]) -> Taken:
    cut = floor.cut
    if cut.lamination is not None and 1 <= cut.lamination <= len(levels):
        span = levels[cut.lamination - 1]
        depth = span.thickness if cut.depth.rule in ("sheet", "through") else min(cut.depth.mm, span.thickness)
        z0 = span.z1 - depth if cut.face == "front" else span.z0
        return Taken(cut=cut, z0=z0, z1=z0 + depth)
    deep = min(floor.deep, floor.total)
    z0 = floor.total - deep if cut.face == "front" else 0.0
    return Taken(cut=cut, z0=z0, z1=z0 + deep)


# -- stretches ---------------------------------------------------------------------------------------
def stretches(g: Ground, face: FaceName, number: int, t: Treatment) -> tuple[Stretch, ...]:
    """Where a treatment goes: on the edge nearest to its two places, or on every outer edge all round.

    The mouths of ``skip`` are left out, with the bearing's radius beside them when a bearing rolls there. Raises
    Refused where a stretch is empty.
    """
    if t.between is not None:
        spots = [point_of(g.world, g.step, path(face, number, f"between.{i}"), s) for i, s in enumerate(t.between)]
        rim = min(g.rims, key=lambda r: sum(r.locate(*s)[1] for s in spots))
        a, b = (rim.locate(*s)[0] for s in spots)
        chosen = [(rim, _one(g, face, number, "between", a, b, rim))]
    elif t.along is not None:
        rim = max(g.rims, key=lambda r: r.length)
        chosen = [(rim, _one(g, face, number, "along", *t.along, rim))]
    else:
        chosen = [(rim, (0.0, rim.length)) for rim in g.rims]
    found = []
    for rim, interval in chosen:
        asked = merged([interval], rim.length)
        skipped = tuple(
            (name, i) for name in t.skip for i in common(asked, _mouths_of(g, name, t, rim), rim.length)
        )
        runs = without(asked, [i for _, i in skipped], rim.length)
        found.append(Stretch(rim=rim, asked=asked, skipped=skipped, runs=runs))
    return tuple(found)


def _one(g: Ground, face: FaceName, number: int, field: str, a: float, b: float, rim: Rim) -> Interval:
    ahead = (b - a) % rim.length
    if abs(b - a) >= rim.length - 1e-6:
        return (0.0, rim.length)
    if ahead < 1e-6:
        raise refuse(
            f"The stretch of the {face} edge of {g.step.name} begins where it ends.",
            place=place_in(g.step, path(face, number, field)),
            expected="two different places, the second one anticlockwise from the first as seen from the front",
        )
    return (a % rim.length, a % rim.length + ahead)


def _mouths_of(g: Ground, name: str, t: Treatment, rim: Rim) -> tuple[Interval, ...]:
    result = g.world.result(name)
    regions = [c.region for c in result.cuts] or [r for r in (result.region,) if r]
    open_ = [i for r in regions for i in mouths(rim, r)]
    return widened(open_, t.bearing / 2 if t.by_bit else 0.0, rim.length)


# -- numbers and findings ----------------------------------------------------------------------------
def interval_row(rim: Rim, interval: Interval) -> dict[str, Any]:
    """An interval of an edge for packet.json."""
    return {
        "from_mm": interval[0],
        "to_mm": interval[1],
        "length_mm": interval[1] - interval[0],
        "from_at_mm": list(rim.point(interval[0])),
        "to_at_mm": list(rim.point(interval[1])),
    }


def stretch_rows(found: Iterable[Stretch]) -> dict[str, Any]:
    """Runs and exclusions of a treatment for packet.json."""
    listed = list(found)
    return {
        "edge_lengths_mm": [s.rim.length for s in listed],
        "runs": [interval_row(s.rim, i) for s in listed for i in s.runs],
        "skipped": [{"because": name, **interval_row(s.rim, i)} for s in listed for name, i in s.skipped],
    }


def finding(
    g: Ground,
    face: FaceName,
    number: int,
    field: str,
    *,
    check: str,
    severity: Severity,
    message: str,
    at: Point,
    measured: float,
    limit: float,
    remedy: str,
    unit: str = "mm",
) -> Finding:
    """A finding on one treatment, with its place in the recipe."""
    return Finding(
        check=check,
        severity=severity,
        message=message,
        step=g.step.name,
        piece=g.step.name,
        at_mm=at,
        face=face,
        measured=measured,
        limit=limit,
        unit=unit,
        remedy=remedy,
        place=place_in(g.step, path(face, number, field)),
    )


def skin_left(t: Taken, face: FaceName, total: float, lowered: Floats) -> float | None:
    """Least wood over a cut where the face is lowered so much above it; None where the cut opens to that face."""
    if not len(lowered):
        return None
    if face == "front":
        return None if t.z1 >= total - 1e-6 else total - t.z1 - float(np.max(lowered))
    return None if t.z0 <= 1e-6 else t.z0 - float(np.max(lowered))
