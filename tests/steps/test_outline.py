"""Outlines: what they measure and what panels they make."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from pipeline.core.place import Place
from pipeline.core.recipe import Step
from pipeline.geometry.curves import contour
from pipeline.geometry.drawn import Cubic
from pipeline.geometry.region import Part, Region, region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.fits import Shape
from pipeline.steps.values import Drawing, Drawn, World
from tests.steps.factory import body_w, derived, nothing, step, world


def test_body_w_is_two_lines_and_two_arcs() -> None:
    """Closed form of the hull of two circles, d apart, s = √(d² − (R−r)²), sin α = (R−r)/d:
    area (R+r)s + R²(π/2+α) + r²(π/2−α), perimeter 2s + R(π+2α) + r(π−2α); as the trade's table states."""
    made = derived(world(step("body", "outline", drawn=("body",)), drawn={"body": body_w()}))["body"]
    big, small, d = 120.0, 42.0, 170.0
    s, a = math.sqrt(d**2 - (big - small) ** 2), math.asin((big - small) / d)
    area = (big + small) * s + big**2 * (math.pi / 2 + a) + small**2 * (math.pi / 2 - a)
    around = 2 * s + big * (math.pi + 2 * a) + small * (math.pi - 2 * a)
    assert (round(area, 2), round(around, 3)) == (55883.61, 885.398)  # the trade's table
    assert made.numbers["area_mm2"] == pytest.approx(area, rel=1e-12)
    assert made.numbers["perimeter_mm"] == pytest.approx(around, rel=1e-12)
    assert (made.numbers["lines"], made.numbers["arcs"]) == (2, 2)
    assert made.numbers["least_convex_radius_mm"] == pytest.approx(small)
    assert made.numbers["least_concave_radius_mm"] is None
    assert made.numbers["least_convex_at_mm"] == pytest.approx([190.0 + small, 0.0], abs=1e-9)
    assert made.numbers["least_concave_at_mm"] is None
    assert made.numbers["bounds_mm"] == pytest.approx([-100, -120, 232, 120])
    assert made.pieces == ()


def test_a_hole_is_concave_for_the_cutter() -> None:
    """The wall of a hole is concave seen from the wood; the outside of a disc is convex."""
    ring = region([Part(circle(0, 0, 50), (circle(0, 0, 30).reversed(),))])
    made = derived(world(step("ring", "outline"), drawn={"ring": ring}))["ring"]
    assert made.numbers["least_convex_radius_mm"] == pytest.approx(50)
    assert made.numbers["least_concave_radius_mm"] == pytest.approx(30)


def test_a_panel_has_exact_mass() -> None:
    """Mass = area × thickness × density by hand: 100 × 60 less a disc of 10, 11.8 thick, 680 kg/m³."""
    plate = solid(rectangle(100, 60))
    steps = (
        step("hole", "holes", at=((0.0, 0.0),), diameter=(10.0,), through=True),
        step("panel", "outline", drawn=("plate",), sheet="birch12 A", cut=("hole",)),
    )
    made = derived(world(*steps, drawn={"plate": plate}, make=2))["panel"]
    (piece,) = made.pieces
    want = (6000 - math.pi * 25) * 11.8 * 680e-6
    assert piece.mass_g == pytest.approx(want, rel=1e-9)
    assert (piece.name, piece.count, piece.letter, piece.role) == ("panel", 2, "A", "panel")
    (set_up,) = piece.set_ups
    assert [o.work for o in set_up.ops] == ["DRILL", "CUT_OUTSIDE"]
    assert set_up.ops[0].through
    assert set_up.ops[0].diameter_mm == 10.0


def test_without_density_there_is_no_mass() -> None:
    """A weight nobody gave is not made up."""
    made = derived(world(step("p", "outline", sheet="plain"), drawn={"plate": solid(rectangle(10, 10))}))
    assert made["p"].pieces[0].mass_g is None


