"""The order of work as people read it: lines that say the same of several pieces are one row, under headlines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from pipeline.steps.values import WorkLine

KINDS = {
    "must": "it can't be done otherwise",
    "quality": "a caution, which the recipe may leave out by the name behind it",
    "safety": "it keeps you and others whole",
    "place": "it keeps what locates or clamps the work",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: numbers ``first`` to ``last``, the pieces it is done to, the line that speaks for all of them."""

    first: int
    last: int
    pieces: tuple[str, ...]
    line: WorkLine

    @property
    def number(self) -> str:
        return f"{self.first}" if self.first == self.last else f"{self.first}\u2013{self.last}"

    @property
    def where(self) -> tuple[str, ...]:
        """Piece, face and who, as far as the headline doesn't say them; the maker is not named."""
        head = self.line.group
        named = self.line.piece in head.replace(",", " ").split()
        told = named or self.line.piece in self.line.work.replace(",", " ").split()
        piece = self.pieces[0] if len(self.pieces) == 1 and not told else ""
        face = "" if named and (self.line.face == "front" or f"{self.line.face} up" in head) else self.line.face
        who = "" if self.line.who == "maker" or f"({self.line.who})" in head else self.line.who
        return tuple(x for x in (piece, face, who) if x)

    @property
    def reason(self) -> str:
        """The kind of the reason, and the caution's name where it has one."""
        return f"{self.line.kind}: {self.line.caution}" if self.line.caution else self.line.kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The rows under one headline; ``visit`` is what is said of the visit to the machine that begins with it."""

    day: int
    group: str
    visit: str
    rows: tuple[Row, ...]


def blocks(work: Sequence[WorkLine]) -> Iterator[Block]:
    """The order of work under its headlines, in its order."""
    said: set[tuple[str, str]] = set()
    for (day, group), lines in groupby(work, key=lambda w: (w.day, w.group)):
        rows = tuple(_rows(lines))
        first = next((r.line for r in rows if r.line.visit), None)
        fresh = first is not None and (first.who, first.visit) not in said
        if first is not None:
            said.add((first.who, first.visit))
        visit = f"{_at(first.who)}: {first.visit}" if first is not None and fresh else ""
        yield Block(day=day, group=group, visit=visit, rows=rows)


def _at(who: str) -> str:
    return "on the bench" if who == "maker" else who


def _rows(lines: Iterable[WorkLine]) -> Iterator[Row]:
    def same(w: WorkLine) -> tuple[object, ...]:
        alone = "" if w.piece else str(w.n)
        return (w.work, w.face, w.cutter, w.who, w.because, w.kind, w.caution, w.price, alone)

    for _, mine in groupby(lines, key=same):
        these = list(mine)
        pieces = tuple(w.piece for w in these if w.piece)
        yield Row(first=these[0].n, last=these[-1].n, pieces=pieces, line=these[0])


def work_text(work: Sequence[WorkLine]) -> list[str]:
    """The order of work as lines of plain text."""
    lines: list[str] = []
    for block in blocks(work):
        head = f"Day {block.day}: {block.group}" if block.group else f"Day {block.day}"
        lines += [*([""] if lines else []), head, *([f"  {block.visit}"] if block.visit else [])]
        for row in block.rows:
            several = row.pieces if len(row.pieces) > 1 else ()
            tail = ", ".join(x for x in (*several, *row.where, row.line.cutter) if x)
            lines.append(f"{row.number:>5}. {row.line.work}{f' ({tail})' if tail else ''}")
            price = f"; {row.line.price}" if row.line.price else ""
            lines.append(f"       because {row.line.because} [{row.reason}{price}]")
    return lines
