"""Before and after: the trade's pairs, and each lever against a thing put together anew."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pipeline.workshop.levers import HORN_MM, Part, Setting, State, best, levers, moved, state, strap_set
from pipeline.workshop.mass import composite

TRADE = Setting(
    front=(390.0, 120.0), tail=(-90.0, 0.0), length_mm=1200.0, seat=(90.0, -80.0), thigh_mm=60.0, nut=(864.0, 0.0)
)
"""trade.md 10.2 and 10.3: the buttons, a thigh that ends at 150, the nut at 864."""
MASS, CENTRE = 3900.0, (250.0, 5.0)
PARTS = (
    Part(name="neck", mass_g=600.0, at=(520.0, 0.0)),
    Part(name="tuners", mass_g=180.0, at=(900.0, 0.0)),
    Part(name="bridge", mass_g=220.0, at=(0.0, 0.0)),
    Part(name="pickup", mass_g=90.0, at=(70.0, 0.0)),
)


def test_taking_a_chamber_out() -> None:
    """trade.md 10.1: M 3.9 kg, G_x 250, 0.25 kg out at x 40 → G_x 264.4: toward the neck."""
    mass, (x, _) = moved(MASS, CENTRE, -250.0, (40.0, 5.0))
    assert mass == 3650.0
    assert round(x, 1) == 264.4
    rest = composite([(3900.0, (250.0, 5.0, 0.0)), (-250.0, (40.0, 5.0, 0.0))])
    assert x == pytest.approx(rest[0], rel=1e-12)


def test_lighter_tuners() -> None:
    """trade.md 10.2: 100 g off at x 900: ΔG = −0.1·650/3.8 = −17.1."""
    assert round(moved(MASS, CENTRE, -100.0, (900.0, 0.0))[1][0] - 250.0, 1) == -17.1


def test_nothing_left_has_no_centre() -> None:
    with pytest.raises(ValueError, match="no centre"):
        moved(100.0, CENTRE, -100.0, (0.0, 0.0))


def now() -> tuple[Setting, State]:
    setting = strap_set(TRADE, CENTRE)
    return setting, state(setting, MASS, CENTRE)


def test_the_state_is_that_of_the_trade() -> None:
    """trade.md 10.2, 10.3: q 0.708, friction 0.242 at level, 5.36 N in the hand for W 38.3 (3.9 kg is 38.25)."""
    setting, s = now()
    assert s.index is not None
    assert s.hang is not None
    assert s.seat is not None
    assert s.seat.hand_n is not None
    assert (round(s.index, 3), round(s.hang.friction, 3)) == (0.708, 0.242)
    assert s.seat.hand_n == pytest.approx(5.36 * 3.9 * 9.80665 / 38.3, abs=0.005)
    assert s.hang.rest_deg == 0.0
    assert setting.lengths_mm is not None
    assert sum(setting.lengths_mm) == pytest.approx(1200.0)
    assert s.hang.pinned_deg == pytest.approx(0.0, abs=1e-9)


def test_lengths_that_the_maker_gave_are_kept() -> None:
    """trade.md 10.2: 500/700 → +1.34°; the picture shows that and not where friction would let it rest."""
    given = replace(TRADE, lengths_mm=(500.0, 700.0), given=True, friction=0.9)
    assert strap_set(given, CENTRE) is given
    s = state(given, MASS, CENTRE)
    assert s.hang is not None
    assert s.hang.pinned_deg == s.hang.tilt_deg
    assert round(s.hang.tilt_deg or 0.0, 2) == 1.34
    x, y = s.hang.shoulder or (0.0, 0.0)
    assert (math.dist((x, y), (390, 120)), math.dist((x, y), (-90, 0))) == pytest.approx((500.0, 700.0))


def test_at_rest_the_shoulder_of_the_picture_stands_plumb_over_the_centre() -> None:
    """Turned back into the thing's own frame it keeps the strap's length and lies along the plumb line."""
    for friction, tilt in ((0.25, 0.0), (0.2432, -1.9)):
        setting = replace(TRADE, friction=friction)
        s = state(strap_set(setting, CENTRE), MASS, CENTRE)
        assert s.hang is not None
        assert s.hang.tilt_deg is not None
        assert s.hang.shoulder is not None
        x, y = s.hang.shoulder
        assert math.dist((x, y), (390, 120)) + math.dist((x, y), (-90, 0)) == pytest.approx(1200.0)
        plumb = math.degrees(math.atan2(x - 250.0, y - 5.0))
        assert plumb == pytest.approx(s.hang.tilt_deg, abs=1e-9)
        assert tilt == pytest.approx(s.hang.tilt_deg, abs=2.0)


def test_every_lever_is_the_thing_put_together_anew() -> None:
    """Each after-state against the sum of moments of the changed thing; the horn against q with its new button."""
    setting, s = now()
    wood = (Part(name="the nut side", mass_g=0.0, at=(330.0, 40.0)),)
    hollows = (Part(name="the hollows of blank", mass_g=250.0, at=(40.0, 0.0)),)
    found = {v.name: v.after for v in levers(setting, s, PARTS, wood, hollows)}
    assert list(found) == [
        "front button 25 mm nearer the nut (a longer horn)",
        "tuners lighter by 50 g",
        "neck lighter by 50 g",
        "bridge heavier by 50 g",
        "50 g of wood out of the nut side (at x 330)",
        "the hollows of blank left solid",
    ]
    horn = found["front button 25 mm nearer the nut (a longer horn)"]
    assert round(horn.index or 0.0, 3) == 0.673  # trade.md 10.2
    assert (horn.mass_g, horn.centre, horn.front) == (MASS, CENTRE, (390.0 + HORN_MM, 120.0))
    for name, more, at in (
        ("tuners lighter by 50 g", -50.0, (900.0, 0.0)),
        ("neck lighter by 50 g", -50.0, (520.0, 0.0)),
        ("bridge heavier by 50 g", 50.0, (0.0, 0.0)),
        ("50 g of wood out of the nut side (at x 330)", -50.0, (330.0, 40.0)),
        ("the hollows of blank left solid", 250.0, (40.0, 0.0)),
    ):
        x, y, _ = composite([(MASS, (*CENTRE, 0.0)), (more, (*at, 0.0))])
        after = found[name]
        assert after.centre == (pytest.approx(x), pytest.approx(y))
        assert after.index == pytest.approx((x + 90) / 480)
        assert after.seat is not None
        assert after.seat.hand_n == pytest.approx((MASS + more) * 9.80665e-3 * (x - 150) / (864 - 150))
        assert (x < 250.0) == ((after.index or 0.0) < (s.index or 0.0))


def test_a_part_is_never_made_lighter_by_more_than_half() -> None:
    setting, s = now()
    small = (Part(name="keys", mass_g=64.0, at=(900.0, 0.0)),)
    assert [v.name for v in levers(setting, s, small, (), ())][1] == "keys lighter by 32 g"


def test_the_best_is_the_one_nearest_a_good_share() -> None:
    """The horn brings 0.708 to 0.673; every mass of 50 g less (tuners: 8.4 mm of 480, 0.690)."""
    setting, s = now()
    tried = levers(setting, s, PARTS, (), ())
    chosen = best(s, tried)
    assert chosen is not None
    assert chosen.name.startswith("front button")
    good = replace(s, index=0.5, seat=None)
    assert best(good, tried) is None
    assert best(s, ()) is None


def test_without_a_strap_the_hand_decides() -> None:
    bare = replace(TRADE, front=None, tail=None)
    s = state(strap_set(bare, CENTRE), MASS, CENTRE)
    assert (s.index, s.hang) == (None, None)
    chosen = best(s, levers(bare, s, PARTS, (), ()))
    assert chosen is not None
    assert chosen.name == "tuners lighter by 50 g"
