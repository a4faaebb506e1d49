"""Where nothing is drawn: a coarse map of what stands on a print, to find room for words and the check square."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TypeVar

import numpy as np

from pipeline.geometry.contour import Bools, Contour

CELL_MM = 1.0
CLEARANCES_MM = (12.0, 6.0, 3.0, 1.0, 0.0)

Spot = TypeVar("Spot")
Box = tuple[float, float, float, float]
"""(x0, y0, x1, y1) mm, in the frame of the drawing."""


class Room:
    """The area ``bounds`` in cells of 1 mm; a cell is taken once anything stands in it.

    It is filled and asked in turn, by one print, and never shared.
    """

    def __init__(self, bounds: Box) -> None:
        self.x, self.y = bounds[0], bounds[1]
        shape = (_cells(bounds[3] - bounds[1]), _cells(bounds[2] - bounds[0]))
        self.taken: Bools = np.zeros(shape, dtype=np.bool_)

    def copy(self) -> Room:
        """The same area with the same cells taken, to try things out."""
        other = Room((self.x, self.y, self.x, self.y))
        other.taken = self.taken.copy()
        return other

    def lines(self, contours: Iterable[Contour]) -> None:
        """Take the cells that contours run through."""
        for c in contours:
            points, _ = c.flatten(0.1)
            if c.closed:
                points = np.vstack([points, points[:1]])
            long = np.hypot(*np.diff(points, axis=0).T)
            stops = np.concatenate([[0.0], np.cumsum(long)])
            at = np.arange(0.0, stops[-1] + CELL_MM / 2, CELL_MM / 2)
            self._take(np.interp(at, stops, points[:, 0]), np.interp(at, stops, points[:, 1]))

    def _take(
        self, x: np.ndarray[tuple[int], np.dtype[np.float64]], y: np.ndarray[tuple[int], np.dtype[np.float64]]
    ) -> None:
        column = np.floor((x - self.x) / CELL_MM).astype(int)
        row = np.floor((y - self.y) / CELL_MM).astype(int)
        inside = (column >= 0) & (row >= 0) & (column < self.taken.shape[1]) & (row < self.taken.shape[0])
        self.taken[row[inside], column[inside]] = True

    def box(self, box: Box) -> None:
        """Take all cells of a box."""
        rows, columns = self._slices(box)
        self.taken[rows, columns] = True

    def crowd(self, box: Box) -> int:
        """How many cells of a box are taken, those outside the area counted as taken."""
        rows, columns = self._slices(box)
        part = self.taken[rows, columns]
        wide = _up(box[2] - self.x) - _down(box[0] - self.x)
        high = _up(box[3] - self.y) - _down(box[1] - self.y)
        return int(np.count_nonzero(part)) + wide * high - part.size

    def least(self, spots: Iterable[Spot], box: Callable[[Spot], Box]) -> Spot:
        """The first of some spots whose box is free, else the first of those whose boxes meet least."""
        best: tuple[int, Spot] | None = None
        for spot in spots:
            crowd = self.crowd(box(spot))
            if best is None or crowd < best[0]:
                best = crowd, spot
            if crowd == 0:
                break
        assert best is not None, "no spots"
        return best[1]

    def free(self, within: Box, width: float, height: float) -> tuple[float, float] | None:
        """Lower left corner of a free rectangle inside a box, with as much clearance as there is; else None.

        Of several the leftmost of the highest.
        """
        rows, columns = self._slices(within)
        part = self.taken[rows, columns]
        sums = np.zeros((part.shape[0] + 1, part.shape[1] + 1), dtype=np.int64)
        sums[1:, 1:] = part.cumsum(axis=0).cumsum(axis=1)
        for clear in CLEARANCES_MM:
            h, w = _cells(height + 2 * clear), _cells(width + 2 * clear)
            if h > part.shape[0] or w > part.shape[1]:
                continue
            full = sums[h:, w:] - sums[:-h, w:] - sums[h:, :-w] + sums[:-h, :-w]
            found = np.argwhere(full[::-1] == 0)
            if len(found):
                row, column = int(full.shape[0] - 1 - found[0][0]), int(found[0][1])
                x = self.x + ((columns.start or 0) + column) * CELL_MM + clear
                return x, self.y + ((rows.start or 0) + row) * CELL_MM + clear
        return None

    def _slices(self, box: Box) -> tuple[slice, slice]:
        high, wide = self.taken.shape
        rows = slice(min(max(_down(box[1] - self.y), 0), high), min(max(_up(box[3] - self.y), 0), high))
        columns = slice(min(max(_down(box[0] - self.x), 0), wide), min(max(_up(box[2] - self.x), 0), wide))
        return rows, columns


def _cells(mm: float) -> int:
    return max(1, _up(mm))


def _down(mm: float) -> int:
    return math.floor(mm / CELL_MM + 1e-9)


def _up(mm: float) -> int:
    return math.ceil(mm / CELL_MM - 1e-9)
