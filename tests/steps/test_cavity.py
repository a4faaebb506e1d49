"""Cavities: finished shapes, depth rules, open sides, ledges and pads."""

from __future__ import annotations

import math

import pytest
import shapely

from pipeline.core.errors import Refused
from pipeline.core.recipe import HardwarePart, Step
from pipeline.geometry.region import solid
from pipeline.geometry.shapes import disc, rectangle
from pipeline.steps.cavity import Ledge, Tilt
from pipeline.steps.cover import Screws
from pipeline.steps.fits import FITS, Shape
from pipeline.steps.registry import KINDS
from pipeline.steps.values import Result, World
from tests.steps.factory import body_w, derived, step, world


def made(cavity: Step, *others: Step, **more: object) -> Result:
    """One cavity made in a world of its own; `others` are not made."""
    w = world(cavity, *others, **more)  # type: ignore[arg-type]
    return KINDS["cavity"].make(cavity.name, cavity.spec, w)


def control(**more: object) -> Step:
    """The control cavity of body W: 80 × 45 r 8 at (−30, −45) from the back, skin 4."""
    opening = Shape(rectangle=(80.0, 45.0), corner=8.0)
    return step("control", "cavity", opening=opening, centre=(-30.0, -45.0), face="back", floor=4.0, **more)


def test_body_w_recess() -> None:
    """The trade's table: cavity 3545.06 mm², recess 4671.87 mm² with corners of 12.5 (r + width)."""
    result = made(control(ledge=Ledge(width=4.5, depth=3.0)))
    deep, recess = result.cuts
    assert deep.region.area == pytest.approx(80 * 45 - (4 - math.pi) * 64, rel=1e-12)
    assert round(deep.region.area, 2) == 3545.06
    assert round(recess.region.area, 2) == 4671.87
    assert result.numbers["recess"]["least_convex_radius_mm"] == pytest.approx(12.5, abs=1e-9)
    assert (recess.name, recess.depth.rule, recess.depth.mm) == ("control recess", "depth", 3.0)
    assert (deep.face, deep.depth.rule, deep.depth.mm) == ("back", "floor", 4.0)


@pytest.mark.parametrize(("angle", "span", "rise"), [(2.0, 60.0, 2.095), (1.5, 72.0, 1.885)])
def test_tilt(angle: float, span: float, rise: float) -> None:
    """d(x) = d₀ + (x − x₀)·tan α: the trade's 2° over 60 gives 2.095 and 1.5° over 72 gives 1.885."""
    opening = Shape(rectangle=(span, 42.2), corner=6.5)
    tilt = Tilt(angle=angle, deeper="-x")
    result = made(step("neck", "cavity", opening=opening, centre=(202.0, 0.0), depth=16.0, tilt=tilt))
    rule = result.cuts[0].depth.tilt
    assert rule is not None
    assert (rule.shallow, rule.deep) == pytest.approx((-202 - span / 2, -202 + span / 2))
    assert round(result.numbers["tilt_rise_mm"], 3) == rise


def test_parts_get_room_and_corners_grow() -> None:
    """72 × 44 r 6.5, slide 0.10 and film 0.12 a side: 72.44 × 44.44 with corners of 6.72."""
    part = Shape(rectangle=(72.0, 44.0), corner=6.5)
    result = made(step("neck", "cavity", part=part, fit="slide", film=0.12, centre=(164.0, 0.0), depth=16.0))
    x0, y0, x1, y1 = result.numbers["bounds_mm"]
    assert (x1 - x0, y1 - y0) == pytest.approx((72.44, 44.44))
    assert result.numbers["least_convex_radius_mm"] == pytest.approx(6.72)
    assert result.cuts[0].fit == "slide"
    assert FITS == {"press": 0.0, "slide": 0.1, "drop-in": 0.25, "clearance": 0.8}  # the blueprint's


def test_a_part_of_hardware_sits_where_hardware_says() -> None:
    """Its length and width, its place; turned a quarter it stands upright."""
    hardware = {"cell": HardwarePart(size=(48.5, 26.5, 17.5), at=(10.0, 20.0, 5.0))}
    cell = step("cell", "cavity", part=Shape(of="cell"), fit=1.0, turn=90.0, depth=18.0)
    result = made(cell, hardware=hardware)
    assert result.numbers["bounds_mm"] == pytest.approx([10 - 14.25, 20 - 25.25, 10 + 14.25, 20 + 25.25])


