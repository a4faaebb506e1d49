"""Mutations of recipes, drawings, registers and tables that know their grammar, and of bytes that know none.

A project is a mapping from file names to bytes, all in one folder; a value that begins with ``LINK`` makes a symbolic
link. Nothing here is random but the `random.Random` that is given.
"""

from __future__ import annotations

import gzip
import math
import random
import re
from collections.abc import Callable, Mapping, Sequence

from tests.bench.hostile import ATTRIBUTES, ELEMENTS, HEADS, LINKS, NUMBERS, PATHS, SUMS, WORDS

Files = dict[str, bytes]
LINK = b"\0link\0"


_SCALAR = re.compile(r"(?<=[\s\[:,{])(?!-\s)[^\s\[\]{},:#'\"][^\[\]{},:#\n'\"]*(?=[,\]}\n]|$)")
_KEY = re.compile(r"(?<=[\s{,])[a-z_]+(?=:)")
_FIELD = re.compile(r", [a-z_]+: (?:[^,{}\[\]\n]+|\[[^\[\]\n]*\]|\{[^{}\n]*\})(?=[,}])")
_NUMBER = re.compile(r"(?<![\w#.])-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def mutated(files: Mapping[str, bytes], others: Sequence[Mapping[str, bytes]], rng: random.Random) -> Files:
    """A project with one to four mutations; ``others`` lend lines and halves of files."""
    made = dict(files)
    for _ in range(rng.choice((1, 1, 1, 1, 1, 2, 2, 3, 4))):
        names = sorted(made)
        name = rng.choices(names, [3.0 if n.endswith(".yaml") and "shop" not in n else 1.5 for n in names])[0]
        if made[name].startswith(LINK):
            continue
        if rng.random() < 0.06:
            made[name] = _bytes(made[name], _lent(others, name, rng), rng)
            continue
        try:
            text = made[name].decode("utf-8")
        except UnicodeDecodeError:
            made[name] = _bytes(made[name], _lent(others, name, rng), rng)
            continue
        try:
            lent = _lent(others, name, rng).decode("utf-8")
        except UnicodeDecodeError:
            lent = text
        made[name] = rng.choice(_MUTATIONS[_kind(name)])(text, lent, rng).encode("utf-8", "surrogatepass")
    if rng.random() < 0.02:
        target = rng.choice(LINKS)
        made[rng.choice(["link.svg", "loop.svg", *sorted(made)])] = LINK + target.encode()
    return made


def _kind(name: str) -> str:
    return {"svg": "svg", "dxf": "dxf", "csv": "csv"}.get(name.rpartition(".")[2], "yaml")


def _lent(others: Sequence[Mapping[str, bytes]], name: str, rng: random.Random) -> bytes:
    """A file of the same kind out of another project."""
    other = rng.choice(others)
    fit = [n for n in sorted(other) if _kind(n) == _kind(name) and not other[n].startswith(LINK)]
    return other[rng.choice(fit)] if fit else b""


def _at(found: Sequence[re.Match[str]], text: str, new: Callable[[re.Match[str]], str], rng: random.Random) -> str:
    """The text with one of the matches replaced."""
    if not found:
        return text
    at = rng.choice(found)
    return text[: at.start()] + new(at) + text[at.end() :]


def _hostile(rng: random.Random) -> str:
    return rng.choice(rng.choice((NUMBERS, NUMBERS, WORDS, SUMS)))


def _near(number: str, rng: random.Random) -> str:
    """A number like this one: a little or much more or less, or its opposite."""
    v = float(number)
    if not math.isfinite(v):
        return "1"
    return repr(
        rng.choice(
            (
                -v,
                v * 10,
                v / 10,
                v * rng.uniform(0.5, 2),
                v * rng.uniform(0.9, 1.1),
                v + rng.uniform(-3, 3),
                v + rng.choice((-1, 1)),
                v + rng.uniform(-30, 30),
                v + 1e-7,
                v * 1e3,
                v * 1e-6,
            )
        )
    )


# -- recipes, profiles, registers -------------------------------------------------------------------------
def _value(text: str, _: str, rng: random.Random) -> str:
    return _at([*_SCALAR.finditer(text)], text, lambda m: _hostile(rng), rng)


def _other_value(text: str, lent: str, rng: random.Random) -> str:
    pool = [m[0] for m in _SCALAR.finditer(rng.choice((text, text, lent)))] or ["1"]
    return _at([*_SCALAR.finditer(text)], text, lambda m: rng.choice(pool), rng)


def _tweak(text: str, _: str, rng: random.Random) -> str:
    return _at([*_NUMBER.finditer(text)], text, lambda m: _near(m[0], rng), rng)


def _number(text: str, _: str, rng: random.Random) -> str:
    return _at([*_NUMBER.finditer(text)], text, lambda m: rng.choice(NUMBERS), rng)


def _key(text: str, lent: str, rng: random.Random) -> str:
    pool = [m[0] for m in _KEY.finditer(rng.choice((text, lent)))] or ["x"]
    return _at([*_KEY.finditer(text)], text, lambda m: rng.choice(pool), rng)


def _drop_field(text: str, _: str, rng: random.Random) -> str:
    return _at([*_FIELD.finditer(text)], text, lambda m: "", rng)


def _lend_field(text: str, lent: str, rng: random.Random) -> str:
    pool = [m[0] for m in _FIELD.finditer(rng.choice((text, lent)))] or [", x: 1"]
    return _at([*_FIELD.finditer(text)], text, lambda m: rng.choice((m[0], "")) + rng.choice(pool), rng)


def _lines(text: str, lent: str, rng: random.Random) -> str:
    """Delete, double, swap, move, indent or lend whole lines."""
    lines = text.split("\n")
    k, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(7):
        case 0:
            del lines[k : k + rng.choice((1, 1, 2, 5))]
        case 1:
            lines.insert(j, lines[k])
        case 2:
            lines[k], lines[j] = lines[j], lines[k]
        case 3:
            lines[k] = rng.choice((" ", "  ", "\t", "    ")) + lines[k]
        case 4:
            lines[k] = lines[k][rng.randrange(3) :]
        case 5:
            lines[k:k] = [lines[k]] * rng.choice((3, 30, 300))
        case _:
            lines.insert(k, rng.choice(lent.split("\n")))
    return "\n".join(lines)


def _path(text: str, _: str, rng: random.Random) -> str:
    found = [*re.finditer(r"(?<=: )[\w./-]+\.(?:svg|dxf|yaml|csv)", text)]
    return _at(found, text, lambda m: rng.choice(PATHS), rng)


def _bomb(text: str, _: str, rng: random.Random) -> str:
    n = rng.choice((10, 100, 1000, 20_000))
    bombs = (
        "a0: &a0 [x, x]\n" + "".join(f"a{k + 1}: &a{k + 1} [{', '.join([f'*a{k}'] * 9)}]\n" for k in range(12)),
        "parameters: {" + ", ".join(f"p{k}: {f'p{k - 1} * p{k - 1}' if k else 3}" for k in range(n % 3000)) + "}\n",
        "deep: " + "[" * n + "]" * n + "\n",
        "deep: " + "{a: " * (n % 5000) + "1" + "}" * (n % 5000) + "\n",
        "".join(f"k{k}: {k}\n" for k in range(n)),
        "notes: [" + ", ".join(['{say: x, at: [0, 0]}'] * (n % 3000)) + "]\n",
        "variants: {" + ", ".join(f"v{k}: {{mirror: true}}" for k in range(n % 200)) + "}\n",
        "steps: {" + ", ".join(f"s{k}: {{kind: offset, of: s{k - 1 if k else n - 1}, by: 1}}" for k in range(n % 900)) + "}\n",
        "x: |\n  " + "y" * n + "\n",
    )  # fmt: skip
    bomb = rng.choice(bombs)
    key = bomb.partition(":")[0]
    lines = [line for line in text.split("\n") if not line.startswith(f"{key}:")]
    return "\n".join(lines) + "\n" + bomb if rng.random() < 0.8 else bomb + text


def _nested(text: str, _: str, rng: random.Random) -> str:
    n = rng.choice((1, 2, 5, 60))
    around = rng.choice((("[", "]"), ("{x: ", "}"), ('"', '"'), ("(", ")"), ("- ", ""), ("[1, ", ", 2]")))
    return _at([*_SCALAR.finditer(text)], text, lambda m: around[0] * n + m[0] + around[1] * n, rng)


# -- drawings ------------------------------------------------------------------------------------------------
_ATTRIBUTE = re.compile(r'\s[\w:-]+="[^"]*"')
_ELEMENT = re.compile(r"<[a-zA-Z][^<>]*/>")
_COMMAND = re.compile(r"(?<=[\"\s\d])[MLHVCSQTAZmlhvcsqtaz](?=[\s\d\-.\"])")


def _attribute(text: str, lent: str, rng: random.Random) -> str:
    pool = (*ATTRIBUTES, *(m[0] for m in _ATTRIBUTE.finditer(rng.choice((text, lent)))))
    return _at([*_ATTRIBUTE.finditer(text)], text, lambda m: rng.choice(("", m[0])) + rng.choice(pool), rng)


def _drop_attribute(text: str, _: str, rng: random.Random) -> str:
    return _at([*_ATTRIBUTE.finditer(text)], text, lambda m: "", rng)


def _element(text: str, lent: str, rng: random.Random) -> str:
    pool = (*ELEMENTS, *(m[0] for m in _ELEMENT.finditer(rng.choice((text, lent)))))
    return _at([*_ELEMENT.finditer(text)], text, lambda m: rng.choice(("", m[0])) + rng.choice(pool), rng)


def _command(text: str, _: str, rng: random.Random) -> str:
    return _at([*_COMMAND.finditer(text)], text, lambda m: rng.choice("MLHVCSQTAZmlhvcsqtaz?"), rng)


def _head(text: str, _: str, rng: random.Random) -> str:
    return rng.choice(HEADS) + re.sub(r"^\s*<\?xml[^>]*>", "", text)


def _pair(text: str, lent: str, rng: random.Random) -> str:
    """Change, drop, double or lend pairs of a DXF."""
    lines, theirs = text.split("\n"), lent.split("\n")
    k = 2 * rng.randrange(max(1, len(lines) // 2))
    j = 2 * rng.randrange(max(1, len(theirs) // 2))
    match rng.randrange(6):
        case 0:
            lines[k + 1 : k + 2] = [
                rng.choice((*NUMBERS, "BLOCK", "INSERT", "ENDSEC", "EOF", "SPLINE", "0", "\0"))
            ]
        case 1:
            lines[k : k + 1] = [
                rng.choice(("0", "10", "20", "70", "42", "40", "999", "-1", "1071", "x", "2", "8"))
            ]
        case 2:
            del lines[k : k + rng.choice((1, 2, 2, 4, 10))]
        case 3:
            lines[k:k] = lines[k : k + rng.choice((2, 2, 8, 40))] * rng.choice((1, 2, 50, 2000))
        case 4:
            lines[k:k] = theirs[j : j + rng.choice((2, 8, 30))]
        case _:
            del lines[k:]
    return "\n".join(lines)


# -- tables --------------------------------------------------------------------------------------------------
def _cell(text: str, lent: str, rng: random.Random) -> str:
    found = [*re.finditer(r"[^,;\n]*(?=[,;\n])", text)]
    pool = (*NUMBERS, *WORDS[:20], '"', '"a\nb', "=1+1", "1,5", *re.split(r"[,;\n]", lent)[:40])
    return _at(found, text, lambda m: rng.choice(pool), rng)


# -- bytes -----------------------------------------------------------------------------------------------------
def _bytes(data: bytes, lent: bytes, rng: random.Random) -> bytes:
    """Flip, cut, join, pack, or write in another encoding."""
    k, j = rng.randrange(len(data) + 1), rng.randrange(len(lent) + 1)
    text = data.decode("utf-8", "replace")
    flipped = bytearray(data)
    for _ in range(rng.choice((1, 3, 20)) if data else 0):
        flipped[rng.randrange(len(flipped))] = rng.randrange(256)
    packed = gzip.compress(data, mtime=0)
    return rng.choice((
        bytes(flipped), data[:k], data[k:], data[:k] + lent[j:], packed, packed[: len(packed) // 2], b"", b"\0" * 50,
        packed + b"x", gzip.compress(bytes(20_000_000), mtime=0), text.encode("utf-16"), text.encode("utf-32"),
        b"\xef\xbb\xbf" + data, data.replace(b"\n", b"\r\n"), data.replace(b"\n", b"\r"), data.replace(b" ", b"\xc2\xa0"),
        data + b"\x1a", b"\xff" + data, text.encode("latin-1", "replace"), data.replace(b"\n", b""), data * 3,
        data.replace(b"\n", b"\xe2\x80\xa8"), b"\x1f\x8b" + data, b"PK\x03\x04" + data, data[:k] + b"\0" + data[k:],
    ))  # fmt: skip


_TABLES = (
    _value,
    _other_value,
    _tweak,
    _tweak,
    _tweak,
    _tweak,
    _number,
    _key,
    _drop_field,
    _lend_field,
    _lines,
    _lines,
    _nested,
)
Mutation = Callable[[str, str, random.Random], str]
_MUTATIONS: Mapping[str, Sequence[Mutation]] = {
    "yaml": (*_TABLES, *_TABLES, _path, _bomb),
    "svg": (_tweak, _tweak, _tweak, _number, _attribute, _drop_attribute, _element, _command, _head, _lines),
    "dxf": (_pair, _pair, _pair, _tweak, _number),
    "csv": (_cell, _cell, _lines, _number),
}
