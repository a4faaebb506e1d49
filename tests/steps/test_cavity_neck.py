"""Neck pockets: tilt from heights, heel gap, film on both surfaces; parts, threads and skins."""

from __future__ import annotations

import pytest

from pipeline.core.errors import Refused
from pipeline.core.recipe import HardwarePart, Step
from pipeline.steps.cavity import Tilt
from pipeline.steps.cavity_neck import Heights, drop_mm, heel_gap_mm, reach_mm, tilt_deg, wedge_mm
from pipeline.steps.fits import Film, Shape
from pipeline.steps.values import Result
from tests.steps.factory import step
from tests.steps.test_cavity import made

SADDLE = {"saddle": 12.0, "board": 8.0, "action_12": 1.5, "action_nut": 0.4}
POCKET = Shape(rectangle=(60.0, 42.2), corner=6.5)


def pocket(tilt: Tilt, **more: object) -> Step:
    return step(
        "neck", "cavity", **{"opening": POCKET, "centre": (202.0, 0.0), "depth": 16.0, "tilt": tilt, **more}
    )


def test_tilt_from_the_saddle() -> None:
    """trade.md 3.2 [derived]: saddle 12, board + fret 8, 1.5 over the 12th, 0.4 at the nut, L 164 →
    h 1.4, 0.489°."""
    heights = Heights(**SADDLE, length=164.0)
    assert drop_mm(heights) == pytest.approx(1.4)
    assert round(tilt_deg(heights), 3) == 0.489
    result = made(pocket(Tilt(heights=heights, deeper="+x")))
    assert result.numbers["tilt_h_mm"] == pytest.approx(1.4)
    assert round(result.numbers["tilt_deg"], 3) == 0.489
    rule = result.cuts[0].depth.tilt
    assert rule is not None
    assert rule.angle_deg == pytest.approx(tilt_deg(heights))


@pytest.mark.parametrize(
    ("bridge", "fret", "scale", "joint", "length", "angle"),
    [  # outside_checks I3 [formula of a public page; numbers computed there]
        (16.0, 1.2, 628.65, 16, 249.480, 2.0202),
        (12.0, 1.1, 650.0, 16, 257.953, 1.0882),
        (10.0, 1.0, 647.7, 17, 242.613, 0.7084),
    ],
)
def test_tilt_from_a_glued_bridge(
    bridge: float, fret: float, scale: float, joint: int, length: float, angle: float
) -> None:
    """The published form: bridge (without saddle) + air gap − (board + fret) over D."""
    heights = Heights(bridge=bridge, board=6.0, fret=fret, scale=scale, joint=joint)
    assert round(reach_mm(heights), 3) == pytest.approx(length, abs=0.002)
    # The table's angle follows from the page's heights; h is 8.8, 4.9, 3.0.
    assert tilt_deg(heights) == pytest.approx(angle, abs=6e-4)


def test_heel_gap_and_wedge() -> None:
    """trade.md 3.2: 16 deep at 2° → 0.559 off at the heel's end; a wedge of 1.5° over 100 → 2.62 [derived]."""
    assert round(heel_gap_mm(16.0, 2.0), 3) == 0.559
    assert round(wedge_mm(100.0, 1.5), 2) == 2.62
    result = made(pocket(Tilt(angle=2.0, deeper="+x")))
    assert round(result.numbers["heel_gap_mm"], 3) == 0.559
    assert any("0.56 off at the face" in r for r in result.reports)


def test_the_floor_under_the_pocket() -> None:
    """Body W: 11.8 + 11.7 + 11.9 and two glue lines of 0.05 are 35.5; less 16 and 2° over 60 (2.095): 17.405."""
    blank = step(
        "blank",
        "stack",
        outline="body",
        laminations=("birch12 A", "birch12 B", "birch12 C"),
        glue=0.05,
        cut_blank=("neck",),
    )
    body = step("body", "outline", drawn=("body",))
    result = made(pocket(Tilt(angle=2.0, deeper="+x")), body, blank)
    assert result.numbers["floor_left_mm"] == pytest.approx(35.5 - 16 - 2.0953, abs=1e-3)
    # `floor` governs at the deepest end: the same pocket told the other way round.
    other = made(pocket(Tilt(angle=2.0, deeper="+x"), depth=None, floor=17.405), body, blank)
    assert other.numbers["heel_gap_mm"] == pytest.approx(0.559, abs=5e-4)


