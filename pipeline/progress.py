"""One line on the terminal that says what is being done, for a person who watches; nothing for anybody else.

The line is written over itself with a carriage return and blanks alone: no colour, no escape sequences.
"""

from __future__ import annotations

import os

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Mapping
    from types import TracebackType
    from typing import TextIO

WIDE = 79
"""Columns of a terminal that does not tell how many it has, less the one that would break the line."""


class Progress:
    """A line that is rewritten in place, for a ``with`` block: call it with words; at the end it is wiped.

    Where the terminal can't go back in a line, a line of its own is written for each new ``head`` (a design). A
    stream that nobody watches (a file, a pipe, none at all) gets nothing.
    """

    def __init__(self, stream: TextIO | None, environ: Mapping[str, str] = os.environ) -> None:
        watched = stream is not None and not stream.closed and stream.isatty()
        self._stream = stream if watched else None
        self._plain = environ.get("TERM", "dumb") in ("", "dumb")
        self._more = "…" if "utf" in (getattr(stream, "encoding", None) or "").lower() else "..."
        self._shown = 0
        self._head = ""

    def __call__(self, head: str, doing: str = "") -> None:
        """Show ``head`` (which design, of how many) and what is being done to it."""
        if self._stream is None:
            return
        if self._plain:
            if head != self._head:
                self._put(f"{head} {self._more}\n")
            self._head = head
            return
        words = f"{head}: {doing} {self._more}" if doing else f"{head} {self._more}"
        wide = _columns(self._stream)
        words = words if len(words) <= wide else words[: max(0, wide - len(self._more))] + self._more
        before, self._shown = self._shown, len(words)
        self._put("\r" + words + " " * (before - len(words)))

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            self._put("\r" + " " * self._shown + "\r")
            self._shown = 0

    def _put(self, text: str) -> None:
        """A terminal that goes away, or can't show a sign, stops no work: it is told nothing more."""
        stream = self._stream
        if stream is None:
            return
        try:
            stream.write(text)
            stream.flush()
        except (OSError, ValueError):  # UnicodeEncodeError is a ValueError
            self._stream, self._shown = None, 0


def _columns(stream: TextIO) -> int:
    """Columns that a line may fill without breaking."""
    try:
        columns = os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        columns = 0
    return columns - 1 if columns > 1 else WIDE
