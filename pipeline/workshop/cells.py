"""Cells of a sheet as one long integer: finding room for a part is shifting and or-ing bits.

A sheet is cut into square cells, column after column; bit (column · rows + row) of ``taken`` says that a cell
is no longer free. A part is a stamp: the runs of cells that its inside or its edge touches. All places where
a run of 2ᵏ cells would meet a taken one come from k shifts of the whole sheet, so a stamp is tried at all
places of a sheet at once, exactly and the same on every machine. So are blocks of cells, 2ʲ columns wide.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

ON_A_LINE = 1e-6
"""An edge that lies this near a line between two cells (in cells) lies on it and doesn't touch beyond."""
STEPS = 8
"""Places within a cell are told apart in so many steps each way, so that a stamp is made once for many places."""


@dataclass(frozen=True, slots=True)
class Rim:
    """The cells around a stamp, those that share a side with one of its own: as bits of a board, the stamp's first
    cell at (1, 1); how many, and how many of them stand left of, below and above its box."""

    bits: int
    count: int
    left: int
    low: int
    high: int


Block = tuple[int, int, int, int]
"""A block of cells: 2ʲ columns by 2ᵏ rows from its first column and row, as (j, k, column, row)."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """The cells that a part touches, from the cell of its box's lower left corner.

    ``cells`` (columns, rows) is their box; ``runs`` holds (column, first row, length).
    """

    cells: tuple[int, int]
    runs: tuple[tuple[int, int, int], ...]
    rims: dict[int, Rim] = field(default_factory=dict, compare=False)
    _blocks: list[Block] = field(default_factory=list, compare=False)

    def bits(self, stride: int) -> int:
        """Its cells as bits of a board whose columns hold ``stride`` cells."""
        bits = 0
        for column, first, length in self.runs:
            bits |= ((1 << length) - 1) << (column * stride + first)
        return bits

    def blocks(self) -> Sequence[Block]:
        """Blocks of its own cells that cover all of them, some twice; few and large ones."""
        if not self._blocks:
            self._blocks.extend(_blocks(self))
        return self._blocks

    def rim(self, stride: int) -> Rim:
        """The cells around it on such a board."""
        found = self.rims.get(stride)
        if found is None:
            own = self.bits(stride) << (stride + 1)
            bits = (own | own << 1 | own >> 1 | own << stride | own >> stride) & ~own
            rows = _repeated(1, stride, self.cells[0] + 2)
            found = Rim(
                bits=bits,
                count=bits.bit_count(),
                left=(bits & ((1 << stride) - 1)).bit_count(),
                low=(bits & rows).bit_count(),
                high=(bits & rows << (self.cells[1] + 1)).bit_count(),
            )
            self.rims[stride] = found
        return found


def _blocks(of: Stamp) -> Iterator[Block]:
    """Wide blocks first: what a number of neighbouring columns have in common; then what is still left of each."""
    columns = [0] * of.cells[0]
    for c, first, length in of.runs:
        columns[c] |= ((1 << length) - 1) << first
    left = list(columns)
    common = {0: columns}
    j = 0
    while 2 << j <= len(columns):
        common[j + 1] = [a & b for a, b in zip(common[j], common[j][1 << j :], strict=False)]
        j += 1
    for j in sorted(common, reverse=True):
        wide = 1 << j
        for c in sorted({*range(0, len(columns) - wide + 1, wide), len(columns) - wide}):
            for first, length in _bit_runs(common[j][c]):
                run = ((1 << length) - 1) << first
                need = 0
                for n in range(c, c + wide):
                    need |= left[n] & run
                if not need or length < wide // 2:
                    continue
                low, high = (need & -need).bit_length() - 1, need.bit_length()
                k = (high - low).bit_length() - 1
                yield j, k, c, low
                if high - low > 1 << k:
                    yield j, k, c, high - (1 << k)
                for n in range(c, c + wide):
                    left[n] &= ~(((1 << (high - low)) - 1) << low)


def _bit_runs(bits: int) -> Iterator[tuple[int, int]]:
    """Runs of ones: (first, length)."""
    while bits:
        first = (bits & -bits).bit_length() - 1
        beyond = bits >> first
        length = ((beyond + 1) & ~beyond).bit_length() - 1
        yield first, length
        bits ^= ((1 << length) - 1) << first


def stamp(
    shape: shapely.Geometry, size: tuple[float, float], cell: float, at: tuple[float, float], step: float = 0.0
) -> Stamp:
    """Every cell that ``shape`` touches, its lower left corner at (0, 0), moved by ``at`` within the first cell.

    Where ``step`` (mm) is given: or by up to as much more, both ways. Nothing outside the box of ``size`` counts.
    """
    d = step / cell
    ax, ay = at[0] / cell, at[1] / cell
    columns, rows = (max(1, math.ceil(s / cell + a + d - ON_A_LINE)) for s, a in zip(size, (ax, ay), strict=True))
    x0, y0, x1, y1 = _edges(shape, cell, ax, ay)
    left, right = np.minimum(x0, x1), np.maximum(x0, x1)
    first = np.clip(np.floor(left + ON_A_LINE), 0, columns - 1).astype(int)
    last = np.clip(np.ceil(right + d - ON_A_LINE).astype(int) - 1, first, columns - 1)
    upright = right - left < 1e-9
    # An upright edge on a line between cells touches neither side: what it bounds is told by the columns' middles.
    count = np.where(upright & (d == 0.0) & (np.abs(left - np.round(left)) < ON_A_LINE), 0, last - first + 1)
    edge = np.repeat(np.arange(len(count)), count)
    column = first[edge] + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    run = np.where(upright, 1.0, x1 - x0)
    slope = np.where(upright, 0.0, (y1 - y0) / run)[edge]
    a = np.clip(column - d, left[edge], right[edge])
    b = np.clip(column + 1.0, left[edge], right[edge])
    ya = np.where(upright[edge], y0[edge], y0[edge] + (a - x0[edge]) * slope)
    yb = np.where(upright[edge], y1[edge], y0[edge] + (b - x0[edge]) * slope)
    inside, y = _crossings(x0, y0, x1, y1, np.arange(columns) + 0.5)
    low = np.concatenate([np.minimum(ya, yb), y[0::2]])
    high = np.concatenate([np.maximum(ya, yb), y[1::2]]) + d
    columns_of = np.concatenate([column, inside[0::2]])
    bottom = np.clip(np.floor(low + ON_A_LINE), 0, rows - 1).astype(int)
    top = np.clip(np.ceil(high - ON_A_LINE), 1, rows).astype(int)
    return Stamp((columns, rows), _runs(columns_of, bottom, top))


def _edges(
    shape: shapely.Geometry, cell: float, ax: float, ay: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Ends of all edges in cells: x0, y0, x1, y1."""
    points = [shapely.get_coordinates(r) for r in shapely.get_rings(shapely.get_parts(shape))]
    p = np.concatenate([c[:-1] for c in points]) / cell
    q = np.concatenate([c[1:] for c in points]) / cell
    return p[:, 0] + ax, p[:, 1] + ay, q[:, 0] + ax, q[:, 1] + ay


