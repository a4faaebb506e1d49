"""Fretboards: the scale against published and independent tables, edges, slots, marks and what is told of them."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Sheet
from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.scale import Board, Scale, sagitta
from pipeline.steps.fretboard import Crown, Joint, Markers, Slots, Spread, Width
from pipeline.steps.mirror import mirrored
from pipeline.steps.values import Derived, Op, Result, World
from tests.steps.factory import ROUTER, derived, step, world

SCALES = (650.0, 647.7, 628.65, 863.6, 330.0)
# Distances from the nut, mm, fret by fret for the five scales: outside_checks.md section 4, derived there with
# another program; three decimals agree with the published factors of M. Koch, *Building Electric Guitars*.
FRETS = (
    (1, 36.481697, 36.352608, 35.283413, 48.470144, 18.521477),
    (2, 70.915833, 70.6649, 68.586521, 94.219867, 36.003423),
    (3, 103.41733, 103.05139, 100.02047, 137.40186, 52.504183),
    (4, 134.09466, 133.62017, 129.69016, 178.16023, 68.078826),
    (5, 163.0502, 162.47325, 157.69463, 216.631, 82.779332),
    (6, 190.38059, 189.70694, 184.12732, 252.94258, 96.654762),
    (7, 216.17705, 215.41211, 209.07646, 287.21615, 109.75142),
    (8, 240.52566, 239.67457, 232.62532, 319.56609, 122.11303),
    (9, 263.50769, 262.57528, 254.85247, 350.10037, 133.78083),
    (10, 285.19983, 284.19067, 275.83212, 378.92089, 144.79376),
    (11, 305.67449, 304.59288, 295.63426, 406.12384, 155.18859),
    (12, 325, 323.85, 314.325, 431.8, 165),
    (13, 343.24085, 342.0263, 331.96671, 456.03507, 174.26074),
    (14, 360.45792, 359.18245, 348.61826, 478.90993, 183.00171),
    (15, 376.70867, 375.3757, 364.33523, 500.50093, 191.25209),
    (16, 392.04733, 390.66008, 379.17008, 520.88011, 199.03941),
    (17, 406.5251, 405.08663, 393.17231, 540.1155, 206.38967),
    (18, 420.1903, 418.70347, 406.38866, 558.27129, 213.32738),
    (19, 433.08852, 431.55606, 418.86323, 575.40808, 219.87571),
    (20, 445.26283, 443.68728, 430.63766, 591.58305, 226.05651),
    (21, 456.75384, 455.13764, 441.75124, 606.85018, 231.89041),
    (22, 467.59992, 465.94533, 452.24106, 621.26044, 237.39688),
    (23, 477.83725, 476.14644, 462.14213, 634.86192, 242.59429),
    (24, 487.5, 485.775, 471.4875, 647.7, 247.5),
)
SLOTTING = Shop(name="slotting", cutters=(Cutter(DC=0.58, APMX=4.0, LU=6.0, DMM=3.0), *ROUTER.cutters))


def made(name: str = "neck", *, thickness: float = 6.2, shop: Shop = SLOTTING, **fields: Any) -> Result:
    given = {"length": 430.0, "frets": 20, "width": Width(nut=32.0, last=44.0), **fields}
    w = world(step(name, "fretboard", **given), shops={"slotting": shop, "laser": LASER})
    sheets = {
        "ebony": Sheet(measured={"A": thickness}, density=1050.0),
        "ply4": Sheet(measured={"A": 4.0}, shop="laser"),
    }
    return derived(World(recipe=replace(w.recipe, sheets=sheets), drawing=w.drawing, results={}))[name]


LASER = Shop(name="laser", process="laser", kerf=0.18)


def ops(result: Result, work: str) -> list[Op]:
    return [op for p in result.pieces for s in p.set_ups for op in s.ops if op.work == work]


def checks(result: Result) -> list[tuple[str, str]]:
    return [(f.check, f.severity) for f in result.findings]


# -- the scale ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("column", range(5))
def test_five_scales(column: int) -> None:
    """All 24 frets; the table carries eight digits."""
    result = made(length=SCALES[column], frets=24)
    rows = result.numbers["frets"]
    assert [r["fret"] for r in rows] == list(range(1, 25))
    for row, wanted in zip(rows, FRETS, strict=True):
        assert row["from_nut_mm"] == pytest.approx(wanted[column + 1], abs=6e-6)


def test_the_oracle_of_the_trade() -> None:
    """trade.md 5.5 (published formula): S 430, three decimals."""
    rows = {r["fret"]: r["from_nut_mm"] for r in made(frets=24).numbers["frets"]}
    wanted = {1: 24.134, 2: 46.914, 5: 107.864, 7: 143.009, 12: 215.0, 20: 294.558, 24: 322.5}
    assert {n: round(rows[n], 3) for n in wanted} == wanted


def test_a_published_page() -> None:
    """outside_checks.md section 4 (read): L = 635, distances to the bridge."""
    rows = {r["fret"]: r["at_mm"][0] for r in made(length=635.0).numbers["frets"]}
    assert {n: round(rows[n], 3) for n in (1, 5, 7, 10)} == {1: 599.36, 5: 475.712, 7: 423.812, 10: 356.382}


def test_successive_division_comes_to_the_same() -> None:
    """The workshop's rule: each fret takes 1/17.817153745106 of what is left (outside_checks.md section 4)."""
    left = 650.0
    for row in made(length=650.0, frets=24).numbers["frets"]:
        left -= left / 17.817153745106
        assert row["at_mm"] == [pytest.approx(left, abs=1e-8), 0.0]