@pytest.mark.parametrize(
    ("tilt", "said"),
    [
        (Tilt(deeper="+x"), "either an angle or the heights"),
        (Tilt(angle=1.0, heights=Heights(**SADDLE, length=164.0), deeper="+x"), "either an angle or the heights"),
        (Tilt(heights=Heights(board=8.0, length=164.0), deeper="+x"), "either the saddle or a glued bridge"),
        (
            Tilt(heights=Heights(saddle=12.0, board=8.0, length=164.0), deeper="+x"),
            "wanted heights of the strings",
        ),
        (Tilt(heights=Heights(**SADDLE), deeper="+x"), "from the joint to the saddle"),
        (Tilt(heights=Heights(**SADDLE, scale=430.0), deeper="+x"), "from the joint to the saddle"),
        (Tilt(heights=Heights(**SADDLE, length=1.0, joint=12), deeper="+x"), "from the joint to the saddle"),
        (Tilt(heights=Heights(**{**SADDLE, "board": 10.0}, length=164.0), deeper="+x"), "0.6 too high"),
        (Tilt(heights=Heights(bridge=9.0, board=6.0, action_12=1.0, length=200.0), deeper="+x"), "don't enter"),
    ],
)
def test_heights_that_give_no_tilt(tilt: Tilt, said: str) -> None:
    """Each with a sentence and a place."""
    with pytest.raises(Refused) as caught:
        made(pocket(tilt))
    assert any(said in p.wrong and p.place for p in caught.value.problems)


def test_film_on_both_surfaces() -> None:
    """width = part + 2·(clearance + film of the part + film of the wall): 44 + 2·(0.1 + 0.12 + 0.10) = 44.64."""
    part = Shape(rectangle=(72.0, 44.0), corner=6.5)
    film = Film(part=0.12, wall=0.10)
    result = made(step("neck", "cavity", part=part, fit="slide", film=film, centre=(0.0, 0.0), depth=16.0))
    _, y0, _, y1 = result.numbers["bounds_mm"]
    assert y1 - y0 == pytest.approx(44.64)
    assert result.numbers["clearance_a_side_mm"] == pytest.approx(0.32)


# -- standard parts and threads --------------------------------------------------------------------
def test_a_standard_battery() -> None:
    """trade.md 3.4: 6LR61 is 48.5 × 26.5; + 1 a side and + 8 length for its clip → 58.5 × 28.5."""
    part = Shape(standard="6LR61", longer=8.0)
    cell = step("cell", "cavity", part=part, fit=1.0, centre=(0.0, 0.0), depth=18.5)
    x0, y0, x1, y1 = made(cell).numbers["bounds_mm"]
    assert (x1 - x0, y1 - y0) == (pytest.approx(58.5), pytest.approx(28.5))
    mine = {"6LR61": HardwarePart(size=(48.9, 26.4, 17.3), at=(5.0, 6.0, 0.0))}
    own = step("cell", "cavity", part=Shape(standard="6LR61"), fit=0.0, depth=18.5)
    assert made(own, hardware=mine).numbers["bounds_mm"] == pytest.approx([-19.45, -7.2, 29.45, 19.2])


def test_a_coin_cell_is_round() -> None:
    """CR2032: 20 across, 0.25 more a side."""
    coin = step("coin", "cavity", part=Shape(standard="CR2032"), fit="drop-in", centre=(0.0, 0.0), depth=3.4)
    assert made(coin).numbers["bounds_mm"] == pytest.approx([-10.25, -10.25, 10.25, 10.25])
    with pytest.raises(Refused, match="no standard part called"):
        made(step("c", "cavity", part=Shape(standard="7LR61"), fit="slide", centre=(0.0, 0.0), depth=3.0))


def held(skin: float, **more: object) -> Result:
    shape = Shape(rectangle=(80.0, 45.0), corner=8.0)
    pot = HardwarePart(size=(17.0, 17.0, 12.0), thread=8.0)
    fields = {"opening": shape, "centre": (-30.0, -45.0), "face": "back", "floor": skin, "holds": ("pot",), **more}
    return made(step("control", "cavity", **fields), hardware={"pot": pot})


@pytest.mark.parametrize(("skin", "catches"), [(3.0, True), (5.0, True), (5.2, False), (7.0, False)])
def test_a_thread_bounds_the_skin(skin: float, catches: bool) -> None:
    """trade.md 3.3 [common practice]: thread 8 → skin 3 to 5, or the nut will not catch; the remedy is a
    counterbore of the body's 17 + 4."""
    result = held(skin)
    assert result.numbers["holds"]["pot"] == {"thread_mm": 8.0, "skin_mm": [3.0, 5.0]}
    assert (not result.findings) is catches
    for finding in result.findings:
        assert (finding.check, finding.severity, finding.limit) == ("nut-wont-catch", "stop", 5.0)
        assert "The nut of pot will not catch" in finding.message
        assert f"a counterbore of 21 in its floor, {skin - 5:g} deep" in finding.remedy


def test_what_can_not_be_held() -> None:
    """An unknown part, one without a thread, a cavity without a skin."""
    with pytest.raises(Refused, match="No part is called"):
        held(4.0, holds=("knob",))
    with pytest.raises(Refused, match="has no thread"):
        held(4.0, holds=("6LR61",))
    with pytest.raises(Refused, match="leaves no skin"):
        held(4.0, floor=None, through=True)
