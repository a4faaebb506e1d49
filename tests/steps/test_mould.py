"""Moulds: springback along a line, true parallels, ribs with their holes, limits; boards bent by cuts."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Sheet
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.parallel import Bends, laid
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import rectangle
from pipeline.steps.mould import Bolts, Clamps, Kerf, Lattice, Ribs, Stretch, Trial
from pipeline.steps.values import Drawing, Drawn, Piece, Result, World
from tests.steps.factory import LASER, ROUTER, derived, step, world

SHEETS = {
    "mdf18": Sheet(measured={"A": 18.0}, density=740.0),
    "board12": Sheet(measured={"A": 12.0}, density=680.0),
    "hinge": Sheet(measured={"A": 4.0}, density=680.0, shop="laser"),
    "veneer": Sheet(measured={"A": 1.5}, density=680.0),
}


def line(*pairs: tuple[float, float], heading: float = 0.0) -> Contour:
    """Smooth segments of (length mm, turn in degrees, left positive) from the origin."""
    lengths, turns = zip(*pairs, strict=True)
    return laid(
        Bends(
            lengths=np.array(lengths),
            turns=np.radians(turns),
            joints=np.zeros(len(pairs)),
            free=np.zeros(len(pairs), dtype=np.bool_),
            start=(0.0, 0.0),
            heading=math.radians(heading),
        )
    )


def bow(radius: float, degrees: float) -> Contour:
    """An arch from left to right whose middle is level: its centre lies below."""
    return line((math.radians(degrees) * radius, -degrees), heading=degrees / 2)


def made(curve: Contour | None, *before: Any, make: int = 1, **fields: Any) -> Result:
    fields = {"curve": "curve", "width": 120.0, **fields}
    w = world(*before, step("form", "mould", **fields), shops={"router": ROUTER, "laser": LASER}, make=make)
    objects = dict(w.drawing.objects)
    if curve is not None:
        objects["curve"] = Drawn(
            name="curve", region=None, lines=(curve,), mark=None, place=Place(file="test.svg")
        )
    drawing: Drawing = replace(w.drawing, objects=objects)
    recipe: Recipe = replace(w.recipe, sheets={**w.recipe.sheets, **SHEETS})
    return derived(World(recipe=recipe, drawing=drawing, results={}))["form"]


def found(result: Result, check: str) -> list[Finding]:
    return [f for f in result.findings if f.check == check]


def piece(result: Result, name: str) -> Piece:
    return next(p for p in result.pieces if p.name == name)


# -- springback --------------------------------------------------------------------------------------
def test_the_angle_grows() -> None:
    """trade.md 6.7 Oracle (derived): 20° wanted, n 7 → 20.417°; the radius of the middle ×0.9796."""
    result = made(bow(1000.0, 20.0), face="middle", plies=7, ply=1.0)
    assert round(result.numbers["form_turn_deg"], 3) == 20.417
    assert result.numbers["turn_deg"] == pytest.approx(20.0)
    assert round(result.numbers["curvature_kept"], 4) == 0.9796
    middle = result.numbers["form_inside_radius_mm"] + 3.5
    assert middle == pytest.approx(1000.0 * 48 / 49)


@pytest.mark.parametrize(("face", "more"), [("inner", 5.25), ("outer", -5.25), ("middle", 0.0)])
def test_the_developed_length(face: str, more: float) -> None:
    """trade.md 6.7 (derived): θ (R + T/2) with R the inner radius; the form's middle line is as long."""
    result = made(bow(300.0, 80.0), face=face, plies=7, ply=1.5)
    want = math.radians(80.0) * (300.0 + more)
    assert result.numbers["developed_mm"] == pytest.approx(want)
    form = (result.numbers["form_inside_radius_mm"] + 5.25) * math.radians(result.numbers["form_turn_deg"])
    assert form == pytest.approx(want)
    assert result.numbers["blank_mm"] == pytest.approx([want + 40.0, 140.0])


