"""The strap against trade.md 10.2's numbers, against sums of forces and moments, and against energies."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pipeline.workshop.strap import (
    Point,
    Slung,
    comes_to_rest,
    frictionless,
    grip,
    held_between,
    pinned_tilt,
    quick_index,
    turned,
)

TRADE = Slung(front=(390.0, 120.0), tail=(-90.0, 0.0), centre=(250.0, 5.0), length_mm=1200.0)
"""trade.md 10.2: A(390, 120), B(−90, 0), G(250, 5), L 1200."""
TILTS = [-55.0, -20.0, -7.5, 0.0, 10.0, 30.0]


# -- the trade's oracles -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("tilt", "needed"), [(-20, 0.264), (-10, 0.251), (0, 0.242), (10, 0.244), (20, 0.265), (30, 0.322)]
)
def test_the_friction_that_each_tilt_needs(tilt: float, needed: float) -> None:
    """trade.md 10.2, oracle of the two-string model."""
    assert round(grip(TRADE, tilt).friction, 3) == needed


def test_with_a_quarter_it_holds_from_about_minus_9_to_13() -> None:
    """trade.md 10.2: "with μ 0.25 it holds from about −9 to +13 and slides away outside that"; its own table,
    0.244 at 10° and 0.265 at 20°, puts the upper end nearer 14. Far down, where both strings run nearly along
    the body, it catches again."""
    (_, caught), (low, high) = held_between(TRADE, 0.25)
    assert low == pytest.approx(-9.0, abs=0.5)
    assert high == pytest.approx(13.0, abs=1.5)
    assert caught < -50.0
    for edge in (caught, low, high):
        assert grip(TRADE, edge).friction == pytest.approx(0.25, abs=1e-5)


def test_quick_index() -> None:
    """trade.md 10.2: q 0.708; 0.673 with the horn 25 longer; 0.738 after taking 0.25 kg at x 40 (G_x 264.4)."""
    assert round(quick_index(TRADE), 3) == 0.708
    assert round(quick_index(replace(TRADE, front=(415.0, 120.0))), 3) == 0.673
    assert round(quick_index(replace(TRADE, centre=(264.4, 5.0))), 3) == 0.738


@pytest.mark.parametrize(
    ("lengths", "tilt"), [((540.0, 660.0), -8.23), ((500.0, 700.0), 1.34), ((480.0, 720.0), 6.43)]
)
def test_a_strap_that_does_not_slide(lengths: tuple[float, float], tilt: float) -> None:
    """trade.md 10.2: hanging angle of the pinned strap, neck up positive."""
    assert round(pinned_tilt(TRADE, lengths)[0], 2) == tilt


# -- equilibrium, by sums ------------------------------------------------------------------------------
def pulls(slung: Slung, tilt: float, p: Point) -> tuple[float, float, float]:
    """(T_A, T_B, residue) per unit of weight that balance the thing under strings from P to its buttons: three
    equations (two forces, the moment about G in hundreds of mm) for two unknowns, by least squares."""
    a, b = (np.array(turned(v, slung.centre, tilt)) for v in (slung.front, slung.tail))
    columns = []
    for end in (a, b):
        u = (np.array(p) - end) / np.hypot(*(np.array(p) - end))
        columns.append([u[0], u[1], (end[0] * u[1] - end[1] * u[0]) / 100.0])
    matrix, load = np.array(columns).T, np.array([0.0, 1.0, 0.0])
    tension, *_ = np.linalg.lstsq(matrix, load, rcond=None)
    return float(tension[0]), float(tension[1]), float(np.abs(matrix @ tension - load).max())


@pytest.mark.parametrize("tilt", TILTS)
def test_forces_and_moments_balance(tilt: float) -> None:
    """The shoulder point found closes all three equations, the strap has its length, and the ratio of the pulls,
    by least squares, is what the belt over the angle between the strings must hold (capstan)."""
    found = grip(TRADE, tilt)
    assert found.shoulder is not None
    assert found.lengths_mm is not None
    assert sum(found.lengths_mm) == pytest.approx(1200.0, abs=1e-9)
    one, two, residue = pulls(TRADE, tilt, found.shoulder)
    assert residue < 1e-12
    to_a, to_b = (
        np.array(turned(v, TRADE.centre, tilt)) - np.array(found.shoulder) for v in (TRADE.front, TRADE.tail)
    )
    between = math.acos(float(to_a @ to_b) / float(np.hypot(*to_a) * np.hypot(*to_b)))
    assert found.friction == pytest.approx(abs(math.log(one / two)) / (math.pi - between), rel=1e-9)
    assert found.sinks == (1 if one > two else -1)


def test_a_point_beside_the_plumb_line_does_not_balance() -> None:
    """The sums above can fail: 5 mm to the side they don't close."""
    found = grip(TRADE, 0.0)
    assert found.shoulder is not None
    assert pulls(TRADE, 0.0, (found.shoulder[0] + 5.0, found.shoulder[1]))[2] > 1e-3


