"""What lies half off its panel is told; what is meant to run out is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.checks import findings
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">'
    '<path id="tray" d="M0 0H200V100H0z"/></svg>'
)


def told(folder: Path, step: str) -> list[tuple[str, float | None]]:
    (folder / "t.svg").write_text(SVG, encoding="utf-8")
    (folder / "t.yaml").write_text(
        "design: t\ndrawing: t.svg\nsheets: {ply: {measured: {A: 9}, size: [400, 300], grain: x}}\n"
        f"steps:\n  it: {step}\n  tray: {{kind: outline, drawn: tray, sheet: ply, cut: [it]}}\n",
        encoding="utf-8",
    )
    recipe = read_recipe(folder / "t.yaml")
    found = findings(derive(recipe, read_drawing(recipe)))
    return [(f.severity, f.measured) for f in found if f.check == "runs-out"]


@pytest.mark.parametrize(
    ("step", "out"),
    [
        ("{kind: cavity, opening: {rectangle: [40, 20], corner: 5}, centre: [100, 5], depth: 3}", 5.0),
        ("{kind: holes, at: [[0, 50]], diameter: 5, through: true}", 2.5),
    ],
)
def test_half_off_is_told(tmp_path: Path, step: str, out: float) -> None:
    ((severity, measured),) = told(tmp_path, step)
    assert severity == "note"
    assert measured == pytest.approx(out, abs=0.001)


@pytest.mark.parametrize(
    "step",
    [
        "{kind: cavity, opening: {rectangle: [40, 20], corner: 5}, centre: [100, 10.02], depth: 3}",
        "{kind: cavity, opening: {rectangle: [40, 20], corner: 5}, centre: [100, 50], depth: 3}",
        "{kind: cavity, opening: {rectangle: [40, 20], corner: 5}, centre: [190, 50], depth: 3, open: +x}",
        "{kind: holes, role: index, at: [[0, 50], [200, 50]], diameter: [6, 8], through: true}",
    ],
)
def test_inside_or_meant(tmp_path: Path, step: str) -> None:
    assert told(tmp_path, step) == []
