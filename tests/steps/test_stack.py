"""Stacks: what is cut in each lamination, what in the glued blank, and what is said about it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.core.recipe import Sheet, Step
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.path import build
from pipeline.steps.cavity import Ledge, Tilt
from pipeline.steps.fits import Shape
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Op, Piece, Result, SetUp, World
from tests.readback import CASES, packet_folder
from tests.steps.factory import SHEETS, body_w, step, world

VENEER = Sheet(measured={"A": 0.6}, density=680.0)
BLOCK = solid(rectangle(200, 100))
BODY = step("body", "outline", drawn=("body",))
NECK = step(
    "neck",
    "cavity",
    opening=Shape(rectangle=(60.0, 42.2), corner=6.5),
    centre=(202.0, 0.0),
    depth=16.0,
    tilt=Tilt(angle=2.0, deeper="+x"),
    open="+x",
)
CONTROL = step(
    "control",
    "cavity",
    opening=Shape(rectangle=(80.0, 45.0), corner=8.0),
    centre=(-30.0, -45.0),
    face="back",
    floor=4.0,
    ledge=Ledge(width=4.5, depth=3.0),
)
PINS = step("pins", "holes", at=((-115.0, 0.0), (247.0, 0.0)), diameter=(6.0, 8.0), role="index", through=True)


def cavity(name: str, width: float = 30.0, height: float = 20.0, **fields: object) -> Step:
    given = {"opening": Shape(rectangle=(width, height)), "centre": (0.0, 0.0), **fields}
    return step(name, "cavity", **given)


def made(
    *steps: Step, outline: Region = BLOCK, measured: Mapping[str, float] | None = None, **spec: object
) -> dict[str, Result]:
    """The results of a body, some steps and a stack called blank."""
    given = {"outline": "body", "laminations": ("birch12 A", "birch12 B"), **spec}
    blank = step("blank", "stack", **given)
    w = world(BODY, *steps, blank, drawn={"body": outline})
    recipe = replace(w.recipe, sheets={**SHEETS, "veneer": VENEER})
    results: dict[str, Result] = {}
    for s in recipe.steps.values():
        now = World(recipe=recipe, drawing=w.drawing, results=results, blank_measured=measured or {})
        results[s.name] = KINDS[s.kind].make(s.name, s.spec, now)
    return results


def body_of_trade(**spec: object) -> Result:
    """trade.md's body W: 11.8, 11.7, 11.9 and a veneer of 0.6, glue 0.05."""
    sheets = ("birch12 A", "birch12 B", "birch12 C", "veneer A")
    given = {"laminations": sheets, "glue": 0.05, "cut": ("neck", "control"), **spec}
    return made(NECK, CONTROL, PINS, outline=body_w(), **given)["blank"]


def ops(set_ups: tuple[SetUp, ...]) -> Iterator[tuple[str, str, Op]]:
    """(face, work, op) of everything in some set-ups."""
    for s in set_ups:
        for op in s.ops:
            assert op.face == s.face
            yield s.face, op.work, op


def works(set_ups: tuple[SetUp, ...], *leave: str) -> list[tuple[str, str, str]]:
    return [(face, work, op.step) for face, work, op in ops(set_ups) if work not in leave]


def actions(result: Result) -> list[list[tuple[str, str, float, float]]]:
    return [
        [(w["cut"], w["action"], round(w["depth_mm"], 2), round(w["deep_mm"], 2)) for w in row["work"]]
        for row in result.numbers["laminations"]
    ]


def one(piece: Piece | SetUp, work: str) -> Op:
    every = piece.set_ups if isinstance(piece, Piece) else (piece,)
    (op,) = (op for s in every for op in s.ops if op.work == work)
    return op


