"""The JSON Schema of recipes (draft 2020-12), generated from the annotations that the reader walks.

Editors complete and check recipes with it. It says what can be said of one value at a time; whether a
name exists and whether fields go together is the reader's to tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pipeline.core.names import NAME_PATTERN, REVISION_PATTERN
from pipeline.core.text import MAX_TEXT
from pipeline.intake.annotations import FieldInfo, fields_of, taken_apart
from pipeline.intake.arithmetic import LARGEST
from pipeline.intake.expressions import MAX_LENGTH, described
from pipeline.intake.leaves import MOST
from pipeline.intake.recipe_file import RecipeFile, Variant

if TYPE_CHECKING:
    from pipeline.steps.registry import Kind

DRAFT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
_PARAMETERS: Schema = {
    "type": "object",
    "propertyNames": {"pattern": r"^[A-Za-z_][A-Za-z0-9_]*$"},
    "additionalProperties": {
        "type": ["number", "string"],
        "maxLength": MAX_LENGTH,
        "minimum": -LARGEST,
        "maximum": LARGEST,
        "description": "a number, with or without unit, or arithmetic over the parameters above",
    },
}


def recipe_schema(kinds: Mapping[str, Kind] | None = None) -> Schema:
    """The JSON Schema of recipes as JSON values. ``kinds`` replaces the registered step kinds."""
    if kinds is None:
        from pipeline.steps.registry import KINDS

        kinds = KINDS
    definitions: dict[str, Schema] = {}
    top = _Schemas(definitions).table(
        RecipeFile,
        instead={
            (RecipeFile, "parameters"): _PARAMETERS,
            (RecipeFile, "steps"): _steps(kinds, definitions),
            (Variant, "parameters"): _PARAMETERS,
        },
    )
    return {
        "$schema": DRAFT,
        "title": "mouldloft recipe",
        "description": "The recipe of one design: what is drawn, from which sheets, and the steps to make it.",
        **top,
        "$defs": dict(sorted(definitions.items())),
    }


def _steps(kinds: Mapping[str, Kind], definitions: dict[str, Schema]) -> Schema:
    """Steps by name; the word after ``kind:`` decides which fields a step has."""
    chosen = []
    for kind in kinds.values():
        fields = _Schemas(definitions, prefix=f"{kind.name}.").table(kind.spec)
        fields["description"] = f"{kind.name}: {kind.summary}"
        fields["properties"] = {
            "kind": {"const": kind.name, "description": kind.summary},
            "after": {
                "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
                "description": "steps that must be done before, though no field names them",
            },
            **fields["properties"],
        }
        fields["required"] = ["kind", *fields.get("required", ())]
        definitions[f"step.{kind.name}"] = fields
        chosen.append(
            {
                "if": {"properties": {"kind": {"const": kind.name}}, "required": ["kind"]},
                "then": {"$ref": f"#/$defs/step.{kind.name}"},
            }
        )
    return {
        "type": "object",
        "minProperties": 1,
        "propertyNames": {"pattern": NAME_PATTERN},
        "additionalProperties": {
            "type": "object",
            "required": ["kind"],
            "properties": {"kind": {"enum": list(kinds), "description": "the kind of step"}},
            "allOf": chosen,
        },
    }


class _Schemas:
    """Walks annotations and gathers the definitions of the tables they speak of."""

    def __init__(self, definitions: dict[str, Schema], prefix: str = "") -> None:
        self.definitions, self.prefix = definitions, prefix
        self.instead: Mapping[tuple[Any, str], Schema] = {}

    def table(self, cls: Any, instead: Mapping[tuple[Any, str], Schema] | None = None) -> Schema:
        """The schema of a dataclass; ``instead`` gives those of fields that are kept as written."""
        self.instead = instead or self.instead
        needed = [f.name for f in fields_of(cls).values() if f.needed]
        schema: Schema = {
            "type": "object",
            "properties": {f.name: self.field(cls, f) for f in fields_of(cls).values()},
            "additionalProperties": False,
        }
        return {**schema, "required": needed} if needed else schema

    def field(self, cls: Any, info: FieldInfo) -> Schema:
        schema = dict(self.instead.get((cls, info.name)) or self.of(info.type))
        number = taken_apart(info.type)
        unit = f" ({described(number.unit)})" if number.form == "number" and number.unit != "1" else ""
        schema["description"] = info.doc + unit
        if isinstance(info.default, bool | int | float | str) and info.default != "":
            schema["default"] = info.default
        return schema

    def of(self, annotation: Any) -> Schema:
        """The schema of one annotation."""
        a = taken_apart(annotation)
        match a.form:
            case "number" | "whole":
                schema: Schema = {
                    "type": ["number" if a.form == "number" else "integer", "string"],
                    "minimum": -LARGEST,
                    "maximum": LARGEST if a.form == "number" else MOST,
                    "minLength": 1,
                    "maxLength": MAX_LENGTH,
                }
                if a.least is not None:
                    schema["minimum"] = a.least.value
                if a.least is not None and a.least.above:
                    schema["exclusiveMinimum"] = schema.pop("minimum")
                return schema
            case "flag":
                return {"type": "boolean"}
            case "text":
                pattern = {"name": NAME_PATTERN, "revision": REVISION_PATTERN}.get(a.mark)
                return {"type": "string", **({"pattern": pattern} if pattern else {"maxLength": MAX_TEXT})}
            case "words":
                return {"enum": list(a.words)}
            case "several":
                one = self.of(a.of[0])
                return {"anyOf": [one, {"type": "array", "items": one}]}
            case "fixed":
                return {
                    "type": "array",
                    "prefixItems": [self.of(t) for t in a.of],
                    "items": False,
                    "minItems": len(a.of),
                }
            case "names":
                return {
                    "type": "object",
                    "propertyNames": self.of(a.of[0]),
                    "additionalProperties": self.of(a.of[1]),
                }
            case "table":
                return {"$ref": f"#/$defs/{self.defined(a.cls)}"}
            case "any of":
                return {"anyOf": sorted((self.of(t) for t in a.of), key=repr)}
        raise TypeError(f"{annotation!r} has no schema of its own")

    def defined(self, cls: Any) -> str:
        """The name under which a table's schema stands in ``$defs``."""
        name = f"{self.prefix}{cls.__name__}"
        if name not in self.definitions:
            self.definitions[name] = {}  # so that a table may speak of itself
            self.definitions[name] = self.table(cls)
        return name
