"""A set-up's operations and labels as curves and words, in the machinist's view, as they are written."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal

from pipeline.core.errors import refuse
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour
from pipeline.geometry.transform import Move
from pipeline.packet.layers import CLOSED_WORKS, layer_name
from pipeline.packet.shop_file import Words
from pipeline.packet.strokes import text_strokes
from pipeline.packet.views import label_seen
from pipeline.packet.written import Curve, written
from pipeline.steps.values import Op, SetUp

Fit = Callable[[Contour], Contour]


@dataclass(frozen=True, slots=True)
class Entry:
    """An operation with its curves as written, and the words of its legend."""

    op: Op
    name: str
    curves: tuple[Curve, ...]
    ramp: tuple[tuple[float, float, float], ...] = ()


def entries_of(
    set_up: SetUp, moves: tuple[Move, ...], shop: Shop, name: str, fit: Fit
) -> tuple[list[Entry], list[Words]]:
    """A set-up's operations and labels after the moves, and its words that aren't cut."""
    move = moves[0]
    for m in moves[1:]:
        move = move.then(m)
    entries: list[Entry] = []
    for op in set_up.ops:
        op = _for_shop(op, shop)
        if op.work in CLOSED_WORKS and not all(c.closed for c in op.contours):
            raise ValueError(f"{name}: an open contour on {layer_name(op)}")
        contours = _compensated(op, shop, name)
        curves = tuple(written(move.contour(fit(c))) for c in contours)
        ramp = tuple((*move.point(x, y), depth) for x, y, depth in op.ramp)
        entries.append(Entry(op, layer_name(op), curves, ramp))
    words: list[Words] = []
    for label in set_up.labels:
        for m in moves:
            label = label_seen(label, m)
        (x, y), h, turn = label.at, label.height_mm, label.turn_deg
        if not label.engrave:
            words.append(Words(text=label.text, x=x, y=y, height_mm=h, turn_deg=turn))
            continue
        strokes = text_strokes(label.text, x, y, h, turn)
        if strokes:
            op = Op(work="ENGRAVE", face=set_up.face, contours=strokes, depth_mm=label.depth_mm)
            entries.append(Entry(op, layer_name(op), tuple(written(c) for c in strokes)))
    return entries, words


def _for_shop(op: Op, shop: Shop) -> Op:
    """A laser has no drill: what goes all the way through is a contour it cuts."""
    if shop.process == "laser" and op.work == "DRILL" and op.through:
        return replace(op, work="CUT_INSIDE", diameter_mm=None)
    return op


def kerf_in_lines(shop: Shop) -> float:
    """The kerf that is compensated in the lines, 0 when none is."""
    return shop.kerf if shop.compensation == "kerf" else 0.0


def _compensated(op: Op, shop: Shop, name: str) -> tuple[Contour, ...]:
    """The path of the beam's centre: outside contours grow by half a kerf, inside ones shrink by it."""
    half = kerf_in_lines(shop) / 2
    if not half or op.work not in ("CUT_OUTSIDE", "CUT_INSIDE"):
        return op.contours
    from pipeline.geometry.offset import offset
    from pipeline.geometry.region import solid

    moved: list[Contour] = []
    for contour in op.contours:
        grown = offset(solid(contour), half if op.work == "CUT_OUTSIDE" else -half)
        if len(grown.contours) != 1:
            x0, y0, x1, y1 = contour.bounds
            what = "vanishes" if not grown else "falls apart"
            raise refuse(
                f"A contour of {name} near ({(x0 + x1) / 2:.2f}, {(y0 + y1) / 2:.2f}) {what} when the kerf "
                f"{shop.kerf:g} of the shop {shop.name} is compensated in the lines.",
                expected="openings and gaps wider than the kerf everywhere",
                remedy="widen it there, or let the shop compensate (`compensation: none`)",
            )
        moved += grown.contours
    return tuple(moved)


def drawn(work: Literal["STOCK", "DATUM", "KEEP_CLEAR"], contours: Iterable[Contour], shop: Shop) -> Entry:
    kept = tuple(contours)
    op = Op(work=work, face="front", contours=kept)
    return Entry(op, layer_name(op), tuple(written(c) for c in kept))


def fitter(tolerance_mm: float) -> Fit:
    """Fits curves for writing; raises Refused for one that can't be followed within the tolerance."""
    from pipeline.geometry.fit import FitFailed
    from pipeline.packet.refits import refit

    def fit(contour: Contour) -> Contour:
        try:
            return refit(contour, tolerance_mm)
        except FitFailed as failed:
            raise refuse(
                str(failed),
                expected=f"a curve that lines and arcs can follow within {tolerance_mm:g} mm",
                remedy="look at the outline there (a cusp, a loop, a wall thinner than a hair), or smooth it",
            ) from failed

    return fit
