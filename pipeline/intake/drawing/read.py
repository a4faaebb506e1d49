"""``read_drawing``: the objects that a recipe names, in the design frame."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from pipeline.core.errors import Problem, Refused
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import IDENTITY, Affine
from pipeline.intake.drawing.document import Document, Entry, Shape
from pipeline.intake.drawing.frame import Placed, placed
from pipeline.intake.drawing.marks import mark_of
from pipeline.intake.drawing.names import WHOLE, Named, find, named_drawn
from pipeline.intake.drawing.recognise_arcs import ARC_MM
from pipeline.intake.drawing.scale import calibrations
from pipeline.intake.drawing.segments import Subpath
from pipeline.intake.drawing.stored import read_document
from pipeline.intake.drawing.take import Taken, take
from pipeline.steps.values import Drawing, Drawn, Mark

MARK_NAME = re.compile(r"(^|.*[-_. ])marks?([-_. ]?\d+)?$", re.IGNORECASE)
"""Objects called so are marks, also where the recipe doesn't name them: they stay out of `all`."""
UNREAD = frozenset({"text", "image", "foreignObject", "video", "canvas", "iframe"})


def read_drawing(recipe: Recipe, *, sha256: str | None = None) -> Drawing:
    """Read the drawing of a recipe: every object and mark that it names, in design mm.

    Its bytes must have the hash ``sha256``, which is the recorded one when none is given ("" for any).
    Only what is named gets its region computed; ``Drawing.all`` only when a step names ``all``.
    Raises Refused with every problem: unknown or unclear names, objects without a certain area,
    faults of what is named, a drawing without any size.
    """
    sha256 = recorded(recipe) if sha256 is None else sha256
    doc = read_document(recipe.drawing, label_of(recipe), sha256=sha256)
    named = named_drawn(recipe)
    reader = _Reader(recipe, doc, named)
    return reader.drawing()


def recorded(recipe: Recipe) -> str:
    """The hash of the drawing when the recipe was read, "" where nothing is known of it."""
    label = label_of(recipe)
    return next((i.sha256 for i in recipe.inputs if i.path == label), "")


def label_of(recipe: Recipe) -> str:
    """The drawing's path as messages show it: from the project root where it lies inside."""
    path = Path(recipe.drawing)
    root = Path(recipe.root)
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else path.name


