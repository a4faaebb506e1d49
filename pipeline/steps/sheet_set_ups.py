"""The set-ups of one sheet-thickness piece, whether it stands for itself (a panel) or is glued (a lamination)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.fields import FaceName
from pipeline.geometry.contour import Contour
from pipeline.steps import ops as op
from pipeline.steps.values import Cut, Label, Op, SetUp

Through = tuple[tuple[Contour, ...], str]
"""Contours that are cut through, and the step they come from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWork:
    """All that is done to one sheet.

    ``pins`` are index holes that are bored, ``cut_pins`` those that are cut through as contours (by a laser; they
    stand in ``inside`` as well). ``pockets`` are what has a floor, each on its face. ``face`` lies up when nothing
    has a floor; ``ops`` and ``labels`` stand on ``face`` or, where that face has no work, on the last one.
    ``drawn`` is reference on every face; ``name`` is the step that it and the piece's own contours belong to.
    """

    face: FaceName = "front"
    pins: Sequence[Cut] = ()
    cut_pins: Sequence[Cut] = ()
    drills: Sequence[Cut] = ()
    pockets: Sequence[Op] = ()
    inside: Sequence[Through] = ()
    outside: Sequence[Through] = ()
    ops: Sequence[Op] = ()
    labels: tuple[Label, ...] = ()
    drawn: tuple[Contour, ...] = ()
    name: str = ""


def sheet_set_ups(work: SheetWork) -> tuple[SetUp, ...]:
    """Back first, then front. Index holes are bored in the first; what goes through stands in the last, so that
    nothing is free before it is done, and is REFERENCE in the other."""
    faces: list[FaceName] = [f for f in ("back", "front") if any(p.face == f for p in work.pockets)]
    faces = faces or [work.face]
    first, last = faces[0], faces[-1]
    marked = work.face if work.face in faces else last
    made: list[SetUp] = []
    for face in faces:
        ops = [op.drill(c, face) if face == first else op.index(c, face) for c in work.pins]
        if face == last:
            ops += [op.drill(c, face) for c in work.drills]
        ops += [p for p in work.pockets if p.face == face]
        if face == marked:
            ops += work.ops
        if face == last:
            ops += [Op(work="CUT_INSIDE", face=face, contours=c, step=step) for c, step in work.inside if c]
            ops += [Op(work="CUT_OUTSIDE", face=face, contours=c, step=step) for c, step in work.outside if c]
        else:
            edges = tuple(c for through in (work.outside, work.inside) for cs, _ in through for c in cs)
            ops.append(Op(work="REFERENCE", face=face, contours=edges, step=work.name))
            ops += [op.index(c, face) for c in work.cut_pins]
        if work.drawn:
            ops.append(Op(work="REFERENCE", face=face, contours=work.drawn, step=work.name))
        made.append(SetUp(face=face, ops=tuple(ops), labels=work.labels if face == marked else ()))
    return tuple(made)
