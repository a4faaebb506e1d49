"""Drawings that would take for ever are refused in a sentence, soon."""

from __future__ import annotations

import random
import time

from tests.intake.drawings import taken
from tests.intake.outlines import LINE


def test_a_scribble_is_refused_soon() -> None:
    """A line of 3,000 points that crosses itself thousands of times has no loops that could be cut off."""
    rng = random.Random(7)
    points = " L ".join(f"{rng.uniform(0, 100):.4f},{rng.uniform(0, 100):.4f}" for _ in range(3000))
    begun = time.process_time()
    found = taken(f'<path id="a" {LINE} d="M {points} Z"/>')
    assert found.region is None
    assert "cross each other too often" in (found.problem or "")
    assert time.process_time() - begun < 10.0


def test_a_crowd_of_ends_is_a_fork() -> None:
    """Two thousand lines that end in one point join up to nothing."""
    rays = " ".join(f"M 50,50 L {k % 97},{k // 97}" for k in range(2000))
    begun = time.process_time()
    found = taken(f'<path id="a" {LINE} d="{rays}"/>')
    assert found.region is None
    assert time.process_time() - begun < 10.0


def test_a_hatching_is_refused_by_its_number() -> None:
    lines = " ".join(f"M {k % 300},{k // 300} h 0.5" for k in range(10_001))
    found = taken(f'<path id="a" {LINE} d="{lines}"/>')
    assert found.region is None
    assert "10,001 separate lines" in (found.problem or "")