def test_an_open_pocket_passes_the_cut_edge_by_the_cutter() -> None:
    """Body W's neck pocket runs out at the tip x = 232: the cut edge stands 1 farther (allowance), the
    largest cutter is 8, so its full width of 42.2 reaches 232 + 1 + 4 and no lip stays."""
    body = step("body", "outline", drawn=("body",))
    neck = step(
        "neck",
        "cavity",
        opening=Shape(rectangle=(60.0, 42.2), corner=6.5),
        centre=(202.0, 0.0),
        depth=16.0,
        open="+x",
    )
    blank = step(
        "blank",
        "stack",
        outline="body",
        laminations=("birch12 A", "birch12 B"),
        allowance=1.0,
        cut_blank=("neck",),
    )
    assert KINDS["cavity"].also_needs is not None
    assert KINDS["cavity"].also_reads is not None
    w = world(body, neck, blank, drawn={"body": body_w()})
    assert KINDS["cavity"].also_needs(neck, w.recipe) == {"body": "open runs past the cut edge"}
    assert KINDS["cavity"].also_reads(neck, w.recipe) == ("blank",)
    body_made = KINDS["outline"].make("body", body.spec, w)
    now = World(recipe=w.recipe, drawing=w.drawing, results={"body": body_made})
    cut = KINDS["cavity"].make("neck", neck.spec, now).cuts[0]
    assert cut.design.bounds == pytest.approx((172, -21.1, 232, 21.1))
    assert cut.region.bounds == pytest.approx((172, -21.1, 237 + 6.5, 21.1))
    edge = body_w().polygon.buffer(1.0 + 4.0 - 0.01, quad_segs=256)
    strip = shapely.box(172 + 6.5, -21.1 + 1e-6, 300, 21.1 - 1e-6)
    assert cut.region.polygon.contains(edge.intersection(strip).intersection(shapely.box(0, -50, 237, 50)))


def test_an_open_pocket_of_no_stack_runs_on_by_the_cutter() -> None:
    """Nobody says where its edge is: twice the radius of the largest cutter, 8."""
    shape = Shape(rectangle=(20.0, 10.0))
    cut = made(step("slot", "cavity", opening=shape, centre=(0.0, 0.0), depth=3.0, open="-y")).cuts[0]
    assert cut.region.bounds == pytest.approx((-10, -13, 10, 5))


def test_an_open_side_beside_the_outline_is_refused() -> None:
    """A pocket that never meets the outline can't run out of it."""
    shape = Shape(rectangle=(20.0, 10.0))
    steps = (
        step("body", "outline"),
        step("slot", "cavity", opening=shape, centre=(0.0, 500.0), depth=3.0, open="+x"),
        step("blank", "stack", outline="body", laminations=("mdf9",), cut=("slot",)),
    )
    with pytest.raises(Refused, match="meets no edge"):
        derived(world(*steps, drawn={"body": body_w()}))


def test_pads_stay_in_the_cavity_under_the_screws() -> None:
    """Pads of 9 centred on the cavity's own corners (recess 4.5 wider): what the cavity loses is discs ∩ cavity
    and the fillets of 4 where a pad meets the wall, computed here by GEOS at 256 segments a quadrant."""
    cavity = control(ledge=Ledge(width=4.5, depth=3.0))
    screws = Screws(count=4, diameter=2.5, pads=9.0)
    lid = step("lid", "cover", of="control", sheet="ply3", gap=0.25, screws=screws)
    result = made(cavity, lid)
    whole = solid(rectangle(80, 45, 8, x=-30, y=-45)).polygon
    # On the diagonals of the bounds, where they meet the cavity's edge: in the round corners.
    discs = shapely.unary_union([shapely.Point(p).buffer(4.5, quad_segs=256) for p in _corner_points()])
    bare = whole.difference(discs)
    filleted = bare.buffer(-4, quad_segs=256).buffer(4, quad_segs=256)
    want = filleted.union(bare.difference(discs.buffer(12, quad_segs=256))).area
    assert want < bare.area - 1
    assert result.cuts[0].region.area == pytest.approx(want, rel=1e-5)
    assert result.cuts[1].region.area == pytest.approx(4671.87, abs=0.005)


