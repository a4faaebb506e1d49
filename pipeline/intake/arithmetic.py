"""Arithmetic as a recipe writes it: ``string_length / 2 + max(4, skin)``.

Numbers, names, ``+ - * /``, brackets, the functions below (angles in degrees, as everywhere in a
recipe) and ``pi``. What is written in digits is worked out in exact fractions.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from fractions import Fraction

from pipeline.core.text import listed, nearest, quoted
from pipeline.core.units import UNITS, Exact

MAX_DEPTH = 40
LARGEST = 1e9
"""Numbers beyond this (in mm, g, …) are refused: nothing a workshop cuts is a thousand kilometres long."""


class ExpressionError(ValueError):
    """What is wrong inside the text; ``column`` counts from 0 within it. ``unknown`` is a name that
    stands for nothing."""

    def __init__(
        self, wrong: str, column: int, *, expected: str = "", remedy: str = "", unknown: str = ""
    ) -> None:
        super().__init__(wrong)
        self.wrong, self.column, self.expected, self.remedy = wrong, column, expected, remedy
        self.unknown = unknown


class Unsettled(Exception):
    """A parameter is used whose own value is already reported as wrong."""


def _half_up(value: Exact, digits: Exact = Fraction(0)) -> Exact:
    if digits not in range(10):
        raise ValueError("round takes a number of digits from 0 to 9")
    scale = 10 ** int(digits)
    return Fraction(math.floor(Fraction(value) * scale + Fraction(1, 2)), scale)


def _root(value: Exact) -> Exact:
    if value < 0:
        raise ValueError("there is no square root of a number below zero")
    return math.sqrt(value)


def _tangent(degrees: Exact) -> Exact:
    if (Fraction(degrees) - 90) % 180 == 0:
        raise ValueError("tan has no value at a right angle")
    return math.tan(math.radians(degrees))


FUNCTIONS: Mapping[str, tuple[Callable[..., Exact], int, int]] = {
    "min": (min, 2, 20),
    "max": (max, 2, 20),
    "abs": (abs, 1, 1),
    "sqrt": (_root, 1, 1),
    "sin": (lambda a: math.sin(math.radians(a)), 1, 1),
    "cos": (lambda a: math.cos(math.radians(a)), 1, 1),
    "tan": (_tangent, 1, 1),
    "round": (_half_up, 1, 2),
}
"""Name → function, least and most arguments. sin, cos and tan take degrees; round takes halves up."""

CONSTANTS: Mapping[str, Exact] = {"pi": math.pi}

_TOKEN = re.compile(
    r"\s*(?:(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)|(?P<name>[A-Za-z_][A-Za-z0-9_]*)"
    r"|(?P<sign>[-+*/(),])|(?P<other>\S))"
)


def finite(value: Exact, column: int) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number) or abs(number) > LARGEST:
        raise ExpressionError(f"This number is larger than {LARGEST:,.0f}.", column)
    return number + 0.0  # −0 becomes 0


class Parser:
    """Recursive descent over one text; ``depth`` is bounded. Values stay exact fractions while they can."""

    def __init__(self, text: str, parameters: Mapping[str, float | None], wanted: str) -> None:
        self.text, self.parameters, self.wanted = text, parameters, wanted
        self.names: list[str] = []
        self.depth = 0
        self.tokens: list[tuple[str, str, int]] = []
        for match in _TOKEN.finditer(text):
            kind = str(match.lastgroup)
            self.tokens.append((kind, match.group(kind), match.start(kind)))
        self.tokens.append(("end", "", len(text.rstrip())))
        self.next = 0

    def peek(self) -> str:
        kind, word, _ = self.tokens[self.next]
        return word if kind == "sign" else ""

    def take(self) -> tuple[str, str, int]:
        token = self.tokens[self.next]
        self.next += 1
        return token

    def whole(self) -> Exact:
        value = self.sum()
        kind, word, column = self.tokens[self.next]
        if kind != "end":
            raise self.unexpected(kind, word, column)
        return value

    def unexpected(self, kind: str, word: str, column: int) -> ExpressionError:
        previous = self.tokens[self.next - 1][0] if self.next else ""
        if kind == "name" and previous == "number" and word not in self.parameters:
            units = [u for u in UNITS if u[0].isalpha() and (not self.wanted or UNITS[u][0] == self.wanted)]
            if word in UNITS:
                return ExpressionError(f"{quoted(word)} can't stand here; a unit comes last.", column)
            return ExpressionError(
                f"{quoted(word)} is not a unit known here.",
                column,
                expected=f"the unit {listed(u for u in units if u.isascii())}" if units else "no unit",
            )
        if word == "*" and self.next and self.tokens[self.next - 1][1] == "*":
            return ExpressionError("** is not known here.", column - 1, remedy='write "a * a" for a square.')
        if word in ("*", "/") and previous == "sign":
            return ExpressionError(
                f"{word} follows another sign.", column, expected="arithmetic with + - * / and brackets"
            )
        if kind == "end":
            if not self.text.strip():
                return ExpressionError("The text is empty.", 0)
            return ExpressionError(f"{quoted(self.text.strip())} ends too early.", max(0, column - 1))
        if kind in ("number", "name"):
            return ExpressionError(f"A sign such as + or * is missing before {quoted(word)}.", column)
        return ExpressionError(
            f"{quoted(word)} is not expected here.", column, expected="arithmetic with + - * / and brackets"
        )

    def sum(self) -> Exact:
        value = self.product()
        while self.peek() in ("+", "-"):
            _, sign, _ = self.take()
            other = self.product()
            value = value + other if sign == "+" else value - other
        return value

    def product(self) -> Exact:
        value = self.signed()
        while self.peek() in ("*", "/"):
            _, sign, column = self.take()
            other = self.signed()
            if sign == "/" and other == 0:
                raise ExpressionError("This divides by zero.", column)
            value = self.bounded(value * other if sign == "*" else value / other, column)
        return value

    def bounded(self, value: Exact, column: int) -> Exact:
        if isinstance(value, float) and not math.isfinite(value):
            raise ExpressionError("This comes to a number that is too large.", column)
        return value

    def signed(self) -> Exact:
        negative = False
        while self.peek() in ("+", "-"):
            negative ^= self.take()[1] == "-"
        value = self.value()
        return -value if negative else value

    def value(self) -> Exact:
        kind, word, column = self.take()
        if kind == "number":
            number = finite(float(word), column)
            return Fraction(word) if len(word) < 40 and abs(number) > 1e-30 else number
        if kind == "name":
            return self.call(word, column) if self.peek() == "(" else self.parameter(word, column)
        if word == "(" and kind == "sign":
            return self.inside(lambda: self.closed(self.sum, column), column)
        self.next -= 1
        raise self.unexpected(kind, word, column)

    def inside(self, read: Callable[[], Exact], column: int) -> Exact:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise ExpressionError(f"Brackets are nested more than {MAX_DEPTH} deep here.", column)
        value = read()
        self.depth -= 1
        return value

    def closed(self, read: Callable[[], Exact], column: int) -> Exact:
        value = read()
        if self.peek() != ")":
            raise ExpressionError("This bracket is never closed.", column)
        self.take()
        return value

    def parameter(self, word: str, column: int) -> Exact:
        if word in CONSTANTS:
            return CONSTANTS[word]
        if word not in self.parameters:
            guess = nearest(word, [*self.parameters, *FUNCTIONS])
            raise ExpressionError(
                f"{quoted(word)} is neither a number nor a parameter known here.",
                column,
                remedy=f'did you mean "{guess}"?' if guess else "",
                unknown=word,
            )
        value = self.parameters[word]
        if value is None:
            raise Unsettled
        self.names.append(word)
        return value

    def call(self, word: str, column: int) -> Exact:
        if word not in FUNCTIONS:
            raise ExpressionError(
                f"{quoted(word)} is not a function known here.", column, expected=listed(FUNCTIONS)
            )
        function, least, most = FUNCTIONS[word]
        bracket = self.take()[2]
        arguments: list[Exact] = []

        def read() -> Exact:
            arguments.append(self.sum())
            while self.peek() == ",":
                self.take()
                arguments.append(self.sum())
            return Fraction(0)

        self.inside(lambda: self.closed(read, bracket), bracket)
        if not least <= len(arguments) <= most:
            wanted = f"{least}" if least == most else f"{least} to {most}"
            raise ExpressionError(f"{word} takes {wanted} values, but {len(arguments)} are given.", column)
        try:
            return self.bounded(function(*arguments), column)
        except ValueError as error:
            raise ExpressionError(f"This can't be worked out: {error}.", column) from error
        except OverflowError as error:
            raise ExpressionError("This comes to a number that is too large.", column) from error
