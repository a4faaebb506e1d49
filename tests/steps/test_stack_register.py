"""Dowels and index pins of a stack: their roles, their depths, and patterns that fit the wrong way too."""

from __future__ import annotations

import math

import pytest

from pipeline.core.recipe import Step
from pipeline.geometry.shapes import disc
from pipeline.steps.stack_dowels import turn_error, wrong_ways
from pipeline.steps.values import Cut, Depth, Result
from tests.steps.factory import step
from tests.steps.test_stack import BLOCK, made, works


def dowels(*at: tuple[float, float], diameter: tuple[float, ...] = (6.0, 8.0), **fields: object) -> Step:
    given: dict[str, object] = {"depth": 20.0, "face": "back", **fields}
    return step("dowels", "holes", at=at, diameter=diameter, role="dowel", **given)


def holes(*found: tuple[float, float, float]) -> list[Cut]:
    return [
        Cut(
            step="d", name=f"d-{i}", region=disc(x, y, d / 2), design=disc(x, y, d / 2), face="front",
            depth=Depth(rule="through"), diameter_mm=d, fit="dowel",
        )
        for i, (x, y, d) in enumerate(found, 1)
    ]  # fmt: skip


def rows(result: Result, role: str) -> list[dict[str, object]]:
    return [r for r in result.numbers["register"]["holes"] if r["role"] == role]


def test_the_error_of_two_pins() -> None:
    """trade.md 2.1, Oracle [D]: δ 0.10, L 300, D 350 → 0.167."""
    assert round(turn_error(0.10, 300, 350), 3) == 0.167


def test_dowels_and_pins_are_two_roles() -> None:
    """Dowels 20 deep from the back of 11.8 + 11.7: through lamination 1 and 8.2 into 2, for dowels 18 long
    (2 deeper than the dowel, trade.md 6.4 [C]). Pins go through all and come out again."""
    pins = step("pins", "holes", at=((-90.0, 5.0), (90.0, 5.0)), diameter=(6.0, 8.0), role="index", through=True)
    blank = made(dowels((-40.0, 10.0), (45.0, -5.0)), pins, cut=("dowels",), ears="pins")["blank"]
    found = rows(blank, "dowel")
    assert [(r["laminations"], r["dowel_length_mm"], r["through"]) for r in found] == [([1, 2], 18.0, False)] * 2
    assert [r["diameter_mm"] for r in rows(blank, "index")] == [6.0, 8.0]
    numbers = blank.numbers["register"]
    assert numbers["dowel_spacing_mm"] == pytest.approx(math.hypot(85, 15))
    assert numbers["index_spacing_mm"] == pytest.approx(180.0)
    # The farthest corner from its nearest pin: (±100, −50) from (±90, 5).
    assert numbers["index_error_mm"] == pytest.approx(0.05 + 0.1 * math.hypot(10, 55) / 180, rel=1e-6)
    lower, upper = blank.pieces
    assert [w for _, w, s in works(lower.set_ups) if s == "dowels"] == ["DRILL", "DRILL"]
    deep = [o.depth_mm for s in upper.set_ups for o in s.ops if o.step == "dowels"]
    assert deep == pytest.approx([8.2, 8.2])
    assert blank.findings == ()


def test_a_dowel_through_everything_is_as_long_as_the_blank() -> None:
    blank = made(dowels((-40.0, 10.0), (45.0, -5.0), depth=None, through=True), cut=("dowels",))["blank"]
    assert [r["dowel_length_mm"] for r in rows(blank, "dowel")] == pytest.approx([23.5, 23.5])
    assert all(r["through"] for r in rows(blank, "dowel"))


def test_a_lamination_that_dowels_dont_reach() -> None:
    """20 from the back reach into 2 of 3 laminations: the third lies loose."""
    sheets = ("birch12 A", "birch12 B", "birch12 C")
    blank = made(dowels((-40.0, 10.0), (45.0, -5.0)), laminations=sheets, cut=("dowels",))["blank"]
    (finding,) = blank.findings
    assert (finding.check, finding.severity, finding.measured, finding.limit) == (
        "register-loose",
        "ask",
        0.0,
        2.0,
    )
    assert "lamination 3" in finding.message


def test_one_dowel_lets_it_turn() -> None:
    blank = made(dowels((0.0, 0.0), diameter=(6.0,)), cut=("dowels",))["blank"]
    assert [(f.check, f.measured) for f in blank.findings] == [("register-loose", 1.0)]


@pytest.mark.parametrize(
    ("pattern", "want"),
    [
        # Two equal holes accept a half turn about their middle (trade.md 2.1).
        (((-40, 10, 6), (45, -5, 6)), ("turned by 180 degrees",)),
        (((-40, 10, 6), (45, -5, 8)), ()),
        # On the axis of a symmetric outline a lamination also goes on turned over.
        (((-40, 0, 6), (45, 0, 8)), ("turned over",)),
        # Across its middle too: the mirror line is x = 0.
        (((0, 20, 6), (0, -30, 8)), ("turned over",)),
        # Three in a scalene triangle go on one way, in an equal-sided one three ways.
        (((-40, 10, 6), (45, -5, 6), (10, 30, 6)), ()),
        (((0, 20, 6), (17.3205, -10, 6), (-17.3205, -10, 6)), ("turned by 120 degrees", "turned over")),
        # Off by less than a millimetre is the same to a mallet.
        (((-40, 10, 6), (45, -5, 6.5)), ("turned by 180 degrees",)),
    ],
)
def test_patterns_that_fit_the_wrong_way(
    pattern: tuple[tuple[float, float, float], ...], want: tuple[str, ...]
) -> None:
    """In a block of 200 × 100, which is symmetric about both axes."""
    assert wrong_ways(holes(*pattern), BLOCK) == want


def test_index_pins_on_their_axis_may_turn_over() -> None:
    """That is what they are for; equal ones may not."""
    assert wrong_ways(holes((-90, 0, 6), (90, 0, 8)), None) == ()
    assert wrong_ways(holes((-90, 0, 6), (90, 0, 6)), None) == ("turned by 180 degrees",)


def test_a_symmetric_pattern_is_asked() -> None:
    blank = made(dowels((-40.0, 10.0), (45.0, -5.0), diameter=(6.0,)), cut=("dowels",))["blank"]
    (finding,) = blank.findings
    assert (finding.check, finding.severity, finding.step) == ("register-symmetric", "ask", "dowels")
    assert "turned by 180 degrees" in finding.message
    assert "8 wide" in finding.remedy
