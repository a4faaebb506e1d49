"""What was measured on a piece against what is wanted of it now: only the measured edge tells (trade.md 0.1)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.compare.changes import HOLES
from pipeline.compare.judge import INDEX_MM, Judged
from pipeline.compare.pairs import hole_of
from pipeline.compare.roles import ROUGH_MM, TEMPLATE_MM
from pipeline.compare.state import Gauged, Thing
from pipeline.compare.things import Compared
from pipeline.core.verdict import What
from pipeline.intake.made import MadePiece

CLOSE_MM = 0.01
"""A dimension of the files that agrees within this with what a page asks for is that dimension."""
ORDER: tuple[What, ...] = (
    "remake", "re-register", "trim down", "open up", "keep, new set-up sheet", "re-label", "measure it",
    "good as is",
)  # fmt: skip
"""The worse verdict counts; the first is the worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Size:
    """One measured dimension: what, by which letter, over wood, an opening or between holes, nominal then,
    measured."""

    what: str
    letter: str
    kind: str
    then_mm: float
    measured_mm: float
    index: bool = False


def with_measured(verdict: Judged, row: MadePiece, found: Compared) -> Judged:
    """The verdict by the drawings, or a worse one that what was measured asks for; every dimension is remarked
    on."""
    old, new = found.old, found.new
    assert old is not None
    assert new is not None
    limit = ROUGH_MM if new.role == "lamination" else TEMPLATE_MM
    remarks: list[str] = []
    sizes, lost = _sizes(row, old)
    remarks += lost
    for size in sizes:
        now = _now(size, found)
        off = size.measured_mm - now
        name = f"{size.letter} ({size.what})" if size.letter else size.what
        wanted = f"{now:.2f} is wanted" + (
            f" and {size.then_mm:.2f} was" if abs(now - size.then_mm) >= 0.005 else ""
        )
        said = f"{name} measures {size.measured_mm:.2f}; {wanted}"
        allowed = INDEX_MM if size.index else limit
        if abs(off) <= allowed + 1e-9:
            remarks.append(f"{said}: within {allowed:.2f}.")
            continue
        what = _needed(size, off)
        because = f"{said}: {abs(off):.2f} too {_way(size, off)}."
        if ORDER.index(what) < ORDER.index(verdict.what):
            if verdict.what != "good as is":
                remarks.append(verdict.because)
            verdict = replace(verdict, what=what, because=because, mm=abs(off), tolerance_mm=allowed, at_mm=None)
        else:
            remarks.append(because)
    if row.measured is not None and abs(row.measured - new.thickness_mm) > ROUGH_MM:
        remarks.append(
            f"It is {row.measured:.2f} thick as measured, and the files count with {new.thickness_mm:.2f}."
        )
    if row.condition:
        remarks.append(f"Its condition: {row.condition.rstrip('.')}.")
    return replace(verdict, remarks=(*verdict.remarks, *remarks))


def _needed(size: _Size, off: float) -> What:
    if size.kind == "outside":
        return "trim down" if off > 0 else "remake"
    if size.kind == "inside":
        return "open up" if off < 0 else "remake"
    return "re-register" if size.index else "remake"


def _way(size: _Size, off: float) -> str:
    return ("large" if off > 0 else "small") if size.kind != "centres" else ("far" if off > 0 else "near")


def _sizes(row: MadePiece, old: Thing) -> tuple[list[_Size], list[str]]:
    """The measured dimensions of a row, and what could not be understood of them."""
    found: list[_Size] = []
    lost: list[str] = []
    for letter, measured in sorted(row.gauged.items()):
        asked = [g for g in old.gauges if g.letter == letter and row.page in ("", g.page)]
        if not asked:
            where = f" on {row.page}" if row.page else ""
            lost.append(
                f"{letter} was measured, and no page{where} of revision {row.revision} asks for it of {old.name}."
            )
        elif len({(g.page, g.what) for g in asked}) > 1:
            pages = ", ".join(dict.fromkeys(g.page for g in asked))
            lost.append(f"{letter} stands on several pages ({pages}): write `page:` beside it.")
        else:
            g = asked[0]
            found.append(
                _Size(
                    what=g.what,
                    letter=letter,
                    kind=g.kind,
                    then_mm=g.size_mm,
                    measured_mm=measured,
                    index=_index(g),
                )
            )
    if row.size is not None:
        boxes = [line.contour.bounds for line in old.of("CUT_OUTSIDE")]
        if boxes:
            then = _sides(boxes)
            for what, t, m in zip(("length", "width"), then, sorted(row.size, reverse=True), strict=True):
                found.append(_Size(what=what, letter="", kind="outside", then_mm=t, measured_mm=m))
    return found, lost


def _index(g: Gauged) -> bool:
    return g.kind == "centres" and g.what.startswith("index")


def _sides(boxes: Sequence[tuple[float, float, float, float]]) -> tuple[float, float]:
    """Length and width of all boxes together, the longer side first."""
    x = max(b[2] for b in boxes) - min(b[0] for b in boxes)
    y = max(b[3] for b in boxes) - min(b[1] for b in boxes)
    return max(x, y), min(x, y)


def _now(size: _Size, found: Compared) -> float:
    """What a dimension of the old files is in the new ones: of the line, or the two holes, that it was of."""
    if size.kind == "centres":
        pairs = [c.holes for c in found.changes if c.kind in HOLES and c.holes]
        for i, (one, now) in enumerate(pairs):
            for other, then in pairs[i + 1 :]:
                if abs(math.dist(one.at, other.at) - size.then_mm) <= CLOSE_MM:
                    return math.dist(now.at, then.at)
        return size.then_mm
    kinds = ("outside",) if size.kind == "outside" else ("opening", "pocket", "hole", "blind hole")
    for c in found.changes:
        if c.kind not in kinds or c.old is None or c.new is None:
            continue
        a, b = c.old.contour.bounds, c.new.contour.bounds
        for k in (0, 1):
            if abs(a[k + 2] - a[k] - size.then_mm) <= CLOSE_MM:
                hole = hole_of(c.new)
                return hole.diameter if hole else b[k + 2] - b[k]
    return size.then_mm
