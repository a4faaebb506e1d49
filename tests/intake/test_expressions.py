"""Numbers with units and arithmetic: outside values, exactness, and where a message points."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.units import UNITS
from pipeline.intake.arithmetic import ExpressionError, Unsettled
from pipeline.intake.expressions import evaluate, quantity

PARAMETERS = {"skin": 4.0, "string_length": 430.0, "m": 7.0, "lost": None}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # The inch is 25.4 mm exactly (international yard and pound agreement, 1959).
        ("3/4 in", "mm", 19.05),
        ("1 1/2 in", "mm", 38.1),
        ("-1 1/2 in", "mm", -38.1),
        ('25 1/2"', "mm", 647.7),
        ("1/64 in", "mm", 0.396875),
        ("12 mm", "mm", 12.0),
        ("12mm", "mm", 12.0),
        ("1.2 cm", "mm", 12.0),
        ("1 ft", "mm", 304.8),
        ("2 m", "mm", 2000.0),
        ("5 deg", "deg", 5.0),
        ("1.2 kg", "g", 1200.0),
        ("1 lb", "g", 453.59237),
        ("1 oz", "g", 28.349523125),
        ("0.68 g/cm3", "kg/m3", 680.0),
        ("2.5 m/min", "mm/min", 2500.0),
        ("30 s", "min", 0.5),
        ("38 + 0.5", "money", 38.5),
    ],
)
def test_units_are_exact(text: str, unit: str, value: float) -> None:
    """Digits and units are worked out in fractions and rounded once."""
    assert evaluate(text, unit, {}) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("string_length / 2", 215.0),
        ("skin + 2 mm", 6.0),
        ("2*m", 14.0),  # the parameter m, not metres
        ("3 m", 3000.0),  # metres, not the parameter
        ("max(skin, 3, m) - min(1, 2)", 6.0),
        ("abs(-3) + sqrt(16)", 7.0),
        ("2 - -3", 5.0),
        ("2 * (3 + 4) / 7", 2.0),
        ("8 / 2 / 2", 2.0),
        ("10 - 4 - 3", 3.0),
        ("0.1 + 0.2", 0.3),
        ("round(2.5)", 3.0),
        ("round(-2.5)", -2.0),
        ("round(2.345, 2)", 2.35),
        ("1e3", 1000.0),
        (".5", 0.5),
        ("5.", 5.0),
    ],
)
def test_arithmetic(text: str, value: float) -> None:
    """Usual precedence, left to right; decimals are exact; halves round up."""
    assert evaluate(text, "mm", PARAMETERS) == value


def test_density_in_pounds() -> None:
    """1 lb/ft³ = 1.601 846 E+01 kg/m³ (NIST SP 811, appendix B.8; digits from memory)."""
    assert evaluate("1 lb/ft3", "kg/m3", {}) == pytest.approx(16.01846, abs=5e-6)


def test_angles_of_functions_are_degrees() -> None:
    """sin 30° = 1/2, cos 60° = 1/2, tan 45° = 1, and pi to its seventh decimal."""
    assert evaluate("sin(30)", "1", {}) == pytest.approx(0.5, rel=1e-15)
    assert evaluate("cos(60)", "1", {}) == pytest.approx(0.5, rel=1e-15)
    assert evaluate("tan(45)", "1", {}) == pytest.approx(1.0, rel=1e-15)
    assert evaluate("pi", "1", {}) == pytest.approx(3.1415927, abs=5e-8)


def test_zero_has_no_sign() -> None:
    """−0 would show in an exported coordinate."""
    assert str(evaluate("-0", "mm", {})) == "0.0"
    assert str(evaluate("0 * -1", "mm", {})) == "0.0"


@pytest.mark.parametrize(
    ("text", "column", "words"),
    [
        ("1.2 kg", 4, "is a mass, but a length is wanted"),
        ("5 °", 2, "is an angle, but a length is wanted"),
        ("12 mn", 3, "is not a unit"),
        ("strng_length / 2", 0, "neither a number nor a parameter"),
        ("2 + strng_length", 4, "neither a number nor a parameter"),
        ("skin in", 5, "would convert it twice"),
        ("12,5", 2, "A comma stands in the number"),
        ("1-1/2 in", 1, "a sum or a difference"),
        ("1 / (skin - 4)", 2, "divides by zero"),
        ("2 ** 3", 2, "** is not known"),
        ("2 ^ 3", 2, "is not expected here"),
        ("2 skin", 2, "is missing before"),
        ("(1 + 2", 0, "never closed"),
        ("1 + 2)", 5, "is not expected here"),
        ("1 +", 2, "ends too early"),
        ("", 0, "is empty"),
        ("sqrt(-4)", 0, "no square root"),
        ("tan(90)", 0, "no value at a right angle"),
        ("sqrt(1, 2)", 0, "takes 1 values"),
        ("eval(1)", 0, "not a function"),
        ("__import__('os')", 0, "not a function"),
        ("skin.real", 4, "is not expected here"),
        ("1e400", 0, "larger than"),
        ("1e9 * 10", 0, "larger than"),
        (".inf", 0, "not a number that can be cut"),
        ("0x1F", 0, "not a decimal number"),
        ("1_000", 0, "Underscores"),
        ("1:30", 0, "looks like a time"),
        ("(" * 60 + "1" + ")" * 60, 40, "nested more than 40"),
        ("1+" * 300 + "1", 0, "at most 400"),
    ],
)
def test_a_mistake_is_said_where_it_stands(text: str, column: int, words: str) -> None:
    """The message names the fault, the column points into the text."""
    with pytest.raises(ExpressionError) as caught:
        evaluate(text, "mm", PARAMETERS)
    assert words in caught.value.wrong
    assert caught.value.column == column


def test_a_parameter_already_reported_is_not_reported_again() -> None:
    """Its users are silent, so that one mistake gives one message."""
    with pytest.raises(Unsettled):
        evaluate("lost / 2", "mm", PARAMETERS)


NUMBERS = st.one_of(
    st.integers(0, 10**6).map(str),
    st.decimals(0, 1000, places=3, allow_nan=False).map(lambda d: format(d, "f")),
)
SUMS = st.recursive(
    NUMBERS,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(["+", "-", "*"]), inner).map(lambda t: f"{t[0]} {t[1]} {t[2]}"),
        inner.map(lambda t: f"({t})"),
        inner.map(lambda t: f"-({t})"),
        st.tuples(inner, st.integers(1, 99)).map(lambda t: f"({t[0]}) / {t[1]}"),
    ),
    max_leaves=12,
)


@given(SUMS)
def test_arithmetic_agrees_with_python(text: str) -> None:
    """Python's own evaluation of the same text is the outside check, to float precision."""
    theirs = eval(text)
    if len(text) > 400 or abs(theirs) > 9e8:
        return
    ours = evaluate(text, "1", {})
    size = max(1.0, abs(theirs), *(float(n) for n in text.replace("(", " ").replace(")", " ").split() if _is(n)))
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-9 * size**2)


def _is(word: str) -> bool:
    return word.replace(".", "", 1).isdigit()


@given(st.text(max_size=60))
def test_any_text_is_a_number_or_a_message(text: str) -> None:
    """Nothing else leaves the evaluation, and a column never points outside the text."""
    column = 0
    try:
        assert abs(evaluate(text, "mm", PARAMETERS)) <= 1e9
    except ExpressionError as error:
        column = error.column
    except Unsettled:
        column = text.index("lost")
    assert 0 <= column <= len(text)


@given(st.fractions(0, 1000, max_denominator=64), st.sampled_from(sorted(UNITS)))
def test_every_unit_is_read_back(number: Fraction, unit: str) -> None:
    """A number and a unit come out as they were written, whatever the unit."""
    value, written = quantity(f"{number} {unit}", {})
    assert (value, written) == (number, unit)
