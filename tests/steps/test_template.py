"""Templates: the edge that a follower needs, what comes out, text and index holes."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.packet.strokes import text_strokes
from pipeline.steps.cavity import Ledge, Tilt
from pipeline.steps.fits import Shape
from pipeline.steps.follow import outcome
from pipeline.steps.template import Follow
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world

INCH = 25.4


def template(shape: Region, use: str, follow: Follow, **more: object) -> Result:
    """A template of a drawn outline."""
    guide = step("guide", "template", of="s", use=use, follow=follow, **{"sheet": "mdf9", **more})
    return derived(world(step("s", "outline"), guide, drawn={"s": shape}, since={"guide": "A"}))["guide"]


@pytest.mark.parametrize(
    ("bush", "cutter", "offset"),
    [
        (17.0, 8.0, 4.5),  # the trade's table
        (30.0, 12.0, 9.0),
        (30.0, 10.0, 10.0),  # outside_checks K2, three published examples
        (15.0, 9.0, 3.0),
        (0.75 * INCH, 0.5 * INCH, INCH / 8),
    ],
)
def test_bush_offsets(bush: float, cutter: float, offset: float) -> None:
    """(bush − cutter)/2."""
    assert Follow(bush=bush, cutter=cutter).offset == pytest.approx(offset, abs=1e-12)


@pytest.mark.parametrize(
    ("size", "bush", "cutter", "opening"),
    [
        ((50.0, 30.0), 30.0, 10.0, (70.0, 50.0)),  # outside_checks K3
        ((8 * INCH, 4 * INCH), 0.75 * INCH, 0.25 * INCH, (8.5 * INCH, 4.5 * INCH)),
    ],
)
def test_openings(size: tuple[float, float], bush: float, cutter: float, opening: tuple[float, float]) -> None:
    """Opening = pocket + 2 × offset; its corners are the offset's where the pocket's are sharp."""
    made = template(solid(rectangle(*size)), "opening", Follow(bush=bush, cutter=cutter))
    x0, y0, x1, y1 = made.numbers["edge_bounds_mm"]
    assert (x1 - x0, y1 - y0) == pytest.approx(opening)
    o = (bush - cutter) / 2
    want = size[0] * size[1] + 2 * o * sum(size) + math.pi * o * o  # Steiner
    assert made.numbers["edge_area_mm2"] == pytest.approx(want)
    # The plate: 90 round the opening, corners of 10.
    (piece,) = made.pieces
    plate = piece.region.parts[0].outer
    assert plate.area == pytest.approx((opening[0] + 180) * (opening[1] + 180) - (4 - math.pi) * 100)


def test_a_pocket_with_the_cutters_corner_comes_out_whole() -> None:
    """Corner 5 with a cutter of 10 in a bush of 30 (outside_checks K4): nothing is left behind."""
    made = template(solid(rectangle(50, 30, 5)), "opening", Follow(bush=30.0, cutter=10.0))
    assert made.numbers["residue_mm2"] == pytest.approx(0.0, abs=1e-6)
    assert made.numbers["result_worst_mm"] < 1e-6
    assert [f for f in made.findings if f.check == "template-corner"] == []


def test_body_w_outside() -> None:
    """Bush 17 round cutter 8 runs on the outline less 4.5: P − 2π·4.5 = 857.124, and it comes out as it
    was drawn, for the outline is smooth and its least radius, 42, is above both."""
    made = template(body_w(), "outside", Follow(bush=17.0, cutter=8.0))
    assert round(made.numbers["edge_perimeter_mm"], 3) == 857.124
    assert made.numbers["result_worst_mm"] < 1e-6
    assert made.numbers["residue_mm2"] == 0.0
    assert made.numbers["result_area_mm2"] == pytest.approx(body_w().area, rel=1e-9)


def test_a_bearing_larger_than_its_cutter_is_offset_too() -> None:
    """(B − D)/2 for bearings (outside_checks K5); equal ones follow the shape itself."""
    wide = template(body_w(), "outside", Follow(bearing=19.0, cutter=12.7))
    same = template(body_w(), "outside", Follow(bearing=12.7, cutter=12.7))
    assert wide.numbers["follower_offset_mm"] == pytest.approx(3.15)
    assert same.numbers["edge_area_mm2"] == pytest.approx(body_w().area, rel=1e-12)


# outside_checks O1: area/r² left in a corner of that angle, and gap/r.
CORNERS = {
    45: (1.2361163, 1.6131259),
    60: (0.68485326, 1.0),
    90: (0.21460184, 0.41421356),
    120: (0.053751494, 0.15470054),
}


@pytest.mark.parametrize(
    ("shape", "angles"),
    [
        (line_chain([(0, 0), (100, 0), (0, 100)]), (90, 45, 45)),
        (line_chain([(0, 0), (100, 0), (50, 50 * math.sqrt(3))]), (60, 60, 60)),
        (rectangle(80, 50), (90, 90, 90, 90)),
        (
            line_chain([(50 * math.cos(k * math.pi / 3), 50 * math.sin(k * math.pi / 3)) for k in range(6)]),
            (120,) * 6,
        ),
    ],
)
@pytest.mark.parametrize("r", [3.0, 6.35])
def test_what_a_cutter_leaves_in_corners(shape: object, angles: tuple[int, ...], r: float) -> None:
    """A bearing of the cutter's size in a sharp opening leaves r²(cot(α/2) − (π−α)/2) in every corner,
    and the worst of them ends r(1/sin(α/2) − 1) short (outside_checks O1)."""
    wanted = solid(shape)  # type: ignore[arg-type]
    out = outcome(wanted, wanted, "opening", 2 * r, 2 * r)
    want = sum(CORNERS[a][0] for a in angles) * r * r
    assert out.residue_mm2 == pytest.approx(want, rel=1e-6)  # exact: the table has eight digits
    assert len(out.residues) == len(angles)
    assert {f.what for f in out.residues} == {"stays"}
    assert out.corner_mm == pytest.approx(max(CORNERS[a][1] for a in angles) * r, rel=1e-6)
    assert out.worst_mm < 1e-6


def test_a_sharp_corner_asks_for_a_radius() -> None:
    """Where residue is worth a word, the finding has place, number, limit and remedy."""
    made = template(solid(rectangle(50, 30)), "opening", Follow(bearing=12.7, cutter=12.7))
    finding = next(f for f in made.findings if f.check == "template-corner")
    assert finding.severity == "ask"
    assert finding.measured == pytest.approx(4 * 8.653, abs=0.002)  # the trade's r 6.35 → 8.653 a corner
    assert finding.at_mm is not None
    assert sorted(map(abs, finding.at_mm)) == pytest.approx([15.0, 25.0])
    assert "6.35" in finding.remedy
    assert finding.place is not None


def test_a_bush_that_does_not_go_in_holds_the_packet() -> None:
    """A bush of 30 in a pocket 12 wide, cutter 20: the opening is 22 wide."""
    made = template(solid(rectangle(80, 12)), "opening", Follow(bush=30.0, cutter=20.0))
    assert [f.severity for f in made.findings if f.check == "follower-too-big"] == ["stop"]


def test_text_lies_in_the_solid_and_says_what_it_must() -> None:
    """Design, piece and its own revision, the face, follower, depths of the ramp; every stroke of it
    lies a millimetre inside the wood."""
    neck = step(
        "neck",
        "cavity",
        opening=Shape(rectangle=(60.0, 42.2), corner=6.5),
        centre=(202.0, 0.0),
        face="back",
        depth=16.0,
        tilt=Tilt(angle=2.0, deeper="+x"),
    )
    guide = step(
        "guide",
        "template",
        of="neck",
        use="opening",
        follow=Follow(bush=17.0, cutter=8.0),
        sheet="mdf9",
        marks="text",
    )
    made = derived(world(neck, guide, since={"guide": "A"}))["guide"]
    (piece,) = made.pieces
    (set_up,) = piece.set_ups
    assert set_up.face == "back"
    # The back is turned over about the x axis, so the first line stands lowest in the design frame.
    assert [t.text for t in sorted(set_up.labels, key=lambda t: t.at[1])] == [
        "TEST GUIDE A",
        "BACK UP",
        "BUSH 17 / CUTTER 8",
        "DEPTH 16.00 TO 18.10",  # 16 + 60·tan 2° = 18.095
    ]
    wood = piece.region.polygon.buffer(-1.0)
    for label in set_up.labels:
        assert label.engrave
        assert label.height_mm >= 6.0
        strokes = text_strokes(label.text, *label.at, label.height_mm, label.turn_deg, label.centred)
        assert all(wood.contains(shapely.LineString(s.flatten(0.1)[0])) for s in strokes)
    assert (piece.role, piece.count) == ("template", 1)


def test_a_narrow_template_says_that_its_text_is_small() -> None:
    """A ruler 12 wide has room for no letters of 6 in three lines."""
    made = template(solid(rectangle(200, 12)), "outside", Follow(bearing=6.0, cutter=6.0))
    assert [f.severity for f in made.findings if f.check == "label-small"] == ["note"]


def test_index_holes_inside_its_own_solid_are_carried() -> None:
    """One pin stands in the body, the other in an ear outside: only the first is bored."""
    pins = step("pins", "holes", role="index", at=((0.0, 0.0), (245.0, 0.0)), diameter=(6.0, 8.0), through=True)
    guide = step(
        "guide",
        "template",
        of="body",
        use="outside",
        follow=Follow(bearing=12.7, cutter=12.7),
        sheet="mdf9",
        index="pins",
    )
    made = derived(world(step("body", "outline"), pins, guide, drawn={"body": body_w()}))["guide"]
    (piece,) = made.pieces
    drills = [o for o in piece.set_ups[0].ops if o.work == "DRILL"]
    assert [(o.diameter_mm, o.through) for o in drills] == [(6.0, True)]
    assert piece.region.area == pytest.approx(body_w().area - 9 * math.pi)
    assert piece.mass_g == pytest.approx((body_w().area - 9 * math.pi) * 9.1 * 740e-6)


def test_on_a_laser_index_holes_are_cut() -> None:
    """A laser has no drill."""
    pins = step("pins", "holes", role="index", at=((0.0, 0.0),), diameter=(6.0,), through=True)
    guide = step(
        "guide",
        "template",
        of="body",
        use="outside",
        follow=Follow(bearing=12.7, cutter=12.7),
        sheet="ply3",
        index="pins",
        marks="none",
    )
    made = derived(world(step("body", "outline"), pins, guide, drawn={"body": body_w()}))["guide"]
    assert [(o.work, o.step) for o in made.pieces[0].set_ups[0].ops] == [
        ("CUT_INSIDE", "pins"),
        ("CUT_OUTSIDE", "guide"),
    ]


def test_an_island_falls_out_and_is_said() -> None:
    """A ring-shaped groove leaves a loose disc in its template."""
    from pipeline.geometry.region import Part, region

    ring = region([Part(circle(0, 0, 40), (circle(0, 0, 15).reversed(),))])
    made = template(ring, "opening", Follow(bush=17.0, cutter=8.0))
    assert [f.check for f in made.findings] == ["template-island"]
    assert len(made.pieces[0].region.parts) == 1


def test_the_recess_can_have_a_template_of_its_own() -> None:
    """The recess 4.5 wider than the cavity: what bush 17/cutter 8 leaves as the ledge of one template."""
    opening = Shape(rectangle=(80.0, 45.0), corner=8.0)
    control = step(
        "control",
        "cavity",
        opening=opening,
        centre=(0.0, 0.0),
        face="back",
        floor=4.0,
        ledge=Ledge(width=4.5, depth=3.0),
    )
    rough = step(
        "rough", "template", of="control", use="opening", follow=Follow(bush=17.0, cutter=8.0), sheet="mdf9"
    )
    fine = step(
        "fine",
        "template",
        of="control",
        use="opening",
        recess=True,
        follow=Follow(bearing=12.7, cutter=12.7),
        sheet="mdf9",
    )
    made = derived(world(control, rough, fine))
    # "Ledge from one template": both edges are the same hole.
    assert made["rough"].numbers["edge_area_mm2"] == pytest.approx(4671.87, abs=0.005)
    assert made["fine"].numbers["edge_area_mm2"] == pytest.approx(4671.87, abs=0.005)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"follow": Follow(cutter=8.0)}, "by a bearing or by a bush"),
        ({"follow": Follow(cutter=8.0, bush=17.0, bearing=8.0)}, "by a bearing or by a bush"),
        ({"follow": Follow(cutter=8.0, bush=8.0)}, "doesn't pass through a bush"),
        ({"follow": Follow(cutter=8.0, bush=17.0), "margin": 50.0}, "nothing stays round it"),
        ({"follow": Follow(cutter=8.0, bush=17.0), "recess": True}, "has no ledge"),
        ({"follow": Follow(cutter=8.0, bush=17.0), "index": "s"}, "holds no index holes"),
        ({"follow": Follow(cutter=4.0, bush=400.0)}, "Nothing is left of the template"),
    ],
)
def test_what_is_refused(fields: dict[str, object], said: str) -> None:
    """Each with a sentence and a place."""
    with pytest.raises(Refused) as caught:
        template(body_w(), "outside", **fields)  # type: ignore[arg-type]
    assert any(said in p.wrong and p.place for p in caught.value.problems)
