"""Every bad recipe in ``tests/errors/recipes`` gets the text that stands beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.intake.recipe import read_recipe

FOLDER = Path(__file__).parent.parent / "errors" / "recipes"
BAD = sorted(FOLDER.glob("*.yaml"))


@pytest.mark.parametrize("path", BAD, ids=lambda p: p.stem)
def test_a_bad_recipe_gets_its_text(path: Path, golden: Callable[[Path, str], None]) -> None:
    """The text names no absolute path, and every problem is a full sentence."""
    with pytest.raises(Refused) as refused:
        read_recipe(path)
    text = refused.value.show() + "\n"
    assert str(FOLDER.parent.parent.parent) not in text
    assert all(p.wrong[-1] in ".:" or p.wrong.endswith("…") for p in refused.value.problems), text
    golden(path.with_suffix(".txt"), text)


def test_every_golden_text_has_its_recipe() -> None:
    """A text whose recipe was renamed would otherwise never be compared again."""
    assert {p.stem for p in FOLDER.glob("*.txt")} == {p.stem for p in BAD}
    assert len(BAD) >= 10
