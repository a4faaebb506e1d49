"""The order of one visit: the oracle of trade notes 13.3, and brute force over every possible order."""

from __future__ import annotations

import time
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.workshop.order_search import EXACT, Found, Visit, best_order
from pipeline.workshop.order_set_ups import by_set_ups

Pairs = list[tuple[int, int]]

# Trade notes 13.3. Back: b1 drill 6 (index) before all; b2 end 8; b3 end 6 after b2; b4 end 6 after b3; b5 drill
# 5. Front, after all of the back: f1 end 8; f2 end 6 after f1; f3 drill 3; f4 end 8; f5 end 6 after f2, f3, f4.
NAMES = ("b1", "b2", "b3", "b4", "b5", "f1", "f2", "f3", "f4", "f5")
TOOLS = ("drill 6", "end 8", "end 6", "end 6", "drill 5", "end 8", "end 6", "drill 3", "end 8", "end 6")
EDGES = (
    *((("b1", x)) for x in NAMES[1:]), ("b2", "b3"), ("b3", "b4"),
    *((b, f) for b in NAMES[:5] for f in NAMES[5:]), ("f1", "f2"), ("f2", "f5"), ("f3", "f5"), ("f4", "f5"),
)  # fmt: skip
CAUTIOUS = (("f2", "f4"), ("f3", "f4"))
OPERATIONS = [("back" if n[0] == "b" else "front", t) for n, t in zip(NAMES, TOOLS, strict=True)]


def numbered(edges: tuple[tuple[str, str], ...]) -> Pairs:
    return [(NAMES.index(a), NAMES.index(b)) for a, b in edges]


def test_the_oracle_one_flip_and_six_tool_changes():
    found = best_order(OPERATIONS, numbered(EDGES))
    assert (found.set_ups, found.tools, found.exact) == (1, 6, True)


def test_the_cautious_edges_cost_two_tool_changes():
    found = best_order(OPERATIONS, numbered(EDGES + CAUTIOUS))
    assert (found.set_ups, found.tools, found.exact) == (1, 8, True)


def test_the_oracle_by_trying_every_order():
    """The notes' numbers themselves, without our search."""
    assert cheapest(OPERATIONS, numbered(EDGES)) == (1, 6)
    assert cheapest(OPERATIONS, numbered(EDGES + CAUTIOUS)) == (1, 8)


# -- brute force -------------------------------------------------------------------------------------
def counted(operations: list[tuple[str, str]], order: tuple[int, ...]) -> tuple[int, int]:
    """Changes of set-up and tool along an order; what is empty keeps what is in hand."""
    changes = []
    for held in (0, 1):
        row = [operations[i][held] for i in order if operations[i][held]]
        changes.append(sum(a != b for a, b in pairwise(row)))
    return changes[0], changes[1]


def cheapest(operations: list[tuple[str, str]], before: Pairs) -> tuple[int, int]:
    """The least over all orders that keep the pairs, each of them built and counted."""
    needs = [{a for a, b in before if b == i} for i in range(len(operations))]
    best: list[tuple[int, int]] = []

    def grow(order: tuple[int, ...]) -> None:
        if best and counted(operations, order) >= best[0]:
            return
        if len(order) == len(operations):
            best[:] = [counted(operations, order)]
            return
        for i in range(len(operations)):
            if i not in order and needs[i] <= set(order):
                grow((*order, i))

    grow(())
    return best[0] if best else (0, 0)


def holds(found: Found, operations: list[tuple[str, str]], before: Pairs) -> None:
    """It is an order of all operations, keeps every pair, and its counts are those of the order itself."""
    assert sorted(found.order) == list(range(len(operations)))
    place = {i: n for n, i in enumerate(found.order)}
    assert all(place[a] < place[b] for a, b in before)
    assert counted(operations, found.order) == (found.set_ups, found.tools)


@st.composite
def instances(draw: st.DrawFn, most: int = 7, neutral: bool = True) -> tuple[list[tuple[str, str]], Pairs]:
    n = draw(st.integers(1, most))
    nothing = [""] if neutral else []
    set_ups = st.sampled_from([*nothing, "s", "t", "u"])
    tools = st.sampled_from(["", "3", "6", "8", "12"])
    operations = draw(st.lists(st.tuples(set_ups, tools), min_size=n, max_size=n))
    turned = draw(st.permutations(range(n)))
    pairs = draw(st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=2 * n))
    return operations, sorted({(turned[min(p)], turned[max(p)]) for p in pairs if p[0] != p[1]})


