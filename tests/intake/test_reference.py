"""The recipe reference in `configs/reference` is what the code makes of its own annotations."""

from __future__ import annotations

from pathlib import Path

from pipeline.intake.annotations import fields_of
from pipeline.intake.reference import pages
from pipeline.steps.registry import KINDS

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "configs" / "reference"
REFRESH = "python -m pipeline.intake.reference configs/reference configs/recipes/*.yaml"


def test_pages_are_those_of_the_code() -> None:
    recipes = [p.read_text(encoding="utf-8") for p in sorted((ROOT / "configs" / "recipes").glob("*.yaml"))]
    made = pages(recipes=recipes)
    there = {p.name: p.read_text(encoding="utf-8") for p in FOLDER.glob("*.md")}
    assert there == made, f"write them anew: {REFRESH}"


def test_every_field_of_every_kind_is_told() -> None:
    made = pages()
    for kind in KINDS.values():
        page = made[f"{kind.name}.md"]
        for field in fields_of(kind.spec).values():
            assert f"| `{field.name}` | {field.doc.replace('|', chr(92) + '|')} |" in page
            assert field.doc, f"{kind.name}.{field.name} has no sentence"


def test_a_changed_field_changes_its_page() -> None:
    from dataclasses import make_dataclass, replace

    from pipeline.core.fields import Size, field

    other = make_dataclass("Other", [("span", Size, field("how far it spans"))], frozen=True)
    kinds = {"outline": replace(KINDS["outline"], spec=other)}
    assert "| `span` | how far it spans | a length in mm" in pages(kinds)["outline.md"]
