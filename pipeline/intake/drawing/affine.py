"""Affine maps of the plane and the ``transform`` notations of SVG 2 and CSS.

Points are complex numbers (x + iy). Sources: SVG 2, coords; CSS Transforms 1, section 13.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from pipeline.core.text import quoted

LARGEST = 1e9
"""Larger numbers than this are no drawing."""
DEGREES = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}


@dataclass(frozen=True, slots=True)
class Affine:
    """(x, y) → (a x + c y + e, b x + d y + f), as in SVG's matrix(a b c d e f)."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def __matmul__(self, first: Affine) -> Affine:
        """The map that does ``first`` first: (self @ first)(z) = self(first(z))."""
        return Affine(
            self.a * first.a + self.c * first.b,
            self.b * first.a + self.d * first.b,
            self.a * first.c + self.c * first.d,
            self.b * first.c + self.d * first.d,
            self.a * first.e + self.c * first.f + self.e,
            self.b * first.e + self.d * first.f + self.f,
        )

    def __call__(self, z: complex) -> complex:
        """Map a point."""
        return complex(self.a * z.real + self.c * z.imag + self.e, self.b * z.real + self.d * z.imag + self.f)

    def turn(self, v: complex) -> complex:
        """Map a vector (no shift)."""
        return complex(self.a * v.real + self.c * v.imag, self.b * v.real + self.d * v.imag)

    @property
    def determinant(self) -> float:
        return self.a * self.d - self.b * self.c

    @property
    def size(self) -> float:
        """Mean scale: √|determinant|."""
        return math.sqrt(abs(self.determinant))

    @property
    def sound(self) -> bool:
        """False when its numbers have run away, or when it flattens everything to a line or a point."""
        far = max(abs(v) for v in (self.a, self.b, self.c, self.d, self.e, self.f))
        return far <= LARGEST * 1000 and abs(self.determinant) >= 1e-18


IDENTITY = Affine()


def shift(x: float, y: float) -> Affine:
    return Affine(e=x, f=y)


def scale(x: float, y: float) -> Affine:
    return Affine(a=x, d=y)


def rotation(degrees: float) -> Affine:
    """Multiples of 90° are exact."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}.get(degrees % 360)
    c, s = quarter or (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    return Affine(c, s, -s, c)


class Malformed(ValueError):
    """Text that doesn't follow its notation: ``index`` is the character (from 0) where it breaks."""

    def __init__(self, wrong: str, index: int = 0) -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.index = index


_FUNCTION = re.compile(r"\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)\s*")
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_ARGUMENT = re.compile(rf"\s*({_NUMBER})([A-Za-z%]*)\s*")
_COUNTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}
_CSS_COUNTS = {
    **_COUNTS,
    "rotate": (1,),
    "translateX": (1,),
    "translateY": (1,),
    "scaleX": (1,),
    "scaleY": (1,),
    "skew": (1, 2),
}


def parse_transform(text: str, *, css: bool = False) -> Affine:
    """The map of a ``transform`` attribute, or of the CSS property. Raises Malformed."""
    total, at = IDENTITY, 0
    if not text.strip() or text.strip() == "none":
        return total
    counts = _CSS_COUNTS if css else _COUNTS
    while at < len(text):
        found = _FUNCTION.match(text, at)
        if not found:
            raise Malformed(f"{quoted(text[at:].strip(), 12)} isn't a transformation", at)
        name, inside, start = found[1], found[2], found.start(2)
        if name not in counts:
            raise Malformed(f"the transformation {quoted(name)} isn't known here", found.start(1))
        values = _arguments(name, inside, start, css)
        if len(values) not in counts[name]:
            allowed = " or ".join(str(n) for n in counts[name])
            raise Malformed(f"{quoted(name)} takes {allowed} numbers, not {len(values)}", found.start(1))
        total = total @ _made(name, values)
        at = found.end()
    return total


def _arguments(name: str, inside: str, start: int, css: bool) -> list[float]:
    values: list[float] = []
    at = 0
    while at < len(inside) and inside[at:].strip():
        if values and inside[at] == ",":
            at += 1
        found = _ARGUMENT.match(inside, at)
        if not found:
            raise Malformed(f"{quoted(inside[at:].strip(), 12)} isn't a number in {quoted(name)}", start + at)
        if not abs(float(found[1])) <= LARGEST:
            raise Malformed(f"the number {quoted(found[1], 20)} is too large for a drawing", start + at)
        values.append(_plain(name, float(found[1]), found[2], len(values), css, start + at))
        at = found.end()
    return values


def _plain(name: str, value: float, unit: str, n: int, css: bool, at: int) -> float:
    """A number in user units or degrees."""
    angle = (name == "rotate" and n == 0) or name.startswith("skew")
    if not unit and (not css or value == 0 or name in ("matrix", "scale", "scaleX", "scaleY")):
        return value
    if css and angle and unit.lower() in DEGREES and unit:
        return value * DEGREES[unit.lower()]
    if css and name.startswith("translate") and unit.lower() in PIXELS and unit:
        return value * PIXELS[unit.lower()]
    raise Malformed(f"{quoted(f'{value:g}{unit}')} isn't a value that {quoted(name)} takes", at)


PIXELS = {
    "": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6, "pt": 96 / 72, "pc": 16.0,
}  # fmt: skip
"""User units (CSS pixels) of each unit, by CSS Values; keys in lower case."""


def _made(name: str, v: list[float]) -> Affine:
    if name == "matrix":
        return Affine(*v)
    if name == "translate":
        return shift(v[0], v[1] if len(v) > 1 else 0.0)
    if name == "translateX":
        return shift(v[0], 0.0)
    if name == "translateY":
        return shift(0.0, v[0])
    if name == "scale":
        return scale(v[0], v[-1])
    if name == "scaleX":
        return scale(v[0], 1.0)
    if name == "scaleY":
        return scale(1.0, v[0])
    if name == "rotate":
        about = shift(v[1], v[2]) if len(v) == 3 else IDENTITY
        back = shift(-v[1], -v[2]) if len(v) == 3 else IDENTITY
        return about @ rotation(v[0]) @ back
    tan = [math.tan(math.radians(a)) for a in v]
    if name == "skewX":
        return Affine(c=tan[0])
    if name == "skewY":
        return Affine(b=tan[0])
    return Affine(c=tan[0], b=tan[1] if len(tan) > 1 else 0.0)
