"""Parts so small that they fall through a laser's grid, or fly from under a router (trade.md 8, fault 29; 7.3).

A laser's grid lets through what fits into a circle of 30 mm; on a router a part of less than 40 cm² needs bridges
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from pipeline.checks.flat import outer, thin
from pipeline.checks.view import View
from pipeline.core.findings import Finding
from pipeline.steps.values import Piece

NAME = "part-small"
GRID_MM = 30.0
HELD_MM2 = 4000.0


def check(view: View) -> Iterator[Finding]:
    """A `note` for each piece, so that whoever stands at the machine knows of it."""
    for sheet in view.sheets:
        piece = sheet.piece
        if _large(piece, sheet.shop.process):
            continue
        shape = outer(thin(piece.cut.polygon))
        x, y = shapely.get_coordinates(shape.centroid)[0].tolist()
        if sheet.shop.process == "laser":
            measured, limit, unit = 2 * float(shapely.minimum_bounding_radius(shape)), GRID_MM, "mm"
            message = f"{piece.name} fits into a circle of {measured:.1f} mm; it falls through the laser's grid."
            remedy = "leave it on a bridge of 0.6 mm, or lay a thin board under it"
        else:
            measured, limit, unit = float(shape.area), HELD_MM2, "mm²"
            message = f"{piece.name} is {measured / 100:.1f} cm² small; the last cut throws it unless it is held."
            remedy = "leave bridges or a thin skin, or hold it with tape or vacuum"
        if measured >= limit - 1e-6:
            continue
        yield Finding(
            check=NAME,
            severity="note",
            message=message,
            step=piece.step,
            piece=piece.name,
            at_mm=(x, y),
            measured=measured,
            limit=limit,
            unit=unit,
            remedy=remedy,
            place=view.place(piece.step, "sheet"),
        )


def _large(piece: Piece, process: str) -> bool:
    """True where its box, or its area less its openings, says that it is no small part."""
    x0, y0, x1, y1 = piece.cut.bounds
    return max(x1 - x0, y1 - y0) >= GRID_MM if process == "laser" else piece.cut.area >= HELD_MM2
