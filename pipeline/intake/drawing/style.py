"""The part of CSS that decides what a drawing shows: which elements, how they are painted, where they stand.

Read: style blocks with selectors by element, class, id, all (*), lists of them, descendants and
children; the style attribute; presentation attributes; the cascade between them (CSS Cascade 4:
presentation attribute < style block by specificity < style attribute, ``!important`` above each).
What isn't read is named in ``doubts`` when it could change a shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from pipeline.core.text import quoted
from pipeline.intake.drawing.source import Node

INHERITED = (
    "fill", "stroke", "fill-rule", "visibility", "fill-opacity", "stroke-opacity", "stroke-width",
    "stroke-dasharray", "marker-start", "marker-mid", "marker-end",
)  # fmt: skip
OWN = (
    "display", "opacity", "clip-path", "mask", "filter", "overflow",
    "transform", "transform-origin", "transform-box",
)  # fmt: skip
MEASURES = ("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "d")
MOVING = ("translate", "rotate", "scale", "zoom", "offset-path", "offset")
"""Properties that would move or scale a shape and that we don't read."""
WATCHED = frozenset((*INHERITED, *OWN, *MEASURES, *MOVING, "marker", "all"))

_COMPOUND = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][A-Za-z_\u0080-\uffff-][\w\u0080-\uffff-]*)*)")
_COMMENT = re.compile(r"/\*.*?(\*/|\Z)", re.DOTALL)
_STRING = re.compile(r'"(?:\\.|[^"\\])*"|\'(?:\\.|[^\'\\])*\'', re.DOTALL)

Declarations = Mapping[str, tuple[str, bool]]
"""Property → (value, important)."""


@dataclass(frozen=True, slots=True)
class Compound:
    tag: str
    ids: frozenset[str]
    classes: frozenset[str]

    def fits(self, node: Node) -> bool:
        return (
            self.tag in ("", "*", node.tag)
            and self.ids <= {node.id}
            and self.classes <= set(node.attrs.get("class", "").split())
        )


@dataclass(frozen=True, slots=True)
class Rule:
    """One selector (compounds from right to left, each with the combinator to its left)."""

    chain: tuple[tuple[Compound, str], ...]
    weight: tuple[int, int, int]
    order: int
    declarations: Declarations

    def fits(self, node: Node) -> bool:
        """Whether the selector picks the element; work grows with depth times length, no more."""
        reached = [node] if self.chain[0][0].fits(node) else []
        for i, (compound, _) in enumerate(self.chain[1:]):
            if not reached:
                return False
            if self.chain[i][1] == ">":
                above = [n.parent for n in reached if n.parent is not None]
            else:
                above = list(_ancestors(reached[0]))
            reached = [n for n in above if compound.fits(n)]
        return bool(reached)

    @property
    def key(self) -> str:
        """What an element must have to be picked: "#id", ".class", "tag" or "*"."""
        last = self.chain[0][0]
        for sign, names in (("#", last.ids), (".", last.classes)):
            if names:
                return sign + min(names)
        return last.tag or "*"


def _ancestors(node: Node) -> Iterator[Node]:
    up = node.parent
    while up is not None:
        yield up
        up = up.parent


