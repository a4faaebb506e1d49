"""From the design frame to what the machinist sees: turned over, moved to the shop's zero."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from pipeline.core.fields import FaceName
from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour
from pipeline.geometry.transform import Move, mirror_x_axis, mirror_y_axis, shift, turn
from pipeline.packet.strokes import text_width
from pipeline.steps.values import Derived, Label, Placement, SetUp

Zero = Literal["frame", "corner", "pin"]


def turned_over(face: FaceName, recipe: Recipe) -> Move:
    """How a face looks when it lies up: as drawn, or mirrored about the frame's turn-over axis."""
    if face == "front":
        return Move()
    over = recipe.frame.turn_over if recipe.frame else "x"
    return mirror_x_axis() if over == "x" else mirror_y_axis()


def placed(placement: Placement) -> Move:
    """Where a nest puts a copy: turned about the origin, then shifted."""
    return turn(float(placement.turn_deg)).then(shift(placement.dx, placement.dy))


def index_pins(derived: Derived, set_ups: Iterable[SetUp]) -> tuple[Contour, ...]:
    """Index holes of a piece or blank in the design frame, by x then y.

    They are what stands on INDEX in any of its set-ups, and what the steps of index holes bore in it.
    """
    steps = {name for name, r in derived.results.items() if any(c.index for c in r.cuts)}
    found: dict[tuple[float, float], Contour] = {}
    for op in (op for s in set_ups for op in s.ops):
        if op.work == "INDEX" or (op.step in steps and op.work in ("DRILL", "CUT_INSIDE")):
            for c in op.contours:
                round_one = c.circle()
                if round_one:
                    found[round(round_one[0], 6), round(round_one[1], 6)] = c
    return tuple(found[k] for k in sorted(found))


def datum(set_up: SetUp, pins: tuple[Contour, ...], over: Move, shop: Shop) -> tuple[Move, Zero]:
    """The whole move of a set-up and which zero it ends up with.

    A shop that wants the first pin gets the frame's zero where a piece has no pin.
    """
    if shop.datum == "pin" and pins:
        round_one = pins[0].circle()
        assert round_one is not None
        x, y = over.point(round_one[0], round_one[1])
        return over.then(shift(-x, -y)), "pin"
    if shop.datum == "corner":
        stock = [c for op in set_up.ops if op.work == "STOCK" for c in op.contours]
        around = stock or [c for op in set_up.ops for c in op.contours]
        boxes = [over.contour(c).bounds for c in around]
        if boxes:
            return over.then(shift(-min(b[0] for b in boxes), -min(b[1] for b in boxes))), "corner"
    return over, "frame"


def label_seen(label: Label, move: Move) -> Label:
    """The label after ``move``, reading the right way round: at the left end of its baseline, not centred.

    The words keep the spot they cover: their middle moves with the piece, the letters are never mirrored. A
    mirrored line of text may be read from either end; the end that isn't on its head is taken.
    """
    width = text_width(label.text, label.height_mm)
    a = math.radians(label.turn_deg)
    middle = label.at if label.centred else _middle(label.at, width, label.height_mm, a)
    ux, uy = (move.matrix @ (math.cos(a), math.sin(a))).tolist()
    degrees = math.degrees(math.atan2(uy, ux))
    if move.mirrors and not -90.0 + 1e-9 < degrees <= 90.0 + 1e-9:
        degrees += 180.0
    degrees = round((degrees + 180.0) % 360.0 - 180.0, 9) + 0.0
    at = _middle(move.point(*middle), -width, -label.height_mm, math.radians(degrees))
    return replace(label, at=at, turn_deg=degrees, centred=False)


def _middle(at: tuple[float, float], width: float, height: float, angle: float) -> tuple[float, float]:
    """Middle of a box of text whose lower left corner stands at ``at``; with negative sizes the way back."""
    dx, dy, c, s = width / 2, height / 2, math.cos(angle), math.sin(angle)
    return at[0] + dx * c - dy * s, at[1] + dx * s + dy * c