def _corner_points() -> list[tuple[float, float]]:
    """Where the diagonal of an 80 × 45 rectangle meets its corner arc r 8: |p − c| = 8 with c (32, 14.5),
    p = t (40, 22.5), a quadratic in t."""
    a, b, c = 40**2 + 22.5**2, -2 * (40 * 32 + 22.5 * 14.5), 32**2 + 14.5**2 - 64
    t = (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)
    return [(-30 + sx * 40 * t, -45 + sy * 22.5 * t) for sx in (-1, 1) for sy in (-1, 1)]


def test_drawn_cavities_stand_where_they_are_drawn() -> None:
    """The drawn shape is the finished cavity."""
    dish = disc(3, 4, 12)
    result = made(step("dish", "cavity", drawn=("dish",), through=True), drawn={"dish": dish})
    assert result.cuts[0].region.area == pytest.approx(math.pi * 144)
    assert result.cuts[0].depth.rule == "through"


RECT = Shape(rectangle=(20.0, 10.0))


@pytest.mark.parametrize(
    ("fields", "said", "expected"),
    [
        ({"opening": RECT, "centre": (0.0, 0.0)}, "doesn't say how deep it goes", "exactly one of `depth`"),
        (
            {"opening": RECT, "centre": (0.0, 0.0), "depth": 3.0, "floor": 4.0},
            "gives `depth` and `floor`",
            "exactly one of",
        ),
        ({"depth": 3.0}, "doesn't say the shape", "`part`, `opening` or `drawn`"),
        ({"part": RECT, "centre": (0.0, 0.0), "depth": 3.0}, "how the part shall fit", "slide"),
        (
            {"opening": RECT, "centre": (0.0, 0.0), "depth": 3.0, "fit": "slide"},
            "`fit` belongs to a part",
            "`part:`",
        ),
        ({"opening": RECT, "depth": 3.0}, "doesn't say where its centre is", "[x, y]"),
        (
            {"opening": Shape(rectangle=(20.0, 10.0), corner=6.0), "centre": (0.0, 0.0), "depth": 3.0},
            "larger than half the shorter side",
            "at most 5",
        ),
        (
            {"opening": Shape(circle=9.0, of="x"), "centre": (0.0, 0.0), "depth": 3.0},
            "gives circle and of",
            "exactly one",
        ),
        ({"opening": RECT, "centre": (0.0, 0.0), "depth": 3.0, "open": "nut"}, "fretboard", "+x, -x"),
        (
            {"opening": RECT, "centre": (0.0, 0.0), "depth": 3.0, "tilt": Tilt(angle=-2.0, deeper="+x")},
            "can't slope by -2",
            "above 0",
        ),
        (
            {"opening": RECT, "centre": (0.0, 0.0), "through": True, "tilt": Tilt(angle=2.0, deeper="+x")},
            "no floor that could slope",
            "`depth:`",
        ),
        (
            {"opening": RECT, "centre": (0.0, 0.0), "depth": 3.0, "ledge": Ledge(width=4.0, depth=3.0)},
            "The ledge of c is 3 deep",
            "shallower",
        ),
        ({"drawn": ("x",), "centre": (0.0, 0.0), "depth": 3.0}, "already stands", "without `centre:`"),
        ({"part": Shape(of="cell"), "fit": "slide", "depth": 3.0}, 'no part called "cell"', ""),
    ],
)
def test_fields_that_contradict_each_other(fields: dict[str, object], said: str, expected: str) -> None:
    """Each gives one sentence with its place and what would be right."""
    with pytest.raises(Refused) as caught:
        made(step("c", "cavity", **fields))
    problem = next(p for p in caught.value.problems if said in p.wrong)
    assert problem.place is not None
    assert expected in problem.expected


def test_a_mark_can_be_the_centre() -> None:
    """And an unknown one is refused with the nearest."""
    result = made(step("c", "cavity", opening=RECT, centre="bridge", depth=3.0), marks={"bridge": (5.0, 6.0)})
    assert result.numbers["bounds_mm"] == pytest.approx([-5, 1, 15, 11])
    with pytest.raises(Refused) as caught:
        made(step("c", "cavity", opening=RECT, centre="brigde", depth=3.0), marks={"bridge": (5.0, 6.0)})
    assert "bridge, perhaps?" in caught.value.show()