# -- body W -----------------------------------------------------------------------------------------
def test_body_w_lamination_by_lamination() -> None:
    """trade.md 3.7, worked: the neck's ramp pockets lamination 2 by 3.40 to 5.50 (3.40 + 2.095 from 12.60 to
    18.095 below the front) and goes through 3 and the veneer; the control cavity goes through 1 and 2 and is
    8.55 deep in 3, from its back; the recess, 3 deep, is in lamination 1."""
    blank = body_of_trade()
    assert actions(blank) == [
        [("control", "through", 11.8, 11.8), ("control recess", "pocket", 3.0, 3.0)],
        [("neck", "ramp", 3.4, 5.5), ("control", "through", 11.7, 11.7)],
        [("neck", "through", 11.9, 11.9), ("control", "pocket", 8.55, 8.55)],
        [("neck", "through", 0.6, 0.6)],
    ]
    third = blank.numbers["laminations"][2]["work"][1]
    assert (third["face"], round(third["remains_mm"], 2)) == ("back", 3.35)
    assert blank.numbers["thickness_mm"] == pytest.approx(36.15)
    assert [[round(z, 2) for z in v] for v in blank.numbers["spans_mm"]] == [
        [0.0, 11.8],
        [11.85, 23.55],
        [23.6, 35.5],
        [35.55, 36.15],
    ]
    assert [p.name for p in blank.pieces] == ["blank-1", "blank-2", "blank-3", "blank-4"]
    assert "36.15 mm thick" in blank.reports[0]


def test_body_w_as_cut_in_the_blank() -> None:
    """The same in the glued blank: one ramp from 16 to 18.095 and a pocket of 32.15, whole; the trade's heights
    z 20.15, 18.05 and 32.15; weighs 1.266 kg and hangs at (49.87, 2.84) (trade.md 10.1)."""
    blank = body_of_trade(cut=(), cut_blank=("neck", "control", "body"))
    (thing,) = blank.blanks
    assert [s.face for s in thing.set_ups] == ["back", "front"]
    ramp = one(thing.set_ups[1], "RAMP")
    assert (ramp.depth_mm, round(ramp.deep_mm or 0, 3)) == (16.0, 18.095)
    assert [round(o.depth_mm or 0, 2) for _, w, o in ops(thing.set_ups) if w == "POCKET"] == [32.15, 3.0]
    rows = {r["cut"]: r for r in blank.numbers["cuts"]}
    assert (round(rows["neck"]["floor_z_mm"], 2), round(rows["neck"]["deep_floor_z_mm"], 3)) == (20.15, 18.055)
    assert rows["control"]["floor_z_mm"] == pytest.approx(32.15)
    assert rows["control"]["remains_mm"] == pytest.approx(4.0)
    assert thing.mass_g is not None
    assert thing.centre_mm is not None
    assert round(thing.mass_g / 1000, 3) == 1.266
    assert (round(thing.centre_mm[0], 2), round(thing.centre_mm[1], 2)) == (49.87, 2.84)
    assert all(row["work"] == [] for row in blank.numbers["laminations"])


def test_a_ramp_table_follows_the_slope() -> None:
    """d(x) = 16 + (x - 172) tan 2 degrees at every row, along the pocket's middle; rows at both own ends and at
    least every 10 mm between (blueprint: a ramp table)."""
    (thing,) = body_of_trade(cut=(), cut_blank=("neck",)).blanks
    table = one(thing.set_ups[0], "RAMP").ramp
    assert {172.0, 232.0} <= {round(x, 6) for x, _, _ in table}
    own = [x for x, _, _ in table if x <= 232.0 + 1e-9]  # past it the overrun has its end alone
    assert max(b - a for a, b in pairwise(own)) <= 10.0 + 1e-9
    for x, y, d in table:
        assert y == pytest.approx(0.0, abs=1e-9)
        assert d == pytest.approx(16 + (x - 172) * math.tan(math.radians(2)), abs=1e-9)


