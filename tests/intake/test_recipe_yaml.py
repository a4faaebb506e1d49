"""YAML as version 1.2 means it, with places and within bounds."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.intake.yaml_nodes import (
    MAX_NESTING,
    Items,
    Leaf,
    Table,
    Tree,
    line_breaks,
    plain,
    read_tree,
)


def read(text: str) -> Any:
    tree, problems = read_tree(text.encode(), "x.yaml")
    assert not problems
    return plain(tree)


@pytest.mark.parametrize(
    ("written", "value"),
    [
        # YAML 1.2.2, example 10.8 (core schema), and the traps of 1.1 that it removed
        ("null", None), ("~", None), ("true", True), ("False", False),
        ("0", 0), ("-19", -19), ("+3", 3), ("0.", 0.0), ("-0.0", 0.0), (".5", 0.5),
        ("+12e03", 12000.0), ("-2E+05", -200000.0), ("1e3", 1000.0), ("012", 12),
        ("no", "no"), ("on", "on"), ("yes", "yes"), ("1:30", "1:30"), ("1_000", "1_000"),
        ("2027-03-14", "2027-03-14"), ("0o7", "0o7"), ("0x3A", "0x3A"), (".inf", ".inf"), ("<<", "<<"),
        ("'12'", "12"), ('"true"', "true"), ("+x", "+x"), ("-x", "-x"),
    ],
)  # fmt: skip
def test_scalars_mean_what_yaml_1_2_says(written: str, value: object) -> None:
    """Octal and hexadecimal integers, infinity and not-a-number stay text, which no number field takes."""
    got = read(f"[{written}]")[0]
    assert got == value
    assert type(got) is type(value)


JSON = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**12), 10**12),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(st.characters(min_codepoint=1, max_codepoint=0xD7FF), max_size=20),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.text(st.characters(max_codepoint=0x2FF), max_size=10), inner, max_size=4),
    ),
    max_leaves=20,
)


@given(JSON)
def test_json_reads_as_itself(value: object) -> None:
    """YAML 1.2 takes JSON as it is: the json module is the outside check of values and escapes."""
    assert read(json.dumps([value])) == json.loads(json.dumps([value]))


def read_or_refused(data: bytes) -> bool:
    """True for a tree and for problems that are sentences; anything else that is raised goes on."""
    try:
        read_tree(data, "x.yaml")
    except Refused as refused:
        return all(p.wrong.endswith(".") or " begin with " in p.wrong for p in refused.problems)
    return True


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    """Nothing but a tree or a Refused comes out."""
    assert read_or_refused(data)


@given(st.text(st.sampled_from("ab: -[]{},\n'\"#&*!|>%\t?\\"), max_size=60))
def test_any_punctuation_is_read_or_refused(text: str) -> None:
    """The signs that mean something in YAML, in any order."""
    assert read_or_refused(text.encode())


def leaves(tree: Tree) -> list[Leaf]:
    if isinstance(tree, Leaf):
        return [tree]
    inner = tree.items if isinstance(tree, Items) else tuple(e.value for e in tree.entries)
    return [leaf for value in inner for leaf in leaves(value)]


TEXT = """\
# Längen stehen hier\r
design: wren
by: {owner: Söderström, drawn: "A R"}
steps:
  body: {kind: outline, drawn: [body, 'tail']}
  note: "ü" # after it
"""


def test_every_value_knows_its_place() -> None:
    """At line and column of every value the text itself stands, quotes or not, behind any letter."""
    tree, _ = read_tree(TEXT.encode(), "x.yaml")
    lines = TEXT.split("\n")
    found = leaves(tree)
    assert [leaf.raw for leaf in found] == ["wren", "Söderström", "A R", "outline", "body", "tail", "ü"]
    for leaf in found:
        rest = lines[leaf.place.line - 1][leaf.place.column - 1 :]
        assert rest.lstrip("'\"").startswith(leaf.raw)
        assert lines[leaf.place.line - 1].rstrip("\r") == leaf.place.text


def test_a_byte_order_mark_is_no_text() -> None:
    """Editors on some machines write one."""
    tree, _ = read_tree(b"\xef\xbb\xbfdesign: wren", "x.yaml")
    assert isinstance(tree, Table)
    assert (tree.entries[0].key, tree.entries[0].key_place.column) == ("design", 1)


def test_block_text_is_one_line() -> None:
    """A folded or literal block is text for one line of print."""
    assert read("title: >\n  Wren,\n  a tenor\n") == {"title": "Wren, a tenor"}
    assert read("title: |\n  Wren,\n  a tenor\n") == {"title": "Wren, a tenor"}


def test_aliases_are_taken_within_bounds() -> None:
    """What an alias stands for counts each time; chains of aliases count as nesting."""
    assert read("a: &x [1, 2]\nb: [*x, *x]") == {"a": [1, 2], "b": [[1, 2], [1, 2]]}
    chain = "a0: &a0 [1]\n" + "".join(f"a{n + 1}: &a{n + 1} [*a{n}]\n" for n in range(MAX_NESTING))
    with pytest.raises(Refused, match="nested more than 30 deep"):
        read(chain)
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"a{n + 1}: &a{n + 1} [{', '.join([f'*a{n}'] * 10)}]\n" for n in range(9)
    )
    with pytest.raises(Refused, match="more than 50,000 values"):
        read(bomb)
    with pytest.raises(Refused, match="nothing above it is complete"):
        read("a: &a [*a]")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[" * 100_000, "nested"),
        ("- " * 100_000, "nested"),
        ("{a: " * 100_000, "nested"),
        ("x" * 2_000_000, "at most 1,000,000 are read"),
        ("[" + "1," * 60_000 + "]", "more than 50,000 values"),
        ("a: 1\n---\nb: 2", "second document"),
        ("", "empty"),
        ("# only words", "empty"),
        ("a: \x07", "invisible character"),
        ("a: \ufeffb", "invisible character"),
    ],
)
def test_bounds(text: str, words: str) -> None:
    """Size, nesting, number of values and documents are bounded, each with its sentence."""
    with pytest.raises(Refused, match=words):
        read_tree(text.encode(), "x.yaml")


def test_lines_are_counted_as_yaml_counts_them() -> None:
    """Joined again they are the text."""
    text = "a\r\nb\rc\nd\x85e\u2028f"
    assert line_breaks(text) == ["a\r\n", "b\r", "c\n", "d\x85", "e\u2028", "f"]
