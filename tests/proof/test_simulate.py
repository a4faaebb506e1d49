"""The simulated cut agrees with what geometry says of round cutters, beams, slopes and glued layers."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from pipeline.core.shop import Cutter, Shop
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Part, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.packet.shop_files import shop_files
from pipeline.packet.write import write_shop_files
from pipeline.proof import prove
from pipeline.proof.cutter import Bench
from pipeline.proof.loops import areas, flat
from pipeline.proof.ramps import plane
from pipeline.proof.simulate import differences
from pipeline.proof.solids import Solid, Taken
from pipeline.steps.values import Derived, Op, Piece, SetUp
from tests.packet import factory
from tests.proof.packets import heron, plate, single

CASES = Path(__file__).parents[1] / "cases"


def end(diameter: float, reach: float = 40.0) -> Cutter:
    return Cutter(DC=diameter, APMX=reach, LU=reach, DMM=diameter)


# -- the cutter --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("diameter", [3.0, 6.0, 8.0])
def test_a_square_pocket_keeps_its_corners(diameter: float) -> None:
    """A round cutter leaves (1 − π/4) r² in a square corner: outside_checks.md, corner residue [D]."""
    left = Bench(shop=Shop(cutters=(end(diameter),))).pocket(flat(rectangle(60, 40)), 10.0)
    assert left.residue.area == pytest.approx(4 * (1 - math.pi / 4) * (diameter / 2) ** 2, rel=0.01)
    assert left.shape.area == pytest.approx(60 * 40 - left.residue.area, abs=1e-6)


def test_a_corner_as_round_as_the_cutter_leaves_nothing() -> None:
    bench = Bench(shop=Shop(cutters=(end(6.0),)))
    assert bench.pocket(flat(rectangle(60, 40, 3.0)), 10.0).residue.is_empty
    assert bench.pocket(flat(rectangle(60, 40, 2.5)), 10.0).residue.area > 0.15


def test_the_smallest_cutter_that_reaches_cleans_out() -> None:
    """3 mm would do, but it reaches 12: at 20 deep the 6 has to; where nothing reaches, all are tried."""
    bench = Bench(shop=Shop(cutters=(end(3.0, 12.0), end(6.0, 30.0), end(8.0, 40.0))))
    square = flat(rectangle(60, 40))
    corner = 4 * (1 - math.pi / 4)
    assert bench.pocket(square, 10.0).residue.area == pytest.approx(corner * 1.5**2, rel=0.01)
    assert bench.pocket(square, 20.0).residue.area == pytest.approx(corner * 3.0**2, rel=0.01)
    assert bench.pocket(square, 50.0).residue.area == pytest.approx(corner * 1.5**2, rel=0.01)


def test_an_inner_corner_of_an_outline_stays_from_outside() -> None:
    """An L has one inner corner; the outer five lose nothing."""
    ell = flat(line_chain([(0, 0), (90, 0), (90, 25), (40, 25), (40, 50), (0, 50)]))
    left = Bench(shop=Shop(cutters=(end(6.0),))).part(ell, 10.0)
    assert left.residue.area == pytest.approx((1 - math.pi / 4) * 9, rel=0.01)
    assert left.shape.area == pytest.approx(ell.area + left.residue.area, abs=0.01)


def test_a_slot_narrower_than_every_cutter_is_not_cut() -> None:
    left = Bench(shop=Shop(cutters=(end(3.0),))).opening(flat(rectangle(40, 2)), 5.0)
    assert left.shape.is_empty
    assert left.residue.area == pytest.approx(80.0)


def test_a_beam_in_the_line_takes_half_its_kerf_on_either_side() -> None:
    """trade.md 7.1: a line moved out by half a kerf gives the part its true size, holes likewise."""
    beam = Bench(shop=factory.laser(compensation="kerf", kerf=0.2))
    assert beam.part(flat(rectangle(50.2, 30.2)), 3.0).shape.area == pytest.approx(1500.0, abs=1e-6)
    bounds = beam.opening(flat(rectangle(9.8, 9.8)), 3.0).shape.bounds
    assert bounds == pytest.approx((-5, -5, 5, 5), abs=1e-9)


# -- loops -------------------------------------------------------------------------------------------------
def test_loops_nest_as_a_machinist_reads_them() -> None:
    """An island in a pocket, a pocket in the island, another pocket beside; two that cross are both cut."""
    rings = [rectangle(100, 80), rectangle(60, 40), rectangle(20, 10), rectangle(30, 30, x=100)]
    found = areas(rings)
    assert sorted(round(a.area) for a in found) == [200, 900, 100 * 80 - 60 * 40]
    crossing = areas([rectangle(40, 20), rectangle(20, 40)])
    assert shapely.union_all(crossing).area == pytest.approx(1600 - 400)


# -- differences -------------------------------------------------------------------------------------------
def plateau(depth: float, *, island: bool = True, face: str = "front") -> Solid:
    plate_ = flat(rectangle(200, 100))
    pocket = flat(rectangle(80, 60)).difference(flat(circle(0, 0, 10))) if island else flat(rectangle(80, 60))
    return Solid(
        parts=plate_,
        holes=shapely.Polygon(),
        taken=(Taken(shape=pocket, drawn=pocket, face=face, depth=depth),),
        outer=(plate_,),
    )


def test_equal_solids_have_no_difference() -> None:
    assert differences(plateau(6.0), plateau(6.004), 12.0) == []


def test_a_deeper_pocket_is_found_between_its_depths() -> None:
    (d,) = differences(plateau(7.5), plateau(6.0), 12.0)
    assert d.gone
    assert (d.z0, d.z1) == pytest.approx((4.5, 6.0))
    assert d.shape.area == pytest.approx(4800 - 100 * math.pi, rel=0.01)


def test_a_pocket_from_the_wrong_face_goes_and_stays() -> None:
    found = differences(plateau(4.0, face="back"), plateau(4.0), 12.0)
    assert sorted((d.gone, round(d.z0, 3), round(d.z1, 3)) for d in found) == [
        (False, 8.0, 12.0),
        (True, 0.0, 4.0),
    ]


def test_an_island_that_goes_is_named() -> None:
    (d,) = differences(plateau(6.0, island=False), plateau(6.0), 12.0)
    assert d.gone
    assert d.island
    assert d.shape.area == pytest.approx(100 * math.pi, rel=0.02)


def test_a_slope_is_compared_along_its_floor() -> None:
    """1 in 40: a table half a millimetre deeper moves the floor's edge by 20 mm."""

    def ramp(deeper: float) -> Solid:
        area = flat(rectangle(80, 40))
        floor = plane([(-40.0, 0.0, 5.0 + deeper), (40.0, 0.0, 7.0 + deeper)])
        assert floor is not None
        taken = Taken(shape=area, drawn=area, face="front", depth=5.0 + deeper, deep=7.0 + deeper, plane=floor)
        return Solid(parts=flat(rectangle(200, 100)), holes=shapely.Polygon(), taken=(taken,))

    assert differences(ramp(0.005), ramp(0.0), 12.0) == []
    (d,) = differences(ramp(0.5), ramp(0.0), 12.0)
    assert d.gone


