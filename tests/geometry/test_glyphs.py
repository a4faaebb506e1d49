"""Glyphs of an open font as hard shapes (`glyphs.py`); all 300 with everything: `python -m
tests.bench.glyphs`."""

from __future__ import annotations

import pytest

from tests.geometry.glyphs import (
    CUTTER_MM,
    FINE_MM,
    OFFSETS_MM,
    TOLERANCE_MM,
    Outcome,
    as_region,
    check,
    every_glyph,
    glyphs,
)


@pytest.mark.parametrize("batch", range(4))
def test_offsets_of_glyphs(batch: int) -> None:
    """Every refit within the tolerance, both ways; nothing refused, lost or invalid; holes and islands as
    they are.

    Each glyph takes two of the four offsets and either opening or closing, so that each of these meets 20
    of the 40. B11's tolerance of areas is 1e-3 (GEOS tests/xmltester/BufferResultMatcher.h); here a tenth
    of it.
    """
    outcome = Outcome()
    for k, glyph in enumerate(glyphs(40)[batch::4]):
        pair = (OFFSETS_MM[k % 4], OFFSETS_MM[(k + 1 + k // 4 % 3) % 4])
        check(glyph, outcome, pair, (CUTTER_MM if k % 2 else -CUTTER_MM,), closely=1)
    assert (outcome.refused, outcome.lost, outcome.invalid) == ([], [], [])
    assert outcome.results >= 18  # of 20: a dot may vanish
    assert outcome.area_mm <= FINE_MM
    assert outcome.area_share <= 1e-4
    assert outcome.refit_mm <= TOLERANCE_MM
    assert outcome.from_source_mm <= TOLERANCE_MM + 2 * FINE_MM
    assert outcome.from_truth_mm <= TOLERANCE_MM + 2 * FINE_MM


def test_signs_have_the_pieces_that_everybody_knows() -> None:
    """Holes in each piece: eight is one piece with two holes, the sign of a registered mark a ring and an
    R in it."""
    holes = {
        name: sorted(len(p.holes) for p in as_region(every_glyph()[f"Vera {name}"]))
        for name in ("zero", "eight", "B", "i", "percent", "registered", "Aring")
    }
    assert holes == {
        "zero": [1],
        "eight": [2],
        "B": [2],
        "i": [0, 0],
        "percent": [0, 1, 1],
        "registered": [1, 1],
        "Aring": [2],
    }
