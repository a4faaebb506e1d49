"""Balance of whole designs: what is finished weighs and where, how marks, hands and stands are taken, its
findings."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.checks import balance as check_balance
from pipeline.checks.view import View
from pipeline.core.balance import Balance, Device, Legs, Stands
from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import HardwarePart
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.steps.mirror import mirrored
from pipeline.steps.values import Derived, Drawn, EdgeRun, Mark, Result
from pipeline.workshop.balance import balance_of
from pipeline.workshop.mass import left_out, mass_and_centre, shares, unknown
from tests.workshop.factory import body_w, derived, of_pieces, piece

HOME = Path(__file__).parents[2]
NECK = {
    "neck": HardwarePart(mass=500.0, at=(400.0, 0.0, 30.0)),
    "keys": HardwarePart(count=4, mass=40.0, at=(800.0, 0.0, 20.0)),
}
HELD = Balance(seat=(40.0, -110.0), strap=((260.0, 60.0), (-95.0, 5.0)), nut=(700.0, 0.0), strap_length=1100.0)


def marked(design: Derived, **marks: tuple[float, float]) -> Derived:
    """The design with marks in its drawing."""
    objects = {
        n: Drawn(name=n, region=None, lines=(), mark=Mark(name=n, at=at), place=Place(file="wren.svg"))
        for n, at in marks.items()
    }
    return replace(design, drawing=replace(design.drawing, objects=objects))


def asked(design: Derived, balance: Balance | None, **more: Any) -> Derived:
    return replace(design, recipe=replace(design.recipe, balance=balance, **more))


def found(design: Derived) -> dict[str, Finding]:
    return {f.check: f for f in check_balance.check(View(derived=design))}


# -- mass of the finished thing -----------------------------------------------------------------------
def test_a_body_with_one_pocket_in_closed_form(tmp_path: Path) -> None:
    """A body 200 × 100 of three sheets (11.8, 11.7, 11.9, no glue line) at 680 kg/m³ with one pocket 60 × 40 ×
    15 from the front about (50, 10): m = ρ(V − v), G = (V·G₀ − v·g)/(V − v), z of the pocket T − 15/2."""
    made = built(
        tmp_path,
        "",
        "pocket: {kind: cavity, opening: {rectangle: [60, 40]}, centre: [150, 60], depth: 15, face: front}",
        "cut_blank: [pocket]",
    )
    t, v0, v1 = 35.4, 200 * 100 * 35.4, 60 * 40 * 15.0
    mass, centre = mass_and_centre(made)
    assert mass == pytest.approx((v0 - v1) * 680e-6, rel=1e-9)
    want = [(v0 * a - v1 * b) / (v0 - v1) for a, b in ((100.0, 150.0), (50.0, 60.0), (t / 2, t - 7.5))]
    assert centre == pytest.approx(want, abs=1e-6)


def built(tmp: Path, top: str, steps: str, stack: str) -> Derived:
    """A box 200 × 100 from (0, 0), glued of three sheets, with these steps."""
    (tmp / "box.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">'
        '<path id="body" fill="none" stroke="#000" d="M0 200H200V100H0Z"/></svg>',
        encoding="utf-8",
    )
    (tmp / "box.yaml").write_text(
        "design: box\ndrawing: box.svg\n"
        "sheets: {ply: {measured: {A: 11.8, B: 11.7, C: 11.9}, nominal: 12, grain: x, density: 680}}\n"
        f"{top}\nsteps:\n  body: {{kind: outline, drawn: body}}\n  {steps}\n"
        f"  blank: {{kind: stack, outline: body, laminations: [ply A, ply B, ply C], {stack}}}\n",
        encoding="utf-8",
    )
    recipe = read_recipe(tmp / "box.yaml")
    return derive(recipe, read_drawing(recipe))


def test_what_is_cut_by_hand_is_gone_from_the_finished_thing(tmp_path: Path) -> None:
    """The same pocket by hand or by machine: the blank differs, the finished thing doesn't."""
    steps = "pocket: {kind: cavity, opening: {rectangle: [60, 40]}, centre: [150, 60], depth: 15, face: front}"
    by_hand, by_machine = (built(tmp_path, "", steps, f"{field}: [pocket]") for field in ("by_hand", "cut_blank"))
    assert by_hand.blanks[0].mass_g == pytest.approx(200 * 100 * 35.4 * 680e-6)
    assert mass_and_centre(by_hand)[0] == pytest.approx(mass_and_centre(by_machine)[0])
    assert mass_and_centre(by_hand)[1] == pytest.approx(mass_and_centre(by_machine)[1])
    names = [s.name for s in shares(by_hand)]
    assert names == ["blank", "blank, cut by hand"]


