"""Covers: the recess less the gap, and screws that find wood."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.cavity import Ledge
from pipeline.steps.cover import Screws
from pipeline.steps.cover_make import screw_places
from pipeline.steps.fits import Shape
from tests.steps.factory import derived, step, world


def control(ledge: Ledge, shape: Shape) -> Step:
    return step("control", "cavity", opening=shape, centre=(0.0, 0.0), face="back", floor=4.0, ledge=ledge)


WIDE = Shape(rectangle=(80.0, 45.0), corner=8.0)


def cover(screws: Screws | None, ledge: Ledge, sheet: str = "ply3") -> Step:
    return step("lid", "cover", of="control", sheet=sheet, gap=0.25, screws=screws)


def test_recess_less_gap() -> None:
    """89 × 54 r 12.5 less 0.25 a side: 88.5 × 53.5 r 12.25, less four holes of 2.5, by hand."""
    ledge = Ledge(width=4.5, depth=3.3)
    made = derived(world(control(ledge, WIDE), cover(Screws(count=4, diameter=2.5, pads=9.0), ledge), make=3))
    (piece,) = made["lid"].pieces
    want = 88.5 * 53.5 - (4 - math.pi) * 12.25**2 - 4 * math.pi * 1.25**2
    assert piece.region.area == pytest.approx(want)
    assert piece.mass_g == pytest.approx(want * 3.1 * 660e-6)
    assert (piece.role, piece.count, piece.shop) == ("cover", 3, "laser")
    (set_up,) = piece.set_ups
    assert set_up.face == "back"
    assert [o.work for o in set_up.ops] == ["CUT_INSIDE"] * 4 + ["CUT_OUTSIDE"]
    assert made["lid"].findings == ()
    assert made["lid"].numbers["below_face_mm"] == pytest.approx(0.2)


def test_pads_and_holes_share_their_places() -> None:
    """Every screw of the cover stands in the middle of a pad that the cavity kept."""
    ledge = Ledge(width=4.5, depth=3.3)
    made = derived(world(control(ledge, WIDE), cover(Screws(count=6, diameter=2.5, pads=9.0), ledge)))
    places = made["lid"].numbers["screws_mm"]
    assert len(places) == 6
    cavity = made["control"].cuts[0].region.polygon
    recess = made["control"].cuts[1].region.polygon
    for x, y in places:
        assert cavity.distance(shapely.Point(x, y)) == pytest.approx(4.5, abs=0.002)
        assert recess.contains(shapely.Point(x, y).buffer(4.49))


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6, 8])
def test_spread_on_a_circle_is_even(count: int) -> None:
    """On a round recess the screws stand at equal angles, a pad's radius inside the wall."""
    screws = Screws(count=count, diameter=2.5, pads=8.0)
    recess = solid(circle(3, -2, 30))
    places = screw_places(recess, screws, world(), cover(screws, Ledge(width=4.0, depth=3.0)))
    angles = sorted(math.degrees(math.atan2(y + 2, x - 3)) % 360 for x, y in places)
    assert all(math.hypot(x - 3, y + 2) == pytest.approx(26, abs=0.002) for x, y in places)
    steps = [(b - a) % 360 for a, b in zip(angles, [*angles[1:], angles[0] + 360], strict=True)]
    assert steps == pytest.approx([360 / count] * count if count > 1 else [0.0], abs=0.02)


def test_four_screws_stand_in_the_corners() -> None:
    """On a rectangle four screws are mirror images of one another, on the diagonals."""
    screws = Screws(count=4, diameter=3.0)
    recess: Region = solid(rectangle(90, 50))
    places = screw_places(recess, screws, world(), cover(screws, Ledge(width=4.0, depth=3.0)))
    # Without pads: twice the screw fits inside the wall, so 3 inside it.
    assert sorted(places) == sorted([(42.0, 22.0), (-42.0, 22.0), (-42.0, -22.0), (42.0, -22.0)])


def test_a_screw_over_the_open_cavity_is_asked_about() -> None:
    """A ledge of 2 without pads: a screw of 4 hangs over the hole."""
    ledge = Ledge(width=2.0, depth=3.3)
    made = derived(world(control(ledge, WIDE), cover(Screws(count=4, diameter=4.0), ledge)))
    found = [f for f in made["lid"].findings if f.check == "screw-no-wood"]
    assert len(found) == 4
    assert all(f.severity == "ask" and f.remedy and f.place for f in found)


def test_a_cover_thicker_than_its_recess_stands_proud() -> None:
    """6 in a recess of 3."""
    ledge = Ledge(width=4.5, depth=3.0)
    made = derived(world(control(ledge, WIDE), cover(None, ledge, sheet="plain")))
    (finding,) = made["lid"].findings
    assert (finding.check, finding.measured, finding.limit) == ("cover-proud", 3.0, 6.0)


@pytest.mark.parametrize(
    ("screws", "said"),
    [
        (Screws(count=2, diameter=2.5, at=((0.0, 0.0),)), "counts 2 screws and places 1"),
        (Screws(count=2, diameter=4.0, pads=3.0), "no larger than the screws"),
        (Screws(count=2, diameter=2.5, pads=60.0), "too narrow for screws"),
    ],
)
def test_what_is_refused(screws: Screws, said: str) -> None:
    """Each with a sentence and a place."""
    ledge = Ledge(width=4.5, depth=3.3)
    with pytest.raises(Refused) as caught:
        derived(world(control(ledge, WIDE), cover(screws, ledge)))
    assert any(said in p.wrong and p.place for p in caught.value.problems)


def test_a_cavity_without_a_ledge_has_no_cover() -> None:
    """There is nothing for it to lie on."""
    plain = step("control", "cavity", opening=WIDE, centre=(0.0, 0.0), depth=9.0)
    with pytest.raises(Refused, match="has no ledge"):
        derived(world(plain, step("lid", "cover", of="control", sheet="ply3", gap=0.25)))
