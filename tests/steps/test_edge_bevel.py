"""Bevels and hollows: lines, drops, skins, tables, against plane geometry worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pipeline.core.errors import Refused
from pipeline.geometry.contour import chain
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.steps.edge import Bevel, Edge, Scoop, Treatment
from pipeline.steps.fits import Shape
from tests.steps.drawn_lines import with_line
from tests.steps.factory import step
from tests.steps.test_edge import blank, found, made, row

DISC = solid(circle(0, 0, 100))
"""Zero of its edge lies at (100, 0); arc length s is the angle s/100."""
ROOM = step("room", "cavity", opening=Shape(rectangle=(20.0, 20.0)), centre=(80.0, 0.0), face="back", floor=9.0)
RIGHT = ((100.0, -50.0), (100.0, 50.0))


def plane(**fields: object) -> Treatment:
    given = {"shape": "plane", "run": 20.0, "drop": 10.0, **fields}
    return Treatment(bevel=Bevel(**given), between=RIGHT)  # type: ignore[arg-type]  # fields of a Bevel by name


# -- plane -----------------------------------------------------------------------------------------
def test_plane_bevel_has_a_straight_inner_line_and_a_varying_drop() -> None:
    """On a circle of 100 a run of 20 at its widest ends at x = 80, y = ±60 (3-4-5); drop (x − 80)·10/20."""
    result = made(Edge(front=(plane(),)), outline=DISC)
    r = row(result)
    (run,) = blank(result).edges
    (line,) = run.lines
    assert sorted(line.xy.tolist()) == [pytest.approx([80, -60], abs=1e-3), pytest.approx([80, 60], abs=1e-3)]
    assert len(line) == 1
    assert not line.bulge.any()
    assert r["angle_deg"] == pytest.approx(math.degrees(math.atan(0.5)))
    half = 100 * math.atan2(60, 80)
    assert r["runs"][0]["length_mm"] == pytest.approx(2 * half, abs=1e-3)
    for s, drop in r["drop_strip_mm"]:
        assert drop == pytest.approx((100 * math.cos(s / 100) - 80) / 2, abs=1e-3)
    assert max(d for _, d in r["drop_strip_mm"]) == pytest.approx(10, abs=0.1)


def test_volume_of_a_plane_bevel() -> None:
    """tan α · ∫∫ (x − 80) dA over the circular segment: its moment about the centre is c³/12, chord c = 120, its
    area R² (θ − sin θ)/2; 680 kg/m³ down to 10 mm in two layers of it."""
    theta = 2 * math.atan2(60, 80)
    area = 100**2 * (theta - math.sin(theta)) / 2
    wanted = 0.5 * (120**3 / 12 - 80 * area)
    r = row(made(Edge(front=(plane(),)), outline=DISC))
    assert r["removed_mm3"] == pytest.approx(wanted, rel=1e-4)
    assert r["removed_g"] == pytest.approx(wanted * 680e-6, rel=1e-4)


def test_a_stated_line_is_taken_as_it_is() -> None:
    """The same bevel by its line, whichever way it is drawn: the smaller side goes."""
    for line in (((80.0, -10.0), (80.0, 10.0)), ((80.0, 10.0), (80.0, -10.0))):
        treatment = Treatment(bevel=Bevel(shape="plane", drop=10.0, line=line))
        r = row(made(Edge(front=(treatment,)), outline=DISC))
        assert r["run_mm"] == pytest.approx(20)
        assert r["angle_deg"] == pytest.approx(math.degrees(math.atan(0.5)))
    beside = Bevel(shape="plane", drop=10.0, line=((180.0, 0.0), (180.0, 10.0)))
    with pytest.raises(Refused, match="doesn't cross"):
        made(Edge(front=(Treatment(bevel=beside),)), outline=DISC)


def test_skin_over_a_cavity_beneath() -> None:
    """The room is 9 below the front; its outer side at x = 90 lies 5 under the plane: 4 are left, which is enough;
    a drop of 12 leaves 3 (ask), one of 16 leaves 1 (stop), one of 20 cuts in by 1."""
    skins = {}
    for drop in (10.0, 12.0, 16.0, 20.0):
        result = made(Edge(front=(plane(drop=drop),)), ROOM, outline=DISC, cut=("room",))
        (skin,) = row(result)["skins"]
        skins[drop] = (round(skin["skin_mm"], 3), [(f.severity, f.limit) for f in found(result, "edge-skin")])
    assert skins == {
        10.0: (4.0, []),
        12.0: (3.0, [("ask", 4.0)]),
        16.0: (1.0, [("stop", 4.0)]),
        20.0: (-1.0, [("stop", 4.0)]),
    }
    back = made(Edge(back=(plane(drop=20.0),)), ROOM, outline=DISC, cut=("room",))
    assert row(back)["skins"] == []  # it opens to that face


def test_line_and_run_must_meet_the_outline() -> None:
    with pytest.raises(Refused, match="doesn't cut its outline"):
        made(Edge(front=(plane(run=300.0),)), outline=DISC)


# -- even -------------------------------------------------------------------------------------------
def test_even_bevel_has_a_parallel_inner_line() -> None:
    """Quarter of the circle: the line is a quarter of a circle of 80; sin² over the fades of 40."""
    quarter = 50 * math.pi
    treatment = Treatment(bevel=Bevel(shape="even", run=20.0, drop=10.0, fade=40.0), along=(0.0, quarter))
    result = made(Edge(front=(treatment,)), outline=DISC)
    (line,) = blank(result).edges[0].lines
    assert line.length == pytest.approx(40 * math.pi, abs=1e-6)
    assert np.hypot(*line.xy.T) == pytest.approx(80, abs=1e-9)
    strip = dict(row(result)["drop_strip_mm"])
    assert strip[0.0] == 0
    assert strip[20.0] == pytest.approx(5)
    assert strip[80.0] == 10
    assert list(strip.values())[-1] == pytest.approx(0, abs=1e-12)


def test_even_bevel_all_round_by_pappus() -> None:
    """A triangle 20 × 10 whose centroid lies 20/3 from the edge, round a circle of 100."""
    treatment = Treatment(bevel=Bevel(shape="even", run=20.0, drop=10.0))
    r = row(made(Edge(front=(treatment,)), outline=DISC))
    assert r["removed_mm3"] == pytest.approx(100 * 2 * math.pi * (100 - 20 / 3), rel=1e-9)
    wide = Treatment(bevel=Bevel(shape="even", run=120.0, drop=10.0))
    result = made(Edge(front=(wide,)), outline=DISC)
    (f,) = found(result, "edge-wide")
    assert f.severity == "stop"
    assert f.limit == pytest.approx(100, abs=0.01)


# -- hollows -----------------------------------------------------------------------------------------
def scoop(**fields: object) -> Treatment:
    given = {"depth": 8.0, "radius": 104.0, **fields}
    return Treatment(scoop=Scoop(**given), between=RIGHT)  # type: ignore[arg-type]  # fields of a Scoop by name


def test_a_hollow_ends_in_a_straight_line() -> None:
    """R 104, 8 deep: √(104² − 96²) = 40 (5-12-13 times 8), so it ends at x = 60, y = ±80."""
    result = made(Edge(back=(scoop(),)), outline=DISC)
    line = blank(result).edges[0].lines[0]
    assert sorted(line.xy.tolist()) == [pytest.approx([60, -80], abs=1e-3), pytest.approx([60, 80], abs=1e-3)]
    assert row(result)["run_mm"] == pytest.approx(40)


def test_depth_holes_stop_short() -> None:
    """Surface √(104² − (100 − x)²) − 96; holes at least 0.5 short, in tenths, no further apart than 25."""
    result = made(Edge(back=(scoop(),)), outline=DISC)
    table = row(result)["holes_places_mm"]
    assert len(table) > 8
    for x, y, depth, diameter in table:
        short = math.sqrt(104**2 - (100 - x) ** 2) - 96 - depth
        assert 0.5 - 1e-9 <= short < 0.6 + 1e-9
        assert diameter == 4
        assert math.hypot(x, y) < 100 - 2 * 2 + 1e-3
        near = sorted(math.dist((x, y), (p, q)) for p, q, *_ in table)[1]
        assert near <= 25 + 0.02
    drills = blank(result).edges[0].lines[1:]
    assert sorted(c.circle()[2] for c in drills) == [pytest.approx(2)] * len(table)  # type: ignore[index]  # circles
    assert blank(result).set_ups == ()


def test_holes_are_drilled_when_asked() -> None:
    result = made(Edge(back=(scoop(holes=True),)), outline=DISC)
    (set_up,) = blank(result).set_ups
    drilled = [o for o in set_up.ops if o.work == "DRILL"]
    table = row(result)["holes_places_mm"]
    assert set_up.face == "back"
    assert sorted(o.depth_mm for o in drilled) == sorted(d for *_, d, _ in table)  # type: ignore[type-var]  # depths
    assert {o.diameter_mm for o in drilled} == {4.0}


def test_a_drawn_boundary() -> None:
    """A straight drawn line at x = 60 from edge to edge. Across at y = 0 the section is an arc of 104 from 60, on
    the face, to 100, 8 deep, which is the cylinder's; a line that ends inside is refused."""
    line = chain([(60.0, -80.0), (60.0, 80.0)], [0.0, 0.0], closed=False)
    result = with_line(line, scoop(boundary="limit"), DISC)
    r = row(result)
    assert r["runs"][0]["length_mm"] == pytest.approx(200 * math.atan2(80, 60), abs=0.01)
    middle = [(x, d) for x, y, d, _ in r["holes_places_mm"] if abs(y) < 1e-6]
    for x, depth in middle:
        assert 0.5 - 1e-6 <= math.sqrt(104**2 - (100 - x) ** 2) - 96 - depth < 0.6 + 1e-6
    short = chain([(60.0, -40.0), (60.0, 80.0)], [0.0, 0.0], closed=False)
    with pytest.raises(Refused, match="from the outline"):
        with_line(short, scoop(boundary="limit"), DISC)


def test_skin_under_a_hollow() -> None:
    """On the front: the room's roof is 9 below; at x = 90 the hollow is √(104² − 10²) − 96 deep."""
    result = made(Edge(front=(scoop(),)), ROOM, outline=DISC, cut=("room",))
    (skin,) = row(result)["skins"]
    assert skin["skin_mm"] == pytest.approx(9 - (math.sqrt(104**2 - 100) - 96), abs=1e-3)
    assert [f.severity for f in found(result, "edge-skin")] == ["stop"]


def test_a_plate_has_no_bulge_to_run_along() -> None:
    """A straight side: the line lies run inside it, parallel, over its whole length."""
    side = Treatment(bevel=Bevel(shape="plane", run=20.0, drop=5.0), along=(10.0, 60.0))
    r = row(made(Edge(front=(side,)), outline=solid(rectangle(200, 100))))
    assert r["line_at_mm"] == [pytest.approx([80, -50], abs=1e-3), pytest.approx([80, 50], abs=1e-3)]
    assert r["removed_mm3"] == pytest.approx(20 * 5 / 2 * 100, rel=1e-6)
