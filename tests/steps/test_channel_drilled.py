"""Channels drilled by hand: slope over the rim, cover to faces and voids, where they come out."""

from __future__ import annotations

import math

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Step
from pipeline.steps.channel import Drilled
from pipeline.steps.fits import Shape
from pipeline.steps.values import Result
from tests.steps.factory import body_w, derived, step, world

LAYERS = ("birch12 A", "birch12 B", "birch12 C")


def room(name: str, x: float, long: float, depth: float, y: float = 0.0, face: str = "front") -> Step:
    shape = Shape(rectangle=(long, 30.0))
    return step(name, "cavity", opening=shape, centre=(x, y), depth=depth, face=face)


def bore(
    second: Step | None = None, *more: Step, depth: float = 10.0, bit: float = 300.0, **fields: object
) -> Result:
    """Cavity a is 90 long up to x = 50; b begins at x = 130, so 80 of wood lie between; in a blank of 35.5."""
    a, b = room("a", 5.0, 90.0, 20.0), second or room("b", 145.0, 30.0, 30.0)
    fields = {"diameter": 6.0, **fields}
    wire = step("wire", "channel", from_="a", to="b", drilled=Drilled(depth=depth, bit=bit, **fields))
    body = step("body", "outline", drawn=("body",))
    cut = ("a", "b", *(s.name for s in more))
    blank = step("blank", "stack", outline="body", laminations=LAYERS, glue=0.05, cut_blank=cut, by_hand=("wire",))
    return derived(world(body, a, b, *more, wire, blank, drawn={"body": body_w()}))["wire"]


def test_the_trades_own_bore() -> None:
    """trade.md 3.5 [common practice; derived]: d 6, e 10, a 90 → 8.2°; over 80 the axis goes down 11.6 to 21.6."""
    made = bore()
    n = made.numbers
    assert round(n["slope_deg"], 1) == 8.2
    assert math.tan(math.radians(n["slope_deg"])) == pytest.approx(13 / 90)
    assert round(n["exit_depth_mm"] - n["entry_depth_mm"], 1) == 11.6
    assert round(n["exit_depth_mm"], 1) == 21.6
    assert (n["run_mm"], n["room_mm"]) == (pytest.approx(80.0), pytest.approx(90.0))
    assert n["length_mm"] == pytest.approx(80 / math.cos(math.atan(13 / 90)))
    assert n["entry_at_mm"] == pytest.approx([50.0, 0.0])
    assert n["exit_at_mm"] == pytest.approx([130.0, 0.0])
    assert made.findings == ()


def test_it_is_hand_work_and_no_plan_rule() -> None:
    """A slanting bore has no layer: no cut, but its plan (a capsule of 6) and the numbers for a guide."""
    made = bore()
    assert made.cuts == ()
    assert made.region is None
    assert made.regions[0].area == pytest.approx(80 * 6 + 9 * math.pi)
    assert made.numbers["who"] == "maker"
    assert "drill by hand with a guide" in made.reports[0]


def checks(made: Result) -> list[str]:
    return [f.check for f in made.findings]


def test_the_rim() -> None:
    """At 5° the shank would rise 90·tan 5° = 7.87 and must rise 13; entering at most 4.87 deep would do, but that
    leaves no cover."""
    made = bore(slope=5.0)
    assert checks(made) == ["bore-rim"]
    assert made.findings[0].measured == pytest.approx(5.0)
    assert made.findings[0].limit == pytest.approx(8.219, abs=5e-4)
    assert "drill at 8.2 degrees or more" in made.findings[0].remedy
    assert "enter the wall" not in made.findings[0].remedy
    assert checks(bore(slope=9.0)) == []


