"""Standard parts and fasteners: what the tables say, and where their numbers come from."""

from __future__ import annotations

import pytest

from pipeline.core.recipe import HardwarePart
from pipeline.core.standard import fastener_names, hole_for, part_names, part_of, table, uses_of
from tests.steps.factory import world

ISO_273 = {  # outside_checks 2.5: fine (H12), medium (H13), coarse (H14), as re-tabulated on a public page
    "M2": (2.2, 2.4, 2.6),
    "M2.5": (2.7, 2.9, 3.1),
    "M3": (3.2, 3.4, 3.6),
    "M3.5": (3.7, 3.9, 4.2),
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0),
    "M12": (13.0, 13.5, 14.5),
    "M1.6": (1.7, 1.8, 2.0),  # read on another re-tabulation of ISO 273
}


@pytest.mark.parametrize(("name", "row"), ISO_273.items())
def test_clearance_holes(name: str, row: tuple[float, float, float]) -> None:
    """ISO 273, all three classes; what is not said is medium."""
    got = [hole_for(name, "clearance", fit=c).diameter_mm for c in ("fine", "medium", "coarse")]
    assert tuple(got) == row
    assert hole_for(name, "clearance").diameter_mm == row[1]
    assert hole_for(name, "clearance", length_mm=20.0).depth_mm is None


@pytest.mark.parametrize(
    ("name", "pitch", "drill"),  # ISO 261/262 coarse pitch and tap drill, outside_checks 2.5
    [
        ("M3", 0.5, 2.5),
        ("M4", 0.7, 3.3),
        ("M5", 0.8, 4.2),
        ("M6", 1.0, 5.0),
        ("M8", 1.25, 6.8),
        ("M12", 1.75, 10.2),
    ],
)
def test_tap_drills(name: str, pitch: float, drill: float) -> None:
    """The tap drill is about d − P: the table's rounding is at most 0.05."""
    row = table("fasteners")[name]
    assert (row["pitch"], hole_for(name, "tap").diameter_mm) == (pitch, drill)
    assert abs(drill - (row["nominal"] - pitch)) <= 0.05 + 1e-9


def test_inserts_dowels_pins_and_ferrules() -> None:
    """trade.md 3.6: inserts M4 6.0, M5 7.0, M6 8.5 (0.5 more in dense hardwood), depth + 2; dowel + 0.1 and 2
    deeper in all (common practice); a pin of 0.198 in in 3/16 in: 0.27 interference; a ferrule 0.05 less."""
    starts = [hole_for(n, "insert", length_mm=12.0) for n in ("M4", "M5", "M6")]
    assert [(h.diameter_mm, h.depth_mm) for h in starts] == [(6.0, 14.0), (7.0, 14.0), (8.5, 14.0)]
    assert hole_for("M5", "insert", wood="hardwood").diameter_mm == 7.5
    dowel = hole_for("dowel 8", "dowel", length_mm=40.0)
    assert (dowel.diameter_mm, dowel.chamfer_mm) == (8.1, 1.0)
    assert 2 * (dowel.depth_mm or 0.0) == 40.0 + 2.0
    pin = hole_for("tuning pin", "pin")
    assert pin.diameter_mm == pytest.approx(3 / 16 * 25.4)
    assert round(0.198 * 25.4 - pin.diameter_mm, 2) == 0.27
    assert hole_for("ferrule 8", "ferrule").diameter_mm == pytest.approx(8.0 - 0.05)
    assert hole_for("string", "string").diameter_mm == 3.0


def test_pilots() -> None:
    """trade.md 3.6 [common practice]: 0.6 to 0.65 of 4 in softwood and ply is 2.4 to 2.6; 0.7 to 0.75 in hardwood
    is 2.8 to 3.0; the depth is the thread's length + 2. #8 is 0.060 + 8·0.013 = 0.164 in (outside_checks 2.5)."""
    soft, hard = hole_for("wood 4", "pilot", length_mm=25.0), hole_for("wood 4", "pilot", wood="hardwood")
    assert (soft.least_mm, soft.most_mm, soft.depth_mm) == (pytest.approx(2.4), pytest.approx(2.6), 27.0)
    assert (soft.diameter_mm, hard.diameter_mm) == (2.5, 2.9)
    assert (hard.least_mm, hard.most_mm) == (pytest.approx(2.8), pytest.approx(3.0))
    for number in (4, 6, 8, 10, 12):
        assert table("wood_screws")[f"no {number}"]["nominal"] == pytest.approx(
            (0.060 + 0.013 * number) * 25.4, abs=0.0006
        )
    # Two read tables for #8: pilot 5/64 in softwood, 3/32 to 7/64 in hardwood; clearance 11/64.
    assert hole_for("no 8", "pilot").diameter_mm + 0.4 >= 5 / 64 * 25.4
    assert hole_for("no 8", "clearance").diameter_mm == pytest.approx(11 / 64 * 25.4, abs=0.1)


def test_batteries() -> None:
    """Round cells by a battery handbook's table of IEC sizes (diameter, height); the block by trade.md."""
    handbook = {"LR03": (10.5, 44.5), "LR1": (12.0, 30.2), "LR6": (14.5, 50.5), "LR14": (26.2, 50.0)}
    for name, (diameter, height) in {**handbook, "LR20": (34.2, 61.5)}.items():
        assert table("parts")[name]["size"] == [height, diameter, diameter]
    assert table("parts")["LR44"]["size"] == [11.6, 11.6, 5.4]
    assert table("parts")["6LR61"]["size"] == [48.5, 26.5, 17.5]


def test_every_row_says_where_it_is_from() -> None:
    """And how far to trust it, in one of three words (perhaps with what they count for)."""
    for name in ("fasteners", "inserts", "wood_screws", "pegs", "parts"):
        for row in table(name).values():
            assert row["source"]
            assert any(word in row["trust"] for word in ("read", "from memory", "common practice"))
    assert all(uses_of(n) for n in fastener_names())
    assert uses_of("M7") == ()
    with pytest.raises(KeyError):
        hole_for("M4", "dowel")


def test_the_recipes_own_part_stands_above_the_table() -> None:
    """A measured block is 48.9 long; what it leaves open comes from the table; an unknown one is nothing."""
    mine = {"6LR61": HardwarePart(size=(48.9, 26.4, 17.3), measured=True), "pot 16": HardwarePart(count=3)}
    recipe = world(hardware=mine).recipe
    block, pot = part_of(recipe, "6LR61"), part_of(recipe, "pot 16")
    assert block is not None
    assert pot is not None
    assert block.size == (48.9, 26.4, 17.3)
    assert (pot.count, pot.thread, pot.round) == (3, 8.0, True)
    assert part_of(recipe, "7LR61") is None
    assert part_names(recipe)[:2] == ("6LR61", "pot 16")