@pytest.mark.parametrize("lengths", [(540.0, 660.0), (500.0, 700.0), (480.0, 720.0)])
def test_pinned_it_hangs_as_low_as_it_can(lengths: tuple[float, float]) -> None:
    """Of all tilts at which both strings are taut from one point, the least height of G is the one found."""

    def height(tilt: float) -> float:
        """Height of G over the point: the thing hung so that A and B lie at their lengths from (0, 0)."""
        a, b = (np.array(turned(v, TRADE.centre, tilt)) for v in (TRADE.front, TRADE.tail))
        d = float(np.hypot(*(b - a)))
        x = (lengths[0] ** 2 - lengths[1] ** 2 + d * d) / (2 * d)
        u = (b - a) / d
        off = math.sqrt(lengths[0] ** 2 - x * x)
        point = max((a + x * u + s * off * np.array([-u[1], u[0]]) for s in (1, -1)), key=lambda p: float(p[1]))
        return -float(point[1])

    tilts = np.arange(-30.0, 30.0, 0.01)
    lowest = float(tilts[int(np.argmin([height(float(t)) for t in tilts]))])
    assert pinned_tilt(TRADE, lengths)[0] == pytest.approx(lowest, abs=0.011)


def test_without_friction_it_turns_where_the_energy_turns() -> None:
    """trade.md 10.2: on a shoulder without friction it is stable only with G deeper than c²/b below the line AB.
    The energy of a tilt φ is −(how far up the ellipse about A and B reaches, seen from G)."""
    level = Slung(front=(200.0, 0.0), tail=(-200.0, 0.0), centre=(0.0, 0.0), length_mm=1000.0)
    wanted = frictionless(level)[1]
    assert wanted == pytest.approx(200**2 / math.sqrt(500**2 - 200**2), rel=1e-12)

    def energy(depth: float, tilt: float) -> float:
        t = np.linspace(0.0, 2 * math.pi, 720_001)
        x, y = 500.0 * np.cos(t), math.sqrt(500**2 - 200**2) * np.sin(t)
        a = math.radians(tilt)
        return -float((x * math.sin(a) + (y + depth) * math.cos(a)).max())

    for depth, stable in ((wanted + 2.0, True), (wanted - 2.0, False)):
        rises = energy(depth, 1.0) - energy(depth, 0.0)
        assert (rises > 0) == stable
        assert frictionless(replace(level, centre=(0.0, -depth)))[0] == pytest.approx(depth)


# -- what it does --------------------------------------------------------------------------------------
def test_it_slides_to_where_friction_holds_and_no_farther() -> None:
    """From 25° up the neck sinks (T_A > T_B all over) into the interval that a quarter holds, and stays at its
    upper end; from 20° down it sinks away from it, to where it catches again, and on a slippery shoulder right
    down."""
    (_, caught), (_, high) = held_between(TRADE, 0.25)
    assert comes_to_rest(TRADE, 0.25, 25.0) == pytest.approx(high, abs=0.002)
    assert comes_to_rest(TRADE, 0.25) == 0.0
    assert comes_to_rest(TRADE, 0.25, -20.0) == pytest.approx(caught, abs=0.002)
    assert comes_to_rest(TRADE, 0.2) is None


def test_turned_end_for_end_it_rises_as_it_sank() -> None:
    """Mirrored left to right the buttons change places and the tilts their signs."""
    other = Slung(front=(90.0, 0.0), tail=(-390.0, 120.0), centre=(-250.0, 5.0), length_mm=1200.0)
    assert quick_index(other) == pytest.approx(1 - quick_index(TRADE))
    for tilt in TILTS:
        a, b = grip(TRADE, tilt), grip(other, -tilt)
        assert (a.friction, a.sinks) == (pytest.approx(b.friction), -b.sinks)
    assert comes_to_rest(other, 0.25, -25.0) == pytest.approx(
        -(comes_to_rest(TRADE, 0.25, 25.0) or 0.0), abs=0.002
    )


def test_beyond_the_front_button_nothing_holds() -> None:
    """With the buttons level an index of 1 or more leaves both strings on one side of the plumb line."""
    beyond = Slung(front=(200.0, 0.0), tail=(-200.0, 0.0), centre=(210.0, -5.0), length_mm=1000.0)
    assert quick_index(beyond) == pytest.approx(410 / 400)
    found = grip(beyond, 0.0)
    assert (found.friction, found.sinks, found.shoulder) == (math.inf, 1, None)


def test_a_strap_too_short_is_refused() -> None:
    short = replace(TRADE, length_mm=480.0)
    assert not short.reaches
    for ask in (lambda: grip(short, 0.0), lambda: frictionless(short)):
        with pytest.raises(ValueError, match="shorter"):
            ask()
    for lengths in ((100.0, 200.0), (900.0, 100.0)):
        with pytest.raises(ValueError, match="can't meet"):
            pinned_tilt(TRADE, lengths)
    with pytest.raises(ValueError, match="plumb above each other"):
        quick_index(replace(TRADE, front=(-90.0, 120.0)))
