"""One order and no other; cycles and unknown names are told by name."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import Refused
from pipeline.graph.order import ordered
from tests.graph.recipes import recipe

BODY = {
    "neck_guide": {"neck_pocket": "of"},
    "blank": {"body": "outline", "control": "cut", "neck_pocket": "cut_blank"},
    "cover": {"control": "of"},
    "control": {},
    "body": {},
    "neck_pocket": {},
    "body_guide": {"body": "of"},
}


def names(steps: dict[str, dict[str, str]]) -> list[str]:
    return [s.name for s in ordered(recipe(steps))]


def test_ready_steps_come_by_name():
    """Worked out by hand: at each moment the first name of those that are ready."""
    assert names(BODY) == [
        "body", "body_guide", "control", "cover", "neck_pocket", "blank", "neck_guide",
    ]  # fmt: skip


def test_the_place_in_the_file_does_not_matter():
    turned = {k: dict(reversed(BODY[k].items())) for k in reversed(BODY)}
    assert names(turned) == names(BODY)


@given(st.dictionaries(st.integers(1, 30), st.sets(st.integers(0, 29)), max_size=20))
def test_everything_comes_after_what_it_needs(links: dict[int, set[int]]):
    """Any recipe whose needs point at smaller numbers can be ordered, each step once."""
    members = set(links) | {n for m, needs in links.items() for n in needs if n < m}
    steps = {
        f"s{m:02}": {f"s{n:02}": "of" for n in links.get(m, ()) if n < m} for m in sorted(members, reverse=True)
    }
    order = names(steps)
    assert sorted(order) == sorted(steps)
    for name, needs in steps.items():
        assert all(order.index(need) < order.index(name) for need in needs)


def test_another_hash_seed_gives_the_same_order():
    code = "from tests.graph.test_order import BODY, names; print(names(BODY))"
    said = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("0", "1", "4242")
    }
    assert said == {f"{names(BODY)}\n"}


CYCLE = """\
wren.yaml:21:9: these steps wait for one another, so none of them can be made first: \
blank needs rim (cut), rim needs wire (after), wire needs blank (from).
  expected: steps that can be made one after the other
  to do: take one of these names out: wren.yaml:21:9 (blank: cut), wren.yaml:31:9 (rim: after), \
wren.yaml:41:9 (wire: from)"""


def test_a_cycle_is_walked_by_name_with_the_reason_of_each_edge():
    steps = {
        "body": {},
        "blank": {"rim": "cut"},
        "rim": {"wire": "after", "body": "of"},
        "wire": {"blank": "from"},
        "cover": {"wire": "of"},
    }
    with pytest.raises(Refused) as caught:
        names(steps)
    assert caught.value.show() == CYCLE


def test_the_shortest_walk_is_told():
    """A ring of four with a short cut of two through its first name."""
    steps = {"a": {"b": "of"}, "b": {"c": "of", "a": "after"}, "c": {"d": "of"}, "d": {"a": "of"}}
    with pytest.raises(Refused, match=r"a needs b \(of\), b needs a \(after\)\."):
        names(steps)


def test_a_step_that_needs_itself():
    with pytest.raises(Refused, match=r"rim needs rim \(after\)"):
        names({"rim": {"rim": "after"}})


def test_two_rings_are_two_problems():
    steps = {"a": {"b": "of"}, "b": {"a": "of"}, "x": {"y": "cut"}, "y": {"x": "cut"}}
    with pytest.raises(Refused) as caught:
        names(steps)
    assert [p.place.line for p in caught.value.problems if p.place] == [11, 31]


def test_unknown_names_are_all_refused():
    with pytest.raises(Refused) as caught:
        names({"cover": {"controll": "of"}, "guide": {"bodi": "of"}})
    assert [p.show().splitlines()[0] for p in caught.value.problems] == [
        "wren.yaml:11:9: cover needs controll (of), but there is no step of that name.",
        "wren.yaml:21:9: guide needs bodi (of), but there is no step of that name.",
    ]