def test_what_blocks_hold_is_not_bent_more() -> None:
    for fields in ({"use": "closed"}, {"springback": "none"}):
        result = made(bow(300.0, 80.0), plies=2, ply=1.5, **fields)
        assert result.numbers["form_turn_deg"] == pytest.approx(80.0)


def test_a_trial_strip_replaces_the_formula() -> None:
    result = made(bow(300.0, 60.0), plies=7, ply=1.5, springback=Trial(form=290.0, piece=300.0))
    assert result.numbers["form_turn_deg"] == pytest.approx(62.069, abs=5e-4)  # 60 · 300/290


def test_both_bends_of_an_s_are_bent_more() -> None:
    s = line((200.0, -40.0), (50.0, 0.0), (150.0, 30.0), heading=20.0)
    result = made(s, face="middle", plies=3, ply=1.0)
    assert result.numbers["form_turn_deg"] == pytest.approx(10.0 * 9 / 8)
    assert result.numbers["developed_mm"] == pytest.approx(400.0)


# -- faces and ribs ----------------------------------------------------------------------------------
def test_the_faces_are_parallels_at_the_thickness_and_the_liners() -> None:
    """Two-part form: inner face at 0, outer at thickness + liners: radii of one centre differ by just that."""
    result = made(
        bow(300.0, 80.0), plies=7, ply=1.5, liner=3.0, springback="none", sheet="mdf18", ends=0.0, trim=0.0
    )
    inner, outer = piece(result, "form-inner"), piece(result, "form-outer")
    radii = [_radius(inner), _radius(outer)]
    assert radii == pytest.approx([300.0, 313.5])
    # Both in one frame, the press along y: the gap at the crown is T + liner, the ends lie on their radii.
    assert inner.region.bounds[3] == pytest.approx(-5.25)
    gap = shapely.distance(inner.region.polygon, outer.region.polygon)
    assert gap == pytest.approx(13.5, abs=2e-3)


def _radius(p: Piece) -> float:
    c = p.region.parts[0].outer
    curved = c.bulges != 0
    chord = np.hypot(*(c.ends - c.starts)[curved].T)
    radii = chord * (1 + c.bulges[curved] ** 2) / (4 * np.abs(c.bulges[curved]))
    assert np.ptp(radii) < 1e-6
    return float(radii[0])


def test_ribs_are_alike_and_counted() -> None:
    """Solid over 120 + 2·10: ⌈140/18⌉ = 8; apart by at most 60: (140 − 18)/60 → 3 spans of 40.67, 4 ribs."""
    solid_ = made(bow(300.0, 60.0), plies=7, ply=1.5, sheet="mdf18")
    assert [(p.name, p.role, p.count) for p in solid_.pieces] == [
        ("form-inner", "rib", 8),
        ("form-outer", "rib", 8),
    ]
    spaced = made(bow(300.0, 60.0), plies=7, ply=1.5, sheet="mdf18", ribs=Ribs(every=60.0, skin=5.0))
    assert spaced.pieces[0].count == 4
    assert spaced.numbers["rib_pitch_mm"] == pytest.approx(122 / 3)
    assert not found(spaced, "ribs-apart")
    (loose,) = found(made(bow(300.0, 60.0), plies=7, ply=1.5, sheet="mdf18", ribs=Ribs(every=60.0)), "ribs-apart")
    assert (loose.measured, loose.limit) == (pytest.approx(122 / 3), pytest.approx(15.0))


def test_a_skin_takes_its_thickness_off_both_faces() -> None:
    fields = {"plies": 7, "ply": 1.5, "sheet": "mdf18", "springback": "none", "ends": 0.0}
    result = made(bow(300.0, 60.0), ribs=Ribs(skin=4.0), **fields)
    assert [_radius(p) for p in result.pieces] == pytest.approx([296.0, 314.5])


CURVES = {
    "arch": bow(260.0, 100.0),
    "ell": line((120.0, 0.0), (60.0 * math.pi / 2, -90.0), (160.0, 0.0), heading=80.0),
    "seat": line((60.0, 0.0), (150.0, -50.0), (90.0, 0.0), (120.0, 25.0), heading=30.0),
}


