"""Gauges: sections against the formula, facets against closed forms, radius pairs, stations and what is told."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.geometry.biarcs import CURVE_MM
from pipeline.geometry.contour import Contour
from pipeline.geometry.fit import fitted
from pipeline.geometry.sections import Section, facet, monotone, profile
from pipeline.geometry.transform import turn
from pipeline.steps.fretboard import Width
from pipeline.steps.gauges import Lean, Side, Station, place_of
from pipeline.steps.mirror import mirrored
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Derived, Label, Piece, Result, World
from tests.steps.factory import LASER, derived, step, world

NECK = {"length": 430.0, "frets": 20, "width": Width(nut=32.0, last=44.0)}
REACH = 430.0 * (1 - 2 ** (-20 / 12))


def given_world(fretboard: dict[str, Any] | None = None, **fields: Any) -> World:
    steps = [step("neck", "fretboard", **{**NECK, **(fretboard or {})})]
    return world(*steps, step("tries", "gauges", **{"sheet": "ply3", **fields}))


def made(fretboard: dict[str, Any] | None = None, **fields: Any) -> Result:
    return derived(given_world(fretboard, **fields))["tries"]


def section_of(thickness: float = 21.0, width: float = 44.0, **fields: Any) -> Result:
    return made(width=width, stations={"x 200": Station(thickness=thickness)}, **fields)


def labels(piece: Piece) -> list[Label]:
    return [v for s in piece.set_ups for v in s.labels]


# -- the formula -------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("p", "m", "z"), [(2.0, 2.0, 18.19), (2.5, 2.0, 19.05), (2.0, 1.0, 15.75), (3.0, 2.5, 19.91)]
)
def test_the_oracle_of_the_trade(p: float, m: float, z: float) -> None:
    """trade.md 5.4 (derived): w 44, t 21, half-way out, two decimals; on both sides."""
    section = Section(width=44.0, depth=21.0, plus=(p, m), minus=(p, m))
    assert round(section.z(11.0), 2) == z
    assert section.z(-11.0) == section.z(11.0)


SHAPES = [
    ((2.0, 2.0), (2.0, 2.0), 0.0),
    ((3.0, 2.5), (2.0, 2.0), 2.5),
    ((1.5, 1.2), (2.0, 1.0), -3.0),
    ((1.0, 1.0), (1.2, 4.0), 0.0),
    ((6.0, 5.0), (1.05, 1.05), 8.0),
]


def on_formula(section: Section) -> shapely.LineString:
    """Points straight from z(y), many, and closest where the curve is steep or sharp."""
    w, lean = section.width / 2, section.lean
    u = np.linspace(0.0, 1.0, 20001)
    dense = 0.5 - 0.5 * np.cos(math.pi * u)  # toward both ends of each side
    y = np.concatenate([-w + (lean + w) * dense, lean + (w - lean) * dense])
    near = np.geomspace(1e-12, 1e-3, 2000)
    y = np.unique(np.concatenate([y, -w + near, w - near, lean + near, lean - near]))
    return shapely.LineString([(v, section.z(v)) for v in y.tolist()])


def apart(a: shapely.Geometry, b: shapely.Geometry) -> float:
    """The farthest any vertex of one lies from the other, both ways."""
    return max(_farthest(a, b), _farthest(b, a))


def _farthest(a: shapely.Geometry, b: shapely.Geometry) -> float:
    xy = shapely.get_coordinates(b)
    tree = shapely.STRtree(shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1)))
    points = shapely.points(shapely.get_coordinates(a))
    _, distances = tree.query_nearest(points, return_distance=True, all_matches=False)
    return float(distances.max())


def breaks_deg(c: Contour) -> float:
    """The largest turn at a joint of an open chain."""
    leaves, arrives = c.tangents()
    a, b = arrives[:-1], leaves[1:]
    turns = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return float(np.degrees(np.abs(turns).max()))


@pytest.mark.parametrize(("plus", "minus", "lean"), SHAPES)
def test_the_curve_keeps_to_the_formula(
    plus: tuple[float, float], minus: tuple[float, float], lean: float
) -> None:
    """Before export within CURVE_MM, as arcs of a file within 0.005 mm (blueprint 6.1), measured both ways."""
    section = Section(width=40.0, depth=22.0, lean=lean, plus=plus, minus=minus)
    wanted = on_formula(section)
    shapely.prepare(wanted)
    fine = profile(section)
    assert apart(shapely.LineString(fine.flatten(1e-6)[0]), wanted) <= CURVE_MM + 1e-5
    few = fitted(fine, 0.005)
    assert apart(shapely.LineString(few.flatten(1e-5)[0]), wanted) <= 0.005
    assert len(few) <= 40
    if min(plus[0], minus[0]) > 1.0:
        assert breaks_deg(few) < 0.1


def test_both_sides_join_level_at_the_thickest_point() -> None:
    """p > 1: the greatest depth lies at `lean`, and the curve is level there."""
    section = Section(width=40.0, depth=22.0, lean=2.5, plus=(3.0, 2.5), minus=(2.0, 2.0))
    assert section.z(2.5) == 22.0
    for y in (2.5 - 1e-4, 2.5 + 1e-4):
        assert 0.0 <= 22.0 - section.z(y) < 1e-8
    assert section.z(20.0) == section.z(-20.0) == 0.0


def test_what_is_no_section() -> None:
    """Leaning over the edge, or hollow."""
    with pytest.raises(ValueError, match="less than half"):
        Section(width=40.0, depth=22.0, lean=20.0)
    with pytest.raises(ValueError, match="at least 1"):
        Section(width=40.0, depth=22.0, plus=(0.9, 2.0))


# -- facets ------------------------------------------------------------------------------------------
@pytest.mark.parametrize("sign", [1, -1])
def test_the_facet_of_an_ellipse(sign: int) -> None:
    """The tangent at 45° to an ellipse with axes a, b: |y| + z = √(a² + b²) (closed form)."""
    back, side = facet(Section(width=44.0, depth=21.0), sign)
    reach = math.hypot(22.0, 21.0)
    assert (back, side) == (pytest.approx(reach - 21.0, abs=1e-9), pytest.approx(reach - 22.0, abs=1e-9))


def test_the_facet_of_a_parabola_and_of_a_lean() -> None:
    """z = t (1 − y²/a²) has slope 1 at a²/2t: c = t + a²/4t. A lean shifts the side with its own reach."""
    back, side = facet(Section(width=44.0, depth=21.0, plus=(2.0, 1.0)), 1)
    assert back == pytest.approx(22.0**2 / 84)
    assert side == pytest.approx(21.0 + 22.0**2 / 84 - 22.0)
    back, _ = facet(Section(width=44.0, depth=21.0, lean=3.0), -1)
    assert back == pytest.approx(math.hypot(25.0, 21.0) - 3.0 - 21.0)


@given(p=st.floats(1.0, 6.0), m=st.floats(1.0, 6.0), t=st.floats(8.0, 40.0), lean=st.floats(-8.0, 8.0))
def test_facets_touch_and_never_cut(p: float, m: float, t: float, lean: float) -> None:
    """No point of that side lies beyond the facet, and one lies on it."""
    section = Section(width=44.0, depth=t, lean=lean, plus=(p, m))
    back, side = facet(section, 1)
    y = np.linspace(lean, 22.0, 4001)
    beyond = np.array([v + section.z(v) for v in y.tolist()]) - (back + t)
    assert beyond.max() <= 1e-9
    assert beyond.max() >= -0.02
    assert back + t == pytest.approx(side + 22.0)


# -- between stations --------------------------------------------------------------------------------
def test_a_monotone_cubic_by_hand() -> None:
    """(0, 0), (1, 1), (3, 2): secants 1 and 1/2, slopes 7/6 at the start, 9/13 at the middle; so at 0.5
    1/2 + 7/48 − 9/104."""
    assert monotone([0.0, 1.0, 3.0], [0.0, 1.0, 2.0], 0.5) == pytest.approx(0.5 + 7 / 48 - 9 / 104)
    assert monotone([0.0, 10.0], [20.0, 24.0], 2.5) == 21.0


@given(
    values=st.lists(st.floats(10.0, 30.0), min_size=2, max_size=6),
    steps=st.lists(st.floats(5.0, 200.0), min_size=5, max_size=5),
)
def test_nothing_dips_between_stations(values: list[float], steps: list[float]) -> None:
    """Rising values stay rising; the stations themselves are met; a turn stays at its station."""
    xs = np.concatenate([[0.0], np.cumsum(steps)])[: len(values)].tolist()
    for i, x in enumerate(xs):
        assert monotone(xs, values, x) == pytest.approx(values[i])
    for i in range(len(values) - 1):
        inner = [monotone(xs, values, v) for v in np.linspace(xs[i], xs[i + 1], 40).tolist()]
        steps_up = np.diff(inner) * (1 if values[i + 1] >= values[i] else -1)
        assert (steps_up >= -1e-9).all()


def test_a_series_is_evenly_spaced() -> None:
    """Between fret 1 (x 405.87) and fret 12 (x 215): 190.87 in four parts of at most 50; from the nut on."""
    result = made(
        width="neck", every=50.0, stations={"fret 12": Station(thickness=23.0), "fret 1": Station(thickness=21.0)}
    )
    rows = result.numbers["stations"]
    x = [r["at_mm"][0] for r in rows]
    first = 430.0 * 2 ** (-1 / 12)
    assert x == pytest.approx([first + (215.0 - first) * k / 4 for k in range(5)])
    assert [r["thickness_mm"] for r in rows] == pytest.approx([21.0, 21.5, 22.0, 22.5, 23.0])
    assert [r["station"] for r in rows] == ["fret 1", "", "", "", "fret 12"]
    for r in rows:
        assert r["width_mm"] == pytest.approx(32 + 12 * (430.0 - r["at_mm"][0]) / REACH)
    assert [p.name for p in result.pieces] == [f"tries-{i}" for i in range(1, 6)]


def test_stations_as_the_recipe_names_them() -> None:
    """In the order of the recipe; at a fret, or x from the bridge."""
    result = made(
        width="neck", stations={"x 240": Station(thickness=22.0), "fret 1": Station(thickness=21.0, width=34.0)}
    )
    a, b = result.numbers["stations"]
    assert a["at_mm"] == [240.0, 0.0]
    assert a["fret"] == pytest.approx(12 * math.log2(430 / 240))
    assert b["fret"] == pytest.approx(1.0)
    assert b["width_mm"] == 34.0
    assert [v.text for v in labels(result.pieces[1])] == [
        "B",
        "T",
        "TEST TRIES-2 B",
        "X 405.87 / FRET 1",
        "T 21 FROM TOP",
    ]
    assert "X 240" in [v.text for v in labels(result.pieces[0])]
    assert place_of("240 mm") == place_of("x 240") == ("x", 240.0)
    assert place_of("fret 5 mm") is place_of("near 5") is None


# -- the plate ---------------------------------------------------------------------------------------
def test_a_gauge_is_a_plate_less_the_section() -> None:
    """Half an ellipse: π w t/4. The reference edge lies at the top, the mouth opens there."""
    result = section_of(board=6.0)
    (piece,) = result.pieces
    assert (piece.role, piece.name, piece.count) == ("gauge", "tries", 1)
    x0, y0, x1, y1 = piece.region.bounds
    gone = (x1 - x0) * (y1 - y0) - piece.region.area
    assert gone == pytest.approx(math.pi * 44.0 * 15.0 / 4 + 44.0 * 6.0, abs=2e-3)
    assert x1 - x0 == pytest.approx(44.0 + 30.0)
    middle = shapely.LineString([(0.0, y1), (0.0, y0)])
    assert shapely.intersection(middle, piece.region.polygon).bounds[3] == pytest.approx(y1 - 21.0, abs=1e-3)
    assert result.numbers["stations"][0]["facets_45"]["bass"]["down_side_mm"] == pytest.approx(
        math.hypot(22.0, 15.0) - 22.0 + 6.0
    )


def test_from_the_glue_face_the_board_comes_on_top() -> None:
    """21 from the glue face under a board of 6 is 27 in all."""
    (glue,) = section_of(board=6.0, from_="glue face").pieces
    (top,) = section_of(27.0, board=6.0).pieces
    assert glue.region.area == pytest.approx(top.region.area)
    assert [v.text for v in labels(glue)][-1] == "T 21 FROM GLUE FACE"


def test_the_bass_side_is_left_seen_from_the_bridge() -> None:
    """More wood is gone on the side toward which the thickest point leans; B stands there."""
    (piece,) = section_of(lean=Lean(bass=6.0)).pieces
    mouth = shapely.difference(shapely.box(*piece.region.bounds), piece.region.polygon)
    assert mouth.centroid.x < -0.5
    sides = {v.text: v.at[0] for v in labels(piece) if len(v.text) == 1}
    assert sides["B"] < -22.0
    assert sides["T"] > 22.0
    (other,) = section_of(lean=Lean(treble=6.0)).pieces
    assert shapely.difference(shapely.box(*other.region.bounds), other.region.polygon).centroid.x > 0.5


def test_a_left_handed_gauge_has_its_bass_at_the_right() -> None:
    """Held with the reference edge up (the mirrored drawing turned half round); its text still reads downward."""
    w = given_world(width="neck", stations={"fret 12": Station(thickness=23.0)}, lean=Lean(bass=6.0))
    w = World(recipe=replace(w.recipe, mirrored=True), drawing=w.drawing, results={})
    d = Derived(recipe=w.recipe, drawing=w.drawing, order=tuple(w.recipe.steps.values()), results=derived(w))
    (piece,) = mirrored(d).results["tries"].pieces
    held = turn(180.0).region(piece.region)
    gone = shapely.difference(shapely.box(*held.bounds), held.polygon)
    assert gone.bounds[3] == pytest.approx(held.bounds[3])  # it opens upward again
    assert gone.centroid.x > 0.5
    assert next(-v.at[0] for v in labels(piece) if v.text == "B") > 0.0
    lines = [v.text for v in sorted(labels(piece), key=lambda v: -v.at[1]) if len(v.text) > 1]
    assert lines == ["TEST TRIES B", "X 215 / FRET 12", "T 23 FROM TOP"]


def test_relief_and_clearance_only_when_asked() -> None:
    """Relief Ø 3 takes the quarter of a disc at each corner of a square mouth; clearance stands off all round."""
    plain, relieved, clear = (
        section_of(board=6.0, **f).pieces[0].region for f in ({}, {"relief": 3.0}, {"clearance": 0.15})
    )
    assert plain.area - relieved.area == pytest.approx(2 * math.pi * 1.5**2 / 4)
    edges = [shapely.difference(r.polygon.boundary, shapely.box(*r.bounds).boundary) for r in (plain, clear)]
    top = plain.bounds[3] - 1.0  # below the corners the two edges are parallel
    a, b = (shapely.intersection(e, shapely.box(-100, -100, 100, top)) for e in edges)
    assert shapely.hausdorff_distance(b, a) == pytest.approx(0.15, abs=2e-3)
    assert a.distance(b) == pytest.approx(0.15, abs=2e-3)


# -- radius gauges -----------------------------------------------------------------------------------
def test_radius_gauges_come_in_pairs() -> None:
    """trade.md 5.5 Oracle (derived): chord 60, sagittas of 9.5, 12 and 16 in; hollow and round on one part."""
    result = made(radius=(241.3, 304.8, 406.4))
    assert [round(r["sagitta_mm"], 3) for r in result.numbers["radii"]] == [1.872, 1.480, 1.109]
    for piece, radius in zip(result.pieces, (241.3, 304.8, 406.4), strict=True):
        (contour,) = piece.region.contours
        assert len(contour) == 4
        curved = contour.bulges != 0
        assert sorted(np.sign(contour.bulges[curved])) == [-1.0, 1.0]
        chord = np.hypot(*(contour.ends - contour.starts)[curved].T)
        assert chord == pytest.approx([60.0, 60.0])
        b = np.abs(contour.bulges[curved])
        assert chord * (1 + b * b) / (4 * b) == pytest.approx([radius, radius])
    assert "RISE 1.872" in [v.text for v in labels(result.pieces[0])]


def test_radius_gauges_of_a_fretboard() -> None:
    """At the nut, the octave and the last fret of a cone; one alone for a cylinder."""
    from pipeline.steps.fretboard import Crown

    rows = made({"radius": Crown(nut=240.0, last=300.0)}, radius_of="neck").numbers["radii"]
    assert [r["radius_mm"] for r in rows] == pytest.approx([240.0, 240 + 60 * 215 / REACH, 300.0])
    assert len(made({"radius": 250.0}, radius_of="neck").numbers["radii"]) == 1


# -- what is told and refused ------------------------------------------------------------------------
def test_a_neck_that_gets_thinner_is_told() -> None:
    result = made(
        width="neck",
        stations={"fret 12": Station(thickness=20.0), "fret 1": Station(thickness=21.0)},
    )
    assert [(f.check, f.severity, f.measured, f.limit) for f in result.findings] == [
        ("taper-turns", "note", 20.0, 21.0)
    ]


def test_letters_fit_on_a_router_s_gauge_too() -> None:
    result = made(sheet="mdf9", width="neck", stations={"fret 1": Station(thickness=21.0)})
    assert {v.height_mm for v in labels(result.pieces[0])} == {6.0}
    assert result.findings == ()


def test_the_graph_knows_the_fretboard() -> None:
    """A station at a fret reads it, though `width` is a number."""
    w = given_world(width=44.0, stations={"fret 5": Station(thickness=21.0)})
    needs = KINDS["gauges"].also_needs
    assert needs is not None
    assert list(needs(w.recipe.steps["tries"], w.recipe)) == ["neck"]
    assert LASER.process == w.recipe.shop_of("ply3").process


ONE = {"fret 1": Station(thickness=21.0)}


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "doesn't say what shall be gauged"),
        ({"stations": ONE}, "has no width"),
        ({"stations": {"near": Station(thickness=21.0)}, "width": 40.0}, "doesn't say where the station is"),
        ({"stations": ONE, "width": "neck", "every": 50.0}, "nothing lies between"),
        ({"stations": ONE, "width": "neck", "lean": Lean()}, "names no side"),
        ({"stations": ONE, "width": "neck", "lean": Lean(bass=1.0, treble=1.0)}, "names both sides"),
        ({"stations": ONE, "width": "neck", "lean": Lean(bass=17.0)}, "17 from the middle"),
        ({"stations": ONE, "width": "neck", "board": 21.0}, "21 thick with its fretboard"),
        ({"stations": {"x 50": Station(thickness=21.0)}, "width": "neck"}, "off the fretboard neck"),
        ({"stations": {"x 0": Station(thickness=21.0)}, "width": 40.0}, "on the bridge line"),
        (
            {"stations": {"x 215": Station(thickness=21.0), "fret 12": Station(thickness=22.0)}, "width": "neck"},
            "are one place",
        ),
        ({"radius": (25.0,)}, "no chord of 60"),
        ({"radius_of": "neck"}, "has no radius"),
    ],
)
def test_what_can_not_be_is_refused(fields: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        made(**fields)


def test_only_a_fretboard_has_a_width_along_a_neck() -> None:
    pocket = step("hole", "holes", at=((0.0, 0.0),), diameter=(6.0,), through=True)
    with pytest.raises(Refused, match="a step of kind holes"):
        derived(world(pocket, step("tries", "gauges", sheet="ply3", width="hole", stations=ONE)))
    with pytest.raises(Refused, match="needs a fretboard"):
        derived(world(step("tries", "gauges", sheet="ply3", width=40.0, stations=ONE)))


def test_each_side_has_its_own_shape() -> None:
    """The step's exponents hold where a station gives none of its own."""
    result = made(
        width="neck",
        bass=Side(p=2.5),
        stations={"fret 1": Station(thickness=21.0), "fret 5": Station(thickness=22.0, treble=Side(p=3.0, m=2.5))},
    )
    first, fifth = result.numbers["stations"]
    assert first["bass"] == fifth["bass"] == {"p": 2.5, "m": 2.0}
    assert first["treble"] == {"p": 2.0, "m": 2.0}
    assert fifth["treble"] == {"p": 3.0, "m": 2.5}
