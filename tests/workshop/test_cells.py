"""Cells against trying everything one by one, and slides against small steps."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.geometry.region import solid
from pipeline.geometry.shapes import rectangle
from pipeline.workshop.cells import Board, Stamp, stamp
from pipeline.workshop.exact import ROUGH_MM
from pipeline.workshop.search import there
from pipeline.workshop.slide import down, left, up
from pipeline.workshop.ways import Way, grown_by, way

angles = st.lists(st.floats(0.0, 6.28), min_size=3, max_size=9, unique=True)


@st.composite
def stars(draw: st.DrawFn) -> shapely.Polygon:
    """Any simple polygon round a point, sharp tips and all; its box from (0, 0)."""
    at = sorted(draw(angles))
    radii = [draw(st.floats(3.0, 30.0)) for _ in at]
    shape = shapely.Polygon([(r * math.cos(a), r * math.sin(a)) for a, r in zip(at, radii, strict=True)])
    assume(shape.is_valid and shape.area > 1.0)
    x, y, _, _ = shape.bounds
    return shapely.transform(shape, lambda xy: xy - np.array([x, y]))


def lying(shape: shapely.Geometry) -> Way:
    return way(shape, 0, shape.bounds, 0.0)


def cells_of(made: Stamp) -> set[tuple[int, int]]:
    return {(c, r) for c, first, n in made.runs for r in range(first, first + n)}


@settings(max_examples=60, deadline=None)
@given(stars(), st.sampled_from([1.0, 2.5]), st.floats(0, 0.99), st.floats(0, 0.99), st.sampled_from([0.0, 0.2]))
def test_a_stamp_holds_every_cell_that_is_touched(
    shape: shapely.Polygon, cell: float, fx: float, fy: float, step: float
):
    """Against shapely's own intersection of every cell with the shape, at both ends of its step."""
    size = (shape.bounds[2], shape.bounds[3])
    made = cells_of(stamp(shape, size, cell, (fx * cell, fy * cell), step * cell))
    for more in (0.0, step * cell):
        dx, dy = fx * cell + more, fy * cell + more
        moved = shapely.transform(shape, lambda xy, d=(dx, dy): xy + np.array(d))
        for c in range(math.ceil(moved.bounds[2] / cell)):
            for r in range(math.ceil(moved.bounds[3] / cell)):
                box = shapely.box(c * cell, r * cell, (c + 1) * cell, (r + 1) * cell)
                if moved.intersection(box).area > 1e-6:
                    assert (c, r) in made, (c, r)


@settings(max_examples=40, deadline=None)
@given(stars(), st.sampled_from([1.0, 2.5]))
def test_a_stamp_holds_no_cell_that_is_not(shape: shapely.Polygon, cell: float):
    made = cells_of(stamp(shape, (shape.bounds[2], shape.bounds[3]), cell, (0.0, 0.0)))
    grown = shape.buffer(1e-4)
    for c, r in made:
        assert grown.intersects(shapely.box(c * cell, r * cell, (c + 1) * cell, (r + 1) * cell)), (c, r)


def test_squares_on_the_lines_take_their_own_cells_alone():
    made = stamp(shapely.box(0, 0, 3, 2), (3.0, 2.0), 1.0, (0.0, 0.0))
    assert cells_of(made) == {(c, r) for c in range(3) for r in range(2)}


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(1, 6)), min_size=1, max_size=12))
def test_a_board_finds_the_leftmost_lowest_place(parts: list[tuple[int, int]]):
    """Against trying every place one by one on a grid of booleans."""
    width, height = 14, 11
    board = Board((float(width), float(height)), 1.0)
    grid = [[False] * width for _ in range(height)]
    for w, h in parts:
        shape = solid(rectangle(float(w), float(h))).polygon
        shape = shapely.transform(shape, lambda xy, at=shape.bounds[:2]: xy - np.array(at))
        made = stamp(shape, (float(w), float(h)), 1.0, (0.0, 0.0))
        free = [
            (x, y)
            for x in range(width - w + 1)
            for y in range(height - h + 1)
            if not any(grid[y + j][x + i] for i in range(w) for j in range(h))
        ]
        assert board.room(made, (float(w), float(h))) == (free[0] if free else None)
        if free:
            x, y = free[0]
            assert 0.0 <= board.touched(made, x, y) <= 1.0
            board = board.with_(board.bits(made, x, y), x + w)
            for j in range(h):
                for i in range(w):
                    grid[y + j][x + i] = True