def test_cover_to_both_faces() -> None:
    """Axis → face ≥ 3 + 3, square to the bore: at 5 deep there is less; out at 33 of 35.5 there is less."""
    shallow = bore(depth=5.0, slope=8.5)
    assert checks(shallow) == ["bore-cover"]
    assert shallow.findings[0].measured == pytest.approx(5 * math.cos(math.radians(8.5)) - 3)
    deep = bore(room("b", 145.0, 30.0, 34.0), depth=16.0, slope=12.5)
    exit_depth = 16 + 80 * math.tan(math.radians(12.5))
    assert checks(deep) == ["bore-cover"]
    assert deep.findings[0].measured == pytest.approx((35.5 - exit_depth) * math.cos(math.radians(12.5)) - 3)


def test_it_must_come_out_in_the_other_cavity() -> None:
    """Down to 21.6: under a cavity 15 deep from the front; into one 15 deep from the back (z from 20.5 below)."""
    assert checks(bore(room("b", 145.0, 30.0, 15.0))) == ["bore-misses"]
    assert checks(bore(room("b", 145.0, 30.0, 15.0, face="back"))) == []
    missed = bore(room("b", 145.0, 30.0, 10.0, face="back"))
    assert checks(missed) == ["bore-misses"]
    assert missed.findings[0].limit == pytest.approx(25.5)


def test_it_starts_above_the_floor() -> None:
    """Cavity a is 20 deep: a bit of 6 with its axis at 18 would cut into its floor."""
    assert "bore-floor" in checks(bore(depth=18.0))


def test_the_bits_length() -> None:
    """Length ≤ bit − 40: 80.83 needs a bit of 120.83."""
    made = bore(bit=120.0)
    assert checks(made) == ["bore-bit"]
    assert made.numbers["needs_bit_mm"] == pytest.approx(80 / math.cos(math.atan(13 / 90)) + 40)
    assert checks(bore(bit=121.0)) == []


def test_it_keeps_clear_of_what_it_is_told() -> None:
    """A cavity beside the way, 4.0 from the axis and as deep: 1 of wood; one 5 deep stands 5 above the axis's
    start: √(4² + (5·cos)²) = 6.4 from it, and that is enough."""
    beside = room("c", 90.0, 20.0, 25.0, y=19.0)
    made = bore(None, beside, clear_of=("c",))
    assert checks(made) == ["bore-cover"]
    assert made.findings[0].measured == pytest.approx(1.0)
    assert checks(bore(None, room("c", 90.0, 20.0, 5.0, y=19.0), clear_of=("c",))) == []


def test_where_it_enters_and_leads() -> None:
    """From a point of the wall toward a point of the other cavity; the way is as long as that slant is."""
    n = bore(entry=(50.0, -10.0), toward=(145.0, 5.0)).numbers
    assert n["entry_at_mm"] == pytest.approx([50.0, -10.0])
    assert n["exit_at_mm"] == pytest.approx([130.0, -10 + 80 * 15 / 95])
    assert n["run_mm"] == pytest.approx(math.hypot(80, 80 * 15 / 95))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"width": 8.0}, "gives `width` and `drilled`"),
        ({"lamination": 2}, "has no `lamination`"),
        ({"drilled": Drilled(diameter=6.0, depth=10.0, slope=75.0)}, "can't go down by 75"),
        ({"drilled": Drilled(diameter=6.0, depth=10.0, entry=(60.0, 0.0))}, "doesn't start in a"),
        ({"drilled": Drilled(diameter=6.0, depth=10.0, toward=(50.0, 90.0))}, "leads past b"),
        ({"from_": "eye"}, "can't be drilled out of the hole"),
    ],
)
def test_what_is_refused(fields: dict[str, object], said: str) -> None:
    """Each with a sentence and a place."""
    some = {"from_": "a", "to": "b", "drilled": Drilled(diameter=6.0, depth=10.0), **fields}
    eye = step("eye", "holes", at=((0.0, 0.0),), diameter=(10.0,), through=True)
    with pytest.raises(Refused) as caught:
        derived(
            world(room("a", 5.0, 90.0, 20.0), room("b", 145.0, 30.0, 30.0), eye, step("wire", "channel", **some))
        )
    assert any(said in p.wrong and p.place for p in caught.value.problems)
