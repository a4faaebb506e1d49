"""Necks and tongues of a part's own outline that are too thin to survive (trade.md 8, fault 3).

What a disc of the least thickness w can't sweep inside the part, less what it leaves in convex corners, which are
only pointed. Least thickness as between two cuts (trade.md 7.4): laser max(1.5, t/2), router max(3, T/4).
Openings are left to `web_thin`, the walls of a glued blank to `wall_thin`.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import LIMIT_MM, QUAD, narrows, opened, outer, polygons, thin
from pipeline.checks.jobs import SHRUNK_MM
from pipeline.checks.view import View
from pipeline.core.findings import Finding

NAME = "part-thin"


def check(view: View) -> Iterator[Finding]:
    """An `ask` for each neck of a piece, and one for each of a glued blank (router's rule for its thickness, at
    most the 10 mm of a wall)."""
    told: set[tuple[str, float, float]] = set()
    for sheet in view.sheets:
        piece = sheet.piece
        if piece.role in ("lamination", "coupon"):
            continue
        yield from _necks(view, told, piece.step, piece.name, sheet.edge, sheet.web_mm)
    for blank in view.derived.blanks:
        limit = min(max(3.0, blank.thickness_mm / 4), 10.0)
        yield from _necks(view, told, blank.step, blank.name, outer(thin(blank.region.polygon)), limit)


def _necks(
    view: View, told: set[tuple[str, float, float]], step: str, piece: str, shape: BaseGeometry, limit: float
) -> Iterator[Finding]:
    if _stout(shape, limit):
        return
    for part in polygons(shape):
        found = list(waists(part, limit))
        if not found:
            made = opened(part, limit / 2 - SHRUNK_MM)
            found = [(n.width_mm, n.at_mm) for n in narrows(part, made, limit)]
        for width, at in found:
            key = (step, round(at[0], 1), round(at[1], 1))
            if key in told or width >= limit - LIMIT_MM:
                continue
            told.add(key)
            yield _finding(view, step, piece, width, at, limit)


def _finding(view: View, step: str, piece: str, width: float, at: tuple[float, float], limit: float) -> Finding:
    return Finding(
        check=NAME,
        severity="ask",
        message=f"{piece} is only {width:.2f} mm wide here; {limit:.2f} mm stand up to cutting and handling.",
        step=step,
        piece=piece,
        at_mm=at,
        measured=width,
        limit=limit,
        remedy=f"draw it {limit - width:.2f} mm wider here, or join it to its neighbour by a bridge",
        place=view.place(step, "drawn", "outline", "of"),
    )


def waists(part: shapely.Polygon, limit: float) -> Iterator[tuple[float, tuple[float, float]]]:
    """(width, place) of each neck that parts what a disc of the width ``limit`` can reach with its middle.

    A neck is as wide as the widest disc that passes it, by bisection; its place lies midway between the two rooms
    that a disc hardly wider leaves.
    """
    rooms = polygons(_core(part, limit))
    if len(rooms) < 2:
        return
    largest = max(rooms, key=lambda r: r.area)
    spots = [r.representative_point() for r in rooms]
    for room, spot in zip(rooms, spots, strict=True):
        if room is largest:
            continue
        low, high = 0.0, limit
        for _ in range(14):
            middle = (low + high) / 2
            mine = next(r for r in polygons(_core(part, middle)) if r.covers(spot))
            if sum(mine.covers(s) for s in spots) > 1:
                low = middle
            else:
                high = middle
        cores = polygons(_core(part, high))
        mine = next(r for r in cores if r.covers(spot))
        others = shapely.union_all([r for r in cores if r is not mine])
        (px, py), (qx, qy) = shapely.get_coordinates(shapely.shortest_line(mine, others)).tolist()
        yield low, ((px + qx) / 2, (py + qy) / 2)


def _core(part: shapely.Polygon, width: float) -> BaseGeometry:
    return shapely.buffer(part, -width / 2, quad_segs=QUAD)


def _stout(shape: BaseGeometry, limit: float) -> bool:
    """True where a look at a coarser form, with a slightly larger disc, shows neither necks nor tongues.

    What the disc's middle can reach stays in one piece for each part, and no corner lies farther from it than a
    pointed one may: a tongue as long as it is wide ends 1.5 widths away.
    """
    for part in polygons(shape):
        rough = shapely.simplify(part, 0.01)
        core = shapely.buffer(rough, -(limit / 2 + 0.02), quad_segs=4)
        if core.geom_type != "Polygon" or core.is_empty:
            return False
        shapely.prepare(core)
        if float(shapely.distance(core, shapely.points(shapely.get_coordinates(rough))).max()) > 1.4 * limit:
            return False
    return True
