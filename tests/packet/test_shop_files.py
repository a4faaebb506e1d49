"""What a shop gets, as values: names, views, zero, legend, what stands where."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.errors import Refused
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import circle
from pipeline.packet.layers import LASER_WORKS
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_files import shop_files
from pipeline.packet.strokes import text_strokes
from pipeline.packet.written import Circle
from pipeline.steps.values import Derived, Label, Nest, Op, Piece, SetUp
from tests.packet import factory as f


def made(derived: Derived | None = None, nests: tuple[Nest, ...] | None = None) -> dict[str, ShopFile]:
    files = shop_files(derived or f.derived(), (f.cover_nest(),) if nests is None else nests)
    return {v.stem: v for v in files}


def circles(file: ShopFile, work: str) -> list[Circle]:
    return [c for v in file.layers if v.work == work for c in v.curves if isinstance(c, Circle)]


def words(file: ShopFile) -> str:
    return " ".join(" ".join(file.lines).split())


def test_files_are_named_as_the_blueprint_says() -> None:
    """Blueprint section 5; a piece with one set-up has no suffix, a laser's file brings its reference."""
    assert list(made()) == [
        "heron-B_blank-1_birch12_x1",
        "heron-B_blank_x1_back",
        "heron-B_blank_x1_front",
        "heron-B_nest-ply3-A",
        "heron-B_nest-ply3-A_reference",
    ]
    left = made(f.derived(f.recipe(variant="left")))
    assert next(iter(left)) == "heron-left-B_blank-1_birch12_x1"


def test_several_sheets_of_one_letter_are_numbered() -> None:
    first = f.cover_nest(copies=1)
    files = made(nests=(first, replace(first, number=2)))
    assert "heron-B_nest-ply3-A-1" in files
    assert "heron-B_nest-ply3-A-2_reference" in files


def test_a_piece_that_found_no_room_is_not_lost() -> None:
    """A shop that wants nests still gets a file of a piece that lies in none."""
    assert "heron-B_cover_ply3_x2" in made(nests=())


def test_a_piece_of_two_set_ups_gets_its_own_files() -> None:
    """What has to be turned over can't be cut from a sheet in one go."""
    cover = f.cover(1)
    front = cover.set_ups[0]
    back = SetUp(
        face="back", ops=(Op(work="SCORE", face="back", contours=(line_chain([(1, 1), (9, 1)], closed=False),)),)
    )
    both = replace(cover, set_ups=(back, front))
    files = made(f.derived(pieces=(both,), blanks=()), (f.cover_nest(copies=1),))
    assert {"heron-B_cover_ply3_x1_back", "heron-B_cover_ply3_x1_front"} <= set(files)
    assert files["heron-B_nest-ply3-A"].layers == ()


def test_the_back_is_mirrored_and_the_index_holes_tie_both_sides() -> None:
    """trade.md 2.2: the inverse flip brings holes and perimeter onto each other within 0.02."""
    files = made()
    back, front = files["heron-B_blank_x1_back"], files["heron-B_blank_x1_front"]
    bored = sorted((c.x, c.y, c.r) for c in circles(back, "DRILL") if c.r > 2.6)
    shown = sorted((c.x, c.y, c.r) for c in circles(front, "INDEX"))
    assert bored == [(x, -y + 0.0, r) for x, y, r in shown]
    (pocket,) = (v for v in back.layers if v.work == "POCKET")
    outer = pocket.curves[0]
    assert isinstance(outer, Contour)
    assert outer.bounds == pytest.approx((-20, 27, 60, 73))  # the design has it at y −73 … −27
    assert outer.area > 0
    seen_front = next(v for v in front.layers if v.work == "CUT_OUTSIDE").curves[0]
    seen_back = next(v for v in back.layers if v.work == "REFERENCE").curves[0]
    assert isinstance(seen_front, Contour)
    assert isinstance(seen_back, Contour)
    assert sorted(map(tuple, (seen_back.xy * (1, -1) + 0.0).tolist())) == sorted(
        map(tuple, seen_front.xy.tolist())
    )


