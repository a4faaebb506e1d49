"""Holes: places, diameters, depth rules and index holes."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from tests.steps.factory import derived, step, world


def test_index_holes_of_two_diameters() -> None:
    """Two pins, 6 and 8, through: circles of exactly those areas, named in their order."""
    pins = step("pins", "holes", role="index", at=((-190.0, 0.0), (225.0, 0.0)), diameter=(6.0, 8.0), through=True)
    made = derived(world(pins))["pins"]
    assert [c.name for c in made.cuts] == ["pins-1", "pins-2"]
    assert [c.region.area for c in made.cuts] == pytest.approx([9 * math.pi, 16 * math.pi])
    assert all(c.index and c.depth.rule == "through" for c in made.cuts)
    assert made.numbers["holes"][1] == {"at_mm": [225.0, 0.0], "diameter_mm": 8.0}


def test_one_diameter_serves_all_and_marks_are_places() -> None:
    """A mark's own point; the floor rule is kept as such."""
    holes = step("h", "holes", at=("eye", (5.0, 5.0)), diameter=(3.0,), floor=2.0, lamination=2)
    made = derived(world(holes, marks={"eye": (1.0, 2.0)}))["h"]
    assert [c.region.centroid for c in made.cuts] == [pytest.approx((1, 2)), pytest.approx((5, 5))]
    assert {(c.depth.rule, c.depth.mm, c.lamination) for c in made.cuts} == {("floor", 2.0, 2)}


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"at": ((0.0, 0.0),), "diameter": (3.0,)}, "doesn't say how deep they go"),
        ({"at": (), "diameter": (3.0,), "through": True}, "has no places"),
        ({"at": ((0.0, 0.0),), "diameter": (3.0, 4.0), "through": True}, "1 places and 2 diameters"),
        ({"at": ((0.0, 0.0),), "diameter": (3.0,), "depth": 5.0, "role": "index"}, "don't go through"),
        ({"at": ("eye",), "diameter": (3.0,), "through": True}, 'no mark called "eye"'),
    ],
)
def test_what_is_refused(fields: dict[str, object], said: str) -> None:
    """Each with a sentence and a place."""
    with pytest.raises(Refused) as caught:
        derived(world(step("h", "holes", **fields)))
    (problem,) = caught.value.problems
    assert said in problem.wrong
    assert problem.place is not None
