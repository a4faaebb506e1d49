"""Writes a packet's files into an empty folder: first what is proved, then the papers, then the record.

write_shop_files(folder, files)     # shops/<shop>/…: read back and proved before anything else
write_papers(folder, …)             # parts.csv, sequence.csv, letter.txt, each shop's shop-sheet.pdf
…print/ and report.html come from their own rooms…
write_record(folder, …)             # shops/<shop>.zip and packet.json, which lists every file
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.verdict import Verdict
from pipeline.graph.once import kept
from pipeline.packet.disk import plainly
from pipeline.packet.dxf import dxf_bytes
from pipeline.packet.letter import letter_text
from pipeline.packet.packet_json import packet_dict, packet_text
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_sheet import NAME, shop_sheets
from pipeline.packet.svg import svg_bytes
from pipeline.packet.tables import parts_csv, sequence_csv
from pipeline.packet.view_rows import view_rows
from pipeline.packet.zips import zip_bytes
from pipeline.steps.values import Derived, Nest, WorkLine

_SAFE = re.compile(r"[^\W_][\w.+-]*", re.ASCII)
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
LONGEST = 100
"""Characters in a file's name: every disk takes them, and a path to them that is not too deep."""


def write_shop_files(folder: Path, files: Sequence[ShopFile]) -> None:
    """Every shop's files as DXF and SVG. Raises Refused for a name that not every disk takes, MachineFailed."""
    named = [(f, kind, f"{f.stem}.{kind}") for f in files for kind in f.formats]
    _check_names([(f.shop, name) for f, _, name in named])
    for f, kind, name in named:
        work, code = (dxf_bytes, "pipeline.packet.dxf") if kind == "dxf" else (svg_bytes, "pipeline.packet.svg")
        _put(folder, f"shops/{f.shop}/{name}", kept(kind, f, partial(work, f), code=(code,)))


def write_papers(
    folder: Path,
    derived: Derived,
    files: Sequence[ShopFile],
    nests: Sequence[Nest],
    work: Sequence[WorkLine],
    findings: Iterable[Finding],
    parts: Sequence[Mapping[str, Any]],
    *,
    held: bool,
    since: Mapping[str, str],
    workbook: bytes = b"",
    recut: Sequence[Verdict] = (),
) -> None:
    """parts.csv (from the workshop's part rows), parts.xlsx, sequence.csv, letter.txt and the shops' sheets.

    Raises MachineFailed.
    """
    if workbook:
        _put(folder, "parts.xlsx", workbook)
    letter = letter_text(derived, files, nests, findings, held=held, since=since, recut=recut)
    _put(folder, "parts.csv", parts_csv(parts).encode("utf-8"))
    _put(folder, "sequence.csv", sequence_csv(work).encode("utf-8"))
    _put(folder, "letter.txt", letter.encode("utf-8"))
    for shop, data in shop_sheets(derived, files, nests, work, held=held, since=since).items():
        _put(folder, f"shops/{shop}/{NAME}", data)


def write_record(
    folder: Path,
    derived: Derived,
    files: Sequence[ShopFile],
    work: Sequence[WorkLine],
    findings: Iterable[Finding],
    totals: Mapping[str, Any],
    proof: Mapping[str, Any],
    *,
    keys: Mapping[str, str],
    since: Mapping[str, str],
    nests: Sequence[Nest] | None = None,
) -> dict[str, Any]:
    """The shops' archives and, last of all, packet.json with the hash of every other file. Gives its content.

    ``keys`` maps steps to their fingerprints, ``since`` pieces to the revision they are unchanged since; ``proof``
    has ``worst_mm`` and ``where``. Without ``nests`` nothing is said of how the files show their pieces. Raises
    MachineFailed.
    """
    with plainly(folder):
        shops = [p for p in sorted((folder / "shops").glob("*")) if p.is_dir()]
        archives = [(f"shops/{p.name}.zip", zip_bytes(p)) for p in shops]
    for path, data in archives:
        _put(folder, path, data)
    with plainly(folder):
        listed = file_list(folder)
    views, gauges = ([], []) if nests is None else view_rows(derived, files, nests)
    found = packet_dict(
        derived, files, work, findings, totals, proof, listed, keys=keys, since=since, views=views, gauges=gauges
    )
    _put(folder, "packet.json", packet_text(found).encode("utf-8"))
    return found


def file_list(folder: Path) -> list[dict[str, Any]]:
    """Path, sha256 and size of every file of a packet but packet.json itself, by path. Raises OSError."""
    found: list[dict[str, Any]] = []
    paths = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()}
    for path in sorted(paths):
        if path != "packet.json":
            data = paths[path].read_bytes()
            found.append({"path": path, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)})
    return found


def _put(folder: Path, path: str, data: bytes) -> None:
    target = folder / path
    with plainly(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


def _check_names(names: Sequence[tuple[str, str]]) -> None:
    """Names of shops and files must be plain, and no two may differ in capitals alone. Raises Refused."""
    seen: dict[str, str] = {}
    for shop, name in names:
        path = f"{shop}/{name}"
        for part in (shop, name):
            if not _SAFE.fullmatch(part) or _DEVICES.fullmatch(part) or len(part) > LONGEST:
                raise refuse(
                    f"The file name {part!r} can't be written on every disk.",
                    expected=f"at most {LONGEST} letters, digits, hyphens, underscores and points",
                    remedy="change the name of the design, revision, step, sheet or shop that it is made of",
                )
        other = seen.setdefault(path.lower(), path)
        if other is not path:
            raise refuse(
                f"The files {other} and {path} have one name, or differ in capitals alone.",
                remedy="change the name of one of the two steps or pieces",
            )