def test_work_turned_end_for_end_is_mirrored_the_other_way() -> None:
    back = made(f.derived(f.recipe(turn_over="y")))["heron-B_blank_x1_back"]
    outer = next(v for v in back.layers if v.work == "POCKET").curves[0]
    assert outer.bounds == pytest.approx((-60, -73, 20, -27))


def test_engraved_words_are_never_mirrored() -> None:
    """The strokes on a back face are the alphabet's own, turned and shifted: same sense of every triangle."""
    for turn_over, at in (("x", (-60.0, 20.0)), ("y", (-60.0, 20.0))):
        back = made(f.derived(f.recipe(turn_over=turn_over)))["heron-B_blank_x1_back"]
        engraved = next(v for v in back.layers if v.work == "ENGRAVE").curves
        plain = text_strokes("BACK", 0, 0, 8.0)
        assert len(engraved) == len(plain)
        first = engraved[0]
        assert isinstance(first, Contour)
        offset = first.xy[0] - plain[0].xy[0]
        for a, b in zip(engraved, plain, strict=True):
            assert isinstance(a, Contour)
            assert np.allclose(a.xy, b.xy + offset, atol=2e-6)
            assert np.allclose(a.bulge, b.bulge, atol=1e-9)
        # The words still cover the spot of the wood they covered in the design.
        box = np.array([c.bounds for c in plain])
        middle = np.array(at) + (box[:, :2].min(0) + box[:, 2:].max(0)) / 2
        there = np.array([c.bounds for c in engraved])
        seen = (there[:, :2].min(0) + there[:, 2:].max(0)) / 2
        flip = (1, -1) if turn_over == "x" else (-1, 1)
        assert seen == pytest.approx(middle * flip, abs=1e-5)


@pytest.mark.parametrize(
    ("turn_over", "turn", "seen"), [("x", 30.0, -30.0), ("y", 30.0, -30.0), ("x", 90.0, 90.0)]
)
def test_turned_words_on_the_back_stand_on_their_feet(turn_over: str, turn: float, seen: float) -> None:
    """Mirrored about either axis a line at +30° runs at −30° (or its other end), never on its head."""
    label = Label(text="battery side", at=(0.0, 60.0), height_mm=5.0, turn_deg=turn)
    blank = f.blank()
    back = replace(blank.set_ups[0], labels=(label,))
    derived = f.derived(f.recipe(turn_over=turn_over), blanks=(replace(blank, set_ups=(back, blank.set_ups[1])),))
    (shown,) = (w for w in made(derived)["heron-B_blank_x1_back"].words if w.text == "battery side")
    assert shown.turn_deg == pytest.approx(seen)


def test_a_turned_copy_keeps_its_words_where_they_are_on_the_wood() -> None:
    """On a sheet the engraving turns with the part: every copy is the same part."""
    sheet = made()["heron-B_nest-ply3-A"]
    strokes = [c for v in sheet.layers if v.work == "ENGRAVE" for c in v.curves if isinstance(c, Contour)]
    edges = [c for v in sheet.layers if v.work == "CUT_OUTSIDE" for c in v.curves if isinstance(c, Contour)]
    assert len(edges) == 2
    assert len(strokes) % 2 == 0
    half = len(strokes) // 2
    # A quarter turn about each copy's own first corner brings one copy onto the other.
    quarter = np.array([[0, -1], [1, 0]])
    for a, b in zip([edges[0], *strokes[:half]], [edges[1], *strokes[half:]], strict=True):
        moved = (a.xy - edges[0].xy[0]) @ quarter.T + edges[1].xy[0]
        assert np.allclose(moved, b.xy, atol=3e-6)


def test_a_back_piece_on_a_sheet_is_mirrored_before_it_is_laid() -> None:
    """The sheet's file shows what the machinist sees: an L whose foot points the other way."""
    derived = f.derived(pieces=(f.cover(1, face="back"),), blanks=())
    sheet = made(derived, (f.cover_nest(copies=1),))["heron-B_nest-ply3-A"]
    edge = next(v for v in sheet.layers if v.work == "CUT_OUTSIDE")
    assert edge.name == "BACK_CUT_OUTSIDE"
    corners = {tuple(p) for p in edge.curves[0].xy.tolist()}  # type: ignore[union-attr]  # an L is no circle
    design = {(0, 0), (90, 0), (90, 25), (40, 25), (40, 50), (0, 50)}
    assert corners == {(60.0 + x, 10.0 - y) for x, y in design}


