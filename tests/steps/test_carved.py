"""Carved shapes: cut outlines, carve lines, ledges and volumes, against solids with closed formulas."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Sheet, Step
from pipeline.geometry.contour import chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.carved import Ball
from pipeline.steps.fits import Shape
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Op, Piece, Result, World
from tests.steps.drawn_lines import with_lines
from tests.steps.factory import LASER, ROUTER, step, world

SHEETS = {
    "ten": Sheet(measured={"A": 10.0}, density=700.0),
    "six": Sheet(measured={"A": 6.0}, density=700.0),
    "two": Sheet(measured={"A": 2.0}, density=700.0),
    "beam": Sheet(measured={"A": 10.0}, density=700.0, shop="laser"),
    "plain": Sheet(measured={"A": 10.0}),
}
DISC = solid(circle(0, 0, 60))
CONE = ((0.0, 0.0), (20.0, 20.0))
SWELL = ((0.0, 0.0), (-8.0, 10.0), (12.0, 30.0))


def made(*steps: Step, outline: Region = DISC, line: Any = None, **spec: Any) -> Result:
    """The shape `top` over a body; ``line`` is a drawn profile called side."""
    given = {"outline": "body", "laminations": ("ten", "ten"), **spec}
    top = step("top", "carved", **given)
    w = world(step("body", "outline", drawn=("body",)), *steps, top, drawn={"body": outline})
    recipe = replace(w.recipe, sheets=SHEETS, shops={"router": ROUTER, "laser": LASER})
    drawing = with_lines(w.drawing, **({"side": line} if line is not None else {}))
    results: dict[str, Result] = {}
    for s in recipe.steps.values():
        results[s.name] = KINDS[s.kind].make(
            s.name, s.spec, World(recipe=recipe, drawing=drawing, results=results)
        )
    return results["top"]


def radius(op_or_piece: Op | Piece) -> float:
    contours = op_or_piece.region.contours if isinstance(op_or_piece, Piece) else op_or_piece.contours
    found = contours[0].circle()
    assert found is not None
    return found[2]


def lines(p: Piece, work: str = "CARVE_LINE") -> list[Op]:
    return [o for s in p.set_ups for o in s.ops if o.work == work]


def frustum(big: float, small: float, height: float) -> float:
    return math.pi * height / 3 * (big * big + big * small + small * small)


# -- outlines and lines -----------------------------------------------------------------------------
def test_a_cone_in_steps() -> None:
    """trade.md 4.4: shrinking upward each lamination is cut to the section at its lower face, S(z_i), and
    shows S(z_i+1) on top: 60 → 50 → 40. The corner lies on the surface: the next edge is the line below."""
    result = made(profile=CONE)
    assert [round(radius(p), 9) for p in result.pieces] == [60, 50]
    assert [round(radius(o), 9) for p in result.pieces for o in lines(p)] == [50, 40]
    for low, high in pairwise(result.pieces):
        assert radius(lines(low)[0]) == pytest.approx(radius(high), abs=1e-9)
    assert [p.role for p in result.pieces] == ["lamination", "lamination"]
    assert [v.piece for v in result.blanks[0].laminations] == ["top-1", "top-2"]
    assert "until the corner at the glue line just disappears, and no further" in result.reports[0].lower()


def test_what_swells_is_cut_to_its_widest() -> None:
    """Out by 8 at 10, back to the outline at 18, 12 in at 30: the cut is the widest between both faces, and a face
    inside it shows its own section; the underside's line stands on REFERENCE of the only set-up."""
    result = made(profile=SWELL, laminations=("ten", "ten", "ten"))
    assert [round(radius(p), 9) for p in result.pieces] == [68, 68, 58]
    one, two, three = result.pieces
    assert lines(one) == []
    assert [round(radius(o), 9) for o in lines(one, "REFERENCE")] == [60]
    assert [round(radius(o), 9) for o in lines(two)] == [58]
    assert [round(radius(o), 9) for o in lines(three)] == [48]
    assert all(len(p.set_ups) == 1 for p in result.pieces)


