"""Marks a packet as sent: a copy under ``issued/`` and an entry in the made register.

What went out under a letter stays what that letter means: the same letter is never issued with other cut files.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.names import is_draft, next_revision
from pipeline.core.recipe import Recipe
from pipeline.intake.made import Issue, add_issue, read_made, spreadsheet_of
from pipeline.packet.disk import plainly, settle_one
from pipeline.packet.exchange import HELD, begin, finish
from pipeline.packet.lock import locked
from pipeline.packet.names import issued_name, packet_name
from pipeline.packet.write import file_list


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """What was issued: the copy's folder, the register's entry, and False for ``new`` when it all stood before."""

    folder: Path
    entry: Issue
    new: bool

    @property
    def sentence(self) -> str:
        if self.new:
            return f"Revision {self.entry.revision} is issued: a copy lies in {self.folder.as_posix()}."
        letter = self.entry.revision
        return f"Revision {letter} was issued before with the same cut files and prints; nothing has changed."


def issue_packet(packet: Path, recipe: Recipe) -> Issued:
    """Copy a packet to ``issued/<design>-<letter>`` in the project root and enter it in the made register.

    Doing it again with the same files changes nothing. Raises Refused when the packet is missing, held, older than
    its inputs or changed by hand, when the revision is a draft, or when the letter went out with other cut files;
    MachineFailed on the disk.
    """
    _check_held(packet, recipe)
    found, digest = _packet(packet, recipe)
    entry = Issue(
        revision=recipe.revision,
        date=recipe.by.issued,
        packet=digest,
        files={f["path"]: f["sha256"] for f in found["files"]},
        pieces={p["name"]: p["since"] for p in found["pieces"]},
        blanks={b["name"]: b["since"] for b in found["blanks"] if "since" in b},
    )
    root = Path(recipe.root) / "issued"
    name = issued_name(recipe, recipe.revision)
    with locked(root, name):
        register = Path(recipe.made)
        earlier = read_made(register).issue(recipe.revision)
        if earlier is not None:
            _check_same(earlier.files, entry.files, recipe, register.name)
        copy = root / name
        if copy.exists():
            _check_same(_hashes(copy), entry.files, recipe, f"issued/{name}")
        else:
            stage = begin(root, name)
            with plainly(stage):
                shutil.copytree(packet, stage, dirs_exist_ok=True)
            finish(root, name, held=False)
        if earlier is None:
            _enter(register, entry)
    return Issued(folder=copy, entry=earlier or entry, new=earlier is None)


def cut_files(files: Mapping[str, str]) -> dict[str, str]:
    """Of a packet's files (path → sha256) those that a machine or a hand with a print could follow."""
    return {
        p: h
        for p, h in files.items()
        if (p.startswith("shops/") and p.endswith(".dxf")) or (p.startswith("print/") and p.endswith(".pdf"))
    }


def _packet(packet: Path, recipe: Recipe) -> tuple[dict[str, Any], str]:
    """packet.json's content and hash, after checking that the packet is whole, good and of this recipe."""
    build = "run `mouldloft build` first"
    if is_draft(recipe.revision):
        raise refuse(
            f"Revision {recipe.revision} is a draft, and drafts are not issued.",
            place=recipe.places.get("revision"),
            remedy="give the design its letter, build it, then issue it",
        )
    if packet.name.endswith(HELD) or packet.with_name(packet.name + HELD).exists():
        raise refuse(f"The packet of {packet_name(recipe)} is held back.", remedy="settle its open findings first")
    try:
        data = (packet / "packet.json").read_bytes()
    except FileNotFoundError:
        raise refuse(f"There is no packet in {packet}.", remedy=build) from None
    try:
        found = json.loads(data)
    except ValueError:
        raise refuse(f"{packet / 'packet.json'} can't be read.", remedy="build with --fresh") from None
    wanted = {"design": recipe.design, "variant": recipe.variant, "revision": recipe.revision}
    # The register itself changes with every issue, and a packet is no older for that.
    register = {
        os.path.relpath(file, recipe.root).replace(os.sep, "/")
        for file in (recipe.made, spreadsheet_of(recipe.made))
    }
    inputs = [{"path": i.path, "sha256": i.sha256} for i in recipe.inputs if i.path not in register]
    if not isinstance(found, dict) or any(found.get(k) != v for k, v in wanted.items()):
        raise refuse(
            f"The packet in {packet} is not of {packet_name(recipe)}, revision {recipe.revision}.", remedy=build
        )
    if _by_path([i for i in found["inputs"] if i["path"] not in register]) != _by_path(inputs):
        raise refuse(
            f"The packet in {packet} is older than the recipe, drawing or profiles it is made from.", remedy=build
        )
    with plainly(packet):
        there = file_list(packet)
    if there != found["files"]:
        said, stands = _by_path(found["files"]), _by_path(there)
        off = sorted(p for p in {*said, *stands} if said.get(p) != stands.get(p))
        raise refuse(
            f"{len(off)} of the files in {packet} were changed since they were built, the first is {off[0]}.",
            remedy="build with --fresh, then issue that",
        )
    return found, hashlib.sha256(data).hexdigest()


def _check_held(packet: Path, recipe: Recipe) -> None:
    """Raises Refused when what is held back would go out under a letter that meant other cut files."""
    earlier = read_made(recipe.made).issue(recipe.revision)
    held = packet if packet.name.endswith(HELD) else packet.with_name(packet.name + HELD)
    if earlier is not None and held.is_dir():
        _check_same(earlier.files, _hashes(held), recipe, Path(recipe.made).name)


def _by_path(rows: Any) -> dict[str, str]:
    return {row["path"]: row["sha256"] for row in rows}


def _hashes(folder: Path) -> dict[str, str]:
    with plainly(folder):
        return _by_path(file_list(folder))


def _check_same(old: Mapping[str, str], new: Mapping[str, str], recipe: Recipe, where: str) -> None:
    """Raises Refused when a letter's cut files or prints are not the ones that went out under it."""
    before, now = cut_files(old), cut_files(new)
    off = sorted(p for p in {*before, *now} if before.get(p) != now.get(p))
    if off:
        raise refuse(
            f"Revision {recipe.revision} went out with other cut files or prints ({where}): {len(off)} differ, "
            f"the first is {off[0]}.",
            place=recipe.places.get("revision"),
            remedy=f"give the design the next letter, {next_revision(recipe.revision)}, and build it",
        )


def _enter(register: Path, entry: Issue) -> None:
    """Add the entry to the register's text, replacing the file in one step."""
    with plainly(register):
        text = register.read_text(encoding="utf-8") if register.exists() else ""
    new = add_issue(text, entry, file=register.name)
    beside = register.with_name(f".{register.name}.new")
    with plainly(register):
        try:
            beside.write_text(new, encoding="utf-8", newline="\n")
            settle_one(beside)
            os.replace(beside, register)
            settle_one(register.parent)
        finally:
            beside.unlink(missing_ok=True)
