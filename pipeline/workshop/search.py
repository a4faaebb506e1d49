"""Lays parts out on sheets, one after the other: as far left as each goes, or where much of its edge touches.

A part is placed on cells, which errs on the safe side, and then slid left and down (or up) until it touches.
Fewest sheets come first, then the least length of them. `varying.py` tries many orders.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from pipeline.workshop.cells import Board
from pipeline.workshop.slide import There, down, left, up
from pipeline.workshop.ways import Way

SETTLED = 0.02
"""A part that slides by less than this share of a cell lies still."""
SLIDES = 8
BANDS = 16
"""A part that is drawn to where it touches is tried in so many bands of a sheet."""
PULLS = (0.0, 0.7, 1.5, 3.0)
"""How far (in widths of the part) to the right it may lie for touching with all of its edge."""
PLACING = 2e6
"""What it costs to lay a part down, in bits touched."""
WEIGHT = 0.3
"""What the mean place of the parts counts beside the length: it tells a better layout of the same length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One copy to be laid. ``letters``: sheets it may lie on, best first; ``late``: what is laid later takes what
    is left; a ``spare`` part never opens a sheet and is left out where there is no room."""

    name: str
    copy: int
    ways: tuple[Way, ...]
    letters: tuple[str, ...]
    late: int = 0
    spare: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The usable part of a physical sheet: inside its border, half a gap wider, its corner at (0, 0); ``taken`` is
    what nothing may lie on, grown like the parts. ``single``: there is one and no more of it (an offcut).
    ``size[0]`` may be infinite."""

    letter: str
    size: tuple[float, float]
    cell: float
    taken: tuple[Way, ...] = ()
    at: tuple[tuple[float, float], ...] = ()
    single: bool = False


@dataclass(frozen=True, slots=True)
class Spot:
    """A part's place in its room: the way it is turned and where its box begins."""

    part: int
    way: Way
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Filled:
    """One physical sheet as far as it is filled; never changed."""

    room: Room
    number: int
    board: Board
    there: tuple[There, ...]
    spots: tuple[Spot, ...] = ()
    length: float = 0.0

    def laid(self, part: int, way: Way, x: float, y: float, *, high: bool) -> Filled:
        """The sheet with a part at a free place, slid until it touches."""
        x, y = self._slid(way, x, y, high=high)
        stamp, column, row = way.stamp_at(self.room.cell, x, y)
        return replace(
            self,
            board=self.board.with_(self.board.bits(stamp, column, row), column + stamp.cells[0]),
            there=(*self.there, there(way, x, y)),
            spots=(*self.spots, Spot(part, way, x, y)),
            length=max(self.length, x + way.size[0]),
        )

    def _slid(self, way: Way, x: float, y: float, *, high: bool) -> tuple[float, float]:
        for _ in range(SLIDES):
            dx = left(there(way, x, y), self.there, x)
            x -= dx
            if high:
                dy = up(there(way, x, y), self.there, self.room.size[1] - way.size[1] - y)
                y += dy
            else:
                dy = down(there(way, x, y), self.there, y)
                y -= dy
            if dx + dy < SETTLED * self.room.cell:
                break
        return x, y


def there(way: Way, x: float, y: float) -> There:
    """A part as it lies with its box's corner at (x, y)."""
    return There((x, y, x + way.size[0], y + way.size[1]), way.faces.moved(x, y))


def opened(room: Room, number: int) -> Filled:
    """An empty sheet; only the first of a letter has places that are kept out of."""
    board = Board(room.size, room.cell)
    lying: list[There] = []
    for way, (x, y) in zip(room.taken, room.at, strict=True) if number == 1 else ():
        stamp, column, row = way.stamp_at(room.cell, x, y)
        board = board.with_(board.bits(stamp, column, row), column + stamp.cells[0])
        lying.append(there(way, x, y))
    return Filled(room, number, board, tuple(lying))


# -- one layout ------------------------------------------------------------------------------------
Turn = tuple[int, int, bool, float]
"""One entry of an order: part, its way (-1: the best one), whether it is pushed up instead of down."""


@dataclass(frozen=True, slots=True)
class Layout:
    """What came of an order. ``count``: (parts left out, sheets to be bought, spares left out); ``worth`` is the
    length with a little of where the parts lie. Less is better; ``steps`` is what there was before each part."""

    filled: tuple[Filled, ...]
    left_out: tuple[int, ...]
    count: tuple[int, int, int]
    worth: float
    steps: tuple[tuple[tuple[Filled, ...], tuple[int, ...]], ...]

    @property
    def length(self) -> float:
        return sum(f.length for f in self.filled)


@dataclass(slots=True)
class Work:
    """Work that may still be done, in bits touched."""

    left: float


