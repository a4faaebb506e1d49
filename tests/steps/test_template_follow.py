"""What comes out by a template, simulated exactly: formulas of the trade, corners in closed form, laws."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.geometry.boolean import difference
from pipeline.geometry.contour import line_chain
from pipeline.geometry.deviation import deviation
from pipeline.geometry.morph import closing, opening
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.cavity import Ledge
from pipeline.steps.fits import Shape
from pipeline.steps.follow import made_by, outcome
from pipeline.steps.template import Follow
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world

BUSH = Follow(bush=17.0, cutter=8.0)
BEARING = Follow(bearing=12.7, cutter=12.7)


def ell(a: float, b: float, notch: float) -> Region:
    """A rectangle with a square notch in one corner: five convex corners and one concave."""
    return solid(line_chain([(0, 0), (a, 0), (a, b - notch), (a - notch, b - notch), (a - notch, b), (0, b)]))


def far(a: Region, b: Region) -> float:
    return deviation(a, b).worst_mm if a and b else float(bool(a) != bool(b))


@pytest.mark.parametrize("follow", [BUSH, BEARING, Follow(bush=30.0, cutter=12.0)])
@pytest.mark.parametrize("use", ["outside", "opening"])
def test_what_comes_out_is_an_opening_of_a_closing(follow: Follow, use: str) -> None:
    """With o = (B − D)/2 the formulas of the trade (5.1) say: cavity = opening of D/2 of the closing of o; part =
    closing of D/2 of the opening of o (erosion and dilation compose by adding radii; Serra 1982)."""
    wanted = ell(120.0, 90.0, 40.0)
    o, r = follow.offset, follow.cutter / 2
    template = offset(wanted, o if use == "opening" else -o)
    made = made_by(template, use, follow.diameter, follow.cutter)  # type: ignore[arg-type]
    want = opening(closing(wanted, o), r) if use == "opening" else closing(opening(wanted, o), r)
    assert far(made, want) < 1e-6


def test_corners_of_a_bush_in_closed_form() -> None:
    """A peninsula (square corner pointing into the cavity) is rounded to o, an inside corner to D/2 (trade 5.1):
    each right angle loses (1 − π/4)r²."""
    out = outcome(ell(120, 90, 40), offset(ell(120, 90, 40), 4.5), "opening", 17.0, 8.0)
    corner = 1 - math.pi / 4
    stays = sorted(r.area_mm2 for r in out.residues if r.what == "stays")
    missing = [r.area_mm2 for r in out.residues if r.what == "missing"]
    assert stays == pytest.approx([corner * 16.0] * 5, rel=1e-6)
    assert missing == pytest.approx([corner * 4.5**2], rel=1e-6)
    assert out.corner_mm == pytest.approx(4.5 * (math.sqrt(2) - 1), rel=1e-6)
    assert out.residues[0].at == pytest.approx((80.0, 50.0), abs=1e-6)
    assert out.worst_mm < 1e-6


@settings(max_examples=40, deadline=None)
@given(
    st.floats(60, 200), st.floats(60, 160), st.floats(10, 28), st.floats(3, 12), st.floats(0, 12), st.booleans()
)
def test_laws(a: float, b: float, notch: float, cutter: float, more: float, inside: bool) -> None:
    """An equal bearing never cuts outside an opening nor into a part; a rounded shape comes out within 0.005 mm;
    the residue is the area between wanted and result."""
    shape = ell(a, b, notch)
    use = "opening" if inside else "outside"
    plain = outcome(shape, shape, use, cutter, cutter)  # type: ignore[arg-type]
    assert {r.what for r in plain.residues} <= {"stays"}
    gap = difference(shape, plain.result) if inside else difference(plain.result, shape)
    assert plain.residue_mm2 == pytest.approx(gap.area, abs=1e-4)
    follower = cutter + more
    o = more / 2
    # Every corner rounded to more than cutter and bush ask for: it comes out whole.
    rounded = opening(closing(shape, follower), follower)
    if rounded:
        template = offset(rounded, o if inside else -o) if o else rounded
        out = outcome(rounded, template, use, follower, cutter)  # type: ignore[arg-type]
        assert out.residue_mm2 < 1e-3
        assert out.worst_mm < 0.005
        assert far(out.result, rounded) < 0.005


def test_against_buffers_of_geos() -> None:
    """The same by another library: GEOS buffers of the flattened forms, within their flattening."""
    shape = ell(110, 80, 30)
    made = made_by(offset(shape, 4.5), "opening", 17.0, 8.0)
    by_geos = shape.polygon.buffer(4.5, quad_segs=256).buffer(-8.5, quad_segs=256).buffer(4.0, quad_segs=256)
    assert shapely.hausdorff_distance(made.polygon, by_geos) < 0.002
    assert made.area == pytest.approx(by_geos.area, abs=0.05)


# -- stages and ledges -------------------------------------------------------------------------------
def pocket(**fields: object) -> dict[str, Result]:
    control = step(
        "control",
        "cavity",
        opening=Shape(rectangle=(80.0, 45.0), corner=8.0),
        centre=(0.0, 0.0),
        face="back",
        depth=30.0,
        ledge=Ledge(width=4.5, depth=3.0),
    )
    guide = step("guide", "template", of="control", use="opening", **{"sheet": "mdf9", **fields})
    return derived(world(control, guide))


def test_two_stages_follow_one_hole() -> None:
    """Bush 17 round cutter 8 leaves 4.5 for the bearing; the hole is the shape itself (trade 5.1)."""
    made = pocket(follow=(BUSH, BEARING))["guide"].numbers
    assert made["edge_area_mm2"] == pytest.approx(3545.06, abs=0.005)  # the trade's area of this cavity
    assert made["left_by_first_mm"] == pytest.approx(4.5)
    assert made["result_worst_mm"] < 1e-6
    assert made["residue_mm2"] < 1e-3


def test_a_ledge_from_one_template() -> None:
    """Hole = recess; the bearing brings out the recess, the bush the cavity, o = 4.5 inside of it: areas 3545.06
    and 4671.87 of the trade (3.3)."""
    result = pocket(follow=(BUSH, BEARING), ledge=True)
    made = result["guide"].numbers
    assert made["edge_area_mm2"] == pytest.approx(4671.87, abs=0.005)
    assert made["ledge_mm"] == pytest.approx(4.5)
    assert made["result_worst_mm"] < 1e-6
    assert made["residue_mm2"] < 1e-3
    rough = made_by(result["guide"].regions[0], "opening", 17.0, 8.0)
    assert rough.area == pytest.approx(3545.06, abs=0.005)
    words = [t.text for t in result["guide"].pieces[0].set_ups[0].labels]
    for line in ("RECESS BEARING 12.7", "DEPTH 3.00", "CAVITY BUSH 17 / CUTTER 8", "DEPTH 30.00"):
        assert line in words


def test_a_bush_that_gives_another_ledge_is_told() -> None:
    """Bush 20 round cutter 8 gives 6; for 4.5 with this cutter it must be 8 + 2·4.5 = 17."""
    made = pocket(follow=(Follow(bush=20.0, cutter=8.0), BEARING), ledge=True)["guide"]
    (finding,) = [f for f in made.findings if f.check == "ledge-width"]
    assert (finding.severity, finding.measured, finding.limit) == ("ask", pytest.approx(6.0), pytest.approx(4.5))
    assert "17 mm" in finding.remedy


def test_the_first_follower_must_leave_something() -> None:
    from pipeline.core.errors import Refused

    with pytest.raises(Refused, match="leaves nothing for the second"):
        pocket(follow=(BEARING, BUSH))
    with pytest.raises(Refused, match="needs two followers"):
        pocket(follow=BUSH, ledge=True)


# -- outside_checks K2 to K5 -------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("bush", "cutter", "o"),
    [
        (30, 10, 10),
        (15, 9, 3),
        (19.05, 12.7, 3.175),
        (30, 12.7, 8.65),
        (24, 8, 8),
        (20, 6, 7),
        (16, 6, 5),
        (19.05, 6.35, 6.35),
    ],
)
def test_k2_and_k3(bush: float, cutter: float, o: float) -> None:
    """Offset (K2), opening + 2o and pattern − 2o (K3), on a part of 200 by 150."""
    follow = Follow(bush=float(bush), cutter=float(cutter))
    assert follow.offset == pytest.approx(o, abs=1e-9)
    guides = [
        step(use, "template", of="s", use=use, follow=follow, sheet="mdf9", marks="none")
        for use in ("opening", "outside")
    ]
    made = derived(world(step("s", "outline"), *guides, drawn={"s": solid(rectangle(200.0, 150.0, 20.0))}))
    for use, sign in (("opening", 1), ("outside", -1)):
        x0, y0, x1, y1 = made[use].numbers["edge_bounds_mm"]
        assert (x1 - x0, y1 - y0) == pytest.approx((200 + 2 * sign * o, 150 + 2 * sign * o))


def test_k4_corner_radii() -> None:
    """30/10: workpiece corner 5 at least, template corner = workpiece corner + offset = 15 (K4)."""
    made = derived(
        world(
            step("s", "outline"),
            step("g", "template", of="s", use="opening", follow=Follow(bush=30.0, cutter=10.0), sheet="mdf9"),
            drawn={"s": solid(rectangle(90.0, 70.0, 5.0))},
        )
    )["g"]
    assert made.numbers["least_concave_radius_mm"] == pytest.approx(15.0)
    # A bush of radius 15 sits in a corner of 15 without play: a note asks for 15.2 (trade 5.3).
    (note,) = [f for f in made.findings if f.check == "follower-tight"]
    assert (note.severity, note.limit) == ("note", pytest.approx(15.2))
    assert [f for f in made.findings if f.check == "template-corner"] == []


def test_oracles_of_body_w() -> None:
    """Perimeter 885.398 − 2π·4.5 = 857.124, at its five published digits; what comes out is body W."""
    made = derived(
        world(
            step("s", "outline"),
            step("g", "template", of="s", use="outside", follow=replace(BUSH), sheet="mdf9"),
            drawn={"s": body_w()},
        )
    )["g"]
    assert round(body_w().perimeter, 3) == 885.398
    assert round(made.numbers["edge_perimeter_mm"], 3) == 857.124
    assert far(made_by(made.regions[0], "outside", 17.0, 8.0), body_w()) < 1e-6
