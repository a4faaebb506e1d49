"""What ``drawn`` takes from one or several shapes: their area, their open lines, and what must be told.

Every filled shape gives its inside by its own fill rule, and filled shapes unite; closed unfilled
contours lose their duplicates, then nest even-odd (blueprint section 3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from pipeline.core.findings import Finding
from pipeline.core.text import quoted
from pipeline.geometry.contour import Contour
from pipeline.geometry.region import Region
from pipeline.geometry.tidy import is_sliver
from pipeline.intake.drawing.affine import Affine
from pipeline.intake.drawing.contours import NoContour, as_contour
from pipeline.intake.drawing.document import Shape, SvgDocument
from pipeline.intake.drawing.fill import Crossing, by_rule, nested, united
from pipeline.intake.drawing.joins import JOIN_MM, Joined, closed_up, linked
from pipeline.intake.drawing.same import SAME_MM, repeats
from pipeline.intake.drawing.segments import Line, Subpath

MEANT_CLOSED = 0.05
"""An open line whose gap is at most this share of its length (or 1 mm) was meant to be closed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """``region`` is None when no area is certain; ``problem`` then says why, in a full sentence."""

    region: Region | None
    lines: tuple[Contour, ...] = ()
    problem: str = ""
    remedy: str = ""
    findings: tuple[Finding, ...] = ()


def take(doc: SvgDocument, shapes: Sequence[Shape], move: Affine, name: str) -> Taken:
    """The area of shapes without faults, moved by ``move`` (page mm to design mm)."""
    seen = [s for s in shapes if s.painted and s.subpaths]
    if not seen:
        return Taken(
            region=None,
            problem=_unseen(shapes, name),
            remedy="Show it in the drawing, or name another object.",
        )
    work = _Work(doc, move, name)
    try:
        return work.taken(seen)
    except NoContour as error:
        return Taken(region=None, problem=f"{quoted(name)} can't be used: {error}.")