def test_what_was_cut_before_is_not_gone_twice(tmp_path: Path) -> None:
    """A cavity that is cut before glue-up and trimmed by hand after it takes nothing more."""
    steps = "pocket: {kind: cavity, opening: {rectangle: [60, 40]}, centre: [150, 60], through: true, face: front}"
    trimmed = built(tmp_path, "", steps, "opening_allowance: 1, cut: [pocket], by_hand: [pocket]")
    assert [s.name for s in shares(trimmed)] == ["blank"]
    assert mass_and_centre(trimmed)[0] == pytest.approx((200 * 100 - 60 * 40) * 35.4 * 680e-6)


def test_a_rounded_edge_all_round_a_box_by_columns(tmp_path: Path) -> None:
    """Round 8 on the front edge of the box: mass and centre against columns of 0.25 × 0.25, whose heights follow
    the quarter circle over the distance from the edge; at the box's corners the lesser distance counts."""
    made = built(tmp_path, "", "other: {kind: outline, drawn: body}", "edge: {front: {round: 8}}")
    mass, centre = mass_and_centre(made)
    x, y = (g.ravel() for g in np.meshgrid(np.arange(0.125, 200, 0.25), np.arange(0.125, 100, 0.25)))
    away = np.minimum.reduce([x, 200 - x, y, 100 - y])
    down = np.where(away < 8, 8 - np.sqrt(np.maximum(0.0, 64 - (8 - away) ** 2)), 0.0)
    high = 35.4 - down
    volume = float(high.sum())
    want = [float((high * v).sum()) / volume for v in (x, y, high / 2)]
    assert mass == pytest.approx(volume * 0.0625 * 680e-6, rel=2e-4)
    assert centre == pytest.approx(want, abs=0.02)


def test_a_rounding_along_a_part_of_the_edge_pulls_the_other_way() -> None:
    """A half ring of edge: what goes lies at its wire's middle 2r/π (outside checks M3), shifted inward by
    0.2234 r of the fillet, so the rest moves away from it by mass × distance over what is left."""
    half = Region(disc(0, 0, 100.0).parts)
    xy = [(100.0, 0.0), (-100.0, 0.0)]
    from pipeline.geometry.contour import chain

    edge, inner = (chain([(k * x, y) for x, y in xy], [1.0, 0.0], closed=False) for k in (1.0, 0.9))
    run = EdgeRun(face="front", kind="round", size_mm=10.0, edge=edge, lines=(inner,), from_mm=0.0, to_mm=314.0)
    design = body_w()
    blank = replace(
        design.blanks[0], region=half, thickness_mm=40.0, mass_g=1000.0, centre_mm=(0.0, 0.0, 20.0), edges=(run,)
    )
    result = replace(
        design.results["blank"],
        blanks=(blank,),
        numbers={"edge": [{"face": "front", "kind": "round", "removed_mm3": 1.0, "removed_g": 50.0}]},
    )
    design = derived(result, steps=(design.recipe.steps["blank"],))
    share = (10 - 3 * math.pi) / (12 - 3 * math.pi)
    assert share == pytest.approx(0.2234, abs=5e-5)  # centroid of the spandrel of a quarter circle, by its radius
    middle = 2 / math.pi * (100 - 10 * share)
    mass, centre = mass_and_centre(design)
    assert mass == 950.0
    assert centre == pytest.approx((0.0, -50 * middle / 950, (20_000 - 50 * (40 - 10 * share)) / 950), abs=2e-3)


def test_a_hollow_is_said_to_be_left_out() -> None:
    design = body_w()
    result = replace(
        design.results["blank"], numbers={"edge": [{"face": "back", "kind": "scoop", "depth_mm": 8.0}]}
    )
    design = replace(design, results={**design.results, "blank": result})
    assert left_out(design) == (
        "The hollow on the back edge of blank is not counted: carve it, and weigh what is left.",
    )
    assert mass_and_centre(design)[0] == 1275.5


