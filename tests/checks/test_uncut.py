"""Plan rules that stand in no file: the commonest thing a beginner forgets is `cut:`."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.checks import findings
from pipeline.core.findings import Finding
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
<path id="tray" fill="none" stroke="#000" d="M20 20H180V80H20Z"/></svg>"""
SHEET = "sheets: {ply: {measured: {A: 12, B: 12}, nominal: 12}}"
WELL = "{kind: cavity, opening: {rectangle: [40, 20], corner: 6}, centre: [%s, 50], face: front, depth: 4}"


def found(folder: Path, steps: str) -> list[Finding]:
    (folder / "t.svg").write_text(DRAWING, encoding="utf-8")
    (folder / "t.yaml").write_text(f"design: t\ndrawing: t.svg\n{SHEET}\nsteps:\n{steps}", encoding="utf-8")
    recipe = read_recipe(folder / "t.yaml")
    return [f for f in findings(derive(recipe, read_drawing(recipe))) if f.check in ("not-cut", "cut-misses")]


def test_a_cavity_that_nothing_cuts_is_asked_about(tmp_path: Path) -> None:
    """Without `cut:` the cavity stands in no file, and the maker is told which line would mend it."""
    (f,) = found(tmp_path, f"  tray: {{kind: outline, drawn: tray, sheet: ply A}}\n  well: {WELL % 100}\n")
    assert (f.check, f.severity, f.step) == ("not-cut", "ask", "well")
    assert f.at_mm == pytest.approx((100, 50), abs=20)
    assert f.place is not None
    assert f.place.line == 6


def test_a_cavity_that_is_cut_says_nothing(tmp_path: Path) -> None:
    tray = "  tray: {kind: outline, drawn: tray, sheet: ply A, cut: [well]}\n"
    assert found(tmp_path, f"{tray}  well: {WELL % 100}\n") == []


def test_a_template_is_a_way_to_cut_it(tmp_path: Path) -> None:
    fields = "of: well, use: opening, follow: {bush: 12, cutter: 6}, sheet: ply A, margin: 20"
    guide = f"  guide: {{kind: template, {fields}}}\n"
    assert found(tmp_path, f"  well: {WELL % 100}\n{guide}") == []


@pytest.mark.parametrize("field", ["cut", "cut_blank"])
def test_a_cavity_beside_the_stack_holds_the_packet(tmp_path: Path, field: str) -> None:
    """The well's left wall stands at x 280, the tray ends at 180: 100 mm apart."""
    stack = f"  blank: {{kind: stack, outline: tray, laminations: [ply A, ply B], {field}: [well]}}\n"
    (f,) = found(tmp_path, f"  tray: {{kind: outline, drawn: tray}}\n  well: {WELL % 300}\n{stack}")
    assert (f.severity, f.step, f.piece) == ("stop", "well", "blank")
    assert f.measured == pytest.approx(100.0, abs=1e-3)


def test_a_cavity_beside_a_panel_holds_the_packet(tmp_path: Path) -> None:
    tray = "  tray: {kind: outline, drawn: tray, sheet: ply A, cut: [well]}\n"
    (f,) = found(tmp_path, f"{tray}  well: {WELL % 300}\n")
    assert (f.severity, f.step, f.piece) == ("stop", "well", "tray")
    assert f.measured == pytest.approx(100.0, abs=1e-3)
