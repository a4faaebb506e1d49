"""What is left of a sheet and worth keeping: rectangles of the waste, and of what falls out of openings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from pipeline.steps.values import Leftover, Placement
from pipeline.workshop.cells import Board
from pipeline.workshop.exact import Ground
from pipeline.workshop.ways import way

KEEP_SIDE_MM = 100.0
KEEP_AREA_MM2 = 20_000.0
"""A rectangle is worth keeping from 100 mm wide and 100 x 200 mm on (common practice, no source)."""
MOST = 4
CELLS = 1_500
SLACK_MM = 0.2
Box = tuple[float, float, float, float]


def leftovers(
    placements: Sequence[Placement], shapes: Sequence[shapely.Geometry], on: Ground, wide_mm: float
) -> tuple[Leftover, ...]:
    """Rectangles without overlap, the largest first; ``wide_mm`` is what a cut takes away beside a part's line.

    ``shapes`` lie within ROUGH_MM of the placed parts.
    """
    filled = [shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(s)]) for s in shapes]
    grown = [shapely.buffer(s, wide_mm + SLACK_MM, quad_segs=4) for s in filled]
    x0, y0, x1, y1 = on.outline.bounds
    outside = [g for g in [shapely.difference(shapely.box(x0, y0, x1, y1), on.outline)] if not g.is_empty]
    rests = (Leftover(kind="rest", box=b) for b in rectangles((x0, y0, x1, y1), [*grown, *outside, *on.keep_out]))
    drops: list[Leftover] = []
    for placement, shape in zip(placements, shapes, strict=True):
        for part in shapely.get_parts(shape):
            for hole in part.interiors:
                opening = shapely.buffer(shapely.Polygon(hole), -wide_mm - SLACK_MM, quad_segs=4)
                for box in _inside(opening, grown, shapely.Polygon(hole), filled):
                    drops.append(Leftover(kind="drop-out", box=box, piece=placement.piece))
    return (*rests, *sorted(drops, key=lambda d: (-d.box[2] * d.box[3], d.box)))


def _inside(
    opening: shapely.Geometry,
    grown: Sequence[shapely.Geometry],
    hole: shapely.Polygon,
    filled: Sequence[shapely.Geometry],
) -> Iterator[Box]:
    """The largest rectangle of what falls out of one opening, where it is worth keeping."""
    if opening.is_empty or opening.area < KEEP_AREA_MM2:
        return
    nested = [g for g, f in zip(grown, filled, strict=True) if shapely.contains(hole, f)]
    around = shapely.difference(shapely.box(*opening.bounds), opening)
    yield from rectangles(opening.bounds, [g for g in [around, *nested] if not g.is_empty], most=1)


def rectangles(bounds: Box, taken: Sequence[shapely.Geometry], most: int = MOST) -> list[Box]:
    """The largest free rectangles (x, y, width, height) inside ``bounds``, none over another."""
    x0, y0, x1, y1 = bounds
    cell = max(1.0, ((x1 - x0) * (y1 - y0) / CELLS) ** 0.5)
    found: list[Box] = []
    obstacles = list(taken)
    for _ in range(most):
        box = _largest(bounds, obstacles, cell)
        if box is None or min(box[2:]) < KEEP_SIDE_MM or box[2] * box[3] < KEEP_AREA_MM2:
            break
        found.append(tuple(round(v, 1) + 0.0 for v in (box[0] + 0.05, box[1] + 0.05, box[2] - 0.1, box[3] - 0.1)))  # type: ignore[arg-type]  # four values
        obstacles.append(shapely.box(box[0], box[1], box[0] + box[2], box[1] + box[3]))
    return found


def _largest(bounds: Box, obstacles: Sequence[shapely.Geometry], cell: float) -> Box | None:
    """The largest rectangle of free cells, then each side moved out until it touches."""
    x0, y0, x1, y1 = bounds
    rows = int((y1 - y0) / cell)
    columns = int((x1 - x0) / cell)
    board = Board((x1 - x0, y1 - y0), cell)
    for o in obstacles:
        for part in shapely.get_parts(shapely.intersection(o, shapely.box(*bounds))):
            if part.geom_type != "Polygon" or part.area == 0.0:
                continue
            made = way(part, 0, part.bounds, 0.0)
            stamp, column, row = made.stamp_at(cell, made.corner[0] - x0, made.corner[1] - y0)
            board = board.with_(board.bits(stamp, column, row), column + stamp.cells[0])
    best = _free_cells(board, columns, rows)
    if best is None:
        return None
    c, r, w, h = best
    box = [x0 + c * cell, y0 + r * cell, x0 + (c + w) * cell, y0 + (r + h) * cell]
    return _moved_out(box, bounds, obstacles)


def _free_cells(board: Board, columns: int, rows: int) -> tuple[int, int, int, int] | None:
    """(column, row, width, height) of the largest rectangle of free cells: widths by stacks of heights."""
    heights = [0] * rows
    best, found = 0, None
    full = (1 << rows) - 1
    for c in range(columns):
        taken = (board.taken >> (c * board.rows)) & full
        heights = [0 if taken >> r & 1 else heights[r] + 1 for r in range(rows)]
        stack: list[tuple[int, int]] = []
        for r in range(rows + 1):
            height = heights[r] if r < rows else 0
            start = r
            while stack and stack[-1][1] >= height:
                start, wide = stack.pop()
                if wide * (r - start) > best:
                    best, found = wide * (r - start), (c - wide + 1, start, wide, r - start)
            stack.append((start, height))
    return found


def _moved_out(box: list[float], bounds: Box, obstacles: Sequence[shapely.Geometry]) -> Box:
    for side in range(4):
        reach = list(box)
        reach[side] = bounds[side]
        band = shapely.box(*reach)
        met = [shapely.intersection(o, band) for o in obstacles]
        ends = [g.bounds for g in met if not g.is_empty and g.area > 1e-9]
        if side < 2:
            box[side] = max([bounds[side], *(e[side + 2] for e in ends)])
        else:
            box[side] = min([bounds[side], *(e[side - 2] for e in ends)])
    return box[0], box[1], box[2] - box[0], box[3] - box[1]
