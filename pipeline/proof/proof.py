"""Proof: a packet's own shop files, read back and measured against the design."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.findings import Finding
from pipeline.proof.cutter import Bench
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected, expected_files, titled
from pipeline.proof.glued import cut_blanks
from pipeline.proof.groups import DxfBroken
from pipeline.proof.matching import Matching, Told
from pipeline.proof.one_file import read as read_file
from pipeline.proof.one_file import wrong_in_one
from pipeline.proof.record import wrong_record
from pipeline.proof.sheet import wrong_in_file
from pipeline.proof.simulate import Simulated, cut_pieces, cut_sheets
from pipeline.proof.subjects import wrong_between_files
from pipeline.proof.twin import wrong_twin
from pipeline.steps.values import Derived, Nest

CUT_FORMATS = (".dxf", ".svg")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A point (x, y) of a file, in that file's own coordinates."""

    file: str
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What reading the files back showed.

    ``worst_mm`` is the largest distance of any drawn contour from the design's, ``where`` its place (None when
    nothing could be measured); ``findings`` are what is off, each a `stop`; ``simulated`` is what the cut of each
    piece and sheet leaves.
    """

    worst_mm: float
    where: Spot | None
    findings: tuple[Finding, ...]
    simulated: tuple[Simulated, ...] = ()

    @property
    def ok(self) -> bool:
        return not self.findings


def prove(folder: Path, derived: Derived, nests: tuple[Nest, ...]) -> Proof:
    """Read all shop files of a packet folder and measure them against the design they were made from.

    Never raises for what a file holds: a file that can't be read is a finding. Raises OSError when the
    machine can't read the folder.
    """
    expected = expected_files(derived, nests)
    matching = Matching(recipe=titled(derived.recipe))
    findings: list[Finding] = list(_presence(folder, expected))
    files: list[tuple[Expected, Drawn, bytes]] = []
    for want in expected:
        path = folder / want.path
        if not path.is_file():
            continue
        data = path.read_bytes()
        drawn = _drawn(data, want, want.path, findings)
        if drawn is not None:
            files.append((want, drawn, data))
    for want, drawn, data in files:
        beside = want.path.removesuffix(".dxf") + ".svg"
        there = want.cut_file and (folder / beside).is_file()
        picture = (beside, (folder / beside).read_bytes()) if there else None
        findings += wrong_in_one(want, drawn, data, picture, matching)
    read = [(want, drawn) for want, drawn, _ in files]
    findings += wrong_between_files(derived, read, matching)
    off, simulated = _cut(derived, nests, read)
    findings += off
    findings += wrong_record(folder, derived, expected)
    for archive in sorted({f"shops/{w.shop.name}.zip" for w in expected}):
        if (folder / archive).is_file():
            findings += _archive(folder, archive, expected, matching)
    worst = matching.worst
    where = Spot(file=worst.file, x=worst.at[0], y=worst.at[1]) if worst else None
    return Proof(worst_mm=worst.mm if worst else 0.0, where=where, findings=tuple(findings), simulated=simulated)


def _cut(
    derived: Derived, nests: tuple[Nest, ...], read: list[tuple[Expected, Drawn]]
) -> tuple[list[Finding], tuple[Simulated, ...]]:
    """What is off in the cut of all pieces, sheets and blanks, simulated from the files; and what came out."""
    files = [(w, d) for w, d in read if w.cut_file]
    benches = {w.shop.name: Bench(shop=w.shop) for w, _ in files}
    pieces, solids, made = cut_pieces(derived, files, benches)
    sheets, more = cut_sheets(derived, files, nests, benches)
    return [*pieces, *sheets, *cut_blanks(derived, files, solids, benches)], (*made, *more)


def _drawn(data: bytes, want: Expected, name: str, findings: list[Finding]) -> Drawn | None:
    try:
        return read_file(data)
    except DxfBroken as broken:
        findings.append(Told(file=name, want=want, line=broken.line).finding(broken.wrong))
        return None


def _presence(folder: Path, expected: tuple[Expected, ...]) -> Iterator[Finding]:
    """Files that are missing, and files a shop could cut that nobody asked for."""
    known: set[str] = set()
    for want in expected:
        names = [want.path]
        if want.cut_file:
            names.append(want.path.removesuffix(".dxf") + ".svg")
        known.update(names)
        for name in names:
            if not (folder / name).is_file():
                yield Told(file=name, want=want).finding(
                    "This file is missing from the packet.", remedy="build the packet again"
                )
    shops = folder / "shops"
    found = sorted(p for p in shops.rglob("*") if p.is_file()) if shops.is_dir() else []
    for path in found:
        name = path.relative_to(folder).as_posix()
        if path.suffix.lower() in CUT_FORMATS and name not in known:
            yield Told(file=name).finding(
                "No piece, blank or sheet of this design belongs to this file; a shop could cut it by mistake. "
                + _looks_like(name, known),
                remedy="take it out of the packet, or build the packet again",
            )


def _looks_like(name: str, known: set[str]) -> str:
    import difflib

    near = difflib.get_close_matches(name, sorted(known), 1, 0.6)
    return f"The nearest that belongs here is {near[0]}." if near else ""


def _archive(folder: Path, archive: str, expected: tuple[Expected, ...], matching: Matching) -> Iterator[Finding]:
    """The archive of a shop holds the same files; what isn't the same bytes is read and measured like them."""
    top = archive.removesuffix(".zip") + "/"
    mine = {w.path.removeprefix(top): w for w in expected if w.path.startswith(top)}
    try:
        with zipfile.ZipFile(folder / archive) as opened:
            members = {n: opened.read(n) for n in opened.namelist() if not n.endswith("/")}
    except (zipfile.BadZipFile, EOFError) as error:
        yield Told(file=archive).finding(f"The archive can't be opened: {error}.")
        return
    # Members may stand under a folder of the shop's own name.
    stem = top.rsplit("/", 2)[-2] + "/"
    members = {n.removeprefix(stem): data for n, data in members.items()}
    for name in sorted(mine.keys() - members.keys()):
        yield Told(file=archive, want=mine[name]).finding(f"The archive lacks {name}.")
    for name in sorted(members):
        suffix = name[name.rfind(".") :].lower()
        if suffix not in CUT_FORMATS:
            continue
        beside = folder / top / name
        if beside.is_file() and beside.read_bytes() == members[name]:
            continue
        want = mine.get(name.removesuffix(suffix) + ".dxf")
        if want is None or (suffix == ".svg" and not want.cut_file):
            yield Told(file=f"{archive}/{name}").finding("No piece, blank or sheet of this design belongs to it.")
            continue
        broken: list[Finding] = []
        if suffix == ".svg":
            lines = members.get(name.removesuffix(suffix) + ".dxf", b"")
            drawn = _drawn(lines, want, f"{archive}/{name}", broken)
            if drawn is not None:
                yield from wrong_twin(want, drawn, members[name], matching, f"{archive}/{name}")
            continue
        drawn = _drawn(members[name], want, f"{archive}/{name}", broken)
        yield from broken
        if drawn is not None:
            yield from wrong_in_file(want, drawn, matching, f"{archive}/{name}")
