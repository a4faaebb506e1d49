"""Every bad drawing in ``tests/errors/drawings`` gets the text that stands beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe

FOLDER = Path(__file__).parent.parent / "errors" / "drawings"
BAD = sorted([*FOLDER.glob("*.svg"), *FOLDER.glob("*.dxf")])


@pytest.mark.parametrize("path", BAD, ids=lambda p: p.stem)
def test_a_bad_drawing_gets_its_text(path: Path, golden: Callable[[Path, str], None]) -> None:
    """The recipe is sound, the drawing isn't; the text names no absolute path and speaks in sentences."""
    recipe = read_recipe(path.with_suffix(".yaml"))
    with pytest.raises(Refused) as refused:
        read_drawing(recipe)
    text = refused.value.show() + "\n"
    assert str(FOLDER.parent.parent.parent) not in text
    assert all(p.wrong.endswith(".") and p.place is not None for p in refused.value.problems), text
    golden(path.with_suffix(".txt"), text)


def test_every_golden_text_has_its_drawing_and_recipe() -> None:
    assert {p.stem for p in FOLDER.glob("*.txt")} == {p.stem for p in BAD}
    assert {p.stem for p in FOLDER.glob("*.yaml")} == {p.stem for p in BAD}
    assert len(BAD) >= 10
