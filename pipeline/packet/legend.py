"""The words in a shop file: what it is, what is in its lines and what is not, where zero stands."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Literal

from pipeline.core.fields import FaceName
from pipeline.core.recipe import Recipe
from pipeline.core.shop import Shop
from pipeline.packet.layers import LOOKS, two_decimals
from pipeline.packet.nest_words import leftover_lines, order_lines, spare_words
from pipeline.packet.views import Zero
from pipeline.steps.values import Blank, Nest, Op, Piece

CAUTION = (
    "These files are drawings, not a machining instruction. The operator checks units, scale, zero, tool, "
    "feed, hold-down and the machine's own manual before cutting."
)
"""Outside check Y1: the statement every plan carries (common practice, no source)."""
_PROCESS_CAUTION = {
    "router": (
        "Clamp the part, not the sheet alone: the last cut frees it. Keep clamps and screws out of the cutter's "
        "way. Wear eye, ear and breathing protection; run the dust extraction."
    ),
    "laser": (
        "Never leave a running laser: extinguisher at hand, extraction on, lid closed. Cut no material whose "
        "data sheet doesn't say that it may be cut with a laser."
    ),
}
UNITS = "Units mm, scale 1:1. Measure the 100.00 check square first. Depths count from the face that lies up."
LINE_LENGTH = 74
"""Characters in a line of words."""


def process_caution(shop: Shop) -> str:
    """The customary caution for the way a shop cuts; the machine's manual and local rules come first."""
    return f"{_PROCESS_CAUTION[shop.process]} The machine's manual and local rules come first."


def compensation_line(allowance_mm: float, shop: Shop, *, moved: bool) -> str:
    """What is in the line and what is not. ``moved`` tells that CUT lines were moved by half a kerf."""
    included = f"{two_decimals(allowance_mm)} allowance included."
    if not moved:
        return f"{included} Tool and beam compensation: none."
    half = two_decimals(shop.kerf / 2)
    return (
        f"{included} Beam compensation: {two_decimals(shop.kerf)} kerf included, cut lines moved {half} into "
        "the waste; don't compensate again. Tool compensation: none."
    )


def nest_compensation_lines(pieces: Sequence[Piece], shop: Shop, *, moved: bool) -> list[str]:
    """The line of the first piece for the whole sheet, and one by name for each piece that differs from it."""
    usual = pieces[0].allowance_mm if pieces else 0.0
    other = [p for p in pieces if p.allowance_mm != usual]
    return [
        compensation_line(usual, shop, moved=moved),
        *(f"{p.name}: {compensation_line(p.allowance_mm, shop, moved=moved)}" for p in other),
    ]


def zero_line(zero: Zero | Literal["sheet"], recipe: Recipe, pin_diameter: float | None = None) -> str:
    match zero:
        case "corner":
            where = "the lower left corner of the stock as drawn"
        case "sheet":
            where = "the lower left corner of the sheet"
        case "pin":
            where = f"the middle of the index hole of {two_decimals(pin_diameter or 0.0)} diameter at the cross"
        case _ if recipe.frame and recipe.frame.origin:
            where = f"the design's own zero, {recipe.frame.origin}"
        case _:
            where = "the design's own zero"
    return f"Zero is {where}. Check the zero before cutting."


def face_line(face: FaceName, recipe: Recipe) -> str:
    if face == "front":
        return "Face: front, drawn as it lies on the machine, front side up."
    over = recipe.frame.turn_over if recipe.frame else "x"
    return (
        f"Face: back, drawn as it lies on the machine, back side up, after turning it over about the {over} axis."
    )


def heading(recipe: Recipe) -> list[str]:
    """Design, revision and who says so."""
    variant = f", variant {recipe.variant}" if recipe.variant else ""
    lines = [f"{recipe.title or recipe.design}{variant}", f"Design {recipe.design}, revision {recipe.revision}"]
    by = [recipe.by.owner, recipe.by.drawn and f"drawn {recipe.by.drawn}", recipe.by.issued]
    said = ", ".join(b for b in by if b)
    return [*lines, *([said] if said else [])]


