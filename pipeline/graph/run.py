"""What one run of the program looks up once: the tool itself, the files it may read, their hashes.

The standard library alone, and little of it: a run with nothing to do ends here (see `stale.py`).
"""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False  # type checkers take it for true; importing `typing` for it costs 3 ms
if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

LIBRARIES = ("ezdxf", "networkx", "numpy", "pyyaml", "reportlab", "shapely", "svgelements", "xlsxwriter")
"""Those whose version can change a byte of a packet (mouldloft's own sources are looked at directly)."""


class Run:
    """What one run of the program has already looked up: the tool itself, files seen, hashes made."""

    __slots__ = ("_bytes", "_hashes", "_libraries", "_stats")

    def __init__(self) -> None:
        self._bytes = ""
        self._libraries: dict[str, str] = {}
        self._stats: dict[str, tuple[int, int, int] | None] = {}
        self._hashes: dict[str, str] = {}

    def stat(self, path: str) -> tuple[int, int, int] | None:
        """(size, mtime, ctime in ns) of an input, None when it is gone; looked at once in a run."""
        if path not in self._stats:
            self._stats[path] = state(path)
        return self._stats[path]

    def sha256(self, path: str) -> str:
        """The hash of an input's bytes; made once in a run. Raises OSError."""
        if path not in self._hashes:
            self._hashes[path] = sha256([path])
        return self._hashes[path]

    @property
    def libraries(self) -> dict[str, str]:
        """Versions of Python and the libraries, read from the names of their metadata folders."""
        if not self._libraries:
            self._libraries = {"python": sys.version.split()[0], **_versions()}
        return self._libraries

    @property
    def files(self) -> str:
        """A cheap sign of mouldloft's own files: names, sizes, times, as they were when this process began."""
        return LOADED

    @property
    def bytes(self) -> str:
        """The sure sign of mouldloft's own source files: a hash of all their names and bytes."""
        if not self._bytes:
            sources = list(_sources())
            self._bytes = sha256([path for _, path in sources], [name for name, _ in sources])
            if moved():
                self._bytes = "replaced while this process ran"
        return self._bytes


def moved() -> bool:
    """True when our own files are not those that this process was started from: what it does then stands for no
    version."""
    return _sign() != LOADED


def stat(path: str) -> tuple[int, int] | None:
    """(size, mtime in ns) of a file, None when it is not to be had."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def state(path: str) -> tuple[int, int, int] | None:
    """(size, mtime, ctime in ns) of a file, None when it is not to be had. The last tells of an edit that has put
    the other two back as they were."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns


def sha256(paths: list[str], names: Iterable[str] = ()) -> str:
    """Hash of the bytes of one file, or of the names and bytes of several."""
    import hashlib

    parts = []
    for path in paths:
        with open(path, "rb") as stream:
            parts.append(hashlib.sha256(stream.read()).hexdigest())
    if len(parts) == 1 and not names:
        return parts[0]
    return hashlib.sha256("\n".join((*names, *parts)).encode()).hexdigest()


def _sources() -> Iterator[tuple[str, str]]:
    """(path from the package's folder, path) of every file of mouldloft that is not derived."""
    root = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    folders = [root]
    while folders:
        folder = folders.pop()
        for item in sorted(os.scandir(folder), key=lambda e: e.name):
            if item.is_dir():
                if item.name != "__pycache__":
                    folders.append(item.path)
            elif not item.name.endswith(".pyc"):
                yield item.path[len(root) + 1 :].replace(os.sep, "/"), item.path


def _sign() -> str:
    import zlib

    seen = [(name, stat(path)) for name, path in _sources()]
    newest = max(at[1] for _, at in seen if at)
    return f"{len(seen)}-{newest}-{zlib.crc32(repr(seen).encode()):08x}"


LOADED = _sign()
"""The sign of our own files when this module was imported, which is before any module that does work."""


def _versions() -> dict[str, str]:
    """Library versions as installed, ``name-version.dist-info``; the first on the path counts."""
    found: dict[str, str] = {}
    for folder in sys.path:
        if not os.path.isdir(folder or "."):
            continue
        for entry in sorted(os.listdir(folder or ".")):
            if entry.endswith((".dist-info", ".egg-info")):
                name, _, version = entry.rpartition(".")[0].partition("-")
                name = name.lower().replace("_", "-")
                if name in LIBRARIES and version:
                    found.setdefault(name, version)
    return dict(sorted(found.items()))