# -- ramps over glue lines ---------------------------------------------------------------------------
def test_a_ramp_is_split_where_it_crosses_a_glue_line() -> None:
    """10 deep at x -50, 5 degrees toward +x, sheets 11.8 and 11.7 glued by 0.05: the front one ends 11.70 and the
    back one begins 11.75 below the front, met at -50 + 1.70/tan 5 degrees = -30.569 and at -50 + 1.75/tan 5
    degrees = -29.997 (trade.md 3.7). Before that a ramp from 10.00 to 11.70, behind it an opening."""
    ramp = cavity("slope", 100, 40, depth=10.0, tilt=Tilt(angle=5.0, deeper="+x"))
    blank = made(ramp, cut=("slope",), glue=0.05)["blank"]
    lower, upper = blank.pieces
    (row,) = blank.numbers["cuts"]
    assert [(round(c["z_mm"], 2), round(c["at_mm"], 3)) for c in row["crossings"]] == [
        (11.8, -29.997),
        (11.85, -30.569),
    ]
    band = one(upper, "RAMP")
    assert (band.depth_mm, round(band.deep_mm or 0, 6)) == (10.0, 11.7)
    x0, _, x1, _ = band.contours[0].bounds
    assert (x0, round(x1, 3)) == (-50.0, -30.569)
    x0, _, x1, _ = one(upper, "CUT_INSIDE").contours[0].bounds
    assert (round(x0, 3), x1) == (-30.569, 50.0)
    below = one(lower, "RAMP")
    deep = 10 + 100 * math.tan(math.radians(5)) - 11.75
    assert (round(below.depth_mm or 0, 6), below.deep_mm) == (0.0, pytest.approx(deep))
    assert below.contours[0].bounds[0] == pytest.approx(-29.997, abs=5e-4)


def test_a_ramp_by_its_floor() -> None:
    """6 remain of 23.5 at the deep end: 17.5 there, 40 tan 3 degrees less at the other; it grows toward -y."""
    ramp = cavity("slope", 50, 40, floor=6.0, tilt=Tilt(angle=3.0, deeper="-y"))
    (thing,) = made(ramp, cut_blank=("slope",))["blank"].blanks
    op = one(thing.set_ups[0], "RAMP")
    assert op.deep_mm == pytest.approx(17.5)
    assert op.depth_mm == pytest.approx(17.5 - 40 * math.tan(math.radians(3)))
    assert [round(y) for _, y, _ in op.ramp][:: len(op.ramp) - 1] == [20, -20]


# -- flat floors and faces ----------------------------------------------------------------------------
def test_depth_governs_or_floor_governs() -> None:
    """In 23.5 of wood a depth of 15 leaves 8.5, a floor of 15 is 8.5 deep; both from the front, upper sheet 11.7:
    15 goes through it and 3.3 into the next."""
    deep = made(cavity("a", depth=15.0), cut=("a",))["blank"]
    assert actions(deep) == [[("a", "pocket", 3.3, 3.3)], [("a", "through", 11.7, 11.7)]]
    high = made(cavity("a", floor=15.0), cut=("a",))["blank"]
    assert actions(high) == [[], [("a", "pocket", 8.5, 8.5)]]
    assert [r["remains_mm"] for r in (*deep.numbers["cuts"], *high.numbers["cuts"])] == pytest.approx([8.5, 15.0])


def test_a_lamination_weighs_what_its_pockets_leave() -> None:
    """200 x 100 x 11.7 less 30 x 20 x 8.5, at 680 kg/m3."""
    _, upper = made(cavity("a", floor=15.0), cut=("a",))["blank"].pieces
    assert upper.mass_g == pytest.approx((200 * 100 * 11.7 - 600 * 8.5) * 680e-6)
    assert upper.region.area == pytest.approx(20_000)


