"""Offcuts with places to keep out of, odd corners, spares and coupons: measured by shapely on shapes placed here."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.core.recipe import Offcut, Sheet
from pipeline.core.shop import Shop
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.values import Derived, Nest
from pipeline.workshop.nest import nests
from tests.workshop.factory import of_pieces, piece, ring

SHOP = Shop(name="router", gap=8.0, border=10.0)


def box(w: float, h: float) -> Region:
    return solid(rectangle(w, h))


def design(*pieces: Any, sheet: Sheet, **more: Any) -> Derived:
    made = of_pieces(*pieces, shops={"router": SHOP}, sheets={"birch12": sheet})
    if more:
        from dataclasses import replace

        made = replace(made, recipe=replace(made.recipe, **more))
    return made


def lying(made: Derived, nest: Nest) -> list[shapely.Geometry]:
    known = {p.name: p.cut.polygon for p in made.pieces}
    return [
        shapely.transform(
            shapely.affinity.rotate(known[p.piece], p.turn_deg, origin=(0, 0)),
            lambda xy, p=p: xy + np.array([p.dx, p.dy]),
        )
        for p in nest.placements
    ]


def stock(**more: Any) -> Sheet:
    return Sheet(measured={"A": 11.8, "D": 11.7}, size=(600.0, 300.0), **more)


def test_an_offcut_is_used_before_a_sheet_is_begun():
    made = design(piece("tile", box(80, 60)), sheet=stock(offcuts={"D": Offcut(size=(200.0, 150.0))}))
    found, said = nests(made)
    assert [(n.letter, n.number, n.offcut, n.size, n.thickness_mm) for n in found] == [
        ("D", 1, True, (200.0, 150.0), 11.7)
    ]
    assert said == ()
    assert found[0].used == pytest.approx(80 * 60 / (200 * 150))


def test_there_is_one_of_each_offcut():
    """Tiles of 80 × 60 with gap 8, border 10: at most four fit on 200 × 150; the others come from a sheet."""
    made = design(piece("tile", box(80, 60), count=7), sheet=stock(offcuts={"D": Offcut(size=(200.0, 150.0))}))
    found, _ = nests(made)
    assert [(n.letter, n.number) for n in found] == [("A", 1), ("D", 1)]
    assert sum(len(n.placements) for n in found) == 7


def test_a_lamination_of_a_full_offcut_is_a_stop():
    made = design(
        piece("blank-1", box(80, 60), count=5, role="lamination", letter="D"),
        sheet=stock(offcuts={"D": Offcut(size=(200.0, 150.0))}),
    )
    found, said = nests(made)
    assert [(n.letter, len(n.placements)) for n in found] == [("D", 4)]
    assert [(f.check, f.severity, f.piece) for f in said] == [("no-room", "stop", "blank-1")]
    assert "1 of 5 blank-1" in said[0].message


@pytest.mark.parametrize(
    "keep_out", [((70.0, 55.0, 60.0, 40.0),), ((0.0, 0.0, 90.0, 30.0), (150.0, 100.0, 50.0, 50.0))]
)
def test_parts_keep_out_of_places(keep_out: tuple[tuple[float, float, float, float], ...]):
    made = design(
        piece("tile", box(30, 20), count=9),
        sheet=stock(offcuts={"D": Offcut(size=(200.0, 150.0), keep_out=keep_out)}),
    )
    found, _ = nests(made)
    offcut = next(n for n in found if n.letter == "D")
    assert offcut.keep_out == keep_out
    assert len(offcut.placements) >= 5
    shapes = lying(made, offcut)
    for x, y, w, h in keep_out:
        assert min(shapely.distance(s, shapely.box(x, y, x + w, y + h)) for s in shapes) >= 8.0 - 1e-3
    for i, s in enumerate(shapes):
        assert shapely.box(10, 10, 190, 140).buffer(1e-6).covers(s)
        assert all(shapely.distance(s, t) >= 8.0 - 1e-3 for t in shapes[:i])


def test_an_offcut_of_any_outline():
    """An L of 300 × 250 with arms of 100: nothing in its corner, 10 from every edge."""
    corners = ((0.0, 0.0), (300.0, 0.0), (300.0, 100.0), (100.0, 100.0), (100.0, 250.0), (0.0, 250.0))
    made = design(piece("tile", box(70, 40), count=4), sheet=stock(offcuts={"D": Offcut(corners=corners)}))
    found, said = nests(made)
    assert [(n.letter, n.corners, n.size) for n in found] == [("D", corners, (300.0, 250.0))]
    assert said == ()
    outline = shapely.Polygon(corners)
    for s in lying(made, found[0]):
        assert outline.covers(s)
        assert shapely.distance(s, outline.exterior) >= 10.0 - 1e-3
    assert found[0].used == pytest.approx(4 * 2800 / (300 * 100 + 100 * 150))


def test_a_sheet_with_a_knot_is_still_a_sheet():
    """A keep-out on a whole sheet concerns the first of its letter; a second one has none."""
    sheet = Sheet(
        measured={"A": 11.8}, size=(300.0, 200.0), offcuts={"A": Offcut(keep_out=((140.0, 20.0, 20.0, 160.0),))}
    )
    found, said = nests(design(piece("tile", box(200, 100), count=1), piece("b", box(100, 100)), sheet=sheet))
    assert [(n.letter, n.number, [p.piece for p in n.placements], bool(n.keep_out)) for n in found] == [
        ("A", 1, ["b"], True),
        ("A", 2, ["tile"], False),
    ]
    assert [f.check for f in said] == ["more-sheets"]


def test_coupons_take_what_is_left():
    """As large as the part is, the coupon lies last, and doesn't drive the part to another sheet."""
    sheet = Sheet(measured={"A": 11.8}, size=(200.0, 120.0))
    made = design(
        piece("coupon", box(100, 95), role="coupon"), piece("part", box(150, 80)), piece("bit", box(10, 80)),
        sheet=sheet,
    )  # fmt: skip
    found, said = nests(made)
    assert [sorted(p.piece for p in n.placements) for n in found] == [["bit", "part"], ["coupon"]]
    assert [f.check for f in said] == ["more-sheets"]  # it must come from somewhere
    small = design(piece("coupon", box(20, 20), role="coupon"), piece("frame", ring(50.0, 40.0)), sheet=sheet)
    found, said = nests(small)
    assert (len(found), said) == (1, ())


