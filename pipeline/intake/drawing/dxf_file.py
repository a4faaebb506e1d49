"""The parts of a DXF file: header, layers, blocks and objects, each record with its own fields."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from pipeline.core.errors import refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import LARGEST
from pipeline.intake.drawing.dxf_groups import Groups, Value

MAX_RECORDS = 1_000_000
"""Most objects and vertices of one file."""
_SECTIONS = ("HEADER", "TABLES", "BLOCKS", "ENTITIES")
_PARTS = {"POLYLINE": "VERTEX", "INSERT": "ATTRIB"}
"""Objects that are followed by parts of their own, up to a SEQEND."""


class Unusable(ValueError):
    """An object that can't be used: ``wrong`` is a clause without a full stop, ``pair`` where it shows."""

    def __init__(self, wrong: str, pair: int | None = None, remedy: str = "Mend it in the drawing.") -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.pair = pair
        self.remedy = remedy


@dataclass(slots=True, eq=False)
class Record:
    """One record: ``kind`` as its code 0 says, its pairs from ``at`` up to ``end``, and its parts."""

    groups: Groups
    kind: str
    at: int
    end: int
    parts: list[Record] = field(default_factory=list)
    _first: dict[int, int] | None = None

    def pairs(self) -> Iterator[tuple[int, int]]:
        """(code, k) of its own pairs: without what other programs hang on it (1001, 102, 101)."""
        aside = False
        codes = self.groups.codes
        for k in range(self.at + 1, self.end):
            code = codes[k]
            if code == 102:
                aside = self.groups.word(k).startswith("{")
            elif code == 101 or code >= 1000:
                return
            elif not aside:
                yield code, k

    def first(self, code: int) -> int | None:
        """Where a code stands for the first time; None when it doesn't."""
        if self._first is None:
            self._first = {}
            for c, k in self.pairs():
                self._first.setdefault(c, k)
        return self._first.get(code)

    def text(self, code: int, default: str = "") -> str:
        k = self.first(code)
        return default if k is None else self.groups.word(k)

    def number(self, code: int, default: float | None = None) -> float:
        """The number of a code; ``default`` where it is absent. Raises Unusable, also without a default."""
        k = self.first(code)
        if k is not None:
            return self.at_pair(k)
        if default is None:
            raise Unusable(f"its group {code} is missing", self.at)
        return default

    def whole(self, code: int, default: int = 0) -> int:
        return int(self.number(code, float(default)))

    def numbers(self, code: int) -> list[float]:
        return [self.at_pair(k) for c, k in self.pairs() if c == code]

    def at_pair(self, k: int) -> float:
        """The value of pair ``k`` as a finite number. Raises Unusable."""
        value = self.groups.values[k]
        try:
            number = _number(value)
        except ValueError as error:
            raise Unusable(f"{quoted(str(value).strip(), 40)} isn't a number", k) from error
        if not math.isfinite(number):
            raise Unusable(f"its group {self.groups.codes[k]} is {quoted(str(value).strip(), 40)}", k)
        if abs(number) > LARGEST:
            raise Unusable(f"the number {number:g} is out of reach", k)
        return number

    def point(self, code: int, default: tuple[float, float, float] | None = None) -> tuple[float, float, float]:
        """(x, y, z) of the codes ``code``, + 10, + 20; a missing z is 0. Raises Unusable."""
        if default is not None and self.first(code) is None:
            return default
        return self.number(code), self.number(code + 10), self.number(code + 20, 0.0)

    def points(self, code: int) -> list[tuple[float, float, float]]:
        """All points of a code in their order. Raises Unusable when an x has no y."""
        found: list[list[float]] = []
        given: list[int] = []
        for c, k in self.pairs():
            if c == code:
                found.append([self.at_pair(k), math.nan, 0.0])
                given.append(k)
            elif found and c in (code + 10, code + 20):
                found[-1][(c - code) // 10] = self.at_pair(k)
        for p, k in zip(found, given, strict=True):
            if math.isnan(p[1]):
                raise Unusable("a point has an x but no y", k)
        return [(x, y, z) for x, y, z in found]

    @property
    def handle(self) -> str:
        return self.text(5)

    @property
    def layer(self) -> str:
        return self.text(8) or "0"

    @property
    def title(self) -> str:
        """Its kind and handle: ``LINE 2F``."""
        return f"{self.kind} {self.handle}".strip()

    def place(self, k: int | None = None) -> Place:
        name = f"{self.title} on layer {quoted(self.layer)}"
        return self.groups.place(self.at if k is None else k, name)


@dataclass(slots=True, eq=False)
class Block:
    """A block: its record (base point, flags) and its objects."""

    name: str
    record: Record
    objects: list[Record]

    @property
    def outside(self) -> bool:
        """True when it stands in another file."""
        return bool(self.record.whole(70) & (4 | 8))


@dataclass(slots=True, eq=False)
class DxfFile:
    """``layers`` and ``blocks`` by their name in lower case, as names of DXF don't mind the case."""

    groups: Groups
    header: dict[str, Value]
    layers: dict[str, Record]
    blocks: dict[str, Block]
    objects: list[Record]

    def whole(self, variable: str, default: int) -> int:
        """A header variable as a whole number; ``default`` where it is absent or isn't one."""
        try:
            return int(_number(self.header.get(variable, default)))
        except (ValueError, OverflowError):
            return default


def _number(value: Value) -> float:
    if isinstance(value, str) and "_" in value:
        raise ValueError(value)
    return float(value)


def read_file(groups: Groups) -> DxfFile:
    """The sections of a file. Raises Refused when it is cut short or isn't built as a DXF file is."""
    sections = _sections(groups)
    blocks: dict[str, Block] = {}
    open_: Block | None = None
    for record in _records(groups, sections.get("BLOCKS")):
        if record.kind == "BLOCK":
            open_ = Block(record.text(2), record, [])
            blocks.setdefault(open_.name.lower(), open_)
        elif record.kind == "ENDBLK":
            open_ = None
        elif open_ is not None:
            open_.objects.append(record)
    layers: dict[str, Record] = {}
    for record in _records(groups, sections.get("TABLES")):
        if record.kind == "LAYER":
            layers.setdefault(record.text(2).lower(), record)
    return DxfFile(groups, _header(groups, sections), layers, blocks, list(_records(groups, sections["ENTITIES"])))


def _sections(groups: Groups) -> dict[str, tuple[int, int]]:
    """Section name → its first pair and the pair of its end."""
    found: dict[str, tuple[int, int]] = {}
    name, start, ended = "", -1, False
    for k in (k for k, code in enumerate(groups.codes) if code == 0):
        word = groups.word(k)
        if word == "EOF":
            ended = True
            break
        if word == "SECTION":
            named = k + 1 < len(groups.codes) and groups.codes[k + 1] == 2
            name, start = groups.word(k + 1) if named else "", k + 2
        elif word == "ENDSEC" and start >= 0:
            found.setdefault(name, (start, k))
            start = -1
    file = Place(file=groups.file)
    if not found and not (groups.codes and start >= 0):
        raise refuse(
            "This isn't a DXF drawing: it has no sections.",
            place=file,
            expected="a DXF file, which begins with the code 0 and SECTION",
            remedy="Save or export the drawing as DXF or SVG.",
        )
    if not ended or start >= 0:
        raise refuse(
            f"The drawing ends before {f'its section {quoted(name, 40)} does' if start >= 0 else 'its end mark'}.",
            place=groups.place(len(groups.codes) - 1) if groups.codes else file,
            expected="a whole DXF drawing, which ends with the code 0 and EOF",
            remedy="Save or export the drawing again as DXF.",
        )
    if "ENTITIES" not in found:
        raise refuse(
            "The drawing has no section ENTITIES, so it holds no objects.",
            place=file,
            expected="a DXF drawing with objects",
            remedy="Save or export the drawing again as DXF.",
        )
    return {n: span for n, span in found.items() if n in _SECTIONS}


def _records(groups: Groups, span: tuple[int, int] | None) -> Iterator[Record]:
    """The records of a section, each with the parts that follow it."""
    if span is None:
        return
    starts = [k for k in range(*span) if groups.codes[k] == 0]
    if len(starts) > MAX_RECORDS:
        raise refuse(
            f"The drawing has more than {MAX_RECORDS} objects and vertices.",
            place=Place(file=groups.file),
            remedy="Save only the objects that are needed.",
        )
    owner: Record | None = None
    for k, end in pairwise([*starts, span[1]]):
        record = Record(groups, groups.word(k), k, end)
        if owner is not None and record.kind == _PARTS[owner.kind]:
            owner.parts.append(record)
            continue
        if owner is not None:
            yield owner
            owner = None
        if record.kind in _PARTS:
            owner = record
        elif record.kind != "SEQEND":
            yield record
    if owner is not None:
        yield owner


def _header(groups: Groups, sections: dict[str, tuple[int, int]]) -> dict[str, Value]:
    """Each header variable's first value."""
    found: dict[str, Value] = {}
    for k in range(*sections.get("HEADER", (0, 0))):
        if groups.codes[k] == 9 and k + 1 < len(groups.codes) and groups.codes[k + 1] != 9:
            found.setdefault(groups.word(k), groups.values[k + 1])
    return found