@pytest.mark.parametrize("divisions", [5, 7, 12, 19, 22, 24, 31, 53])
def test_other_divisions(divisions: int) -> None:
    """Each step is the same ratio, the octave lies at half the length, two octaves at three quarters."""
    result = made(divisions=divisions, frets=2 * divisions)
    assert result.numbers["octave_mm"] == 215.0
    x = [430.0, *(r["at_mm"][0] for r in result.numbers["frets"])]
    assert x[divisions] == 215.0
    assert x[2 * divisions] == 107.5
    ratios = [b / a for a, b in pairwise(x)]
    assert ratios == pytest.approx([0.5 ** (1 / divisions)] * len(ratios), rel=1e-13)


def test_a_fifth_of_nineteen_steps() -> None:
    """Eleven of 19 equal steps make 694.737 cents: 1200 · 11/19 (arithmetic of equal temperaments)."""
    x = made(divisions=19, frets=19).numbers["frets"][10]["at_mm"][0]
    assert 1200 * math.log2(430.0 / x) == pytest.approx(694.737, abs=5e-4)


# -- edges -------------------------------------------------------------------------------------------
def test_as_the_blueprint_writes_it() -> None:
    """No sheet: numbers and the shape from the nut line to the last fret; nothing is cut."""
    result = made()
    assert result.pieces == result.cuts == result.findings == ()
    assert result.region is not None
    reach = 430.0 * (1 - 2 ** (-20 / 12))
    assert result.region.area == pytest.approx((32 + 44) / 2 * reach)
    assert result.region.bounds == pytest.approx((430 - reach, -22, 430, 22))
    # Straight edges: half-way along the scale's used part the mean of both widths.
    octave = result.numbers["frets"][11]
    assert octave["width_mm"] == pytest.approx(32 + 12 * 215 / reach)


def test_edges_from_strings() -> None:
    """trade.md 5.5: width = spread + 2 margin, the spread straight from nut to bridge: 34 midway."""
    result = made(width=None, string_spacing=Spread(nut=28.0, bridge=40.0), margin=3.5, strings=4)
    assert result.numbers["width_nut_mm"] == pytest.approx(35.0)
    assert result.numbers["frets"][11]["width_mm"] == pytest.approx(41.0)
    assert result.numbers["strings"]["margin_last_mm"] == pytest.approx(3.5)
    assert result.numbers["strings"]["nut_places_mm"] == [
        [430.0, pytest.approx(y)] for y in (14.0, 14 / 3, -14 / 3, -14.0)
    ]


