"""YAML text → values that know where they were written.

PyYAML only splits the text into events; what a scalar means is decided here by the rules of YAML 1.2
(core schema without octal and hexadecimal integers): ``no`` and ``on`` are text, ``1e3`` is a number,
``012`` is twelve, ``1:30`` is text. Duplicate keys, tags and further documents are refused. Size,
nesting and the number of values (with aliases written out) are bounded while reading.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.yaml_errors import syntax_problem

MAX_BYTES = 1_000_000
MAX_VALUES = 50_000
MAX_NESTING = 30

_INT = re.compile(r"[-+]?[0-9]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_BREAK = re.compile(r"\r\n|[\n\r\x85\u2028\u2029]")  # where libyaml counts a new line
_UNREADABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """A single value. ``raw`` is the text as it reads, ``value`` what YAML 1.2 makes of it."""

    value: bool | int | float | str | None
    raw: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list."""

    items: tuple[Tree, ...]
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One ``key: value`` of a table; the key is always its text as written."""

    key: str
    key_place: Place
    value: Tree


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Names with values, in the order of the file; no name stands twice."""

    entries: tuple[Entry, ...]
    place: Place

    def get(self, key: str) -> Entry | None:
        return next((e for e in self.entries if e.key == key), None)

    def value_of(self, key: str) -> Tree | None:
        entry = self.get(key)
        return entry.value if entry else None


Tree = Leaf | Items | Table


def read_tree(data: bytes, file: str, *, max_bytes: int = MAX_BYTES) -> tuple[Tree, list[Problem]]:
    """The values of one YAML file, and the problems found beside them (duplicate keys, tags).

    ``file`` is the name that messages show. Raises Refused when the text can't be read on: not UTF-8,
    over ``max_bytes``, over MAX_VALUES values or MAX_NESTING levels, YAML syntax, empty, more than one document.
    """
    text = decoded(data, file, max_bytes=max_bytes)
    return _Reader(text, file).tree()


def decoded(data: bytes, file: str, *, max_bytes: int = MAX_BYTES) -> str:
    """Bytes as text, without byte order mark. Raises Refused unless it is printable UTF-8 within the bound."""
    if len(data) > max_bytes:
        raise refuse(f"The file has {len(data):,} bytes; at most {max_bytes:,} are read.", place=Place(file=file))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise refuse(
            f"Line {line} holds a byte that is not UTF-8 text.",
            place=Place(file=file),
            remedy="save the file as UTF-8 in your editor.",
        ) from error
    bad = _UNREADABLE.search(text)
    if bad:
        lines = _BREAK.split(text[: bad.start()])
        spot = Place(file=file, line=len(lines), column=len(lines[-1]) + 1)
        raise refuse(
            f"An invisible character (U+{ord(bad.group()):04X}) stands here.",
            place=spot,
            remedy="delete it; it may have come in by copying.",
        )
    return text


def line_breaks(text: str) -> list[str]:
    """The lines of a text, counted as YAML counts them, each with its line break."""
    ends = [m.end() for m in _BREAK.finditer(text)]
    return [text[a:b] for a, b in zip([0, *ends], [*ends, len(text)], strict=True) if a < b]


def scalar(raw: str) -> bool | int | float | str | None:
    """What an unquoted scalar means in YAML 1.2. A number too big to hold stays text."""
    if raw in ("", "~", "null", "Null", "NULL"):
        return None
    if raw in ("true", "True", "TRUE"):
        return True
    if raw in ("false", "False", "FALSE"):
        return False
    if _INT.fullmatch(raw) and len(raw) <= 30:
        return int(raw)
    if _FLOAT.fullmatch(raw) and len(raw) <= 400 and math.isfinite(float(raw)):
        return float(raw)
    return raw


def plain(tree: Tree) -> Any:
    """The same values as dicts, lists and scalars."""
    if isinstance(tree, Table):
        return {e.key: plain(e.value) for e in tree.entries}
    if isinstance(tree, Items):
        return [plain(item) for item in tree.items]
    return tree.value


@dataclass(slots=True)
class _Open:
    """A list or table that is being read."""

    table: bool
    place: Place
    anchor: str | None
    values: list[Tree] = field(default_factory=list)
    size: int = 1
    height: int = 1


