"""Moulds from a recipe and a drawing as read: open lines, filled ones, parts of an outline, the other hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.steps.mirror import mirrored
from pipeline.steps.values import Derived
from tests.intake.drawings import recipe, svg

ELL = '<path id="side" d="M20 10 V60 A30 30 0 0 0 50 90 H90" fill="none" stroke="black"/>'
STEPS = "steps: {form: {kind: mould, curve: side, plies: 4, ply: 0.5, width: 30, springback: none, %s}}"


def built(folder: Path, body: str, *lines: str) -> Derived:
    r = recipe(folder, svg(body), *lines)
    return derive(r, read_drawing(r))


def test_an_open_line_is_taken_without_a_word(tmp_path: Path) -> None:
    derived = built(tmp_path, ELL, STEPS % "grain: across")
    assert derived.drawing.findings == ()
    numbers = derived.results["form"].numbers
    assert numbers["turn_deg"] == pytest.approx(90.0)
    # Legs of 50 and 40, and a quarter of 30 whose inner face is drawn: its middle lies 1 mm further out.
    assert numbers["developed_mm"] == pytest.approx(90.0 + 15.5 * 3.141592653589793, abs=1e-6)


def test_lines_drawn_one_by_one_are_one_line(tmp_path: Path) -> None:
    body = (
        '<g id="side" fill="none" stroke="black"><path d="M20 10 V60"/><path d="M90 90 H50"/>'
        '<path d="M20 60 A30 30 0 0 0 50 90"/></g>'
    )
    numbers = built(tmp_path, body, STEPS % "grain: across").results["form"].numbers
    assert numbers["developed_mm"] == pytest.approx(90.0 + 15.5 * 3.141592653589793, abs=1e-6)


def test_a_filled_line_is_none(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="closed or filled"):
        built(tmp_path, ELL.replace('fill="none" ', ""), STEPS % "grain: across")


def test_two_lines_are_not_one(tmp_path: Path) -> None:
    body = f'<g id="side" fill="none" stroke="black">{ELL.replace("side", "one")}<path d="M20 95 H40"/></g>'
    with pytest.raises(Refused, match="2 separate lines"):
        built(tmp_path, body, STEPS % "grain: across")


def test_an_outline_that_is_open_is_still_refused(tmp_path: Path) -> None:
    """That a mould takes the line doesn't hide from an outline step that it encloses nothing."""
    with pytest.raises(Refused, match="side"):
        built(tmp_path, ELL, "steps: {form: {kind: mould, curve: side, plies: 4, ply: 0.5, width: 30}, "
                             "plate: {kind: outline, drawn: side}}")  # fmt: skip


def test_part_of_an_outline_between_marks(tmp_path: Path) -> None:
    """A disc of radius 30: anticlockwise from three to twelve o'clock is a quarter."""
    body = (
        '<circle id="body" cx="50" cy="50" r="30" fill="none" stroke="black"/>'
        '<path id="a-mark" d="M84 50h4M86 48v4" fill="none" stroke="black"/>'
        '<path id="b-mark" d="M48 14h4M50 12v4" fill="none" stroke="black"/>'
    )
    steps = (
        "steps: {body: {kind: outline, drawn: body}, form: {kind: mould, face: middle, plies: 4, ply: 0.5, "
        "curve: {of: body, from: a-mark, to: b-mark}, width: 30, grain: across}}"
    )
    derived = built(tmp_path, body, steps)
    numbers = derived.results["form"].numbers
    assert numbers["turn_deg"] == pytest.approx(90.0)
    assert numbers["developed_mm"] == pytest.approx(15.0 * 3.141592653589793)
    assert numbers["form_turn_deg"] == pytest.approx(96.0)  # 90 · 16/15


def test_the_other_hand(tmp_path: Path) -> None:
    """A mirrored design has mirrored ribs, with their holes where the mirrored numbers say."""
    made = "sheet: mdf, bolts: {}, clamps: {diameter: 10, from_face: 10, every: 30}, grain: across"
    derived = built(tmp_path, ELL, "sheets: {mdf: {measured: {A: 18}}}", STEPS % made)
    other = mirrored(replace(derived, recipe=replace(derived.recipe, mirrored=True)))
    for one, two in zip(derived.pieces, other.pieces, strict=True):
        x0, y0, x1, y1 = one.region.bounds
        assert two.region.bounds == pytest.approx((x0, -y1, x1, -y0))
    for row, back in zip(*(d.results["form"].numbers["halves"] for d in (derived, other)), strict=True):
        for key in ("bolts_at_mm", "clamps_at_mm"):
            assert [v for x, y in row[key] for v in (x, -y)] == pytest.approx([v for p in back[key] for v in p])
