"""Chambers: the plan rule, its webs and islands, the wanted mass, and what they do to the blank.

Rules and defaults are those of trade.md 3.8 ([C], [J]: common practice and judgement, no source); areas, walls and
centres are closed forms worked out beside each test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks import findings
from pipeline.checks.voids import voids
from pipeline.core.errors import Refused
from pipeline.core.recipe import HardwarePart, Sheet, Step
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import capsule, disc, rectangle
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.steps.chambers import Solid, problems
from pipeline.steps.chambers_solve import without
from pipeline.steps.edge import Edge, Treatment
from pipeline.steps.fits import Shape
from pipeline.steps.mirror import mirrored
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Derived, Result, World
from pipeline.workshop.sequence import sequence
from tests.readback import CASES
from tests.steps.factory import SHEETS, body_w, step, world

BODY = step("body", "outline", drawn=("body",))
THREE = ("birch12 A", "birch12 B", "birch12 C")
WIDE, HIGH = 200.0, 100.0
BLOCK = solid(rectangle(WIDE, HIGH))
RADIUS = 4.0
"""Half of the built-in shop's widest cutter, 8."""
ROUND = (4 - math.pi) * RADIUS**2
"""What four corners of that radius leave."""
G_PER_MM2 = 11.7 * 680e-6
"""Of the middle one of three laminations without glue lines."""
PLAIN_G = WIDE * HIGH * (11.8 + 11.7 + 11.9) * 680e-6


def stacked(
    *steps: Step,
    outline: Region = BLOCK,
    laminations: tuple[str, ...] = THREE,
    cut: tuple[str, ...] = ("hollows",),
    hardware: Mapping[str, HardwarePart] | None = None,
    marks: Mapping[str, tuple[float, float]] | None = None,
    **fields: object,
) -> dict[str, Result]:
    """All results of a body, some steps, and a stack called blank."""
    blank = step("blank", "stack", outline="body", laminations=laminations, cut=cut, **fields)
    w = world(BODY, *steps, blank, drawn={"body": outline}, hardware=hardware, marks=marks)
    recipe = replace(w.recipe, sheets={**SHEETS, "glass": Sheet(measured={"A": 5.0})})
    results: dict[str, Result] = {}
    for s in recipe.steps.values():
        results[s.name] = KINDS[s.kind].make(
            s.name, s.spec, World(recipe=recipe, drawing=w.drawing, results=results)
        )
    return results


def hollows(name: str = "hollows", **fields: object) -> Step:
    return step(name, "chambers", **{"in_": "body", "laminations": (2,), **fields})


def blank(*steps: Step, **fields: Any) -> Result:
    return stacked(*steps, **fields)["blank"]


def row(result: Result) -> dict[str, Any]:
    (found,) = result.numbers["chambers"]
    return dict(found)


def gap(a: Region, b: shapely.Geometry) -> float:
    """Distance of two flattened shapes, right to two flattenings of 0.001."""
    return float(shapely.distance(a.polygon, b))


# -- the rule ----------------------------------------------------------------------------------------
def test_one_chamber_in_a_rectangle_is_the_rectangle_less_walls_and_corners() -> None:
    """(w − 2 wall)(h − 2 wall) − (4 − π) r²."""
    made = blank(hollows(cell=500.0))
    (cut,) = made.cuts
    assert cut.name == "hollows"
    assert cut.region.area == pytest.approx((WIDE - 24) * (HIGH - 24) - ROUND, abs=1e-6)
    assert cut.region.bounds == pytest.approx((-88, -38, 88, 38), abs=1e-9)
    assert (cut.lamination, cut.depth.rule) == (2, "sheet")


def test_a_chamber_longer_than_a_cell_gets_a_web_in_its_middle() -> None:
    """176 long with cells of at most 120 and webs of 10: two of (176 − 10)/2 = 83."""
    made = blank(hollows())
    assert [c.name for c in made.cuts] == ["hollows-1", "hollows-2"]
    for cut in made.cuts:
        assert cut.region.area == pytest.approx(83 * 76 - ROUND, abs=1e-6)
    assert made.cuts[0].region.bounds[2] == pytest.approx(-5, abs=1e-9)


