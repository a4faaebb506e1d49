"""Whether an element is filled and stroked, from its style (SVG 2, painting)."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

_ALPHA = re.compile(r"(?:rgba?|hsla?)\(.*[,/]\s*([\d.]+%?)\s*\)", re.IGNORECASE | re.DOTALL)
_HEX = re.compile(r"#(?:[0-9a-fA-F]{6}([0-9a-fA-F]{2})|[0-9a-fA-F]{3}([0-9a-fA-F]))")
_SERVER = re.compile(r"""url\(\s*["']?#([^"')]*)["']?\s*\)\s*(.*)""", re.DOTALL)

Style = Mapping[str, str]
Lookup = Callable[[str], str]
"""The tag of the element with an id, "" when there is none."""


def is_painted(value: str, lookup: Lookup) -> bool:
    """Whether a fill or stroke value leaves any paint."""
    text = value.strip().lower()
    if text in ("none", "transparent", ""):
        return False
    server = _SERVER.fullmatch(value.strip())
    if server:
        if lookup(server[1]):
            return True
        return is_painted(server[2], lookup) if server[2].strip() else False
    hexa = _HEX.fullmatch(text)
    if hexa:
        return (hexa[1] or hexa[2]).strip("0") != ""
    comma = text.startswith(("rgba", "hsla")) or "/" in text
    alpha = _ALPHA.fullmatch(text) if comma else None
    return not (alpha and number(alpha[1], 1.0) == 0)


def pattern_of(value: str, lookup: Lookup) -> bool:
    """Whether the paint is a pattern: a picture made of shapes that aren't read."""
    server = _SERVER.fullmatch(value.strip())
    return bool(server) and lookup(server[1] if server else "") == "pattern"


def filled(style: Style, lookup: Lookup) -> bool:
    return number(style.get("fill-opacity", "1"), 1.0) > 0 and is_painted(style.get("fill", "black"), lookup)


def stroked(style: Style, lookup: Lookup) -> bool:
    width = re.match(r"[+]?[\d.]+(?:e[+-]?\d+)?", style.get("stroke-width", "1").strip(), re.IGNORECASE)
    has_width = width is None or number(width[0], 1.0) > 0
    return (
        has_width
        and number(style.get("stroke-opacity", "1"), 1.0) > 0
        and is_painted(style.get("stroke", "none"), lookup)
    )


def number(text: str, otherwise: float) -> float:
    """A number or percentage, ``otherwise`` when it is neither."""
    text = text.strip()
    share = 100.0 if text.endswith("%") else 1.0
    try:
        return float(text.rstrip("%")) / share
    except ValueError:
        return otherwise