def test_two_faces_of_one_lamination() -> None:
    """A pocket from either face: back first, the pins bored there and shown as INDEX in front; through
    contours in the front one, REFERENCE in the back one (blueprint, set-ups)."""
    pins = step("pins", "holes", at=((-90.0, 0.0), (90.0, 0.0)), diameter=(6.0,), role="index", through=True)
    front = cavity("a", depth=3.0, centre=(-40.0, 0.0))
    back = cavity("b", depth=3.0, centre=(40.0, 0.0), face="back")
    window = cavity("w", 10, 10, through=True)
    blank = made(front, back, window, pins, laminations=("birch12 A",), cut=("a", "b", "w"), ears="pins")["blank"]
    (piece,) = blank.pieces
    assert piece.name == "blank"
    assert [(f, w) for f, w, _ in works(piece.set_ups)] == [
        ("back", "DRILL"),
        ("back", "DRILL"),
        ("back", "POCKET"),
        ("back", "REFERENCE"),
        ("front", "INDEX"),
        ("front", "INDEX"),
        ("front", "POCKET"),
        ("front", "CUT_INSIDE"),
        ("front", "CUT_OUTSIDE"),
    ]
    reference = one(piece.set_ups[0], "REFERENCE")
    through = one(piece, "CUT_OUTSIDE").contours + one(piece, "CUT_INSIDE").contours
    assert {c.bounds for c in reference.contours} == {c.bounds for c in through}


def test_through_holes_are_drilled_by_a_router_and_cut_by_a_laser() -> None:
    """A round hole is no contour to a router: DRILL with its diameter. A laser cuts a circle, pins too."""
    hole = step("hole", "holes", at=((10.0, 5.0),), diameter=(4.0,), through=True)
    pins = step("pins", "holes", at=((-90.0, 0.0),), diameter=(6.0,), role="index", through=True)
    (wood,) = made(hole, pins, laminations=("birch12 A",), cut=("hole", "pins"))["blank"].pieces
    assert works(wood.set_ups) == [
        ("front", "DRILL", "pins"),
        ("front", "DRILL", "hole"),
        ("front", "CUT_OUTSIDE", ""),
    ]
    drilled = [op for _, w, op in ops(wood.set_ups) if w == "DRILL"]
    assert [(op.diameter_mm, op.through, op.depth_mm) for op in drilled] == [(6.0, True, None), (4.0, True, None)]
    (thin,) = made(hole, pins, laminations=("ply3",), cut=("hole", "pins"))["blank"].pieces
    assert [w for _, w, _ in works(thin.set_ups)] == ["CUT_INSIDE", "CUT_INSIDE", "CUT_OUTSIDE"]
    for piece in (wood, thin):
        assert piece.region.area == pytest.approx(20_000 - math.pi * (2**2 + 3**2))


# -- channels -------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("depth", "want"), [(None, ("through", 11.7)), (5.0, ("pocket", 5.0))])
def test_a_channel_is_cut_in_its_lamination_alone(depth: float | None, want: tuple[str, float]) -> None:
    """Blueprint: a channel takes the full thickness of its lamination unless it says how deep."""
    a, b = cavity("a", depth=24.0, centre=(-60.0, 0.0)), cavity("b", depth=24.0, centre=(60.0, 0.0))
    wire = step("wire", "channel", from_="a", to="b", width=8.0, lamination=2, depth=depth)
    sheets = ("birch12 A", "birch12 B", "birch12 C")
    blank = made(a, b, wire, laminations=sheets, cut=("a", "b", "wire"))["blank"]
    found = [[w[1:3] for w in row if w[0] == "wire"] for row in actions(blank)]
    assert found == [[], [want], []]
    row = blank.numbers["cuts"][2]
    assert row["z_mm"] == pytest.approx([23.5 - want[1], 23.5])
    opening = [c for f, w, op in ops(blank.pieces[1].set_ups) if w == "CUT_INSIDE" for c in op.contours]
    # Through, the channel joins both openings into one; as a pocket it leaves two.
    assert len(opening) == (1 if depth is None else 2)