@pytest.mark.parametrize(("cell", "columns", "rows"), [(83.0, 2, 1), (82.0, 3, 1), (60.0, 3, 2), (30.0, 5, 3)])
def test_cells_fill_the_room_in_equal_parts(cell: float, columns: int, rows: int) -> None:
    """n = ⌈(L + web)/(cell + web)⌉ of (L − (n − 1) web)/n each; webs stand on whole hundredths."""
    made = blank(hollows(cell=cell))
    wide, high = (176 - (columns - 1) * 10) / columns, (76 - (rows - 1) * 10) / rows
    assert len(made.cuts) == columns * rows
    for cut in made.cuts:
        x0, y0, x1, y1 = cut.region.bounds
        assert x1 - x0 == pytest.approx(wide, abs=0.011)
        assert y1 - y0 == pytest.approx(high, abs=0.011)


def test_the_recipe_says_which_cutter_rounds_the_corners() -> None:
    (cut,) = blank(hollows(cell=500.0, cutter=20.0)).cuts
    assert cut.region.area == pytest.approx(176 * 76 - (4 - math.pi) * 100, abs=1e-6)


@pytest.mark.parametrize(("wide", "kept"), [(54.0, False), (58.0, True)])
def test_what_is_smaller_than_a_bore_of_25_is_left_out_and_told(wide: float, kept: bool) -> None:
    """Behind walls of 12 a block of 54 × 40 has 30 × 16 less corners = 466 mm², 58 × 40 has 530; the bore 491."""
    made = blank(hollows(), outline=solid(rectangle(wide, 40.0)))
    assert bool(made.cuts) is kept
    assert row(made)["dropped"] == int(not kept)
    assert ("smaller than a bore" in made.reports[1]) is not kept
    assert [f.check for f in made.findings if f.check == "chambers-none"] == ["chambers-none"] * (not kept)


CONTROL = step(
    "control", "cavity", opening=Shape(rectangle=(60.0, 40.0)), centre=(-40.0, 0.0), face="back", floor=4.0
)
PEGS = step("pegs", "holes", at=((60.0, 10.0),), diameter=(6.0,), through=True)


def test_walls_and_webs_are_kept_from_everything() -> None:
    made = stacked(CONTROL, PEGS, hollows(web=11.0, wall=13.0), cut=("control", "pegs", "hollows"))
    cells = [c.region for c in made["blank"].cuts]
    assert len(cells) >= 2
    edge = BLOCK.polygon.boundary
    for cell in cells:
        assert gap(cell, edge) >= 13 - 0.003
        for other in ("control", "pegs"):
            assert gap(cell, made[other].cuts[0].region.polygon) >= 11 - 0.003
    assert min(gap(a, b.polygon) for a, b in combinations(cells, 2)) >= 11 - 0.011
    assert min(gap(c, edge) for c in cells) == pytest.approx(13, abs=0.003)
    assert min(gap(c, made["control"].cuts[0].region.polygon) for c in cells) == pytest.approx(11, abs=0.003)


def covered(made: Result, x: float, y: float) -> bool:
    return any(shapely.contains_xy(c.region.polygon, x, y) for c in made.cuts)


@pytest.mark.parametrize(("remains", "kept"), [(28.4, True), (28.6, False)])
def test_a_cavity_above_counts_within_five_millimetres(remains: float, kept: bool) -> None:
    """Lamination 2 ends at z 23.5: a front pocket that leaves 28.4 has its floor 4.9 above it, 28.6 5.1."""
    pocket = step("pocket", "cavity", opening=Shape(rectangle=(30.0, 30.0)), centre=(50.0, 0.0), floor=remains)
    made = blank(pocket, hollows(), cut=("pocket", "hollows"))
    assert covered(made, 50.0, 0.0) is not kept


@pytest.mark.parametrize(("depth", "kept"), [(6.7, False), (6.9, True)])
def test_a_cavity_below_counts_within_five_millimetres(depth: float, kept: bool) -> None:
    """Lamination 2 begins at z 11.8."""
    pocket = step(
        "pocket", "cavity", opening=Shape(rectangle=(30.0, 30.0)), centre=(50.0, 0.0), face="back", depth=depth
    )
    assert covered(blank(pocket, hollows(), cut=("pocket", "hollows")), 50.0, 0.0) is not kept


