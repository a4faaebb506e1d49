"""Words for people: quoting, listing, the nearest valid word, and text that is safe to print."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable

MAX_TEXT = 1000
"""Longest free text (title, note …) in characters."""

# Marks that reorder the text around them (Unicode Standard Annex #9): one could hide what a name says.
_REORDERING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def quoted(text: str, limit: int = 40) -> str:
    """``text`` in straight quotes, cut to ``limit`` characters, control characters as ``?``."""
    clean = "".join("?" if unsafe(c) else c for c in text[: limit + 1])
    return f'"{clean[:limit]}…"' if len(text) > limit else f'"{clean}"'


def unsafe(character: str) -> bool:
    """True for control characters, line separators and marks that reorder text."""
    return character in _REORDERING or unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")


def text_problem(text: str) -> str:
    """A sentence on why this text can't be printed in a packet, or "" when it can."""
    if len(text) > MAX_TEXT:
        return f"This text has {len(text)} characters; at most {MAX_TEXT} are allowed."
    for character in text:
        if unsafe(character):
            code = f"U+{ord(character):04X}"
            return f"{quoted(text)} holds an invisible character ({code}) that can't be printed."
    return ""


def listed(words: Iterable[str], last: str = "or") -> str:
    """``a``, ``a or b``, ``a, b or c``."""
    all_words = list(words)
    if len(all_words) < 2:
        return "".join(all_words)
    return f"{', '.join(all_words[:-1])} {last} {all_words[-1]}"


def nearest(word: str, words: Iterable[str]) -> str:
    """The valid word that looks most like ``word``, or "" when none does. Case doesn't count."""
    choices = {w.lower(): w for w in sorted(words, reverse=True)}
    found = difflib.get_close_matches(word.lower()[:60], sorted(choices), n=1, cutoff=0.6)
    return choices[found[0]] if found else ""
