"""Reads the type annotations in which specs and profiles say what their fields are (`core.fields`).

Both the converter and the generated schema walk them through the functions here.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, TypeAlias

from pipeline.core.fields import NEEDED, AtLeast, Refers, Unit
from pipeline.core.names import NAME_RULE, REVISION_RULE
from pipeline.core.text import listed
from pipeline.intake.expressions import described


@dataclass(frozen=True, slots=True)
class Mark:
    """What a text or value is for, where its type alone doesn't tell.

    "name": goes into file names; "revision": a revision letter; "path": of a file, beside the file it
    stands in; "as written": kept as it stands in the file, for its reader to take further.
    """

    what: Literal["name", "revision", "path", "as written"]


FileName = Annotated[str, Mark("name")]
RevisionText = Annotated[str, Mark("revision")]
FilePath = Annotated[str, Mark("path")]
AsWritten: TypeAlias = Annotated[Any, Mark("as written")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Annotation:
    """One annotation taken apart. ``form`` says which of the others count."""

    form: Literal[
        "number", "whole", "flag", "text", "words", "several", "fixed", "names", "table", "any of", "raw"
    ]
    unit: str = "1"
    least: AtLeast | None = None
    refers: str = ""
    mark: str = ""
    words: tuple[Any, ...] = ()
    of: tuple[Any, ...] = ()  # annotations of the elements, members, or (key, value)
    cls: Any = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldInfo:
    """One field of a spec: ``name`` as the recipe writes it, ``attribute`` as Python does."""

    name: str
    attribute: str
    type: Any
    doc: str
    needed: bool
    default: Any


@cache
def taken_apart(annotation: Any) -> Annotation:
    """The parts of an annotation. Raises TypeError for one that is not in the vocabulary."""
    marks: tuple[Any, ...] = ()
    while typing.get_origin(annotation) is Annotated:
        annotation, *more = typing.get_args(annotation)
        marks += tuple(more)
    unit = next((m.name for m in marks if isinstance(m, Unit)), "1")
    least = next((m for m in marks if isinstance(m, AtLeast)), None)
    refers = next((m.to for m in marks if isinstance(m, Refers)), "")
    mark = next((m.what for m in marks if isinstance(m, Mark)), "")
    if mark == "as written":
        return Annotation(form="raw")
    if annotation is bool:
        return Annotation(form="flag")
    if annotation is float:
        return Annotation(form="number", unit=unit, least=least)
    if annotation is int:
        return Annotation(form="whole", unit=unit, least=least)
    if annotation is str:
        return Annotation(form="text", refers=refers, mark=mark)
    if dataclasses.is_dataclass(annotation) and isinstance(annotation, type):
        return Annotation(form="table", cls=annotation)
    origin, args = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is Literal:
        return Annotation(form="words", words=args)
    if origin is tuple and len(args) == 2 and args[1] is Ellipsis:
        return Annotation(form="several", of=(args[0],))
    if origin is tuple:
        return Annotation(form="fixed", of=args)
    if origin is Mapping or (isinstance(origin, type) and issubclass(origin, Mapping)):
        return Annotation(form="names", of=args)
    if origin in (typing.Union, types.UnionType):
        members = tuple(a for a in args if a is not type(None))
        return taken_apart(members[0]) if len(members) == 1 else Annotation(form="any of", of=members)
    raise TypeError(f"{annotation!r} is not in the vocabulary of pipeline.core.fields")


@cache
def fields_of(cls: Any) -> Mapping[str, FieldInfo]:
    """The fields of a frozen dataclass by the name that a recipe writes (trailing ``_`` dropped)."""
    hints = typing.get_type_hints(cls, include_extras=True)
    found = {}
    for f in dataclasses.fields(cls):
        default = f.default if f.default_factory is dataclasses.MISSING else f.default_factory()
        name = f.name.rstrip("_")
        found[name] = FieldInfo(
            name=name,
            attribute=f.name,
            type=hints[f.name],
            doc=f.metadata.get("doc", ""),
            needed=default is NEEDED,
            default=default,
        )
    return types.MappingProxyType(found)


_REFERS = {
    "step": "the name of a step",
    "sheet": 'a sheet, by the name of its stock and its letter: "birch12 A"',
    "shop": "the name of a shop",
    "drawn": "the name of an object of the drawing",
    "mark": "the name of a mark of the drawing",
    "part": "the name of a part in `hardware`",
}
_MARKS = {"name": f"a name: {NAME_RULE}", "revision": REVISION_RULE, "path": "the path of a file"}


def bound(least: AtLeast | None) -> str:
    """``more than 0``, ``at least 1``, or nothing."""
    return f"{'more than' if least.above else 'at least'} {least.value:g}" if least else ""


def describe(annotation: Any) -> str:
    """What may be written for an annotation, in words."""
    a = taken_apart(annotation)
    match a.form:
        case "number":
            return described(a.unit, bound(a.least))
        case "whole":
            return f"a whole number, {bound(a.least)}" if a.least else "a whole number"
        case "flag":
            return "true or false"
        case "text":
            return _REFERS.get(a.refers) or _MARKS.get(a.mark) or "text"
        case "words":
            return listed(str(w) for w in a.words)
        case "several":
            return f"one or a list of: {describe(a.of[0])}"
        case "fixed":
            parts = [taken_apart(t) for t in a.of]
            if all(f.unit == "mm" and f.least is None for f in parts) and len(parts) < 4:
                return f"[{', '.join('xyz'[: len(parts)])}] in mm"
            if all(f.unit == "mm" for f in parts):
                return f"{len(parts)} lengths in mm, in square brackets"
            return "a list: [" + ", ".join(describe(t) for t in a.of) + "]"
        case "names":
            return f"names with values, each {describe(a.of[1])}"
        case "table":
            assert a.cls is not None
            return "{" + ", ".join(f"{f.name}: …" for f in list(fields_of(a.cls).values())[:6]) + "}"
        case "any of":
            several = [taken_apart(t).of[0] for t in a.of if taken_apart(t).form == "several"]
            # Sorted: which way round `A | B` comes out depends on what typing met first.
            return ", or ".join(sorted(describe(t) for t in a.of if t not in several))
    return "a value"