def test_a_sloped_floor_counts_from_where_it_comes_near() -> None:
    """z 35.4 − 4.9 − s·tan 10° = 28.5 at s = 2.0/tan 10° = 11.34 from the shallow end at x 20."""
    from pipeline.steps.cavity import Tilt

    ramp = step(
        "ramp",
        "cavity",
        opening=Shape(rectangle=(60.0, 30.0)),
        centre=(50.0, 0.0),
        depth=4.9,
        tilt=Tilt(angle=10.0, deeper="+x"),
    )
    made = blank(ramp, hollows(cell=500.0), cut=("ramp", "hollows"))
    begins = 20 + 2.0 / math.tan(math.radians(10))
    (cell,) = [c for c in made.cuts if shapely.contains_xy(c.region.polygon, 0.0, 0.0)]
    across = shapely.intersection(cell.region.polygon, shapely.LineString([(0, 0), (90, 0)]))
    assert across.bounds[2] == pytest.approx(begins - 10, abs=0.01)


def test_what_is_cut_by_hand_or_in_the_blank_counts_too() -> None:
    for field in ("by_hand", "cut_blank"):
        made = blank(CONTROL, hollows(), **{field: ("control",)})
        assert made.cuts
        assert min(gap(c.region, shapely.box(-70, -20, -10, 20)) for c in made.cuts) >= 10 - 0.003


def test_a_channel_in_another_lamination_counts_when_it_lies_near() -> None:
    a, b = (
        replace(PEGS, name=n, spec=replace(PEGS.spec, at=(at,))) for n, at in (("a", (-60, 0)), ("b", (60, 0)))
    )
    wire = step("wire", "channel", from_="a", to="b", width=8.0, lamination=3, face="front", depth=6.0)
    far = blank(a, b, wire, hollows(), cut=("a", "b", "wire", "hollows"))
    assert covered(far, 20.0, 0.0)  # z 29.4 to 35.4, 5.9 above
    near = replace(wire, spec=replace(wire.spec, depth=7.0))
    made = blank(a, b, near, hollows(), cut=("a", "b", "wire", "hollows"))
    strip = solid(capsule((-60.0, 0.0), (60.0, 0.0), 8.0)).polygon
    assert min(gap(c.region, strip) for c in made.cuts) == pytest.approx(10, abs=0.003)


def test_keep_outs_of_bought_parts_and_spots_stay_solid() -> None:
    hardware = {
        "bridge": HardwarePart(at=(-30.0, 0.0, 42.0), size=(40.0, 20.0, 12.0), keep_out=5.0),
        "button": HardwarePart(at=(100.0, 0.0, 18.0), keep_out=15.0),
        "lamp": HardwarePart(at=(70.0, 0.0, 18.0), size=(5.0, 5.0)),
    }
    spots = (Solid(at=(30.0, 20.0), radius=4.0), Solid(at="mark", radius=3.0), Solid(of="pegs", radius=2.0))
    made = blank(PEGS, hollows(keep_off=spots), hardware=hardware, marks={"mark": (-80.0, -30.0)})
    cells = [c.region for c in made.cuts]
    kept = [
        shapely.box(-50, -10, -10, 10).buffer(5),
        disc(100, 0, 15).polygon,
        disc(30, 20, 4).polygon,
        disc(-80, -30, 3).polygon,
        disc(60, 10, 5).polygon,
    ]
    for solid_wood in kept:
        assert min(gap(c, solid_wood) for c in cells) == pytest.approx(10, abs=0.02)
    assert covered(made, 70.0, -5.0)


def test_islands_hang_on_webs() -> None:
    """A pin in the middle of a chamber would float with the wood round it; so would a keep-out."""
    pins = replace(PEGS, spec=replace(PEGS.spec, at=((-40.0, 5.0), (40.0, -5.0), (0.0, 0.0))))
    made = blank(pins, hollows(cell=500.0), cut=("pegs", "hollows"))
    assert len(made.cuts) == 4
    assert all(not p.holes for c in made.cuts for p in c.region.parts)
    assert [len(p.cut.parts) for p in made.pieces] == [1, 1, 1]
    assert not [f for f in made.findings if f.check == "lamination-split"]