@dataclass(slots=True)
class Styles:
    """All style blocks of a drawing. ``doubts`` are (node of the block, what isn't read)."""

    rules: dict[str, list[Rule]] = field(default_factory=dict)
    count: int = 0
    doubts: list[tuple[Node, str]] = field(default_factory=list)
    _known: dict[int, dict[str, str]] = field(default_factory=dict)

    def add(self, node: Node) -> None:
        """Read one <style> element."""
        if node.attrs.get("type", "text/css").strip().lower() not in ("", "text/css"):
            self.doubts.append((node, f"a style block of type {quoted(node.attrs['type'])}"))
            return
        if node.attrs.get("media", "all").strip() not in ("", "all", "screen", "print"):
            self.doubts.append((node, f"a style block for {quoted(node.attrs['media'])}"))
            return
        for prelude, body in _blocks("".join(node.text)):
            self._rule(node, prelude, body)

    def _rule(self, node: Node, prelude: str, body: str | None) -> None:
        if prelude.startswith("@"):
            name = prelude.split()[0].split("(")[0]
            if name not in ("@charset", "@font-face", "@namespace", "@keyframes"):
                self.doubts.append((node, f"the style rule {quoted(name)}"))
            return
        declarations = declared(body or "")
        watched = {k: v for k, v in declarations.items() if k in WATCHED}
        if not watched:
            return
        for selector in prelude.split(","):
            chain = _selector(selector.strip())
            if chain is None:
                what = ", ".join(sorted(watched))
                self.doubts.append((node, f"the style selector {quoted(selector.strip(), 60)} (it sets {what})"))
                continue
            weight = (
                sum(len(c.ids) for c, _ in chain),
                sum(len(c.classes) for c, _ in chain),
                sum(c.tag not in ("", "*") for c, _ in chain),
            )
            self.count += 1
            rule = Rule(chain, weight, self.count, watched)
            self.rules.setdefault(rule.key, []).append(rule)

    def of(self, node: Node) -> dict[str, str]:
        """The watched properties that the element itself declares, after the cascade.

        A property set by an attribute is marked by a leading "@" on its key (``@transform``): the
        two notations differ.
        """
        known = self._known.get(id(node))
        if known is None:
            known = self._known[id(node)] = self._cascade(node)
        return known

    def _cascade(self, node: Node) -> dict[str, str]:
        layers: list[tuple[tuple[int, ...], Declarations]] = [
            ((1, *rule.weight, rule.order), rule.declarations)
            for key in (
                "*",
                node.tag,
                *(f".{c}" for c in sorted(set(node.attrs.get("class", "").split()))),
                f"#{node.id}",
            )
            for rule in self.rules.get(key, ())
            if rule.fits(node)
        ]
        style = {k: v for k, v in declared(node.attrs.get("style", "")).items() if k in WATCHED}
        layers.append(((2,), style))
        result: dict[str, str] = {}
        for name in (*INHERITED, *OWN):
            if name in node.attrs:
                result["@transform" if name == "transform" else name] = node.attrs[name].strip()
        for important in (False, True):
            for _, declarations in sorted(layers, key=lambda layer: layer[0]):
                for name, (value, strong) in declarations.items():
                    if strong is important:
                        _set(result, name, value)
        return result


def _set(result: dict[str, str], name: str, value: str) -> None:
    if name == "marker":
        result.update({"marker-start": value, "marker-mid": value, "marker-end": value})
    else:
        result.pop("@transform" if name == "transform" else name, None)
        result[name] = value


def declared(text: str) -> dict[str, tuple[str, bool]]:
    """The declarations of a style attribute or block: property → (value, important)."""
    found: dict[str, tuple[str, bool]] = {}
    for part in _split(_COMMENT.sub(" ", text), ";"):
        name, colon, value = part.partition(":")
        name, value = name.strip().lower(), value.strip()
        important = re.search(r"!\s*important\s*$", value, re.IGNORECASE)
        if important:
            value = value[: important.start()].strip()
        if colon and name and value and not (name in found and found[name][1] and not important):
            found[name] = (value, bool(important))
    return found


def _selector(text: str) -> tuple[tuple[Compound, str], ...] | None:
    """The chain of a selector from right to left, None when it has a part that isn't read."""
    words = re.sub(r"\s*>\s*", " > ", text).split()
    chain: list[tuple[Compound, str]] = []
    combinator = ""
    for word in words:
        if word == ">":
            if combinator == ">" or not chain:
                return None
            combinator = ">"
            continue
        found = _COMPOUND.fullmatch(word)
        if not found or not word:
            return None
        parts = re.findall(r"([.#])([^.#]+)", found[2] or "")
        compound = Compound(
            found[1] or "",
            frozenset(v for k, v in parts if k == "#"),
            frozenset(v for k, v in parts if k == "."),
        )
        chain.insert(0, (compound, combinator or " "))
        combinator = ""
    return tuple(chain) if chain and not combinator else None


def _blocks(text: str) -> Iterator[tuple[str, str | None]]:
    """(prelude, body) of each rule at the top; body is None for an at-rule without braces."""
    text = re.sub(r"<!--|-->", " ", _COMMENT.sub(" ", text))
    at = start = 0
    while at < len(text):
        string = _STRING.match(text, at)
        if string:
            at = string.end()
        elif text[at] == ";":
            if text[start:at].strip():
                yield text[start:at].strip(), None
            at = start = at + 1
        elif text[at] == "{":
            end = _closing(text, at)
            yield text[start:at].strip(), text[at + 1 : end]
            at = start = end + 1
        else:
            at += 1


def _closing(text: str, at: int) -> int:
    depth = 0
    while at < len(text):
        string = _STRING.match(text, at)
        if string:
            at = string.end()
            continue
        depth += {"{": 1, "}": -1}.get(text[at], 0)
        if depth == 0:
            return at
        at += 1
    return len(text)


def _split(text: str, mark: str) -> list[str]:
    """Split at ``mark`` outside brackets and quotes."""
    parts, depth, start, at = [], 0, 0, 0
    while at < len(text):
        string = _STRING.match(text, at)
        if string:
            at = string.end()
            continue
        depth += {"(": 1, ")": -1}.get(text[at], 0)
        if text[at] == mark and depth <= 0:
            parts.append(text[start:at])
            start = at + 1
        at += 1
    return [*parts, text[start:]]
