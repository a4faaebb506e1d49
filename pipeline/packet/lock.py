"""One run at a time for each packet: a lock on a file that dies with the process that holds it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.core.errors import MachineFailed
from pipeline.graph.stale import FOLDER
from pipeline.packet.disk import plainly


def work_folder(out: Path) -> Path:
    """The hidden folder beside the packets for locks and half-made packets; made when it is missing."""
    folder = out / FOLDER
    with plainly(folder):
        folder.mkdir(parents=True, exist_ok=True)
    return folder


@contextmanager
def locked(out: Path, name: str) -> Iterator[None]:
    """Hold the packet ``name`` in the folder ``out``. The lock goes when the process ends, however it ends.

    Raises MachineFailed when another run holds it, or the file can't be opened.
    """
    path = work_folder(out) / f"lock-{name}"
    with plainly(path):
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o644)
    try:
        with plainly(path):
            taken = _taken(handle)
        if not taken:
            raise MachineFailed(
                f"Another run is writing {out / name} at this moment. Wait until it has ended, or stop it, "
                "then try again."
            )
        yield
    finally:
        os.close(handle)


def _taken(handle: int) -> bool:
    """Take the lock without waiting; False when someone else has it."""
    try:
        import fcntl
    except ImportError:  # not a POSIX system: the same promise from the C runtime
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore] # Windows only
        except OSError:
            return False
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True
