"""The generated JSON Schema against good and bad recipes, judged by the jsonschema library."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pipeline.intake.annotations import fields_of
from pipeline.intake.schema import recipe_schema
from pipeline.intake.yaml_nodes import plain, read_tree
from pipeline.steps.registry import KINDS

HOME = Path(__file__).parent.parent.parent
GOOD = sorted(
    p
    for folder in ("configs/recipes", "tests/cases")
    for p in (HOME / folder).rglob("*.yaml")
    if not p.name.endswith(".made.yaml") and p.read_text(encoding="utf-8").find("\ndesign:") >= 0
)
STRUCTURE = [  # bad recipes whose fault can be seen in one value alone
    "missing_names", "no_table", "out_of_range", "unknown_names", "unsafe_names", "wrong_forms", "numbers_of_old",
    "wrong_units",
]  # fmt: skip


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    return recipe_schema()


def content(path: Path) -> Any:
    return plain(read_tree(path.read_bytes(), path.name)[0])


def faults(schema: dict[str, Any], value: Any) -> set[str]:
    """Where the validator finds a fault: paths in the recipe, joined by dots."""
    return {".".join(map(str, e.absolute_path)) for e in Draft202012Validator(schema).iter_errors(value)}


def test_the_schema_is_one(schema: dict[str, Any]) -> None:
    """It follows its own draft, and is plain JSON."""
    Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("path", GOOD, ids=lambda p: p.stem)
def test_good_recipes_pass(schema: dict[str, Any], path: Path) -> None:
    """Every demo and every case."""
    assert faults(schema, content(path)) == set()


@pytest.mark.parametrize("name", STRUCTURE)
def test_bad_recipes_fail(schema: dict[str, Any], name: str) -> None:
    """What the reader refuses for a single value, an editor underlines."""
    assert faults(schema, content(HOME / "tests" / "errors" / "recipes" / f"{name}.yaml"))


def test_faults_are_found_where_they_are(schema: dict[str, Any]) -> None:
    """The word after ``kind:`` decides which fields a step may have."""
    good: dict[str, Any] = {"design": "wren", "drawing": "wren.svg"}
    body = {"kind": "outline", "drawn": "body"}
    assert faults(schema, {**good, "steps": {"body": body}}) == set()
    assert faults(schema, {**good, "steps": {"body": {**body, "after": ["a", "b"]}}}) == set()
    for bad in (
        {**body, "depth": 3},
        {**body, "smooth": -1},
        {**body, "smooth": [1]},
        {"kind": "outlin"},
        {"drawn": "body"},
        {**body, "count": 1.5},
        {"kind": "offset", "of": "body"},
        {"kind": "cavity", "tilt": {"angle": 2}},
        {"kind": "cavity", "fit": True},
        {"kind": "cavity", "centre": [1, 2, 3]},
    ):
        found = faults(schema, {**good, "steps": {"body": bad}})
        assert found
        assert all(path.startswith("steps.body") for path in found)
    assert faults(schema, {**good, "steps": {}}) == {"steps"}
    assert faults(schema, good) == {""}


def test_every_field_of_every_kind_is_told(schema: dict[str, Any]) -> None:
    """All fields of the registered kinds are there, each with the sentence that documents it."""
    for kind in KINDS.values():
        told = schema["$defs"][f"step.{kind.name}"]["properties"]
        assert set(told) == {"kind", "after", *fields_of(kind.spec)}
        assert all(told[name]["description"] for name in told)
        assert kind.summary


def test_top_level_is_the_language(schema: dict[str, Any]) -> None:
    """The names of blueprint section 3, in its order, and no others."""
    words = (
        "design title revision by make spare parameters drawing frame shops sheets hardware steps balance quote notes "
        "accepted relax variants made tolerance"
    )
    assert " ".join(schema["properties"]) == words
    assert schema["required"] == ["design", "drawing", "steps"]
    assert schema["additionalProperties"] is False
