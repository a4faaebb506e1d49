"""Walking a DXF file: objects, and blocks inserted in blocks, each with its map, layer and visibility."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from pipeline.core.errors import Problem, refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine
from pipeline.intake.drawing.document import Entry, Shape
from pipeline.intake.drawing.dxf_blocks import copies, lost, placings
from pipeline.intake.drawing.dxf_curves import CURVES, LEVEL, Flat, flat, mapped
from pipeline.intake.drawing.dxf_file import Block, DxfFile, Record, Unusable
from pipeline.intake.drawing.dxf_kinds import INVISIBLE, TOLD, UNREAD, WHOLE_LINES
from pipeline.intake.drawing.segments import Subpath, box
from pipeline.intake.drawing.walk import FARTHEST_MM, MAX_COPIES, MAX_PIECES

NEAR_MM = 5e-6
"""Splines that aren't cubics already are followed so closely: a tenth of what curves are read within."""
DEEPEST = 60
"""Blocks may be inserted in blocks so often."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What an object inherits from the insertions round it.

    ``layer`` is the one that objects on layer 0 of a block belong to ("" outside blocks); ``parent`` the
    entry of the innermost insertion, −1 outside; ``blocks`` the names of the blocks it stands in.
    """

    to_mm: Affine
    layer: str = ""
    hidden: str = ""
    parent: int = -1
    raised: bool = False
    blocks: tuple[str, ...] = ()