# -- zero ----------------------------------------------------------------------------------------
@pytest.mark.parametrize("datum", ["frame", "corner", "pin"])
def test_zero_stands_where_the_shop_wants_it(datum: str) -> None:
    """Front and back agree: the same corner of the stock, or the same pin, lies at zero in each as it is seen."""
    router = Shop(datum=datum)  # type: ignore[arg-type]  # names by parameter
    files = made(f.derived(f.recipe({"router": router, "laser": f.laser()})))
    for face in ("front", "back"):
        file = files[f"heron-B_blank_x1_{face}"]
        stock = next(v for v in file.layers if v.work == "STOCK").curves[0].bounds
        holes = [(c.x, c.y) for w in ("INDEX", "DRILL") for c in circles(file, w) if c.r == 3.0]
        if datum == "frame":
            assert stock == pytest.approx((-150, -140, 270, 140))
            assert "Zero is the design's own zero, bridge-mark." in words(file)
        elif datum == "corner":
            assert stock == pytest.approx((0, 0, 420, 280))
            assert "the lower left corner of the stock" in words(file)
        else:
            assert holes == [(0.0, 0.0)]
            assert "the index hole of 6.00 diameter" in words(file)
        arms = [c for v in file.layers if v.work == "DATUM" for c in v.curves]
        assert [c.bounds for c in arms] == [(-10, 0, 10, 0), (0, -10, 0, 10)]


def test_a_piece_without_pins_keeps_the_frames_zero() -> None:
    laser = f.laser(datum="pin", wants="pieces")
    file = made(f.derived(f.recipe({"laser": laser}), pieces=(f.cover(1),), blanks=()), ())[
        "heron-B_cover_ply3_x1"
    ]
    assert "the design's own zero" in words(file)


# -- what is in a file -----------------------------------------------------------------------------
def test_the_legend_says_what_is_in_the_line() -> None:
    """The two statements of the blueprint, the units, the caution of outside check Y1."""
    said = words(made()["heron-B_blank-1_birch12_x1"])
    assert "0.50 allowance included. Tool and beam compensation: none." in said
    assert "Heron, a travel tenor Design heron, revision B Saltmarsh Workshop, drawn AR, 2027-03-14" in said
    assert "birch12 sheet A, birch plywood, measured thickness 11.80" in said
    assert "Units mm" in said
    assert (
        "These files are drawings, not a machining instruction. The operator checks units, scale, zero, tool, "
        "feed, hold-down and the machine's own manual before cutting." in said
    )
    back = words(made()["heron-B_blank_x1_back"])
    assert "after turning it over about the x axis" in back
    assert "BACK_POCKET_Z32-15: pocket, inner loops stay, 32.15 deep; 2 contours" in back  # 32.145, half up
    front = words(made()["heron-B_blank_x1_front"])
    assert "Depth along FRONT_RAMP_Z16-00_Z17-89: x 124.00 y 3.00 depth 16.00 x 194.00 y 3.00 depth 17.89" in front


def test_a_lasers_cut_file_holds_nothing_it_must_not_cut() -> None:
    """Blueprint section 5: cut, engrave and score layers only; the rest is in the reference."""
    files = made()
    cut, rest = files["heron-B_nest-ply3-A"], files["heron-B_nest-ply3-A_reference"]
    assert {v.work for v in cut.layers} == LASER_WORKS
    assert cut.words == ()
    assert cut.page == (0.0, 0.0, 600.0, 300.0)
    assert not {v.work for v in rest.layers} & LASER_WORKS
    assert {v.work for v in rest.layers} == {"STOCK", "DATUM", "CARVE_LINE", "REFERENCE", "CHECK_SQUARE", "TEXT"}
    assert rest.formats == ("dxf",)
    assert len(circles(cut, "CUT_INSIDE")) == 4  # a laser has no drill


