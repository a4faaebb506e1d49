"""The store of results under ``out/.mouldloft/store``: one file an entry, named by what it holds or stands for.

It is disposable. A lost, damaged or half-written entry is an entry that isn't there: whoever asked does the work
again. Each entry begins with a hash of its key and of the rest, which is looked at whenever it is read. They are
written
beside and renamed, so two runs may share a store. It is bounded: what was used longest ago goes first. The clock
decides what goes, never what is read.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from pipeline.graph.stale import FOLDER, read

MOST_BYTES = 1_000_000_000
"""What a store may hold; a packet leaves about 3 MB in it."""
LEFT = 0.75
"""Once it holds more, so much of that is left, so that not every run has to tidy up."""
UNUSED_S = 60 * 24 * 3600.0
"""Entries that nobody has asked for in 60 days go when the store is pruned."""
_AGAIN_S = 24 * 3600.0  # so seldom is it noted that an entry was used
_SUM = 20
_GROWN = "grown"


class Store:
    """Entries by key (40 hex digits) in the folder of packets ``out``. A disk that won't take them is no fault:
    the store then keeps nothing. A ``fresh`` one shows only what was put into it by itself."""

    def __init__(self, out: str | os.PathLike[str], *, fresh: bool = False, most_bytes: int = MOST_BYTES) -> None:
        self.folder = Path(out) / FOLDER / "store"
        self.fresh = fresh
        self.most_bytes = most_bytes
        self._own: set[str] = set()
        self._written = 0
        self._made: set[str] = set()

    def get(self, key: str) -> bytes | None:
        """What was put under ``key``, None when it is lost, damaged or was never there."""
        if self.fresh and key not in self._own:
            return None
        path = self._path(key)
        try:
            with open(path, "rb") as stream:
                data = stream.read()
                used = os.fstat(stream.fileno()).st_mtime
        except OSError:
            return None
        held = data[_SUM:]
        if _sum(key, held) != data[:_SUM]:
            _drop(path)  # else nobody would write it anew
            return None
        self._used(path, used)
        return held

    def put(self, key: str, held: bytes) -> None:
        """Keep ``held`` under ``key``, in place of what was there."""
        path = self._path(key)
        beside = f"{path}.{os.getpid()}"
        try:
            if key[:2] not in self._made:
                os.makedirs(os.path.dirname(path), exist_ok=True)
                self._made.add(key[:2])
            with open(beside, "wb") as stream:
                stream.write(_sum(key, held) + held)
            os.replace(beside, path)
        except OSError:
            _drop(beside)
            return
        self._written += len(held) + _SUM
        self._own.add(key)

    def has(self, key: str) -> bool:
        """True when there is an entry; whether it is sound shows when it is read."""
        return (key in self._own or not self.fresh) and os.path.exists(self._path(key))

    def undo(self) -> None:
        """Drop all that was put by this one."""
        for key in sorted(self._own):
            _drop(self._path(key))
        self._own.clear()

    def close(self) -> None:
        """At the end of a run: tidy up when the store may have grown over its bound."""
        if not self._written:
            return
        count = self.folder / _GROWN
        try:
            grown = int(count.read_text() or 0) if count.exists() else self.most_bytes
        except (OSError, ValueError):
            grown = self.most_bytes
        grown += self._written
        self._written = 0
        if grown > self.most_bytes * (1 - LEFT):
            self.prune()
            grown = 0
        self._count(grown)

    def prune(self, *, unused_s: float | None = None) -> tuple[int, int]:
        """Drop what was used longest ago until the bound holds, and all that is older than ``unused_s``.

        Gives how many entries went and how many bytes they held.
        """
        import time

        entries = sorted(self._entries())
        held = sum(size for _, size, _ in entries)
        goal = self.most_bytes if held <= self.most_bytes else int(self.most_bytes * LEFT)
        oldest = time.time() - unused_s if unused_s is not None else None
        gone = freed = 0
        for used, size, path in entries:
            if held - freed <= goal and (oldest is None or used >= oldest):
                break
            if _drop(path):
                gone, freed = gone + 1, freed + size
        return gone, freed

    def _entries(self) -> Iterator[tuple[float, int, str]]:
        """(time of last use, bytes, path) of every entry and of what killed runs left half written."""
        try:
            folders = [e.path for e in os.scandir(self.folder) if e.is_dir(follow_symlinks=False)]
        except OSError:
            return
        for folder in folders:
            try:
                for entry in os.scandir(folder):
                    found = entry.stat(follow_symlinks=False)
                    yield found.st_mtime, found.st_size, entry.path
            except OSError:  # gone meanwhile: another run tidies up too
                continue

    def _count(self, grown: int) -> None:
        beside = f"{self.folder / _GROWN}.{os.getpid()}"
        try:
            with open(beside, "w", encoding="ascii") as stream:
                stream.write(str(grown))
            os.replace(beside, self.folder / _GROWN)
        except OSError:
            _drop(beside)

    def _used(self, path: str, last: float) -> None:
        import time

        now = time.time()
        if abs(now - last) > _AGAIN_S:
            try:
                os.utime(path)
            except OSError:  # not ours, or gone: then it goes sooner, and is made again
                return

    def _path(self, key: str) -> str:
        return f"{self.folder}{os.sep}{key[:2]}{os.sep}{key[2:]}"


def pruned(out: str | os.PathLike[str]) -> str:
    """Drop what nobody has asked for in long, and records of recipes that are gone. A sentence about it."""
    store = Store(out)
    gone, freed = store.prune(unused_s=UNUSED_S)
    kept = sum(size for _, size, _ in store._entries())
    records = 0
    for file in sorted((Path(out) / FOLDER).glob("*.json")):
        last = read(str(file))
        if isinstance(last, str) or not os.path.exists(last["recipe"]):
            records += _drop(str(file))
    return (
        f"The store of results in {(Path(out) / FOLDER).as_posix()} lost {gone} entries ({freed / 1e6:.1f} MB) "
        f"and {records} records of recipes that are gone; it holds {kept / 1e6:.1f} MB now."
    )


def _sum(key: str, held: bytes) -> bytes:
    """The key belongs to it, so that an entry that comes to lie in another's place is no entry."""
    return hashlib.blake2b(held, digest_size=_SUM, key=key.encode("ascii")).digest()


def _drop(path: str) -> bool:
    try:
        os.unlink(path)
    except OSError:
        return False
    return True