def _crossings(
    x0: NDArray[np.float64],
    y0: NDArray[np.float64],
    x1: NDArray[np.float64],
    y1: NDArray[np.float64],
    at: NDArray[np.floating[Any]],
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Where edges cross upright lines: (index of the line, y), sorted; two and two enclose."""
    line, edge = np.nonzero((x0 <= at[:, None]) != (x1 <= at[:, None]))
    t = (at[line] - x0[edge]) / (x1[edge] - x0[edge])
    y = y0[edge] + t * (y1[edge] - y0[edge])
    order = np.lexsort((y, line))
    return line[order], y[order]


def _runs(
    column: NDArray[np.int64], bottom: NDArray[np.int64], top: NDArray[np.int64]
) -> tuple[tuple[int, int, int], ...]:
    """Runs of cells (column, first, length) from intervals that may overlap or follow each other."""
    order = np.lexsort((bottom, column))
    runs: list[tuple[int, int, int]] = []
    c, a, b = -1, 0, 0
    for column_, low, high in zip(
        column[order].tolist(), bottom[order].tolist(), top[order].tolist(), strict=True
    ):
        if column_ == c and low <= b:
            b = max(b, high)
            continue
        if b > a:
            runs.append((c, a, b - a))
        c, a, b = column_, low, high
    if b > a:
        runs.append((c, a, b - a))
    return tuple(runs)


class Board:
    """The free and taken cells of one sheet; never changed, `with_` gives a new one.

    ``size`` (x, y) mm is the usable part of the sheet; x may be infinite. ``used`` columns are all that can
    hold a taken cell.
    """

    __slots__ = ("_spread", "cell", "rows", "size", "used")

    def __init__(self, size: tuple[float, float], cell: float) -> None:
        self.size = size
        self.cell = cell
        self.rows = math.ceil(size[1] / cell) + 2  # a stamp that begins within a cell may reach one further
        self.used = 0
        self._spread = {(0, 0): 0}

    @property
    def taken(self) -> int:
        return self._spread[0, 0]

    def free(self, piece: Stamp, size: tuple[float, float]) -> int:
        """Bits of all the cells in which a piece's box may begin; ``size`` (mm) is that of its box, so that a part
        that just fits is not lost to its cells. Of the columns beyond the used ones only the first counts."""
        nx, ny = self.places_for(size)
        return self.free_within(piece, range(nx), range(ny))

    def free_within(self, piece: Stamp, columns: range, rows: range) -> int:
        """Bits of those of the given cells in which a piece's box may begin."""
        if not columns or not rows:
            return 0
        blocked = 0
        for j, k, column, row in piece.blocks():
            blocked |= (self._spread.get((j, k)) or self._wide(j, k)) >> (column * self.rows + row)
        allowed = _repeated(((1 << len(rows)) - 1) << rows.start, self.rows, len(columns))
        return (allowed << (columns.start * self.rows)) & ~blocked

    def room(self, piece: Stamp, size: tuple[float, float]) -> tuple[int, int] | None:
        """(column, row) of the leftmost free place, of those the lowest; None where there is none."""
        free = self.free(piece, size)
        return self.first(free) if free else None

    def places(self, free: int, bands: int) -> list[tuple[int, int]]:
        """The leftmost free places (column, row) of so many bands of rows, the lowest and the highest of each."""
        high = -(-self.rows // bands)
        columns = free.bit_length() // self.rows + 1
        found: dict[tuple[int, int], None] = {}
        for k in range(bands):
            band = free & _repeated((((1 << high) - 1) << (k * high)) & ((1 << self.rows) - 1), self.rows, columns)
            if band:
                column, row = self.first(band)
                found[column, row] = None
                found[column, ((band >> (column * self.rows)) & ((1 << self.rows) - 1)).bit_length() - 1] = None
        return list(found)

    def first(self, free: int) -> tuple[int, int]:
        """The leftmost of free cells, of those the lowest."""
        return divmod((free & -free).bit_length() - 1, self.rows)

    def touched(self, piece: Stamp, column: int, row: int) -> float:
        """The share of the cells around a piece that are taken, or beyond the left, lower or upper edge."""
        rim = piece.rim(self.rows)
        at = (column - 1) * self.rows + row - 1
        hit = (self.taken >> at if at >= 0 else self.taken << -at) & rim.bits
        walls = (rim.left if column == 0 else 0) + (rim.low if row == 0 else 0)
        if row + piece.cells[1] >= int(self.size[1] / self.cell + 1e-9):
            walls += rim.high
        return (walls + hit.bit_count()) / rim.count

    def places_for(self, size: tuple[float, float]) -> tuple[int, int]:
        """Columns and rows in which a box may begin; beyond the used columns all is free, so one is enough."""
        ny = math.floor((self.size[1] - size[1]) / self.cell + 1e-9) + 1
        if math.isinf(self.size[0]):
            return self.used + 1, ny
        nx = math.floor((self.size[0] - size[0]) / self.cell + 1e-9) + 1
        return min(nx, self.used + 1), ny

    def bits(self, piece: Stamp, column: int, row: int) -> int:
        """The cells that a piece takes whose box begins in the cell (column, row)."""
        return piece.bits(self.rows) << (column * self.rows + row)

    def with_(self, bits: int, used: int) -> Board:
        """The board with more cells taken, none of them in the columns from ``used`` on."""
        made = Board(self.size, self.cell)
        made.used = max(self.used, used)
        made._spread = {(0, 0): self._spread[0, 0] | bits}
        return made

    def _wide(self, j: int, k: int) -> int:
        """Bit i: is any cell taken of the block of 2ʲ columns and 2ᵏ rows that begins in the cell i?"""
        found = self._spread.get((j, k))
        if found is None:
            if j:
                half = self._wide(j - 1, k)
                found = half | half >> (self.rows << (j - 1))
            else:
                half = self._wide(0, k - 1)
                found = half | half >> (1 << (k - 1))
            self._spread[j, k] = found
        return found


@lru_cache(maxsize=1024)
def _repeated(pattern: int, stride: int, times: int) -> int:
    """``pattern`` at every multiple of ``stride`` bits, ``times`` times."""
    made, count = pattern, 1
    while count < times:
        more = min(count, times - count)
        made |= made << (more * stride)
        count += more
    return made
