"""What a fretboard has to tell: strings near the edge, saddles out of reach, slots that no cutter makes."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.scale import Board
from pipeline.steps.common import Stock, mm, place_in
from pipeline.steps.fretboard import Markers, Slots, Spec, spread_at

MARGIN_MM = 3.0
"""Least distance from an outer string to the edge (trade.md 5.5: 3 to 3.5, common practice)."""
BLIND_MM = 2.0
"""Where a blind slot stops before the edge (trade.md 5.5, common practice)."""
SADDLE_MM = (-2.0, 8.0)
"""How far in front of and behind the bridge line saddles go (trade.md 2, common practice)."""
UNDER_SLOT_MM = 1.5
"""Least wood under a slot, as under a pocket (trade.md 8, fault 13)."""
SLOT_MM = 0.58
"""Width of a slot that isn't told (trade.md 5.5: 0.58 to 0.61, common practice)."""
SAME_CUTTER_MM = 0.02


def strings(step: Step, spec: Spec, board: Board) -> Iterator[Finding]:
    """A `note` where the outer strings run nearer to the edge than MARGIN_MM."""
    if spec.string_spacing is None:
        return
    for where, x in (("the nut", board.scale.length), ("the last fret", board.last)):
        margin = (board.width_at(x) - spread_at(spec, x)) / 2
        if margin < MARGIN_MM - 1e-9:
            yield Finding(
                check="string-margin",
                severity="note",
                message=f"At {where} the outer strings run {margin:.2f} mm from the edge of {step.name}.",
                step=step.name,
                at_mm=(x, spread_at(spec, x) / 2),
                measured=margin,
                limit=MARGIN_MM,
                remedy=(
                    f"make it {mm(spread_at(spec, x) + 2 * MARGIN_MM)} mm wide there, or bring the strings nearer"
                ),
                place=place_in(step, "width" if spec.width else "margin"),
            )


def saddles(step: Step, spec: Spec) -> Iterator[Finding]:
    """A `note` for each compensation that bridges don't usually allow."""
    low, high = SADDLE_MM
    for i, c in enumerate(spec.compensation):
        if low <= c <= high:
            continue
        limit = low if c < low else high
        yield Finding(
            check="saddle-travel",
            severity="note",
            message=f"A saddle {mm(abs(c))} mm {'behind' if c > 0 else 'in front of'} the bridge line is unusual.",
            step=step.name,
            at_mm=(0.0 - c, 0.0),
            measured=c,
            limit=limit,
            remedy=f"see that the bridge's saddles go so far, or give a compensation from {mm(low)} to {mm(high)}",
            place=place_in(step, f"compensation.{i}"),
        )


def edges(step: Step, spec: Spec, board: Board) -> Iterator[Finding]:
    """A `note` for a board that narrows toward the bridge, an `ask` for a fret on the very end of a piece."""
    if board.last_width < board.nut_width - 1e-9:
        yield Finding(
            check="board-narrows",
            severity="note",
            message=f"{step.name} gets narrower from the nut to its last fret.",
            step=step.name,
            at_mm=(board.last, board.last_width / 2),
            measured=board.last_width,
            limit=board.nut_width,
            remedy=f"see that widths aren't swapped: `last` is usually more than {mm(board.nut_width)}",
            place=place_in(step, "width.last"),
        )
    if not spec.sheet:
        return
    need = spec.slots.width if spec.slots else SLOT_MM
    low, high = board.span
    for what, field, beyond, x in (
        ("last", "overhang", spec.overhang, low),
        ("zero", "beyond_nut", spec.beyond_nut, high),
    ):
        if beyond >= need or (what == "zero" and not spec.zero_fret):
            continue
        yield Finding(
            check="fret-on-end",
            severity="ask",
            message=f"The {what} fret of {step.name} lies on the very end of the board, so its slot has one wall.",
            step=step.name,
            piece=step.name,
            at_mm=(x, 0.0),
            measured=beyond,
            limit=need,
            remedy=f"let the board go on past it by at least {mm(need)} mm: `{field}: 4`",
            place=place_in(step, field),
        )


def slots(step: Step, wanted: Slots, board: Board, stock: Stock, deep: float) -> Iterator[Finding]:
    """Slots that go through or nearly, stop too near the edge, or that no cutter of the shop makes."""
    middle = (board.scale.x_of(1), 0.0)
    t = stock.thickness_mm
    if deep > t - UNDER_SLOT_MM:
        yield Finding(
            check="slot-deep",
            severity="stop" if deep >= t - 1e-9 else "ask",
            message=f"The slots of {step.name} are {deep:.2f} mm deep in a board of {t:.2f} mm.",
            step=step.name,
            piece=step.name,
            at_mm=middle,
            face="front",
            measured=t - deep,
            limit=UNDER_SLOT_MM,
            remedy=(
                f"take a sheet of at least {mm(deep + UNDER_SLOT_MM)} mm, frets with a shorter tang, "
                "or a larger radius"
            ),
            place=place_in(step, "slots.tang"),
        )
    if 0.0 < wanted.blind < BLIND_MM - 1e-9:
        yield Finding(
            check="slot-blind",
            severity="note",
            message=f"The blind slots of {step.name} leave {mm(wanted.blind)} mm of wood at the edge.",
            step=step.name,
            piece=step.name,
            at_mm=(middle[0], board.width_at(middle[0]) / 2),
            face="front",
            measured=wanted.blind,
            limit=BLIND_MM,
            remedy=f"let them stop {mm(BLIND_MM)} mm before the edge",
            place=place_in(step, "slots.blind"),
        )
    fitting = [c for c in stock.shop.end_cutters if abs(c.DC - wanted.width) <= SAME_CUTTER_MM and deep <= c.APMX]
    if not fitting:
        near = min((c.DC for c in stock.shop.end_cutters), default=None)
        yield Finding(
            check="slot-cutter",
            severity="ask",
            message=(
                f"{stock.shop.name} has no cutter of {mm(wanted.width)} mm that cuts {deep:.2f} mm deep, "
                f"which the slots of {step.name} need."
            ),
            step=step.name,
            piece=step.name,
            at_mm=middle,
            face="front",
            measured=near,
            limit=wanted.width,
            remedy=(
                f"ask for a slotting cutter of {mm(wanted.width)} mm, or take `slots` out: then only the places "
                "are scored, and the slots sawn by hand"
            ),
            place=place_in(step, "slots.width"),
        )


def markers(
    step: Step, wanted: Markers, board: Board, spots: list[tuple[int, tuple[float, float]]], slot: float
) -> Iterator[Finding]:
    """An `ask` for marks that run into the slots beside them, or over the edge."""
    for n, (x, y) in spots:
        room = board.scale.x_of(n - 1) - board.scale.x_of(n) - slot
        over = abs(y) + wanted.diameter / 2 - board.width_at(x) / 2
        if wanted.diameter <= room and over <= 0.0:
            continue
        limit = room if wanted.diameter > room else wanted.diameter - 2 * over
        yield Finding(
            check="marker-room",
            severity="ask",
            message=(
                f"The mark before fret {n} is {mm(wanted.diameter)} mm wide, and there is room for {limit:.2f}."
            ),
            step=step.name,
            piece=step.name,
            at_mm=(x, y),
            face="front",
            measured=wanted.diameter,
            limit=limit,
            remedy=f"make the marks at most {_down(limit)} mm, or leave this one out",
            place=place_in(step, "markers.diameter"),
        )


def _down(value: float) -> str:
    """Rounded down to a tenth, for a remedy that surely helps."""
    return mm(max(int(value * 10), 0) / 10)
