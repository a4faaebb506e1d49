"""Sizes, sheets, parts, lasers, and what the maker accepted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

import pipeline.checks
from pipeline.checks import checks, findings
from pipeline.checks.sheet_measured import limits
from pipeline.core.findings import Finding
from pipeline.core.recipe import Accepted, HardwarePart, Offcut, Sheet
from pipeline.core.shop import Shop
from pipeline.steps.values import Derived, Result
from pipeline.workshop.nest import nests
from tests.checks.factory import PLACE, SHEETS, blank, box, cut, drawing, only, panel, pocket, step, told

PLATE = box(0, 0, 300, 200, 10)


# -- sizes -----------------------------------------------------------------------------------------
def test_larger_than_the_bed() -> None:
    """In either turn: 1300 × 900 takes 890 × 1290 and not 1310 × 100."""
    sheet = {"panel": replace(SHEETS["panel"], size=(2440.0, 1220.0), grain="none")}
    assert told(panel(box(0, 0, 890, 1195), sheets=sheet), "too-large") == ()
    found = only(panel(box(0, 0, 1310, 100), sheets=sheet), "too-large")
    assert (found.severity, found.measured, found.limit) == ("stop", pytest.approx(1310.0), 1300.0)
    assert "make it 10.0 mm shorter," in found.remedy
    assert "the bed of router" in found.message


def test_larger_than_the_sheet() -> None:
    """Sheet 1220 × 610, border 12 (the trade's default for a router): 1196 × 586 fits, 0.1 more doesn't."""
    assert told(panel(box(0, 0, 1196, 586)), "too-large") == ()
    found = only(panel(box(0, 0, 1196, 586.1)), "too-large")
    assert "less its border of 12 mm" in found.message
    assert (found.measured, found.limit) == (pytest.approx(586.1), 586.0)
    assert "make it 0.1 mm narrower," in found.remedy


def test_both_sides_are_told_and_once() -> None:
    """1300 × 700 on a sheet that holds 1196 × 586: 104 and 114 over, by subtraction; the layout adds nothing."""
    design = panel(box(0, 0, 1300, 700))
    found = only(design, "too-large")
    assert (found.measured, found.limit) == (pytest.approx(700.0), 586.0)
    assert "make it 104.0 mm shorter and 114.0 mm narrower," in found.remedy
    assert nests(design) == ((), ())


def test_an_offcut_that_it_must_come_from() -> None:
    """300 × 200 from an offcut of 310 × 260, border 12: 286 × 236 inside, 14 too short."""
    stock = replace(SHEETS["panel"], measured={"A": 11.8, "D": 11.7}, offcuts={"D": Offcut(size=(310.0, 260.0))})
    design = panel(box(0, 0, 300, 200), sheets={"panel": stock})
    (result,) = (r for r in design.results.values() if r.pieces)
    pieces = tuple(replace(p, role="lamination", letter="D") for p in result.pieces)
    bound = replace(design, results={**design.results, result.step: replace(result, pieces=pieces)})
    found = only(bound, "too-large")
    assert (found.measured, found.limit) == (pytest.approx(300.0), 286.0)
    assert "sheet panel D" in found.message
    assert told(design, "too-large") == ()  # it may come from sheet A


def test_grain_forbids_a_turn() -> None:
    """586 × 1000 fits the sheet turned by 90°, and not where its grain must run along x."""
    assert told(panel(box(0, 0, 580, 1000), grain="none"), "too-large") == ()
    assert told(panel(box(0, 0, 580, 1000), grain="y"), "too-large") == ()
    assert told(panel(box(0, 0, 580, 1000), grain="x"), "too-large")


@pytest.mark.parametrize(
    ("long", "says"),
    [(12.6, "inches"), (19.9, "inches"), (20.0, ""), (3000.0, ""), (3001.0, "the factor"), (8128.0, "the factor")],
)
def test_a_drawing_in_another_unit(long: float, says: str) -> None:
    """trade.md 8, fault 10: a box under 20 or over 3000; 12.6 is 320 mm read as inches."""
    found = told(panel(box(0, 0, long, long / 2, long / 10)), "drawing-size")
    assert bool(found) == bool(says)
    if found:
        assert found[0].severity == "stop"
        assert says in found[0].message
    if long == 12.6:
        assert "the factor is 25.4 and it is 320 mm long" in found[0].message


# -- sheets ----------------------------------------------------------------------------------------
def test_measured_and_nominal() -> None:
    """11.8 and 11.9 of 12 pass, 11.7 is told; the piece that comes from it is named."""
    (found,) = told(blank(PLATE, cut("a", box(0, 0, 60, 40), depth=5.0)), "sheet-measured")
    assert (found.severity, found.piece) == ("note", "blank-2")
    assert found.measured == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("nominal", "thin", "thick"), [(12.0, 11.24, 12.56), (18.0, 17.06, 18.74), (6.5, 5.905, 6.895)]
)
def test_plywood_limits(nominal: float, thin: float, thick: float) -> None:
    """trade.md 6.1, EN 315 sanded: 12: +0.56/−0.76, 18: +0.74/−0.94, 6.5: +0.395/−0.595."""
    assert limits(nominal) == pytest.approx((thin, thick))


def test_a_slip_of_the_calipers() -> None:
    sheets = {"panel": Sheet(measured={"A": 11.2}, nominal=12.0, size=(1220.0, 610.0))}
    found = only(panel(PLATE, sheets=sheets, thickness=11.2), "sheet-measured")
    assert found.severity == "ask"
    assert "between 11.24 and 12.56" in found.message
    unused = panel(PLATE, sheets={**sheets, "other": Sheet(measured={"A": 9.0}, nominal=18.0)}, thickness=11.2)
    assert len(told(unused, "sheet-measured")) == 1


# -- parts and lasers ------------------------------------------------------------------------------
@pytest.mark.parametrize("measured", [True, False])
def test_a_part_nobody_measured(measured: bool) -> None:
    made = blank(
        PLATE,
        cut("bay", box(0, 0, 60, 40), depth=5.0, fit="slide"),
        hardware={"cell": HardwarePart(measured=measured, size=(48.5, 26.5, 17.5))},
    )
    bay = step("bay", "cavity", SimpleNamespace(part=SimpleNamespace(of="cell")))
    asked = replace(made, order=tuple(bay if s.name == "bay" else s for s in made.order))
    found = told(asked, "part-unmeasured")
    assert len(found) == (0 if measured else 1)
    if found:
        assert found[0].severity == "ask"
        assert "cell has not been measured" in found[0].message


def test_a_laser_cuts_through_or_not_at_all() -> None:
    laser = {"shop": "laser", "sheet": "ply3", "thickness": 3.1}
    found = only(panel(PLATE, pocket(box(0, 0, 60, 40), 1.5), **laser), "laser-half-depth")
    assert (found.severity, found.measured, found.step) == ("ask", 1.5, "hollow")
    said = Finding(check="laser-half-depth", severity="ask", message="m", step="hollow", piece="plate")
    assert told(panel(PLATE, pocket(box(0, 0, 60, 40), 1.5), found=[said], **laser), "laser-half-depth") == (said,)
    able = Shop(name="router", process="laser", partial_depth=True)
    assert told(panel(PLATE, pocket(box(0, 0, 60, 40), 1.5), told_shop=able), "laser-half-depth") == ()


# -- accepted --------------------------------------------------------------------------------------
def near_edge(wall: float, accepted: Accepted | None = None) -> Derived:
    edge = box(0, 0, 400, 300, 20)
    return blank(edge, cut("bay", box(160 - wall, 0, 80, 60), depth=5.0), accepted=(accepted,) if accepted else ())


def accepted(measured: float | None, **more: str) -> Accepted:
    return Accepted(check="wall-thin", step="bay", measured=measured, because="blended by hand", since="A", **more)


def test_accepted_findings_stay_with_their_reason() -> None:
    found = only(near_edge(7.8, accepted(7.8)), "wall-thin")
    assert found.accepted == "blended by hand"
    assert only(near_edge(7.9, accepted(7.8)), "wall-thin").accepted  # better than accepted
    assert only(near_edge(3.0, accepted(None)), "wall-thin").accepted  # whatever it measures


def test_a_worse_one_is_open_again() -> None:
    found = only(near_edge(7.7, accepted(7.8)), "wall-thin")
    assert found.accepted == ""
    assert "accepted in revision A at 7.80 mm (blended by hand) and is now 7.70, which is worse" in found.message


def test_worse_upward() -> None:
    """Residue in a corner is worse when there is more of it."""

    def corner(value: float) -> str:
        one = Accepted(check="corner-sharp", step="hollow", measured=value, because="square it")
        return only(panel(PLATE, pocket(box(0, 0, 60, 40, 0), 5.0), accepted=(one,)), "corner-sharp").accepted

    assert corner(0.63) == "square it"  # 0.62 is left by a cutter of 3
    assert corner(0.5) == ""


def test_another_step_or_piece_is_not_accepted() -> None:
    assert only(near_edge(7.8, replace(accepted(7.8), step="body")), "wall-thin").accepted == ""
    assert only(near_edge(7.8, accepted(7.8, piece="blank-1")), "wall-thin").accepted == ""
    assert only(near_edge(7.8, accepted(7.8, piece="blank")), "wall-thin").accepted


def test_an_entry_that_meets_nothing_is_told() -> None:
    found = only(near_edge(20.0, accepted(7.8)), "accepted-gone")
    assert found.severity == "note"
    assert found.place is not None
    assert found.place.line == 90


# -- all together ----------------------------------------------------------------------------------
def test_intake_and_steps_are_heard_and_the_worst_comes_first() -> None:
    made = near_edge(7.8)
    seen = Finding(check="dropped", severity="note", message="m")
    bad = Finding(check="no-floor", severity="stop", message="m", step="bay")
    results = {**made.results, "bay": replace(made.results["bay"], findings=(bad,))}
    found = findings(replace(made, drawing=drawing([seen]), results=results))
    assert found[0] is bad
    assert seen in found
    order = [("stop", "ask", "note").index(f.severity) for f in found]
    assert order == sorted(order)


def test_every_finding_has_a_remedy_and_a_place() -> None:
    """A finding without a number, a place and a remedy is a horoscope (trade.md 8)."""
    made = blank(
        box(0, 0, 1400, 300, 0),
        cut("a", box(-692, 0, 80, 60, 0), depth=20.0),
        cut("b", box(-660, 0, 80, 60, 0), face="back", depth=16.0),
        cut("slot", box(100, 0, 60, 2, 1), depth=60.0),
        in_blank=("a", "b", "slot"),
    )
    found = findings(made)
    assert {f.check for f in found} >= {
        "corner-sharp", "cavities-meet", "tool-reach", "slot-narrow", "too-large", "wall-thin", "sheet-measured"
    }  # fmt: skip
    for f in found:
        assert f.remedy, f
        assert f.message.endswith("."), f
        assert f.place is not None, f
        assert f.measured is not None, f
        assert f.limit is not None, f


def test_nothing_to_say_about_a_sound_design() -> None:
    sheets = {"ply": Sheet(measured={"A": 11.8, "B": 11.9, "C": 11.9}, nominal=12.0)}
    made = blank(PLATE, cut("bay", box(0, 0, 80, 50), depth=16.0), in_blank=("bay",), sheets=sheets)
    assert findings(made) == ()


FILES = {
    f"pipeline.checks.{p.stem}"
    for p in Path(pipeline.checks.__file__).parent.glob("*.py")
    if "def check(view: View)" in p.read_text(encoding="utf-8")
}
"""One file a check: none may be forgotten in the list."""


def test_an_empty_design() -> None:
    nothing = Derived(
        recipe=panel(PLATE).recipe, drawing=drawing(), order=(), results={"x": Result(step="x", kind="o")}
    )
    assert findings(nothing) == ()
    assert {c.__module__ for c in checks()} == FILES
    assert PLACE.line == 1
