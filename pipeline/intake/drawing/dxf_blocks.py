"""Insertions of blocks: where each of their copies stands, and why one can't be followed."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine, rotation, scale, shift
from pipeline.intake.drawing.dxf_curves import facing
from pipeline.intake.drawing.dxf_file import Block, DxfFile, Record, Unusable


def lost(file: DxfFile, record: Record) -> str:
    """Why an insertion can't be followed; "" when it can."""
    block = file.blocks.get(record.text(2).lower())
    if block is None:
        return f"it inserts the block {quoted(record.text(2))}, which isn't in the drawing"
    try:
        next(placings(record, block))
    except Unusable as fault:
        return fault.wrong
    return ""


def copies(record: Record) -> int:
    return max(1, record.whole(70, 1)) * max(1, record.whole(71, 1))


def placings(record: Record, block: Block) -> Iterator[Affine]:
    """The maps of an insertion, one for each copy of its rows and columns. Raises Unusable.

    The block's base point goes to the insertion point; scale first, then the turn (DXF reference, INSERT).
    """
    if block.outside:
        raise Unusable(f"it inserts {quoted(block.name)}, which stands in another file, and that is never fetched")
    m, (x, y, _), (bx, by, _) = facing(record), record.point(10), block.record.point(10, (0.0, 0.0, 0.0))
    sx, sy = record.number(41, 1.0), record.number(42, 1.0)
    if sx == 0 or sy == 0:
        raise Unusable("its scale is zero", record.first(41 if sx == 0 else 42))
    placed = m @ shift(x, y) @ rotation(record.number(50, 0.0))
    inside = scale(sx, sy) @ shift(-bx, -by)
    columns, rows = max(1, record.whole(70, 1)), max(1, record.whole(71, 1))
    for i in range(rows):
        for j in range(columns):
            yield placed @ shift(j * record.number(44, 0.0), i * record.number(45, 0.0)) @ inside