# -- places of panels ----------------------------------------------------------------------------------
def test_layers_lie_where_the_recipe_says() -> None:
    """Two plates as drawn at heights 0 and 10 and one stood up: by sums of moments."""
    plates = [
        piece("low", solid(rectangle(100, 60)), mass_g=300.0, thickness_mm=10.0),
        piece("high", solid(rectangle(40, 40, x=30)), mass_g=100.0, thickness_mm=10.0),
        piece("leg", solid(rectangle(20, 20, x=500)), mass_g=50.0, thickness_mm=10.0),
    ]
    bare = of_pieces(*plates)
    assert mass_and_centre(bare) == (450.0, None)
    assert unknown(bare) == (
        "low, high and leg have a mass but no places, so the centre of mass can't be told. Say where they lie: "
        "`balance: {pieces: …}`.",
    )
    told = asked(bare, Balance(pieces={"low": 0.0, "high": 10.0, "leg": (0.0, 45.0, 60.0)}))
    assert mass_and_centre(told)[1] == pytest.approx((100 * 30 / 450, 50 * 45 / 450, (1500 + 1500 + 3000) / 450))
    assert unknown(told) == ()


def test_a_name_that_is_no_piece_is_told() -> None:
    design = asked(of_pieces(piece("low", disc(0, 0, 50.0), mass_g=300.0)), Balance(pieces={"lwo": 0.0}))
    b = balance_of(design)
    assert b is not None
    assert b.untold == (
        "`balance: {pieces: …}` names lwo, which is no panel or cover of the finished object; those are low.",
    )


def test_a_panel_with_pockets_in_closed_form(tmp_path: Path) -> None:
    """A plate 200 × 100 × 11.8 with a pocket 60 × 40 × 5 from the back: as for the body, z of the pocket 2.5."""
    made = built(
        tmp_path,
        "",
        "pocket: {kind: cavity, opening: {rectangle: [60, 40]}, centre: [150, 60], depth: 5, face: back}\n"
        "  plate: {kind: outline, drawn: body, sheet: ply A, cut: [pocket]}",
        "glue: 0",
    )
    only = replace(made, results={n: r for n, r in made.results.items() if n != "blank"})
    v0, v1 = 200 * 100 * 11.8, 60 * 40 * 5.0
    mass, centre = mass_and_centre(only)
    assert mass == pytest.approx((v0 - v1) * 680e-6, rel=1e-9)
    want = [(v0 * a - v1 * b) / (v0 - v1) for a, b in ((100.0, 150.0), (50.0, 60.0), (5.9, 2.5))]
    assert centre == pytest.approx(want, abs=1e-6)


# -- held ----------------------------------------------------------------------------------------------
def test_body_w_with_a_neck() -> None:
    """All numbers by hand from the sum of moments of body W (trade.md 10.1), a cover and two parts."""
    b = balance_of(asked(body_w(hardware=NECK), HELD))
    assert b is not None
    assert b.centre_mm is not None
    mass = 1266.0 + 9.5 + 500.0 + 160.0
    x = (1266 * 49.87 + 9.5 * -30 + 500 * 400 + 160 * 800) / mass
    y = (1266 * 2.84 + 9.5 * -45) / mass
    assert b.mass_g == mass
    assert b.centre_mm[:2] == pytest.approx((x, y))
    assert b.now is not None
    assert b.now.index == pytest.approx((x + 95) / 355)
    assert b.now.seat is not None
    assert b.now.seat.hand_n == pytest.approx(mass * 9.80665e-3 * (x - 100) / 600)
    assert [v.name.split(" ")[0] for v in b.tried] == ["front", "keys", "neck", "50", "50"]


def test_marks_or_points_say_the_same() -> None:
    by_point = balance_of(asked(body_w(hardware=NECK), HELD))
    named = replace(HELD, seat="sit", strap=("a", "b"), nut="n")
    design = marked(body_w(hardware=NECK), sit=(40.0, -110.0), a=(260.0, 60.0), b=(-95.0, 5.0), n=(700.0, 0.0))
    by_mark = balance_of(asked(design, named))
    assert by_point is not None
    assert by_mark is not None
    assert (by_point.now, by_point.tried, by_point.strap) == (by_mark.now, by_mark.tried, by_mark.strap)


