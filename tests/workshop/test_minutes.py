"""Machine minutes: the formulas of the trade notes (9.2), put in by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pipeline.core.shop import Cutter, Rates, Shop
from pipeline.geometry.contour import line_chain
from pipeline.geometry.region import Region, region, solid
from pipeline.geometry.shapes import circle, disc, rectangle
from pipeline.steps.values import Label, Op, SetUp
from pipeline.workshop.minutes import (
    op_run,
    path_minutes,
    run_lengths,
    set_up_minutes,
    set_up_runs,
    straight_minutes,
)

BEAM = Shop(name="laser", process="laser", rates=Rates(feed=1200.0, pierce=0.01, engrave=6000.0, rapid=12000.0))
"""20 mm/s through, 100 mm/s on the surface, 200 mm/s from cut to cut, 0.6 s a pierce."""


def op(work: str, shape: Region, **more: object) -> Op:
    return Op(work=work, face="front", contours=shape.contours, **more)  # type: ignore[arg-type]  # short calls


# -- acceleration ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("length", "seconds"),
    [
        (100.0, 100 / 20 + 20 / 1000),  # ℓ/v + v/a, v = 20 mm/s, a = 1000 mm/s²
        (0.4, 0.4 / 20 + 20 / 1000),  # just long enough: ℓ = v²/a
        (0.1, 2 * math.sqrt(0.1 / 1000)),  # never reaches its speed: 2 √(ℓ/a)
    ],
)
def test_a_straight_run_starts_and_stops(length: float, seconds: float):
    assert straight_minutes(length, 1200.0, 1000.0) * 60 == pytest.approx(seconds, rel=1e-12)


def test_both_formulas_meet_where_the_speed_is_just_reached():
    """At ℓ = v²/a both give 2 v/a."""
    below = straight_minutes(0.4 - 1e-9, 1200.0, 1000.0)
    assert below * 60 == pytest.approx(2 * 20 / 1000, rel=1e-6)


def test_without_acceleration_a_run_is_length_over_feed():
    assert straight_minutes(600.0, 1200.0, 0.0) == 0.5


def test_a_machine_stops_at_corners_alone():
    """A rectangle has four runs; with round corners and as a circle it is run through; an open line ends."""
    assert run_lengths(rectangle(100.0, 50.0)).tolist() == pytest.approx([100, 50, 100, 50])
    rounded = 2 * (90 + 40) + 2 * math.pi * 5
    assert run_lengths(rectangle(100.0, 50.0, 5.0)).tolist() == pytest.approx([rounded])
    assert run_lengths(circle(0, 0, 10)).tolist() == pytest.approx([2 * math.pi * 10])
    bent = line_chain([(0, 0), (1, 0), (2, 0), (2, 5)], closed=False)
    assert run_lengths(bent).tolist() == pytest.approx([2, 5])
    half_way = line_chain([(1, 0), (2, 0), (2, 2), (0, 2), (0, 0)])  # begins in the middle of a side
    assert sorted(run_lengths(half_way).tolist()) == pytest.approx([2, 2, 2, 2])


def test_a_square_by_hand():
    """Four sides of 100 at 20 mm/s and 1000 mm/s²: 4 × 5.02 s."""
    assert path_minutes([rectangle(100.0, 100.0)], 1200.0, 1000.0) * 60 == pytest.approx(4 * 5.02, rel=1e-9)


# -- laser -----------------------------------------------------------------------------------------
def test_the_laser_formula():
    """Σ ℓ/v + pierces + hops/v_r: a square of 100 with a hole of radius 10, both cut."""
    holed = region([*solid(rectangle(100.0, 100.0))])
    cuts = (op("CUT_INSIDE", disc(0, 0, 10.0)), op("CUT_OUTSIDE", holed), op("SCORE", disc(0, 0, 30.0)))
    seconds = [2 * math.pi * 10 / 20 + 0.6, 400 / 20 + 0.6, 2 * math.pi * 30 / 100]
    runs = set_up_runs(SetUp(face="front", ops=cuts), BEAM, 3.0)
    assert [r.minutes * 60 for r in runs] == pytest.approx(seconds, rel=1e-9)
    assert [r.pierces for r in runs] == [1, 1, 0]
    assert [r.path_mm for r in runs] == pytest.approx([62.8318531, 400, 188.495559], rel=1e-8)


def test_the_laser_with_acceleration():
    """The square again: each side takes 20/1000 s more; the circle once."""
    slow = replace(BEAM, rates=replace(BEAM.rates, acceleration=1000.0))
    run = op_run(op("CUT_OUTSIDE", solid(rectangle(100.0, 100.0))), slow, 3.0)
    assert run is not None
    assert run.minutes * 60 == pytest.approx(4 * (5 + 0.02) + 0.6, rel=1e-9)
    round_ = op_run(op("CUT_OUTSIDE", disc(0, 0, 10.0)), slow, 3.0)
    assert round_ is not None
    assert round_.minutes * 60 == pytest.approx(2 * math.pi * 10 / 20 + 0.02 + 0.6, rel=1e-9)


def test_an_area_is_engraved_line_by_line():
    """A/(pitch · v): 40 × 20 in lines 0.1 apart is 8 m, 80 s at 100 mm/s; nothing is pierced."""
    run = op_run(op("POCKET", solid(rectangle(40.0, 20.0)), depth_mm=0.5), BEAM, 3.0)
    assert run is not None
    assert (run.path_mm, run.pierces) == (pytest.approx(8000.0, rel=1e-6), 0)
    assert run.minutes * 60 == pytest.approx(80.0, rel=1e-6)


def test_hops_are_from_cut_to_cut():
    """Five holes 50 apart: 200 mm at 200 mm/s, 1 s."""
    row = region([p for k in range(5) for p in disc(50.0 * k, 0, 2.0)])
    run = op_run(op("CUT_INSIDE", row), BEAM, 3.0)
    assert run is not None
    assert run.between_mm == pytest.approx(200.0)
    assert run.minutes * 60 == pytest.approx(5 * (2 * math.pi * 2 / 20 + 0.6) + 1.0, rel=1e-9)


def test_engraved_letters_take_time():
    """Six letters 5 high count 3 × 5 each: 90 mm at 100 mm/s."""
    label = Label(text="WREN 12", at=(0, 0), height_mm=5.0, engrave=True)
    words = SetUp(face="front", ops=(), labels=(label, replace(label, engrave=False)))
    assert set_up_minutes(words, BEAM, 3.0) * 60 == pytest.approx(0.9, rel=1e-9)


# -- feeds -----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("thickness", "feed"), [(2.0, 1500), (3.0, 1500), (4.5, 1080), (6.0, 660), (9.0, 660), (3.1, 1472)]
)
def test_feeds_by_thickness(thickness: float, feed: float):
    """Evenly between 3 and 6, the ends held: half way between 1500 and 660 is 1080."""
    assert Rates(feeds={"6": 660.0, "3": 1500.0}).feed_at(thickness) == pytest.approx(feed)


def test_one_feed_for_all():
    assert Rates(feed=1800.0).feed_at(12.0) == 1800.0


@pytest.mark.parametrize("key", ["thin", "-3", "1e3", "nan", ""])
def test_a_feed_needs_a_thickness(key: str):
    with pytest.raises(ValueError, match="no thickness"):
        Rates(feeds={key: 1000.0})


def test_loading_takes_half_a_set_up_unless_said():
    assert (Rates(set_up=24.0).load_minutes, Rates(load=2.0).load_minutes) == (12.0, 2.0)


# -- router ----------------------------------------------------------------------------------------
def test_a_groove_is_run_once_a_pass():
    """A line of 250, 6 deep, 4 a pass: twice along it, and down 6 mm at 0.3 of the feed."""
    shop = Shop(cutters=(Cutter(DC=6.0, APMX=20, LU=25, DMM=6),), rates=Rates(feed=2500.0, pass_depth=4.0))
    line = Op(
        work="GROOVE", face="front", contours=(line_chain([(0, 0), (250, 0)], closed=False),), depth_mm=6.0,
        diameter_mm=6.0,
    )  # fmt: skip
    run = op_run(line, shop, 12.0)
    assert run is not None
    assert (run.path_mm, run.cutter) == (500.0, "cutter 6")
    assert run.minutes == pytest.approx(500 / 2500 + 6 / 750, rel=1e-12)