# -- lasers --------------------------------------------------------------------------------------------
def test_a_laser_leaves_half_a_depth_for_after_glue_up() -> None:
    """4.0 into two sheets of 3.1: through the front one, 0.90 into the back one, which a laser can't: it stays
    whole, the work is left, and a question says that 0.90 shallower would end on the glue line."""
    blank = made(cavity("a", depth=4.0), laminations=("ply3", "ply3"), cut=("a",))["blank"]
    lower, upper = blank.pieces
    assert (lower.shop, lower.cut.area) == ("laser", pytest.approx(20_000))
    assert upper.cut.area == pytest.approx(20_000 - 600)
    assert all(w != "POCKET" for p in blank.pieces for _, w, _ in ops(p.set_ups))
    assert actions(blank)[0] == [("a", "left for after glue-up", 0.9, 0.9)]
    assert blank.blanks[0].by_hand == ("a",)
    (finding,) = blank.findings
    assert (finding.check, finding.severity, finding.piece, finding.face) == (
        "laser-half-depth",
        "ask",
        "blank-1",
        "front",
    )
    assert finding.measured == pytest.approx(0.9)
    assert "0.90 shallower" in finding.remedy
    assert finding.at_mm is not None
    assert shapely.box(-15, -10, 15, 10).covers(shapely.Point(finding.at_mm))
    assert finding.place is not None


def test_a_laser_names_the_nearer_glue_line() -> None:
    """5.5 leaves 0.70 of the back sheet: 0.70 deeper is nearer than 2.40 shallower."""
    (finding,) = made(cavity("a", depth=5.5), laminations=("ply3", "ply3"), cut=("a",))["blank"].findings
    assert "0.70 deeper" in finding.remedy


# -- pins, ears, perimeter ------------------------------------------------------------------------------
def test_ears_carry_the_pins_and_have_no_sharp_corner() -> None:
    """Each pin stands in its ear with 9 mm of wood round it; the ear meets the edge with R 8: growing by just
    under 8 and shrinking again (closing) fills nothing. Away from the ears the edge is the cut edge itself."""
    blank = body_of_trade(cut=(), ears="pins", allowance=1.0)
    assert blank.numbers["ears"] == 2
    cut = shapely.union_all(shapely.Polygon(blank.pieces[0].cut.parts[0].polygon.exterior))
    edge = shapely.union_all(body_w().polygon).buffer(1.0, quad_segs=512)
    assert cut.buffer(0.01).covers(edge)
    for x, d in ((-115.0, 6.0), (247.0, 8.0)):
        rim = shapely.Point(x, 0).buffer(d / 2 + 9.0, quad_segs=256)
        assert rim.difference(cut).area < 0.05
    closed = cut.buffer(7.9, quad_segs=256).buffer(-7.9, quad_segs=256)
    assert closed.difference(cut).area < 0.1
    too_round = cut.buffer(12.0, quad_segs=256).buffer(-12.0, quad_segs=256)
    assert too_round.difference(cut).area > 1.0
    far = shapely.box(-60, -200, 180, 200)
    assert cut.intersection(far).symmetric_difference(edge.intersection(far)).area < 0.05
    assert blank.pieces[0].allowance_mm == 1.0
    assert blank.region is not None
    assert blank.region.area == pytest.approx(body_w().area)


def test_a_pin_well_inside_needs_no_ear() -> None:
    pins = step("pins", "holes", at=((-60.0, 0.0), (60.0, 0.0)), diameter=(6.0,), role="index", through=True)
    blank = made(pins, ears="pins", allowance=2.0)["blank"]
    assert blank.numbers["ears"] == 0
    # Cut edge: 200 x 100 grown by 2 with round corners, less two holes.
    assert blank.pieces[0].cut.area == pytest.approx(200 * 100 + 2 * 300 * 2 + math.pi * 4 - 2 * math.pi * 9)


