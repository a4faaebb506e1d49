"""Channels run from wall to wall, never under a floor."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import union
from pipeline.steps.fits import Shape
from pipeline.steps.values import Result
from tests.steps.factory import derived, step, world


def cavity(name: str, x: float, y: float, shape: Shape) -> Step:
    return step(name, "cavity", opening=shape, centre=(x, y), depth=10.0)


SQUARE = Shape(rectangle=(40.0, 40.0))


def channel(a: Step, b: Step, **fields: object) -> dict[str, Result]:
    wire = step("wire", "channel", **{"from_": a.name, "to": b.name, "width": 8.0, "lamination": 2, **fields})
    return derived(world(a, b, wire))


def test_straight_between_two_walls() -> None:
    """From the wall x = 20 to the wall x = 80: a strip of 60 × 8, nothing inside either cavity."""
    made = channel(cavity("a", 0, 0, SQUARE), cavity("b", 100, 0, SQUARE))
    cut = made["wire"].cuts[0]
    assert cut.region.area == pytest.approx(480.0)
    assert cut.region.bounds == pytest.approx((20, -4, 80, 4))
    assert (cut.depth.rule, cut.lamination) == ("sheet", 2)


def test_round_walls() -> None:
    """Between two discs of 20, 100 apart: 8 wide, less two half-lenses; by the integral
    ∫(100 − 2√(400 − y²)) dy over |y| ≤ 4 = 800 − 2(4√384 + 400 asin(0.2))."""
    made = channel(cavity("a", 0, 0, Shape(circle=40.0)), cavity("b", 100, 0, Shape(circle=40.0)))
    want = 800 - 2 * (4 * math.sqrt(384) + 400 * math.asin(0.2))
    assert made["wire"].cuts[0].region.area == pytest.approx(want, rel=1e-6)


def test_it_joins_its_cavities_into_one() -> None:
    """Cavities and channel together are one connected opening, without cracks at the walls."""
    for shape in (SQUARE, Shape(circle=40.0), Shape(rectangle=(40.0, 30.0), corner=9.0)):
        made = channel(cavity("a", 0, 0, shape), cavity("b", 90, 37, shape))
        parts = [made[n].cuts[0].region for n in ("a", "b", "wire")]
        whole = union(*parts)
        assert len(whole.parts) == 1
        assert whole.parts[0].holes == ()
        assert whole.area == pytest.approx(sum(p.area for p in parts), rel=1e-6)


def test_a_bend_is_as_round_as_the_cutter() -> None:
    """Round a right angle at (60, 60): two arms of 40 × 8 that share a square of 4 × 4 inside, and a
    quarter of a disc of radius 4 at the outer corner: 2·320 − 16 + 4π."""
    made = channel(cavity("a", 0, 60, SQUARE), cavity("b", 60, 0, SQUARE), via=((60.0, 60.0),))
    region = made["wire"].cuts[0].region
    assert region.area == pytest.approx(640 - 16 + 4 * math.pi)
    assert made["wire"].numbers["least_convex_radius_mm"] == pytest.approx(4.0)


def test_depth_governs_when_given() -> None:
    """And the face is kept."""
    made = channel(cavity("a", 0, 0, SQUARE), cavity("b", 100, 0, SQUARE), depth=6.0, face="back")
    cut = made["wire"].cuts[0]
    assert (cut.depth.rule, cut.depth.mm, cut.face) == ("depth", 6.0, "back")


def test_cavities_that_meet_leave_nothing_to_cut() -> None:
    """The packet is held, with the place in between."""
    made = channel(cavity("a", 0, 0, SQUARE), cavity("b", 30, 0, SQUARE))["wire"]
    (finding,) = made.findings
    assert (finding.check, finding.severity, finding.at_mm) == ("channel-nothing", "stop", (15.0, 0.0))
    assert made.cuts == ()


def test_from_a_single_hole() -> None:
    """A ground wire may start in a drilled hole."""
    hole = step("eye", "holes", at=((0.0, 0.0),), diameter=(10.0,), through=True)
    made = channel(hole, cavity("b", 60, 0, SQUARE), width=3.0)
    x0, _, x1, _ = made["wire"].cuts[0].region.bounds
    assert x0 == pytest.approx(math.sqrt(25 - 2.25))
    assert x1 == pytest.approx(40)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"to": "a"}, "starts and ends in the same cavity"),
        ({"lamination": None}, "neither in which lamination"),
        ({"via": ("nowhere",)}, 'no mark called "nowhere"'),
    ],
)
def test_what_is_refused(fields: dict[str, object], said: str) -> None:
    """Each with a sentence and a place."""
    with pytest.raises(Refused) as caught:
        channel(cavity("a", 0, 0, SQUARE), cavity("b", 100, 0, SQUARE), **fields)
    assert any(said in p.wrong and p.place for p in caught.value.problems)
