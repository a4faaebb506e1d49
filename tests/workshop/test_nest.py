"""Parts never overlap, keep their gap and border, obey grain and letter, and are never mirrored."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks import too_large
from pipeline.checks.view import View
from pipeline.core.recipe import Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.values import Derived, Nest
from pipeline.workshop.exact import clearances
from pipeline.workshop.layout import nest_set_up, placed, turns, view
from pipeline.workshop.nest import nests
from tests.workshop.factory import BIRCH, BODY_W, ROUTER, body_w, body_w_measures, of_pieces, piece, ring


def shapes_on(design: Derived, nest: Nest) -> list[Region]:
    known = {p.name: p for p in design.pieces}
    return [
        placed(view(design.recipe, nest_set_up(known[p.piece]).face).region(known[p.piece].cut), p)
        for p in nest.placements
    ]


def ell(a: float, b: float, t: float) -> Region:
    return solid(line_chain([(0, 0), (a, 0), (a, t), (t, t), (t, b), (0, b)]))


def test_six_bodies_w_fit_on_one_sheet_at_gap_8():
    """Trade notes: six fit on 1220 × 610 (3 × 2 at 8 gap), 45.1 %; the area by elementary geometry."""
    shop = Shop(name="router", gap=8.0)
    design = of_pieces(piece("body", BODY_W, count=6, grain="x"), shops={"router": shop})
    found, said = nests(design)
    assert (len(found), said) == (1, ())
    area, _, _ = body_w_measures()
    assert found[0].used == pytest.approx(6 * area / (1220 * 610), rel=1e-9)
    assert round(100 * found[0].used, 1) == 45.1
    gap, border = clearances(design, found[0])
    assert gap >= 8.0 - 0.001
    assert border >= 12.0 - 1e-6


def test_more_sheets_than_listed_are_asked_for():
    sheets = {"birch12": Sheet(measured={"A": 11.8}, size=(1220.0, 610.0))}
    design = of_pieces(piece("body", BODY_W, count=12), shops={"router": Shop(gap=8.0)}, sheets=sheets)
    found, said = nests(design)
    assert [(n.letter, n.number) for n in found] == [("A", 1), ("A", 2)]
    assert [(f.check, f.severity, f.measured, f.limit) for f in said] == [("more-sheets", "ask", 2.0, 1.0)]


def test_listed_sheets_are_used_before_more_are_asked_for():
    design = of_pieces(piece("body", BODY_W, count=12), shops={"router": Shop(gap=8.0)})
    found, said = nests(design)
    assert [(n.letter, n.number, n.thickness_mm) for n in found] == [("A", 1, 11.8), ("B", 1, 11.7)]
    assert said == ()


def test_laminations_lie_on_their_own_letters():
    design = body_w(make=2)
    found, said = nests(design)
    assert said == ()
    where = {(p.piece, p.copy): (n.sheet, n.letter) for n in found for p in n.placements}
    assert where == {
        **{(f"blank-{k}", c): ("birch12", x) for k, x in ((1, "A"), (2, "B"), (3, "C")) for c in (1, 2)},
        ("cover", 1): ("ply3", "A"),
        ("cover", 2): ("ply3", "A"),
        ("pickup_guide", 1): ("mdf9", "A"),
    }


def test_a_lamination_never_moves_to_another_letter():
    lamination = piece("blank-1", BODY_W, role="lamination", letter="B", count=12)
    design = of_pieces(lamination, shops={"router": Shop(gap=8.0)})
    found, said = nests(design)
    assert [(n.letter, n.number) for n in found] == [("B", 1), ("B", 2)]
    assert [f.check for f in said] == ["more-sheets"]


@pytest.mark.parametrize(
    ("own", "sheet", "allowed"),
    [
        ("x", "x", (0, 180)),
        ("y", "x", (90, 270)),
        ("none", "x", (0, 90, 180, 270)),
        ("y", "none", (0, 90, 180, 270)),
    ],
)
def test_grain_limits_the_turns(own: str, sheet: str, allowed: tuple[int, ...]):
    stock = Sheet(measured={"A": 3.0}, size=(300.0, 200.0), grain=sheet)  # type: ignore[arg-type]  # parametrised
    assert turns(piece("a", disc(0, 0, 5), grain=own), stock) == allowed


def test_cross_grain_piece_that_fits_only_along_the_grain_is_left_to_the_check():
    """300 across the grain of a sheet 100 high: the check says so, with the side that stands over; once."""
    sheets = {"birch12": Sheet(measured={"A": 11.8}, size=(600.0, 100.0), grain="x")}
    strip = piece("strip", solid(rectangle(300.0, 40.0)), grain="y")
    design = of_pieces(strip, sheets=sheets)
    assert nests(design) == ((), ())
    said = list(too_large.check(View(derived=design, nests=())))
    assert [(f.severity, f.piece, f.measured, f.limit) for f in said] == [("stop", "strip", 300.0, 76.0)]


def test_a_part_that_just_fits_inside_the_border_is_placed():
    """300 − 2 · 12 by 200 − 2 · 12: not a hundredth of a millimetre to spare, on any cell size."""
    sheets = {"birch12": Sheet(measured={"A": 11.8}, size=(300.0, 200.0))}
    found, said = nests(of_pieces(piece("plate", solid(rectangle(276.0, 176.0))), sheets=sheets))
    assert said == ()
    assert (
        clearances(of_pieces(piece("plate", solid(rectangle(276.0, 176.0))), sheets=sheets), found[0])[1] == 12.0
    )
    assert nests(of_pieces(piece("plate", solid(rectangle(276.01, 176.0))), sheets=sheets)) == ((), ())


def test_small_parts_lie_in_the_openings_of_large_ones():
    """A frame that fills the sheet: the discs can only be inside it."""
    sheets = {"birch12": Sheet(measured={"A": 11.8}, size=(400.0, 400.0))}
    design = of_pieces(piece("frame", ring(180.0, 150.0)), piece("disc", disc(0, 0, 40.0), count=3), sheets=sheets)
    found, said = nests(design)
    assert (len(found), said) == (1, ())
    *discs, frame = shapes_on(design, found[0])  # what lies inside is cut first
    hole = shapely.Polygon(frame.polygon.geoms[0].interiors[0])
    assert len(discs) == 3
    assert all(hole.contains(d.polygon) for d in discs)


def test_the_back_is_seen_from_the_back_and_nothing_is_mirrored_after_that():
    """An L worked from the back: on the sheet it is the mirror image of the design, turned and shifted."""
    shape = ell(100.0, 60.0, 20.0)
    mirrored = solid(line_chain([(0, 0), (0, -60), (20, -60), (20, -20), (100, -20), (100, 0)]))
    for face, expected in (("front", shape), ("back", mirrored)):
        design = of_pieces(piece("bracket", shape, face=face, count=4))
        found, _ = nests(design)
        for lying, p in zip(shapes_on(design, found[0]), found[0].placements, strict=True):
            away = shapely.affinity.translate(lying.polygon, -p.dx, -p.dy)
            back = shapely.affinity.rotate(away, -p.turn_deg, origin=(0, 0))
            assert back.symmetric_difference(expected.polygon).area < 1e-6


def test_turning_over_end_for_end():
    shape = ell(100.0, 60.0, 20.0)
    design = of_pieces(piece("bracket", shape, face="back"), turn_over="y")
    seen = view(design.recipe, "back").region(shape)
    assert seen.bounds == (-100.0, 0.0, 0.0, 60.0)


def test_a_sheet_larger_than_the_bed_is_asked_and_only_its_corner_used():
    shop = Shop(name="router", bed=(500.0, 400.0))
    design = of_pieces(piece("disc", disc(0, 0, 100.0), count=3), shops={"router": shop})
    found, said = nests(design)
    assert [f.check for f in said] == ["sheet-larger-than-bed"]
    for nest in found:
        for lying in shapes_on(design, nest):
            assert lying.bounds[2] <= 500 - 12 + 1e-6
            assert lying.bounds[3] <= 400 - 12 + 1e-6


def test_thick_sheets_on_a_laser_lie_half_a_thickness_apart():
    laser = Shop(name="router", process="laser")
    sheets = {"birch12": Sheet(measured={"A": 9.0}, size=(300.0, 200.0))}
    design = of_pieces(
        piece("tile", solid(rectangle(40.0, 40.0)), count=6), sheets=sheets, shops={"router": laser}
    )
    found, _ = nests(design)
    assert clearances(design, found[0])[0] >= 4.5 - 1e-6


def fits_within(shape: Region, w: float, h: float) -> bool:
    x0, y0, x1, y1 = shape.bounds
    return (x1 - x0 <= w and y1 - y0 <= h) or (y1 - y0 <= w and x1 - x0 <= h)


# -- properties ------------------------------------------------------------------------------------
boxes = st.builds(lambda w, h: solid(rectangle(w, h)), st.floats(8, 90), st.floats(8, 90))
slots = st.builds(lambda w, h: solid(rectangle(w + h, h, h / 2)), st.floats(5, 60), st.floats(6, 30))
ells = st.builds(ell, st.floats(40, 120), st.floats(40, 120), st.floats(8, 30))
rings = st.builds(lambda r, t: ring(r, max(r - t, 1.0)), st.floats(12, 60), st.floats(4, 11))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(boxes | slots | ells | rings, st.integers(1, 3)), min_size=1, max_size=7),
    st.sampled_from([(300.0, 200.0), (420.0, 297.0), (150.0, 500.0)]),
    st.sampled_from([0.0, 1.0, 8.0, 12.7]),
)
def test_any_parts_keep_their_gap_and_border(
    made: list[tuple[Region, int]], size: tuple[float, float], gap: float
):
    """Measured here with shapely alone on polygons that this test turns and shifts itself."""
    shop = Shop(name="router", gap=gap, border=10.0)
    sheets = {"birch12": Sheet(measured={"A": 6.0}, size=size)}
    pieces = [piece(f"p{i}", shape, count=n) for i, (shape, n) in enumerate(made)]
    design = of_pieces(*pieces, shops={"router": shop}, sheets=sheets)
    found, said = nests(design)
    assert {f.check for f in said} <= {"more-sheets"}
    left_out = {p.name for p in pieces if not fits_within(p.cut, size[0] - 20, size[1] - 20)}
    laid = sorted((p.piece, p.copy) for n in found for p in n.placements)
    assert laid == sorted((p.name, k) for p in pieces if p.name not in left_out for k in range(1, p.count + 1))
    known = {p.name: p.cut for p in pieces}
    for nest in found:
        inside = shapely.box(10, 10, size[0] - 10, size[1] - 10).buffer(1e-6)
        polygons = []
        for p in nest.placements:
            turned = shapely.affinity.rotate(known[p.piece].polygon, p.turn_deg, origin=(0, 0))
            polygons.append(shapely.affinity.translate(turned, p.dx, p.dy))
        assert all(inside.covers(q) for q in polygons)
        for i, q in enumerate(polygons):
            assert all(q.distance(r) >= shop.part_gap - 0.0011 for r in polygons[:i])
            assert not any(q.intersects(r) for r in polygons[:i])
        assert nest.used == pytest.approx(sum(q.area for q in polygons) / (size[0] * size[1]), rel=1e-3)


def test_the_same_parts_give_the_same_nests_in_any_file_order():
    parts = [piece("a", ring(60, 40), count=2), piece("b", ell(90, 70, 25), count=3), piece("c", BODY_W)]
    first, _ = nests(of_pieces(*parts))
    second, _ = nests(of_pieces(*reversed(parts)))
    assert first == second


def test_small_before_large():
    """Placements stand in the order in which they are cut free."""
    found, _ = nests(of_pieces(piece("a", disc(0, 0, 10)), piece("z", BODY_W), piece("m", disc(0, 0, 50))))
    assert [p.piece for p in found[0].placements] == ["a", "m", "z"]


def test_the_gap_is_the_shop_s():
    assert ROUTER.part_gap == 10.0  # largest flat end 8, plus 2
    assert BIRCH.size == (1220.0, 610.0)
    design = of_pieces(piece("tile", solid(rectangle(100.0, 100.0)), count=8))
    found, _ = nests(design)
    gap, _ = clearances(design, found[0])
    assert 10.0 <= gap <= 10.5  # parts slide until they touch; no more is given away than their corners
