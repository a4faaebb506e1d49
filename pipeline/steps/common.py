"""What the step kinds share and that needs no geometry: sheets, directions, places, rules of fields."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.place import Place
from pipeline.core.recipe import Recipe, Sheet, Step
from pipeline.core.shop import Shop
from pipeline.core.text import listed, nearest, quoted

if TYPE_CHECKING:
    from pipeline.steps.values import World

UNIT = {
    "+x": (1.0, 0.0),
    "-x": (-1.0, 0.0),
    "+y": (0.0, 1.0),
    "-y": (0.0, -1.0),
    "nut": (1.0, 0.0),
    "bridge": (-1.0, 0.0),
    "bass": (0.0, 1.0),
    "treble": (0.0, -1.0),
}
"""Directions of the design frame as unit vectors; bass is up until a design is mirrored (`mirror.py`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One physical sheet and who cuts it. ``letter`` tells it from others of the same stock."""

    stock: str
    letter: str
    thickness_mm: float
    sheet: Sheet
    shop: Shop


def sheet_of(world: World, step: Step, path: str, name: str) -> Stock:
    """The sheet that a step names (``birch12 A``); the letter may stay away where there is only one.

    Raises Refused, with the place of the field ``path``, when the recipe has no such sheet.
    """
    recipe = world.recipe
    stock, letter = (name, "") if name in recipe.sheets else _split(name)
    sheet = recipe.sheets.get(stock)
    if sheet is None:
        raise refuse(
            f"The recipe has no sheet called {quoted(name)}.",
            place=place_in(step, path),
            expected=one_of_words(recipe.sheets, name),
        )
    letters = list(sheet.measured)
    if not letter and len(letters) > 1:
        raise refuse(
            f"{stock} stands for several sheets, so the letter is needed.",
            place=place_in(step, path),
            expected=listed(f"{stock} {v}" for v in letters),
        )
    letter = letter or letters[0]
    if letter not in sheet.measured:
        raise refuse(
            f"{stock} has no sheet with the letter {letter}.",
            place=place_in(step, path),
            expected=listed(f"{stock} {v}" for v in letters),
        )
    return Stock(
        stock=stock,
        letter=letter,
        thickness_mm=sheet.measured[letter],
        sheet=sheet,
        shop=recipe.shop_of(stock),
    )


def _split(name: str) -> tuple[str, str]:
    stock, _, letter = name.rpartition(" ")
    return (stock.strip(), letter) if stock else (name, "")


# -- places and problems ---------------------------------------------------------------------------
def place_in(step: Step, path: str) -> Place:
    """Where a field is written, else the nearest thing around it, else the step."""
    while path and path not in step.places:
        path = path.rpartition(".")[0]
    return step.place(path)


def given(spec: Any, names: Iterable[str]) -> list[str]:
    """Those of the named fields that a recipe has filled in."""
    return [n for n in names if getattr(spec, n) not in (None, False, "", ())]


def exactly_one(step: Step, names: Sequence[str], what: str) -> list[Problem]:
    """A problem unless exactly one of the fields is given; ``what`` says what they are for."""
    found = given(step.spec, names)
    if len(found) == 1:
        return []
    words = listed(f"`{n}`" for n in names)
    if not found:
        return [
            Problem(
                wrong=f"{step.name} doesn't say {what}.",
                place=step.place(),
                expected=f"exactly one of {words}",
            )
        ]
    both = " and ".join(f"`{n}`" for n in found)
    return [
        Problem(
            wrong=f"{step.name} gives {both}, but only one of them can govern {what}.",
            place=place_in(step, found[1]),
            expected=f"exactly one of {words}",
        )
    ]


def direction_problems(step: Step, path: str, direction: str | None, recipe: Recipe) -> list[Problem]:
    """Directions named after the instrument are understood only where there is a fretboard."""
    if direction is None or direction[0] in "+-" or any(s.kind == "fretboard" for s in recipe.steps.values()):
        return []
    return [
        Problem(
            wrong=f"The direction {direction} needs a step of kind fretboard, and this recipe has none.",
            place=place_in(step, path),
            expected="+x, -x, +y or -y",
        )
    ]


def refuse_all(problems: Iterable[Problem]) -> None:
    """Raise all problems at once; nothing when there are none."""
    found = tuple(problems)
    if found:
        raise Refused(found)


MOST = 1000
"""So many of one thing a step makes at most; more is a slip of a unit, and no shop would cut it."""


def few_enough(step: Step, path: str, count: float, what: str) -> None:
    """Raises Refused, at a field of the step, when that asks for more than MOST of something."""
    if count > MOST:
        raise refuse(
            f"{step.name} would get {count:,.0f} {what}.",
            place=place_in(step, path),
            expected=f"at most {MOST}",
            remedy="look at the unit of this length",
        )


def one_of_words(names: Iterable[str], wrong: str) -> str:
    """The nearest valid word first, then what else there is."""
    known = list(names)
    if not known:
        return "there are none in this file"
    near = nearest(wrong, known)
    words = ", ".join(known[:12]) + (", …" if len(known) > 12 else "")
    return f"{near}, perhaps? There are: {words}" if near else f"one of: {words}"


def many(value: str | float | tuple[Any, ...]) -> tuple[Any, ...]:
    """A field that takes one or several, as several."""
    return value if isinstance(value, tuple) else (value,)


def mm(value: float) -> str:
    """Millimetres in a sentence: two decimals at most, no trailing zeros, no −0."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
