"""The recipe's parameters: numbers by name, each worked out from those above it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pipeline.core.errors import Problem
from pipeline.core.fields import Number
from pipeline.core.text import nearest, quoted
from pipeline.core.units import UNITS
from pipeline.intake.arithmetic import CONSTANTS, FUNCTIONS, LARGEST, ExpressionError, Unsettled
from pipeline.intake.convert import convert
from pipeline.intake.expressions import quantity
from pipeline.intake.reading import FAILED, Reading, inside
from pipeline.intake.yaml_nodes import Leaf, Table, Tree

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def read_parameters(
    tree: Tree | None, reading: Reading, overrides: Mapping[str, Tree] | None = None
) -> dict[str, float | None]:
    """Parameters in the order of the file, lengths in mm; None for one that is reported as wrong.

    ``overrides`` replaces values before anything is worked out, so that those below follow.
    """
    if tree is None:
        return {}
    if not isinstance(tree, Table):
        reading.wrong("Parameters are names with numbers.", tree.place, expected="`parameters: {skin: 4}`")
        return {}
    known: dict[str, float | None] = {}
    for entry in tree.entries:
        reading.places[f"parameters.{entry.key}"] = entry.value.place
        if not _NAME.fullmatch(entry.key) or len(entry.key) > 60:
            reading.wrong(
                f"{quoted(entry.key)} can't be the name of a parameter.",
                entry.key_place,
                expected='letters, digits and "_", a letter first',
            )
        elif entry.key in FUNCTIONS or entry.key in CONSTANTS:
            reading.wrong(
                f"{quoted(entry.key)} already means something in arithmetic.",
                entry.key_place,
                remedy="give the parameter another name.",
            )
        value = (overrides or {}).get(entry.key, entry.value)
        known[entry.key] = _value(entry.key, value, known, tree, reading)
    return known


def _value(
    name: str, tree: Tree, known: Mapping[str, float | None], table: Table, reading: Reading
) -> float | None:
    if not (isinstance(tree, Leaf) and isinstance(tree.value, str)):
        value = convert(Number, tree, "", reading)
        return None if value is FAILED else float(value)
    try:
        exact, unit = quantity(tree.value, known)
        value = float(exact * UNITS[unit][1] if unit else exact) + 0.0
    except Unsettled:
        return None
    except OverflowError:
        value = float("inf")
    except ExpressionError as error:
        wrong, remedy = error.wrong, error.remedy
        if error.unknown and table.get(error.unknown):
            wrong = f"{quoted(error.unknown)} is not known yet when {quoted(name)} is worked out."
            remedy = "a parameter may use those above it; change the order."
        reading.problems.append(
            Problem(wrong=wrong, place=inside(tree, error.column), expected=error.expected, remedy=remedy)
        )
        return None
    if not abs(value) <= LARGEST:
        reading.wrong(f"This number is larger than {LARGEST:,.0f}.", tree.place)
        return None
    return value


def read_overrides(tree: Tree | None, parameters: Tree | None, noun: str, reading: Reading) -> Mapping[str, Tree]:
    """The parameters that a variant replaces; those that the recipe doesn't have are problems."""
    if tree is None:
        return {}
    if not isinstance(tree, Table):
        reading.wrong("Parameters are names with numbers.", tree.place, expected="`parameters: {skin: 3}`")
        return {}
    known = [e.key for e in parameters.entries] if isinstance(parameters, Table) else []
    for entry in tree.entries:
        if entry.key not in known:
            guess = nearest(entry.key, known)
            reading.wrong(
                f"{quoted(entry.key)} is not a parameter of this recipe, so {noun} can't change it.",
                entry.key_place,
                expected=f"one of {', '.join(known)}" if known else "the recipe has no parameters",
                remedy=f'did you mean "{guess}"?' if guess else "",
            )
    return {e.key: e.value for e in tree.entries if e.key in known}
