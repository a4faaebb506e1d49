"""The base of all errors that reach a person, apart from `errors.py`: a run with nothing to do needs no more."""

from __future__ import annotations


class MouldloftError(Exception):
    """Base of all errors that reach the person at the command line."""

    exit_code: int = 3

    def show(self) -> str:
        return str(self)


class MachineFailed(MouldloftError):
    """The machine failed us (disk, permissions, a held lock): exit code 3."""
