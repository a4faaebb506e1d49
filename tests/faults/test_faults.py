"""Every seeded fault is found with its place and number, near misses and clean designs pass, remedies clear."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from pipeline.checks.view import View
from pipeline.checks.wall_thin import open_wall, wood_for
from tests.faults.body_w import AWAY, HALF, RECESS, TIP, design, wall_x
from tests.faults.case import Case, judged
from tests.faults.clean import DESIGNS
from tests.faults.corpus import CASES
from tests.faults.design import Design, body, cavity, checked, mended
from tests.faults.table import COVERED, SEEDED, printed, rows


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.fault}-{c.name}")
def test_case(case: Case) -> None:
    verdict = judged(case)
    assert verdict.wrong == ()
    if case.seed is not None and case.seed.mends:
        assert verdict.mended


@pytest.mark.parametrize(("name", "clean"), DESIGNS, ids=[n for n, _ in DESIGNS])
def test_clean(name: str, clean: Design) -> None:
    outcome = checked(clean)
    assert outcome.refused == ""
    assert [f"{f.check}: {f.message}" for f in outcome.loud()] == []


def test_the_corpus_is_whole() -> None:
    """For each fault that a design can show three that have it and three that nearly have it; 30 clean designs."""
    assert tuple(COVERED) == tuple(range(1, 43))
    for fault in SEEDED:
        mine = [c for c in CASES if c.fault == fault]
        assert sum(c.seed is not None for c in mine) >= 3, fault
        assert sum(c.seed is None for c in mine) >= 3, fault
    assert {c.fault for c in CASES} == set(SEEDED)
    assert len(DESIGNS) >= 30
    assert len({(c.fault, c.name) for c in CASES}) == len(CASES)


def test_what_covers_a_fault_is_there() -> None:
    """Every module that the table names exists."""
    root = Path(__file__).parents[2] / "pipeline"
    for fault, (where, by) in COVERED.items():
        if where == "check":
            names = [w.strip(",;()") for w in by.split(";")[0].split() if "(" not in w]
            assert any((root / "checks" / f"{n}.py").is_file() for n in names), fault


def test_the_table_counts() -> None:
    verdicts = [judged(c) for c in CASES if c.fault in (8, 10)]
    first, second = rows(verdicts)
    assert (first.fault, first.seeded, first.found, first.near) == (8, 3, 3, 3)
    assert (second.fault, second.found, second.false_alarms, second.numbers) == (10, 3, 0, 0)
    assert "drawing_size" in printed(rows(verdicts))


def test_body_w_walls() -> None:
    """trade.md 3.2: 10 at x 214.06, 8 at x 216.66, 0 at x 226.32."""
    assert (wall_x(10), wall_x(8), wall_x(0)) == pytest.approx((214.06, 216.66, 226.32), abs=0.005)
    found = next(f for f in checked(design(control=False)).findings if f.check == "wall-thin")
    assert found.measured == 0.0
    assert found.at_mm is not None
    assert (found.at_mm[0], abs(found.at_mm[1])) == pytest.approx((226.32, HALF), abs=0.02)
    assert "falls below 10 mm from (214.1," in found.message
    end = dict(found.fix)["steps.neck_pocket_end"]
    assert isinstance(end, str)
    width, centre = (float(end.split(f"{w}: [")[1].split(",")[0]) for w in ("rectangle", "centre"))
    assert centre - width / 2 == pytest.approx(TIP + math.sqrt(32**2 - HALF**2), abs=0.01)  # 214.06


@pytest.mark.parametrize(("limit", "x"), [(10.0, 214.06), (8.0, 216.66)])
def test_body_w_walls_fall_below(limit: float, x: float) -> None:
    derived = checked(design(control=False)).derived
    assert derived is not None
    ((blank, taken),) = View(derived=derived).blanks
    (pocket,) = [v for v in taken if v.step.name == "neck_pocket"]
    begins = open_wall(pocket, wood_for(blank, taken, pocket).boundary, limit).begins
    assert min(p[0] for p in begins) == pytest.approx(x, abs=0.01)


def test_remedies_of_a_left_handed_variant() -> None:
    """It is mirrored as a whole after its steps are made, so a remedy counts in the recipe's own y."""
    near = body({"well": cavity(70, 96, 80, 60)}).having(mirrored=True)
    (found,) = checked(near).loud()
    assert found.check == "wall-thin"
    assert found.measured == pytest.approx(4.0, abs=0.005)
    assert found.at_mm is not None
    assert found.at_mm[1] < 0
    assert checked(mended(near, found.fix)).loud() == ()


def test_body_w_recess() -> None:
    """trade.md 3.3: the recess keeps 6.19 to the outline, which a rounding of 6 and 3 of flat want to be 9."""
    assert pytest.approx(6.19, abs=0.005) == RECESS
    found = next(f for f in checked(design(pocket=False)).findings if f.check == "cover-edge")
    assert (found.measured, found.limit) == pytest.approx((6.19, 9.0), abs=0.01)
    assert "0.19 mm of flat wood" in found.message
    assert dict(found.fix)["steps.control.centre.0"] == pytest.approx(-30.0 + 2.81 * 82 / AWAY, abs=0.02)


def test_body_w_mended() -> None:
    """Both remedies together clear both findings and raise no new one."""
    before = checked(design())
    assert {f.check for f in before.loud()} == {"wall-thin", "cover-edge"}
    fixes = tuple(pair for f in before.loud() for pair in f.fix)
    assert checked(mended(design(), fixes)).loud() == ()
