"""Solves the instances that are a rectangle cut into pieces, exactly: to feed our measures with a perfect layout."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

DATA = Path(__file__).parents[1] / "data" / "packing"


def pieces(name: str) -> tuple[shapely.Polygon, ...]:
    """The pieces of an instance, each with its own zero."""
    found = json.loads((DATA / f"{name}_simple.json").read_text(encoding="utf-8"))
    return tuple(shapely.orient_polygons(shapely.Polygon(p)) for p in found["pieces"])


def solved(given: Sequence[shapely.Polygon], width: float, height: float) -> tuple[shapely.Polygon, ...]:
    """All pieces, shifted and not turned, so that they fill a rectangle. Raises ValueError when they can't.

    The leftmost, of those the lowest, point that is not covered yet is a corner of the piece that covers it, and
    that piece's own leftmost lowest corner: so each step has one place and a few pieces to try.
    """
    placed: dict[int, shapely.Polygon] = {}

    def fill(rest: shapely.Geometry) -> bool:
        if len(placed) == len(given):
            return True
        corner = _first(rest)
        for i, piece in enumerate(given):
            if i in placed:
                continue
            by = corner - _first(piece)
            moved = shapely.transform(piece, lambda xy, by=by: xy + by)
            if shapely.area(shapely.difference(moved, rest)) > 1e-6:
                continue
            placed[i] = moved
            if fill(shapely.set_precision(shapely.difference(rest, moved), 1e-6)):
                return True
            del placed[i]
        return False

    if not fill(shapely.box(0.0, 0.0, width, height)):
        raise ValueError("the pieces don't fill the rectangle")
    return tuple(placed[i] for i in range(len(given)))


def _first(shape: shapely.Geometry) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    xy = shapely.get_coordinates(shape)
    return np.round(xy[np.lexsort((xy[:, 1], xy[:, 0]))[0]], 6)