class _Reader:
    def __init__(self, recipe: Recipe, doc: Document, named: Named) -> None:
        self.recipe = recipe
        self.doc = doc
        self.named = named
        self.arc_mm = min(ARC_MM, recipe.tolerance / 2)  # what is left of the tolerance is the export's
        self.problems: list[Problem] = []
        self.findings: list[Finding] = list(doc.findings)
        self.mark_entries: set[int] = set()

    def drawing(self) -> Drawing:
        marks, widths = self._marks()
        frame = placed(self.recipe, self.doc, marks, widths)
        self.problems += frame.problems
        self.findings += frame.findings
        objects = {n: d for n in self.named.drawn if (d := self._object(n, frame)) is not None}
        for name, mark in marks.items():
            moved = _moved(mark, frame.move)
            known = objects.get(name)
            if known is not None:
                objects[name] = replace(known, mark=moved)
            else:
                objects[name] = Drawn(
                    name=name,
                    region=None,
                    lines=(),
                    mark=moved,
                    place=self._entry_place(name),
                    problem=f"{quoted(name)} is a mark.",
                )
        several = {}
        for names in self.named.several:
            if all(n in objects for n in names):
                several[names] = self._together(names, frame)
        whole = self._whole(frame)
        if WHOLE in self.named.drawn:
            objects.setdefault(WHOLE, whole)
        taken = [*objects.values(), *several.values(), whole]
        lengths, short = calibrations(self.recipe, frame.scaled, frame.move, _bounds(taken))
        self.findings += short
        if self.problems:
            raise Refused(dict.fromkeys(self.problems))
        return Drawing(
            file=self.doc.file,
            objects=objects,
            all=whole,
            several=several,
            findings=tuple(dict.fromkeys(self.findings)),
            scale_mm=self.doc.unit_mm * frame.scale,
            calibrations=lengths,
        )

    # -- marks -----------------------------------------------------------------------------------
    def _marks(self) -> tuple[dict[str, Mark], dict[str, tuple[Subpath, ...]]]:
        """All marks in page mm, and the curves of objects whose width is known."""
        marks: dict[str, Mark] = {}
        widths: dict[str, tuple[Subpath, ...]] = {}
        wanted = {n: (place, True) for n, (place, _) in self.named.marks.items()}
        for i, known in enumerate(self.recipe.frame.known if self.recipe.frame else ()):
            for j, name in enumerate(known.between):
                place = self.recipe.places.get(f"frame.known.{i}.between.{j}") or self.recipe.drawing_place
                wanted.setdefault(name, (place, len(known.between) > 1))
        for name, (place, must) in wanted.items():
            entry = self._find(name, place)
            if entry is None:
                continue
            shapes = self._sound(entry, name, place)
            mark = mark_of(shapes, name) if shapes is not None else None
            if isinstance(mark, Mark) and (must or mark.ends):
                marks[name] = mark
                self.mark_entries.add(entry.index)
            elif not must and shapes:
                widths[name] = tuple(p for s in shapes if s.painted for p in s.subpaths)
            elif isinstance(mark, str):
                self.problems.append(
                    Problem(
                        wrong=mark,
                        place=entry.place,
                        expected="a small closed shape, a cross of two lines, or one line",
                        remedy="Draw one, or name another mark.",
                    )
                )
        return marks, widths

    def _entry_place(self, name: str) -> Place:
        entry = find(self.doc, name)
        return entry.place if isinstance(entry, Entry) else self.recipe.drawing_place

    # -- objects ---------------------------------------------------------------------------------
    def _find(self, name: str, place: Place) -> Entry | None:
        entry = find(self.doc, name)
        if isinstance(entry, Entry):
            return entry
        self.problems.append(replace(entry, place=place))
        return None

    def _sound(self, entry: Entry, name: str, place: Place) -> tuple[Shape, ...] | None:
        """The shapes of an entry; None, with the problems told, when one that is seen has a fault.

        A group may hold text and pictures beside shapes: the drawing's findings tell of them.
        """
        shapes = self.doc.members(entry.index)
        outlines = [s for s in shapes if _readable(s)]
        judged = outlines or list(shapes)
        faults = [f for s in judged if not s.hidden and s.painted for f in s.faults]
        if faults:
            self.problems += faults
            return None
        return tuple(outlines)

    def _object(self, name: str, frame: Placed) -> Drawn | None:
        place, step = self.named.drawn[name]
        if name == WHOLE and not isinstance(find(self.doc, name), Entry):
            return None
        entry = self._find(name, place)
        if entry is None:
            return None
        shapes = self._sound(entry, name, place)
        if shapes is None:
            return None
        taken = take(self.doc, shapes, frame.move, name, self.arc_mm)
        if name in self.named.alone:
            self._tell(taken, entry.place, step)
        elif (name,) in self.named.halves:
            self._tell(_as_half(taken), entry.place, step)
        return _drawn(name, taken, entry.place)

    def _tell(self, taken: Taken, place: Place, step: str) -> None:
        self.findings += [replace(f, step=step, place=f.place or place) for f in taken.findings]
        if taken.region is None and taken.problem:
            self.problems.append(
                Problem(
                    wrong=taken.problem,
                    place=place,
                    expected=f"closed shapes that can be seen, since {step or 'the recipe'} takes their area",
                    remedy=taken.remedy,
                )
            )

    def _together(self, names: tuple[str, ...], frame: Placed) -> Drawn:
        """Several objects that one field names, taken as one: unfilled contours nest across them."""
        chosen: dict[int, Shape] = {}
        for name in names:
            entry = find(self.doc, name)
            if isinstance(entry, Entry):
                chosen |= {s.number: s for s in self.doc.members(entry.index) if _readable(s)}
        place, step = self.named.several[names]
        taken = take(self.doc, [chosen[k] for k in sorted(chosen)], frame.move, " and ".join(names), self.arc_mm)
        self._tell(_as_half(taken) if names in self.named.halves else taken, place, step)
        return _drawn(" and ".join(names), taken, place)

    def _whole(self, frame: Placed) -> Drawn:
        """The whole drawing less its marks."""
        used = self.named.drawn.get(WHOLE)
        if used is None or isinstance(find(self.doc, WHOLE), Entry):
            return Drawn(
                name=WHOLE,
                region=None,
                lines=(),
                mark=None,
                place=Place(file=self.doc.file),
                problem="No step of the recipe takes the whole drawing.",
            )
        left_out = {s.number for i in self._all_marks() for s in self.doc.members(i)}
        shapes = [s for s in self.doc.shapes if s.number not in left_out and _readable(s)]
        faults = [f for s in shapes if s.painted for f in s.faults]
        self.problems += faults
        if faults:
            return Drawn(name=WHOLE, region=None, lines=(), mark=None, place=used[0], problem=faults[0].wrong)
        taken = take(self.doc, shapes, frame.move, WHOLE, self.arc_mm)
        self._page_sized(shapes)
        self._tell(_as_half(taken) if (WHOLE,) in self.named.halves else taken, *used)
        return _drawn(WHOLE, taken, used[0])

    def _all_marks(self) -> Iterable[int]:
        by_name = {
            e.index for e in self.doc.entries if any(MARK_NAME.fullmatch(n) for n in (e.id, *e.labels) if n)
        }
        return sorted(by_name | self.mark_entries)

    def _page_sized(self, shapes: list[Shape]) -> None:
        """A filled rectangle of the page's size is a background more often than a shape."""
        if self.doc.page is None:
            return
        w, h = self.doc.page
        for s in shapes:
            corners = {
                (round(z.real, 2), round(z.imag, 2)) for p in s.subpaths for seg in p.segments for z in (seg.p,)
            }
            page = {(x, y) for x in (0.0, round(w, 2)) for y in (0.0, round(h, 2))}
            if s.painted and s.filled and corners == page:
                self.findings.append(
                    Finding(
                        check="drawing-page",
                        severity="ask",
                        message=f"{quoted(self.doc.name_of(s))} covers the whole page and counts as a shape.",
                        measured=w * h,
                        unit="mm²",
                        remedy="delete it if it is only the background, or name the objects that you mean",
                        place=s.place,
                    )
                )


