"""The glued blank as a thing of its own: its front and back set-ups."""

from __future__ import annotations

from pipeline.core.fields import FaceName
from pipeline.geometry.boolean import intersection
from pipeline.geometry.region import Region
from pipeline.steps.heights import Floor
from pipeline.steps.ops import drill, floored, index
from pipeline.steps.stack import Spec
from pipeline.steps.values import Cut, Op, Result, SetUp, World


def blank_set_ups(
    spec: Spec,
    outline: Region,
    grown: Region,
    before: tuple[Floor, ...],
    after: tuple[Floor, ...],
    holes: tuple[tuple[Cut, bool], ...],
    slanting: tuple[Result, ...] = (),
) -> tuple[SetUp, ...]:
    """What is machined in the glued blank: back first, then front; a face without work has none.

    ``slanting`` are drilled by hand at a slant: on the face they start from their plan is drawn, never cut.
    """
    perimeter = spec.outline in spec.cut_blank
    flat = [f for f in after if f.cut.lamination is None]
    bored_here = any(not early for _, early in holes)
    faces: list[FaceName] = [
        face
        for face in ("back", "front")
        if any(f.face == face and not f.through for f in flat)
        or (face == "front" and (perimeter or any(f.through for f in flat)))
    ]
    if bored_here and not faces:
        faces = ["front"]
    made: list[SetUp] = []
    for face in faces:
        ops: list[Op] = []
        for cut, early in holes:
            bores = not early and face == faces[0]
            ops.append(drill(cut, face) if bores else index(cut, face))
        ops += [floored(f, f.cut.region) for f in flat if f.face == face and not f.through]
        if face == faces[-1]:
            ops += [_through(f, face) for f in flat if f.through]
            if perimeter:
                ops.append(
                    Op(
                        work="CUT_OUTSIDE",
                        face=face,
                        contours=tuple(p.outer for p in outline.parts),
                        step=spec.outline,
                    )
                )
        elif perimeter:
            ops.append(
                Op(
                    work="REFERENCE",
                    face=face,
                    contours=tuple(p.outer for p in outline.parts),
                    step=spec.outline,
                )
            )
        # What the laminations already have open towards this face is drawn, never cut.
        for f in before:
            if f.cut.lamination is None and (f.face == face or f.through):
                seen = intersection(f.cut.region, outline)
                if seen:
                    ops.append(Op(work="REFERENCE", face=face, contours=seen.contours, step=f.cut.step))
        for bore in slanting:
            if bore.numbers["face"] == face:
                plan = tuple(c for r in bore.regions for c in r.contours)
                ops.append(Op(work="REFERENCE", face=face, contours=plan, step=bore.step))
        ops.append(Op(work="STOCK", face=face, contours=grown.contours))
        made.append(SetUp(face=face, ops=tuple(ops)))
    return tuple(made)


def bores_of(spec: Spec, world: World) -> tuple[Result, ...]:
    """The channels among `by_hand` that are drilled at a slant: they have a plan and no plan rule."""
    made = [world.result(n) for n in spec.by_hand]
    return tuple(r for r in made if r.kind == "channel" and r.regions and not r.cuts)


def _through(floor: Floor, face: FaceName) -> Op:
    cut = floor.cut
    if cut.diameter_mm is not None:
        return drill(cut, face)
    return Op(work="CUT_INSIDE", face=face, contours=cut.region.contours, step=cut.step)
