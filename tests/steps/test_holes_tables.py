"""Holes by patterns and tables, blind holes and their tips, halves, wider mouths."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import HardwarePart
from pipeline.geometry.query import nearest_boundary
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.holes import Counterbore, Countersink
from pipeline.steps.holes_make import TIP, countersink_mm
from pipeline.steps.holes_pattern import Along, BoltCircle, Grid, Pattern, bolt_circle, chord_mm, grid_points
from pipeline.steps.holes_places import along_edge
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world


def holes(**fields: object) -> Result:
    """Holes through, of 3, in a world with a drawn body."""
    some = {"through": True, **fields}
    if "fastener" not in some:
        some = {"diameter": (3.0,), **some}
    if "depth" in fields or "length" in fields or "floor" in fields:
        some.pop("through")
    body = step("body", "outline", drawn=("body",))
    return derived(world(body, step("h", "holes", **some), drawn={"body": body_w()}))["h"]


@pytest.mark.parametrize(
    ("count", "diameter", "start", "points", "chord"),  # outside_checks K9 [standard]
    [
        (4, 50.0, 45.0, [(17.67767, 17.67767), (-17.67767, 17.67767)], 35.355339),
        (6, 68.0, 0.0, [(34.0, 0.0), (17.0, 29.444864)], 34.0),
        (5, 40.0, 90.0, [(0.0, 20.0), (-19.02113, 6.1803399), (-11.755705, -16.18034)], 23.51141),
        (8, 100.0, 22.5, [(46.193977, 19.134172)], 38.268343),
    ],
)
def test_bolt_circles(
    count: int, diameter: float, start: float, points: list[tuple[float, float]], chord: float
) -> None:
    """x = (D/2)·cos(a₀ + 360k/n); the chord from one hole to the next is D·sin(180/n)."""
    got = bolt_circle(diameter, count, start)
    for want, have in zip(points, got, strict=False):
        assert have == pytest.approx(want, abs=5e-6)
    assert math.dist(got[0], got[1]) == pytest.approx(chord, abs=5e-6)
    assert chord_mm(diameter, count) == pytest.approx(chord, abs=5e-6)
    ring = BoltCircle(diameter=diameter, count=count, start=start)
    made = holes(pattern=Pattern(circle=ring, centre=(100.0, -20.0)))
    x, y = made.cuts[0].region.centroid
    assert (x - 100, y + 20) == pytest.approx(points[0], abs=5e-6)
    assert [c.name for c in made.cuts][-1] == f"h-{count}"


def test_grids() -> None:
    """Three by two, 20 by 10, about (5, 5): from the lowest row, each from the left; or turned a quarter."""
    assert grid_points((3, 2), (20.0, 10.0), (5.0, 5.0)) == (
        (-15.0, 0.0), (5.0, 0.0), (25.0, 0.0), (-15.0, 10.0), (5.0, 10.0), (25.0, 10.0),
    )  # fmt: skip
    made = holes(pattern=Pattern(grid=Grid(count=(3, 2), spacing=(20.0, 10.0)), turn=90.0))
    assert made.numbers["holes"][0]["at_mm"] == pytest.approx([5.0, -20.0])


def test_along_a_circle() -> None:
    """On the circle of 100 − 2·10 they stand at even angles, from the right end; 80π in steps of at
    most 30 makes 9 holes."""
    points, spacing = along_edge(disc(3.0, 4.0, 40.0), None, 30.0, None)
    assert len(points) == math.ceil(80 * math.pi / 30) == 9
    assert spacing == pytest.approx(80 * math.pi / 9)
    for k, p in enumerate(points):
        a = 2 * math.pi * k / 9
        assert p == pytest.approx((3 + 40 * math.cos(a), 4 + 40 * math.sin(a)), abs=1e-9)


def test_along_a_rectangle_and_from_a_point() -> None:
    """Perimeter 120 in 12: every 10, from the middle of the right side, anticlockwise."""
    box = solid(rectangle(40.0, 20.0))
    points, spacing = along_edge(box, None, None, 12)
    assert spacing == pytest.approx(10.0)
    assert points[:4] == (
        pytest.approx((20.0, 0.0)),
        pytest.approx((20.0, 10.0)),
        pytest.approx((10.0, 10.0)),
        pytest.approx((0.0, 10.0)),
    )
    assert along_edge(box, (-50.0, 3.0), None, 3)[0][0] == pytest.approx((-20.0, 3.0))


def test_along_the_body() -> None:
    """Body W inset by 15: its line is 885.398 − 2π·15 long (trade.md 5.1); every point lies 15 inside the edge."""
    made = holes(pattern=Pattern(along=Along(of="body", inset=15.0, spacing=60.0)))
    length = 885.398 - 2 * math.pi * 15
    assert made.numbers["pattern"]["spacing_mm"] == pytest.approx(length / math.ceil(length / 60), abs=1e-4)
    off = [nearest_boundary(body_w(), *h["at_mm"])[0] for h in made.numbers["holes"]]
    assert off == pytest.approx([15.0] * 14, abs=1e-6)
    with pytest.raises(Refused, match="comes in 0 pieces"):
        holes(pattern=Pattern(along=Along(of="body", inset=200.0, count=3)))


def test_mirrored_pairs() -> None:
    """Each with its image on the other side of the axis; one on the axis stands alone."""
    made = holes(pattern=Pattern(pair=((120.0, 30.0), (80.0, 0.0))))
    assert [h["at_mm"] for h in made.numbers["holes"]] == [[120.0, 30.0], [120.0, -30.0], [80.0, 0.0]]


def test_by_the_tables() -> None:
    """M4 in the medium class of ISO 273: 4.5; an insert M5 of 12: 7.0, 14 deep; `wood 4`: 2.5 in ply."""
    clear = holes(at=((0.0, 0.0),), fastener="M4", for_="clearance")
    assert clear.cuts[0].diameter_mm == 4.5
    assert clear.numbers["fastener"]["trust"] == "read"
    assert holes(at=((0.0, 0.0),), fastener="M4", for_="clearance", class_="fine").cuts[0].diameter_mm == 4.3
    insert = holes(at=((0.0, 0.0),), fastener="M5", for_="insert", length=12.0)
    assert (insert.cuts[0].diameter_mm, insert.cuts[0].depth.mm) == (7.0, 14.0)
    assert any("try it in scrap first" in r for r in insert.reports)
    screw = holes(at=((0.0, 0.0),), fastener="wood 4", for_="pilot", length=25.0)
    assert (screw.cuts[0].diameter_mm, screw.cuts[0].depth.mm) == (2.5, 27.0)
    assert any("in several goes" in r for r in screw.reports)
    peg = holes(at=((0.0, 0.0),), fastener="dowel 8", length=40.0)
    assert (peg.cuts[0].diameter_mm, peg.cuts[0].depth.mm) == (8.1, 21.0)
    assert any("chamfer each mouth by 1" in r for r in peg.reports)


def test_the_recipes_own_hole_stands_above_the_table() -> None:
    """An insert measured on the bench wants 6.3; a standard pot brings its own."""
    mine = {"M4": HardwarePart(hole=6.3, measured=True)}
    h = step("h", "holes", at=((0.0, 0.0),), fastener="M4", for_="insert", length=10.0)
    made = derived(world(h, hardware=mine))["h"]
    assert (made.cuts[0].diameter_mm, made.cuts[0].depth.mm) == (6.3, 12.0)
    assert made.numbers["fastener"]["trust"] == "measured"
    assert holes(at=((0.0, 0.0),), fastener="pot 24").cuts[0].diameter_mm == 9.5


# -- how deep --------------------------------------------------------------------------------------
@pytest.mark.parametrize(("depth", "severity"), [(25.0, None), (32.9, None), (33.0, "ask"), (35.0, "stop")])
def test_a_drills_tip(depth: float, severity: str | None) -> None:
    """trade.md 3.6 [derived]: 118° adds 0.30·d; depth + 0.3 d + 2 ≤ T. Of 35.4, with d 2: 32.8 is still good; the
    cone's own length is (d/2)/tan 59°."""
    assert pytest.approx(1 / (2 * math.tan(math.radians(59))), abs=5e-4) == TIP
    layers = ("birch12 A", "birch12 B", "birch12 C")  # 11.8 + 11.7 + 11.9 and two glue lines of 0.05
    body = step("body", "outline", drawn=("body",))
    blank = step("blank", "stack", outline="body", laminations=layers, glue=0.05, cut_blank=("h",))
    h = step("h", "holes", at=((0.0, 0.0),), diameter=(2.0,), depth=depth)
    made = derived(world(body, h, blank, drawn={"body": body_w()}))["h"]
    assert made.numbers["tip_mm"] == pytest.approx(0.6)
    assert made.numbers["under_tip_mm"] == pytest.approx(35.5 - depth - 0.6)
    assert [f.severity for f in made.findings] == ([severity] if severity else [])
    if severity == "ask":
        assert "0.1 shallower" in made.findings[0].remedy