def test_a_pocket_sent_to_a_laser_stands_in_the_reference() -> None:
    """A laser can't cut half through; the pocket is shown, never put where it would be cut."""
    cover = f.cover(1)
    pocket = Op(work="POCKET", face="front", contours=(circle(20, 10, 4),), depth_mm=1.0)
    piece = replace(cover, set_ups=(replace(cover.set_ups[0], ops=(*cover.set_ups[0].ops, pocket)),))
    files = made(f.derived(pieces=(piece,), blanks=()), ())
    assert "POCKET" not in {v.work for v in files["heron-B_cover_ply3_x1"].layers}
    assert "FRONT_POCKET_Z1-00" in {v.name for v in files["heron-B_cover_ply3_x1_reference"].layers}


def test_kerf_moves_cut_lines_into_the_waste_and_says_so() -> None:
    """trade.md 7.1: G ⊕ k/2. A square of side s gives area s² + 2sk + πk²/4; a hole's radius shrinks by k/2."""
    k, side = 0.2, 40.0
    edge = line_chain([(0, 0), (side, 0), (side, side), (0, side)])
    score = Op(work="SCORE", face="front", contours=(line_chain([(1, 1), (9, 1)], closed=False),))
    ops = (
        Op(work="CUT_INSIDE", face="front", contours=(circle(20, 20, 5).reversed(),)),
        Op(work="CUT_OUTSIDE", face="front", contours=(edge,)),
        score,
    )
    piece = replace(f.cover(1), region=solid(edge), cut=solid(edge), set_ups=(SetUp(face="front", ops=ops),))
    shops = {"laser": f.laser(compensation="kerf", kerf=k, wants="pieces")}
    file = made(f.derived(f.recipe(shops), pieces=(piece,), blanks=()), ())["heron-B_cover_ply3_x1"]
    outer = next(v for v in file.layers if v.work == "CUT_OUTSIDE").curves[0]
    assert isinstance(outer, Contour)
    assert outer.area == pytest.approx(side**2 + 2 * side * k + math.pi * k * k / 4, rel=1e-7)
    assert circles(file, "CUT_INSIDE") == [Circle(20.0, 20.0, 4.9)]
    assert next(v for v in file.layers if v.work == "SCORE").curves[0].bounds == (1.0, 1.0, 9.0, 1.0)
    said = words(file)
    assert "0.20 kerf included, cut lines moved 0.10 into the waste" in said
    assert "True size of cover: 40.00 x 40.00." in said
    assert "compensation: none" in said  # of the tool


def test_an_opening_narrower_than_the_kerf_is_refused_by_name() -> None:
    ops = (Op(work="CUT_INSIDE", face="front", contours=(circle(20, 20, 0.08),)),)
    piece = replace(f.cover(1), set_ups=(SetUp(face="front", ops=ops),))
    shops = {"laser": f.laser(compensation="kerf", wants="pieces")}
    with pytest.raises(Refused, match=r"cover near \(20.00, 20.00\) vanishes"):
        made(f.derived(f.recipe(shops), pieces=(piece,), blanks=()), ())


def test_an_open_contour_never_reaches_a_cut_layer() -> None:
    bad = Op(work="CUT_OUTSIDE", face="front", contours=(line_chain([(0, 0), (9, 0), (9, 9)], closed=False),))
    piece: Piece = replace(f.lamination(), set_ups=(SetUp(face="front", ops=(bad,)),))
    with pytest.raises(ValueError, match="open contour on FRONT_CUT_OUTSIDE"):
        made(f.derived(pieces=(piece,), blanks=()), ())


def test_the_check_square_measures_100() -> None:
    for file in made().values():
        squares = [c for v in file.layers if v.work == "CHECK_SQUARE" for c in v.curves]
        if file.words:
            (square,) = squares
            x0, y0, x1, y1 = square.bounds
            assert (round(x1 - x0, 6), round(y1 - y0, 6)) == (100.0, 100.0)
            others = [c.bounds[2] for v in file.layers if v.work not in ("CHECK_SQUARE", "TEXT") for c in v.curves]
            assert x0 >= max(others) + 10
        else:
            assert squares == []