def _readable(shape: Shape) -> bool:
    return not shape.unread and shape.kind not in UNREAD


def _as_half(taken: Taken) -> Taken:
    """What is told of an object of which a step takes a half: its open lines are what is wanted."""
    if not taken.lines:
        return taken
    told = tuple(f for f in taken.findings if f.check != "drawing-open")
    return replace(taken, problem="", findings=told)


def _drawn(name: str, taken: Taken, place: Place) -> Drawn:
    return Drawn(
        name=name,
        region=taken.region,
        lines=taken.lines,
        mark=None,
        place=place,
        problem=taken.problem,
        repairs=taken.repairs,
    )


def _bounds(taken: Iterable[Drawn]) -> tuple[float, float, float, float] | None:
    """(xmin, ymin, xmax, ymax) of all areas and lines, None without any."""
    boxes = [c.bounds for d in taken for c in (*(d.region.contours if d.region else ()), *d.lines)]
    if not boxes:
        return None
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _moved(mark: Mark, move: Affine = IDENTITY) -> Mark:
    def to(p: tuple[float, float]) -> tuple[float, float]:
        z = move(complex(*p))
        return z.real + 0.0, z.imag + 0.0

    return Mark(name=mark.name, at=to(mark.at), ends=tuple(to(p) for p in mark.ends))
