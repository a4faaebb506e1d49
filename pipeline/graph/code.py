"""The version of a piece of our own code: the sources that it reaches, by their imports, inside mouldloft.

A step's work is as good as it was while these are what they were; an edit of a check or a writer reaches no step.
Finding them takes a while, so what was found is kept beside the results until any of our files changes.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path

from pipeline.graph.run import Run, moved

PACKAGE = Path(__file__).resolve().parents[1]
FORMAT = 1
_TYPED = re.compile(r"^if TYPE_CHECKING:\n(?:[ \t]+.*\n|\n)+", re.MULTILINE)
_IMPORT = re.compile(
    r"^[ \t]*(?:from|import)[ \t]+([\w.]+)(?:[ \t]+import[ \t]+(?:\(([^)]*)\)|(.*)))?", re.MULTILINE
)


class Code:
    """Versions of modules, looked up in what ``kept`` holds of an earlier run when no file has changed since."""

    def __init__(self, run: Run, kept: bytes | None = None) -> None:
        self._run = run
        self._known: dict[str, str] = {}
        self._imports: dict[str, frozenset[str]] = {}
        self._hashes: dict[str, str] = {}
        self._tables: list[str] = []
        self.changed = False
        if kept is not None:
            self._known = _read(kept, self._sign)

    @property
    def _sign(self) -> list[object]:
        return [FORMAT, self._run.files, self._run.libraries]

    def version(self, *modules: str) -> str:
        """40 hex digits for everything that these modules of ours reach, the libraries' versions among it."""
        name = " ".join(modules)
        if name not in self._known:
            self._known[name] = self._version(modules)
            self.changed = True
        return self._known[name]

    def kept(self) -> bytes:
        """What a later run may be given."""
        return json.dumps({"sign": self._sign, "known": self._known}, sort_keys=True).encode()

    def _version(self, modules: tuple[str, ...]) -> str:
        for name in (reached := sorted(self.reached(modules))):
            if name not in self._hashes:
                self._hashes[name] = hashlib.sha256(_file(name).read_bytes()).hexdigest()
        self._tables = self._tables or list(_data())
        parts = [json.dumps(self._run.libraries, sort_keys=True), *self._tables]
        parts += [f"{name} {self._hashes[name]}" for name in reached]
        if moved():  # then nobody knows which of them is at work here
            parts.append(os.urandom(16).hex())
        return hashlib.blake2b("\n".join(parts).encode(), digest_size=20).hexdigest()

    def reached(self, modules: tuple[str, ...]) -> set[str]:
        """All modules of ours that these import, at once or later, themselves among them. Raises OSError."""
        found: set[str] = set()
        todo = list(modules)
        while todo:
            name = todo.pop()
            if name in found:
                continue
            found.add(name)
            if name not in self._imports:
                self._imports[name] = frozenset(_imported(_file(name)))
            todo += self._imports[name]
        return found


def _read(kept: bytes, sign: list[object]) -> dict[str, str]:
    """What an earlier run knew, nothing when it is damaged or our files have changed."""
    try:
        found = json.loads(kept)
    except ValueError:
        return {}
    if not isinstance(found, dict) or found.get("sign") != sign or not isinstance(found.get("known"), dict):
        return {}
    known = found["known"]
    return known if all(isinstance(v, str) for v in known.values()) else {}


def _file(module: str) -> Path:
    stem = PACKAGE.joinpath(*module.split(".")[1:])
    return stem / "__init__.py" if stem.is_dir() else stem.with_suffix(".py")


def _is_module(name: str) -> bool:
    return name.split(".")[0] == PACKAGE.name and _file(name).is_file()


def _imported(path: Path) -> Iterator[str]:
    """Modules of ours that a file imports, but for those that only type checkers see.

    Read line by line, as parsing all our files would take seconds (a test compares it with the parser).
    """
    text = _TYPED.sub("", path.read_text(encoding="utf-8"))
    for module, several, one in _IMPORT.findall(text):
        if not _is_module(module):
            continue
        yield module
        names = (n.split("#")[0].split(" as ")[0].strip() for n in re.split(r"[,\n]", several or one))
        yield from (whole for n in names if n and _is_module(whole := f"{module}.{n}"))


def _data() -> Iterator[str]:
    """Names and hashes of the tables that the work reads (standards, strokes …; not what starters hold)."""
    folder = PACKAGE / "data"
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and not name.startswith("starters/"):
            yield f"{name} {hashlib.sha256(path.read_bytes()).hexdigest()}"
