"""Will the router stand and the cutter reach: first pass, collar, length, base, index holes."""

from __future__ import annotations

import math

import pytest

from pipeline.core.findings import Finding
from pipeline.geometry.boolean import difference
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.fits import Shape
from pipeline.steps.template import Follow
from pipeline.steps.template_limits import lateral_error
from pipeline.steps.template_support import first_pass, packing_for, supported
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world


@pytest.mark.parametrize(
    ("length", "packing", "least"),
    [(25.4, 0.0, 17.4), (12.7, 0.0, 4.7), (12.7, 9.5, 0.0)],
)
def test_first_pass(length: float, packing: float, least: float) -> None:
    """The trade's oracles (5.2) over a template of 12: Lc − (tt + p − h), h = 4; with 9.5 of packing any depth."""
    follow = Follow(bearing=12.7, cutter=12.7, length=length, packing=packing)
    assert first_pass(follow, 12.0) == pytest.approx(least, abs=1e-9)


def test_packing_that_cures_it() -> None:
    """p = Lc − tt + h − D/2 (trade 5.2): with it the first pass is exactly D/2."""
    follow = Follow(bearing=12.7, cutter=12.7, length=25.4)
    p = packing_for(follow, 12.0, 6.35)
    assert p == pytest.approx(25.4 - 12 + 4 - 6.35)
    assert first_pass(Follow(bearing=12.7, cutter=12.7, length=25.4, packing=p), 12.0) == pytest.approx(6.35)


def made(shape: Region, use: str, follow: Follow, **more: object) -> Result:
    guide = step("guide", "template", of="s", use=use, follow=follow, **{"sheet": "mdf9", "marks": "none", **more})
    return derived(world(step("s", "outline"), guide, drawn={"s": shape}))["guide"]


def of(result: Result, check: str) -> list[Finding]:
    return [f for f in result.findings if f.check == check]


def test_a_dangerous_bite_asks_with_the_packing() -> None:
    """mdf9 is 9.1 thick: 25.4 − 5.1 = 20.3 in one bite; 25.4 − 9.1 + 4 − 6.35 = 13.95 of packing, rounded up."""
    long = made(body_w(), "outside", Follow(bearing=12.7, cutter=12.7, length=25.4))
    (finding,) = of(long, "first-pass")
    assert (finding.severity, finding.measured, finding.limit) == ("ask", pytest.approx(20.3), pytest.approx(6.35))
    assert "`packing: 14`" in finding.remedy
    assert long.numbers["first_pass_mm"] == pytest.approx(20.3)
    cured = made(body_w(), "outside", Follow(bearing=12.7, cutter=12.7, length=25.4, packing=14.0))
    assert of(cured, "first-pass") == []
    unknown = made(body_w(), "outside", Follow(bearing=12.7, cutter=12.7))
    assert of(unknown, "first-pass") == []
    assert "first_pass_mm" not in unknown.numbers


def test_a_recess_shallower_than_the_first_pass_can_not_be_cut() -> None:
    """A cut of 3 with a bit that finds the template only 7.6 deep."""
    pocket = step("s", "cavity", opening=Shape(rectangle=(80.0, 50.0), corner=8.0), centre=(0.0, 0.0), depth=3.0)
    guide = step(
        "g",
        "template",
        of="s",
        use="opening",
        follow=Follow(bearing=12.7, cutter=12.7, length=12.7),
        sheet="mdf9",
        marks="none",
    )
    result = derived(world(pocket, guide))["g"]
    (finding,) = of(result, "first-pass")
    assert (finding.measured, finding.limit) == (pytest.approx(12.7 - 5.1), pytest.approx(3.0))


def test_collar_and_reach() -> None:
    """A collar of 9 over 9.1 leaves 0.1 of 0.5; a cut of 30 through 9.1 needs 39.1 below the base."""
    pocket = step("s", "cavity", opening=Shape(rectangle=(80.0, 50.0), corner=8.0), centre=(0.0, 0.0), depth=30.0)
    guide = step(
        "g",
        "template",
        of="s",
        use="opening",
        follow=Follow(bush=17.0, cutter=8.0, collar=9.0, reach=39.0),
        sheet="mdf9",
        marks="none",
    )
    result = derived(world(pocket, guide))["g"]
    (collar,) = of(result, "bush-collar")
    assert (collar.measured, collar.limit) == (9.0, pytest.approx(8.6))
    (short,) = of(result, "cutter-short")
    assert (short.measured, short.limit) == (39.0, pytest.approx(39.1))


def test_hand_work_says_which_numbers_are_missing() -> None:
    """Only where a stack has the shape cut by hand."""
    pocket = step("s", "cavity", opening=Shape(rectangle=(80.0, 50.0), corner=8.0), centre=(0.0, 0.0), depth=10.0)
    guide = step(
        "g", "template", of="s", use="opening", follow=Follow(bush=17.0, cutter=8.0), sheet="mdf9", marks="none"
    )
    alone = derived(world(pocket, guide))["g"]
    assert of(alone, "follower-unknown") == []
    blank = step("blank", "stack", outline="body", laminations=("birch12 A", "birch12 B"), by_hand=("s",))
    hand = derived(world(step("body", "outline"), pocket, blank, guide, drawn={"body": body_w()}))["g"]
    (note,) = of(hand, "follower-unknown")
    assert note.severity == "note"
    assert "`collar:`" in note.message


