"""How long the machine cuts: real lengths of every line, passes, feeds, pierces (an order's set-ups and tool
changes are counted in `shop_time.py`).

Formulas: trade notes 9.2. What they leave out is left out here: slowing down on tight arcs, and the moves
from part to part of one sheet. An engraved letter counts as ``STROKES`` times its height.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from pipeline.core.shop import Cutter, Rates, Shop
from pipeline.geometry.contour import Contour, Floats
from pipeline.steps.values import Label, Op, SetUp
from pipeline.workshop.cutters import CUTS, cutter_for, cutter_name, depth_of, enclosed

STEP_OVER = 0.4
"""Distance of two neighbouring ways in a pocket, as a share of the cutter's diameter."""
PLUNGE = 0.3
"""Feed straight down, as a share of the cutting feed (common practice, no source)."""
THROUGH_MM = 0.4
"""How far a through cut goes into the table."""
STROKES = 3.0
"""Length of an engraved letter's strokes, as a multiple of its height (measured on plain capitals)."""
AREAS = ("POCKET", "RAMP")
"""Works that clear an area."""
CORNER_DEG = 5.0
"""A bend of more than this stops a machine whose acceleration is counted (judged)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One operation as the machine runs it: ``path_mm`` with every pass, ``between_mm`` from cut to cut."""

    work: str
    cutter: str
    path_mm: float
    between_mm: float = 0.0
    pierces: int = 0
    minutes: float


def passes(depth_mm: float, cutter: Cutter, shop: Shop) -> int:
    """How many passes a depth takes: of the shop's pass depth, else of the cutter's diameter."""
    return max(1, math.ceil(depth_mm / (shop.rates.pass_depth or cutter.DC) - 1e-9))


def pocket_path(area_mm2: float, perimeter_mm: float, count: int, diameter_mm: float) -> float:
    """Length in mm: the area in ways of STEP_OVER · D, ``count`` times, and the wall once to finish."""
    return count * area_mm2 / (STEP_OVER * diameter_mm) + perimeter_mm


def straight_minutes(length_mm: float, feed: float, acceleration: float) -> float:
    """One run from standstill to standstill: ℓ/v + v/a where it reaches its speed, else 2 √(ℓ/a) (trade notes
    9.2). ``feed`` in mm/min, ``acceleration`` in mm/s²; 0 is not counted."""
    if not acceleration:
        return length_mm / feed
    v = feed / 60
    if length_mm >= v * v / acceleration:
        return (length_mm / v + v / acceleration) / 60
    return 2 * math.sqrt(length_mm / acceleration) / 60


def run_lengths(contour: Contour) -> Floats:
    """Lengths in mm of the stretches between its corners; a closed one without corners is one stretch."""
    chords = contour.ends - contour.starts
    half = 2 * np.arctan(contour.bulges)  # half the arc's angle: from tangent to chord
    bent = np.abs(half) > 1e-9
    lengths = np.hypot(chords[:, 0], chords[:, 1]) * np.where(bent, half / np.where(bent, np.sin(half), 1.0), 1.0)
    angles = np.arctan2(chords[:, 1], chords[:, 0])
    bends = np.roll(angles - half, -1) - (angles + half)
    stops = np.abs((bends + math.pi) % (2 * math.pi) - math.pi) > math.radians(CORNER_DEG)
    if not contour.closed:
        stops[-1] = True
    ends = np.flatnonzero(stops)
    if not len(ends):
        return np.array([lengths.sum()])
    last = int(ends[-1])
    runs: Floats = np.add.reduceat(np.roll(lengths, -last - 1), np.append(0, ends[:-1] - last + len(lengths)))
    return runs


def path_minutes(contours: Iterable[Contour], feed: float, acceleration: float) -> float:
    """Once along every contour."""
    if not acceleration:
        return sum(c.length for c in contours) / feed
    return sum(straight_minutes(float(x), feed, acceleration) for c in contours for x in run_lengths(c))


def between(contours: tuple[Contour, ...]) -> float:
    """From the end of each contour to the start of the next, in mm, in the order they stand in the file."""
    ends = [c.xy[0] if c.closed else c.xy[-1] for c in contours[:-1]]
    return sum(float(np.hypot(*(c.xy[0] - e))) for e, c in zip(ends, contours[1:], strict=True))


