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
from pipeline.intake.drawing.coarse import tell_coarse
from pipeline.intake.drawing.contours import ROUND_MM, NoContour, as_contour
from pipeline.intake.drawing.document import Document, Shape
from pipeline.intake.drawing.doubled import doubled
from pipeline.intake.drawing.fill import Crossing, by_rule, nested, united
from pipeline.intake.drawing.joins import ASK_MM, SAME_MM, Joined, can_close, closed_up, crowded, linked
from pipeline.intake.drawing.loops import without_curls
from pipeline.intake.drawing.overlap import without_overlaps
from pipeline.intake.drawing.recognise import Round, recognised
from pipeline.intake.drawing.recognise_arcs import ARC_MM
from pipeline.intake.drawing.same import lying_on, repeats
from pipeline.intake.drawing.segments import Bow, Line, Subpath, box
from pipeline.intake.drawing.told import Told, count
from pipeline.intake.drawing.unclear import crossing, fork, open_lines, unseen
from pipeline.steps.values import Repair

MEANT_CLOSED = 0.05
"""An open line whose gap is at most this share of its length (or ASK_MM) was meant to be closed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """``region`` is None when no area is certain; ``problem`` then says why, in a full sentence."""

    region: Region | None
    lines: tuple[Contour, ...] = ()
    problem: str = ""
    remedy: str = ""
    findings: tuple[Finding, ...] = ()
    repairs: tuple[Repair, ...] = ()


def take(doc: Document, shapes: Sequence[Shape], move: Affine, name: str, arc_mm: float = ARC_MM) -> Taken:
    """The area of shapes without faults, moved by ``move`` (page mm to design mm).

    Cubics that stand for arcs become arcs where that moves the line by ``arc_mm`` at most.
    """
    seen = [s for s in shapes if s.painted and s.subpaths and s.kind != "POINT"]
    if not seen:
        return Taken(
            region=None,
            problem=unseen(shapes, name),
            remedy="Show it in the drawing, or name another object.",
        )
    work = _Work(doc, move, name, arc_mm)
    try:
        return work.taken(seen)
    except NoContour as error:
        return Taken(region=None, problem=f"{quoted(name)} can't be used: {error}.")


MOST_PATHS = 10_000
"""An object of more separate lines is a hatching or a scan of dots, and no outline comes of it in any time."""


class _Work:
    def __init__(self, doc: Document, move: Affine, name: str, arc_mm: float) -> None:
        self.doc = doc
        self.move = move
        self.name = name
        self.arc_mm = arc_mm
        self.told = Told(name)
        self.rounds: list[Round] = []
        self.coarsest_mm = 0.0

    def taken(self, seen: list[Shape]) -> Taken:
        several = sum(len(s.subpaths) for s in seen)
        if several > MOST_PATHS:
            raise NoContour(f"it consists of {several:,} separate lines, and at most {MOST_PATHS:,} are joined up")
        self.coarsest_mm = max(s.rounded_mm for s in seen)
        tell_coarse(self.told, seen, self.move.size)
        mm = self._mapped(seen)
        filled = [s for s in seen if s.filled]
        fills = self._without_repeats([(s, self._filled(s, mm[s.number])) for s in filled])
        regions = [by_rule(contours, shape.even_odd) for shape, contours in fills]
        # A filled path without any inside is a line that was left with the default fill.
        lines = [p for s in seen if not s.filled for p in mm[s.number]]
        for (shape, _), r in zip(fills, regions, strict=True):
            if not r:
                lines += [p for p in mm[shape.number] if not p.closed]
        joined = self._joined(lines)
        if joined.forks:
            return self._none(fork(self.name, joined.forks[0]), tuple(p for p in joined.paths if not p.closed))
        closed = [self._contour(p, self.coarsest_mm) for p in joined.paths if p.closed]
        closed = [self._without_curls(c) for c in closed if not is_sliver(c) or c.circle() or len(c) > 2]
        filling = [c for _, cs in fills for c in cs]
        closed = self._once(closed, filling)
        sound = [c for (_, cs), r in zip(fills, regions, strict=True) if r for c in cs]
        open_ = self._off([p for p in joined.paths if not p.closed], [*sound, *closed])
        self._told_rounds()
        rings = nested(closed)
        if isinstance(rings, Crossing):
            return self._none(crossing(self.name, rings))
        self._drawn_on(rings, regions)
        strip = doubled([*filling, *closed])
        if strip is not None:
            self.told.doubled(strip)
        area = united([*regions, rings])
        loose = [p for p in open_ if _meant_closed(p)]
        if loose or (open_ and not area):
            return self._none(open_lines(self.name, loose or open_), tuple(open_))
        if not area:
            return self._none(f"{quoted(self.name)} encloses no area.")
        if open_:
            self.told.finding(
                "drawing-open",
                "ask",
                f"{count(len(open_), 'open line')} of {quoted(self.name)} enclose no area and are left out.",
                at=open_[0].start,
                measured=float(len(open_)),
                unit="",
                remedy="take them out of the object, or close them",
            )
        outlines = tuple(self._contour(p, self.coarsest_mm) for p in open_)
        return Taken(
            region=area,
            lines=outlines,
            findings=tuple(self.told.findings),
            repairs=tuple(self.told.repairs),
        )

    def _none(self, problem: str, open_: tuple[Subpath, ...] = ()) -> Taken:
        lines = tuple(self._contour(p, self.coarsest_mm) for p in open_)
        return Taken(
            region=None,
            lines=lines,
            problem=problem,
            remedy="Mend it in the drawing (a filled shape has an area by its fill rule), or name another object.",
            findings=tuple(self.told.findings),
            repairs=tuple(self.told.repairs),
        )

    def _mapped(self, seen: list[Shape]) -> dict[int, list[Subpath]]:
        """The subpaths of each shape in design mm, without those that have no length."""
        mm: dict[int, list[Subpath]] = {}
        points: list[complex] = []
        ellipses = 0
        for s in seen:
            kept = mm.setdefault(s.number, [])
            for path in s.subpaths:
                moved = path.mapped(self.move)
                x0, y0, x1, y1 = box([moved]) or (0.0, 0.0, 0.0, 0.0)
                if max(x1 - x0, y1 - y0) <= SAME_MM:
                    points.append(moved.start)
                    continue
                kept.append(moved)
                ellipses += sum(
                    isinstance(b, Bow) and isinstance(a, Bow) and a.roundness <= ROUND_MM < b.roundness
                    for a, b in zip(path.segments, moved.segments, strict=True)
                )
        self.told.points(points)
        self.told.ellipses(ellipses)
        return mm

    def _joined(self, lines: list[Subpath]) -> Joined:
        """Unfilled lines with overlaps united, chained where their ends meet."""
        crowd = crowded([p for p in lines if not p.closed])
        if crowd:
            return Joined(tuple(lines), (), (crowd[0],))
        whole, overlaps = without_overlaps([p for p in lines if not p.closed])
        self.told.overlaps(overlaps)
        joined = linked([*(p for p in lines if p.closed), *whole])
        self.told.gaps(joined.gaps)
        return joined

    def _filled(self, shape: Shape, paths: list[Subpath]) -> list[Contour]:
        """The closed contours of a filled shape: SVG closes what is open by a straight line."""
        found: list[Contour] = []
        for path in paths:
            joined = closed_up(path)
            self.told.gaps(joined.gaps)
            whole = joined.paths[0]
            if not whole.closed:
                whole = Subpath((*whole.segments, Line(whole.end, whole.start)), True)
            contour = self._without_curls(self._contour(whole, shape.rounded_mm))
            if not joined.paths[0].closed and by_rule([contour], shape.even_odd):
                self.told.fill_closed(self.doc.name_of(shape), path.end, path.start, shape.place)
            found.append(contour)
        return found

    def _contour(self, path: Subpath, rounded_mm: float) -> Contour:
        """The contour of a path, with arcs and circles where its curves stand for such."""
        path, whole = recognised(path, rounded_mm * self.move.size, self.arc_mm)
        if whole is not None:
            self.rounds.append(whole)
        return as_contour(path)

    def _told_rounds(self) -> None:
        if self.rounds:
            worst = max(self.rounds, key=lambda r: r.moved_mm)
            one = len(self.rounds) == 1
            truly = "It is taken as a true circle" if one else "They are taken as true circles"
            self.told.finding(
                "drawing-circle",
                "note",
                f"{count(len(self.rounds), 'circle')} of {quoted(self.name)} {'is' if one else 'are'} drawn as "
                f"free curves. {truly}, which "
                f"moves the line by {worst.moved_mm:.4f} mm at most (radius {worst.radius_mm:.4f} mm).",
                at=worst.centre,
                measured=worst.moved_mm,
            )

    def _without_curls(self, contour: Contour) -> Contour:
        clean, curls = without_curls(contour)
        self.told.curls(curls)
        return clean

    def _without_repeats(self, fills: list[tuple[Shape, list[Contour]]]) -> list[tuple[Shape, list[Contour]]]:
        """Filled shapes of which every contour was there before, all in one shape, go."""
        owners = [(k, c) for k, (_, contours) in enumerate(fills) for c in contours]
        first = repeats([c for _, c in owners])
        firsts: list[list[int]] = [[] for _ in fills]
        for f, (owner, _) in zip(first, owners, strict=True):
            firsts[owner].append(f)
        kept: list[tuple[Shape, list[Contour]]] = []
        gone: list[Contour] = []
        for k, (shape, contours) in enumerate(fills):
            mine = firsts[k]
            origins = {owners[f][0] for f in mine}
            if len(origins) == 1 and (o := min(origins)) != k and len(fills[o][1]) == len(set(mine)):
                gone.append(contours[0])
            else:
                kept.append((shape, contours))
        self.told.duplicates(gone)
        return kept

    def _once(self, closed: list[Contour], before: list[Contour]) -> list[Contour]:
        """Unfilled contours without those that are drawn already, filled or not."""
        first = repeats([*before, *closed])
        kept = [first[i] == i for i in range(len(before), len(first))]
        self.told.duplicates([c for c, k in zip(closed, kept, strict=True) if not k])
        return [c for c, k in zip(closed, kept, strict=True) if k]

    def _off(self, open_: list[Subpath], closed: list[Contour]) -> list[Subpath]:
        """Open lines without those that only repeat a stretch of a closed contour."""
        lines = [as_contour(p) for p in open_]
        on = lying_on(lines, closed)
        self.told.duplicates([c for c, gone in zip(lines, on, strict=True) if gone], "open line")
        return [p for p, gone in zip(open_, on, strict=True) if not gone]

    def _drawn_on(self, rings: Region, regions: list[Region]) -> None:
        """Unfilled contours that lie in a filled area are swallowed by it: that must be said."""
        for part in rings:
            for r in regions:
                if r and shapely.intersects(part.polygon, r.polygon):
                    x0, y0, x1, y1 = part.outer.bounds
                    self.told.finding(
                        "drawing-line-on-fill",
                        "ask",
                        f"A line of {quoted(self.name)} runs round an area that is filled already. "
                        "It was taken as drawn on it, not as a hole.",
                        at=complex((x0 + x1) / 2, (y0 + y1) / 2),
                        measured=part.outer.area,
                        unit="mm²",
                        remedy="cut the hole out of the filled shape in the drawing, or give it no fill",
                    )
                    return


def _meant_closed(path: Subpath) -> bool:
    return can_close(path, path.gap) and path.gap <= max(ASK_MM, MEANT_CLOSED * as_contour(path).length)
