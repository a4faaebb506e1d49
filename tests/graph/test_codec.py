"""Values come back from their bytes to the last bit, and no bytes run anything."""

from __future__ import annotations

import json
import math
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.findings import Finding, Shown
from pipeline.core.place import Place
from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.region import Part, Region, solid
from pipeline.geometry.shapes import circle, rectangle
from pipeline.graph.codec import Damaged, NotKept, decoded, digest, encoded
from pipeline.steps.values import Result

FLOATS = st.floats(allow_nan=True, allow_infinity=True)
FINITE = st.floats(allow_nan=False, allow_infinity=False, width=64)
PLAIN = st.none() | st.booleans() | st.integers() | FLOATS | st.text() | st.binary(max_size=20)
VALUES = st.recursive(
    PLAIN,
    lambda v: (
        st.tuples(v, v)
        | st.lists(v, max_size=3)
        | st.dictionaries(st.text(max_size=4) | st.integers(), v, max_size=3)
        | st.dictionaries(st.text(max_size=4), v, max_size=3).map(MappingProxyType)
    ),
    max_leaves=8,
)


@st.composite
def contours(draw: st.DrawFn) -> Contour:
    n = draw(st.integers(2, 7))
    xy = np.array(draw(st.lists(st.tuples(FINITE, FINITE), min_size=n, max_size=n)))
    bulge = np.array(draw(st.lists(FINITE, min_size=n, max_size=n)))
    free = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)))
    return Contour(xy, bulge, free, draw(st.booleans()))


def exact(a: Any, b: Any) -> bool:
    """The same to the last bit and type, however deep."""
    if type(a) is not type(b):
        return False
    if isinstance(a, float):
        return np.float64(a).tobytes() == np.float64(b).tobytes() or (math.isnan(a) and math.isnan(b))
    if isinstance(a, tuple | list):
        return len(a) == len(b) and all(map(exact, a, b))
    if isinstance(a, dict | MappingProxyType):
        return exact(list(a), list(b)) and exact(list(a.values()), list(b.values()))
    if isinstance(a, Contour):
        return a.closed is b.closed and all(
            x.tobytes() == y.tobytes() and x.dtype == y.dtype and x.shape == y.shape
            for x, y in ((a.xy, b.xy), (a.bulge, b.bulge), (a.free, b.free))
        )
    return bool(a == b)


@given(VALUES)
@settings(max_examples=40)
def test_plain_values_come_back(value: Any):
    back = decoded(encoded(value))
    assert exact(back, value)
    assert digest(back) == digest(value)


@given(st.lists(contours(), min_size=1, max_size=4))
def test_contours_come_back_to_the_last_bit(found: list[Contour]):
    back = decoded(encoded(found))
    assert exact(back, found)
    assert digest(back) == digest(found)


@given(VALUES, VALUES)
@settings(max_examples=40)
def test_different_values_have_different_signs(a: Any, b: Any):
    assert (digest(a) == digest(b)) == (encoded(a) == encoded(b))


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (0.0, -0.0), (1, 1.0), (1, True), (1, "1"), ((1, 2), [1, 2]), ((1, (2,)), (1, 2)), (None, "null"),
        ({"a": 1}, MappingProxyType({"a": 1})), ({"a": 1, "b": 2}, {"b": 2, "a": 1}), (1.0, np.float64(1.0)),
        ("", b""), (0.1, 0.1 + 2**-56),
    ],
)  # fmt: skip
def test_alike_is_not_the_same(a: Any, b: Any):
    assert digest(a) != digest(b)


def test_what_was_one_object_is_one_again_and_signs_do_not_mind():
    edge = solid(circle(1.0, 2.0, 3.0))
    twice = (edge, edge, edge.parts[0].outer)
    back = decoded(encoded(twice))
    assert back[0] is back[1]
    assert back[2] is back[0].parts[0].outer
    apart = (edge, solid(circle(1.0, 2.0, 3.0)), edge.parts[0].outer)
    assert digest(apart) == digest(twice)
    other = decoded(encoded(apart))
    assert other[0] is not other[1]


def test_a_region_comes_back_with_the_order_it_had():
    """Nothing is put in order or turned round again on the way."""
    odd = Region((Part(line_chain([(5, 0), (5, 1), (6, 0)])), Part(line_chain([(0, 0), (0, 1), (1, 0)]))))
    back = decoded(encoded(odd))
    assert [c.xy.tolist() for c in back.contours] == [c.xy.tolist() for c in odd.contours]
    assert back.area == odd.area


def test_a_result_with_findings_comes_back():
    made = Result(
        step="well",
        kind="cavity",
        region=rectangle(30, 20, 3),
        numbers=MappingProxyType({"at_mm": (1.5, -0.0), "rows": [{"n": 1}]}),
        findings=(
            Finding(check="c", severity="ask", message="m", at_mm=(0.1, 0.2), shown=Shown(heights_mm=(1.0, 2.0))),
        ),
    )
    back = decoded(encoded(made))
    assert digest(back) == digest(made)
    assert back.findings == made.findings
    assert back.numbers == made.numbers


def test_a_place_that_was_looked_up_is_looked_up_anew():
    old, new = (
        Place(file="a.yaml", line=3, column=1, text="x: 1"),
        Place(file="a.yaml", line=9, column=1, text="x: 1"),
    )
    data = encoded((old, 1), lambda p: ("recipe", "places", "x") if p is old else None)
    assert decoded(data, lambda path: {("recipe", "places", "x"): new}[path]) == (new, 1)
    with pytest.raises(Damaged):
        decoded(data)
    with pytest.raises(Damaged):
        decoded(data, lambda path: {}[path])


class Mine:
    pass


@pytest.mark.parametrize(
    "value", [object(), {1, 2}, Mine(), lambda: 1, complex(1, 2), np.zeros(3, dtype=np.float32)]
)
def test_what_is_not_ours_is_not_kept(value: Any):
    with pytest.raises(NotKept):
        encoded(value)
    with pytest.raises(NotKept):
        digest((1, value))


@pytest.mark.parametrize(
    "tree",
    [
        ["d", "os:system", "echo"], ["d", "core.place:os", 1], ["d", "core.findings:worst_first", 1], ["x", 1],
        ["c", 0], ["=", 7], ["d", "core.place:Place", 1], ["n", "float64x", 1], ["P", "recipe"], ["b", 3], [],
        ["d", "../../evil:Thing"], ["a", "|O", [1], ["b", 0]],
    ],
)  # fmt: skip
def test_bytes_that_say_something_else_are_damaged(tree: Any):
    text = json.dumps(tree).encode()
    head = np.array([len(text), 0, 0], dtype="<i8").tobytes()
    with pytest.raises(Damaged):
        decoded(head + text + b" " * (-len(text) % 8))


@given(st.data())
def test_any_change_of_the_bytes_is_found_or_harmless(data: st.DataObject):
    """The store's hash finds it first; even without, nothing but Damaged may be raised."""
    whole = bytearray(encoded((solid(circle(1.0, 2.0, 3.0)), "x", {"k": (1.5, None)})))
    at = data.draw(st.integers(0, len(whole) - 1))
    whole[at] ^= data.draw(st.integers(1, 255))
    cut = data.draw(st.integers(0, len(whole)))
    for damaged in (bytes(whole), bytes(whole[:cut])):
        try:
            decoded(damaged)
        except Damaged:
            continue