@pytest.mark.parametrize("curve", CURVES)
def test_holes_stay_in_the_rib_and_off_the_face(curve: str) -> None:
    result = made(
        CURVES[curve], plies=7, ply=1.0, sheet="mdf18", bolts=Bolts(count=3), clamps=Clamps(), grain="across"
    )
    for row in result.numbers["halves"]:
        p = piece(result, row["rib"])
        plate = shapely.Polygon(p.region.parts[0].outer.flatten(1e-3)[0])
        assert len(row["bolts_at_mm"]) == 3
        holes = [(*q, 17.0, 15.0) for q in row["clamps_at_mm"]] + [(*q, 4.0, 10.0) for q in row["bolts_at_mm"]]
        for i, (x, y, r, rim) in enumerate(holes):
            assert plate.contains(shapely.Point(x, y))
            assert plate.boundary.distance(shapely.Point(x, y)) >= r + rim - 1e-6
            for x2, y2, r2, _ in holes[:i]:
                assert math.dist((x, y), (x2, y2)) >= r + r2 + 9.9
        # Clamp holes: wood of 40 to the face, which is all of the edge but the straight ends and the back.
        face = shapely.LineString(_face(p))
        for x, y in row["clamps_at_mm"]:
            assert face.distance(shapely.Point(x, y)) >= 57.0 - 1e-3
        assert sum(1 for w in p.set_ups[0].ops if w.work == "DRILL") == 3
        assert len(p.region.parts[0].holes) == 3 + len(row["clamps_at_mm"])
    if curve == "seat":
        assert not found(result, "clamp-place")


def _face(p: Piece) -> np.ndarray:
    """The run between two corners of a rib's edge that bends most."""
    c = p.region.parts[0].outer
    leaves, arrives = c.tangents()
    came = np.roll(arrives, 1, axis=0)
    corner = np.abs(came[:, 0] * leaves[:, 1] - came[:, 1] * leaves[:, 0]) > 0.02
    stops = [k for k in range(len(c)) if corner[k]]
    runs = list(zip(stops, [*stops[1:], stops[0] + len(c)], strict=True))
    a, b = max(runs, key=lambda r: sum(abs(float(c.bulges[k % len(c)])) for k in range(*r)))
    xy = np.concatenate([c.xy, c.xy])[a : b + 1]
    return chain(xy, np.concatenate([c.bulge, c.bulge])[a : b + 1], closed=False).flatten(1e-3)[0]


def test_clamps_along_a_long_arch() -> None:
    """A face of 2·20 + 454 mm at 70: 7 holes in the outer half, square behind evenly spaced places."""
    result = made(bow(260.0, 100.0), plies=7, ply=1.5, sheet="mdf18", clamps=Clamps())
    outer = result.numbers["halves"][1]
    assert len(outer["clamps_at_mm"]) == round(outer["face_mm"] / 70.0)
    assert not found(result, "clamp-place")


def test_clamps_that_find_no_room_are_told_with_the_depth_that_helps() -> None:
    result = made(bow(2000.0, 10.0), plies=7, ply=1.5, sheet="mdf18", clamps=Clamps(), ribs=Ribs(depth=70.0))
    (inner, outer) = found(result, "clamp-place")
    assert inner.piece == "form-inner"
    assert outer.measured == 6.0
    # Behind the crown of the outer face 40 + 34 + 15 and one to spare; the other places lie lower by up to 8.
    assert "90 mm deep" in outer.remedy


def test_centreline_and_words_on_each_rib() -> None:
    result = made(bow(300.0, 60.0), plies=7, ply=1.5, sheet="mdf18", liner=3.0)
    for p in result.pieces:
        (stroke,) = [op.contours[0] for op in p.set_ups[0].ops if op.work == "ENGRAVE"]
        assert stroke.xy[:, 0] == pytest.approx([0.0, 0.0], abs=1e-9)  # the middle of a level arch
        assert nearest_boundary(p.region, *stroke.xy[0])[0] < 1e-9
        assert p.set_ups[0].labels[0].text == f"TEST {p.name.upper()} B"
        assert p.set_ups[0].labels[1].text == "8 ALIKE"


