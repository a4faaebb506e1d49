"""How thick a stack gets: counts and mixes of sheets, limits of the standard, and a thickness that is wished
for.
Sources stand beside each number: [C] common practice without a source, [M] from memory, [R] read.
"""

from __future__ import annotations

import math
from itertools import combinations_with_replacement

import pytest

from pipeline.checks import sheet_measured
from pipeline.steps.heights import spans
from pipeline.steps.stack_mix import balanced, bought, count_for, limits, measured_error, mixes
from tests.steps.test_stack import CONTROL, actions, body_w, cavity, made, one

# Average, lower, upper: a mill's data sheet, birch plywood with veneers of 1.4, sanded (outside_checks 3.2, R).
MILL = {
    4: (3.8, 3.5, 4.1), 6.5: (6.4, 6.1, 6.9), 9: (9.2, 8.8, 9.5), 12: (12.0, 11.5, 12.5), 15: (14.9, 14.3, 15.3),
    18: (17.7, 17.1, 18.1), 21: (20.5, 20.0, 20.9), 24: (23.4, 22.9, 23.7), 27: (26.5, 25.8, 26.8),
    30: (29.4, 28.7, 29.9), 35: (35.0, 33.6, 35.4),
}  # fmt: skip
# Sanded tolerance a maker prints (outside_checks 3.2, P1, R): +, −.
PRINTED = {
    4: (0.3, 0.5), 6.5: (0.4, 0.5), 9: (0.4, 0.5), 12: (0.5, 0.7), 15: (0.6, 0.8), 18: (0.7, 0.9), 21: (0.8, 1.0),
    24: (0.9, 1.1), 27: (1.0, 1.2), 30: (1.1, 1.3),
}  # fmt: skip


# -- counts ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("wanted", "sheet", "count", "total"), [(36, 11.8, 3, 35.50), (45, 6.4, 7, 45.10), (40, 9.2, 4, 36.95)]
)
def test_how_many_laminations(wanted: float, sheet: float, count: int, total: float) -> None:
    """trade.md 6.2, Oracle, with glue lines of 0.05 [C]."""
    n, thickness = count_for(wanted, sheet, 0.05)
    assert (n, round(thickness, 6)) == (count, total)
    assert spans((sheet,) * n, 0.05)[-1].z1 == pytest.approx(total)


def test_veneers_count_before_sheets_do() -> None:
    """36 less two veneers of 0.6 with a glue line each is 34.7: three sheets of 11.5 with two glue lines
    make 34.6."""
    n, thickness = count_for(36, 11.5, 0.05, veneers_mm=2 * 0.65)
    assert (n, thickness) == (3, pytest.approx(34.6 + 1.3))
    assert thickness == pytest.approx(spans((0.6, 11.5, 11.5, 11.5, 0.6), 0.05)[-1].z1)


def test_at_least_one_lamination() -> None:
    assert count_for(2, 18) == (1, 18)


# -- limits ------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("t", "plus", "minus"), [(12, 0.56, 0.76), (18, 0.74, 0.94), (6.5, 0.395, 0.595)])
def test_limits_of_the_standard(t: float, plus: float, minus: float) -> None:
    """trade.md 6.1: EN 315 sanded, +(0.2 + 0.03 t) / −(0.4 + 0.03 t) [formula M, scope R]."""
    low, high = limits(t)
    assert (round(high - t, 9), round(t - low, 9)) == (plus, minus)
    assert sheet_measured.limits(t) == (low, high)


@pytest.mark.parametrize("t", PRINTED)
def test_limits_agree_with_a_makers_table(t: float) -> None:
    """outside_checks 3.2, P2: the formula cut to one decimal is the printed column, but for two: it prints
    +0.4 at 6.5 (0.395) and −0.5 at 9 (0.67)."""
    low, high = limits(t)

    def cut(v: float) -> float:
        return math.floor(v * 10 + 1e-6) / 10

    plus, minus = PRINTED[t]
    assert cut(high - t) == (plus if t != 6.5 else 0.3)
    assert cut(t - low) == (minus if t != 9 else 0.6)