def test_chambers_either_side_of_a_neck_keep_a_web() -> None:
    """Two keep-outs leave a neck of 6, too narrow for the cutter of 8: the rooms beside it don't come nearer
    than a web."""
    spots = (Solid(at=(0.0, 33.0), radius=20.0), Solid(at=(0.0, -33.0), radius=20.0))
    made = blank(hollows(cell=500.0, keep_off=spots))
    a, b = made.cuts
    assert gap(a.region, b.region.polygon) >= 10 - 0.011


def test_chambers_of_several_laminations_share_their_plan() -> None:
    made = blank(hollows(laminations=(3, 2)), laminations=("birch12 A", "birch12 B", "birch12 B", "birch12 C"))
    assert [(c.name, c.lamination) for c in made.cuts] == [
        ("hollows-1", 2),
        ("hollows-2", 2),
        ("hollows-3", 3),
        ("hollows-4", 3),
    ]
    assert made.cuts[0].region is made.cuts[2].region
    assert row(made)["glue_area_lost_mm2"] == pytest.approx([2 * (83 * 76 - ROUND)] * 3, abs=1e-6)


def test_a_second_set_keeps_off_the_first() -> None:
    first, second = hollows("first", in_="south"), hollows("second")
    south = step("south", "outline", drawn=("south",))
    blank_ = step("blank", "stack", outline="body", laminations=THREE, cut=("first", "second"))
    half = solid(rectangle(WIDE, HIGH / 2, y=-25.0))
    w = world(BODY, south, first, second, blank_, drawn={"body": BLOCK, "south": half})
    results: dict[str, Result] = {}
    for s in w.recipe.steps.values():
        now = World(recipe=w.recipe, drawing=w.drawing, results=results)
        results[s.name] = KINDS[s.kind].make(s.name, s.spec, now)
    by_step = {n: [c.region for c in results["blank"].cuts if c.step == n] for n in ("first", "second")}
    assert by_step["first"]
    assert by_step["second"]
    assert all(gap(a, b.polygon) >= 10 - 0.011 for a in by_step["first"] for b in by_step["second"])


# -- a wanted mass ---------------------------------------------------------------------------------
@pytest.mark.parametrize("target", [385.0, 400.0, 425.0, 450.0])
def test_the_wall_is_the_root_of_the_quadratic(target: float) -> None:
    """(w − 2x)(h − 2x) − (4 − π) r² = (plain − target)/(ρ t): 4x² − 2(w + h)x + wh − A = 0. (Below 385 the
    least wall of 12 can't do it.)"""
    made = blank(hollows(cell=500.0, target=target))
    area = (PLAIN_G - target) / G_PER_MM2 + ROUND
    half = (WIDE + HIGH) / 2
    x = (half - math.sqrt(half**2 - (WIDE * HIGH - area))) / 2
    assert row(made)["wall_mm"] == pytest.approx(x, abs=0.01)
    assert made.blanks[0].mass_g == pytest.approx(target, abs=0.2)
    assert row(made)["after_g"] == pytest.approx(made.blanks[0].mass_g, abs=1e-6)


def test_body_of_the_trade_comes_to_a_wanted_mass() -> None:
    made = blank(CONTROL, hollows(target=1150.0), outline=body_w(), cut=("control", "hollows"))
    assert made.blanks[0].mass_g == pytest.approx(1150.0, abs=1.0)
    assert not [f for f in made.findings if f.check == "chambers-target"]
    found = row(made)
    assert found["centre_after_at_mm"] == pytest.approx(made.blanks[0].centre_mm, abs=1e-6)
    plain = blank(CONTROL, hollows(target=5000.0), outline=body_w(), cut=("control", "hollows"))
    assert found["centre_before_at_mm"] == pytest.approx(plain.blanks[0].centre_mm, abs=1e-6)
    assert found["before_g"] == pytest.approx(plain.blanks[0].mass_g, abs=1e-6)
    assert [b - a for a, b in zip(found["centre_before_at_mm"], found["centre_after_at_mm"], strict=True)] == (
        pytest.approx(found["shift_at_mm"])
    )


