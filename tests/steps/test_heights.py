"""Heights of laminations and floors against the trade's worked stack and plain interval arithmetic."""

from __future__ import annotations

import math
from typing import Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.fields import FaceName
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.heights import Floor, Span, bites, floor_of, spans
from pipeline.steps.values import Cut, Depth, Tilt

SHEETS, GLUE = (11.8, 11.7, 11.9, 0.6), 0.05
LEVELS = spans(SHEETS, GLUE)
T = 36.15
"""Body W of trade.md 3.7: three sheets and a veneer, three glue lines."""


def cut(
    face: FaceName, rule: Literal["depth", "floor", "through", "sheet"], mm: float = 0.0, tilt: Tilt | None = None
) -> Cut:
    region = solid(rectangle(60, 42.2, x=202, y=0))
    depth = Depth(rule=rule, mm=mm, tilt=tilt)
    return Cut(step="c", name="c", region=region, design=region, face=face, depth=depth)


def tilt(degrees: float = 2.0) -> Tilt:
    """A slope over the 60 mm from x 172 to x 232."""
    return Tilt(angle_deg=degrees, toward=(1.0, 0.0), shallow=172.0, deep=232.0)


def taken(floor: Floor, span: Span) -> list[tuple[Any, ...]]:
    return [(b.action, round(b.depth, 3), round(b.deep, 3)) for b in bites(floor, span, 172.0, 232.0)]


def test_the_worked_stack() -> None:
    """trade.md 3.7: spans 0-11.80, 11.85-23.55, 23.60-35.50, veneer 35.55-36.15; T = 36.15."""
    assert [(v.number, round(v.z0, 9), round(v.z1, 9)) for v in LEVELS] == [
        (1, 0.0, 11.8),
        (2, 11.85, 23.55),
        (3, 23.6, 35.5),
        (4, 35.55, 36.15),
    ]


def test_a_flat_floor_from_the_back_by_what_remains() -> None:
    """trade.md 3.7: leaving 4.00 puts the floor at z 32.15: laminations 1 and 2 through, lamination 3
    pocketed 8.55 from its back (3.35 remain), the veneer untouched."""
    floor = floor_of(cut("back", "floor", 4.0), T)
    assert (floor.depth, floor.deep, floor.height(floor.depth)) == pytest.approx((32.15, 32.15, 32.15))
    assert [taken(floor, v) for v in LEVELS] == [
        [("through", 11.8, 11.8)],
        [("through", 11.7, 11.7)],
        [("pocket", 8.55, 8.55)],
        [],
    ]
    assert LEVELS[2].thickness - 8.55 == pytest.approx(3.35)


def test_a_ramp_by_its_depth_holds_at_the_shallow_end() -> None:
    """trade.md 3.7: 16.00 below the front is z 20.15, 2 degrees over 60 end at z 18.05; lamination 2 is
    pocketed 3.40 to 5.50 from its front, lamination 3 and the veneer are cut through."""
    floor = floor_of(cut("front", "depth", 16.0, tilt()), T)
    assert floor.height(floor.depth) == pytest.approx(20.15)
    assert round(floor.height(floor.deep), 2) == 18.05  # 36.15 - 16 - 60 tan 2 degrees = 18.0548
    # the trade's 5.50 is 3.40 + 2.095, rounded
    assert [taken(floor, v) for v in LEVELS] == [
        [],
        [("ramp", 3.4, 5.495)],
        [("through", 11.9, 11.9)],
        [("through", 0.6, 0.6)],
    ]
    assert not floor.through


def test_a_ramp_by_its_floor_holds_at_the_deep_end() -> None:
    """Blueprint, Depth: `floor` is what remains at the deepest end; the other end lies 60 tan 2 degrees higher."""
    floor = floor_of(cut("front", "floor", 18.0, tilt()), T)
    assert floor.deep == pytest.approx(18.15)
    assert floor.depth == pytest.approx(18.15 - 60 * math.tan(math.radians(2)))