def test_overhang_is_noted() -> None:
    """The second lamination swells over the first one by 8 − 4."""
    result = made(profile=((0, 0), (-8, 20)), laminations=("ten", "ten"))
    (note,) = [f for f in result.findings if f.check == "carved-overhang"]
    assert (note.severity, note.piece) == ("note", "top-2")
    assert note.measured == pytest.approx(4.0)


def test_ledges_too_wide_and_too_narrow() -> None:
    """Over 3 thicknesses, or under 0.3 (trade.md 4.4, common practice)."""
    wide = made(profile=((0, 0), (7, 2)), laminations=("two",))
    (f,) = [f for f in wide.findings if f.check == "carved-ledge"]
    assert [f.measured, f.limit] == pytest.approx([7, 6])
    assert "two sheets of 1 mm" in f.remedy
    narrow = made(profile=((0, 0), (0.2, 10)), laminations=("ten",))
    (f,) = [f for f in narrow.findings if f.check == "carved-ledge"]
    assert [f.measured, f.limit] == pytest.approx([0.2, 0.3])
    assert [f for f in made(profile=CONE).findings if f.check == "carved-ledge"] == []


def test_allowance_and_scored_lines() -> None:
    result = made(profile=CONE, allowance=0.5, score=True, laminations=("beam", "ten"))
    assert [round(p.cut.contours[0].circle()[2], 9) for p in result.pieces] == [60.5, 50.5]  # type: ignore[index]  # circles
    beam, ten = result.pieces
    assert [o.depth_mm for o in lines(beam, "SCORE")] == [None]
    assert [o.depth_mm for o in lines(ten, "ENGRAVE")] == [0.3]
    assert lines(beam) == lines(ten) == []


# -- volumes ------------------------------------------------------------------------------------------
def test_volume_left_to_carve() -> None:
    """Σ area·t − ∫ area S dz: π(60² + 50²)·10 less a frustum of 60 and 40 over 20 (trade.md 4.4)."""
    numbers = made(profile=CONE).numbers
    wanted = math.pi * 10 * (3600 + 2500) - frustum(60, 40, 20)
    assert numbers["to_carve_mm3"] == pytest.approx(wanted, rel=1e-12)
    assert numbers["finished_mm3"] == pytest.approx(frustum(60, 40, 20), rel=1e-12)
    assert numbers["to_carve_exact"] is True
    assert numbers["to_carve_error_mm3"] == 0.0


def test_volume_of_a_pyramid() -> None:
    """Inward a sharp corner stays sharp: a square of 100 to one of 60, 20 high: h/3 (A + √(AB) + B)."""
    numbers = made(profile=CONE, outline=solid(rectangle(100, 100))).numbers
    assert numbers["finished_mm3"] == pytest.approx(20 / 3 * (10_000 + 6_000 + 3_600), rel=1e-12)
    assert numbers["to_carve_exact"] is True


def test_volume_with_an_allowance() -> None:
    left = made(profile=CONE, allowance=0.5).numbers["to_carve_mm3"]
    assert left == pytest.approx(math.pi * 10 * (60.5**2 + 50.5**2) - frustum(60, 40, 20), rel=1e-12)


def test_a_smooth_profile_passes_its_points_and_never_overshoots() -> None:
    result = made(profile=SWELL, smooth=True, laminations=("ten", "ten", "ten"))
    rows = result.numbers["laminations"]
    assert [r["cut_inset_mm"] for r in rows[:2]] == [-8.0, -8.0]
    assert [r["inset_below_mm"] for r in rows] == pytest.approx([0, -8, rows[2]["inset_below_mm"]])
    assert -8 < rows[2]["inset_below_mm"] < 12


def test_mass_and_centre_of_a_cone() -> None:
    """Frustum: V·700 g/dm³; its centroid lies h/4 · (R² + 2Rr + 3r²)/(R² + Rr + r²) above the foot."""
    (blank,) = made(profile=CONE).blanks
    assert blank.mass_g == pytest.approx(frustum(60, 40, 20) * 700e-6, rel=1e-12)
    height = 20 / 4 * (3600 + 4800 + 4800) / (3600 + 2400 + 1600)
    assert blank.centre_mm == pytest.approx((0, 0, height), abs=1e-9)
    (unknown,) = made(profile=CONE, laminations=("ten", "plain")).blanks
    assert unknown.mass_g is None


