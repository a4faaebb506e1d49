"""Cells of a sheet as one long integer: finding room for a piece is shifting and or-ing bits.

A sheet is cut into square cells, row after row; bit (row · columns + column) of ``taken`` says that
a cell is no longer free. A piece is a stamp: the runs of cells that it covers. All places where a
run of 2ᵏ cells would meet a taken one come from k shifts of the whole sheet, so a stamp is tried at
all places of a sheet at once, exactly and the same on every machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

SIMPLER_MM = 0.05
"""A piece is drawn with fewer corners before it is cut into cells, and made larger by as much."""
INSCRIBED = 0.005
"""GEOS's round corner of 8 chords a quadrant stays within the circle by less than this share."""


@dataclass(frozen=True)
class Stamp:
    """The cells that a piece covers, from the lower left corner of its box.

    ``size`` (width, height) mm of the grown piece; ``cells`` (columns, rows) of its box; ``runs``
    holds (row, first column, length).
    """

    size: tuple[float, float]
    cells: tuple[int, int]
    runs: tuple[tuple[int, int, int], ...]

    @cached_property
    def longest(self) -> int:
        return max(length for _, _, length in self.runs)


def stamp(shape: shapely.MultiPolygon, grow_mm: float, cell_mm: float) -> Stamp:
    """Every cell that ``shape`` grown by ``grow_mm`` can touch, and no cell outside its box.

    A cell that a region touches has its centre within half a diagonal of it; so the region is grown
    by that much more and only centres are tested.
    """
    xmin, ymin, xmax, ymax = shape.bounds
    x0, y0 = xmin - grow_mm, ymin - grow_mm
    size = xmax - xmin + 2 * grow_mm, ymax - ymin + 2 * grow_mm
    columns, rows = (max(1, math.ceil(s / cell_mm - 1e-9)) for s in size)
    reach = (grow_mm + cell_mm * math.sqrt(0.5) + SIMPLER_MM) * (1 + INSCRIBED)
    grown = shapely.buffer(shapely.simplify(shape, SIMPLER_MM), reach, quad_segs=8)
    row, x = _crossings(grown, y0 + (np.arange(rows) + 0.5) * cell_mm)
    first = np.clip(np.ceil((x[0::2] - x0) / cell_mm - 0.5), 0, columns).astype(int)
    last = np.clip(np.floor((x[1::2] - x0) / cell_mm - 0.5), -1, columns - 1).astype(int)
    runs = tuple(
        (r, a, b - a + 1)
        for r, a, b in zip(row[0::2].tolist(), first.tolist(), last.tolist(), strict=True)
        if b >= a
    )
    return Stamp(size, (columns, rows), runs)


def _crossings(
    shape: shapely.Geometry, levels: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Where the boundary crosses horizontal lines: (index of the line, x), sorted; two and two enclose."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    points = [shapely.get_coordinates(r) for r in rings]
    p = np.concatenate([c[:-1] for c in points])
    q = np.concatenate([c[1:] for c in points])
    below_p, below_q = p[:, 1] <= levels[:, None], q[:, 1] <= levels[:, None]
    row, edge = np.nonzero(below_p != below_q)
    t = (levels[row] - p[edge, 1]) / (q[edge, 1] - p[edge, 1])
    x = p[edge, 0] + t * (q[edge, 0] - p[edge, 0])
    order = np.lexsort((x, row))
    return row[order], x[order]


class Board:
    """The free and taken cells of one sheet; ``size`` (x, y) is the usable part of it in mm."""

    __slots__ = ("_columns", "_spread", "cell_mm", "size", "taken")

    def __init__(self, size: tuple[float, float], cell_mm: float) -> None:
        self.size = size
        self.cell_mm = cell_mm
        self._columns = math.ceil(size[0] / cell_mm) + 1
        self.taken = 0
        self._spread = [0]

    def room(self, piece: Stamp) -> tuple[int, int] | None:
        """(column, row) of the lowest free place, of those the leftmost; None where there is none."""
        nx, ny = (
            math.floor((s - p) / self.cell_mm + 1e-9) + 1 for s, p in zip(self.size, piece.size, strict=True)
        )
        if nx < 1 or ny < 1:
            return None
        allowed = _repeated((1 << nx) - 1, self._columns, ny)
        blocked = 0
        for row, first, length in piece.runs:
            k = length.bit_length() - 1
            wide = self._wide(k)
            at = row * self._columns + first
            blocked |= wide >> at
            if length > 1 << k:
                blocked |= wide >> (at + length - (1 << k))
        free = allowed & ~blocked
        if not free:
            return None
        row, column = divmod((free & -free).bit_length() - 1, self._columns)
        return column, row

    def put(self, piece: Stamp, column: int, row: int) -> None:
        """Takes the cells of a piece whose box begins at (column, row)."""
        bits = 0
        for r, first, length in piece.runs:
            bits |= ((1 << length) - 1) << (r * self._columns + first)
        self.taken |= bits << (row * self._columns + column)
        self._spread = [self.taken]

    def _wide(self, k: int) -> int:
        """Bit i: is any of the cells i … i + 2ᵏ − 1 taken?"""
        while len(self._spread) <= k:
            last = self._spread[-1]
            self._spread.append(last | last >> (1 << (len(self._spread) - 1)))
        return self._spread[k]


def _repeated(pattern: int, stride: int, times: int) -> int:
    """``pattern`` at every multiple of ``stride`` bits, ``times`` times."""
    made, count = pattern, 1
    while count < times:
        more = min(count, times - count)
        made |= made << (more * stride)
        count += more
    return made