def test_shift_of_the_centre_is_the_oracle_of_the_trade() -> None:
    """trade.md 10: 3.9 kg with G at 250, 0.25 kg taken at 40 → 264.4 (+14.4)."""
    left = without(3900.0, (250.0, 0.0, 0.0), [(250.0, (40.0, 0.0, 0.0))])
    assert left.mass_g == 3650.0
    assert left.centre_mm[0] == pytest.approx(264.4, abs=0.05)


@pytest.mark.parametrize("target", [300.0, 600.0])
def test_what_cannot_be_reached_says_the_least_and_the_most(target: float) -> None:
    """Least: 2 cells of 83 × 76; most: the plain block."""
    made = blank(hollows(target=target))
    least = PLAIN_G - 2 * (83 * 76 - ROUND) * G_PER_MM2
    (found,) = [f for f in made.findings if f.check == "chambers-target"]
    assert (found.severity, found.unit, found.limit) == ("ask", "g", target)
    assert found.measured == pytest.approx(least if target < least else PLAIN_G, abs=0.01)
    assert f"{least:.1f} g" in found.message
    assert f"{PLAIN_G:.1f} g" in found.message
    assert f"{least:.0f} to {PLAIN_G:.0f} g" in found.remedy


def test_where_a_wall_alone_jumps_a_chamber_is_filled_in_part() -> None:
    """Two cells of 491 fall away together at 473.6 g: what lies between is reached by one of them."""
    for target in (474.5, 476.0, 477.3):
        made = blank(hollows(target=target))
        assert len(made.cuts) == 1
        assert made.blanks[0].mass_g == pytest.approx(target, abs=1.0)
        assert row(made)["filled"]


def test_less_than_one_bore_cannot_be_taken() -> None:
    """A bore of 25 takes 3.9 g: 480 lies between that and the plain block."""
    made = blank(hollows(target=480.0))
    (found,) = [f for f in made.findings if f.check == "chambers-target"]
    assert made.cuts == ()
    assert "a bore of 25 mm" in found.remedy


@settings(max_examples=12, deadline=None)
@given(
    wide=st.floats(120, 260),
    high=st.floats(80, 160),
    spot=st.tuples(st.floats(-50, 50), st.floats(-30, 30), st.floats(2, 12)),
    cell=st.floats(60, 140),
    part=st.floats(0.05, 0.95),
)
def test_every_mass_between_is_reached_and_grows_with_the_target(
    wide: float, high: float, spot: tuple[float, float, float], cell: float, part: float
) -> None:
    outline = solid(rectangle(wide, high))
    off = (Solid(at=spot[:2], radius=spot[2]),)
    full = row(blank(hollows(cell=cell, keep_off=off), outline=outline))
    bore = math.pi * 12.5**2 * G_PER_MM2
    low, high_g = full["after_g"], full["before_g"] - 2 * bore
    if low >= high_g:
        return
    masses = []
    for share in (part, min(part + 0.1, 1.0)):
        target = low + (high_g - low) * share
        made = blank(hollows(cell=cell, keep_off=off, target=target), outline=outline)
        mass = made.blanks[0].mass_g
        assert mass is not None
        told = [f for f in made.findings if f.check == "chambers-target"]
        assert abs(mass - target) <= 1.0 or told
        assert [len(p.cut.parts) for p in made.pieces] == [1, 1, 1]
        for c in made.cuts:
            assert (
                max(c.region.bounds[2] - c.region.bounds[0], c.region.bounds[3] - c.region.bounds[1])
                <= cell + 0.02
            )
            assert gap(c.region, outline.polygon.boundary) >= row(made)["wall_mm"] - 0.003
            assert gap(c.region, disc(*spot).polygon) >= 10 - 0.003
        masses.append(mass)
    assert masses[0] <= masses[1] + 2.0


