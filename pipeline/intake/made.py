"""The made register: the maker's own file of what was issued, glued and cut (``heron.made.yaml``).

A row of `made` may hold what was measured, too: ``size: [344.1, 236.0]`` (length by width) and ``gauged: {A:
344.12, B: 44.18}``, the dimensions that its page of the shop sheet asks for (``page:`` names the page where a
piece has several). A row with the name of a stack and ``glued: true`` is the glued blank, ``machined: [back]``
what is done of it. A spreadsheet may hold these rows instead: what stands in ``heron.made.csv`` beside the
register counts with it (`made_csv.py`).

It stands beside the recipe and is the maker's to edit; ``mouldloft issue`` adds one entry under
``issued`` and leaves every other line, comments too, as it is::

    # What left the house, and what was cut from it.
    issued:
      - revision: A
        date: 14 March 2027
        packet: 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08
        files:
          report.html: 60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752
        pieces:
          blank-1: A
          cover: A

    # Thickness of each glued blank in mm, by the name of its stack: depths are re-issued from it.
    blanks: {blank: 35.4}

    # What was cut: from which revision, how thick it came out, in what state it is.
    made:
      - {piece: blank-1, revision: A, measured: 11.8}
      - {piece: body_guide, revision: A, measured: 9.1, condition: a dent at the tail, count: 2}
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.fields import Count, FaceName, Size, field
from pipeline.core.names import is_draft
from pipeline.core.place import Place
from pipeline.core.recipe import InputFile
from pipeline.core.text import quoted
from pipeline.intake.annotations import RevisionText
from pipeline.intake.convert import convert, convert_table
from pipeline.intake.made_csv import SPREADSHEET, made_items
from pipeline.intake.made_text import block_entry, inserted
from pipeline.intake.reading import FAILED, Reading
from pipeline.intake.root import files_around
from pipeline.intake.yaml_nodes import Leaf, Table, decoded, read_tree

MAX_BYTES = 8_000_000
GaugeLetter = Literal["A", "B", "C"]
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """One packet that was sent."""

    revision: RevisionText = field("the letter it went out under")
    date: str = field("when, as the maker types it", "")
    packet: str = field("sha256 of its packet.json", "")
    files: Mapping[str, str] = field("sha256 of every file by its path in the packet", {})
    pieces: Mapping[str, RevisionText] = field("for every piece the revision in which it last changed", {})
    blanks: Mapping[str, RevisionText] = field("for every glued blank the revision in which it last changed", {})


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePiece:
    """One piece that was cut."""

    piece: str = field("the piece's name")
    revision: RevisionText = field("the revision it was cut from")
    count: Count = field("how many", 1)
    date: str = field("when, as the maker types it", "")
    measured: Size | None = field("its thickness as measured", None)
    condition: str = field("the state it is in, in words", "")
    size: tuple[Size, Size] | None = field("length by width as measured", None)
    gauged: Mapping[GaugeLetter, Size] = field("what was gauged of A, B and C on its page of the shop sheet", {})
    page: str = field("the page of the shop sheet: the file's name, where there are several", "")
    glued: bool = field("true for a glued blank, named as its stack", False)
    machined: tuple[FaceName, ...] = field("the faces of a glued blank that are machined", ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """The whole register. ``blanks`` holds measured thicknesses in mm by the name of the stack."""

    issued: tuple[Issue, ...] = field("packets that were sent, the latest last", ())
    blanks: Mapping[str, Size] = field("measured thickness of glued blanks, by the name of the stack", {})
    made: tuple[MadePiece, ...] = field("pieces that were cut", ())

    @property
    def since(self) -> Mapping[str, str]:
        """The revision in which each piece last changed, as of the latest issue."""
        return self.issued[-1].pieces if self.issued else {}

    @property
    def is_empty(self) -> bool:
        """True when nothing is known to have been cut or glued."""
        return not self.made and not self.blanks

    def issue(self, revision: str) -> Issue | None:
        """What went out under a letter, or None."""
        return next((i for i in self.issued if i.revision == revision), None)


def read_made(path: str | Path, *, known: Iterable[InputFile] = (), root: str = "") -> Made:
    """The register of a file with the spreadsheet beside it, empty when ``path`` is empty or neither is there.

    ``known`` are the files that a recipe of the project ``root`` has recorded: a register that has other bytes by
    now is refused. Raises Refused with every problem in them.
    """
    if not str(path):
        return Made()
    found: list[Made] = []
    problems: list[Problem] = []
    hashes = {os.path.join(root, i.path): i.sha256 for i in known}
    for each, read in ((Path(path), made_of_text), (spreadsheet_of(path), rows_of_text)):
        if not each.exists():
            continue
        try:
            files, real = files_around(each)
            data = files.read(real, max_bytes=MAX_BYTES)
            if hashes.get(os.fspath(real), sha := hashlib.sha256(data).hexdigest()) != sha:
                wrong = "The made register was changed while it was being read."
                raise refuse(wrong, place=Place(file=files.name(real)), remedy="Run it again.")
            found.append(read(data, files.name(real)))
        except Refused as refused:
            problems += refused.problems
    if problems:
        raise Refused(problems)
    return Made(
        issued=tuple(i for m in found for i in m.issued),
        blanks={name: mm for m in reversed(found) for name, mm in m.blanks.items()},
        made=tuple(row for m in found for row in m.made),
    )


def spreadsheet_of(path: str | Path) -> Path:
    """Where a register's spreadsheet would be: ``heron.made.csv`` beside ``heron.made.yaml``."""
    return Path(path).with_suffix(SPREADSHEET)


