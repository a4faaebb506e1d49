"""What comes out when a follower runs along a template, exactly: trade.md 5.1 by offsets of lines and arcs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.deviation import distances
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Part, Region
from pipeline.geometry.segments import segments_of

Use = Literal["outside", "opening"]

HAIR_MM = 0.001
"""A place that differs by less is no residue; it counts for ``worst_mm``."""
BESIDE_MM = 0.002
"""Points of an edge within this of a residue belong to the residue."""
SPACING_MM = 0.25
LEAST, MOST = 8, 400
"""Points on each line or arc where it is measured: at most SPACING_MM apart, within these numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue:
    """One place where the result differs: ``what`` stays of the waste, or is missing of the wood; its area, and
    how far the wanted edge and the result's lie apart there at most, and where."""

    what: Literal["stays", "missing"]
    area_mm2: float
    depth_mm: float
    at: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """``result``: what comes out. ``residues``: corners that cutter or follower can't reach, the deepest first;
    ``worst_mm``: how far the result's edge lies from the wanted edge anywhere else."""

    result: Region
    residues: tuple[Residue, ...]
    worst_mm: float

    @property
    def empty(self) -> bool:
        """True when nothing comes out."""
        return not self.result

    @property
    def residue_mm2(self) -> float:
        return sum((r.area_mm2 for r in self.residues), 0.0)

    @property
    def corner_mm(self) -> float:
        """Depth of the worst residue, 0 without one."""
        return self.residues[0].depth_mm if self.residues else 0.0


def centres(template: Region, use: Use, follower_mm: float) -> Region:
    """Where the cutter's centre can't go (outside) or can go (opening): Tm ⊕ B/2 or hole ⊖ B/2. Its boundary is
    the path of the centre along the edge."""
    return offset(template, follower_mm / 2 if use == "outside" else -follower_mm / 2)


def made_by(template: Region, use: Use, follower_mm: float, cutter_mm: float) -> Region:
    """What comes out, exactly: outside part = (Tm ⊕ B/2) ⊖ D/2, opening cavity = (hole ⊖ B/2) ⊕ D/2.

    ``template`` is the followed region: the pattern itself, or the opening. B follower, D cutter diameter in mm.
    """
    line = centres(template, use, follower_mm)
    return offset(line, -cutter_mm / 2 if use == "outside" else cutter_mm / 2)


def outcome(wanted: Region, template: Region, use: Use, follower_mm: float, cutter_mm: float) -> Outcome:
    """Follow a template and compare with the wanted shape."""
    return compared(wanted, made_by(template, use, follower_mm, cutter_mm), use)


def compared(wanted: Region, result: Region, use: Use) -> Outcome:
    """What differs between a wanted shape and a result; ``use`` tells which side of the edge is wood."""
    if not result:
        return Outcome(result=result, residues=(), worst_mm=0.0)
    lacks, over = difference(wanted, result), difference(result, wanted)
    # Of a cavity, what the result lacks is wood that stays; of a part, it is wood that is gone.
    names: tuple[Literal["stays", "missing"], ...] = (
        ("stays", "missing") if use == "opening" else ("missing", "stays")
    )
    found: list[tuple[Residue, Part]] = []
    for what, region in zip(names, (lacks, over), strict=True):
        for part in region.parts:
            residue = _residue(what, part, wanted, result)
            if residue.depth_mm > HAIR_MM:
                found.append((residue, part))
    found.sort(key=lambda f: (-round(f[0].depth_mm, 6), f[0].at))
    points = _points(result.contours)
    if found:
        apart = shapely.union_all([p.polygon for _, p in found])
        shapely.prepare(apart)
        points = points[~shapely.dwithin(apart, shapely.points(points), BESIDE_MM)]
    worst = float(distances(points, wanted).max()) if len(points) else 0.0
    return Outcome(result=result, residues=tuple(r for r, _ in found), worst_mm=worst)


def _residue(what: Literal["stays", "missing"], part: Part, wanted: Region, result: Region) -> Residue:
    points = _points((part.outer, *part.holes))
    off = np.maximum(distances(points, wanted), distances(points, result))
    k = int(np.argmax(np.round(off, 6)))
    return Residue(
        what=what,
        area_mm2=Region((part,)).area,
        depth_mm=float(off[k]),
        at=(float(points[k, 0]) + 0.0, float(points[k, 1]) + 0.0),
    )


def _points(contours: Sequence[Contour]) -> Floats:
    """Points (n, 2) on contours, their vertices among them."""
    segs = segments_of(contours)
    steps = np.clip(np.ceil(segs.length / SPACING_MM), LEAST, MOST).astype(np.int64)
    which = np.repeat(np.arange(len(segs)), steps)
    first = np.repeat(np.cumsum(steps) - steps, steps)
    return segs.at(which, (np.arange(len(which)) - first) / steps[which] * segs.length[which])