def op_run(op: Op, shop: Shop, thickness_mm: float) -> Run | None:
    """One operation of one copy; None for what is only drawn."""
    if op.work not in CUTS:
        return None
    rates = shop.rates
    hops = 0.0 if op.work in AREAS else between(op.contours)  # islands lie within the ways of a pocket
    if shop.process == "laser":
        path, pierces, minutes = _laser(op, rates, thickness_mm)
        return Run(
            work=op.work, cutter="beam", path_mm=path, between_mm=hops, pierces=pierces,
            minutes=minutes + pierces * rates.pierce + hops / rates.rapid,
        )  # fmt: skip
    chosen = cutter_for(op, shop, thickness_mm)
    cutter = chosen or shop.profile_cutter
    path, minutes = _router(op, shop, cutter, thickness_mm)
    return Run(
        work=op.work,
        cutter=cutter_name(op, shop, chosen),
        path_mm=path,
        between_mm=hops,
        minutes=minutes + hops / rates.rapid,
    )


def _laser(op: Op, rates: Rates, thickness_mm: float) -> tuple[float, int, float]:
    """(path in mm, pierces, minutes without them): an area in lines a pitch apart, all else along its lines."""
    slow = rates.feed_at(thickness_mm)
    fast = rates.engrave or slow
    if op.work in AREAS:
        path = float(enclosed(op.contours).area) / rates.pitch
        return path, 0, path / fast
    light = op.work in ("ENGRAVE", "SCORE")
    minutes = path_minutes(op.contours, fast if light else slow, rates.acceleration)
    return sum(c.length for c in op.contours), 0 if light else len(op.contours), minutes


def _router(op: Op, shop: Shop, cutter: Cutter, thickness_mm: float) -> tuple[float, float]:
    """(path in mm with every pass, minutes)."""
    rates = shop.rates
    feed, length = rates.feed_at(thickness_mm), sum(c.length for c in op.contours)
    depth = depth_of(op, thickness_mm)
    if op.through or op.work in ("CUT_INSIDE", "CUT_OUTSIDE"):
        depth += THROUGH_MM
    count = passes(depth, cutter, shop)
    down = len(op.contours) * depth
    if op.work == "DRILL":
        round_ = count * math.pi * max(0.0, (op.diameter_mm or 0.0) - cutter.DC) * len(op.contours)
        return round_, 2 * down / (PLUNGE * feed) + round_ / feed
    if op.work in AREAS:
        path = pocket_path(float(enclosed(op.contours).area), length, count, cutter.DC)
        return path, path / feed + down / (PLUNGE * feed)
    once = path_minutes(op.contours, feed, rates.acceleration)
    return count * length, count * once + down / (PLUNGE * feed)


def op_minutes(op: Op, shop: Shop, thickness_mm: float) -> float:
    """Minutes that one operation takes; 0 for what is only drawn."""
    run = op_run(op, shop, thickness_mm)
    return run.minutes if run else 0.0


def label_run(labels: tuple[Label, ...], shop: Shop, thickness_mm: float) -> Run | None:
    """Engraved text; None where there is none."""
    strokes = sum(STROKES * x.height_mm * len(x.text.replace(" ", "")) for x in labels if x.engrave)
    if not strokes:
        return None
    feed = shop.rates.feed_at(thickness_mm)
    fine = sorted((c.DC, c.kind) for c in shop.cutters if c.kind != "drill")
    laser = shop.process == "laser"
    name = (
        "beam"
        if laser
        else f"{'ball' if fine and fine[0][1] == 'ball' else 'cutter'} {fine[0][0]:g}"
        if fine
        else ""
    )
    return Run(
        work="ENGRAVE",
        cutter=name,
        path_mm=strokes,
        minutes=strokes / ((shop.rates.engrave or feed) if laser else feed),
    )


def set_up_runs(set_up: SetUp, shop: Shop, thickness_mm: float) -> tuple[Run, ...]:
    """All that one set-up of one copy runs."""
    found = [op_run(op, shop, thickness_mm) for op in set_up.ops]
    found.append(label_run(set_up.labels, shop, thickness_mm))
    return tuple(r for r in found if r)


def set_up_minutes(set_up: SetUp, shop: Shop, thickness_mm: float) -> float:
    """Minutes of cutting in one set-up of one copy."""
    return sum(r.minutes for r in set_up_runs(set_up, shop, thickness_mm))


def tools(set_up: SetUp, shop: Shop, thickness_mm: float) -> frozenset[tuple[str, float]]:
    """The cutters that a set-up needs, by (kind, diameter); none for a laser."""
    found = (cutter_for(op, shop, thickness_mm) for op in set_up.ops)
    return frozenset((c.kind, c.DC) for c in found if c)
