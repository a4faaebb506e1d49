"""Sloped floors: the table of a file, the plane it tells, and whether the design has the same."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected
from pipeline.proof.layer import theirs
from pipeline.proof.matching import Told
from pipeline.proof.seen import Seen

Row = tuple[float, float, float]
_HEAD = re.compile(r"Depth along (.+):\s*")
_ROW = re.compile(r"x (-?\d+\.\d+)\s+y (-?\d+\.\d+)\s+depth (\d+\.\d+)")
ROUND_MM = 0.0055
"""What writing a number with two decimals can change it by."""
WIDE_MM = 1e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Depth below the face is ``depth`` + ``slope`` · ((x, y) − ``at``)·``toward``."""

    at: tuple[float, float]
    toward: tuple[float, float]
    depth: float
    slope: float

    def under(self, x: float, y: float) -> float:
        """Depth at a point."""
        run = (x - self.at[0]) * self.toward[0] + (y - self.at[1]) * self.toward[1]
        return self.depth + self.slope * run

    def deeper_than(self, depth: float) -> BaseGeometry:
        """The half of the plane where the floor is deeper."""
        if abs(self.slope) < 1e-9:
            return shapely.box(-WIDE_MM, -WIDE_MM, WIDE_MM, WIDE_MM) if self.depth > depth else shapely.Polygon()
        run = (depth - self.depth) / self.slope
        sign = math.copysign(1.0, self.slope)
        (ux, uy), (x, y) = self.toward, self.at
        x, y = x + ux * run, y + uy * run
        ux, uy = ux * sign * WIDE_MM, uy * sign * WIDE_MM
        return shapely.Polygon(
            [(x - uy, y + ux), (x + uy, y - ux), (x + uy + ux, y - ux + uy), (x - uy + ux, y + ux + uy)]
        )


def plane(rows: Sequence[Row]) -> Plane | None:
    """The plane through rows (x, y, depth) along one line; None when they tell no direction."""
    if len(rows) < 2:
        return None
    table = np.array(rows)
    along = table[-1, :2] - table[0, :2]
    length = float(np.hypot(*along))
    if length < 1e-6:
        return None
    along /= length
    run = (table[:, :2] - table[0, :2]) @ along
    slope, depth = np.polyfit(run, table[:, 2], 1).tolist()
    return Plane(
        at=(float(table[0, 0]), float(table[0, 1])),
        toward=(float(along[0]), float(along[1])),
        depth=depth,
        slope=slope,
    )


def moved(rows: Sequence[Row], seen: Seen) -> list[Row]:
    """Rows of the design as a file shows them."""
    return [(*seen.point(x, y), d) for x, y, d in rows]


def tables(drawn: Drawn, own: Mapping[str, str]) -> dict[str, list[list[Row]]]:
    """The tables among a file's words, by the layer they speak of, read from top to bottom."""
    layer = theirs("TEXT", own)
    texts = [e for e in drawn.entities if e.kind == "TEXT" and e.layer == layer and e.at is not None]
    found: dict[str, list[list[Row]]] = {}
    current: list[Row] | None = None
    for e in sorted(texts, key=lambda e: (round(e.at[0], 3), -e.at[1]) if e.at else (0.0, 0.0)):
        head, row = _HEAD.fullmatch(e.text), _ROW.search(e.text)
        if head:
            current = []
            found.setdefault(head[1], []).append(current)
        elif row and current is not None:
            current.append((float(row[1]), float(row[2]), float(row[3])))
        else:
            current = None
    return found


def wrong_tables(want: Expected, drawn: Drawn, name: str) -> Iterator[Finding]:
    """Tables that are missing, or tell another floor than the design's."""
    if not want.worded:
        return
    told = Told(file=name, want=want)
    there = tables(drawn, want.shop.layers)
    for layer, rows in want.ramps:
        if not rows:
            continue
        mine = [moved(r, want_seen) for want_seen, r in rows]
        found = there.get(layer, [])
        if len(found) != len(mine):
            yield told.finding(
                f"{layer} has {len(found)} tables of depths in the words; {len(mine)} belong there."
            )
            continue
        for table in found:
            # Which of several ramps a table speaks of shows by where it begins.
            best = min(mine, key=lambda m: _apart(table, m))
            yield from _rows(told, layer, table, best)


def _apart(table: Sequence[Row], design: Sequence[Row]) -> float:
    return math.dist(table[0][:2], design[0][:2]) if table and design else math.inf


def _rows(told: Told, layer: str, table: Sequence[Row], design: Sequence[Row]) -> Iterator[Finding]:
    floor = plane(design)
    if len(table) != len(design):
        yield told.finding(f"The table of {layer} has {len(table)} rows, not {len(design)}.")
    if floor is None or not table:
        return
    room = ROUND_MM + 2 * ROUND_MM * abs(floor.slope) + 1e-6
    worst = max(table, key=lambda r: abs(floor.under(r[0], r[1]) - r[2]))
    off = abs(floor.under(worst[0], worst[1]) - worst[2])
    if off > room:
        true = floor.under(*worst[:2])
        yield told.finding(
            f"The table of {layer} says {worst[2]:.2f} deep; the design is {true:.2f} deep there.",
            at=worst[:2],
            measured=worst[2],
            limit=true,
        )
    ends = [math.dist(a[:2], b[:2]) for a, b in zip((table[0], table[-1]), (design[0], design[-1]), strict=True)]
    if max(ends) > 2 * ROUND_MM:
        yield told.finding(f"The table of {layer} runs over another stretch than the ramp.", at=table[0][:2])