def test_spares_take_what_is_left_and_no_sheet():
    """Four tiles of 80 × 60 fit; three are made: of two spares one finds room, and that is said."""
    sheet = Sheet(measured={"A": 11.8}, size=(200.0, 150.0))
    made = design(piece("tile", box(80, 60), count=3), sheet=sheet, spare={"tile": 2})
    found, said = nests(made)
    assert [sorted((p.copy, p.spare) for p in n.placements) for n in found] == [
        [(1, False), (2, False), (3, False), (4, True)]
    ]
    assert [(f.check, f.severity) for f in said] == [("no-spare", "note")]
    assert found[0].used == pytest.approx(4 * 4800 / 30000)


def test_a_disc_in_the_opening_of_a_frame_that_fills_the_offcut():
    made = design(
        piece("frame", ring(90.0, 60.0)), piece("disc", disc(0, 0, 30.0)),
        sheet=stock(offcuts={"D": Offcut(size=(200.0, 200.0))}),
    )  # fmt: skip
    found, _ = nests(made)
    assert [(n.letter, [p.piece for p in n.placements]) for n in found] == [("D", ["disc", "frame"])]
    cuts = [(found[0].placements[c.placement].piece, c.work, c.inner) for c in found[0].cuts]
    assert cuts == [("disc", "CUT_OUTSIDE", ()), ("frame", "CUT_INSIDE", (0,)), ("frame", "CUT_OUTSIDE", (0,))]