def test_the_other_hand_balances_as_well() -> None:
    """A left-handed design is mirrored and played the other way up: every number stays, its centre is mirrored."""
    whole = Balance(
        seat="sit", strap=((200.0, 60.0), (-95.0, 5.0)), nut=(700.0, 0.0), handle=((-20.0, 60.0), (60.0, 90.0)),
        hang=(30.0, 100.0), pieces={},
    )  # fmt: skip
    right = asked(marked(body_w(hardware=NECK), sit=(40.0, -110.0)), whole)
    left = mirrored(asked(right, whole, mirrored=True))
    a, b = balance_of(right), balance_of(left)
    assert a is not None
    assert b is not None
    assert a.centre_mm is not None
    assert b.centre_mm is not None
    assert b.centre_mm == pytest.approx((a.centre_mm[0], -a.centre_mm[1], a.centre_mm[2]))
    assert a.now is not None
    assert b.now is not None
    assert b.now.centre == pytest.approx(a.now.centre)
    assert (b.now.index, b.now.seat) == (pytest.approx(a.now.index), a.now.seat)
    assert b.now.hang is not None
    assert a.now.hang is not None
    assert b.now.hang.friction == pytest.approx(a.now.hang.friction)
    assert b.carried is not None
    assert a.carried is not None
    assert b.carried[0] == pytest.approx(a.carried[0])
    assert b.hung is not None
    assert a.hung is not None
    assert b.hung[1].tilt_deg == pytest.approx(a.hung[1].tilt_deg)
    assert [v.name for v in b.tried] == [v.name for v in a.tried]


def test_heron_as_it_is_and_as_it_would_be() -> None:
    """The demo: its left-handed variant hangs alike, and the horn that its report advises does what it says when
    the button is moved in the recipe."""
    recipe = read_recipe(HOME / "configs/recipes/heron.yaml")
    drawing = read_drawing(recipe)
    design = derive(recipe, drawing)
    b = balance_of(design)
    assert b is not None
    assert b.best is not None
    assert b.best.name.startswith("front button 25 mm nearer the nut")
    front = drawing.objects["strap-front"].mark
    assert front is not None
    assert recipe.balance is not None
    longer = replace(recipe.balance, strap=((front.at[0] + 25.0, front.at[1]), "strap-back"))
    again = balance_of(asked(design, longer))
    assert again is not None
    assert again.now is not None
    assert again.now.index == pytest.approx(b.best.after.index)
    assert again.now.hang is not None
    assert b.best.after.hang is not None
    assert again.now.hang.rest_deg == b.best.after.hang.rest_deg
    # Heavier hardware in the recipe is the lever "bridge heavier by 50 g".
    bridge = replace(recipe.hardware["bridge"], mass=190.0)
    heavy = balance_of(asked(design, recipe.balance, hardware={**recipe.hardware, "bridge": bridge}))
    lever = next(v for v in b.tried if v.name == "bridge heavier by 50 g")
    assert heavy is not None
    assert heavy.now is not None
    assert heavy.now.centre == pytest.approx(lever.after.centre)
    assert heavy.now.hang is not None
    assert lever.after.hang is not None
    assert heavy.now.hang.rest_deg == pytest.approx(lever.after.hang.rest_deg, abs=1e-6)


def test_heron_without_its_hollows() -> None:
    """The lever "left solid" is the demo built without its chambers."""
    recipe = read_recipe(HOME / "configs/recipes/heron.yaml")
    drawing = read_drawing(recipe)
    b = balance_of(derive(recipe, drawing))
    steps = {n: s for n, s in recipe.steps.items() if n != "hollows"}
    blank = steps["blank"]
    spec = replace(blank.spec, cut=tuple(n for n in blank.spec.cut if n != "hollows"))
    needs = {n: r for n, r in blank.needs.items() if n != "hollows"}
    solid_one = replace(recipe, steps={**steps, "blank": replace(blank, spec=spec, needs=needs)})
    mass, centre = mass_and_centre(derive(solid_one, drawing))
    assert b is not None
    lever = next(v for v in b.tried if v.name.endswith("left solid"))
    assert mass is not None
    assert centre is not None
    assert lever.after.mass_g == pytest.approx(mass, abs=0.01)
    assert lever.after.centre == pytest.approx(centre[:2], abs=0.001)


# -- findings ------------------------------------------------------------------------------------------
def test_nothing_asked_nothing_told() -> None:
    assert balance_of(body_w(hardware=NECK)) is None
    assert found(body_w(hardware=NECK)) == {}