class _Reader:
    """One walk over the events of a text. Holds the open collections in a stack, so that no nesting
    can exhaust the machine's own."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.lines = _BREAK.split(text)
        self.open: list[_Open] = []
        self.anchors: dict[str, tuple[Tree, int, int]] = {}  # name → value, size, height
        self.problems: list[Problem] = []
        self.size = 0
        self.result: Tree | None = None

    def place(self, mark: Any) -> Place:
        line = self.lines[mark.line] if mark.line < len(self.lines) else ""
        return Place(file=self.file, line=mark.line + 1, column=mark.column + 1, text=line)

    def events(self) -> Iterator[Any]:
        import yaml

        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(self.text)
        try:
            while loader.check_event():
                yield loader.get_event()
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            spot = self.place(mark) if mark else Place(file=self.file)
            opened = self.place(error.context_mark) if error.context_mark else None
            raise Refused(syntax_problem(error.problem or "", spot, opened)) from error
        finally:
            loader.dispose()

    def tree(self) -> tuple[Tree, list[Problem]]:
        import yaml

        documents = 0
        for event in self.events():
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise refuse(
                        "A second document begins here.",
                        place=self.place(event.start_mark),
                        expected="one document in a file",
                        remedy='delete the line "---" and what follows it, or make it a file of its own.',
                    )
            elif isinstance(event, yaml.AliasEvent):
                self.alias(event)
            elif isinstance(event, yaml.ScalarEvent):
                bare = not event.style  # neither quoted nor a block
                self.refuse_tag(event, plain_tag=event.tag == "!" and not bare)
                value = scalar(event.value) if bare else event.value
                if event.style in ("|", ">"):  # block text reads as one line
                    value = " ".join(event.value.split())
                leaf = Leaf(value=value, raw=str(event.value), place=self.place(event.start_mark))
                self.put(leaf, event.anchor, size=1, height=1, mark=event.start_mark)
            elif isinstance(event, yaml.CollectionStartEvent):
                self.refuse_tag(event)
                self.begin(event, table=isinstance(event, yaml.MappingStartEvent))
            elif isinstance(event, yaml.CollectionEndEvent):
                self.end(event)
        if self.result is None or (isinstance(self.result, Leaf) and self.result.value is None):
            raise refuse("The file is empty.", place=Place(file=self.file))
        return self.result, self.problems

    def refuse_tag(self, event: Any, plain_tag: bool = False) -> None:
        if event.tag is not None and not plain_tag:
            self.problems.append(
                Problem(
                    wrong="A mark for a type, beginning with an exclamation mark, stands before this value.",
                    place=self.place(event.start_mark),
                    expected="plain values only",
                    remedy="delete the mark; put text in quotes where it must stay text.",
                )
            )

    def begin(self, event: Any, *, table: bool) -> None:
        if len(self.open) >= MAX_NESTING:
            raise refuse(
                f"Values are nested more than {MAX_NESTING} deep here.", place=self.place(event.start_mark)
            )
        self.open.append(_Open(table=table, place=self.place(event.start_mark), anchor=event.anchor))

    def end(self, event: Any) -> None:
        done = self.open.pop()
        tree: Tree = (
            Table(entries=self.entries(done.values), place=done.place)
            if done.table
            else Items(items=tuple(done.values), place=done.place)
        )
        self.put(tree, done.anchor, size=done.size, height=done.height, mark=event.start_mark, counted=True)

    def alias(self, event: Any) -> None:
        if event.anchor not in self.anchors:
            raise refuse(
                f"*{event.anchor} stands here, but nothing above it is complete and marked &{event.anchor}.",
                place=self.place(event.start_mark),
                remedy="write the values out.",
            )
        tree, size, height = self.anchors[event.anchor]
        if len(self.open) + height > MAX_NESTING:
            raise refuse(
                f"Values are nested more than {MAX_NESTING} deep here.", place=self.place(event.start_mark)
            )
        self.put(tree, None, size=size, height=height, mark=event.start_mark)

    def put(
        self, tree: Tree, anchor: str | None, *, size: int, height: int, mark: Any, counted: bool = False
    ) -> None:
        """Hands a complete value to the collection it stands in."""
        if anchor:
            self.anchors[anchor] = (tree, size, height)
        self.size += 1 if counted else size
        if self.size > MAX_VALUES:
            raise refuse(f"There are more than {MAX_VALUES:,} values up to here.", place=self.place(mark))
        if not self.open:
            self.result = tree
            return
        parent = self.open[-1]
        parent.values.append(tree)
        parent.size += size
        parent.height = max(parent.height, height + 1)

    def entries(self, values: list[Tree]) -> tuple[Entry, ...]:
        found: dict[str, Entry] = {}
        for key, value in zip(values[::2], values[1::2], strict=True):
            if not isinstance(key, Leaf):
                self.problems.append(
                    Problem(wrong="A name is wanted here, not a list or a table.", place=key.place)
                )
            elif key.raw in found:
                first = found[key.raw].key_place
                self.problems.append(
                    Problem(
                        wrong=f"{quoted(key.raw)} stands twice; the first is in line {first.line}.",
                        place=key.place,
                        remedy="keep one of the two.",
                    )
                )
            else:
                found[key.raw] = Entry(key=key.raw, key_place=key.place, value=value)
        return tuple(found.values())