def test_touching_counts_neighbours_and_edges():
    """A square of 2 cells in the corner: 4 of its 8 neighbours are beyond the sheet; beside another of 2: 2 more."""
    board = Board((10.0, 10.0), 1.0)
    two = stamp(shapely.box(0, 0, 2, 2), (2.0, 2.0), 1.0, (0.0, 0.0))
    assert board.touched(two, 0, 0) == pytest.approx(4 / 8)
    assert board.touched(two, 4, 4) == 0.0
    board = board.with_(board.bits(two, 0, 0), 2)
    assert board.touched(two, 2, 0) == pytest.approx(4 / 8)
    assert board.touched(two, 2, 8) == pytest.approx(2 / 8)  # the upper edge


@settings(max_examples=80, deadline=None)
@given(stars(), stars(), st.floats(-25, 25), st.floats(0.0, 40.0), st.sampled_from(["left", "down", "up"]))
def test_a_slide_ends_where_shapely_says_they_touch(
    a: shapely.Polygon, b: shapely.Polygon, offset: float, apart: float, way_to: str
):
    """The slid part doesn't lie in the other; a hair further it would, or it went all the way."""
    axis = 0 if way_to == "left" else 1
    sign = 1.0 if way_to != "up" else -1.0
    at = [offset + 30.0, offset + 30.0]
    at[axis] = sign * (apart + 61.0)
    moved = shapely.transform(a, lambda xy: xy + np.array(at))
    assume(shapely.distance(moved, b) > 1e-3)
    part, other = there(lying(a), at[0], at[1]), there(lying(b), 0.0, 0.0)
    limit = 150.0
    by = {"left": left, "down": down, "up": up}[way_to](part, [other], limit)
    step = np.array([sign, 0.0] if axis == 0 else [0.0, sign])
    swept = shapely.transform(moved, lambda xy: xy - by * step)
    assert shapely.intersection(swept, b).area < 1e-4
    if by < limit:
        assert shapely.distance(swept, b) < 1e-5
        further = shapely.transform(moved, lambda xy: xy - (by + 0.05) * step)
        # Where only a hair's breadth of the two meets, shapely may see no area: then they graze.
        assert shapely.intersection(further, b).area > 0.0 or shapely.distance(further, b) < 1e-3
    else:
        middle = shapely.transform(moved, lambda xy: xy - 0.5 * limit * step)
        assert shapely.intersection(middle, b).area < 1e-4


@settings(max_examples=40, deadline=None)
@given(st.floats(2.0, 200.0), st.floats(0.3, 30.0), st.floats(0.0, 1.0))
def test_what_a_part_takes_up_holds_its_gap(radius: float, gap: float, inner: float):
    """Grown by half the gap and never less: against circles of the exact radii."""
    shape = shapely.Point(0, 0).buffer(radius, quad_segs=500)
    if radius * inner > 1.0:
        shape = shape.difference(shapely.Point(0, 0).buffer(radius * inner, quad_segs=500))
    assume(shape.area > 0.5 * radius)
    grown = grown_by(shapely.simplify(shape, ROUGH_MM), gap)
    outside = shapely.distance(shapely.Point(0, 0), shapely.Polygon(shapely.get_parts(grown)[0].exterior).exterior)
    assert outside >= radius + gap / 2
    assert outside <= radius + gap / 2 + 0.1 + 0.02 * gap
    holes = [h for p in shapely.get_parts(grown) for h in p.interiors]
    if holes:
        assert max(math.hypot(*c) for c in shapely.get_coordinates(holes[0])) <= radius * inner - gap / 2 + 1e-9