# -- whole packets -----------------------------------------------------------------------------------------
def test_areas_agree_where_loops_are_not_compared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Equal loops save the overlaying of areas; without that shortcut nothing more is found in a good packet."""
    packet = heron(tmp_path)
    monkeypatch.setattr("pipeline.proof.simulate.alike", lambda cut, design: False)
    assert packet.texts() == []


def test_a_pocket_that_the_piece_does_not_have_is_only_a_set_up(tmp_path: Path) -> None:
    """A fault of the derivation, not of the writer: the files say what the set-up says, and the piece's own shape
    is another. The opening in the files is 10 mm longer than the piece's."""
    edge, opening, longer = rectangle(200, 120), rectangle(60, 40).reversed(), rectangle(70, 40).reversed()
    good = plate("panel", edge, opening)
    assert single(tmp_path / "a", good).texts() == []
    shape = region([Part(edge, (longer,))])
    said = single(tmp_path / "b", replace(good, region=shape, cut=shape)).texts("isn't the design's")
    assert len(said) == 1
    assert "leaves 400" in said[0] or "leaves 399" in said[0]


def test_a_hole_in_thin_air_frees_nothing(tmp_path: Path) -> None:
    """The set-up itself asks for an opening beside the part: files and set-up agree, and it is still told."""
    piece = plate("panel", rectangle(200, 120))
    ops = (Op(work="CUT_INSIDE", face="front", contours=(circle(150, 0, 10).reversed(),)), *piece.set_ups[0].ops)
    piece = replace(piece, set_ups=(SetUp(face="front", ops=ops),))
    assert single(tmp_path, piece).texts("following it frees nothing")