def test_plies_of_a_sheet() -> None:
    result = made(bow(300.0, 80.0), plies=7, ply="veneer", make=2)
    (ply,) = result.pieces
    x0, y0, x1, y1 = ply.region.bounds
    assert (ply.name, ply.count, x0, y0) == ("form-ply", 14, 0.0, 0.0)
    assert (x1, y1) == pytest.approx((math.radians(80.0) * 305.25 + 40.0, 140.0))


def test_the_sides_of_a_closed_body() -> None:
    """Blocks hold the sides: the plug is the outline itself, the plate round it begins at thickness and liner."""
    body = step("body", "outline", drawn=("body",))
    w = world(body, step("form", "mould", curve=Stretch(of="body"), width=90.0, plies=2, ply=1.5, use="closed",
                         liner=1.0, sheet="mdf18", bolts=Bolts(count=4), clamps=Clamps(), bend="soaked",
                         grain="across"), drawn={"body": solid(rectangle(380.0, 280.0, 130.0))})  # fmt: skip
    w = World(recipe=replace(w.recipe, sheets={**w.recipe.sheets, **SHEETS}), drawing=w.drawing, results={})
    result = derived(w)["form"]
    plug, ring = result.pieces
    assert plug.region.bounds == pytest.approx((-190.0, -140.0, 190.0, 140.0))
    hole = max(ring.region.parts[0].holes, key=lambda c: abs(c.area))
    assert hole.bounds == pytest.approx((-194.0, -144.0, 194.0, 144.0))
    assert result.numbers["developed_mm"] == pytest.approx(2 * 120 + 2 * 20 + 2 * math.pi * 131.5)
    assert [len(r["bolts_at_mm"]) for r in result.numbers["halves"]] == [4, 4]
    assert [f.check for f in result.findings] == ["label-small"]  # five clamp holes leave no room for words


def test_part_of_an_outline() -> None:
    """The round end of a slot 200 by 80, anticlockwise from below: a half circle of 40."""
    body = step("body", "outline", drawn=("body",))
    curve = Stretch(of="body", from_=(60.0, -50.0), to=(60.0, 50.0))
    form = step("form", "mould", curve=curve, width=90.0, plies=4, ply=0.6, springback="none", grain="across")
    result = derived(world(body, form, drawn={"body": solid(rectangle(200.0, 80.0, 40.0))}))["form"]
    assert result.numbers["turn_deg"] == pytest.approx(180.0)
    assert result.numbers["developed_mm"] == pytest.approx(math.pi * 41.2)


# -- limits ------------------------------------------------------------------------------------------
def test_a_bend_too_tight_for_its_plies() -> None:
    """FAA: 1.78 mm along the grain wants 132 mm cold and 38 mm soaked (5.2 and 1.5 in)."""
    (ask,) = found(made(bow(100.0, 60.0), plies=4, ply=1.778, springback="none"), "bend-radius")
    assert (ask.severity, ask.measured, ask.limit) == ("ask", pytest.approx(100.0), pytest.approx(132.08))
    assert "(38.1 mm is enough then)" in ask.remedy
    # 2.0 + (5.2 − 2.0)(t − .035)/.035 in = 100 mm at t = 0.05618 in = 1.427 mm; 7.112/1.42 = 5.01.
    assert "6 plies of at most 1.42 mm" in ask.remedy
    assert ask.at_mm is not None
    assert not found(made(bow(100.0, 60.0), plies=4, ply=1.778, springback="none", bend="soaked"), "bend-radius")
    (stop,) = found(made(bow(38.0, 60.0), plies=4, ply=1.778, springback="none"), "bend-radius")
    assert stop.severity == "stop"


def test_the_form_is_tighter_than_the_piece() -> None:
    """The plies lie on the form: 139 mm wanted inside of 4 plies, (139 + 3.556) · 15/16 − 3.556 = 130.1."""
    (ask,) = found(made(bow(139.0, 60.0), plies=4, ply=1.778), "bend-radius")
    assert ask.measured == pytest.approx(130.09, abs=0.01)


