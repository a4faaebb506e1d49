"""Numbers that are written as text: with a unit (``3/4 in``) or as arithmetic over parameters.

One unit may stand at the end of the whole text; a whole number before a fraction is a mixed number
(``1 1/2 in``). Whatever is written in digits is exact until it is rounded once, so ``3/4 in`` is
exactly 19.05.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from pipeline.core.text import quoted
from pipeline.core.units import QUANTITIES, UNITS, Exact
from pipeline.intake.arithmetic import ExpressionError, Parser, finite

MAX_LENGTH = 400
_UNIT_AT_END = re.compile(
    r"(?<=[0-9.)\sA-Za-z_])\s*(?P<unit>"
    + "|".join(sorted((re.escape(u) for u in UNITS), key=len, reverse=True))
    + r")\s*$"
)
_MIXED = re.compile(r"\s*([-+]?)(\d+)\s+(\d+)/(\d+)\s*$")
_HYPHENED = re.compile(r"\s*(\d+)-(\d+/\d+)\s*$")
_DECIMAL_COMMA = re.compile(r"\s*[-+]?(\d+),(\d+)")


def evaluate(text: str, unit: str, parameters: Mapping[str, float | None]) -> float:
    """The value of ``text`` in ``unit`` (a name of ``core.fields.Unit``).

    ``parameters`` maps names to values; None stands for one that is already reported as wrong. Raises
    ExpressionError, with the column within the text, or Unsettled.
    """
    value, written = quantity(text, parameters, wanted=unit)
    if written:
        base, factor = UNITS[written]
        if base != unit:
            raise ExpressionError(
                f"{quoted(text.strip())} is {QUANTITIES[base].noun.rsplit(' in ', 1)[0]}, "
                f"but {QUANTITIES[unit].noun.rsplit(' in ', 1)[0]} is wanted here.",
                text.rindex(written),
                expected=described(unit),
            )
        value = value * factor
    return finite(value, 0)


def quantity(text: str, parameters: Mapping[str, float | None], *, wanted: str = "") -> tuple[Exact, str]:
    """The number as written and its unit ("" when none stands there). Raises as ``evaluate`` does.

    ``wanted`` is the unit that messages speak of; any when it is empty.
    """
    if len(text) > MAX_LENGTH:
        raise ExpressionError(f"This has {len(text)} characters; at most {MAX_LENGTH} are worked out.", 0)
    _of_old(text)
    comma = _DECIMAL_COMMA.match(text)
    if comma:
        raise ExpressionError(
            f"A comma stands in the number {quoted(text.strip())}.",
            comma.end(1),
            remedy=f"write a point: {comma.group(1)}.{comma.group(2)}.",
        )
    body, written = text, ""
    found = _UNIT_AT_END.search(text)
    if found and _ends_a_value(text[: found.start("unit")], found.group("unit")):
        body, written = text[: found.start("unit")], found.group("unit")
    mixed = _MIXED.match(body)
    if mixed and int(mixed.group(4)):
        sign, whole, above, below = mixed.groups()
        size = int(whole) + Fraction(int(above), int(below))
        return (-size if sign == "-" else size), written
    if written and (hyphened := _HYPHENED.match(body)):
        raise ExpressionError(
            f"{quoted(text.strip())} could mean a sum or a difference.",
            hyphened.end(1),
            remedy=f"write {hyphened.group(1)} {hyphened.group(2)} {written} for the sum.",
        )
    parser = Parser(body, parameters, wanted)
    value = parser.whole()
    if written and parser.names and UNITS[written][1] != 1:
        raise ExpressionError(
            f"{quoted(parser.names[0])} already is a length or angle; a unit behind it would convert it twice.",
            found.start("unit") if found else 0,
            remedy="give the unit where the parameter is written, and leave it out here.",
        )
    return value, written


def _ends_a_value(before: str, unit: str) -> bool:
    """True when what stands before the unit is a complete value, so that the word is a unit, not a name."""
    last = before.rstrip()[-1:]
    if not last or last in "+-*/(,":
        return False
    glued = before == before.rstrip()
    return not (glued and unit[0].isalpha() and (last.isalpha() or last == "_"))


def described(unit: str, bound: str = "") -> str:
    """What a number with this unit may look like: ``a length in mm, more than 0, such as 12 or "3/4 in"``."""
    about = QUANTITIES[unit]
    return ", ".join(part for part in (about.noun, bound, about.examples) if part)


def _of_old(text: str) -> None:
    """Refuses what some readers of YAML take for numbers, saying what to write instead."""
    word = text.strip()
    if re.fullmatch(r"[-+]?\.(inf|nan)", word, re.IGNORECASE):
        raise ExpressionError(f"{quoted(word)} is not a number that can be cut.", 0)
    based = re.fullmatch(r"([-+]?)(0[xX][0-9a-fA-F]{1,16}|0[oO][0-7]{1,16})", word)
    if based:
        number = int(based.group(2), 0)
        raise ExpressionError(
            f"{quoted(word)} is not a decimal number.", 0, remedy=f"write {based.group(1)}{number}."
        )
    if re.fullmatch(r"[-+]?\d[\d_]*_[\d_.]*", word):
        raise ExpressionError(
            f"Underscores stand in the number {quoted(word)}.", 0, remedy=f"write {word.replace('_', '')}."
        )
    if re.fullmatch(r"[-+]?\d+(:\d+)+(\.\d*)?", word):
        raise ExpressionError(f"{quoted(word)} looks like a time, not like a number.", 0)
