"""Parts laid so close on a sheet that cutting one cuts the other (trade.md 8, fault 24; 7.4).

The layout keeps the gap that the shop states; a gap under the cutter's own width can't be kept by any cutter.
Router D + 2, laser max(2, t/2) (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from pipeline.checks.flat import nearest_ends, outer, thin
from pipeline.checks.view import View
from pipeline.core.findings import Finding, Shown
from pipeline.core.shop import Shop
from pipeline.steps.values import Nest, Piece
from pipeline.workshop.layout import nest_set_up

NAME = "parts-close"


def least_gap(shop: Shop, thickness_mm: float) -> tuple[float, float]:
    """(gap under which the parts are cut into, gap that a shop wants) in mm."""
    if shop.process == "laser":
        return shop.kerf, max(2.0, thickness_mm / 2)
    return shop.profile_cutter.DC, shop.profile_cutter.DC + 2.0


def check(view: View) -> Iterator[Finding]:
    """A `stop` for the closest two parts of a sheet that no cutter passes between, an `ask` where it hardly does.

    A gap that the shop states itself is its own word, as long as a laser keeps 2 mm.

    Places are those of the sheet, from its lower left corner.
    """
    shops = {s.name: s for s in view.derived.recipe.shops.values()}
    for nest in view.nests:
        shop = shops.get(nest.shop)
        if shop is None or len(nest.placements) < 2:
            continue
        stop, ask = least_gap(shop, nest.thickness_mm)
        if shop.gap == 0.0 or shop.gap >= (2.0 if shop.process == "laser" else ask) - 1e-6:
            continue  # laid out by the trade's gap or a wider one
        yield from _closest(view, nest, stop, ask)


def _closest(view: View, nest: Nest, stop: float, ask: float) -> Iterator[Finding]:
    here = {p.piece for p in nest.placements}
    edges = {p.name: _seen(view, p) for p in view.derived.pieces if p.name in here}
    shapes = np.array([_placed(edges[p.piece], p.turn_deg, p.dx, p.dy) for p in nest.placements])
    pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=ask - 1e-3).T.tolist()
    close = sorted((float(shapely.distance(shapes[i], shapes[j])), i, j) for i, j in pairs if i < j)
    if not close:
        return
    gap, i, j = close[0]
    a, b = nest.placements[i].piece, nest.placements[j].piece
    ends = nearest_ends(shapes[i], shapes[j])
    key = next(k for k, s in view.derived.recipe.shops.items() if s.name == nest.shop)
    limit = stop if gap < stop - 1e-3 else ask
    yield Finding(
        check=NAME,
        severity="stop" if gap < stop - 1e-3 else "ask",
        message=(
            f"{a} and {b} lie {gap:.2f} mm apart on sheet {nest.sheet} {nest.letter} {nest.number}, the closest "
            f"of {len(close)} such pairs; {nest.shop} needs {limit:.2f} mm to cut between them."
        ),
        piece=a,
        at_mm=((ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2),
        measured=gap,
        limit=limit,
        remedy=f"lay them out anew with a gap of {ask:.2f} mm (`gap:` of the shop profile)",
        place=view.derived.recipe.places.get(f"shops.{key}"),
        shown=Shown(ends_mm=ends),
    )


def _seen(view: View, piece: Piece) -> shapely.Geometry:
    """A piece's outer cut edge as it lies in a nest before it is turned: from the face that frees it."""
    shape = outer(thin(piece.cut.polygon))
    if nest_set_up(piece).face == "front":
        return shape
    frame = view.derived.recipe.frame
    flip = (-1.0, 1.0) if frame is not None and frame.turn_over == "y" else (1.0, -1.0)
    return shapely.transform(shape, lambda xy: xy * flip)


def _placed(shape: shapely.Geometry, turn_deg: float, dx: float, dy: float) -> shapely.Geometry:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return shapely.transform(shape, lambda xy: xy @ np.array([[c, s], [-s, c]]) + np.array([dx, dy]))
