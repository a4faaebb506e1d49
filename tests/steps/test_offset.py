"""Offsets: lengths by theorem, names, and what is said when nothing is left."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.geometry.boolean import union
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import capsule, circle, rectangle
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world

L_SHAPE = solid(line_chain([(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]))


def offset_of(shape: Region, by: object, **more: object) -> Result:
    w = world(step("s", "outline"), step("o", "offset", of="s", by=by, **more), drawn={"s": shape})
    return derived(w)["o"]


def test_body_w_by_minus_four_and_a_half() -> None:
    """A smooth convex outline: P → P − 2π·4.5, the trade's 857.124; still 2 lines and 2 arcs."""
    (row,) = offset_of(body_w(), -4.5).numbers["offsets"]
    assert round(row["perimeter_mm"], 3) == 857.124
    assert (row["lines"], row["arcs"]) == (2, 2)


@pytest.mark.parametrize(
    ("by", "join", "area", "around"),
    [
        (5.0, "round", 7973.174770, 409.269908),  # outside_checks G5
        (10.0, "round", 10092.699082, 438.539816),
        (-5.0, "round", 4205.365046, 337.853982),  # G6
        (5.0, "mitre", 8000.0, 420.0),  # G7
        (10.0, "mitre", 10200.0, 460.0),
    ],
)
def test_the_l_polygon(by: float, join: str, area: float, around: float) -> None:
    """Closed forms for polygons with round and mitre joins (outside_checks G5 to G7)."""
    (row,) = offset_of(L_SHAPE, by, join=join).numbers["offsets"]
    assert row["area_mm2"] == pytest.approx(area, rel=1e-7)
    assert row["perimeter_mm"] == pytest.approx(around, rel=1e-7)


def test_lists_are_numbered_even_if_one() -> None:
    """`by: [-6]` gives o-1, `by: -6` gives o; with a sheet each is a panel."""
    plate = solid(rectangle(80, 50))
    one = offset_of(plate, (-6.0,), sheet="mdf9")
    plain = offset_of(plate, -6.0, sheet="mdf9")
    many = offset_of(plate, (-6.0, -12.0), sheet="mdf9")
    assert [p.name for p in one.pieces] == ["o-1"]
    assert [p.name for p in plain.pieces] == ["o"]
    assert [p.region.area for p in many.pieces] == pytest.approx([68 * 38, 56 * 26])
    assert plain.region is not None


def test_an_emptied_offset_holds_the_packet() -> None:
    """A disc of 20 has nothing 25 inside; the limit is its radius, the place the number itself."""
    result = offset_of(solid(circle(0, 0, 20)), (-5.0, -25.0))
    (finding,) = result.findings
    assert (finding.check, finding.severity, finding.measured) == ("offset-empty", "stop", 25.0)
    assert finding.limit == pytest.approx(20.0, abs=0.011)
    assert "o-2" in finding.message
    assert finding.place is not None


def test_a_split_is_said_by_name() -> None:
    """Two discs of 20 joined by a bar 4 wide: 3 inside, the bar is gone. The area is GEOS's own erosion
    of the same shape at 256 segments a quadrant."""
    bar = solid(capsule((-40.0, 0.0), (40.0, 0.0), 4.0))
    dumbbell = union(solid(circle(-40, 0, 20)), solid(circle(40, 0, 20)), bar)
    discs = [shapely.Point(x, 0).buffer(20, quad_segs=256) for x in (-40, 40)]
    want = shapely.unary_union([*discs, shapely.box(-40, -2, 40, 2)]).buffer(-3, quad_segs=256)
    result = offset_of(dumbbell, -3.0)
    assert result.reports == ("o: -3 mm from s falls into 2 parts.",)
    assert result.numbers["offsets"][0]["area_mm2"] == pytest.approx(want.area, rel=1e-5)


def test_holes_shrink_as_the_outside_grows() -> None:
    """A ring 50/30 by 2: area π(52² − 28²) (outside_checks G4)."""
    ring = region([Part(circle(0, 0, 50), (circle(0, 0, 30).reversed(),))])
    (row,) = offset_of(ring, 2.0).numbers["offsets"]
    assert row["area_mm2"] == pytest.approx(math.pi * (52**2 - 28**2), rel=1e-9)


def test_an_empty_list_is_refused() -> None:
    """Nothing asked for is a slip."""
    with pytest.raises(Refused, match="empty list"):
        offset_of(L_SHAPE, ())
