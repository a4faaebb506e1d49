"""What one conversion knows and collects: problems, places, and names of other things."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from pipeline.core.errors import Problem
from pipeline.core.place import Place
from pipeline.core.text import nearest, quoted
from pipeline.intake.yaml_nodes import Leaf


class Failed:
    def __repr__(self) -> str:
        return "FAILED"


FAILED: Final = Failed()
"""Stands for a value whose problem is already reported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mention:
    """A name of something else in the recipe: ``path`` is the field that names it."""

    to: str
    name: str
    path: str
    place: Place


@dataclass(slots=True, kw_only=True)
class Reading:
    """What one conversion knows and what it collects.

    ``parameters`` by name (None: already reported as wrong); ``problems`` found; ``places`` by field
    path; ``mentions`` of other things, to be checked when all names are known.
    """

    parameters: Mapping[str, float | None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)
    mentions: list[Mention] = field(default_factory=list)

    def wrong(self, sentence: str, place: Place, *, expected: str = "", remedy: str = "") -> Failed:
        self.problems.append(Problem(wrong=sentence, place=place, expected=expected, remedy=remedy))
        return FAILED

    def apart(self) -> Reading:
        """A reading of its own with the same parameters, to try something or to number places anew."""
        return Reading(parameters=self.parameters)

    def take(self, other: Reading, *, places: bool = True) -> None:
        """Adds what another reading has collected."""
        self.problems += other.problems
        self.mentions += other.mentions
        if places:
            self.places |= other.places


def unknown_name(key: str, place: Place, known: Iterable[str], noun: str, reading: Reading) -> str:
    """Reports a name that nothing is known by; returns the known one that was probably meant, or ""."""
    words = list(known)
    guess = nearest(key, words)
    if ":" in key:
        remedy = "put a space after the colon."
    elif key == "<<":
        remedy = "write the values out; merging tables is not part of YAML 1.2."
    else:
        remedy = f"did you mean `{guess}`?" if guess else ""
    shown = ", ".join(f"`{w}`" for w in words)
    name = quoted(key).strip('"')
    reading.wrong(f"`{name}` is not known in {noun}.", place, expected=f"one of {shown}", remedy=remedy)
    return guess


def noun_of(path: str) -> str:
    """What to call the table at a path: ``known.1`` is "item 2 of `known`"."""
    head, _, last = path.rpartition(".")
    if last.isdigit() and head:
        return f"item {int(last) + 1} of `{head.rpartition('.')[2]}`"
    return f"`{last}`" if last else "this file"


def inside(leaf: Leaf, column: int) -> Place:
    """The place of a character within a value, where the value stands in its line as it reads."""
    place = leaf.place
    rest = place.text[place.column - 1 :]
    for skipped in (0, 1):
        if rest[skipped : skipped + len(leaf.raw)] == leaf.raw and rest[:skipped] in ("", "'", '"'):
            shift = place.column + skipped + column
            return Place(file=place.file, line=place.line, column=shift, text=place.text)
    return place