def edges_case() -> Derived:
    recipe = read_recipe(CASES / "edges" / "edges.yaml")
    return derive(recipe, read_drawing(recipe))


def test_laminations_that_do_not_make_the_blank_are_told(tmp_path: Path) -> None:
    """One lamination gets a hole in set-up, piece and files alike: only the glued whole shows that it is wrong."""
    derived = edges_case()

    def proved(made: Derived, folder: Path) -> list[str]:
        write_shop_files(folder, shop_files(made, ()))
        return [f.message for f in prove(folder, made, ()).findings]

    assert proved(derived, tmp_path / "good") == []
    blank = derived.blanks[0]
    victim = next(p for p in derived.pieces if p.name == blank.laminations[-1].piece)
    x, y = _in_the_wood(victim)
    spoiled = _with_a_hole(victim, x, y)
    step = derived.results[victim.step]
    pieces = tuple(spoiled if p is victim else p for p in step.pieces)
    made = replace(derived, results={**derived.results, victim.step: replace(step, pieces=pieces)})
    said = proved(made, tmp_path / "bad")
    assert len(said) == 1
    assert "Glued together, the laminations" in said[0]
    assert f"{25 * math.pi:.1f}"[:3] in said[0]


def _in_the_wood(piece: Piece) -> tuple[float, float]:
    """A place with 8 mm of wood all round."""
    at = piece.cut.polygon.buffer(-8).representative_point()
    return float(at.x), float(at.y)


def _with_a_hole(piece: Piece, x: float, y: float) -> Piece:
    from pipeline.geometry.boolean import difference

    hole = disc(x, y, 5.0)
    ops = (Op(work="CUT_INSIDE", face=piece.set_ups[-1].face, contours=hole.contours), *piece.set_ups[-1].ops)
    last = replace(piece.set_ups[-1], ops=ops)
    return replace(
        piece,
        region=difference(piece.region, hole),
        cut=difference(piece.cut, hole),
        set_ups=(*piece.set_ups[:-1], last),
    )


def test_parts_nearer_than_the_cut_is_wide(tmp_path: Path) -> None:
    """Covers 0.15 mm apart on the sheet: a beam of 0.2 takes from one of the two."""
    nest = factory.cover_nest()
    first, second = nest.placements
    second = replace(second, turn_deg=0, dx=first.dx, dy=first.dy + 50.15)
    derived = factory.derived(factory.recipe(), blanks=(), pieces=(factory.cover(2),))
    nests = (replace(nest, placements=(first, second)),)
    write_shop_files(tmp_path, shop_files(derived, nests))
    said = [f for f in prove(tmp_path, derived, nests).findings if "takes from one of the two" in f.message]
    assert len(said) == 1
    assert said[0].measured == pytest.approx(0.15, abs=1e-6)


def test_a_free_outline_of_two_parts_is_cut_as_two(tmp_path: Path) -> None:
    """A piece of two parts that lie apart is no fault."""
    two = (rectangle(60, 40, x=-50), rectangle(60, 40, x=50))
    piece = plate("pair", two[0])
    ops = (Op(work="CUT_OUTSIDE", face="front", contours=two, step="pair"),)
    piece = replace(piece, region=solid(*two), cut=solid(*two), set_ups=(SetUp(face="front", ops=ops),))
    assert single(tmp_path, piece).texts() == []


def test_what_the_cut_leaves_is_stated(tmp_path: Path) -> None:
    """An L from outside keeps (1 − π/4) r² in its one inner corner; the smallest cutter on the list has r 1.5."""
    ell = line_chain([(0, 0), (90, 0), (90, 25), (40, 25), (40, 50), (0, 50)])
    (row,) = single(tmp_path, plate("ell", ell)).read().simulated
    assert row.subject == "ell"
    assert row.off_mm2 == 0.0
    assert row.residue_mm2 == pytest.approx((1 - math.pi / 4) * 1.5**2, rel=0.01)
    assert row.stands_mm2 == pytest.approx(90 * 25 + 40 * 25 + row.residue_mm2, abs=0.01)