# -- what it does to the stack ---------------------------------------------------------------------
def test_glue_area_lost_is_what_the_joints_lose() -> None:
    full, made = (blank(CONTROL, h, cut=("control", "hollows")) for h in (hollows(target=9999.0), hollows()))

    def joints(r: Result) -> list[float]:
        shapes = [p.region.polygon for p in r.pieces]
        return [shapely.intersection(a, b).area for a, b in pairwise(shapes)]

    lost = [a - b for a, b in zip(joints(full), joints(made), strict=True)]
    assert row(made)["glue_area_lost_mm2"] == pytest.approx(lost, abs=0.1)
    assert row(made)["volume_mm3"] == pytest.approx(lost[0] * 11.7, abs=2.0)


def test_chambers_are_ordinary_openings_of_their_lamination() -> None:
    made = blank(hollows())
    assert [len(p.region.parts[0].holes) for p in made.pieces] == [0, 2, 0]
    (op,) = [o for s in made.pieces[1].set_ups for o in s.ops if o.work == "CUT_INSIDE"]
    assert len(op.contours) == 2
    work = made.numbers["laminations"][1]["work"]
    assert [(w["cut"], w["action"]) for w in work] == [("hollows-1", "through"), ("hollows-2", "through")]


def test_a_measured_blank_touches_no_flat_piece() -> None:
    steps = (CONTROL, hollows(target=400.0))
    made = stacked(*steps, cut=("hollows",), cut_blank=("control",))
    w = world(BODY, *steps, step("blank", "stack", outline="body", laminations=THREE, cut=("hollows",),
              cut_blank=("control",)), drawn={"body": BLOCK})  # fmt: skip
    now = World(recipe=w.recipe, drawing=w.drawing, results=made, blank_measured={"blank": 36.3})
    spec = w.recipe.steps["blank"].spec
    again = KINDS["stack"].make("blank", spec, now)
    assert again.blanks[0].thickness_mm == 36.3
    assert [c.region.bounds for c in again.cuts] == [c.region.bounds for c in made["blank"].cuts]


def test_skins() -> None:
    back = blank(hollows(laminations=(1,)))
    (found,) = [f for f in back.findings if f.check == "chambers-skin"]
    assert (found.severity, found.face, found.measured) == ("stop", "back", 0.0)
    thin = blank(hollows(laminations=(2,)), laminations=("ply3 A", "birch12 A", "birch12 B"))
    (found,) = [f for f in thin.findings if f.check == "chambers-skin"]
    assert (found.severity, found.face, found.measured, found.limit) == ("ask", "back", 3.1, 5.0)
    assert "1.90 mm thicker" in found.remedy
    assert not [f for f in blank(hollows()).findings if f.check == "chambers-skin"]


def test_a_rounded_edge_wants_a_thicker_wall() -> None:
    """trade.md 3.8: the rounding's radius + 6 at least."""
    for radius, told in ((6.0, False), (9.0, True)):
        made = blank(hollows(), edge=Edge(front=(Treatment(round=radius),)))
        found = [f for f in made.findings if f.check == "chambers-edge"]
        assert bool(found) is told
        assert [(f.measured, f.limit) for f in found] == [(12.0, 15.0)] * told


# -- what is refused -------------------------------------------------------------------------------
@pytest.mark.parametrize("field", ["cut_blank", "by_hand"])
def test_chambers_are_cut_before_glue_up_or_not_at_all(field: str) -> None:
    with pytest.raises(Refused, match="lies hidden between the laminations") as caught:
        blank(hollows(), cut=(), **{field: ("hollows",)})
    assert "before glue-up" in caught.value.problems[0].expected


def test_a_panel_has_no_inside() -> None:
    panel = step("panel", "outline", drawn=("body",), sheet="mdf9", cut=("hollows",))
    with pytest.raises(Refused, match="lies hidden"):
        stacked(hollows(), panel)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"laminations": (4,)}, "names lamination 4, and blank has 3"),
        ({"laminations": (2, 2)}, "names a lamination twice"),
        ({"laminations": ()}, "names no lamination"),
        ({"wall": 1.0}, "A wall of 1"),
        ({"web": 2.0}, "A web of 2"),
        ({"keep_off": (Solid(at=(0.0, 0.0)),)}, "which place stays solid"),
        ({"keep_off": (Solid(radius=3.0),)}, "which place stays solid"),
        ({"keep_off": (Solid(at="nowhere", radius=3.0),)}, "no mark called"),
    ],
)
def test_rules_that_cannot_be(fields: dict[str, Any], message: str) -> None:
    with pytest.raises(Refused, match=message):
        blank(hollows(**fields))


