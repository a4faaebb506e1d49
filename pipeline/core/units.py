"""Units a recipe may write, each as an exact factor to the unit we count in.

Inch, foot, pound and ounce are exact by the international yard and pound agreement of 1959
(1 yd = 0.9144 m, 1 lb = 0.453 592 37 kg).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

Exact = Fraction | float

_INCH = Fraction(254, 10)
_POUND = Fraction(45359237, 100000)

UNITS: Mapping[str, tuple[str, Exact]] = {
    "mm": ("mm", Fraction(1)),
    "cm": ("mm", Fraction(10)),
    "m": ("mm", Fraction(1000)),
    "in": ("mm", _INCH),
    "inch": ("mm", _INCH),
    "inches": ("mm", _INCH),
    '"': ("mm", _INCH),
    "ft": ("mm", 12 * _INCH),
    "deg": ("deg", Fraction(1)),
    "°": ("deg", Fraction(1)),
    "rad": ("deg", 180.0 / math.pi),
    "g": ("g", Fraction(1)),
    "kg": ("g", Fraction(1000)),
    "oz": ("g", _POUND / 16),
    "lb": ("g", _POUND),
    "kg/m3": ("kg/m3", Fraction(1)),
    "kg/m³": ("kg/m3", Fraction(1)),
    "g/cm3": ("kg/m3", Fraction(1000)),
    "g/cm³": ("kg/m3", Fraction(1000)),
    "lb/ft3": ("kg/m3", (_POUND / 1000) / (12 * _INCH / 1000) ** 3),
    "mm/min": ("mm/min", Fraction(1)),
    "m/min": ("mm/min", Fraction(1000)),
    "mm/s": ("mm/min", Fraction(60)),
    "in/min": ("mm/min", _INCH),
    "rpm": ("rpm", Fraction(1)),
    "min": ("min", Fraction(1)),
    "s": ("min", Fraction(1, 60)),
    "h": ("min", Fraction(60)),
}
"""Unit as written → (the unit we count in, factor)."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a unit measures, in words: ``noun`` with its article, ``examples`` as written."""

    noun: str
    examples: str = ""


QUANTITIES: Mapping[str, Quantity] = {
    "mm": Quantity("a length in mm", 'such as 12, "12 mm" or "3/4 in"'),
    "deg": Quantity("an angle in degrees", 'such as 5 or "5 deg"'),
    "g": Quantity("a mass in g", 'such as 410 or "1.2 kg"'),
    "kg/m3": Quantity("a density in kg/m3", "such as 680"),
    "money": Quantity("a price", "such as 8.40"),
    "mm/min": Quantity("a feed in mm/min", 'such as 2500 or "2.5 m/min"'),
    "rpm": Quantity("a speed in turns a minute", "such as 18000"),
    "min": Quantity("a time in minutes", 'such as 20 or "30 s"'),
    "1": Quantity("a number"),
}