@given(instances())
def test_no_order_has_fewer_changes(instance: tuple[list[tuple[str, str]], Pairs]):
    operations, before = instance
    found = best_order(operations, before)
    assert found.exact
    holds(found, operations, before)
    assert (found.set_ups, found.tools) == cheapest(operations, before)


@given(instances(neutral=False))
def test_set_ups_in_one_go_agree_with_brute_force(instance: tuple[list[tuple[str, str]], Pairs]):
    """Where the dynamic programming over set-ups answers, its answer is the least there is."""
    operations, before = instance
    found = by_set_ups(operations, frozenset(before))
    if found is not None:
        holds(found, operations, before)
        assert (found.set_ups, found.tools) == cheapest(operations, before)


@given(instances())
def test_the_bound_never_passes_the_least(instance: tuple[list[tuple[str, str]], Pairs]):
    operations, before = instance
    assert Visit(operations, before).least(0, "", "") <= cheapest(operations, before)


@given(instances(most=30))
def test_the_rule_of_thumb_keeps_every_pair(instance: tuple[list[tuple[str, str]], Pairs]):
    operations, before = instance
    holds(best_order(operations, before, exact=0), operations, before)


@given(instances(most=6))
def test_one_more_pair_never_saves_anything(instance: tuple[list[tuple[str, str]], Pairs]):
    """So a caution's price is never below nothing."""
    operations, before = instance
    for pair in before:
        fewer = best_order(operations, [p for p in before if p != pair])
        found = best_order(operations, before)
        assert (fewer.set_ups, fewer.tools) <= (found.set_ups, found.tools)


def test_of_equal_orders_the_one_of_the_list():
    assert best_order([("a", "6"), ("a", "8"), ("b", "8"), ("b", "6")], []).order == (0, 1, 2, 3)
    assert best_order([("a", "6"), ("a", "6"), ("a", "8")], []).order == (0, 1, 2)


def test_beyond_twenty_the_rule_is_told():
    """Stay with set-up and tool, else the tool with most in a row. Twenty operations with cutter 8 tempt it,
    though the last of them waits for one with cutter 6: first the 6, then all the 8 would be one change less."""
    operations = [*[("a", "8")] * 20, ("a", "6"), ("a", "8")]
    before = [(20, 21)]
    told = best_order(operations, before)
    assert (told.tools, told.exact) == (2, False)
    assert best_order(operations, before, exact=len(operations)).tools == 1


def test_beyond_twenty_the_bound_may_still_prove_it():
    operations = [("a", "6"), ("a", "8"), *[("a", "12")] * 19]
    before = [(i, n) for n in range(2, 21) for i in (0, 1)]
    found = best_order(operations, before)
    assert len(operations) == EXACT + 1
    assert (found.tools, found.exact) == (2, True)


def test_operations_that_wait_for_one_another_are_refused():
    with pytest.raises(ValueError, match="wait for one another"):
        best_order([("a", "6"), ("a", "8")], [(0, 1), (1, 0)])


@pytest.mark.parametrize("set_ups", [1, 2, 3, 5, 7, 10])
def test_twenty_operations_take_no_time(set_ups: int):
    """As on a machine: index holes first, the outside last, five cutters, some cautions. Measured 1 to 20 ms of
    the processor's time; the limit leaves room for slow machines."""
    dice = Random(set_ups)
    per = EXACT // set_ups
    operations: list[tuple[str, str]] = []
    before: Pairs = []
    for s in range(set_ups):
        first, count = len(operations), per if s < set_ups - 1 else EXACT - len(operations)
        operations += [(f"set-up {s}", f"cutter {dice.randrange(5)}") for _ in range(count)]
        for n in range(first + 1, first + count):
            before.append((first, n))
            before += [(n, first + count - 1)] if n < first + count - 1 else []
            before += [(m, n) for m in range(first + 1, n) if dice.random() < 0.1]
    start = time.process_time()
    found = best_order(operations, before)
    assert time.process_time() - start < 0.5
    assert found.exact
    assert found.set_ups == set_ups - 1
    holds(found, operations, before)