def test_pins_are_bored_once() -> None:
    """In ears, each lamination is drilled and the blank shows INDEX only; pins that only the blank names are
    drilled in its back set-up, worked first, and INDEX in front."""
    early = body_of_trade(cut=(), cut_blank=("neck", "control"), ears="pins")
    for p in early.pieces:
        assert [w for _, w, s in works(p.set_ups) if s == "pins"] == ["DRILL", "DRILL"]
    assert [w for _, w, s in works(early.blanks[0].set_ups) if s == "pins"] == ["INDEX"] * 4
    late = body_of_trade(cut=(), cut_blank=("neck", "control", "pins"))
    assert all(s != "pins" for p in late.pieces for _, _, s in works(p.set_ups))
    assert [(f, w) for f, w, s in works(late.blanks[0].set_ups) if s == "pins"] == [
        ("back", "DRILL"),
        ("back", "DRILL"),
        ("front", "INDEX"),
        ("front", "INDEX"),
    ]


def test_the_perimeter_is_cut_in_the_blank_only_where_the_recipe_says() -> None:
    """cut_blank names the outline: CUT_OUTSIDE in front along the design edge, REFERENCE in the back. It doesn't:
    neither. Nothing named: the blank has no set-up at all."""
    with_it = body_of_trade(cut=(), cut_blank=("control", "body"), allowance=1.0).blanks[0]
    assert [(f, w, s) for f, w, s in works(with_it.set_ups) if s == "body"] == [
        ("back", "REFERENCE", "body"),
        ("front", "CUT_OUTSIDE", "body"),
    ]
    (edge,) = one(with_it.set_ups[1], "CUT_OUTSIDE").contours
    assert solid(edge).area == pytest.approx(body_w().area)
    (stock,) = one(with_it.set_ups[1], "STOCK").contours
    assert stock.bounds == pytest.approx((-101, -121, 233, 121))
    without = body_of_trade(cut=(), cut_blank=("control",)).blanks[0]
    assert [s.face for s in without.set_ups] == ["back"]
    assert all(s != "body" for _, _, s in works(without.set_ups))
    assert body_of_trade(cut_blank=()).blanks[0].set_ups == ()


def test_what_is_open_already_is_drawn_and_never_cut_again() -> None:
    """The neck pocket is cut before glue-up: the blank's front shows it as REFERENCE."""
    blank = body_of_trade(cut=("neck",), cut_blank=("body",)).blanks[0]
    assert works(blank.set_ups, "STOCK") == [("front", "CUT_OUTSIDE", "body"), ("front", "REFERENCE", "neck")]


# -- measured blanks, findings ---------------------------------------------------------------------------
def test_a_measured_blank_moves_what_keeps_its_floor_and_nothing_in_the_laminations() -> None:
    """trade.md 12.1, glued blank measured: depths that keep a floor change, nothing else. 35.40 instead of 36.15:
    the control cavity is 31.40 deep instead of 32.15, the neck's 16 and the recess's 3 stay."""
    spec = {"laminations": ("birch12 A", "birch12 B", "birch12 C", "veneer A"), "glue": 0.05}
    spec |= {"cut": ("hidden",), "cut_blank": ("neck", "control")}
    hidden = cavity("hidden", floor=10.0, centre=(60.0, 0.0))
    found = [
        made(NECK, CONTROL, hidden, outline=body_w(), measured=m, **spec)["blank"] for m in ({}, {"blank": 35.4})
    ]
    before, after = found
    assert after.numbers["thickness_mm"] == 35.4
    assert after.numbers["computed_thickness_mm"] == pytest.approx(36.15)
    depths = [[round(o.depth_mm or 0, 2) for _, w, o in ops(r.blanks[0].set_ups) if o.depth_mm] for r in found]
    assert depths == [[32.15, 3.0, 16.0], [31.4, 3.0, 16.0]]
    assert actions(before) == actions(after)
    assert any(row["work"] for row in before.numbers["laminations"])
    for p, q in zip(before.pieces, after.pieces, strict=True):
        assert (p.thickness_mm, p.cut.area, p.mass_g) == (q.thickness_mm, q.cut.area, q.mass_g)
        assert works(p.set_ups) == works(q.set_ups)
    assert "measured; the sheets and glue lines add up to 36.15" in after.reports[0]


