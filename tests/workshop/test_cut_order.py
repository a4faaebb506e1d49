"""The order of cuts and what is left over, on layouts that a person can check."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.steps.values import Placement
from pipeline.workshop.cut_order import cut_order
from pipeline.workshop.exact import Ground
from pipeline.workshop.leftovers import leftovers


def at(name: str) -> Placement:
    return Placement(piece=name, copy=1, turn_deg=0, dx=0.0, dy=0.0)


def frame(x: float, y: float, size: float, opening: float) -> shapely.Polygon:
    o = (size - opening) / 2
    hole = shapely.box(x + o, y + o, x + o + opening, y + o + opening).exterior
    return shapely.Polygon(shapely.box(x, y, x + size, y + size).exterior, [hole])


def told(shapes: dict[str, shapely.Geometry]) -> list[tuple[str, str]]:
    placements, cuts = cut_order([at(n) for n in shapes], list(shapes.values()))
    return [(placements[c.placement].piece, c.work) for c in cuts]


def test_openings_first_then_small_before_large():
    shapes = {
        "large": frame(0, 0, 100, 10),
        "small": frame(200, 0, 50, 20),
        "plain": shapely.box(300, 0, 320, 20),
    }
    assert told(shapes) == [
        ("large", "CUT_INSIDE"),
        ("small", "CUT_INSIDE"),
        ("plain", "CUT_OUTSIDE"),
        ("small", "CUT_OUTSIDE"),
        ("large", "CUT_OUTSIDE"),
    ]


def test_what_lies_inside_comes_before_what_frees_it():
    """A frame in a frame with a plate in it: from the inside out."""
    shapes = {
        "outer": frame(0, 0, 300, 200),
        "inner": frame(100, 100, 100, 60),
        "plate": shapely.box(130, 130, 160, 160),
    }
    assert told(shapes) == [
        ("plate", "CUT_OUTSIDE"),
        ("inner", "CUT_INSIDE"),
        ("inner", "CUT_OUTSIDE"),
        ("outer", "CUT_INSIDE"),
        ("outer", "CUT_OUTSIDE"),
    ]


def test_of_equals_the_nearest_is_next():
    shapes = {f"t{x}": shapely.box(x, 0, x + 10, 10) for x in (60, 0, 40, 20)}
    assert [n for n, _ in told(shapes)] == ["t0", "t20", "t40", "t60"]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(5, 40), st.booleans(), st.booleans()), min_size=1, max_size=12))
def test_every_contour_is_cut_once_and_nothing_is_freed_too_early(made: list[tuple[float, bool, bool]]):
    shapes: dict[str, shapely.Geometry] = {}
    for i, (size, opening, filled) in enumerate(made):
        x = 100.0 * i
        shapes[f"p{i}"] = frame(x, 0, size + 20, size) if opening else shapely.box(x, 0, x + size, size)
        if opening and filled:
            shapes[f"q{i}"] = shapely.box(x + 11, 11, x + 9 + size, 9 + size)
    order = told(shapes)
    assert len(order) == len(set(order)) == len(shapes) + sum(o for _, o, _ in made)
    for i, (_, opening, filled) in enumerate(made):
        if opening:
            assert order.index((f"p{i}", "CUT_INSIDE")) < order.index((f"p{i}", "CUT_OUTSIDE"))
            if filled:
                assert order.index((f"q{i}", "CUT_OUTSIDE")) < order.index((f"p{i}", "CUT_INSIDE"))


# -- what is left over -------------------------------------------------------------------------------
def ground(w: float, h: float, *keep_out: shapely.Polygon) -> Ground:
    return Ground(outline=shapely.box(0, 0, w, h), keep_out=keep_out)


def test_the_rest_of_a_sheet_with_one_part():
    """A part of 200 × 300 in the corner of 1220 × 610, 8 cut away beside it: 1012 × 610 is left, and 208 × 302."""
    found = leftovers([at("a")], [shapely.box(0, 0, 200, 300)], ground(1220, 610), 8.0)
    assert [(v.kind, v.box) for v in found] == [
        ("rest", pytest.approx((208.2, 0.0, 1011.8, 610.0), abs=0.11)),
        ("rest", pytest.approx((0.0, 308.2, 208.2, 301.8), abs=0.11)),
    ]


def test_a_keep_out_is_no_rest():
    found = leftovers([], [], ground(400, 300, shapely.box(300, 0, 320, 300)), 8.0)
    assert [v.box for v in found] == [pytest.approx((0, 0, 300, 300), abs=0.11)]  # 80 wide is not worth it


def test_a_large_opening_drops_something_out():
    """An opening of 300 × 300 less 8 all round: 284 square; with a plate in it less."""
    shape = frame(50, 50, 400, 300)
    found = leftovers([at("frame")], [shape], ground(500, 500), 8.0)
    assert [(v.kind, v.piece) for v in found] == [("drop-out", "frame")]
    assert found[0].box == pytest.approx((108.2, 108.2, 283.6, 283.6), abs=0.2)
    plate = shapely.box(108, 108, 208, 392)
    found = leftovers([at("frame"), at("plate")], [shape, plate], ground(500, 500), 8.0)
    assert found[0].box == pytest.approx((216.2, 108.2, 175.6, 283.6), abs=0.3)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 90), st.integers(0, 50), st.integers(5, 40), st.integers(5, 30)), max_size=6)
)
def test_leftovers_lie_free_of_everything_and_of_each_other(made: list[tuple[int, int, int, int]]):
    parts = [shapely.box(x * 10, y * 10, (x + w) * 10, (y + h) * 10) for x, y, w, h in made]
    shapes = [p for p in (q.intersection(shapely.box(0, 0, 1000, 600)) for q in parts) if p.area > 1]
    found = leftovers([at(f"p{i}") for i in range(len(shapes))], shapes, ground(1000, 600), 6.0)
    boxes = [shapely.box(x, y, x + w, y + h) for x, y, w, h in (v.box for v in found)]
    for i, b in enumerate(boxes):
        assert shapely.box(0, 0, 1000, 600).covers(b)
        assert all(b.distance(s) >= 6.0 for s in shapes)
        assert all(b.intersection(o).area < 1e-6 for o in boxes[:i])
        assert min(b.bounds[2] - b.bounds[0], b.bounds[3] - b.bounds[1]) >= 99.8
    if not shapes:
        assert boxes[0].area == pytest.approx(600_000, rel=1e-3)