def test_a_heavy_head_is_told_with_what_would_mend_it() -> None:
    """The hand's limit is 2 N (trade.md 10.3); the grams that the remedy names bring it there."""
    heavy = {**NECK, "keys": HardwarePart(count=4, mass=90.0, at=(800.0, 0.0, 20.0))}
    told = found(asked(body_w(hardware=heavy), HELD))
    seat = told["balance-seat"]
    assert (seat.severity, seat.limit, seat.unit) == ("ask", 2.0, "N")
    assert seat.measured is not None
    assert seat.measured > 2.0
    grams = float(seat.remedy.split("about ")[1].split(" g")[0])
    mended = {**heavy, "ballast": HardwarePart(mass=grams, at=(-95.0, 0.0, 0.0))}
    b = balance_of(asked(body_w(hardware=mended), HELD))
    assert b is not None
    assert b.now is not None
    assert b.now.seat is not None
    assert b.now.seat.hand_n == pytest.approx(2.0, abs=0.01)


def test_beyond_the_front_button_is_an_ask_with_the_way_back() -> None:
    short = replace(HELD, strap=((150.0, 60.0), (-95.0, 5.0)))
    told = found(asked(body_w(hardware=NECK), short))["balance-strap"]
    b = balance_of(asked(body_w(hardware=NECK), short))
    assert b is not None
    assert b.centre_mm is not None
    assert told.severity == "ask"
    assert told.measured == pytest.approx(b.centre_mm[0] - 150.0)
    out = replace(short, strap=((150.0 + math.ceil(told.measured or 0.0) + 1, 60.0), (-95.0, 5.0)))
    assert "balance-strap" not in found(asked(body_w(hardware=NECK), out))


def test_a_slippery_strap_is_a_note_and_a_rough_one_is_none() -> None:
    told = found(asked(body_w(hardware=NECK), replace(HELD, friction=0.1)))["balance-slides"]
    assert (told.severity, told.limit) == ("note", 0.1)
    assert told.measured is not None
    for friction, noted in ((told.measured - 0.001, True), (told.measured + 0.001, False)):
        assert ("balance-slides" in found(asked(body_w(hardware=NECK), replace(HELD, friction=friction)))) == noted


def stool_of(**more: Any) -> Derived:
    """A seat plate and three legs, whose places nobody gave."""
    parts = [
        piece("seat", disc(0, 0, 160.0), mass_g=1900.0),
        piece("leg", solid(rectangle(30, 400)), mass_g=350.0, count=3),
    ]
    legs: dict[str, Any] = {"count": 3, "radius": 170.0, "seat": 160.0} | more
    return asked(of_pieces(*parts), Balance(legs=Legs(**legs)))


def test_a_stool_that_tips() -> None:
    """3 legs on 170: r_t 85; 80 kg at 160 turns 80·75, 2.95 kg hold 2.95·85."""
    told = found(stool_of())["balance-legs"]
    assert (told.severity, told.measured) == ("ask", 160.0)
    assert told.limit == pytest.approx(85 + 2950 * 85 / 80_000, abs=1e-3)
    assert found(stool_of(radius=330.0)) == {}
    b = balance_of(stool_of())
    assert b is not None
    assert b.mass_g == 2950.0
    assert any("middle of its feet" in line for line in b.untold)
    with pytest.raises(ValueError, match="three legs"):
        Legs(count=2, radius=170.0, seat=160.0)


def riser(device: tuple[float, float, float]) -> Derived:
    plate = piece("plate", solid(rectangle(240, 120)), mass_g=400.0, step="plate")
    stands = Stands(on="plate", device=Device(mass=1600.0, at=device))
    result = Result(step="plate", kind="outline", region=solid(rectangle(240, 120)), pieces=(plate,))
    return asked(derived(result), Balance(stands=stands))


def test_a_riser_keeps_its_device_over_its_base() -> None:
    """trade.md 10.4: G of the device over the base by 20 or more; both together stand where the moments say."""
    assert found(riser((0.0, 10.0, 80.0))) == {}
    told = found(riser((0.0, 45.0, 80.0)))["balance-base"]
    assert told.severity == "ask"
    assert told.measured == pytest.approx(15.0)
    b = balance_of(riser((0.0, 45.0, 80.0)))
    assert b is not None
    assert b.standing is not None
    assert b.standing.inside_mm == pytest.approx(60 - 1600 * 45 / 2000)
    high = (400 * 5.9 + 1600 * 80) / 2000
    assert b.standing.lean_deg == pytest.approx(math.degrees(math.atan(24 / high)))