def test_strings_near_the_edge_are_told() -> None:
    """trade.md 5.5: 3 to 3.5 a side (common practice); here 2 at the nut, plenty at the last fret."""
    result = made(string_spacing=Spread(nut=28.0, bridge=30.0))
    assert checks(result) == [("string-margin", "note")]
    (finding,) = result.findings
    assert finding.measured == pytest.approx(2.0)
    assert "34 mm wide" in finding.remedy


def test_overhang_and_round_end() -> None:
    """An arc of radius R over the width w bulges R − √(R² − w²/4)."""
    straight, curved = made(overhang=8.0, beyond_nut=5.0), made(overhang=8.0, beyond_nut=5.0, end_radius=40.0)
    assert straight.region is not None
    assert curved.region is not None
    x_last = 430.0 * 2 ** (-20 / 12)
    assert straight.region.bounds[0] == pytest.approx(x_last - 8)
    assert straight.region.bounds[2] == pytest.approx(435.0)
    w = 44 + 12 * 8 / (430 - x_last)
    bulge = 40 - math.sqrt(1600 - w * w / 4)
    assert curved.region.bounds[0] == pytest.approx(x_last - 8 - bulge)
    half = math.asin(w / 80)
    assert curved.region.area - straight.region.area == pytest.approx(1600 * (half - math.sin(2 * half) / 2))
    assert made(end_radius=22.0).region is not None  # a half circle


def test_joint_and_pickups() -> None:
    """trade.md 2: n = 12 log2(S / distance). 430/215 is an octave; 430 · 2^(−14/12) is fret 14."""
    assert made(joint=Joint(distance=215.0)).numbers["joint"]["fret"] == pytest.approx(12.0)
    joint = made(joint=Joint(fret=14.0)).numbers["joint"]
    assert joint["distance_mm"] == pytest.approx(430 / 2 ** (14 / 12))
    assert joint["at_mm"] == [joint["distance_mm"], 0.0]
    pickups = made(pickups={"neck": 107.5, "bridge": 32.0}).numbers["pickups"]
    assert pickups["neck"] == {"distance_mm": 107.5, "share_of_length": 0.25, "at_mm": [107.5, 0.0]}


def test_saddles() -> None:
    """One compensation for all, or one a string; beyond −2 to +8 it is told (trade.md 2, common practice)."""
    assert made(compensation=(2.5,)).numbers["saddles_at_mm"] == [[-2.5, 0.0]]
    spread = Spread(nut=24.0, bridge=36.0)
    result = made(string_spacing=spread, strings=4, compensation=(9.0, 2.5, 2.0, 1.0))
    assert result.numbers["saddles_at_mm"] == [[-9.0, 18.0], [-2.5, 6.0], [-2.0, -6.0], [-1.0, -18.0]]
    assert checks(result) == [("saddle-travel", "note")]


def test_a_left_handed_board_has_its_bass_below() -> None:
    """Mirrored about the x axis: places flip, the scale stays."""
    w = world(
        step("neck", "fretboard", length=430.0, frets=12, string_spacing=Spread(nut=24.0, bridge=36.0), strings=2,
             compensation=(3.0, 1.0))
    )  # fmt: skip
    d = Derived(recipe=w.recipe, drawing=w.drawing, order=tuple(w.recipe.steps.values()), results=derived(w))
    numbers = mirrored(d).results["neck"].numbers
    assert numbers["saddles_at_mm"] == [[-3.0, -18.0], [-1.0, 18.0]]
    assert numbers["strings"]["nut_places_mm"] == [[430.0, -12.0], [430.0, 12.0]]


def test_a_board_that_narrows_is_told() -> None:
    assert checks(made(width=Width(nut=44.0, last=32.0))) == [("board-narrows", "note")]


# -- the crown ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("width", "inches", "drop"),
    [
        (43, 7.25, 1.2594), (43, 9.5, 0.9597), (43, 12, 0.7592), (43, 16, 0.5691),
        (56, 9.5, 1.63), (56, 12, 1.2888),
    ],
)  # fmt: skip
def test_the_crown_over_a_width(width: float, inches: float, drop: float) -> None:
    """outside_checks.md I4 (derived there): R − √(R² − w²/4)."""
    numbers = made(width=Width(nut=width, last=width), radius=25.4 * inches).numbers
    for place in ("nut", "octave", "last"):
        assert numbers["crown"][place]["sagitta_mm"] == pytest.approx(drop, abs=5e-5)