class _Work:
    def __init__(self, doc: SvgDocument, move: Affine, name: str) -> None:
        self.doc = doc
        self.move = move
        self.name = name
        self.findings: list[Finding] = []

    def tell(self, check: str, severity: str, message: str, **more: object) -> None:
        self.findings.append(Finding(check=check, severity=severity, message=message, **more))  # type: ignore[arg-type]  # the callers below give literals

    def taken(self, seen: list[Shape]) -> Taken:
        mm = {s.number: [p.mapped(self.move) for p in s.subpaths] for s in seen}
        filled = [s for s in seen if s.filled]
        fills = self._without_repeats([(s, self._filled(s, mm[s.number])) for s in filled])
        regions = [by_rule(contours, shape.even_odd) for shape, contours in fills]
        # A filled path without any inside is a line that was left with the default fill.
        lines = [p for s in seen if not s.filled for p in mm[s.number]]
        for (shape, _), r in zip(fills, regions, strict=True):
            if not r:
                lines += [p for p in mm[shape.number] if not p.closed]
        joined = linked(lines)
        self._gaps(joined)
        closed = [as_contour(p) for p in joined.paths if p.closed]
        closed = [c for c in closed if not is_sliver(c) or c.circle() or len(c) > 2]
        open_ = [p for p in joined.paths if not p.closed]
        closed = self._once(closed, [c for _, cs in fills for c in cs])
        rings = nested(closed)
        if isinstance(rings, Crossing):
            return self._none(self._crossing(rings))
        self._drawn_on(rings, regions)
        area = united([*regions, rings])
        loose = [p for p in open_ if p.gap <= max(1.0, MEANT_CLOSED * _length(p))]
        if loose or (open_ and not area):
            return self._none(self._open((loose or open_)[0], len(loose or open_), joined), tuple(open_))
        if not area:
            return self._none(f"{quoted(self.name)} encloses no area.")
        if open_:
            x, y = open_[0].start.real, open_[0].start.imag
            self.tell(
                "drawing-open",
                "ask",
                f"{_count(len(open_), 'open line')} of {quoted(self.name)} enclose no area and are left out.",
                at_mm=(x, y),
                measured=float(len(open_)),
                unit="",
                remedy="take them out of the object, or close them",
            )
        outlines = tuple(as_contour(p) for p in open_)
        return Taken(region=area, lines=outlines, findings=tuple(self.findings))

    def _none(self, problem: str, open_: tuple[Subpath, ...] = ()) -> Taken:
        lines = tuple(as_contour(p) for p in open_)
        return Taken(
            region=None,
            lines=lines,
            problem=problem,
            remedy="Mend it in the drawing (a filled shape has an area by its fill rule), or name another object.",
            findings=tuple(self.findings),
        )

    def _filled(self, shape: Shape, paths: list[Subpath]) -> list[Contour]:
        """The closed contours of a filled shape: SVG closes what is open by a straight line."""
        found: list[Contour] = []
        for path in paths:
            joined = closed_up(path)
            self._gaps(joined)
            whole = joined.paths[0]
            if not whole.closed:
                whole = Subpath((*whole.segments, Line(whole.end, whole.start)), True)
            contour = as_contour(whole)
            if not joined.paths[0].closed and by_rule([contour], shape.even_odd):
                self.tell(
                    "drawing-open",
                    "ask",
                    f"{quoted(self.doc.name_of(shape))} is filled but open: its ends are {path.gap:.2f} mm apart. "
                    "Its area is closed by a straight line there, as a fill is.",
                    at_mm=(path.end.real, path.end.imag),
                    measured=path.gap,
                    limit=JOIN_MM,
                    remedy="close the path in the drawing",
                    place=shape.place,
                )
            found.append(contour)
        return found

    def _without_repeats(self, fills: list[tuple[Shape, list[Contour]]]) -> list[tuple[Shape, list[Contour]]]:
        """Filled shapes of which every contour was there before, all in one shape, go."""
        owners = [(k, c) for k, (_, contours) in enumerate(fills) for c in contours]
        first = repeats([c for _, c in owners])
        firsts: list[list[int]] = [[] for _ in fills]
        for f, (owner, _) in zip(first, owners, strict=True):
            firsts[owner].append(f)
        kept: list[tuple[Shape, list[Contour]]] = []
        gone = 0
        for k, (shape, contours) in enumerate(fills):
            mine = firsts[k]
            origins = {owners[f][0] for f in mine}
            if len(origins) == 1 and (o := min(origins)) != k and len(fills[o][1]) == len(set(mine)):
                gone += 1
            else:
                kept.append((shape, contours))
        self._duplicates(gone)
        return kept

    def _once(self, closed: list[Contour], before: list[Contour]) -> list[Contour]:
        """Unfilled contours without those that are drawn already, filled or not."""
        first = repeats([*before, *closed])
        kept = [c for i, c in enumerate(closed, len(before)) if first[i] == i]
        self._duplicates(len(closed) - len(kept))
        return kept

    def _duplicates(self, gone: int) -> None:
        if gone:
            self.tell(
                "drawing-duplicate",
                "note",
                f"{_count(gone, 'contour')} of {quoted(self.name)} {'is' if gone == 1 else 'are'} drawn twice "
                f"(within {SAME_MM} mm); one of each counts.",
                measured=float(gone),
                unit="",
            )

    def _gaps(self, joined: Joined) -> None:
        if joined.gaps:
            self.tell(
                "drawing-gap",
                "note",
                f"{_count(len(joined.gaps), 'gap')} of {quoted(self.name)} "
                f"{'is' if len(joined.gaps) == 1 else 'are'} closed; the widest is {max(joined.gaps):.4f} mm.",
                measured=max(joined.gaps),
                limit=JOIN_MM,
            )

    def _drawn_on(self, rings: Region, regions: list[Region]) -> None:
        """Unfilled contours that lie in a filled area are swallowed by it: that must be said."""
        for part in rings:
            for r in regions:
                if r and shapely.intersects(part.polygon, r.polygon):
                    x0, y0, x1, y1 = part.outer.bounds
                    self.tell(
                        "drawing-line-on-fill",
                        "ask",
                        f"A line of {quoted(self.name)} runs round an area that is filled already. "
                        "It was taken as drawn on it, not as a hole.",
                        at_mm=((x0 + x1) / 2, (y0 + y1) / 2),
                        measured=part.outer.area,
                        unit="mm²",
                        remedy="cut the hole out of the filled shape in the drawing, or give it no fill",
                    )
                    return

    def _crossing(self, c: Crossing) -> str:
        x, y = c.at
        where = f"at x {x:.2f}, y {y:.2f} mm"
        if c.first == c.second:
            return (
                f"A line of {quoted(self.name)} crosses itself {where} and isn't filled, so it encloses "
                "no certain area."
            )
        return (
            f"Two lines of {quoted(self.name)} cross {where} and aren't filled, so they enclose no certain area."
        )

    def _open(self, path: Subpath, count: int, joined: Joined) -> str:
        p, q = path.start, path.end
        more = f" (and {count - 1} more like it)" if count > 1 else ""
        fork = ""
        if joined.forks:
            z = joined.forks[0]
            fork = f" Three or more ends meet at x {z.real:.2f}, y {z.imag:.2f} mm."
        return (
            f"A line of {quoted(self.name)} is open{more}: it ends at x {q.real:.2f}, y {q.imag:.2f} mm, "
            f"{path.gap:.2f} mm from where it begins at x {p.real:.2f}, y {p.imag:.2f} mm.{fork}"
        )


def _unseen(shapes: Sequence[Shape], name: str) -> str:
    """Why nothing of an object can be seen."""
    if not shapes:
        return f"{quoted(name)} is empty: it draws nothing."
    first = shapes[0]
    if all(s.hidden for s in shapes):
        return f"{quoted(name)} can't be seen: {first.hidden}."
    drawn = [s for s in shapes if s.subpaths]
    if drawn and not any(s.filled or s.stroked for s in drawn):
        return f"{quoted(name)} can't be seen: it is neither filled nor stroked."
    return f"{quoted(name)} has no outline."


def _length(path: Subpath) -> float:
    return as_contour(path).length


def _count(n: int, word: str) -> str:
    return f"1 {word}" if n == 1 else f"{n} {word}s"