@pytest.mark.parametrize("t", MILL)
def test_a_mills_sheets_lie_within_the_standard(t: float) -> None:
    """outside_checks 3.2: lower and upper of a mill's data sheet (which has one decimal) lie within EN
    315's limits."""
    average, lower, upper = MILL[t]
    low, high = limits(t)
    assert low - 0.05 <= lower <= average <= upper <= high + 0.05


def test_what_a_stack_can_be_off_by() -> None:
    """trade.md 6.2: 3 × 12 lies between 33.72 and 37.68 before measuring; √3 · 0.1 after [C]."""
    low, high = bought((12, 12, 12))
    assert (round(low, 9), round(high, 9)) == (33.72, 37.68)
    assert bought((12, 12, 0.6), 0.05) == pytest.approx((22.48 + 0.7, 25.12 + 0.7))
    assert measured_error(3) == pytest.approx(0.173205, abs=1e-6)


# -- mixes -------------------------------------------------------------------------------------------
def every_mix(sheets: dict[str, float], wanted: float, glue: float, most: int) -> dict[tuple[int, bool], float]:
    """By brute force: the nearest total of each number of pieces, not thicker (False) and thicker (True)."""
    best: dict[tuple[int, bool], float] = {}
    for n in range(1, most + 1):
        for pick in combinations_with_replacement(sorted(sheets), n):
            total = sum(sheets[p] for p in pick) + (n - 1) * glue
            key = (n, total > wanted + 1e-9)
            if key not in best or abs(total - wanted) < abs(best[key] - wanted) - 1e-9:
                best[key] = total
    return best


@pytest.mark.parametrize("wanted", [20.0, 30.0, 36.0, 40.0, 45.0])
def test_mixes_against_every_possible_one(wanted: float) -> None:
    """Each mix offered is the nearest of its number of pieces on its side, and every mix that comes nearer
    than all with fewer pieces is offered, up to four more than the thickest sheet needs; by brute force over
    all."""
    sheets = {"a": 11.8, "b": 9.2, "c": 6.4, "d": 3.8}
    found = mixes(sheets, wanted, 0.05)
    most = math.ceil((wanted + 0.05) / 11.85) + 4
    best = every_mix(sheets, wanted, 0.05, most)
    want: set[tuple[int, float]] = set()
    under = over = math.inf
    for n in range(1, most + 1):
        if (n, False) in best and wanted - best[n, False] < under - 1e-9:
            under = wanted - best[n, False]
            want.add((n, round(best[n, False], 6)))
        if (n, True) in best and best[n, True] - wanted < over - 1e-9:
            over = best[n, True] - wanted
            want.add((n, round(best[n, True], 6)))
        if under < 1e-9:
            break
    want = {(n, t) for n, t in want if abs(t - wanted) <= 11.8 / 2 + 1e-9}
    assert {(len(m.sheets), round(m.thickness_mm, 6)) for m in found} == want
    for m in found:
        assert m.thickness_mm == pytest.approx(sum(sheets[s] for s in m.sheets) + (len(m.sheets) - 1) * 0.05)
    counts = [len(m.sheets) for m in found]
    assert counts == sorted(counts)


def test_forty_of_nines() -> None:
    """trade.md 6.2: 40 from sheets of 9.2 alone misses by 3.05; with sheets of 11.8 and 3.1 beside them
    there are better ones: 2 · 11.8 + 9.2 + 2 · 3.1 + 4 · 0.05 = 39.20 at most with 5 pieces of that kind."""
    alone = mixes({"nine": 9.2}, 40, 0.05)
    assert [(len(m.sheets), round(m.thickness_mm, 2)) for m in alone] == [(4, 36.95), (5, 46.2)][:1]
    both = mixes({"nine": 9.2, "twelve": 11.8, "three": 3.1}, 40, 0.05)
    assert min(abs(m.thickness_mm - 40) for m in both) < 0.5


def test_nothing_but_thick_sheets() -> None:
    """Where nothing comes near, the nearest is offered all the same: 10 wanted, sheets of 24."""
    assert [m.sheets for m in mixes({"t": 24.0}, 10)] == [("t",)]
    assert mixes({}, 36) == ()