def test_floor_and_tip() -> None:
    """What remains under the full depth must hold the tip and 2 more: 3 under a drill of 6 is 1.8 short."""
    (finding,) = holes(at=((0.0, 0.0),), diameter=(6.0,), floor=3.0).findings
    assert (finding.check, finding.measured) == ("drill-tip", pytest.approx(1.2))


def test_half_from_each_face() -> None:
    """In a blank of 35.5 each half goes 17.75 + 1; without a known thickness it is a through hole."""
    body = step("body", "outline", drawn=("body",))
    layers = ("birch12 A", "birch12 B", "birch12 C")
    blank = step("blank", "stack", outline="body", laminations=layers, glue=0.05, cut_blank=("h",))
    h = step("h", "holes", at=((0.0, 0.0),), fastener="string", through="both")
    made = derived(world(body, h, blank, drawn={"body": body_w()}))
    assert [(c.face, c.depth.mm) for c in made["h"].cuts] == [("front", 18.75), ("back", 18.75)]
    drills = [(s.face, op.depth_mm) for s in made["blank"].blanks[0].set_ups for op in s.ops if op.work == "DRILL"]
    assert sorted(drills) == [("back", 18.75), ("front", 18.75)]
    alone = holes(at=((0.0, 0.0),), through="both")
    assert [c.depth.rule for c in alone.cuts] == ["through"]
    assert any("turn the work over" in r for r in alone.reports)