def test_pockets_from_both_faces_make_two_set_ups() -> None:
    """Back comes first; through contours stand in the front one alone, index holes are bored in the
    back one and drawn in the front one; overlapping pockets from one face weigh once."""

    def pocket(name: str, face: str, depth: float, w: float) -> Step:
        shape = Shape(rectangle=(w, w))
        return step(name, "cavity", opening=shape, centre=(0.0, 0.0), face=face, depth=depth)

    steps = (
        pocket("front_small", "front", 6.0, 20.0),
        pocket("front_wide", "front", 2.0, 40.0),
        pocket("rear", "back", 3.0, 20.0),
        step("pins", "holes", at=((-40.0, 0.0), (40.0, 0.0)), diameter=(6.0, 8.0), role="index", through=True),
        step(
            "panel",
            "outline",
            drawn=("plate",),
            sheet="birch12 A",
            cut=("front_small", "front_wide", "rear", "pins"),
        ),
    )
    made = derived(world(*steps, drawn={"plate": solid(rectangle(120, 80))}))["panel"]
    (piece,) = made.pieces
    back, front = piece.set_ups
    assert (back.face, front.face) == ("back", "front")
    assert [o.work for o in back.ops] == ["DRILL", "DRILL", "POCKET", "REFERENCE"]
    assert [o.work for o in front.ops] == ["INDEX", "INDEX", "POCKET", "POCKET", "CUT_OUTSIDE"]
    volume = 120 * 80 * 11.8 - math.pi * (9 + 16) * 11.8 - 400 * 6.0 - 1200 * 2.0 - 400 * 3.0
    assert piece.mass_g == pytest.approx(volume * 680e-6, rel=1e-9)


def test_a_laser_draws_pockets_and_says_so() -> None:
    """A laser cuts all the way or not at all: the pocket is on REFERENCE and counts for nothing."""
    steps = (
        step("dish", "cavity", opening=Shape(circle=20.0), centre=(0.0, 0.0), depth=1.5),
        step("panel", "outline", drawn=("plate",), sheet="ply3", cut=("dish",)),
    )
    made = derived(world(*steps, drawn={"plate": solid(rectangle(60, 40))}))["panel"]
    (piece,) = made.pieces
    assert [o.work for o in piece.set_ups[0].ops] == ["CUT_OUTSIDE", "REFERENCE"]
    assert piece.mass_g == pytest.approx(60 * 40 * 3.1 * 660e-6)
    (finding,) = made.findings
    assert (finding.check, finding.severity, finding.measured) == ("laser-half-depth", "ask", 1.5)
    assert finding.remedy
    assert finding.place


def test_parts_that_lie_apart_are_pieces_by_x_then_y() -> None:
    """Two slats in one outline become slats-1 (left) and slats-2, each with the cut that meets it."""
    slats = Region((*solid(rectangle(20, 50, x=100)).parts, *solid(rectangle(20, 50)).parts))
    slats = region(slats.parts)
    steps = (
        step("eye", "holes", at=((100.0, 0.0),), diameter=(5.0,), through=True),
        step("slats", "outline", sheet="mdf9", cut=("eye",), count=3),
    )
    made = derived(world(*steps, drawn={"slats": slats}))["slats"]
    assert [p.name for p in made.pieces] == ["slats-1", "slats-2"]
    assert [len(p.region.contours) for p in made.pieces] == [1, 2]
    assert [p.count for p in made.pieces] == [3, 3]


def test_a_cut_that_splits_a_panel_is_said_by_name() -> None:
    """A slot through the whole width leaves two pieces."""
    steps = (
        step("slot", "cavity", opening=Shape(rectangle=(4.0, 90.0)), centre=(0.0, 0.0), through=True),
        step("panel", "outline", sheet="mdf9", cut=("slot",)),
    )
    made = derived(world(*steps, drawn={"plate": solid(rectangle(100, 60))}))["panel"]
    assert [(f.check, f.measured) for f in made.findings] == [("falls-apart", 2.0)]


def test_unknown_and_open_objects_are_refused_together() -> None:
    """Both names are told, each with the nearest word or the reason."""
    w = world(step("body", "outline", drawn=("bodi", "open")), drawn={"body": body_w(), "open": nothing()})
    with pytest.raises(Refused) as caught:
        derived(w)
    text = caught.value.show()
    assert 'The drawing has nothing called "bodi".' in text
    assert "body, perhaps?" in text
    assert '"open" encloses no area: It is open.' in text


