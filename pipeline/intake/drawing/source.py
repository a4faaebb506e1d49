"""From bytes to a tree of elements that know their line, their column and where each attribute stands.

Drawings are untrusted: their size, depth and number of elements are bounded, nothing outside the file
is ever fetched, and of entities only the five of XML pass, besides plain web addresses that some
drawing programs declare for their namespaces (they can't expand and never reach geometry).
"""

from __future__ import annotations

import bisect
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.place import Place
from pipeline.core.text import quoted
from pipeline.intake.drawing.decode import text_of

MAX_DEPTH = 200
MAX_ELEMENTS = 500_000
MAX_ENTITIES = 64

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
TEXT_TAGS = frozenset({"style", "text", "tspan", "textPath", "title"})

_ADDRESS = re.compile(r"https?://[^\s&<>\"'%]{1,200}")
_ATTRIBUTE = re.compile(r"""\s+([^\s=]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_QUIET = re.compile(r"<!--.*?-->|<!\[CDATA\[.*?\]\]>", re.DOTALL)
_ENTITY = re.compile(r"&(?!#|amp;|lt;|gt;|quot;|apos;)([^;\s&<]{1,60});")


@dataclass(slots=True, eq=False)
class Node:
    """One element. ``tag`` is the local name, "" for an element of a foreign namespace.

    ``attrs`` holds attributes without namespace, ``href`` (also from xlink) and ``:label`` (a label
    attribute of whatever namespace). ``offset`` is the position of its ``<`` in the decoded text.
    """

    tag: str
    attrs: dict[str, str]
    parent: Node | None
    offset: int
    children: list[Node] = field(default_factory=list)
    text: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        return self.attrs.get("id", "").strip()

    def walk(self) -> Iterator[Node]:
        """The element and all below it, in document order."""
        stack = [self]
        while stack:
            node = stack.pop()
            yield node
            stack.extend(reversed(node.children))

    def words(self) -> str:
        """All text inside, as one line."""
        return " ".join("".join(t for n in self.walk() for t in n.text).split())


@dataclass(slots=True, eq=False)
class Source:
    """A drawing's text with its tree: ``file`` is the name that messages use."""

    file: str
    text: str
    starts: list[int]
    root: Node
    _lines: dict[int, str] = field(default_factory=dict)

    def spot(self, offset: int, name: str = "") -> Place:
        """The place of a character of the text."""
        line = bisect.bisect_right(self.starts, offset)
        start = self.starts[line - 1]
        shown = self._lines.get(line)
        if shown is None:  # one copy of each line, since whole drawings stand on one
            end = self.starts[line] if line < len(self.starts) else len(self.text)
            shown = self._lines[line] = self.text[start:end].rstrip("\r\n")
        return Place(file=self.file, line=line, column=offset - start + 1, text=shown, object=name)

    def place(self, node: Node, attribute: str = "", index: int = 0) -> Place:
        """The place of an element, or of character ``index`` (from 0) of one of its attributes."""
        at = self._attribute(node.offset, attribute, index) if attribute else None
        return self.spot(node.offset if at is None else at, quoted(node.id)[1:-1] or f"<{node.tag}>")

    def _attribute(self, offset: int, name: str, index: int) -> int | None:
        at = re.compile(r"<[^\s/>]+").match(self.text, offset)
        while at:
            at = _ATTRIBUTE.match(self.text, at.end())
            if at and at[1] == name:
                group = 2 if at[2] is not None else 3
                raw, pos = at[group], 0
                # XML counts a line break or a reference as one character.
                for _ in range(index):
                    step = re.compile(r"\r\n|&[^;]{1,60};|.", re.DOTALL).match(raw, pos)
                    pos = step.end() if step else pos
                return at.start(group) + pos
        return None


def read_source(data: bytes, file: str) -> Source:
    """Parse the bytes of a drawing (plain or gzip). Raises Refused."""
    return _parsed(text_of(data, file), file)


class _Builder:
    """Receives what expat reads and builds the tree."""

    def __init__(self, text: str, file: str) -> None:
        self.source = Source(file, text, [0, *(m.end() for m in re.finditer(r"\r\n|\r|\n", text))], _NOTHING)
        self.open: list[Node] = []
        self.count = 0
        self.entities: set[str] = set()
        self.outside = False
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.words
        self.parser.EntityDeclHandler = self.entity
        self.parser.StartDoctypeDeclHandler = self.doctype

    def here(self) -> Place:
        return self.source.spot(self.offset())

    def offset(self) -> int:
        line, column = self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber
        return self.source.starts[min(line, len(self.source.starts)) - 1] + column

    def start(self, name: str, attrs: dict[str, str]) -> None:
        space, _, local = name.rpartition(" ")
        self.count += 1
        if len(self.open) >= MAX_DEPTH:
            raise refuse(
                f"Groups are nested more than {MAX_DEPTH} deep here.", place=self.here(), remedy="Ungroup them."
            )
        if self.count > MAX_ELEMENTS:
            raise refuse(f"The drawing has more than {MAX_ELEMENTS} elements.", place=self.here())
        kept: dict[str, str] = {}
        for key, value in attrs.items():
            where, _, short = key.rpartition(" ")
            if not where or (where == XLINK and short == "href" and "href" not in attrs):
                kept[short] = value
            elif short == "label":
                kept[":label"] = value
        parent = self.open[-1] if self.open else None
        node = Node(local if space in ("", SVG) else "", kept, parent, self.offset())
        if parent is not None:
            parent.children.append(node)
        else:
            self.source.root = node
        self.open.append(node)

    def end(self, _: str) -> None:
        self.open.pop()

    def words(self, text: str) -> None:
        if self.open and self.open[-1].tag in TEXT_TAGS:
            self.open[-1].text.append(text)

    def doctype(self, _: str, system: str | None, public: str | None, __: int) -> None:
        self.outside = bool(system or public)

    def entity(
        self, name: str, parameter: int, value: str | None, _: str | None, system: str | None, *__: object
    ) -> None:
        self.entities.add(name)
        if parameter or value is None or system or not _ADDRESS.fullmatch(value):
            raise refuse(
                f"The drawing declares the entity {quoted(name)}, which stands for other text.",
                place=self.here(),
                expected="only &amp; &lt; &gt; &quot; &apos; and web addresses of namespaces",
                remedy="Save it as a plain SVG, or replace the entity by what it stands for.",
            )
        if len(self.entities) > MAX_ENTITIES:
            raise refuse(f"The drawing declares more than {MAX_ENTITIES} entities.", place=self.here())


_NOTHING = Node("", {}, None, 0)


def _parsed(text: str, file: str) -> Source:
    builder = _Builder(text, file)
    try:
        builder.parser.Parse(text, True)
    except expat.ExpatError as error:
        line, column = error.lineno, error.offset
        at = builder.source.starts[min(line, len(builder.source.starts)) - 1] + column
        raise Refused(_not_xml(builder.source, error, min(at, max(len(text) - 1, 0)))) from error
    if builder.outside:
        # With an outside document type a reader may skip unknown entities without a word.
        plain = _QUIET.sub(lambda m: " " * len(m[0]), text)
        for found in _ENTITY.finditer(plain):
            if found[1] not in builder.entities:
                raise refuse(
                    f"The entity {quoted('&' + found[1] + ';')} isn't defined in the drawing.",
                    place=builder.source.spot(found.start()),
                    expected="only &amp; &lt; &gt; &quot; &apos;",
                    remedy="Replace it by what it stands for; nothing is fetched from elsewhere.",
                )
    root = builder.source.root
    if root.tag != "svg":
        raise refuse(
            f"The first element is {'<' + root.tag[:40] + '>' if root.tag else 'of another kind'}, not <svg>.",
            place=builder.source.spot(root.offset),
            expected="an SVG drawing",
            remedy="Save the drawing as SVG.",
        )
    return builder.source


_SENTENCES = {
    "mismatched tag": "This closing tag doesn't belong to the element that is open here.",
    "duplicate attribute": "An attribute is given twice on this element.",
    "unbound prefix": "A name here has a prefix that the drawing doesn't declare.",
    "undefined entity": "An entity here isn't defined: only &amp; &lt; &gt; &quot; &apos; are.",
    "junk after document element": "There is something after the end of the drawing.",
    "unclosed token": "The drawing ends in the middle of an element.",
    "unclosed CDATA section": "The drawing ends in the middle of a CDATA section.",
}


def _not_xml(source: Source, error: expat.ExpatError, offset: int) -> Problem:
    reason = expat.ErrorString(error.code) or "not well-formed"
    if reason == "no element found":
        blank = not source.text.strip()
        wrong = "The drawing is empty." if blank else "The drawing ends before its last element is closed."
    else:
        wrong = _SENTENCES.get(reason, f"The drawing can't be read as XML here ({reason}).")
    place = source.spot(offset) if source.text.strip() else Place(file=source.file)
    return Problem(
        wrong=wrong, place=place, expected="a whole, well-formed SVG drawing", remedy="Save the drawing again."
    )
