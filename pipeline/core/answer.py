"""What a verb gives back: text for a person, data for a program, and the exit code."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """``text`` goes to standard output, ``said`` (progress and messages) to standard error."""

    exit_code: int = 0
    text: str = ""
    said: tuple[str, ...] = ()
    data: Mapping[str, Any] = field(default_factory=dict)