def rows_of_text(data: bytes, file: str) -> Made:
    """The register's rows in a spreadsheet's bytes; ``file`` is the name that messages show. Raises Refused."""
    reading = Reading()
    items = made_items(decoded(data, file), file, reading)
    rows = convert(tuple[MadePiece, ...], items, "made", reading)
    made = Made(made=() if rows is FAILED else rows)
    _check_rows(made, reading)
    if reading.problems:
        raise Refused(reading.problems)
    return _with_glued(made)


def made_of_text(data: bytes, file: str) -> Made:
    """The register in these bytes; ``file`` is the name that messages show. Raises Refused."""
    if not _has_content(data.decode("utf-8", errors="replace")):
        return Made()
    tree, problems = read_tree(data, file, max_bytes=MAX_BYTES)
    top = Place(file=file)
    if not isinstance(tree, Table):
        raise refuse("This is no made register.", place=top, expected="`issued:`, `blanks:` or `made:`")
    filled = tuple(e for e in tree.entries if not (isinstance(e.value, Leaf) and e.value.value is None))
    tree = Table(entries=filled, place=tree.place)  # a heading with nothing below it yet is no mistake
    reading = Reading(problems=problems)
    made = convert_table(Made, tree, "", reading, noun="the made register", at=top)
    if isinstance(made, Made):
        _check(made, reading)
        _check_rows(made, reading)
    if reading.problems or not isinstance(made, Made):
        raise Refused(reading.problems)
    return _with_glued(made)


def add_issue(text: str, entry: Issue, *, file: str = "made register") -> str:
    """``text`` with one more entry at the end of ``issued``; all else stays as the maker wrote it.

    ``text`` may be empty. Raises Refused when it is no register, when the letter went out before, or when
    the maker's layout leaves no safe place to write.
    """
    before = made_of_text(text.encode(), file)
    if before.issue(entry.revision):
        raise refuse(f"Revision {entry.revision} has been issued already.", place=Place(file=file))
    values = _entry_values(entry)
    if _has_content(text):
        new = inserted(text, values)
    else:
        new = f"{text.rstrip()}\n".lstrip("\n") + "issued:\n" + block_entry(values, 2)
    try:
        after = made_of_text(new.encode(), file)
    except Refused:
        after = Made()
    if after != Made(issued=(*before.issued, entry), blanks=before.blanks, made=before.made):
        raise refuse(
            "The new issue can't be added to this layout.",
            place=Place(file=file),
            remedy="write `issued:` at the beginning of a line, its entries below it with dashes.",
        )
    return new


def _has_content(text: str) -> bool:
    return any(line.strip() and not line.lstrip().startswith("#") for line in text.lstrip("\ufeff").splitlines())


def _entry_values(entry: Issue) -> dict[str, Any]:
    values = {
        "revision": entry.revision,
        "date": entry.date,
        "packet": entry.packet,
        "files": dict(entry.files),
        "pieces": dict(entry.pieces),
        "blanks": dict(entry.blanks),
    }
    return {key: value for key, value in values.items() if value}


def _check(made: Made, reading: Reading) -> None:
    """Letters go out once and are no drafts; hashes are hashes."""
    seen: set[str] = set()
    for n, issue in enumerate(made.issued):
        at = reading.places[f"issued.{n}.revision"]
        if issue.revision in seen:
            reading.wrong(f"Revision {issue.revision} stands here a second time.", at)
        if is_draft(issue.revision):
            reading.wrong(f"{issue.revision} is a draft, and drafts are not issued.", at)
        seen.add(issue.revision)
        hashes = {f"files.{path}": digest for path, digest in issue.files.items()}
        if issue.packet:
            hashes["packet"] = issue.packet
        for path, digest in hashes.items():
            if not _SHA256.fullmatch(digest):
                reading.wrong(
                    f"{quoted(digest)} is not a sha256 hash.",
                    reading.places[f"issued.{n}.{path}"],
                    expected="64 of the characters 0 to 9 and a to f",
                )


def _check_rows(made: Made, reading: Reading) -> None:
    """Only a glued blank has faces machined."""
    for n, row in enumerate(made.made):
        if row.machined and not row.glued:
            reading.wrong(
                f"{row.piece} has machined faces and isn't said to be a glued blank.",
                reading.places[f"made.{n}.machined"],
                remedy="write `glued: true` in the same row, if it is one",
            )


def _with_glued(made: Made) -> Made:
    """What rows say of glued blanks' thickness, with that under `blanks`; what stands there counts."""
    measured = {row.piece: row.measured for row in made.made if row.glued and row.measured is not None}
    return replace(made, blanks={**measured, **made.blanks}) if measured else made
