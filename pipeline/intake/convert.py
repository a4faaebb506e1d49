"""From values as written to the frozen values that annotations ask for.

Nothing stops at the first mistake: every problem goes to the ``Reading``, and a value that can't be
made is ``FAILED``, which nothing above it reports again.
"""

from __future__ import annotations

from typing import Any

from pipeline.core.place import Place
from pipeline.core.text import nearest, quoted
from pipeline.intake.annotations import Annotation, FieldInfo, describe, fields_of, taken_apart
from pipeline.intake.leaves import misfit, number, text, word
from pipeline.intake.reading import FAILED, Reading, noun_of, unknown_name
from pipeline.intake.yaml_nodes import Items, Leaf, Table, Tree


def convert(annotation: Any, tree: Tree, path: str, reading: Reading) -> Any:
    """The value of ``tree`` as ``annotation`` asks for it, or FAILED with a problem in ``reading``.

    ``path`` is the field path from the file's or step's top: ``tilt.angle``, ``laminations.0``.
    """
    a = taken_apart(annotation)
    if path:
        reading.places[path] = tree.place
    if a.form == "raw":
        return tree
    if isinstance(tree, Leaf) and tree.value is None:
        split = path.rpartition(".")[2][:1].isdigit() and not tree.raw  # {depth: 11,8 mm}
        return reading.wrong(
            "Nothing is written here.",
            tree.place,
            expected=describe(annotation),
            remedy="a comma separates values; write a decimal point inside a number."
            if split
            else "write a value, or delete the name before it.",
        )
    if not could_be(annotation, tree):
        return misfit(annotation, tree, reading)
    match a.form:
        case "any of":
            return _any_of(annotation, a, tree, path, reading)
        case "several":
            return _several(a.of[0], tree, path, reading)
        case "fixed":
            return _fixed(annotation, a, tree, path, reading)
        case "names":
            return _names(a, tree, path, reading)
        case "table":
            assert a.cls is not None
            assert isinstance(tree, Table)
            return convert_table(a.cls, tree, path, reading, noun=noun_of(path), at=tree.place)
    assert isinstance(tree, Leaf)
    if a.form in ("number", "whole"):
        return number(annotation, a, tree, path, reading)
    if a.form == "words":
        return word(a, tree, reading)
    if a.form == "text":
        return text(a, tree, path, reading)
    return tree.value


def convert_table(
    cls: Any,
    table: Table,
    path: str,
    reading: Reading,
    *,
    noun: str,
    at: Place,
    besides: tuple[str, ...] = (),
) -> Any:
    """A frozen dataclass from a table, or FAILED. ``noun`` names it in messages, ``at`` is where a missing
    field is reported; ``besides`` are further names that are read elsewhere."""
    before = len(reading.problems)
    values = read_fields(cls, table, path, reading, noun=noun, at=at, besides=besides)
    if len(reading.problems) > before or FAILED in values.values():
        return FAILED
    try:
        return cls(**values)
    except ValueError as error:  # a check of the value's own, at construction
        return reading.wrong(str(error), at)


def read_fields(
    cls: Any,
    table: Table,
    path: str,
    reading: Reading,
    *,
    noun: str,
    at: Place,
    besides: tuple[str, ...] = (),
) -> dict[str, Any]:
    """What ``convert_table`` would make a value of, by attribute; some may be FAILED or absent."""
    known = fields_of(cls)
    values: dict[str, Any] = {}
    meant: set[str] = set()
    for entry in table.entries:
        info = known.get(entry.key)
        if info is not None:
            inner = f"{path}.{entry.key}" if path else entry.key
            values[info.attribute] = convert(info.type, entry.value, inner, reading)
        elif entry.key not in besides:
            meant.add(unknown_name(entry.key, entry.key_place, [*besides, *known], noun, reading))
    for info in known.values():
        if info.needed and info.attribute not in values and info.name not in meant:
            reading.wrong(f"`{info.name}` is missing in {noun}.", at, expected=told(info))
    return values