def test_cavities_are_cut_in_the_steps() -> None:
    """A bore of 20 from below, all through: it goes from every lamination and from the mass."""
    hole = step("hole", "cavity", opening=Shape(circle=20.0), centre=(0.0, 0.0), through=True)
    result = made(hole, profile=CONE, cut=("hole",))
    assert [p.region.area for p in result.pieces] == [
        pytest.approx(math.pi * (r * r - 100), rel=1e-12) for r in (60, 50)
    ]
    wanted = (frustum(60, 40, 20) - math.pi * 100 * 20) * 700e-6
    assert result.blanks[0].mass_g == pytest.approx(wanted, rel=1e-12)


# -- profiles -------------------------------------------------------------------------------------------
def test_a_drawn_profile_is_the_same_as_its_points() -> None:
    """Drawn leaning to the left, from its top down: inward is where the top lies."""
    side = chain([(-300, 55), (-280, 35)], [0, 0], closed=False)
    drawn, points = made(drawn="side", line=side), made(profile=CONE)
    assert drawn.numbers["to_carve_mm3"] == pytest.approx(points.numbers["to_carve_mm3"], rel=1e-9)
    assert [radius(p) for p in drawn.pieces] == pytest.approx([radius(p) for p in points.pieces])


def test_a_quarter_round_is_half_a_ball() -> None:
    """An arc of 60 from (60, 0) up to the axis would be a half ball; to the height 48 (3-4-5) it leaves a cap off:
    V = π h (R² − h²/3)."""
    top = 60 - math.sqrt(60**2 - 48**2)
    sweep = math.asin(48 / 60)
    side = chain([(0, 0), (top, 48)], [-math.tan(sweep / 4), 0], closed=False)
    result = made(drawn="side", line=side, laminations=("six",) * 8)
    assert result.numbers["finished_mm3"] == pytest.approx(math.pi * 48 * (3600 - 48**2 / 3), rel=2e-5)
    assert [radius(p) for p in result.pieces] == pytest.approx(
        [math.sqrt(3600 - z * z) for z in np.arange(0, 48, 6)], abs=0.002
    )


@pytest.mark.parametrize(
    ("sheets", "severity", "words"),
    [(("ten",), "stop", "a sheet of 10 mm"), (("ten",) * 3, "ask", "end the profile")],
)
def test_sheets_of_another_height(sheets: tuple[str, ...], severity: str, words: str) -> None:
    result = made(profile=CONE, laminations=sheets)
    (f,) = [f for f in result.findings if f.check == "carved-height"]
    assert (f.severity, f.limit) == (severity, 20.0)
    assert words in f.remedy
    assert len(result.pieces) == min(len(sheets), 2)


def test_a_ball_tells_its_cusps() -> None:
    """K1: D 6, step 1: 0.041960108 on the level; on a slope of 45° the passes lie √2 apart."""
    numbers = made(profile=CONE, ball=Ball(diameter=6.0, step=1.0)).numbers
    assert numbers["scallop_mm"] == pytest.approx(0.041960108, rel=1e-7)
    assert numbers["steepest_deg"] == pytest.approx(45)
    assert numbers["scallop_steepest_mm"] == pytest.approx(3 - math.sqrt(9 - 0.5), rel=1e-9)
    assert numbers["level_passes"] is False


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        ({}, "the profile"),
        ({"profile": ((0, 0),)}, "only one point"),
        ({"profile": ((0, 3), (5, 10))}, "begins at the height 3"),
        ({"profile": ((0, 0), (5, 10), (9, 10))}, "doesn't rise"),
        ({"profile": ((0, 0), (130, 20))}, "nothing is left"),
        ({"profile": CONE, "laminations": ()}, "no laminations"),
        ({"drawn": "body"}, "one open line"),
    ],
)
def test_refused_with_words(spec: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused) as refused:
        made(**spec)
    assert words in str(refused.value)