def test_a_ramp_changes_at_the_glue_line_it_crosses() -> None:
    """trade.md 3.7: x = x0 + (d_glue - d0)/tan a. From 11.8 deep, 2 degrees: the front of lamination 2, 12.60
    below the front, is met at 172 + 0.80/tan 2 degrees = 194.909; the back of lamination 3, 12.55 below, at
    172 + 0.75/tan 2 degrees = 193.477. Before that it is a ramp in lamination 3, after that through."""
    floor = floor_of(cut("front", "depth", 11.8, tilt()), T)
    inside = bites(floor, LEVELS[2], 172.0, 232.0)
    assert [(b.action, round(b.s_from, 3), round(b.s_to, 3)) for b in inside] == [
        ("ramp", 172.0, 193.477),
        ("through", 193.477, 232.0),
    ]
    assert (inside[0].depth, inside[0].deep) == pytest.approx((11.8 - 0.65, 11.9))
    (below,) = bites(floor, LEVELS[1], 172.0, 232.0)
    assert (below.action, round(below.s_from, 3), below.s_to) == ("ramp", 194.909, 232.0)
    assert below.depth == pytest.approx(0.0, abs=1e-9)
    assert floor.s_at(12.6) == pytest.approx(194.909, abs=5e-4)


def test_an_overrun_goes_on_down_the_same_plane() -> None:
    """Past the shape's own end the floor keeps its slope: 10 mm farther it lies 10 tan 2 degrees deeper."""
    floor = floor_of(cut("front", "depth", 16.0, tilt()), T)
    (band,) = bites(floor, LEVELS[1], 172.0, 242.0)
    assert band.deep == pytest.approx(3.4 + 70 * math.tan(math.radians(2)))


@pytest.mark.parametrize(("depth", "lowest"), [(12.55, 3), (12.6, 3), (0.65, 4), (24.3, 2), (24.35, 2)])
def test_a_floor_in_a_glue_line_takes_the_sheet_above_and_leaves_the_one_below(depth: float, lowest: int) -> None:
    """12.55 to 12.60, 0.60 to 0.65 and 24.30 to 24.35 below the front lie in glue lines: nothing is left thin."""
    floor = floor_of(cut("front", "depth", depth), T)
    for span in LEVELS:
        assert [b.action for b in bites(floor, span, 0, 1)] == (["through"] if span.number >= lowest else [])


def test_through_goes_through_all() -> None:
    floor = floor_of(cut("front", "through"), T)
    assert floor.through
    assert [taken(floor, v)[0][0] for v in LEVELS] == ["through"] * 4


@given(
    st.lists(st.floats(0.5, 12), min_size=1, max_size=5),
    st.floats(0, 0.3),
    st.floats(0.01, 0.99),
    st.sampled_from(["front", "back"]),
    st.one_of(st.none(), st.floats(0.5, 15)),
)
def test_the_bites_of_a_stack_add_up_to_the_depth(
    sheets: list[float], glue: float, part: float, face: Literal["front", "back"], slope: float | None
) -> None:
    """Independent sum: at any station, what is taken from a lamination is the overlap of two intervals, its
    own and [T - d, T] (front) or [0, d] (back), with d = d0 + (s - s0) tan a."""
    levels = spans(tuple(sheets), glue)
    total = levels[-1].z1
    sloped = tilt(slope) if slope else None
    floor = floor_of(cut(face, "depth", part * total, sloped), total)
    for s in (172.5, 190.25, 231.75):
        d = part * total + ((s - 172) * math.tan(math.radians(slope)) if slope else 0.0)
        low, high = (total - d, total) if face == "front" else (0.0, d)
        for span in levels:
            got = 0.0
            for b in bites(floor, span, 172.0, 232.0):
                if b.s_from <= s <= b.s_to:
                    share = (s - b.s_from) / (b.s_to - b.s_from)
                    got = max(got, b.depth + (b.deep - b.depth) * share)
            want = max(0.0, min(high, span.z1) - max(low, span.z0))
            assert got == pytest.approx(want, abs=1e-6)
