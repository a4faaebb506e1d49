"""Single values: numbers, words and text, and what to say where something else stands."""

from __future__ import annotations

from typing import Any

from pipeline.core.names import NAME_RULE, REVISION_RULE, name_problem, revision_problem
from pipeline.core.text import listed, nearest, quoted, text_problem
from pipeline.intake.annotations import Annotation, bound, describe, taken_apart
from pipeline.intake.arithmetic import LARGEST, ExpressionError, Unsettled
from pipeline.intake.expressions import evaluate
from pipeline.intake.reading import FAILED, Failed, Mention, Reading, inside
from pipeline.intake.yaml_nodes import Items, Leaf, Table, Tree


def misfit(annotation: Any, tree: Tree, reading: Reading) -> Failed:
    """Reports a value whose form (number, text, list …) can't stand where it stands."""
    remedy = ""
    if isinstance(tree, Items):
        wrong = "A list stands here."
    elif isinstance(tree, Table):
        wrong = "A table of names and values stands here."
    else:
        a = taken_apart(annotation)
        is_flag = isinstance(tree.value, bool)
        sort = "true or false" if is_flag else "text" if isinstance(tree.value, str) else "a number"
        shown = quoted(tree.raw) if isinstance(tree.value, str) else tree.raw
        wrong = f"{shown} is {sort}." if not is_flag else f"{shown} stands here."
        if _takes_text(annotation):
            remedy = f"put it in quotes to make it text: {quoted(tree.raw)}."
        elif a.form == "flag" and tree.raw in ("yes", "no", "on", "off"):
            remedy = f"write {'true' if tree.raw in ('yes', 'on') else 'false'}."
    return reading.wrong(wrong, tree.place, expected=describe(annotation), remedy=remedy)


def _takes_text(annotation: Any) -> bool:
    a = taken_apart(annotation)
    return a.form == "text" or (a.form in ("any of", "several") and any(map(_takes_text, a.of)))


def word(a: Annotation, leaf: Leaf, reading: Reading) -> Any:
    """One of a few words."""
    if leaf.value in a.words:
        return leaf.value
    guess = nearest(leaf.raw, [str(w) for w in a.words])
    return reading.wrong(
        f"{quoted(leaf.raw)} is not one of the words that can stand here.",
        leaf.place,
        expected=listed(str(w) for w in a.words),
        remedy=f"did you mean {guess}?" if guess else "",
    )


def text(a: Annotation, leaf: Leaf, path: str, reading: Reading) -> Any:
    """Free text, a name or a revision; names of other things go to the reading's mentions."""
    text = str(leaf.value)
    wrong, expected = text_problem(text), ""
    if not wrong and a.mark == "name":
        wrong, expected = name_problem(text), NAME_RULE
    elif not wrong and a.mark == "revision":
        wrong, expected = revision_problem(text), REVISION_RULE
    if wrong:
        return reading.wrong(wrong, leaf.place, expected=expected)
    if a.refers and text:
        reading.mentions.append(Mention(to=a.refers, name=text, path=path, place=leaf.place))
    return text


FARTHEST_MM = 100_000.0
"""No length of something that is made by hand is longer; a radius of a nearly flat board is shorter too."""
LEAST_MM = 1e-4
"""A fiftieth of the tolerance that everything is made to: nothing that is cut is smaller. (Places
may be, by the noise of a computation.)"""
NOISE = 1e-9
"""What is nearer to nothing is nothing: the noise of a computation, or a number that no division would bear."""
MOST = 1000
"""Nobody drills, cuts or numbers more of one thing in one step; more is a slip of the hand."""


def number(annotation: Any, a: Annotation, leaf: Leaf, path: str, reading: Reading) -> Any:
    """A number in the annotation's unit, within its bounds; whole where an int is wanted."""
    shown = f"`{path.rpartition('.')[2]}`" if not path.rpartition(".")[2].isdigit() else "This number"
    if isinstance(leaf.value, str):
        try:
            value = evaluate(leaf.value, a.unit, reading.parameters)
        except Unsettled:
            return FAILED
        except ExpressionError as error:
            return reading.wrong(
                error.wrong,
                inside(leaf, error.column),
                expected=error.expected or describe(annotation),
                remedy=error.remedy,
            )
        came = f"; {quoted(leaf.raw)} comes to {value:g}"
    else:
        assert leaf.value is not None
        value = leaf.value + 0.0
        came = f", but {leaf.raw} stands here"
    if abs(value) > LARGEST:
        return reading.wrong(
            f"This number is larger than {LARGEST:,.0f}.", leaf.place, expected=describe(annotation)
        )
    tiny = a.least is not None and a.least.above and 0.0 < value < LEAST_MM
    if a.unit == "mm" and (abs(value) > FARTHEST_MM or tiny):
        bounds = f"at most {FARTHEST_MM / 1000:g} m" if abs(value) > 1.0 else f"at least {LEAST_MM:g} mm"
        return reading.wrong(
            f"{shown} must be {bounds}{came}.",
            leaf.place,
            expected=describe(annotation),
            remedy="look at its unit",
        )
    value = value if abs(value) >= NOISE else 0.0
    if a.least is not None and (value < a.least.value or (a.least.above and value == a.least.value)):
        return reading.wrong(f"{shown} must be {bound(a.least)}{came}.", leaf.place, expected=describe(annotation))
    if a.form == "whole":
        if value != round(value):
            return reading.wrong(
                f"{shown} must be a whole number{came}.", leaf.place, expected=describe(annotation)
            )
        if value > MOST:
            most = f"{shown} may be at most {MOST}{came}."
            return reading.wrong(most, leaf.place, expected=describe(annotation))
        return int(value)
    return value