def piece_lines(piece: Piece, recipe: Recipe) -> list[str]:
    lines = [f"Piece: {piece.name} ({piece.role}), cut {piece.count}", material_line(piece, recipe)]
    if piece.grain != "none":
        lines.append(f"Grain of the sheet runs along {piece.grain} of the design.")
    return lines


def material_line(piece: Piece | Nest, recipe: Recipe) -> str:
    stock = recipe.sheets.get(piece.sheet)
    words = f", {stock.material}" if stock and stock.material else ""
    letter = f" sheet {piece.letter}" if piece.letter else ""
    return f"Material: {piece.sheet}{letter}{words}, measured thickness {two_decimals(piece.thickness_mm)}"


def blank_lines(blank: Blank) -> list[str]:
    layers = ", ".join(f"{v.sheet} {v.letter}".strip() for v in blank.laminations)
    return [
        f"Glued blank: {blank.name}, cut {blank.count}",
        f"Laminations from the back: {layers}; glued thickness {two_decimals(blank.thickness_mm)}",
    ]


def nest_lines(nest: Nest, pieces: Sequence[Piece], recipe: Recipe) -> list[str]:
    """What stands on one sheet; ``pieces`` has one entry for each copy on it."""
    counts: dict[str, int] = {}
    for p in pieces:
        counts[p.name] = counts.get(p.name, 0) + 1
    what = ", ".join(f"{n} of {name}" if n > 1 else name for name, n in counts.items())
    size = f"{two_decimals(nest.size[0])} x {two_decimals(nest.size[1])}"
    spare = spare_words(nest)
    return [
        f"{'Offcut' if nest.offcut else 'Sheet'} {size}, cut 1 as drawn: {what}",
        material_line(nest, recipe),
        *([f"Spare, more than are needed: {spare}"] if spare else []),
        *order_lines(nest),
        *leftover_lines(nest),
    ]


def layer_lines(layers: Iterable[tuple[str, Op, int]]) -> list[str]:
    """One line for each layer: the name in this file, an operation that stands on it, how many contours."""
    lines = []
    for name, op, count in layers:
        says = LOOKS[op.work].says
        depth = ""
        if op.work == "RAMP" and op.depth_mm is not None and op.deep_mm is not None:
            depth = f", {two_decimals(op.depth_mm)} to {two_decimals(op.deep_mm)} deep"
        elif op.work == "DRILL" and op.through:
            depth = ", through"
        elif op.depth_mm is not None and op.work in ("POCKET", "DRILL", "GROOVE", "ENGRAVE"):
            depth = f", {two_decimals(op.depth_mm)} deep"
        contours = "1 contour" if count == 1 else f"{count} contours"
        lines.append(f"{name}: {says}{depth}; {contours}")
    return lines


def ramp_lines(name: str, rows: Iterable[tuple[float, float, float]]) -> list[str]:
    """A ramp's table: rows (x, y, depth) in this drawing's own coordinates."""
    return [f"Depth along {name}:"] + [
        f"  x {two_decimals(x)}  y {two_decimals(y)}  depth {two_decimals(d)}" for x, y, d in rows
    ]


def true_size_line(piece: Piece) -> str:
    x0, y0, x1, y1 = piece.cut.bounds
    return f"True size of {piece.name}: {two_decimals(x1 - x0)} x {two_decimals(y1 - y0)}."


def wrapped(lines: Iterable[str]) -> tuple[str, ...]:
    """Lines no longer than LINE_LENGTH; what goes on is indented."""
    return tuple(
        part
        for line in lines
        for part in textwrap.wrap(line, LINE_LENGTH, subsequent_indent="    ", break_long_words=True) or [""]
    )