@dataclass(slots=True)
class DxfWalk:
    """Collects entries and shapes; ``said`` are notes by kind: (kind, name of the layer, place)."""

    file: DxfFile
    shapes: list[Shape] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    said: list[tuple[str, str, Place]] = field(default_factory=list)
    undrawn: dict[str, str] = field(default_factory=dict)
    layer_entries: dict[str, int] = field(default_factory=dict)
    block_entries: dict[str, int] = field(default_factory=dict)
    pieces: int = 0
    copies: int = 0
    read: dict[tuple[int, int], Flat | Unusable] = field(default_factory=dict)

    def visit_all(self, to_mm: Affine) -> None:
        """Read every object of the drawing; ``to_mm`` maps its coordinates to mm."""
        nowhere = Place(file=self.file.groups.file)
        self._entry("drawing", "", (), -1, (), nowhere)
        self._containers()
        for record in self.file.objects:
            if record.text(67) != "1":
                self._visit(record, Around(to_mm=to_mm))
            elif record.kind not in INVISIBLE:
                self.said.append(("paper", record.layer, record.place()))
        for block in self.file.blocks.values():
            if block.name.lower().startswith("*paper_space"):
                found = [r for r in block.objects if r.kind not in INVISIBLE]
                self.said += [("paper", r.layer, r.place()) for r in found]

    # -- entries ---------------------------------------------------------------------------------
    def _entry(
        self, kind: str, id_: str, labels: tuple[str, ...], parent: int, also: tuple[int, ...], place: Place,
        hidden: str = "",
    ) -> int:  # fmt: skip
        index = len(self.entries)
        self.entries.append(
            Entry(
                index=index,
                parent=parent,
                kind=kind,
                id=id_,
                labels=labels,
                direct=True,
                node=index,
                place=place,
                hidden=hidden,
                also=also,
            )
        )
        return index

    def _containers(self) -> None:
        """An entry for each layer and each block that is inserted: they hold what comes after them."""
        inserted: dict[str, Block] = {}
        todo = list(self.file.objects)
        named: dict[str, tuple[str, Place]] = {
            key: (r.text(2), r.groups.place(r.at, f"layer {quoted(r.text(2))}"))
            for key, r in self.file.layers.items()
        }
        while todo:
            record = todo.pop()
            for r in (record, *record.parts):
                named.setdefault(r.layer.lower(), (r.layer, r.place()))
            key = record.text(2).lower() if record.kind == "INSERT" else ""
            if key in self.file.blocks and key not in inserted:
                inserted[key] = self.file.blocks[key]
                todo += inserted[key].objects
        for key, (name, place) in named.items():
            self.layer_entries[key] = self._entry("layer", name, (), 0, (), place)
        for key, block in self.file.blocks.items():
            place = block.record.groups.place(block.record.at, f"block {quoted(block.name)}")
            if key in inserted and not key.startswith("*"):
                self.block_entries[key] = self._entry("block", block.name, (), 0, (), place)
            elif not key.startswith("*"):
                self.undrawn[block.name] = "block"

    # -- objects ---------------------------------------------------------------------------------
    def _visit(self, record: Record, around: Around) -> None:
        if record.kind in INVISIBLE:
            return
        layer = record.layer.lower()
        if layer == "0" and around.layer:
            layer = around.layer
        hidden, frozen = self._hidden(record, layer, around)
        if record.kind == "INSERT":
            inner = replace(around, layer=layer, hidden=frozen)
            if self._insert(record, inner, around):
                for part in record.parts:
                    self._visit(part, replace(around, layer=layer, hidden=hidden))
                return
        home = self.layer_entries[layer]
        parent, also = (home, ()) if around.parent < 0 else (around.parent, (home,))
        labels = (record.handle,) if record.handle else ()
        index = self._entry(record.kind, "", labels, parent, also, record.place(), hidden)
        self._shape(record, index, layer, hidden, around)

    def _hidden(self, record: Record, layer: str, around: Around) -> tuple[str, str]:
        """Why an object isn't seen, and why nothing of a block isn't that it inserts."""
        if around.hidden:
            return around.hidden, around.hidden
        if record.text(60) == "1":
            why = f"it is hidden: {record.title} is marked invisible"
            return why, why
        found = self.file.layers.get(layer)
        if found is None:
            return "", ""
        name = quoted(found.text(2))
        try:
            if found.whole(70) & 1:
                why = f"it is hidden: its layer {name} is frozen"
                return why, why
            return (f"it is hidden: its layer {name} is off" if found.number(62, 7.0) < 0 else ""), ""
        except Unusable as fault:
            raise refuse(
                f"The layer {name} can't be read: {fault.wrong}.", place=found.groups.place(fault.pair or found.at)
            ) from fault

    def _shape(self, record: Record, index: int, layer: str, hidden: str, around: Around) -> None:
        """One object that isn't an insertion, or an insertion that can't be followed."""
        name = self.entries[self.layer_entries[layer]].id
        faults: tuple[Problem, ...] = ()
        paths: tuple[Subpath, ...] = ()
        notes: tuple[str, ...] = ()
        unread = record.kind not in CURVES and record.kind != "INSERT"
        try:
            if record.kind == "INSERT":
                self._said(hidden, "insert", name, record)
                raise Unusable(lost(self.file, record), record.first(2))
            if unread:
                kind, why = UNREAD.get(record.kind, ("unknown", f"is of the kind {quoted(record.kind, 40)}"))
                self._said(hidden, kind, name, record)
                remedy = TOLD[kind][2] or "draw what matters of it as lines, or take it out"
                raise Unusable(f"it {why}, which isn't read", remedy=f"{remedy[0].upper()}{remedy[1:]}.")
            if not around.to_mm.sound:
                raise Unusable("the insertions round it flatten it, or throw it out of reach")
            drawn = self._flat(record, around.to_mm)
            paths = tuple(q for p in drawn.paths for q in mapped(p, around.to_mm))
            notes = drawn.notes + (("height",) if drawn.z != 0 or around.raised else ())
        except Unusable as fault:
            faults = (_fault(record, fault),)
        bounds = box(paths)
        if bounds and not max(abs(v) for v in bounds) <= FARTHEST_MM:
            faults, paths, bounds = (_fault(record, Unusable("it lies more than a kilometre away")),), (), None
        for note in notes:
            self._said(hidden, note, name, record)
        line_type = record.text(6) if record.text(6).upper() != "BYLAYER" else ""
        if not line_type and layer in self.file.layers:
            line_type = self.file.layers[layer].text(6)
        if paths and record.kind != "POINT" and line_type.upper() not in WHOLE_LINES:
            self._said(hidden, "dashes", name, record)
        self.pieces += sum(len(p.segments) for p in paths)
        if self.pieces > MAX_PIECES:
            raise refuse(
                f"The drawing has more than {MAX_PIECES} lines and curves.",
                place=record.place(),
                remedy="Take out what isn't needed; draw curves as curves, not as many short lines.",
            )
        self.shapes.append(
            Shape(
                number=len(self.shapes) + 1,
                kind=record.kind,
                entry=index,
                subpaths=paths,
                bounds=bounds,
                filled=False,
                stroked=True,
                even_odd=False,
                hidden=hidden,
                faults=faults,
                place=record.place(),
                unread=unread,
            )
        )

    def _said(self, hidden: str, kind: str, layer: str, record: Record) -> None:
        if not hidden:
            self.said.append((kind, layer, record.place()))

    def _flat(self, record: Record, to_mm: Affine) -> Flat:
        """The object's curves, found once for all copies of a block. Raises Unusable."""
        stretch = max(math.hypot(to_mm.a, to_mm.b), math.hypot(to_mm.c, to_mm.d), to_mm.size)
        fine = math.floor(math.log2(NEAR_MM / (math.sqrt(2) * stretch)))
        key = (record.at, fine if record.kind == "SPLINE" else 0)
        if key not in self.read:
            try:
                self.read[key] = flat(record, 2.0**fine)
            except Unusable as fault:
                self.read[key] = fault
        found = self.read[key]
        if isinstance(found, Unusable):
            raise found
        return found

    # -- blocks ----------------------------------------------------------------------------------
    def _insert(self, record: Record, inner: Around, around: Around) -> bool:
        """Read a block where it is inserted; False when that can't be done."""
        block = self.file.blocks.get(record.text(2).lower())
        key = record.text(2).lower()
        if block is not None and key in around.blocks:
            self.problems.append(
                Problem(
                    wrong=f"The block {quoted(block.name)} contains a copy of itself, so the drawing never ends.",
                    place=record.place(),
                    remedy="Take this insertion out of the block.",
                )
            )
            return True
        if len(around.blocks) >= DEEPEST:
            raise refuse(
                f"Blocks are inserted in blocks more than {DEEPEST} deep here.",
                place=record.place(),
                remedy="Break them up into plain objects.",
            )
        if block is None:
            return False
        try:
            self._count(record, copies(record))
            placed = list(placings(record, block))
            raised = abs(record.point(10)[2]) > LEVEL
        except Unusable:
            return False
        also = (self.block_entries[key],) if key in self.block_entries else ()
        labels = (record.handle,) if record.handle else ()
        parent = 0 if around.parent < 0 else around.parent
        index = self._entry("INSERT", "", labels, parent, also, record.place(), inner.hidden)
        for placing in placed:
            self._count(record, len(block.objects))
            inside = replace(
                inner,
                to_mm=around.to_mm @ placing,
                parent=index,
                raised=around.raised or raised,
                blocks=(*around.blocks, key),
            )
            for one in block.objects:
                self._visit(one, inside)
        return True

    def _count(self, record: Record, more: int) -> None:
        self.copies += more
        if self.copies > MAX_COPIES:
            raise refuse(
                f"The drawing makes more than {MAX_COPIES} copies by inserting blocks.",
                place=record.place(),
                remedy="Draw copies as plain objects, and fewer of them.",
            )


def _fault(record: Record, fault: Unusable) -> Problem:
    return Problem(
        wrong=f"The object {quoted(record.title)} can't be used: {fault.wrong}.",
        place=record.place(fault.pair),
        remedy=fault.remedy,
    )