def test_a_nail_under_the_centre_and_a_handle_beside_it() -> None:
    design = body_w()
    told = found(asked(design, Balance(hang=(50.0, -40.0), handle=((-20.0, 40.0), (120.0, 40.0)))))
    assert told["balance-hang"].severity == "ask"
    assert told["balance-handle"].severity == "note"
    mass = 1275.5
    y = (1266 * 2.84 + 9.5 * -45) / mass
    assert told["balance-handle"].measured == pytest.approx(40 - y)
    assert told["balance-hang"].measured == pytest.approx(-40 - y)
    assert found(asked(design, Balance(hang=(50.0, 90.0), handle=((-20.0, 10.0), (120.0, 10.0))))) == {}


def test_what_cannot_be_told_is_told() -> None:
    design = asked(body_w(hardware={"keys": HardwarePart(mass=100.0)}), HELD)
    told = found(design)["balance-unknown"]
    assert told.severity == "note"
    assert "keys has a mass but no place" in told.message


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"strap": ("a",)}, "two buttons"),
        ({"handle": ("a", "b", "c")}, "two ends"),
        ({"strap_set": (500.0, 600.0)}, "needs the two buttons"),
    ],
)
def test_fields_that_make_no_sense_together(values: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Balance(**values)


# -- as written in a recipe ----------------------------------------------------------------------------
PLAIN = "other: {kind: outline, drawn: body}"


def test_everything_can_be_written(tmp_path: Path) -> None:
    """Marks, points, arithmetic and units, as the recipe's language has them."""
    top = (
        "parameters: {reach: 40}\n"
        'balance: {seat: [reach, 0], thigh: 55, strap: [[190, "reach + 50"], [5, 50]], strap_length: 1.1 m,\n'
        "  friction: 0.3,\n"
        "  strap_set: [500, 600], nut: [600, 50], handle: [[50, 95], [150, 95]], hang: [100, 95], up: +y,\n"
        "  legs: {count: 4, radius: 180, centre: [100, 50], first: 45, seat: 100, load: 90 kg},\n"
        "  stands: {on: body, device: {mass: 1.5 kg, at: [100, 50, 60]}}, pieces: {plate: [10, 20, 30], lid: 35.4}}"
    )
    b = built(tmp_path, top, PLAIN, "glue: 0").recipe.balance
    assert b is not None
    assert (b.seat, b.strap) == ((40.0, 0.0), ((190.0, 90.0), (5.0, 50.0)))
    assert (b.strap_length, b.strap_set, b.thigh, b.friction) == (1100.0, (500.0, 600.0), 55.0, 0.3)
    assert b.legs == Legs(count=4, radius=180.0, centre=(100.0, 50.0), first=45.0, seat=100.0, load=90_000.0)
    assert b.stands == Stands(on="body", device=Device(mass=1500.0, at=(100.0, 50.0, 60.0)))
    assert b.pieces == {"plate": (10.0, 20.0, 30.0), "lid": 35.4}


@pytest.mark.parametrize(
    ("balance", "said"),
    [
        ("{seat: knee}", 'nothing called "knee"'),
        ("{strap: [[0, 0], peg]}", 'nothing called "peg"'),
        ("{legs: {count: 3, radius: 9, seat: 9, centre: hub}}", 'nothing called "hub"'),
        ("{handle: [rail]}", 'nothing called "rail"'),
        ("{stands: {on: bodi}}", '"bodi"'),
        ("{strap: [[0, 0]]}", "two buttons"),
        ("{legs: {count: 2, radius: 9, seat: 9}}", "three legs"),
        ("{friction: -1}", "at least 0"),
        ("{up: north}", "north"),
        ("{belt: 3}", "not known"),
    ],
)
def test_what_is_wrong_is_refused_with_its_place(tmp_path: Path, balance: str, said: str) -> None:
    with pytest.raises(Refused) as caught:
        built(tmp_path, f"balance: {balance}", PLAIN, "glue: 0")
    problem = caught.value.problems[0]
    assert said in problem.wrong
    assert problem.place is not None
    assert (problem.place.file, problem.place.line) == ("box.yaml", 4)


def test_a_drawn_line_is_the_line_of_a_hand(tmp_path: Path) -> None:
    design = built(tmp_path, "", PLAIN, "glue: 0")
    rail = Mark(name="rail", at=(100.0, 90.0), ends=((60.0, 90.0), (140.0, 90.0)))
    drawn = Drawn(name="rail", region=None, lines=(), mark=rail, place=Place(file="box.svg"))
    design = replace(design, drawing=replace(design.drawing, objects={**design.drawing.objects, "rail": drawn}))
    b = balance_of(asked(design, Balance(handle=("rail",))))
    assert b is not None
    assert b.carried is not None
    assert b.carried[0] == pytest.approx(40.0)