@dataclass(frozen=True, slots=True)
class Job:
    """Parts and the rooms they may lie in, in the order in which they are opened."""

    parts: tuple[Part, ...]
    rooms: tuple[Room, ...]
    work: Work = field(default_factory=lambda: Work(math.inf))

    def run(
        self, order: Sequence[Turn], before: Layout | None = None, start: int = 0, stop: float = math.inf
    ) -> Layout | None:
        """Lays the parts in an order, the first ``start`` as in ``before``; None where it gets too long."""
        filled, left_out = before.steps[start] if before else ((), ())
        steps = list(before.steps[:start]) if before else []
        for part, way, high, pull in order[start:]:
            steps.append((filled, left_out))
            made = self._place(filled, part, way, high=high, pull=pull)
            if made is None:
                left_out = (*left_out, part)
                continue
            filled = made
            if sum(f.length for f in filled) > stop:
                return None
        count = (
            sum(not self.parts[i].spare for i in left_out),
            sum(not f.room.single for f in filled),
            sum(self.parts[i].spare for i in left_out),
        )
        return Layout(filled, left_out, count, self._worth(filled), tuple(steps))

    def _worth(self, filled: tuple[Filled, ...]) -> float:
        """Length, and a little of where the parts lie in the mean; the last sheet counts once more."""
        total = 0.0
        for f in filled:
            area = sum(s.way.area for s in f.spots)
            moment = sum(s.way.area * (s.x + s.way.middle[0]) for s in f.spots)
            total += f.length + (WEIGHT * moment / area if area else 0.0)
        if len(filled) > 1:
            total += sum(s.way.area for s in filled[-1].spots) / filled[-1].room.size[1]
        return total

    def _place(
        self, filled: tuple[Filled, ...], index: int, chosen: int, *, high: bool, pull: float
    ) -> tuple[Filled, ...] | None:
        part = self.parts[index]
        ways = part.ways if chosen < 0 else part.ways[chosen : chosen + 1]
        for k in self._open(filled, part):
            best = self._best(filled[k], ways, high=high, pull=pull)
            if best:
                self.work.left -= PLACING
                made = filled[k].laid(index, *best, high=high)
                return (*filled[:k], made, *filled[k + 1 :])
        if part.spare:
            return None
        for room, number in self._unopened(filled, part):
            fresh = opened(room, number)
            best = self._best(fresh, ways, high=high, pull=pull) or self._best(
                fresh, part.ways, high=high, pull=pull
            )
            if best:
                made = fresh.laid(index, *best, high=high)
                return (*filled, made)
        return None

    def _best(
        self, sheet: Filled, ways: Sequence[Way], *, high: bool, pull: float
    ) -> tuple[Way, float, float] | None:
        """Of a part's ways and places the one whose middle comes to lie furthest left; ``pull`` makes places good
        where much of its edge touches."""
        found: tuple[tuple[float, float, int], tuple[Way, float, float]] | None = None
        cell, board = sheet.room.cell, sheet.board
        for way in ways:
            stamp = way.stamp(cell)
            self.work.left -= (2 * len(stamp.runs) + (3 * BANDS if pull else 0)) * (
                board.taken.bit_length() + 4000
            )
            free = board.free(stamp, way.size)
            if not free:
                continue
            for place in board.places(free, BANDS if pull else 1)[: None if pull else (2 if high else 1)]:
                x, y = place[0] * cell, place[1] * cell
                drawn = pull * board.touched(stamp, *place) * math.sqrt(way.area) if pull else 0.0
                across = y + way.middle[1]
                key = (x + way.middle[0] - drawn, -across if high else across, way.turn_deg)
                if found is None or key < found[0]:
                    found = key, (way, x, y)
        return found[1] if found else self._squeezed(sheet, ways)

    def _squeezed(self, sheet: Filled, ways: Sequence[Way]) -> tuple[Way, float, float] | None:
        """A place along the far sides of a sheet, where there is none on the lines between cells."""
        cell, board = sheet.room.cell, sheet.board
        found: tuple[tuple[float, float, int], tuple[Way, float, float]] | None = None
        for way in ways:
            nx, ny = board.places_for(way.size)
            x, y = (s - w for s, w in zip(board.size, way.size, strict=True))
            if nx < 1 or ny < 1 or math.isinf(x):
                continue
            for at in ((0.0, max(0.0, y)), (max(0.0, x), 0.0), (max(0.0, x), max(0.0, y))):
                stamp, column, row = way.stamp_at(cell, *at)
                columns = range(column, column + 1) if at[0] else range(nx)
                free = board.free_within(stamp, columns, range(row, row + 1) if at[1] else range(ny))
                if free:
                    column, row = board.first(free)
                    spot = (at[0] or column * cell, at[1] or row * cell)
                    key = (spot[0] + way.middle[0], spot[1], way.turn_deg)
                    if found is None or key < found[0]:
                        found = key, (way, *spot)
        return found[1] if found else None

    def _open(self, filled: tuple[Filled, ...], part: Part) -> Iterator[int]:
        """Sheets that are in use and that a part may lie on: of its best letter first."""
        ranks = {letter: i for i, letter in enumerate(part.letters)}
        may = [k for k, f in enumerate(filled) if f.room.letter in ranks]
        yield from sorted(
            may, key=lambda k: (not filled[k].room.single, filled[k].number, ranks[filled[k].room.letter])
        )

    def _unopened(self, filled: tuple[Filled, ...], part: Part) -> Iterator[tuple[Room, int]]:
        """Sheets that could be taken next: offcuts first, then one of each letter, then a second of each …"""
        used = {(f.room.letter, f.number) for f in filled}
        mine = [r for r in self.rooms if r.letter in part.letters]
        mine.sort(key=lambda r: (not r.single, part.letters.index(r.letter)))
        yield from ((r, 1) for r in mine if (r.letter, 1) not in used)
        whole = [r for r in mine if not r.single]
        most = max((f.number for f in filled), default=1)
        for number in range(2, most + 2):
            yield from ((r, number) for r in whole if (r.letter, number) not in used)
