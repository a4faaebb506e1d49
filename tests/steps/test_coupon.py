"""Coupons: what is drawn, and what it should measure when it comes off the machine."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import Sheet
from pipeline.steps.coupon import Slice, Slots
from pipeline.steps.fits import Shape
from pipeline.steps.values import Result, World
from tests.steps.factory import derived, step, world

PLY = Sheet(measured={"A": 5.8}, density=680.0, shop="laser")


def made(*steps: object, **fields: object) -> Result:
    w = world(*steps, step("tries", "coupon", sheet="ply6", **fields))  # type: ignore[arg-type]
    w = World(recipe=replace(w.recipe, sheets={**w.recipe.sheets, "ply6": PLY}), drawing=w.drawing, results={})
    return derived(w)["tries"]


def test_a_square_tells_the_kerf() -> None:
    """trade.md 7.1 (derived): a beam on the line makes the hole w + k and the plug w − k: k = (hole − plug)/2."""
    result = made(square=20.0)
    row = result.numbers["square"]
    assert (row["hole_mm"] - row["plug_mm"]) / 2 == pytest.approx(0.18)
    (piece,) = result.pieces
    (hole,) = piece.region.parts[0].holes
    assert abs(hole.area) == pytest.approx(400.0)
    assert [op.work for op in piece.set_ups[0].ops] == ["CUT_INSIDE", "CUT_OUTSIDE"]


def test_a_slot_for_a_measured_sheet() -> None:
    """trade.md 7.1 Oracle (common practice): t 5.80, k 0.18, c 0.05 → true 5.85, path 5.67."""
    result = made(slots=Slots(thickness="ply6", room=(0.0, 0.05)))
    row = result.numbers["slots"][1]
    assert row["true_mm"] == pytest.approx(5.85)
    assert row["path_mm"] == pytest.approx(5.67)
    (piece,) = result.pieces
    x0, y0, x1, y1 = piece.region.bounds
    slots = (x1 - x0) * (y1 - y0) - piece.region.area
    assert slots == pytest.approx(15.0 * (5.8 + 5.85))
    assert [v.text for v in piece.set_ups[0].labels] == ["+0.00", "+0.05"]


@pytest.mark.parametrize("end", ["-x", "+x", "+y", "-y"])
def test_a_slice_of_a_pocket_has_its_width_and_corners(end: str) -> None:
    """A 20 mm slice of a rectangle w wide with corners r lacks 2 (1 − π/4) r² of 20 w."""
    pocket = step(
        "pocket",
        "cavity",
        part=Shape(rectangle=(72.0, 44.0), corner=6.5),
        fit=0.1,
        centre=(160.0, 3.0),
        depth=16.0,
    )
    result = made(pocket, fit=Slice(of="pocket", end=end))  # type: ignore[arg-type]
    side = 44.0 if end[1] == "x" else 72.0
    for piece, room in zip(result.pieces, (-0.1, 0.0, 0.1), strict=True):
        w, r = side + 2 * (0.1 + room), 6.5 + 0.1 + room
        x0, y0, x1, y1 = piece.region.bounds
        gone = (x1 - x0) * (y1 - y0) - piece.region.area
        assert gone == pytest.approx(20.0 * w - 2 * (1 - math.pi / 4) * r * r, abs=1e-6)
        assert piece.role == "coupon"
    assert [row["width_mm"] for row in result.numbers["fit"]] == pytest.approx([side, side + 0.2, side + 0.4])


def test_what_is_asked_must_be_something() -> None:
    with pytest.raises(Refused, match=r"doesn't say what shall be tried"):
        made()
    with pytest.raises(Refused, match=r"has no width"):
        made(slots=Slots(thickness=0.1, room=(-0.2,)))