@pytest.mark.parametrize(
    ("listed", "want"),
    [
        (("a", "a", "b"), ("a", "b", "a")),
        (("a", "b", "b", "a"), ("a", "b", "b", "a")),
        (("a", "b", "c"), ("a", "c", "b")),
        (("a", "a", "a", "b", "b", "c"), ("a", "b", "a", "c", "b", "a")),
    ],
)
def test_a_balanced_order(listed: tuple[str, ...], want: tuple[str, ...]) -> None:
    """Pairs of the same sheet outside in, the rest in the middle (trade.md 6.6)."""
    t = {"a": 11.8, "b": 11.7, "c": 6.4}
    assert balanced(t, listed) == want
    assert sorted(balanced(t, listed)) == sorted(listed)


# -- the wish ----------------------------------------------------------------------------------------
def test_a_wish_is_told_beside_the_real_thickness_and_never_used() -> None:
    """trade.md 6.2: 36 wanted, 35.50 made of three sheets of 11.8. Of a control cavity `floor: 4` the real
    31.50 is cut, not 32 (which would leave 3.5); both are shown in a question with what else could be
    laid."""
    sheets = ("birch12 A",) * 3
    blank = made(CONTROL, outline=body_w(), laminations=sheets, glue=0.05, thickness=36.0, cut_blank=("control",))
    result = blank["blank"]
    assert result.numbers["thickness_mm"] == pytest.approx(35.5)
    assert result.numbers["wanted_thickness_mm"] == 36.0
    pocket = max(o.depth_mm or 0 for s in result.blanks[0].set_ups for o in s.ops if o.work == "POCKET")
    assert pocket == pytest.approx(31.5)
    (finding,) = (f for f in result.findings if f.check == "stack-thickness")
    assert (finding.severity, finding.limit) == ("ask", 36.0)
    assert finding.measured == pytest.approx(35.5)
    assert "35.50 mm thick and 36 is wanted" in finding.message
    assert finding.place is not None
    assert finding.remedy.startswith("lay ")
    rows = result.numbers["mixes"]
    assert all(r["off_mm"] == pytest.approx(r["thickness_mm"] - 36) for r in rows)
    assert any("36 is wanted" in r for r in result.reports)


@pytest.mark.parametrize(("wanted", "asked"), [(23.2, False), (23.19, True), (23.8, False), (23.81, True)])
def test_a_wish_that_is_nearly_met_says_nothing(wanted: float, asked: bool) -> None:
    """More than 0.3 off is asked (trade.md 6.2 and sheet tolerance); 11.8 + 11.7 = 23.5."""
    found = made(thickness=wanted)["blank"].findings
    assert ["stack-thickness" in f.check for f in found] == ([True] if asked else [])


def test_veneers_stay_on_their_faces_in_every_mix() -> None:
    """A mix replaces the core: back veneer first, front veneer last, their thickness and glue lines
    counted."""
    sheets = ("veneer A", "birch12 A", "birch12 B", "veneer A")
    result = made(laminations=sheets, glue=0.05, thickness=36)["blank"]
    rows = result.numbers["mixes"]
    assert rows
    for r in rows:
        names = r["laminations"]
        assert (names[0], names[-1]) == ("veneer", "veneer") or (names[0], names[-1]) == ("veneer A", "veneer A")
        assert not any(n.startswith("mdf") for n in names)  # 740 kg/m³ is other stuff than 680


def test_a_measured_blank_meets_or_misses_the_wish() -> None:
    """The wish is held against what is really there: 36.1 measured is near enough to 36."""
    sheets = ("birch12 A",) * 3
    found = made(laminations=sheets, glue=0.05, thickness=36, measured={"blank": 36.1})["blank"].findings
    assert [f.check for f in found] == []


def test_the_lamination_of_a_mix_is_cut_by_its_own_thickness() -> None:
    """12.6 from the front of 11.8 + 11.7: through the front sheet, 0.9 into the back one."""
    blank = made(cavity("a", depth=12.6), cut=("a",))["blank"]
    assert actions(blank) == [[("a", "pocket", 0.9, 0.9)], [("a", "through", 11.7, 11.7)]]
    assert one(blank.pieces[0], "POCKET").depth_mm == pytest.approx(0.9)
