"""What is done at one place, as it stands on a layer: drilled, bored for an index pin, pocketed, ramped."""

from __future__ import annotations

import numpy as np

from pipeline.core.fields import FaceName
from pipeline.geometry.region import Region
from pipeline.steps.heights import Floor
from pipeline.steps.solids import s_range
from pipeline.steps.values import Cut, Op

RAMP_STEP_MM = 10.0
"""Distance between the rows of a ramp's table."""


def drill(cut: Cut, face: FaceName, depth_mm: float | None = None) -> Op:
    """A drilled hole; without a depth it goes through."""
    return Op(
        work="DRILL",
        face=face,
        contours=cut.region.contours,
        depth_mm=depth_mm,
        diameter_mm=cut.diameter_mm,
        through=depth_mm is None,
        step=cut.step,
    )


def index(cut: Cut, face: FaceName) -> Op:
    """An index hole that another set-up has bored."""
    return Op(work="INDEX", face=face, contours=cut.region.contours, diameter_mm=cut.diameter_mm, step=cut.step)


def floored(floor: Floor, region: Region, top: float = 0.0, depth: float | None = None) -> Op:
    """A hole, pocket or ramp with a floor, over ``region``, on a face that lies ``top`` below the face its
    depth counts from. ``depth`` replaces the floor's own (a cut confined to one lamination).

    A ramp is named by its depths at the shape's own ends, before any overrun; over a band of the shape by
    its depths at the ends of that band.
    """
    cut, tilt = floor.cut, floor.cut.depth.tilt
    flat = floor.depth - top if depth is None else depth
    if cut.diameter_mm is not None:
        return drill(cut, cut.face, flat)
    if tilt is None:
        return Op(work="POCKET", face=cut.face, contours=region.contours, depth_mm=flat, step=cut.step)
    lo, hi = s_range(region, tilt.toward)
    return Op(
        work="RAMP",
        face=cut.face,
        contours=region.contours,
        depth_mm=floor.depth_at(max(lo, tilt.shallow)) - top,
        deep_mm=floor.depth_at(min(hi, tilt.deep)) - top,
        step=cut.step,
        ramp=ramp_table(floor, region, top),
    )


def ramp_table(floor: Floor, region: Region, top: float) -> tuple[tuple[float, float, float], ...]:
    """Rows (x, y, depth below a face that lies ``top`` below the blank's face) along the middle of a ramp:
    its two ends, the shape's own ends, and every RAMP_STEP_MM between."""
    tilt = floor.cut.depth.tilt
    assert tilt is not None
    lo, hi = s_range(region, tilt.toward)
    steps = np.arange(tilt.shallow, tilt.deep, RAMP_STEP_MM).tolist()
    stations = sorted({s for s in (lo, tilt.shallow, *steps, tilt.deep, hi) if lo <= s <= hi})
    u = np.array(tilt.toward)
    v = np.array([-u[1], u[0]])
    side = float(np.array(region.centroid) @ v)
    rows = []
    for s in stations:
        x, y = u * s + v * side
        rows.append((float(x), float(y), floor.depth_at(s) - top))
    return tuple(rows)