def told(info: FieldInfo) -> str:
    """A field in one line: name, what may be written, what it means."""
    return (
        f"`{info.name}:` {describe(info.type)} ({info.doc})"
        if info.doc
        else f"`{info.name}:` {describe(info.type)}"
    )


def could_be(annotation: Any, tree: Tree) -> bool:
    """True when the form of ``tree`` (a value, a list, a table) is one that the annotation takes."""
    a = taken_apart(annotation)
    if a.form == "any of":
        return any(could_be(t, tree) for t in a.of)
    if a.form == "several":
        return isinstance(tree, Items) or could_be(a.of[0], tree)
    if isinstance(tree, Items):
        return a.form == "fixed"
    if isinstance(tree, Table):
        return a.form in ("names", "table")
    value = tree.value
    match a.form:
        case "number" | "whole":
            return isinstance(value, int | float | str) and not isinstance(value, bool)
        case "flag":
            return isinstance(value, bool)
        case "text":
            return isinstance(value, str)
        case "words":
            return isinstance(value, str) or value in a.words
    return False


def _any_of(annotation: Any, a: Annotation, tree: Tree, path: str, reading: Reading) -> Any:
    members = [t for t in a.of if could_be(t, tree)]
    if len(members) == 1:
        return convert(members[0], tree, path, reading)
    trials = []
    for member in members:
        trial = reading.apart()
        value = convert(member, tree, path, trial)
        if value is not FAILED:
            reading.take(trial)
            return value
        trials.append((member, trial))
    if isinstance(tree, Leaf) and not tree.raw.strip()[:1].isdigit():
        words = [str(w) for t in members for w in taken_apart(t).words]
        guess = nearest(tree.raw, words)
        return reading.wrong(
            f"{quoted(tree.raw)} can't be used here.",
            tree.place,
            expected=describe(annotation),
            remedy=f"did you mean {guess}?" if guess else "",
        )
    numbers = [t for m, t in trials if taken_apart(m).form in ("number", "whole")]
    best = numbers[0] if numbers else min((t for _, t in trials), key=lambda t: len(t.problems))
    reading.take(best)
    return FAILED


def _several(of: Any, tree: Tree, path: str, reading: Reading) -> Any:
    """Any number of elements; a single one may stand without the list's brackets."""
    alone = not isinstance(tree, Items) or (
        bool(tree.items) and could_be(of, tree) and not any(could_be(of, i) for i in tree.items)
    )
    items = (tree,) if alone else tree.items if isinstance(tree, Items) else ()
    values = tuple(convert(of, item, f"{path}.{n}", reading) for n, item in enumerate(items))
    return FAILED if FAILED in values else values


def _fixed(annotation: Any, a: Annotation, tree: Tree, path: str, reading: Reading) -> Any:
    assert isinstance(tree, Items)
    if len(tree.items) != len(a.of):
        return reading.wrong(
            f"This list has {len(tree.items)} value{'s' * (len(tree.items) != 1)}; {len(a.of)} are wanted.",
            tree.place,
            expected=describe(annotation),
        )
    values = tuple(
        convert(t, item, f"{path}.{n}", reading) for n, (t, item) in enumerate(zip(a.of, tree.items, strict=True))
    )
    return FAILED if FAILED in values else values


def _names(a: Annotation, tree: Tree, path: str, reading: Reading) -> Any:
    assert isinstance(tree, Table)
    values: dict[str, Any] = {}
    failed = False
    for entry in tree.entries:
        key = convert(
            a.of[0],
            Leaf(value=entry.key, raw=entry.key, place=entry.key_place),
            path,
            reading,
        )
        value = convert(a.of[1], entry.value, f"{path}.{entry.key}" if path else entry.key, reading)
        failed = failed or key is FAILED or value is FAILED
        values[entry.key] = value
    if path:
        reading.places[path] = tree.place
    return FAILED if failed else values
