"""Stretches of a board's line that bend, and what is said of boards and ribs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding, Severity
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Contour
from pipeline.geometry.parallel import bends
from pipeline.geometry.region import Region
from pipeline.geometry.wobble import Walk
from pipeline.steps.common import Stock, place_in
from pipeline.steps.labels import fits_well
from pipeline.steps.measures import inside_point
from pipeline.steps.mould_line import at
from pipeline.steps.values import Label


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bend:
    """One stretch that bends one way: where it begins and how long it is on the web's middle line, its angle, the
    least outer radius and its place, and the turn reached at each of ``stops``."""

    start_mm: float
    length_mm: float
    angle: float
    outer_mm: float
    at_mm: tuple[float, float]
    stops: tuple[float, ...]
    turns: tuple[float, ...]

    def places(self, count: int) -> list[float]:
        """Arc lengths of ``count`` cuts at equal angles."""
        wanted = (np.arange(count) + 0.5) * self.angle / count
        made: list[float] = np.interp(wanted, self.turns, self.stops).tolist()
        return made


def bends_of(step: Step, outer: Contour, middle: Contour, side: int, web: float) -> list[Bend]:
    """The bent stretches of a board, from its outer face and the middle of its web. Raises Refused where it
    bends the other way."""
    b = bends(middle)
    stops = np.concatenate([[0.0], np.cumsum(b.lengths)])
    way = np.where(np.abs(b.turns) > 1e-9, np.sign(b.turns) * side, 0.0)
    wrong = np.flatnonzero(way < 0)
    if len(wrong):
        k = int(wrong[0])
        x, y = Walk.of(middle).at(np.array([float(stops[k])]))[0][0]
        raise refuse(
            f"{step.name} bends the other way at {at(float(x), float(y))}; a board bends only toward its cuts.",
            place=place_in(step, "curve"),
            expected="a line that bends one way; the other bend is a board of its own, or a bent lamination",
        )
    found = []
    k = 0
    n = len(way)
    while k < n:
        if way[k] == 0:
            k += 1
            continue
        last = k
        while last + 1 < n and way[last + 1] > 0:
            last += 1
        part = slice(k, last + 1)
        turned = np.abs(b.turns[part])
        radius = b.lengths[part] / turned
        i = int(np.argmin(radius))
        x, y = Walk.of(outer).at(np.array([float(bends(outer).lengths[: k + i].sum())]))[0][0]
        found.append(
            Bend(
                start_mm=float(stops[k]),
                length_mm=float(stops[last + 1] - stops[k]),
                angle=float(turned.sum()),
                outer_mm=float(radius[i]) + web / 2,
                at_mm=(float(x), float(y)),
                stops=tuple(stops[k : last + 2].tolist()),
                turns=tuple(np.concatenate([[0.0], np.cumsum(turned)]).tolist()),
            )
        )
        k = last + 1
    return found


def told(
    step: Step,
    check: str,
    severity: Severity,
    message: str,
    spot: tuple[float, float] | None,
    measured: float,
    limit: float,
    unit: str,
    remedy: str,
    path: str,
) -> Finding:
    """A finding of a board at a place of its outer face."""
    return Finding(
        check=check,
        severity=severity,
        message=message,
        step=step.name,
        at_mm=spot,
        measured=measured,
        limit=limit,
        unit=unit,
        remedy=remedy,
        place=place_in(step, path),
    )


def small_text(step: Step, piece: str, stock: Stock, labels: tuple[Label, ...], wood: Region) -> list[Finding]:
    """A `note` where the words on a piece are smaller than its shop cuts well, or don't fit at all."""
    if fits_well(labels, stock.shop):
        return []
    height = labels[0].height_mm if labels else 0.0
    said = f"the letters on {piece} are only {height:g} mm high" if labels else f"no text fits on {piece}"
    return [
        Finding(
            check="label-small",
            severity="note",
            message=f"For want of room {said}.",
            step=step.name,
            piece=piece,
            at_mm=inside_point(wood),
            measured=height,
            limit=2.5 if stock.shop.process == "laser" else 6.0,
            remedy="write design, half and revision on it by hand",
            place=place_in(step, "sheet"),
        )
    ]