# -- the base ----------------------------------------------------------------------------------------
def test_inside_a_half_plane() -> None:
    """Wood to the left of x = 0, the centre d inside of it: the hull of a disc's part is that part, so the centre
    lies d inside (the chord is nearer than the rim while d < R/2)."""
    wood = solid(rectangle(400.0, 800.0, x=-200.0, y=0.0))
    for d in (5.0, 12.0, 30.0):
        assert supported(wood, [(-d, 0.0)], 80.0).inside_mm == pytest.approx(d, abs=0.06)
    assert supported(wood, [(6.0, 0.0)], 80.0).inside_mm == pytest.approx(-6.0, abs=0.06)
    assert supported(wood, [(500.0, 0.0)], 80.0).inside_mm == -80.0


def test_over_a_round_hole_in_closed_form() -> None:
    """Over the middle of a round hole of radius a < R the hull is the disc itself: R inside; with a ≥ R there is
    no wood under the base."""
    plate = difference(solid(rectangle(600.0, 600.0)), disc(0.0, 0.0, 60.0))
    assert supported(plate, [(0.0, 0.0)], 80.0).inside_mm == pytest.approx(80.0 * math.cos(math.pi / 64), abs=0.1)
    wide = difference(solid(rectangle(600.0, 600.0)), disc(0.0, 0.0, 90.0))
    assert supported(wide, [(0.0, 0.0)], 80.0).inside_mm == -80.0


def test_a_small_pocket_carries_the_router() -> None:
    """60 by 42 with the usual margin: wood all round, no finding."""
    ok = made(solid(rectangle(60.0, 42.0, 8.0)), "opening", Follow(bush=17.0, cutter=8.0))
    assert of(ok, "router-tips") == []


def test_a_wide_opening_tips_it() -> None:
    """170 wide: 6.35 from a long straight edge the base's centre lies 6.35 outside of the wood under it, and in
    the middle, 85 from either edge, there is no wood under a base of 80. A base that reaches across stands."""
    slot = solid(rectangle(400.0, 170.0, 20.0))
    (finding,) = of(made(slot, "opening", Follow(bearing=12.7, cutter=12.7)), "router-tips")
    assert (finding.severity, finding.measured, finding.limit) == ("ask", -80.0, 10.0)
    assert finding.at_mm is not None
    assert abs(finding.at_mm[1]) <= 85.0 - 80.0
    assert "island" in finding.remedy
    radius = float(finding.remedy.split("sub-base of ")[1].split(" ")[0])
    assert 150.0 < radius <= 200.0  # it must reach the far edge, 163.65 off, from where the centre runs
    larger = made(slot, "opening", Follow(bearing=12.7, cutter=12.7), base=radius, margin=300.0)
    assert of(larger, "router-tips") == []


def test_round_the_outside_it_is_a_note() -> None:
    """The cutter's centre runs beside a pattern, so the base always overhangs: 6.35 outside of the hull at a
    straight edge. Straight strips beside the work cure it."""
    (finding,) = of(made(body_w(), "outside", Follow(bearing=12.7, cutter=12.7)), "router-tips")
    assert finding.severity == "note"
    assert finding.measured == pytest.approx(-6.35, abs=0.1)


# -- points and index holes --------------------------------------------------------------------------
def test_a_sharp_point_is_told() -> None:
    """A square corner of a pattern gets crushed; of a pocket it is the wood's concave corner and does not."""
    outside = made(solid(rectangle(80.0, 50.0)), "outside", Follow(bearing=6.0, cutter=6.0))
    (note,) = of(outside, "template-point")
    assert (note.severity, note.measured, note.limit) == ("note", 0.0, 1.0)
    assert (
        of(made(solid(rectangle(80.0, 50.0)), "opening", Follow(bearing=6.0, cutter=6.0)), "template-point") == []
    )


def test_lateral_error_of_pins() -> None:
    """The trade's oracle (2.1): δ 0.10, L 300, D 350 → 0.167."""
    assert round(lateral_error(0.10, 300.0, 350.0), 3) == 0.167


@pytest.mark.parametrize(("apart", "noted"), [(210.0, False), (190.0, True)])
def test_index_holes_close_together(apart: float, noted: bool) -> None:
    """Body W is 332 long: 0.6 of it is 199.2. The farthest edge is the point (−100, 0), 100 − a beyond a pin."""
    pins = step(
        "pins", "holes", role="index", at=((-50.0, 0.0), (apart - 50.0, 0.0)), diameter=(6.0, 8.0), through=True
    )
    guide = step(
        "g",
        "template",
        of="body",
        use="outside",
        follow=Follow(bearing=12.7, cutter=12.7),
        sheet="mdf9",
        index="pins",
        marks="none",
    )
    result = derived(world(step("body", "outline"), pins, guide, drawn={"body": body_w()}))["g"]
    notes = of(result, "index-close")
    assert [n.limit for n in notes] == ([pytest.approx(0.6 * 332.0)] if noted else [])
    assert result.numbers["index_spacing_mm"] == pytest.approx(apart)