def test_dry_veneer() -> None:
    """trade.md 6.7 (common practice): R ≥ 50 to 60 t along the grain."""
    for radius, severity in ((61.0, None), (55.0, "ask"), (49.0, "stop")):
        told = found(made(bow(radius, 40.0), plies=4, ply=1.0, wood="veneer", springback="none"), "bend-radius")
        assert [f.severity for f in told] == ([severity] if severity else [])


def test_plies_thicker_than_the_table() -> None:
    (ask,) = found(made(bow(3000.0, 20.0), plies=2, ply=12.0), "bend-radius")
    assert ask.severity == "ask"
    assert ask.limit == pytest.approx(9.525)


def test_a_wall_steeper_than_sixty_degrees() -> None:
    """p·cos θ: an arch of 140° pressed from above has walls of 70° at its ends, beyond 60° on 10° of arc each."""
    result = made(bow(300.0, 140.0), plies=7, ply=1.5, springback="none", face="middle")
    one, two = found(result, "wall-steep")
    assert one.measured == pytest.approx(70.0)
    assert f"{300.0 * math.radians(10.0):.2f} mm long" in one.message
    assert "34 % of the pressure" in one.message  # cos 70° = 0.342
    assert one.at_mm is not None
    assert two.at_mm is not None
    assert result.numbers["wall_deg"] == pytest.approx(70.0)
    assert not found(made(bow(300.0, 119.0), plies=7, ply=1.5, springback="none"), "wall-steep")
    assert not found(made(bow(300.0, 140.0), plies=7, ply=1.5, springback="none", halves="inner"), "wall-steep")


def test_the_press_direction_is_the_least_steep_or_as_told() -> None:
    """A quarter bend from level to upright: 45° both walls; pressed along y its upright leg stands at 90°."""
    ell = line((100.0, 0.0), (150.0 * math.pi, -90.0), (100.0, 0.0), heading=90.0)
    assert made(ell, plies=7, ply=1.5, springback="none").numbers["wall_deg"] == pytest.approx(45.0)
    for press in ("-y", "+y"):
        result = made(ell, plies=7, ply=1.5, springback="none", press=press)
        assert result.numbers["wall_deg"] == pytest.approx(90.0)
        (steep,) = found(result, "wall-steep")
        assert "100 mm" not in steep.remedy
        assert "30.0 degrees flatter" in steep.remedy


def test_a_bend_past_half_round_takes_one_half() -> None:
    with pytest.raises(Refused, match="can't close"):
        made(bow(150.0, 220.0), plies=7, ply=0.8, sheet="mdf18", springback="none")
    result = made(bow(150.0, 220.0), plies=7, ply=0.8, sheet="mdf18", springback="none", halves="inner", ends=0.0)
    (rib,) = result.pieces
    # The segment of a circle that is more than half: R²/2 (θ − sin θ).
    theta = math.radians(220.0)
    assert rib.region.area == pytest.approx(150.0**2 / 2 * (theta - math.sin(theta)))


def test_thickness_must_fit_into_the_bend() -> None:
    """Concave side: R_min > thickness. The other bend of an S curves away from the drawn face by 12 mm."""
    s = line((200.0, -80.0), (20.0, 0.0), (12.0 * math.radians(40.0), 40.0), heading=40.0)
    with pytest.raises(Refused, match=r"bends to 12 mm at .* less than the .* mm"):
        made(s, plies=9, ply=3.0, springback="none")
    # Legs that lean in by 10° each: 40 − 2·100·sin 10° = 5.3 mm apart at their ends, and 14 mm thick.
    u = line((100.0, 0.0), (20.0 * math.radians(200.0), -200.0), (100.0, 0.0))
    with pytest.raises(Refused, match="runs into itself"):
        made(u, face="outer", plies=7, ply=2.0, springback="none")


