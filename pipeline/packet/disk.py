"""The disk's failures in plain sentences, and making sure that bytes have reached it."""

from __future__ import annotations

import ctypes
import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.core.errors import MachineFailed

_SENTENCES = {
    errno.ENOSPC: "There is no space left on the disk for {path}.",
    errno.EDQUOT: "Your share of the disk is used up; there is no space left for {path}.",
    errno.EACCES: "Writing {path} is not permitted.",
    errno.EPERM: "Writing {path} is not permitted.",
    errno.EROFS: "{path} lies on a disk that can only be read.",
    errno.ENAMETOOLONG: "The name of {path} is too long for this disk.",
}


AS_IT_WAS = "The packet that was there before is as it was."


@contextmanager
def plainly(path: Path, stands: str = AS_IT_WAS) -> Iterator[None]:
    """Turn the system's errors into MachineFailed with a sentence that names the file, and one on what stands."""
    try:
        yield
    except OSError as e:
        shown = e.filename if isinstance(e.filename, str) else str(path)
        known = _SENTENCES.get(e.errno or 0)
        said = known.format(path=shown) if known else f"{shown} can't be written or read: {e.strerror or e}."
        raise MachineFailed(f"{said} {stands}") from e


@cache
def c_library() -> Any:
    """The C library with its own functions, or None where there is none to be had."""
    try:
        return ctypes.CDLL(None, use_errno=True)
    except (OSError, TypeError):  # no such thing on this system
        return None


def settle(folder: Path) -> None:
    """Wait until everything in a folder is on the disk, so that a power cut can't empty a file later.

    One call for the file system where there is one, else file by file. Raises OSError.
    """
    flush = getattr(c_library(), "syncfs", None)
    if flush is not None:
        handle = os.open(folder, os.O_RDONLY)
        try:
            if flush(handle) == 0:
                return
        finally:
            os.close(handle)
    for path in [*sorted(folder.rglob("*")), folder]:
        settle_one(path)


def settle_one(path: Path) -> None:
    """Wait until one file, or the entries of one folder, are on the disk. Raises OSError."""
    if path.is_dir() and os.name != "posix":
        return  # only POSIX systems open folders
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
