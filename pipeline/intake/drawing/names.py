"""Which objects of the drawing a recipe names, and which object of the drawing a name means."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, is_dataclass
from functools import cache
from typing import Any

from pipeline.core.balance import Balance
from pipeline.core.errors import Problem
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe
from pipeline.core.text import nearest, quoted
from pipeline.intake.annotations import FieldInfo, fields_of, taken_apart
from pipeline.intake.drawing.document import Document, Entry
from pipeline.steps.outline import Spec as Outline

WHOLE = "all"
"""Names the whole drawing less its marks, unless an object of the drawing is called so."""


@dataclass(slots=True)
class Named:
    """Names in the order of the recipe, with the place of their first use and the step ("" for none).

    ``several`` are the fields that name more than one object: those are taken together. ``alone``
    are the names that some field takes by themselves; ``halves`` the fields of one or several names
    that take half an outline or a line, which may be open.
    """

    drawn: dict[str, tuple[Place, str]] = field(default_factory=dict)
    marks: dict[str, tuple[Place, str]] = field(default_factory=dict)
    several: dict[tuple[str, ...], tuple[Place, str]] = field(default_factory=dict)
    alone: set[str] = field(default_factory=set)
    halves: set[tuple[str, ...]] = field(default_factory=set)


def named_drawn(recipe: Recipe) -> Named:
    """All objects and marks that a recipe names, by the annotations of its specs."""
    found = Named()
    steps = frozenset(recipe.steps)
    for step in recipe.steps.values():
        for info in _fields(step.spec):
            if not _may_name(info.type):
                continue  # not even looked at: a drawing is as it was when such a field changes
            value = getattr(step.spec, info.attribute)
            names = list(_walk(info.type, value, info.name, steps))
            for refers, name, path in names:
                at = (step.places.get(path) or step.place(info.name), step.name)
                (found.drawn if refers == "drawn" else found.marks).setdefault(name, at)
            drawn = tuple(dict.fromkeys(name for refers, name, _ in names if refers == "drawn"))
            half = _takes_lines(step.spec, info.attribute)
            if drawn and half:
                found.halves |= {value} if isinstance(value, tuple) else {(name,) for name in drawn}
            if isinstance(value, tuple) and len(drawn) > 1:
                found.several.setdefault(value, (step.place(info.name), step.name))
            elif not half:
                found.alone.update(drawn)
    for name, path in _recipe_marks(recipe):
        found.marks.setdefault(name, (_place(recipe, path), ""))
    return found


@cache
def _may_name(annotation: Any) -> bool:
    """May a value of this annotation hold the name of an object or mark?"""
    a = taken_apart(annotation)
    if a.form == "table":
        return any(_may_name(info.type) for info in fields_of(a.cls).values())
    return a.refers in ("drawn", "mark") or any(_may_name(of) for of in a.of)


def _takes_lines(spec: Any, attribute: str) -> bool:
    """May the objects that this field names be open? A spec says so of its fields by ``LINES``; an outline takes
    lines where it mirrors a half."""
    return attribute in getattr(spec, "LINES", ()) or (isinstance(spec, Outline) and spec.takes_half)


def _fields(spec: Any) -> tuple[FieldInfo, ...]:
    kind: type[Any] = spec.__class__
    return tuple(fields_of(kind).values()) if is_dataclass(kind) else ()


def _place(recipe: Recipe, path: str) -> Place:
    """The place of a path such as frame.known.0.between.1, else of what holds it."""
    while path:
        if path in recipe.places:
            return recipe.places[path]
        path = path.rpartition(".")[0]
    return recipe.places.get("") or Place(file=recipe.path.rpartition("/")[2])


def _recipe_marks(recipe: Recipe) -> Iterator[tuple[str, str]]:
    if recipe.frame is not None:
        for path in ("origin", "x_toward"):
            if getattr(recipe.frame, path):
                yield getattr(recipe.frame, path), f"frame.{path}"
    if recipe.balance is not None:
        for info in fields_of(Balance).values():
            value = getattr(recipe.balance, info.attribute)
            for refers, name, path in _walk(info.type, value, f"balance.{info.name}", frozenset()):
                if refers == "mark":
                    yield name, path
    for i, note in enumerate(recipe.notes):
        if isinstance(note.at, str):
            yield note.at, f"notes.{i}.at"


def _walk(annotation: Any, value: Any, path: str, steps: frozenset[str]) -> Iterator[tuple[str, str, str]]:
    """(refers, name, path) of all names of objects and marks in a value of an annotated field."""
    if value is None:
        return
    a = taken_apart(annotation)
    if a.form == "text" and isinstance(value, str) and value:
        if a.refers in ("drawn", "mark"):
            yield a.refers, value, path
    elif a.form == "several" and isinstance(value, tuple):
        for i, v in enumerate(value):
            yield from _walk(a.of[0], v, f"{path}.{i}", steps)
    elif a.form == "fixed" and isinstance(value, tuple) and len(value) == len(a.of):
        for i, (t, v) in enumerate(zip(a.of, value, strict=True)):
            yield from _walk(t, v, f"{path}.{i}", steps)
    elif a.form == "names" and hasattr(value, "items"):
        for key, v in value.items():
            yield from _walk(a.of[0], key, f"{path}.{key}", steps)
            yield from _walk(a.of[1], v, f"{path}.{key}", steps)
    elif a.form == "table" and a.cls is not None and isinstance(value, a.cls):
        for info in fields_of(a.cls).values():
            yield from _walk(info.type, getattr(value, info.attribute), f"{path}.{info.name}", steps)
    elif a.form == "any of":
        members = [taken_apart(m) for m in a.of]
        if isinstance(value, str) and value in steps and any(m.refers == "step" for m in members):
            return
        told = set()
        for m in a.of:
            for one in _walk(m, value, path, steps):
                if one not in told:
                    told.add(one)
                    yield one


def find(doc: Document, name: str) -> Entry | Problem:
    """The object that a name means: an id, else a label; a problem without place when none or several."""
    by_id = [e for e in doc.entries if e.id == name]
    found = [e for e in by_id if e.direct] or by_id or [e for e in doc.entries if name in e.labels and e.direct]
    found = found or [e for e in doc.entries if name in e.labels]
    if len(found) > 1:
        outer = found[0]
        if all(_same_shapes(doc, outer, e) for e in found[1:]):
            return outer
        lines = ", ".join(str(e.place.line) for e in found[:5])
        return Problem(
            wrong=f"The drawing has {len(found)} objects called {quoted(name)} (on lines {lines}), so it isn't "
            "clear which one is meant.",
            expected="a name that only one object has",
            remedy="Rename or delete the others in the drawing.",
        )
    if found:
        return found[0]
    if name in doc.undrawn:
        return Problem(
            wrong=(
                f"{quoted(name)} is only a definition in the drawing (<{doc.undrawn[name]}>) and is never drawn."
                if doc.form == "SVG"
                else f"{quoted(name)} is a block of the drawing that is inserted nowhere."
            ),
            expected="an object that can be seen",
            remedy="Move it out of the definitions, or draw a copy of it with <use>."
            if doc.form == "SVG"
            else "Insert it where it belongs.",
        )
    known = known_names(doc)
    near = nearest(name, known)
    words = ", ".join(map(quoted, known[:12])) + (", …" if len(known) > 12 else "")
    listed = f"one of: {words}" if known else "a name, but the drawing gives no object one"
    return Problem(
        wrong=f"The drawing has nothing called {quoted(name)}.",
        expected=f"{quoted(near)}, perhaps? There are: {words}" if near else listed,
    )


def _same_shapes(doc: Document, outer: Entry, inner: Entry) -> bool:
    return [s.number for s in doc.members(outer.index)] == [s.number for s in doc.members(inner.index)]


def known_names(doc: Document) -> tuple[str, ...]:
    """Every name that an object answers to, in the order of the drawing."""
    names = [n for e in doc.entries if e.parent >= 0 for n in (e.id, *e.labels) if n]
    return tuple(dict.fromkeys(names))
