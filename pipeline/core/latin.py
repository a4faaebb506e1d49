"""Where text is made safe for paper: what the built-in PDF faces can't show never becomes a box.

The faces of every PDF reader show the letters of Windows-1252 and no others. A letter with an accent that they
lack loses the accent, every other letter becomes a question mark, and marks that reorder text or can't be seen
are left out, so that a name reads as it stands in the file.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

LONGEST = 400
"""Letters of one text on paper; more have no room anywhere (a title may have 1000)."""
ENCODING = "cp1252"
UNKNOWN = "?"


@lru_cache(maxsize=4096)
def latin(text: str) -> str:
    """Text as the built-in PDF faces can show it, one line, at most LONGEST letters; never raises."""
    shown = "".join(_letter(c) for c in unicodedata.normalize("NFC", text))
    return shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"


def lost(text: str) -> bool:
    """True where a letter of the text can't be shown and becomes a question mark."""
    return latin(text).count(UNKNOWN) > text.count(UNKNOWN)


def _letter(c: str) -> str:
    if " " <= c <= "~":
        return c
    kind = unicodedata.category(c)
    if kind in ("Zs", "Zl", "Zp") or c in "\t\r\n":
        return " "
    if kind[0] == "C" or kind in ("Mn", "Me"):  # controls, marks of direction, accents that found no letter
        return ""
    if _known(c):
        return c
    base = "".join(v for v in unicodedata.normalize("NFKD", c) if not unicodedata.combining(v))
    return base if base and all(" " <= v <= "~" or _known(v) for v in base) else UNKNOWN


def _known(c: str) -> bool:
    try:
        c.encode(ENCODING)
    except UnicodeEncodeError:
        return False
    return True