def test_wider_mouths() -> None:
    """A counterbore is a second plan rule with its own depth; a cone is words: to 8 from 4 at 90° it is 2 deep."""
    made = holes(at=((0.0, 0.0), (9.0, 0.0)), diameter=(4.0,), counterbore=Counterbore(diameter=8.0, depth=5.0))
    assert [(c.name, c.diameter_mm, c.depth.rule) for c in made.cuts][:2] == [
        ("h-1", 4.0, "through"),
        ("h-1 counterbore", 8.0, "depth"),
    ]
    assert len(made.regions) == 2
    assert countersink_mm(4.0, 8.0, 90.0) == pytest.approx(2.0)
    cone = holes(at=((0.0, 0.0),), diameter=(4.0,), countersink=Countersink(diameter=8.0))
    assert len(cone.cuts) == 1
    assert any("countersink by hand to 8" in r for r in cone.reports)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"at": ((0.0, 0.0),), "pattern": Pattern(pair=((1.0, 1.0),))}, "gives `at` and `pattern`"),
        ({"pattern": Pattern()}, "gives nothing"),
        ({"pattern": Pattern(pair=((1.0, 1.0),), centre=(0.0, 0.0))}, "have no centre"),
        ({"pattern": Pattern(pair=((1.0, 1.0),), turn=3.0)}, "Only a grid is turned"),
        ({"pattern": Pattern(along=Along(of="body"))}, "either a spacing or a count"),
        ({"at": ((0.0, 0.0),), "diameter": ()}, "doesn't say how wide they are"),
        ({"at": ((0.0, 0.0),), "fastener": "M4", "diameter": (3.0,)}, "gives `diameter` and `fastener`"),
        ({"at": ((0.0, 0.0),), "fastener": "M7"}, "of which no hole is known"),
        ({"at": ((0.0, 0.0),), "fastener": "M4"}, "doesn't say what its holes do"),
        ({"at": ((0.0, 0.0),), "fastener": "M4", "for_": "dowel"}, "No hole for dowel"),
        ({"at": ((0.0, 0.0),), "fastener": "M4", "for_": "clearance", "length": 9.0}, "goes by no length"),
        ({"at": ((0.0, 0.0),), "for_": "clearance"}, "speaks of a fastener"),
        ({"at": ((0.0, 0.0),), "role": "index", "through": "both"}, "must go through from one face"),
        ({"at": ((0.0, 0.0),), "countersink": Countersink(diameter=3.0)}, "no wider than its hole"),
    ],
)
def test_what_is_refused(fields: dict[str, object], said: str) -> None:
    """Each with a sentence and a place."""
    with pytest.raises(Refused) as caught:
        holes(**fields)
    assert any(said in p.wrong and p.place for p in caught.value.problems)
