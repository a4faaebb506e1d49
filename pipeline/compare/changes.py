"""What became of each line of one piece or blank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.compare.measure import SAME_MM, Point, Spread, Worst, along_mm, apart, clock, spread
from pipeline.compare.pairs import Round, classes, hole_of, paired
from pipeline.compare.rigid import moved_alike
from pipeline.compare.state import Line, Thing
from pipeline.geometry.transform import Move

WORDS = {
    "outside": "the outside",
    "opening": "an opening",
    "pocket": "a pocket",
    "hole": "a hole",
    "blind hole": "a hole",
    "index": "an index hole",
    "groove": "a groove",
    "score": "a scored line",
    "carve line": "a carve line",
}
KINDS = (*WORDS, "engraving")
HOLES = ("hole", "blind hole", "index")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """One line: ``old`` is None where it is new, ``new`` None where it is gone; ``spread`` of closed lines,
    ``worst`` of open ones. ``holes`` are both holes, ``centre`` is the middle of the piece, for the clock."""

    kind: str
    old: Line | None
    new: Line | None
    spread: Spread | None = None
    open_worst: Worst | None = None
    holes: tuple[Round, Round] | None = None
    centre: Point = (0.0, 0.0)

    @property
    def line(self) -> Line:
        line = self.new or self.old
        assert line is not None
        return line

    @property
    def worst(self) -> Worst:
        """The largest move, whichever way."""
        if self.spread is not None:
            return self.spread.worst
        return self.open_worst or Worst()

    @property
    def shift(self) -> tuple[float, float]:
        """(dx, dy) of a hole in mm."""
        if self.holes is None:
            return 0.0, 0.0
        old, new = self.holes
        return new.x - old.x, new.y - old.y

    @property
    def resized_mm(self) -> float:
        """How much wider a hole became."""
        return self.holes[1].diameter - self.holes[0].diameter if self.holes else 0.0

    @property
    def depths(self) -> tuple[str, str] | None:
        """What is said of its depth before and now, where that differs."""
        if self.old is None or self.new is None:
            return None
        said = depth_words(self.old), depth_words(self.new)
        return said if said[0] != said[1] else None

    @property
    def move(self) -> Move | None:
        """The shift or turn that takes a closed line to where it is, None where its shape is another one."""
        if self.spread is None or self.old is None or self.new is None or not self.moved:
            return None
        return moved_alike([(self.old.contour, self.new.contour)], SAME_MM)

    @property
    def moved(self) -> bool:
        """True when it lies elsewhere or has another size, by SAME_MM or more."""
        if self.holes is not None:
            return math.hypot(*self.shift) >= SAME_MM or abs(self.resized_mm) >= SAME_MM
        return self.worst.mm >= SAME_MM

    @property
    def state(self) -> str:
        """``same``, ``moved``, ``depth``, ``added`` or ``gone``."""
        if self.old is None:
            return "added"
        if self.new is None:
            return "gone"
        return "moved" if self.moved else "depth" if self.depths else "same"

    @property
    def at(self) -> Point:
        """Where it is told: the worst place, a hole's middle, or the middle of its box."""
        if self.holes is None and self.state == "moved":
            return self.worst.at
        x0, y0, x1, y1 = self.line.contour.bounds
        return (x0 + x1) / 2, (y0 + y1) / 2

    @property
    def clock(self) -> str:
        return clock(self.at, self.centre)

    @property
    def along(self) -> float | None:
        """Arc length of the worst place from the foremost point of its line, None where nothing moved."""
        if self.spread is None or self.state != "moved":
            return None
        on_new = self.worst.at
        assert self.new is not None
        return along_mm(self.new.contour, on_new)

    @property
    def segments(self) -> tuple[int, int]:
        """How many lines and arcs it is drawn with, before and now; 0 where it isn't there."""
        return len(self.old.contour) if self.old else 0, len(self.new.contour) if self.new else 0

    @property
    def area_mm2(self) -> float:
        """How much more it encloses."""
        old = abs(self.old.contour.area) if self.old and self.old.contour.closed else 0.0
        new = abs(self.new.contour.area) if self.new and self.new.contour.closed else 0.0
        return new - old

    @property
    def what(self) -> str:
        """``a pocket 8.55 deep from the back``, ``a hole of 6.00``, ``the outside``."""
        line = self.line
        words = WORDS.get(self.kind, self.kind)
        if self.kind in HOLES:
            hole = hole_of(line)
            words += f" of {hole.diameter:.2f}" if hole else ""
        if line.depth_mm is not None and self.kind in ("pocket", "blind hole", "groove"):
            words += f" {depth_words(line)} from the {line.face}"
        return words


def changes_of(old: Thing | None, new: Thing | None) -> tuple[Change, ...]:
    """All lines of a piece but engraved ones, by kind and place; what is gone comes after each kind.

    With one side missing all lines of the other are added, or gone.
    """
    before, now = classes(old.lines if old else ()), classes(new.lines if new else ())
    centre = middle(new or old)
    found: list[Change] = []
    for key in sorted({*now, *before}, key=lambda k: (KINDS.index(k[0]), k[1])):
        if key[0] != "engraving":
            old_ones, new_ones = (sorted(v.get(key, ()), key=_place) for v in (before, now))
            found += [_change(key[0], a, b, centre) for a, b in paired(key[0], old_ones, new_ones)]
    return tuple(found)


def _place(line: Line) -> tuple[float, ...]:
    return tuple(round(v, 3) for v in line.contour.bounds)


def middle(thing: Thing | None) -> Point:
    """The middle of a piece: of its outside, else of all its lines."""
    lines = (thing.of("CUT_OUTSIDE") or thing.lines) if thing else ()
    if not lines:
        return 0.0, 0.0
    boxes = np.array([line.contour.bounds for line in lines])
    lo, hi = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(lo[0] + hi[0]) / 2, float(lo[1] + hi[1]) / 2


def _change(kind: str, old: Line | None, new: Line | None, centre: Point) -> Change:
    if old is None or new is None:
        return Change(kind=kind, old=old, new=new, centre=centre)
    holes = (hole_of(old), hole_of(new)) if kind in HOLES else (None, None)
    if holes[0] and holes[1]:
        return Change(kind=kind, old=old, new=new, holes=(holes[0], holes[1]), centre=centre)
    if old.contour.closed and new.contour.closed:
        return Change(kind=kind, old=old, new=new, spread=spread(old.contour, new.contour), centre=centre)
    return Change(kind=kind, old=old, new=new, open_worst=apart(old.contour, new.contour), centre=centre)


def depth_words(line: Line) -> str:
    """``16.00 deep``, ``16.00 to 17.89 deep``, ``through``; "" where a depth makes no sense."""
    if line.deep_mm is not None and line.depth_mm is not None:
        return f"{line.depth_mm:.2f} to {line.deep_mm:.2f} deep"
    if line.depth_mm is not None:
        return f"{line.depth_mm:.2f} deep"
    return "through" if line.goes_through else ""
