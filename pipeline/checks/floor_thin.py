"""Floors that are left too thin under, or between, cuts (trade.md 8, fault 13; 3.7).

In a glued blank the wood between two cuts, or between a cut and the far face, at the deepest point they
share; in a piece of its own the sheet less the pockets of both faces. (What a pocket leaves of one
lamination before glue-up is told by its stack.) Under 1.5 mm is a `stop`, under 3 a question.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from pipeline.checks.flat import filled
from pipeline.checks.view import View
from pipeline.checks.voids import Void, meant
from pipeline.core.findings import Finding, Shown
from pipeline.steps.values import Piece

NAME = "floor-thin"
STOP_MM, ASK_MM = 1.5, 3.0


def check(view: View) -> Iterator[Finding]:
    """One finding for each cut, and each pair of cuts, that leaves too little."""
    for blank, taken in view.blanks:
        for void in taken:
            yield from _far_face(view, blank.name, void)
        for i, a in enumerate(taken):
            for b in taken[i + 1 :]:
                yield from _between(view, blank.name, a, b)
    for piece in view.derived.pieces:
        if piece.role != "lamination":
            yield from _piece(view, piece)


def _far_face(view: View, blank: str, void: Void) -> Iterator[Finding]:
    """What a cut leaves to the face it doesn't come from; what goes through leaves nothing to ask."""
    low, high = void.span(void.shape)
    left = low if void.face == "front" else void.total - high
    if void.cut.depth.rule == "through" or void.drilled or (left <= 1e-6 and void.cut.lamination is not None):
        return
    if left < ASK_MM - 1e-6:
        at = void.deepest(void.shape)[1]
        yield _finding(
            view,
            void,
            left,
            at,
            (0.0, left) if void.face == "front" else (void.total, void.total - left),
            piece=blank,
            message=f"{void.step.name} leaves {left:.2f} mm of {blank} under its floor.",
        )


def _between(view: View, blank: str, a: Void, b: Void) -> Iterator[Finding]:
    """Wood between two cuts that lie over one another; cuts that touch are another check's matter."""
    if meant(a, b) or a.drilled or b.drilled:
        return
    shared = shapely.intersection(a.shape, b.shape)
    if shared.area <= 0.01:
        return
    web, at = gap_in_z(a, b, shared)
    if 0.0 < web < ASK_MM - 1e-6:
        yield _finding(
            view,
            b,
            web,
            at,
            facing(a, b, at),
            piece=blank,
            message=f"Between {a.step.name} and {b.step.name} {web:.2f} mm of {blank} is left.",
        )


def gap_in_z(a: Void, b: Void, shared: shapely.Geometry) -> tuple[float, tuple[float, float]]:
    """Height of the wood between two cuts where it is least over ``shared`` (negative: they overlap)."""
    spots = shapely.get_coordinates(shared)
    best, where = float("inf"), (0.0, 0.0)
    az, bz = a.floors(spots[:, 0], spots[:, 1]), b.floors(spots[:, 0], spots[:, 1])
    for (x, y), za, zb in zip(spots.tolist(), az.tolist(), bz.tolist(), strict=True):
        a0, a1 = sorted((za, _mouth(a)))
        b0, b1 = sorted((zb, _mouth(b)))
        gap = max(a0 - b1, b0 - a1)
        if gap < best - 1e-9:
            best, where = gap, (x, y)
    if not a.slope and not b.slope:
        at = shared.representative_point()
        where = (float(at.x), float(at.y))
    return best, where


def _kept(piece: Piece, face: str, depth: float, left: float) -> tuple[float, float]:
    """Heights between which a piece keeps its wood over or under a pocket."""
    floor = piece.thickness_mm - depth if face == "front" else depth
    return (floor - left, floor) if face == "front" else (floor + left, floor)


def facing(a: Void, b: Void, at: tuple[float, float]) -> tuple[float, float]:
    """Heights of the two floors, or mouths, of two cuts that face one another at a place."""
    x, y = np.array([at[0]]), np.array([at[1]])
    a0, a1 = sorted((float(a.floors(x, y)[0]), _mouth(a)))
    b0, b1 = sorted((float(b.floors(x, y)[0]), _mouth(b)))
    return (b1, a0) if a0 - b1 >= b0 - a1 else (a1, b0)


def _mouth(void: Void) -> float:
    if void.mouth is not None:
        return void.mouth
    return void.total if void.face == "front" else 0.0


def _piece(view: View, piece: Piece) -> Iterator[Finding]:
    """Pockets of both faces of one sheet."""
    pockets = [
        (s.face, op.step or piece.step, max(op.depth_mm or 0.0, op.deep_mm or 0.0), filled(op.contours))
        for s in piece.set_ups
        for op in s.ops
        if op.work in ("POCKET", "RAMP")
    ]
    for i, (face, step, depth, shape) in enumerate(pockets):
        left, against = piece.thickness_mm - depth, ""
        at = shape.representative_point()
        for other_face, other, other_depth, other_shape in pockets[:i]:
            shared = shapely.intersection(shape, other_shape)
            if other_face != face and shared.area > 0.01 and piece.thickness_mm - depth - other_depth < left:
                left = piece.thickness_mm - depth - other_depth
                against, at = other, shared.representative_point()
        if left >= ASK_MM - 1e-6:
            continue
        what = f"between {against} and {step}" if against else f"under {step}"
        yield Finding(
            check=NAME,
            severity="stop" if left < STOP_MM else "ask",
            message=f"{piece.name} keeps {left:.2f} mm {what}.",
            step=step,
            piece=piece.name,
            at_mm=(float(at.x), float(at.y)),
            face=face,
            measured=left,
            limit=STOP_MM if left < STOP_MM else ASK_MM,
            remedy=f"make it {ASK_MM - left:.2f} mm shallower, or take a thicker sheet",
            place=view.place(step, "depth", "floor"),
            shown=Shown(heights_mm=_kept(piece, face, depth, left)),
        )


def _finding(
    view: View,
    void: Void,
    left: float,
    at: tuple[float, float],
    heights: tuple[float, float],
    *,
    piece: str,
    message: str,
) -> Finding:
    stop = left < STOP_MM
    return Finding(
        check=NAME,
        severity="stop" if stop else "ask",
        message=message,
        step=void.step.name,
        piece=piece,
        at_mm=at,
        face=void.face,
        measured=left,
        limit=STOP_MM if stop else ASK_MM,
        remedy=f"make it {ASK_MM - left:.2f} mm shallower, move it, or add a lamination",
        place=view.place(void.step.name, "depth", "floor", "ledge.depth"),
        shown=Shown(heights_mm=heights),
    )