def test_a_mass_needs_every_density() -> None:
    with pytest.raises(Refused, match="not every sheet has a density"):
        blank(hollows(target=400.0), laminations=("birch12 A", "birch12 B", "glass"))
    assert blank(hollows(), laminations=("birch12 A", "birch12 B", "glass")).cuts


def test_one_stack_has_one_wanted_mass() -> None:
    a, b = hollows("a", target=400.0), hollows("b", target=380.0)
    w = world(BODY, a, b, step("blank", "stack", outline="body", laminations=THREE, cut=("a", "b")))
    assert [p.wrong for p in problems(b, w.recipe)] == ["a and b both give blank a mass to reach."]
    assert list(problems(a, w.recipe)) == []


@pytest.mark.parametrize("written", ["1.2 kg", '"1.2 kg"', "1200", "1200 g"])
def test_the_recipe_line_reads(tmp_path: Path, written: str) -> None:
    (tmp_path / "d.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"/>', encoding="utf-8"
    )
    line = f"{{kind: chambers, in: body, laminations: [2], wall: 12, web: 10, target: {written}}}"
    (tmp_path / "d.yaml").write_text(
        f"design: d\ndrawing: d.svg\nsteps:\n  body: {{kind: outline, drawn: body}}\n  hollows: {line}\n",
        encoding="utf-8",
    )
    step_ = read_recipe(tmp_path / "d.yaml").steps["hollows"]
    assert step_.spec.target == 1200.0
    assert dict(step_.needs) == {"body": "in"}


# -- the whole way -----------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def case() -> Derived:
    recipe = read_recipe(CASES / "chambers" / "chambers.yaml")
    return derive(recipe, read_drawing(recipe))


def test_the_laminations_are_weighed_before_they_are_glued(case: Derived) -> None:
    """As cut they weigh 1200 g, and the pocket of 60 × 44 × 16 that is cut in the blank, less two glue lines of
    0.05 that the blank counts as wood."""
    lines = [w.work for w in sequence(case)]
    (weigh,) = [i for i, w in enumerate(lines) if w.startswith("weigh the laminations")]
    (press,) = [i for i, w in enumerate(lines) if "press" in w]
    assert weigh < press
    pocket = (60 * 44 - (4 - math.pi) * 6.5**2) * 16 * 680e-6
    joints = case.results["blank"].numbers["glue_area_mm2"]
    glue = sum(joints) * 0.05 * 680e-6
    said = float(lines[weigh].partition("(")[2].partition(" g")[0])
    assert said == pytest.approx(1200 + pocket - glue, abs=1.5)


def test_the_other_hand_has_the_same_chambers_mirrored(case: Derived) -> None:
    other = mirrored(case)
    for a, b in zip(case.results["blank"].cuts, other.results["blank"].cuts, strict=True):
        x0, y0, x1, y1 = a.region.bounds
        assert b.region.bounds == pytest.approx((x0, -y1, x1, -y0), abs=1e-9)
    here, there = row(case.results["blank"]), row(other.results["blank"])
    assert there["after_g"] == here["after_g"]
    assert there["shift_at_mm"][1] == -here["shift_at_mm"][1]
    assert there["webs"][0]["bounds_mm"][1] == -here["webs"][0]["bounds_mm"][3]


def test_no_check_is_alarmed_by_chambers(case: Derived) -> None:
    """Their heights are told to the checks; what is found speaks of the cavity near the edge alone."""
    told = findings(case)
    assert [f.check for f in told if f.step == "hollows" or "hollows" in f.message] == []
    (void, *_) = [v for v in voids(case, case.blanks[0]) if v.step.name == "hollows"]
    assert void.span(void.shape) == pytest.approx((11.85, 23.55))
