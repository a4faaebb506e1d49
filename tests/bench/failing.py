"""Ways to let a process meet a failing disk. They hold for the life of the process: call them in a forked child.

Calls are counted by Python's own audit events, which every opening, renaming, removing and listing raises before
it is done, and at the three calls that raise none: fsync, and syncfs and renameat2 through the C library.
"""

from __future__ import annotations

import builtins
import ctypes
import errno
import io
import os
import resource
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

EVENTS = frozenset(
    {"open", "os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.listdir", "os.scandir", "os.utime", "os.link"}
    | {"os.truncate", "os.symlink", "os.chmod", "fcntl.flock", "shutil.copyfile"}
)
"""Events of calls to the disk."""


def at_call(number: int, code: int | None, *, note: Path | None = None, within: str = "") -> None:
    """Let the call ``number`` (from 1) fail with the system's error ``code``, or the process die just before it.

    Counted are calls that name a path with ``within`` in it, or none. ``note``: a file that gets the number of
    calls when the process is about to end, for a first run that is to be counted (``number`` 0 disturbs nothing).
    """
    seen = 0
    quiet = False

    def call(name: str, path: object) -> None:
        nonlocal seen
        shown = os.fsdecode(path) if isinstance(path, str | bytes | os.PathLike) else ""
        if quiet or (shown and within not in shown) or shown.endswith((".py", ".pyc")):
            return
        seen += 1
        if seen == number:
            if code is None:
                os.kill(os.getpid(), signal.SIGKILL)
            raise OSError(code, os.strerror(code or 0), shown or name)

    sys.addaudithook(lambda event, given: call(event, given[0] if given else "") if event in EVENTS else None)
    _watch_flushes(call)
    if note is not None:
        ended = os._exit

        def counted(status: int) -> None:
            nonlocal quiet
            quiet = True
            note.write_text(str(seen), encoding="ascii")
            ended(status)

        os._exit = counted  # type: ignore[assignment] # it never returns, either


def _watch_flushes(call: Callable[[str, object], None]) -> None:
    from pipeline.packet import disk, exchange

    real_fsync, real_library = os.fsync, disk.c_library()

    def fsync(handle: int) -> None:
        call("fsync", "")
        real_fsync(handle)

    class Library:
        def __getattr__(self, name: str) -> Any:
            real = getattr(real_library, name)

            def function(*arguments: Any) -> int:
                try:
                    call(name, "")
                except OSError as failed:
                    ctypes.set_errno(failed.errno or 0)
                    return -1
                return int(real(*arguments))

            return function

    os.fsync = fsync
    library = Library()
    disk.c_library = exchange.c_library = lambda: library  # type: ignore[assignment] # stands for the cached one


def full_after(most: int) -> None:
    """Let the disk be full once ``most`` bytes were written."""
    left = most
    real = io.open

    class Full:
        """A file on a full disk: what still fits is written, like the system does."""

        def __init__(self, stream: Any) -> None:
            self.stream = stream

        def write(self, data: Any) -> int:
            nonlocal left
            if len(data) > left:
                self.stream.write(data[:left])
                self.stream.flush()
                left = 0
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            left -= len(data)
            return int(self.stream.write(data))

        def __getattr__(self, name: str) -> Any:
            return getattr(self.stream, name)

        def __enter__(self) -> Full:
            return self

        def __exit__(self, *_: object) -> None:
            self.stream.close()

    def opened(file: Any, mode: str = "r", *rest: Any, **more: Any) -> Any:
        stream = real(file, mode, *rest, **more)
        return Full(stream) if any(c in mode for c in "wax+") else stream

    io.open = builtins.open = opened  # type: ignore[assignment] # the same call, with an end


def small_files(most: int) -> None:
    """Let the system itself refuse to write any file beyond ``most`` bytes."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
