"""A small reader of DXF text files: header, layer table and the flat entities that shop files hold.

Written from the published group codes alone, for proving files that another part of mouldloft wrote:
it uses neither a DXF library nor anything of `pipeline.packet`. R12 (POLYLINE, VERTEX, SEQEND) and
later files (LWPOLYLINE) both read; every entity keeps the line of the file on which it begins.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pipeline.proof.entities import entities
from pipeline.proof.groups import DxfBroken, Entity, Flat, Group, number, whole

STATED = ("$INSUNITS", "$MEASUREMENT", "$EXTMIN", "$EXTMAX")
"""What the proof asks of a header."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What one DXF file holds. ``layers`` maps each layer of the table to True when it is shown."""

    version: str
    header: Mapping[str, tuple[Group, ...]]
    layers: Mapping[str, bool]
    entities: tuple[Entity, ...]

    def number(self, variable: str) -> float | None:
        """The number that a header variable holds, None when it is absent."""
        groups = self.header.get(variable, ())
        return number(groups[0][1], 0) if groups else None

    def point(self, variable: str) -> Flat | None:
        """The (x, y) that a header variable holds, None when it is absent."""
        by_code = dict(self.header.get(variable, ()))
        if 10 not in by_code or 20 not in by_code:
            return None
        return number(by_code[10], 0), number(by_code[20], 0)


def read_dxf(data: bytes) -> Drawn:
    """Read one file's bytes. Raises DxfBroken with a sentence when they aren't readable DXF text."""
    if b"\x00" in data[:64]:
        raise DxfBroken("It is not text; the binary form of the format isn't used for shop files.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    lines = text.replace("\r\n", "\n").split("\n")
    while lines and not lines[-1].strip():
        lines.pop()
    if len(lines) % 2:
        raise DxfBroken("The file ends in the middle of a group code and its value.", len(lines))
    values = lines[1::2]
    sections = _sections(lines, values)
    if "ENTITIES" not in sections:
        raise DxfBroken("The file has no section of entities.")
    header = _header(lines, *sections["HEADER"]) if "HEADER" in sections else {}
    for variable in STATED:
        for _, value in header.get(variable, ()):
            number(value, 0)  # so that asking for it later can't fail
    version = header["$ACADVER"][0][1].strip() if header.get("$ACADVER") else ""
    layers = _layers(lines, *sections["TABLES"]) if "TABLES" in sections else {}
    drawn = tuple(entities(_records(lines, *sections["ENTITIES"])))
    return Drawn(version=version, header=header, layers=layers, entities=drawn)


# -- sections ------------------------------------------------------------------------------------
def _sections(lines: list[str], values: list[str]) -> dict[str, tuple[int, int]]:
    """Section name → its first and last pair (pair k is lines 2k and 2k + 1, counted from 0)."""
    found: dict[str, tuple[int, int]] = {}
    open_at, name = -1, ""
    for k in [k for k, v in enumerate(values) if v.strip() in ("SECTION", "ENDSEC", "EOF")]:
        if lines[2 * k].strip() != "0":
            continue
        word = values[k].strip()
        if word == "SECTION":
            if open_at >= 0 or k + 1 >= len(values) or lines[2 * k + 2].strip() != "2":
                raise DxfBroken("A section begins where none may begin.", 2 * k + 1)
            open_at, name = k + 2, values[k + 1].strip()
        elif word == "ENDSEC":
            if open_at < 0:
                raise DxfBroken("A section ends that never began.", 2 * k + 1)
            if name in found:
                raise DxfBroken(f"The section {name} stands twice in the file.", 2 * k + 1)
            found[name] = (open_at, k)
            open_at = -1
        else:
            break
    else:
        raise DxfBroken("The file has no end mark; it was cut off.", len(lines))
    if open_at >= 0:
        raise DxfBroken(f"The section {name} has no end.", 2 * open_at + 1)
    return found


def _groups(lines: list[str], first: int, last: int) -> Iterator[tuple[int, str, int]]:
    """(code, value, line) of pairs first … last − 1."""
    for k in range(first, last):
        raw = lines[2 * k].strip()
        try:
            code = int(raw)
        except ValueError:
            raise DxfBroken(f"A group code was expected here, not '{raw[:20]}'.", 2 * k + 1) from None
        yield code, lines[2 * k + 1], 2 * k + 1


def _header(lines: list[str], first: int, last: int) -> dict[str, tuple[Group, ...]]:
    header: dict[str, list[Group]] = {}
    current: list[Group] = []
    for code, value, _ in _groups(lines, first, last):
        if code == 9:
            current = header.setdefault(value.strip(), [])
        else:
            current.append((code, value))
    return {name: tuple(groups) for name, groups in header.items()}


def _layers(lines: list[str], first: int, last: int) -> dict[str, bool]:
    """Layer → shown: False when it is frozen (70 has bit 1) or off (negative colour, 62)."""
    found: dict[str, bool] = {}
    for kind, groups, line in _records(lines, first, last):
        if kind != "LAYER":
            continue
        name = next((v.strip() for c, v in groups if c == 2), "")
        frozen = whole(groups, 70, 0, line) & 1
        off = whole(groups, 62, 7, line) < 0
        found[name] = not (frozen or off)
    return found


def _records(lines: list[str], first: int, last: int) -> Iterator[tuple[str, list[Group], int]]:
    """(kind, groups, line) of the records that code 0 begins."""
    kind, began = "", 0
    groups: list[Group] = []
    for code, value, line in _groups(lines, first, last):
        if code == 0:
            if kind:
                yield kind, groups, began
            kind, groups, began = value.strip(), [], line
        else:
            groups.append((code, value))
    if kind:
        yield kind, groups, began