@pytest.mark.parametrize(("measured", "asked"), [(37.15, False), (37.16, True), (35.0, True)])
def test_a_blank_that_measures_far_off_is_asked_about(measured: float, asked: bool) -> None:
    """More than 1 mm off 36.15 is no glue line any more [judged]; both numbers are told."""
    spec = {"laminations": ("birch12 A", "birch12 B", "birch12 C", "veneer A"), "glue": 0.05}
    blank = made(outline=body_w(), measured={"blank": measured}, **spec)["blank"]
    found = [f for f in blank.findings if f.check == "blank-measured"]
    assert [f.severity for f in found] == (["ask"] if asked else [])
    for f in found:
        assert f.measured == pytest.approx(abs(measured - 36.15))
        assert f"{measured:.2f}" in f.message
        assert "36.15" in f.message


def test_a_measured_blank_touches_no_flat_file(tmp_path: Path) -> None:
    """trade.md 12.1: after glue-up the made register's thickness re-issues the blank's depths; the laminations'
    files stay what they are, byte for byte, and so do their rows in the packet."""
    # 35.40 instead of 36.15: what keeps its floor of 4 is 31.40 deep instead of 32.15.
    text = (CASES / "body-w" / "body-w.yaml").read_text(encoding="utf-8")
    assert "cut: [neck_pocket, control], cut_blank: [body]" in text
    text = text.replace(
        "cut: [neck_pocket, control], cut_blank: [body]", "cut: [neck_pocket], cut_blank: [control]"
    )
    for name in ("body-w.svg", "long-shop.yaml"):
        (tmp_path / name).write_bytes((CASES / "body-w" / name).read_bytes())
    packets = []
    for letter, register in (("a", ""), ("b", "blanks: {blank: 35.4}\n")):
        (tmp_path / "body-w.yaml").write_text(f"{text}\nmade: body-w.made.yaml\n", encoding="utf-8")
        (tmp_path / "body-w.made.yaml").write_text(register, encoding="utf-8")
        folder = packet_folder(build([tmp_path / "body-w.yaml"], out=tmp_path / letter).data)
        packets.append((folder, json.loads((folder / "packet.json").read_text(encoding="utf-8"))))
    (folder_a, a), (folder_b, b) = packets
    assert a["pieces"] == b["pieces"]
    flat = [p for p in sorted(folder_a.glob("shops/*/*")) if "blank-" in p.name and p.suffix in (".dxf", ".svg")]
    assert len(flat) >= 8
    for p in flat:
        assert p.read_bytes() == (folder_b / p.relative_to(folder_a)).read_bytes()
    assert [v["thickness_mm"] for v in (a["blanks"][0], b["blanks"][0])] == [36.15, 35.4]
    layers = [
        {e.dxf.layer for e in ezdxf.readfile(next(iter(f.glob("shops/*/*blank_x1*.dxf")))).modelspace()}
        for f in (folder_a, folder_b)
    ]
    assert ["BACK_POCKET_Z32-15" in layers[0], "BACK_POCKET_Z31-40" in layers[1]] == [True, True]
    assert "BACK_POCKET_Z32-15" not in layers[1]


