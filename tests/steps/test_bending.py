"""Springback and least radii against the tables they come from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.steps.bending import INCH, Grain, Wet, kept, least_radius, thickest

FAA = [
    # FAA AC 43.13-1B, table of minimum recommended bend radii for aircraft plywood (outside_checks 3.3, read in a
    # public copy): thickness in; 10 % moisture 90°, 0-45°; soaked 90°, 0-45°.
    (0.035, 2.0, 1.1, 0.5, 0.1), (0.070, 5.2, 3.2, 1.5, 0.4), (0.100, 8.6, 5.2, 2.6, 0.8),
    (0.125, 12.0, 7.1, 3.8, 1.2), (0.155, 16.0, 10.0, 5.3, 1.8), (0.185, 20.0, 13.0, 7.1, 2.6),
    (0.160, 17.0, 11.0, 6.0, 2.0), (0.190, 21.0, 14.0, 7.0, 3.0), (0.225, 27.0, 17.0, 10.0, 4.0),
    (0.250, 31.0, 20.0, 12.0, 5.0), (0.315, 43.0, 28.0, 16.0, 7.0), (0.375, 54.0, 36.0, 21.0, 10.0),
]  # fmt: skip
TRADE = [
    # trade.md 6.7, the same table rounded to mm: thickness, "at 90°", "at 0 or 45°", bent cold.
    (0.89, 51, 28), (1.78, 132, 81), (2.54, 218, 132), (3.18, 305, 180), (3.94, 406, 254), (4.83, 533, 356),
    (6.35, 787, 508), (9.53, 1372, 914),
]  # fmt: skip


@pytest.mark.parametrize(("n", "ratio"), [(3, 0.8889), (4, 0.9375), (7, 0.9796), (8, 0.9844), (10, 0.99)])
def test_the_form_s_radius(n: int, ratio: float) -> None:
    """trade.md 6.7 Oracle (derived; the boatbuilder's y = x/n² [P]): R_form = R_want (1 − 1/n²)."""
    assert round(kept(n), 4) == ratio


@pytest.mark.parametrize(
    ("n", "back", "overbend"),
    [
        (2, 25, 33.3), (3, 11.11, 12.5), (4, 6.25, 6.667), (5, 4, 4.167), (6, 2.78, 2.857), (8, 1.5625, 1.587),
        (10, 1, 1.010),
    ],
)  # fmt: skip
def test_springback_in_percent(n: int, back: float, overbend: float) -> None:
    """outside_checks S1 (from beam theory): 1/n² of the form's curvature is lost, 1/(n² − 1) more is bent."""
    digits = len(f"{back:g}".partition(".")[2])
    assert round(100 * (1 - kept(n)), digits) == back
    digits = len(f"{overbend}".partition(".")[2])
    assert round(100 * (1 / kept(n) - 1), digits) == overbend


def test_one_ply_keeps_nothing() -> None:
    with pytest.raises(ValueError, match="single ply"):
        kept(1)


@pytest.mark.parametrize("row", FAA, ids=lambda r: f"{r[0]:.3f} in")
def test_the_printed_rows(row: tuple[float, ...]) -> None:
    t = row[0] * INCH
    ways: list[tuple[Grain, Wet]] = [("along", "cold"), ("across", "cold"), ("along", "soaked")]
    ways.append(("diagonal", "soaked"))
    for (grain, wet), inches in zip(ways, row[1:], strict=True):
        assert least_radius(t, grain, wet) == pytest.approx(inches * 25.4, abs=1e-9)


@pytest.mark.parametrize(("t", "stiff", "easy"), TRADE)
def test_the_trade_s_millimetres(t: float, stiff: int, easy: int) -> None:
    """Within the rounding of thickness (0.005 mm at up to 180 mm of radius per mm) and radius (0.5)."""
    assert least_radius(t, "along", "cold") == pytest.approx(stiff, abs=1.4)
    assert least_radius(t, "across", "cold") == pytest.approx(easy, abs=1.4)


def test_soaked_in_shares_of_dry() -> None:
    """trade.md 6.7: 0.25-0.4 of the first figure, 0.1-0.3 of the second (as printed: 0.09 at the thinnest)."""
    for t, dry90, dry45, wet90, wet45 in FAA:
        assert 0.245 <= wet90 / dry90 <= 0.4, t
        assert 0.09 <= wet45 / dry45 <= 0.3, t


def test_between_two_rows_it_is_straight() -> None:
    """Half-way from 0.070 (5.2 in) to 0.100 (8.6 in): 0.085 in, 6.9 in."""
    assert least_radius(0.085 * INCH, "along", "cold") == pytest.approx(6.9 * INCH)


def test_outside_the_table() -> None:
    """Thicker: nothing is said ("no constant ratio holds for all thicknesses"). Thinner: the ratio of the thinnest
    row, R/t = 57, which is larger than what the falling ratios (144, 74, 57) lead to."""
    assert least_radius(9.6, "along", "cold") is None
    assert least_radius(0.5, "along", "cold") == pytest.approx(0.5 * 2.0 / 0.035)


@given(st.floats(5.0, 1300.0), st.sampled_from(["along", "across"]))
def test_the_thickest_ply_is_the_inverse(radius: float, grain: Grain) -> None:
    assert least_radius(thickest(radius, grain, "cold"), grain, "cold") == pytest.approx(
        min(radius, 1372), rel=0.335
    )
    if radius < 36.0 * INCH:
        assert least_radius(thickest(radius, grain, "cold"), grain, "cold") == pytest.approx(radius)
