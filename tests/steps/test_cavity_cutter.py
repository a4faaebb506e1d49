"""What a cutter leaves in a cavity's corners, relief circles, and one template with two followers."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import chain
from pipeline.geometry.morph import opening
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.cavity import Ledge
from pipeline.steps.cavity_relief import (
    largest_clean_mm,
    left_in,
    made_by,
    overcut_mm,
    relieved,
    residue,
    sharp_corners,
)
from pipeline.steps.fits import Shape
from tests.steps.factory import LASER, step
from tests.steps.test_cavity import control, made

SQUARE = solid(rectangle(80.0, 50.0))


def wedge(angle_deg: float, long: float = 400.0) -> Region:
    """A triangle with two long sides that meet at (0, 0) under the angle, the bisector along +x."""
    h = math.radians(angle_deg) / 2
    return solid(
        chain(
            [(0, 0), (long * math.cos(h), -long * math.sin(h)), (long * math.cos(h), long * math.sin(h))],
            [0.0] * 3,
        )
    )


@pytest.mark.parametrize(("r", "depth", "area"), [(3.0, 1.243, 1.931), (6.35, 2.630, 8.653)])
def test_square_corners(r: float, depth: float, area: float) -> None:
    """trade.md 3.1: r(√2 − 1) along the bisector and (1 − π/4)r² [derived]."""
    told = residue(SQUARE, 2 * r)
    assert len(told["corners"]) == 4
    for corner in told["corners"]:
        assert round(corner["depth_mm"], 3) == depth
        assert corner["depth_mm"] == pytest.approx(r * (math.sqrt(2) - 1), abs=1e-6)
        assert round(corner["area_mm2"], 3) == area
        assert [abs(v) for v in corner["at_mm"]] == pytest.approx([40.0, 25.0])
    assert told["residue_mm2"] == pytest.approx(4 * (1 - math.pi / 4) * r * r, abs=1e-5)


def test_round_corners_that_are_too_tight() -> None:
    """trade.md 3.1: ρ 4 cut with r 6.35 leaves (r − ρ)(√2 − 1) = 0.973 and (1 − π/4)(r² − ρ²) = 5.220, 20.879 in
    all [derived]."""
    told = residue(solid(rectangle(80.0, 45.0, 4.0)), 12.7)
    assert [round(c["depth_mm"], 3) for c in told["corners"]] == [0.973] * 4
    assert [round(c["area_mm2"], 3) for c in told["corners"]] == [5.220] * 4
    assert round(told["residue_mm2"], 3) == 20.879


@pytest.mark.parametrize(
    ("angle", "area", "gap"),  # outside_checks O1 [derived], for r = 1
    [
        (30, 2.4230539, 2.8637033),
        (45, 1.2361163, 1.6131259),
        (60, 0.68485326, 1.0),
        (75, 0.38692752, 0.64267963),
        (90, 0.21460184, 0.41421356),
        (105, 0.11282852, 0.26047241),
        (120, 0.053751494, 0.15470054),
        (135, 0.021514481, 0.0823922),
        (150, 0.0061498046, 0.03527618),
    ],
)
def test_any_corner(angle: float, area: float, gap: float) -> None:
    """r²(cot(α/2) − (π − α)/2) and r(1/sin(α/2) − 1), here with r = 5."""
    told = residue(wedge(angle), 10.0)
    corner = min(told["corners"], key=lambda c: math.hypot(*c["at_mm"]))
    assert corner["area_mm2"] == pytest.approx(25 * area, rel=1e-5)
    assert corner["depth_mm"] == pytest.approx(5 * gap, rel=1e-6)
    assert corner["at_mm"] == pytest.approx([0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize(("r", "area", "edge"), [(3.0, 3992.274334, 254.849556), (6.35, 3965.386870, 249.098227)])
def test_opening_of_a_rectangle(r: float, area: float, edge: float) -> None:
    """outside_checks O2: rectangle 80 × 50 opened by a disc."""
    out = made_by(SQUARE, 2 * r)
    assert (out.area, out.perimeter) == (pytest.approx(area, abs=5e-7), pytest.approx(edge, abs=5e-7))


def test_what_just_fits_leaves_nothing() -> None:
    """A radius of 8 takes a cutter of 16 and no larger; a slot of 10 one of 10; a sharp corner none (O5)."""
    assert largest_clean_mm(solid(rectangle(80, 45, 8))) == pytest.approx(16.0)
    assert largest_clean_mm(solid(rectangle(60, 10, 5))) == pytest.approx(10.0, abs=1e-3)
    assert largest_clean_mm(SQUARE) == 0.0
    assert residue(solid(rectangle(80, 45, 8)), 16.0)["corners"] == []
    assert residue(solid(rectangle(80, 45, 8)), 16.2)["residue_mm2"] > 0.0
    assert residue(solid(rectangle(60, 10, 5)), 10.0)["residue_mm2"] == 0.0
    square, corners = left_in(solid(rectangle(60, 10)), 10.0)
    assert square.area == pytest.approx(600 - (4 - math.pi) * 25, abs=0.02)
    assert len(corners.parts) == 4
    out, rest = left_in(solid(rectangle(60, 10)), 10.2)
    assert not out
    assert rest.area == pytest.approx(600.0)


def test_a_waist_bounds_the_cutter() -> None:
    """Two rooms joined by a neck 12 wide, all convex corners of 20: the neck lets a cutter of 12 pass."""
    bone = solid(
        chain(
            [
                *[(-80, -40), (-20, -40), (-20, -6), (20, -6), (20, -40), (80, -40)],
                *[(80, 40), (20, 40), (20, 6), (-20, 6), (-20, 40), (-80, 40)],
            ],
            [0.0] * 12,
        )
    )
    big = opening(difference(bone, solid(rectangle(40, 12))), 20.0)
    joined = union(big, solid(rectangle(60, 12)))
    assert largest_clean_mm(joined) == pytest.approx(12.0, abs=2e-3)


# -- relief ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("angle", "bite", "extra"),  # outside_checks O6, for r = 1
    [(60, 0.5, 1.22837), (75, 0.391239, 0.86667), (90, 0.292893, 0.570796), (120, 0.133975, 0.181172)],
)
def test_dogbones(angle: float, bite: float, extra: float) -> None:
    """r(1 − sin(α/2)) past each wall and r²((π − α) − sin α) more area; the circle goes through the corner."""
    shape = wedge(angle)
    corner = next(c for c in sharp_corners(shape) if math.hypot(*c.at) < 1e-9)
    assert corner.angle_deg == pytest.approx(angle)
    out = relieved(shape, (corner,), 4.0, "dogbone")
    assert out.area - shape.area == pytest.approx(16 * extra, rel=1e-5)
    assert overcut_mm(4.0, angle) == pytest.approx(4 * bite, rel=1e-5)
    past = max(
        p[1] * math.cos(h) - p[0] * math.sin(h)
        for p in out.contours[0].flatten()[0]
        if 0 <= p[0] < 20
        for h in (math.radians(angle) / 2,)
    )
    assert past == pytest.approx(4 * bite, abs=3e-4)  # on a flattened edge
    assert out.bounds[0] == pytest.approx(0.0, abs=1e-9)


def test_t_bones() -> None:
    """outside_checks O7: r into one wall, nothing into the other; half a disc less the quarter that was free:
    the added area is that half of the disc that lies past the wall, πr²/2."""
    corners = sharp_corners(SQUARE)
    out = relieved(SQUARE, corners, 3.0, "t-bone", "x")
    assert out.bounds == pytest.approx((-43.0, -25.0, 43.0, 25.0))
    assert out.area - SQUARE.area == pytest.approx(4 * math.pi * 9 / 2)
    assert relieved(SQUARE, corners, 3.0, "t-bone", "y").bounds == pytest.approx((-40.0, -28.0, 40.0, 28.0))


@pytest.mark.parametrize("form", ["dogbone", "t-bone"])
def test_a_square_part_goes_into_a_relieved_cavity(form: str) -> None:
    """Its cutter leaves nothing of the square, and its region is what is cut."""
    shape = Shape(rectangle=(80.0, 50.0))
    result = made(
        step("c", "cavity", opening=shape, centre=(10.0, 0.0), depth=5.0, relief=form, cutter=6.35, turn=30.0)
    )
    cut = result.cuts[0]
    assert cut.region.area == pytest.approx(cut.design.area)
    assert result.numbers["made"]["residue_mm2"] == pytest.approx(0.0, abs=1e-3)
    assert len(result.numbers["relief"]["corners"]) == 4
    wanted = {"dogbone": 4 * 0.570796 * 3.175**2, "t-bone": 2 * math.pi * 3.175**2}[form]
    assert result.numbers["relief"]["added_mm2"] == pytest.approx(wanted, rel=1e-5)
    assert "4 corners are relieved" in result.reports[0]


def test_nothing_is_relieved_by_itself() -> None:
    """And round corners need none; an open side has none to relieve."""
    shape = Shape(rectangle=(40.0, 20.0))
    plain = made(step("c", "cavity", opening=shape, centre=(0.0, 0.0), depth=5.0))
    assert plain.cuts[0].region.area == pytest.approx(800.0)
    assert "relief" not in plain.numbers
    slot = {"opening": shape, "centre": (0.0, 0.0), "depth": 5.0, "open": "+x"}
    open_ = made(step("c", "cavity", **slot, relief="dogbone", cutter=6.0))
    assert [c["at_mm"][0] for c in open_.numbers["relief"]["corners"]] == pytest.approx([-20.0, -20.0])
    with pytest.raises(Refused, match="has no size"):
        made(step("c", "cavity", opening=shape, centre=(0.0, 0.0), depth=5.0, relief="dogbone"))


def test_the_shops_own_cutter() -> None:
    """The built-in router's smallest is 3 and reaches 18: deeper down it takes 6. A laser has none."""
    shape = Shape(rectangle=(40.0, 20.0))

    def cutter(depth: float) -> float:
        told = made(step("c", "cavity", opening=shape, centre=(0.0, 0.0), depth=depth)).numbers["made"]
        assert told["chosen"] == "shop"
        return float(told["cutter_mm"])

    assert (cutter(18.0), cutter(18.1)) == (3.0, 6.0)
    through = step("c", "cavity", opening=shape, centre=(0.0, 0.0), through=True)
    assert "made" not in made(through, shops={"laser": LASER}).numbers


# -- one template, two followers ----------------------------------------------------------------------
def test_ledge_by_bush_and_bearing() -> None:
    """trade.md 5.1: B 17, D 8 → 4.5. The recess of body W has corners of 12.5, so a bush of 17 rolls round them
    and the cavity comes out as wanted; with B 16 the ledge is 4 and a question is asked."""
    good = made(control(ledge=Ledge(width=4.5, depth=3.0, bush=17.0, cutter=8.0)))
    told = good.numbers["followers"]
    assert (told["bush_offset_mm"], told["ledge_off_mm"], good.findings) == (4.5, 0.0, ())
    assert told["off_mm2"] == pytest.approx(0.0, abs=1e-6)
    bad = made(control(ledge=Ledge(width=4.5, depth=3.0, bush=16.0, cutter=8.0)))
    (finding,) = bad.findings
    assert (finding.check, finding.measured, finding.limit) == ("ledge-follower", 4.0, 4.5)
    assert "a bush of 17" in finding.remedy
    with pytest.raises(Refused, match="without its cutter"):
        made(control(ledge=Ledge(width=4.5, depth=3.0, bush=17.0)))
