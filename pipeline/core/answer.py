"""What a verb gives back: text for a person, data for a program, and the exit code."""

from __future__ import annotations

TYPE_CHECKING = False  # importing `typing` or `dataclasses` would cost a run with nothing to do 3 to 10 ms
if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any


class Answer:
    """``text`` goes to standard output, ``said`` (progress and messages) to standard error."""

    __slots__ = ("data", "exit_code", "said", "text")

    def __init__(
        self,
        *,
        exit_code: int = 0,
        text: str = "",
        said: tuple[str, ...] = (),
        data: Mapping[str, Any] | None = None,
    ) -> None:
        self.exit_code, self.text, self.said = exit_code, text, said
        self.data: Mapping[str, Any] = {} if data is None else data