def test_cut_without_a_sheet_is_refused() -> None:
    """A panel's fields need a sheet; the message points at the field."""
    w = world(step("p", "outline", cut=("q",)), drawn={"plate": solid(rectangle(10, 10))})
    with pytest.raises(Refused) as caught:
        derived(w)
    (problem,) = caught.value.problems
    assert "no sheet" in problem.wrong
    assert problem.place is not None
    assert problem.place.column == 20


@pytest.mark.parametrize(
    ("name", "said"),
    [("birch12", "the letter is needed"), ("birch12 D", "no sheet with the letter D"), ("oak", "no sheet called")],
)
def test_sheets_that_are_not_there(name: str, said: str) -> None:
    """A missing, wrong or unknown letter is refused with what there is."""
    w = world(step("p", "outline", sheet=name), drawn={"plate": solid(rectangle(10, 10))})
    with pytest.raises(Refused, match=said):
        derived(w)


def _wobbly(wobble: float) -> Region:
    """A circle of 100 drawn by hand: 48 cubics whose joints stand ±wobble off it in turn."""
    n = 48
    handle = 4 / 3 * math.tan(math.pi / 2 / n)  # of the usual cubic for an arc of 2π/n
    knots = []
    for k in range(n):
        a, r = 2 * math.pi * k / n, 100 + wobble * (-1) ** k
        knots.append((r * math.cos(a), r * math.sin(a), -r * math.sin(a) * handle, r * math.cos(a) * handle))
    segments = []
    for (x0, y0, u0, v0), (x1, y1, u1, v1) in zip(knots, [*knots[1:], knots[0]], strict=True):
        segments.append(Cubic((x0, y0), (x0 + u0, y0 + v0), (x1 - u1, y1 - v1), (x1, y1)))
    return solid(contour(segments, True))


def test_smoothing_stays_within_its_tolerance_and_never_shrinks() -> None:
    """Fitting keeps within `smooth` of the drawn line (Hausdorff distance by GEOS) and keeps the area of
    the circle to 0.2 %, with far fewer curves; the move is reported."""
    rough = _wobbly(0.2)
    steps = (step("plain", "outline", drawn=("s",)), step("fair", "outline", drawn=("s",), smooth=0.25))
    made = derived(world(*steps, drawn={"s": rough}))
    fair, plain = made["fair"], made["plain"]
    assert fair.region is not None
    far = rough.polygon.boundary.hausdorff_distance(fair.region.polygon.boundary)
    assert 0.01 < far <= 0.25 + 0.001
    assert fair.numbers["smooth_worst_mm"] == pytest.approx(far, abs=0.002)
    assert fair.numbers["area_mm2"] == pytest.approx(math.pi * 1e4, rel=0.002)
    assert sum(len(c) for c in fair.region.contours) * 5 < sum(len(c) for c in rough.contours)
    assert "moved by at most" in fair.reports[0]
    # Without `smooth` nothing moves: it is the drawn curve itself.
    assert plain.region is not None
    assert plain.region.polygon.equals(rough.polygon)


def test_several_objects_are_taken_as_the_drawing_says() -> None:
    """Names that one field lists together give what the reader of the drawing found for them together."""
    rim, eye = solid(rectangle(60, 40)), solid(circle(0, 0, 10))
    ring = region([Part(rim.parts[0].outer, (eye.parts[0].outer.reversed(),))])
    plate = step("plate", "outline", drawn=("rim", "eye"))
    w = world(plate, drawn={"rim": rim, "eye": eye})
    both = Drawn(name="rim and eye", region=ring, lines=(), mark=None, place=Place(file="test.svg"))
    drawing = Drawing(
        file="test.svg", objects=w.drawing.objects, all=w.drawing.all, several={("rim", "eye"): both}
    )
    made = derived(World(recipe=w.recipe, drawing=drawing, results={}))["plate"]
    assert made.numbers["area_mm2"] == pytest.approx(2400 - 100 * math.pi)