def test_a_conical_crown_is_straight_along_the_board() -> None:
    """ρ(x) linear from 240 at the nut to 300 at the last fret; by hand at the octave."""
    numbers = made(radius=Crown(nut=240.0, last=300.0)).numbers
    share = 215.0 / (430.0 * (1 - 2 ** (-20 / 12)))
    assert numbers["crown"]["octave"]["radius_mm"] == pytest.approx(240 + 60 * share)
    assert numbers["crown"]["last"]["radius_mm"] == pytest.approx(300.0)
    first = numbers["frets"][0]
    rho, b = first["radius_mm"], first["width_mm"] / 2
    assert first["drop_mm"] == pytest.approx(rho - math.sqrt(rho * rho - b * b))


def test_a_flat_crown_keeps_its_digits() -> None:
    """c²/8ρ for a radius of a kilometre, where the plain formula would lose them."""
    assert sagitta(1e6, 44.0) == pytest.approx(44.0**2 / 8e6, rel=1e-9)
    with pytest.raises(ValueError, match="does not go into"):
        sagitta(20.0, 44.0)
    board = Board(scale=Scale(length=430.0), frets=20, nut_width=32.0, last_width=44.0)
    assert board.drop_at(200.0, 20.0) == 0.0


# -- the piece ---------------------------------------------------------------------------------------
BOARD: dict[str, Any] = {"sheet": "ebony", "overhang": 5.0}


def test_slots_are_centrelines_as_wide_as_the_tang() -> None:
    """Depth = tang + 0.5, and on a crowned board the drop to the slot's ends more (trade.md 5.5)."""
    result = made(**BOARD, slots=Slots(tang=1.6))
    (op,) = ops(result, "GROOVE")
    assert (op.diameter_mm, op.depth_mm, len(op.contours)) == (0.58, pytest.approx(2.1), 20)
    x, half = op.contours[11].xy[0][0], op.contours[11].xy[1][1]
    assert (x, half) == (pytest.approx(215.0), pytest.approx((32 + 12 * 215 / 294.558) / 2, abs=1e-4))
    assert checks(result) == []
    (piece,) = result.pieces
    assert piece.role == "panel"
    assert piece.mass_g == pytest.approx(piece.region.area * 6.2 * 1050e-6)

    (crowned,) = ops(made(**BOARD, slots=Slots(tang=1.6), radius=250.0), "GROOVE")
    assert crowned.depth_mm == pytest.approx(2.1 + 250 - math.sqrt(250**2 - 22**2))


def test_blind_slots_stop_before_the_edge() -> None:
    """Two millimetres of wood (trade.md 5.5): the centreline stops short by the cutter's radius more."""
    result = made(**BOARD, slots=Slots(tang=1.6, blind=2.0), radius=250.0)
    (op,) = ops(result, "GROOVE")
    last = op.contours[19]
    assert last.xy[1][1] == pytest.approx(22 - 2 - 0.29)
    assert op.depth_mm == pytest.approx(2.1 + 250 - math.sqrt(250**2 - 20**2))
    assert checks(result) == []
    assert checks(made(**BOARD, slots=Slots(tang=1.6, blind=1.0))) == [("slot-blind", "note")]


def test_slots_that_can_not_be() -> None:
    """No cutter so fine; too little wood below; none."""
    slots = Slots(tang=1.6)
    assert checks(made(**BOARD, slots=slots, shop=ROUTER)) == [("slot-cutter", "ask")]
    assert checks(made(**BOARD, slots=slots, thickness=3.5)) == [("slot-deep", "ask")]
    assert checks(made(**BOARD, slots=slots, thickness=2.1)) == [("slot-deep", "stop")]
    assert checks(made(**BOARD, slots=slots, thickness=3.6)) == []


