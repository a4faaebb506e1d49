"""Makes coupons: a square that tells the kerf, a comb of slots, and slices of a cavity, with what to expect.

The lines are those of the finished edges, as everywhere. A beam that runs on the line leaves a hole of w + k and a
plug of w − k, so k = (hole − plug)/2; a slot for a sheet t with room c has the true width t + c, and a path
compensated for the kerf measures t + c − k (trade.md 7.1, common practice and derivation).
"""

from __future__ import annotations

from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference, intersection
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.geometry.transform import Move, shift, turn
from pipeline.steps.common import UNIT, Stock, mm, place_in, refuse_all, sheet_of
from pipeline.steps.coupon import Slice, Slots, Spec, problems
from pipeline.steps.labels import STROKE_MM
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Label, Piece, Result, World

RIM_MM = 12.0
"""Wood left round a hole or slot, and between two of them (common practice, no source)."""
LASER_LETTER_MM = 3.0
ROUTER_LETTER_MM = 6.0
"""Least letters for a laser's and a router's strokes (trade.md 7.4, common practice)."""


def make(name: str, spec: Spec, world: World) -> Result:
    """The samples as pieces; ``numbers`` hold each one's drawn size and what it should measure."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    stock = sheet_of(world, step, "sheet", spec.sheet)
    kerf = stock.shop.kerf
    pieces: list[Piece] = []
    numbers: dict[str, Any] = {"kerf_mm": kerf}
    reports: list[str] = []
    if spec.square is not None:
        pieces.append(_square(f"{name}-square", step, spec.square, stock))
        numbers["square"] = {
            "drawn_mm": spec.square,
            "hole_mm": spec.square + kerf,
            "plug_mm": spec.square - kerf,
        }
        reports.append(
            f"{name}-square: measure the hole and the plug along x and y; the width of the cut is half their "
            f"difference; at {mm(kerf)} hole {mm(spec.square + kerf)}, plug {mm(spec.square - kerf)}."
        )
    if spec.slots is not None:
        thickness = _thickness(spec.slots, step, world)
        pieces.append(_comb(f"{name}-slots", step, spec.slots, thickness, stock))
        numbers["slots"] = [
            {"room_mm": c, "true_mm": thickness + c, "path_mm": thickness + c - kerf} for c in spec.slots.room
        ]
        reports.append(
            f"{name}-slots: the sheet that goes in measures {mm(thickness)}; take the slot that holds it."
        )
    if spec.fit is not None:
        made, rows = _slices(name, step, spec.fit, stock, world)
        pieces += made
        numbers["fit"] = rows
        reports.append(
            f"{name}: try the real part in the {len(made)} slices of {spec.fit.of} and "
            "give the room that fits to `fit:`."
        )
    return Result(
        step=name,
        kind="coupon",
        regions=tuple(p.region for p in pieces),
        pieces=tuple(pieces),
        numbers=numbers,
        reports=tuple(reports),
    )


def _thickness(slots: Slots, step: Step, world: World) -> float:
    if isinstance(slots.thickness, str):
        return sheet_of(world, step, "slots.thickness", slots.thickness).thickness_mm
    return slots.thickness


def _square(name: str, step: Step, side: float, stock: Stock) -> Piece:
    """A frame with a square hole; the plug is what drops out."""
    letter = _letter(stock)
    foot = 2 * letter + RIM_MM
    plate = solid(rectangle(side + 2 * RIM_MM, side + RIM_MM + foot, y=(RIM_MM - foot) / 2))
    hole = solid(rectangle(side, side))
    label = _label(f"{side:.2f}", (0.0, -side / 2 - RIM_MM / 2 - letter / 2), letter)
    return _piece(name, step, difference(plate, hole), stock, (label,))


def _comb(name: str, step: Step, slots: Slots, thickness: float, stock: Stock) -> Piece:
    """Slots open at the upper edge, each with its room engraved below it."""
    letter = _letter(stock)
    pitch = thickness + max(slots.room) + max(RIM_MM, 5.5 * letter)
    width = pitch * len(slots.room)
    height = slots.depth + RIM_MM + 2 * letter
    plate = solid(rectangle(width, height, x=width / 2, y=-height / 2))
    cuts, labels = [], []
    for i, room in enumerate(slots.room):
        x, wide = (i + 0.5) * pitch, thickness + room
        if wide <= 0:
            raise refuse(
                f"A slot for {mm(thickness)} with {mm(room)} room has no width.",
                place=place_in(step, f"slots.room.{i}"),
                expected="a room that leaves some width",
            )
        cuts.append(solid(rectangle(wide, slots.depth + RIM_MM, x=x, y=-slots.depth / 2 + RIM_MM / 2)))
        labels.append(_label(f"{room:+.2f}", (x, -slots.depth - RIM_MM / 2 - letter / 2), letter))
    return _piece(name, step, difference(plate, *cuts), stock, tuple(labels))


def _slices(
    name: str, step: Step, wanted: Slice, stock: Stock, world: World
) -> tuple[list[Piece], list[dict[str, Any]]]:
    """Notches of the shape of one end of a cavity: its corners and its width, in several sizes."""
    cut = world.result(wanted.of).cuts[0]
    letter = _letter(stock)
    ux, uy = UNIT[wanted.end]
    # Turned so that the sampled end lies at the bottom and the slice opens upward.
    upright = {(0.0, -1.0): 0.0, (1.0, 0.0): -90.0, (0.0, 1.0): 180.0, (-1.0, 0.0): 90.0}[(ux, uy)]
    move = turn(upright)
    pieces: list[Piece] = []
    rows: list[dict[str, Any]] = []
    for i, room in enumerate(wanted.room, start=1):
        grown = offset(cut.design, room) if room else cut.design
        if not grown:
            raise refuse(
                f"Nothing is left of {wanted.of} with {mm(room)} a side.",
                place=place_in(step, f"fit.room.{i - 1}"),
                expected="a room that leaves some of the cavity",
            )
        shape = _end_of(move.region(grown), wanted.length)
        x0, y0, x1, _ = shape.bounds
        shape = shift(-(x0 + x1) / 2, -y0).region(shape)
        wide = x1 - x0
        foot = 2 * letter + RIM_MM
        plate = solid(rectangle(wide + 2 * RIM_MM, wanted.length + foot, y=(wanted.length - foot) / 2))
        label = _label(f"{room:+.2f}", (0.0, -RIM_MM / 2 - letter / 2), letter)
        pieces.append(_piece(f"{name}-fit-{i}", step, difference(plate, shape), stock, (label,)))
        rows.append({"room_mm": room, "width_mm": wide, "side_mm": room})
    return pieces, rows


def _end_of(shape: Region, length: float) -> Region:
    """The lowest ``length`` mm of a shape, open at the top."""
    x0, y0, x1, _ = shape.bounds
    band = solid(rectangle(x1 - x0 + 2.0, length, x=(x0 + x1) / 2, y=y0 + length / 2))
    return intersection(shape, band)


def _piece(name: str, step: Step, plate: Region, stock: Stock, labels: tuple[Label, ...]) -> Piece:
    """One copy: a coupon tries the sheet, not the object."""
    panel = Panel(
        name=name, role="coupon", plate=_at_origin(plate), stock=stock, count=1, labels=_moved(plate, labels)
    )
    made, _ = piece_of(panel, step)
    return made[0]


def _lower_left(plate: Region) -> Move:
    x0, y0, _, _ = plate.bounds
    return shift(-x0, -y0)


def _at_origin(plate: Region) -> Region:
    return _lower_left(plate).region(plate)


def _moved(plate: Region, labels: tuple[Label, ...]) -> tuple[Label, ...]:
    from dataclasses import replace

    move = _lower_left(plate)
    return tuple(replace(v, at=move.point(*v.at)) for v in labels)


def _letter(stock: Stock) -> float:
    return LASER_LETTER_MM if stock.shop.process == "laser" else ROUTER_LETTER_MM


def _label(text: str, at: tuple[float, float], height: float) -> Label:
    return Label(text=text, at=at, height_mm=height, engrave=True, depth_mm=STROKE_MM, centred=True)
