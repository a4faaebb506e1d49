"""Which files a recipe may read: those inside its project root, each recorded with its hash."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.core.errors import MachineFailed, refuse
from pipeline.core.place import Place
from pipeline.core.recipe import InputFile
from pipeline.core.text import nearest, quoted
from pipeline.intake.yaml_nodes import MAX_BYTES


def project_root(path: str | Path) -> Path:
    """The nearest folder above a file that holds ``configs/``, else the file's own folder; absolute."""
    folder = Path(path).parent.resolve()
    for above in (folder, *folder.parents):
        if (above / "configs").is_dir():
            return above
    return folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The files of one project, and a record of those that were read."""

    root: Path
    record: dict[str, InputFile] = field(default_factory=dict)

    def name(self, path: Path) -> str:
        """A path as messages and packets show it: from the project root, with ``/``."""
        return Path(os.path.relpath(path, self.root)).as_posix()

    def inside(self, path: Path, *, place: Place | None = None) -> Path:
        """The path with all links followed. Raises Refused when it leads out of the project root."""
        try:
            real = path.resolve()
        except (OSError, RuntimeError) as error:  # RuntimeError: a ring of links (Python < 3.13)
            raise refuse(f"{quoted(path.name)} can't be followed to a file.", place=place) from error
        if real != self.root and self.root not in real.parents:
            raise refuse(
                f"{quoted(path.name)} lies outside the project folder.",
                place=place,
                expected="a file in the project: in the folder that holds configs/, or beside the recipe",
                remedy="copy the file into the project.",
            )
        return real

    def named(self, written: str, beside: Path, *, place: Place | None, what: str) -> Path:
        """The existing file that a path in the file ``beside`` names; ``what`` says what it is ("drawing").

        Raises Refused, with the name that was probably meant, when there is none.
        """
        path = self.allowed(written, beside, place=place)
        if not self._is_file(path):
            try:
                others = sorted(p.name for p in path.parent.iterdir() if p.is_file())
            except OSError:  # no such folder either
                others = []
            guess = nearest(path.name, others)
            shown = Path(written).parent / guess if guess else None
            raise refuse(
                f"There is no {what} {quoted(written, 80)}.",
                place=place,
                expected="the path of a file, from the folder of this file",
                remedy=f"did you mean {shown.as_posix()}?" if shown else "",
            )
        return path

    def allowed(self, written: str, beside: Path, *, place: Place | None) -> Path:
        """The absolute path of a file named in the file ``beside``, existing or not, inside the root."""
        if Path(written).is_absolute() or "\\" in written or written.startswith("~"):
            raise refuse(
                f"{quoted(written, 80)} is not a path that works on every machine.",
                place=place,
                expected="a path from the folder of this file, with /",
            )
        return self.inside(beside.parent / written, place=place)

    def read(self, path: Path, *, max_bytes: int = MAX_BYTES) -> bytes:
        """The bytes of a file, recorded with their hash. Raises Refused when it is missing or over the
        bound, MachineFailed when the machine can't read it."""
        if not self._is_file(path):
            raise refuse("There is no such file.", place=Place(file=self.name(path)))
        try:
            with path.open("rb") as file:
                data = file.read(max_bytes + 1)
        except OSError as error:
            raise MachineFailed(f"{self.name(path)} can't be read: {error.strerror}.") from error
        if len(data) > max_bytes:
            raise refuse(
                f"The file is larger than {max_bytes:,} bytes, the most that is read.",
                place=Place(file=self.name(path)),
            )
        self._note(path, hashlib.sha256(data).hexdigest())
        return data

    def hashed(self, path: Path) -> None:
        """Records a file that is read later, whatever its size."""
        try:
            with path.open("rb") as file:
                self._note(path, hashlib.file_digest(file, "sha256").hexdigest())
        except OSError as error:
            raise MachineFailed(f"{self.name(path)} can't be read: {error.strerror}.") from error

    def _note(self, path: Path, digest: str) -> None:
        name = self.name(path)
        self.record[name] = InputFile(path=name, sha256=digest)

    @staticmethod
    def _is_file(path: Path) -> bool:
        try:
            return path.is_file()
        except OSError:  # a name that is too long, a folder that may not be entered
            return False


def files_around(path: str | Path) -> tuple[Files, Path]:
    """The project of a file given on the command line, and the file's real path in it.

    Raises Refused when the file is a link that leads out of its project.
    """
    files = Files(root=project_root(path))
    return files, files.inside(Path(path).parent.resolve() / Path(path).name)