# -- openings that are trimmed later -----------------------------------------------------------------
def test_an_opening_that_is_trimmed_later_is_cut_smaller() -> None:
    """trade.md 6.3: shape ⊖ 1.0. 30 × 20 with corners of 5 becomes 28 × 18 with corners of 4 in the laminations;
    the design edge and the mass stay net, and so do holes and what is not cut again."""
    window = step(
        "w", "cavity", opening=Shape(rectangle=(30.0, 20.0), corner=5.0), centre=(0.0, 0.0), through=True
    )
    tray = step("t", "cavity", opening=Shape(rectangle=(30.0, 20.0), corner=5.0), centre=(-50.0, 0.0), depth=5.0)
    other = cavity("net", 10, 10, centre=(50.0, 0.0), through=True)
    hole = step("hole", "holes", at=((70.0, 5.0),), diameter=(4.0,), through=True)
    given = {"cut": ("w", "t", "net", "hole"), "by_hand": ("w", "t", "hole")}
    blank = made(window, tray, other, hole, opening_allowance=1.0, **given)["blank"]
    same = made(window, tray, other, hole, **given)["blank"]
    full, small = 600 - (4 - math.pi) * 25, 28 * 18 - (4 - math.pi) * 16
    for p, q in zip(blank.pieces, same.pieces, strict=True):
        assert p.cut.area == pytest.approx(20_000 - small - 100 - 4 * math.pi)
        assert q.cut.area == pytest.approx(20_000 - full - 100 - 4 * math.pi)
        assert p.region.area == pytest.approx(q.region.area)
        assert p.mass_g == pytest.approx(q.mass_g)
    (pocket,) = one(blank.pieces[1], "POCKET").contours
    assert solid(pocket).area == pytest.approx(small)
    assert blank.numbers["cuts"] == same.numbers["cuts"]
    assert [r["cut"] for r in blank.numbers["cuts"]] == ["w", "t", "net", "hole"]  # each told once
    assert blank.blanks[0].by_hand == ("w", "t", "hole")
    assert blank.blanks[0].mass_g == pytest.approx(same.blanks[0].mass_g)
    assert any("w and t are cut 1.00 mm smaller" in r for r in blank.reports)


def test_an_opening_allowance_that_nothing_trims_is_refused() -> None:
    with pytest.raises(Refused, match="none of them is trimmed"):
        made(cavity("a", through=True), cut=("a",), opening_allowance=1.0)


def test_a_stack_without_laminations_is_refused() -> None:
    with pytest.raises(Refused, match="has no laminations"):
        made(laminations=())


def test_a_lamination_that_falls_apart_stops() -> None:
    """A slot of 20 across all 100 of the block leaves two pieces of 90 x 100."""
    blank = made(cavity("slot", 20, 120, through=True), cut=("slot",))["blank"]
    assert [(f.check, f.severity, f.piece, f.measured) for f in blank.findings] == [
        ("lamination-split", "stop", "blank-1", 2.0),
        ("lamination-split", "stop", "blank-2", 2.0),
    ]
    assert [round(p.cut.area) for p in blank.pieces] == [18_000, 18_000]
    narrow = made(cavity("slot", 20, 90, through=True), cut=("slot",))["blank"]
    assert [f.check for f in narrow.findings] == ["glue-border"]  # 5 mm hold it together


@pytest.mark.parametrize(("depth", "severity"), [(8.5, None), (9.5, "ask"), (10.5, "stop")])
def test_a_thin_rest_of_a_lamination_is_said(depth: float, severity: str | None) -> None:
    """trade.md 3.7: less than two veneers (2.8) under a pocket is asked, less than one stops. Of 11.7: 3.2, 2.2
    and 1.2 remain."""
    blank = made(cavity("a", depth=depth), cut=("a",))["blank"]
    assert [f.severity for f in blank.findings] == ([severity] if severity else [])
    if severity:
        assert blank.findings[0].measured == pytest.approx(11.7 - depth)


def test_a_sheet_of_unknown_density_leaves_the_mass_open() -> None:
    blank = made(laminations=("birch12 A", "plain"))["blank"]
    assert (blank.blanks[0].mass_g, blank.blanks[0].centre_mm) == (None, None)
    assert [p.mass_g is None for p in blank.pieces] == [False, True]


def test_a_plain_block() -> None:
    """200 x 100 x 23.5 at 680 kg/m3, its centre in the middle, glued over its whole face."""
    (thing,) = (result := made()["blank"]).blanks
    assert thing.mass_g == pytest.approx(200 * 100 * 23.5 * 680e-6)
    assert thing.centre_mm == pytest.approx((0, 0, 11.75), abs=1e-9)
    assert result.numbers["glue_area_mm2"] == pytest.approx([20_000])