def test_corners_and_undecided_lines_are_refused() -> None:
    a = math.radians(40.0)
    bent = chain([(0, 0), (50, 0), (50 + 50 * math.cos(a), 50 * math.sin(a))], [0.0] * 3, closed=False)
    with pytest.raises(Refused, match=r"corner of 40\.00 degrees at \(50\.0, 0\.0\)"):
        made(bent, plies=3, ply=1.0)
    s = line((200.0, -30.0), (200.0, 30.0), heading=15.0)
    with pytest.raises(Refused, match="neither side is plainly inside"):
        made(s, plies=3, ply=1.0)
    assert made(s, plies=3, ply=1.0, inside="-y").numbers["turn_deg"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "doesn't say what is bent"),
        ({"plies": 1, "ply": 1.0}, "springs back all the way"),
        ({"plies": 3, "ply": 1.0, "bolts": Bolts()}, "gives `bolts` but no sheet"),
        ({"plies": 3, "ply": 1.0, "sheet": "mdf18", "bolts": Bolts(count=1)}, "One bolt"),
        ({"plies": 3, "ply": 1.0, "springback": Trial(form=300.0, piece=290.0)}, "came out tighter"),
        ({"kerf": Kerf(blade=3.0, web=2.0), "plies": 3, "sheet": "board12"}, "`plies` means nothing"),
        ({"kerf": Kerf(blade=3.0, web=2.0)}, "what board is bent"),
        ({"kerf": Kerf(blade=3.0, web=13.0), "sheet": "board12"}, "leaves nothing to cut"),
    ],
)
def test_fields_that_make_no_sense_together(fields: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        made(bow(300.0, 40.0), **fields)


# -- boards bent by cuts -------------------------------------------------------------------------------
def quarter(outer: float) -> Contour:
    """A straight 80, a quarter bend of the outer radius, a straight 60."""
    return line((80.0, 0.0), (outer * math.pi / 2, -90.0), (60.0, 0.0))


def test_saw_cuts_that_close() -> None:
    """trade.md 6.8 Oracle (derived): 90°, t 12, w 2.5, k 3.0, R_o 112 → 5 (4.974), spacing 34.8; for looks 13."""
    result = made(quarter(112.0), face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5))
    (bend,) = result.numbers["bends"]
    assert (bend["cuts"], bend["closing"], bend["smooth"]) == (5, 5, 13)
    assert round(math.radians(bend["turn_deg"]) * 9.5 / 3.0, 3) == 4.974
    assert round(bend["spacing_mm"], 1) == 34.8
    assert result.numbers["depth_mm"] == 9.5
    assert result.numbers["blank_mm"] == pytest.approx([140.0 + math.pi / 2 * 110.75, 120.0])
    (board,) = result.pieces
    (groove,) = [op for op in board.set_ups[0].ops if op.work == "GROOVE"]
    assert (groove.diameter_mm, groove.depth_mm, len(groove.contours)) == (3.0, 9.5, 5)
    xs = [float(c.xy[0, 0]) for c in groove.contours]
    assert np.diff(xs) == pytest.approx([bend["spacing_mm"]] * 4)
    assert (xs[0] + xs[-1]) / 2 == pytest.approx(80.0 + math.pi / 4 * 110.75)
    (facets,) = found(result, "kerf-facets")
    assert (facets.measured, facets.limit) == (pytest.approx(34.79, abs=0.01), pytest.approx(14.0))
    assert "13 cuts" in facets.remedy
    assert "a blade of 1.15 mm" in facets.remedy  # (π/2) 9.5/13 = 1.148


def test_saw_cuts_for_looks_stay_open() -> None:
    result = made(quarter(112.0), face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5, looks=True))
    (bend,) = result.numbers["bends"]
    assert bend["cuts"] == 13
    assert bend["closes_mm"] == pytest.approx(1.148, abs=5e-4)
    assert "stay 1.85 mm open each" in result.reports[0]
    assert not found(result, "kerf-facets")


def test_the_inner_face_is_the_outer_one_less_the_board() -> None:
    one = made(quarter(112.0), face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5))
    two = made(quarter(100.0), face="inner", sheet="board12", kerf=Kerf(blade=3.0, web=2.5))
    assert two.numbers["bends"][0]["outer_radius_mm"] == pytest.approx(112.0)
    assert two.numbers["blank_mm"] == pytest.approx(one.numbers["blank_mm"])