def test_a_laser_scores_the_places() -> None:
    """trade.md 5.5: a laser's slots are charred and tapered, so it marks them and they are sawn."""
    result = made(sheet="ply4", overhang=5.0, slots=Slots(tang=1.6), markers=Markers(frets=(3, 5), depth=2.0))
    assert ops(result, "GROOVE") == ops(result, "DRILL") == []
    (score,) = ops(result, "SCORE")
    assert len(score.contours) == 20
    (marks,) = ops(result, "ENGRAVE")
    assert [c.circle() for c in marks.contours] == [
        (pytest.approx((430 * 2 ** (-(n - 1) / 12) + 430 * 2 ** (-n / 12)) / 2), 0.0, pytest.approx(3.0))
        for n in (3, 5)
    ]
    assert any("saw the slots 2.1 deep" in r for r in result.reports)
    assert checks(result) == []


def test_marks_are_bored_midway() -> None:
    """Two at the octave, half the width apart; bored from the front."""
    result = made(**BOARD, markers=Markers(frets=(7, 12), double=(12,), diameter=5.0, depth=2.0))
    bores = [c.circle() for op in ops(result, "DRILL") for c in op.contours]
    x = [430 * 2 ** (-n / 12) for n in range(13)]
    apart = (32 + 12 * (430 - (x[11] + x[12]) / 2) / (430 - 430 * 2 ** (-20 / 12))) / 2
    wanted = [((x[6] + x[7]) / 2, 0.0), ((x[11] + x[12]) / 2, apart / 2), ((x[11] + x[12]) / 2, -apart / 2)]
    assert sorted(b[:2] for b in bores if b) == [pytest.approx(w) for w in sorted(wanted)]
    assert {op.depth_mm for op in ops(result, "DRILL")} == {2.0}
    assert checks(made(**BOARD, markers=Markers(frets=(19,), diameter=9.0))) == [("marker-room", "ask")]


def test_a_zero_fret_and_the_ends() -> None:
    """It has a slot of its own; a slot on the very end of the board has one wall."""
    result = made(sheet="ebony", overhang=5.0, zero_fret=True, beyond_nut=6.0, slots=Slots(tang=1.6))
    assert len(ops(result, "GROOVE")[0].contours) == 21
    assert result.numbers["frets"][0]["from_nut_mm"] == 0.0
    assert checks(result) == []
    assert checks(made(sheet="ebony", zero_fret=True)) == [("fret-on-end", "ask")] * 2


def test_the_face_is_engraved_when_asked() -> None:
    """A board's show face carries no text; a template's does, between frets and marks."""
    assert made(**BOARD).pieces[0].set_ups[0].labels == ()
    labels = made(**BOARD, label=True).pieces[0].set_ups[0].labels
    assert [v.text for v in labels] == ["TEST B", "NECK"]
    assert all(v.centred for v in labels)


# -- what is refused ---------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"width": None}, "doesn't say how wide"),
        ({"margin": 4.0}, "nothing to decide"),
        ({"joint": Joint()}, "given by nothing"),
        ({"joint": Joint(fret=12.0, distance=215.0)}, "given by fret and distance"),
        ({"joint": Joint(fret=-1.0)}, "can't join the body at fret -1"),
        ({"joint": Joint(distance=430.0)}, "at or behind the nut"),
        ({"compensation": (1.0, 2.0)}, "2 compensations for no strings"),
        ({"overhang": 200.0}, "past the bridge line"),
        ({"radius": 20.0}, "its radius there only 20.00"),
        ({"end_radius": 20.0}, "doesn't span the board"),
        ({"slots": Slots(tang=1.6)}, "no sheet, so `slots`"),
        ({"sheet": "ebony", "slots": Slots(tang=1.6, blind=16.0)}, "leave nothing of 32.00"),
        ({"sheet": "ebony", "markers": Markers(frets=(3, 21))}, "nothing marks 21"),
        ({"sheet": "ebony", "markers": Markers(frets=(3,), double=(12,))}, "no marker stands at"),
    ],
)
def test_what_can_not_be_is_refused(fields: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        made(**fields)
