"""How each file shows what is in it, and what its page asks to be gauged: for whoever reads a packet back
later."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from pipeline.packet.entries import kerf_in_lines
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_sheet_gauge import gauges
from pipeline.packet.shop_sheet_seen import Seen, Shown, shown
from pipeline.steps.values import Blank, Derived, Nest

Row = dict[str, Any]


def view_rows(derived: Derived, files: Sequence[ShopFile], nests: Sequence[Nest]) -> tuple[list[Row], list[Row]]:
    """(views, gauges) of packet.json.

    A view tells how a DXF file shows a piece or blank, the first copy where there are several: the design is
    turned over about the axis ``over`` ("" with its front up), turned by ``turn_deg``, then shifted by
    ``at_mm``. ``box_mm`` are the bounds, in the design, of what is drawn of it; ``kerf_mm`` is what is
    compensated in the lines.
    """
    views: list[Row] = []
    asked: list[Row] = []
    for sheet in shown(derived, files, nests):
        done: set[tuple[str, str]] = set()
        for seen in sheet.seen:
            key = (seen.thing.name, str(seen.set_up.face))
            if key not in done:
                done.add(key)
                views += [_view(derived, sheet, seen, f) for f in sheet.curves_of]
        asked += [
            {
                "path": f"shops/{sheet.file.shop}/{sheet.file.stem}.dxf",
                "letter": g.letter,
                "of": g.of,
                "kind": g.kind,
                "what": g.what,
                "size_mm": g.size_mm,
                "plus_minus_mm": g.plus_minus_mm,
            }
            for g in gauges(sheet, derived)
        ]
    return views, asked


def _view(derived: Derived, sheet: Shown, seen: Seen, file: ShopFile) -> Row:
    frame, move = derived.recipe.frame, seen.move
    over = "" if seen.set_up.face == "front" else frame.turn_over if frame else "x"
    # Turned over about y, a design that isn't turned any further has its x axis pointing the other way.
    a, b = (-move.a, -move.b) if over == "y" else (move.a, move.b)
    boxes = [c.bounds for op in seen.set_up.ops for c in op.contours]
    return {
        "path": f"shops/{file.shop}/{file.stem}.dxf",
        "name": seen.thing.name,
        "blank": isinstance(seen.thing, Blank),
        "face": seen.set_up.face,
        "over": over,
        "turn_deg": round(math.degrees(math.atan2(b, a)), 9) % 360.0,
        "at_mm": [move.e, move.f],
        "box_mm": [
            min(v[0] for v in boxes), min(v[1] for v in boxes), max(v[2] for v in boxes), max(v[3] for v in boxes)
        ],
        "kerf_mm": kerf_in_lines(sheet.shop),
    }  # fmt: skip