def test_cuts_stand_at_equal_angles_where_the_radius_changes() -> None:
    """45° at 200 and 45° at 100: as many cuts in each, twice as far apart in the first."""
    c = line((200.0 * math.pi / 4, -45.0), (100.0 * math.pi / 4, -45.0))
    result = made(c, face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5, cuts=8))
    (bend,) = result.numbers["bends"]
    gaps = np.diff(bend["from_end_mm"])
    assert gaps[:3] == pytest.approx([math.pi / 16 * 198.75] * 3)
    assert gaps[4:] == pytest.approx([math.pi / 16 * 98.75] * 3)


@pytest.mark.parametrize(
    ("kerf", "severity", "limit"),
    [
        (Kerf(blade=3.0, web=1.7), "ask", 1.8),  # 15 % of 12
        (Kerf(blade=3.0, web=2.5, veneer=1.4, ply=1.4), "ask", 2.8),  # outer veneer + 1 ply
        (Kerf(blade=3.0, web=3.5), "note", 3.0),
        (Kerf(blade=3.0, web=1.8), None, 0.0),
    ],
)
def test_the_web(kerf: Kerf, severity: str | None, limit: float) -> None:
    """trade.md 15 (common practice): at least max(15 % t, outer veneer + 1 ply)."""
    told = found(made(quarter(112.0), face="outer", sheet="board12", kerf=kerf), "kerf-web")
    assert [(f.severity, f.limit) for f in told] == ([(severity, pytest.approx(limit))] if severity else [])


def test_too_few_cuts_and_bends_the_other_way() -> None:
    (few,) = found(
        made(quarter(112.0), face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5, cuts=4)), "kerf-closed"
    )
    assert (few.measured, few.limit) == (4.0, 5.0)
    with pytest.raises(Refused, match="bends the other way at"):
        made(line((200.0, -60.0), (100.0, 20.0)), face="outer", sheet="board12", kerf=Kerf(blade=3.0, web=2.5))


def test_a_lattice_of_slots() -> None:
    """A quarter of 60 about the middle: 94.2 mm hold 40 rows of 2 + 0.3; wood between rows at least as asked."""
    result = made(
        quarter(62.0), face="outer", sheet="hinge", lattice=Lattice(link=2.0, slot=25.0, bridge=5.0), width=100.0
    )
    (bend,) = result.numbers["bends"]
    assert bend["rows"] == math.floor(math.pi / 2 * 60.0 / 2.3)
    assert bend["link_mm"] >= 2.0
    assert not result.findings
    (board,) = result.pieces
    assert len(board.region.parts) == 1
    # Every line along the bend through the zone meets a slot within one and a half rows: nothing stays stiff.
    slots = shapely.box(*board.region.bounds).difference(board.region.polygon)
    for y in np.linspace(0.5, 99.5, 40):
        zone = shapely.LineString([(80.0, y), (80.0 + math.pi / 2 * 60.0, y)])
        assert zone.intersection(slots).length >= 0.3 * (bend["rows"] // 2) - 1e-6


@pytest.mark.parametrize(
    ("lattice", "outer", "check"),
    [
        (Lattice(link=1.8, slot=25.0, bridge=5.0), 62.0, "lattice"),
        (Lattice(link=2.0, slot=40.0, bridge=5.0), 62.0, "lattice"),
        (Lattice(link=2.0, slot=25.0, bridge=6.0), 62.0, "lattice"),
        (Lattice(link=2.0, slot=25.0, bridge=5.0), 32.0, "lattice-radius"),
    ],
)
def test_limits_of_a_lattice(lattice: Lattice, outer: float, check: str) -> None:
    """trade.md 6.8 (common practice): link ≥ t/2, slots 20 to 30, overlap ≥ 40 %, radius ≥ 8 to 10 t."""
    told = made(quarter(outer), face="outer", sheet="hinge", lattice=lattice).findings
    assert [(f.check, f.severity) for f in told] == [(check, "ask")]
