"""Where something was written, so that a late error can still point at the line."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Place:
    """A spot in a text file, or an object of a drawing.

    ``line`` and ``column`` count from 1; 0 means "the file as a whole". ``text`` is the source
    line itself (shown under the message with a caret), ``object`` the id of a drawn element.
    """

    file: str
    line: int = 0
    column: int = 0
    text: str = ""
    object: str = ""

    def __str__(self) -> str:
        spot = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{spot} ({self.object})" if self.object else spot
