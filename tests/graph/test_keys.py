"""Fingerprints: a changed price is not a changed design, a changed field reaches its dependents only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from pipeline.core.recipe import By, HardwarePart, InputFile, Recipe, Sheet
from pipeline.core.shop import Rates, Shop
from pipeline.graph.keys import keys
from pipeline.graph.order import ordered
from pipeline.steps.cavity import Ledge
from pipeline.steps.cover import Screws
from pipeline.steps.fits import Shape
from pipeline.steps.values import Derived, Result
from tests.graph.recipes import drawing, recipe
from tests.steps.factory import step

STEPS = {
    "body": {},
    "control": {"body": "cut"},
    "cover": {"control": "of"},
    "guide": {"body": "of"},
    "pins": {},
}


def design(**more: Any) -> Recipe:
    values: dict[str, Any] = {
        "sheets": {"ply": Sheet(measured={"A": 11.8}, price=40.0)},
        "hardware": {"bridge": HardwarePart(mass=80.0, price=25.0)},
        "inputs": (InputFile(path="wren.yaml", sha256="a" * 64), InputFile(path="wren.svg", sha256="b" * 64)),
    }
    return recipe(STEPS, **(values | more))


def of(r: Recipe, specs: Mapping[str, Any] | None = None) -> dict[str, str]:
    steps = {n: replace(s, spec=(specs or {}).get(n)) for n, s in r.steps.items()}
    r = replace(r, steps=steps)
    return keys(Derived(recipe=r, drawing=drawing(), order=tuple(ordered(r)), results={}))


def changed(a: Mapping[str, str], b: Mapping[str, str]) -> set[str]:
    assert set(a) == set(b) == set(STEPS)
    return {n for n in a if a[n] != b[n]}


BEFORE = of(design())


def test_they_are_short_and_all_different() -> None:
    assert all(len(k) == 16 and int(k, 16) >= 0 for k in BEFORE.values())
    assert len(set(BEFORE.values())) == len(STEPS)


@pytest.mark.parametrize(
    "more",
    [
        {"sheets": {"ply": Sheet(measured={"A": 11.8}, price=55.0)}},
        {"shops": {"router": Shop(rates=Rates(hour=90.0, feed=1800.0))}},
        {"hardware": {"bridge": HardwarePart(mass=80.0, price=31.0)}},
        {"title": "Wren the second", "revision": "C", "by": By(owner="Reed Street Shop")},
        {"notes": ("a note",)},
        {"inputs": (InputFile(path="wren.yaml", sha256="c" * 64), InputFile(path="wren.svg", sha256="b" * 64))},
    ],
    ids=["sheet price", "rates", "part price", "title block", "notes", "recipe text"],
)
def test_prices_and_words_change_nothing(more: dict[str, Any]) -> None:
    """trade.md 9.3: a changed price is not a changed design; 12.1: price, text and notes touch list and print."""
    assert changed(BEFORE, of(design(**more))) == set()


@pytest.mark.parametrize(
    ("step", "want"),
    [
        ("body", {"body", "control", "cover", "guide"}),
        ("control", {"control", "cover"}),
        ("cover", {"cover"}),
        ("pins", {"pins"}),
    ],
)
def test_a_field_changes_its_step_and_what_depends_on_it(step: str, want: set[str]) -> None:
    """The transitive dependents of STEPS, read off by hand."""
    assert changed(BEFORE, of(design(), {step: ("depth", 16.0)})) == want


@pytest.mark.parametrize(
    "more",
    [
        {"sheets": {"ply": Sheet(measured={"A": 11.7}, price=40.0)}},
        {"shops": {"router": Shop(kerf=0.2)}},
        {"inputs": (InputFile(path="wren.yaml", sha256="a" * 64), InputFile(path="wren.svg", sha256="d" * 64))},
        {"tolerance": 0.01},
        {"make": 2},
    ],
    ids=["thickness", "kerf", "drawing", "tolerance", "make"],
)
def test_what_every_step_stands_on_changes_all(more: dict[str, Any]) -> None:
    assert changed(BEFORE, of(design(**more))) == set(STEPS)


def test_the_order_of_shops_and_sheets_in_the_file_is_nothing() -> None:
    both = {"ply": Sheet(measured={"A": 11.8}), "mdf": Sheet(measured={"A": 9.1})}
    turned = dict(reversed(both.items()))
    assert of(design(sheets=both)) == of(design(sheets=turned))


def test_a_measured_height_changes_the_stack_alone() -> None:
    """A blank that was measured lower has other depths, though no field of the recipe has changed."""
    r = design()
    order = tuple(ordered(r))

    def at(height: float) -> dict[str, str]:
        made = {"guide": Result(step="guide", kind="stack", numbers={"thickness_mm": height})}
        return keys(Derived(recipe=r, drawing=drawing(), order=order, results=made))

    assert changed(at(35.5), at(35.4)) == {"guide"}


def test_another_drawing_of_a_like_name_is_not_taken_for_ours() -> None:
    """The key holds the drawing that the recipe names, not another input whose path ends the same way."""
    mine = InputFile(path="wren.svg", sha256="b" * 64)
    one, two = (InputFile(path="n.svg", sha256=c * 64) for c in "de")
    assert changed(of(design(inputs=(one, mine))), of(design(inputs=(two, mine)))) == set()


def test_a_covers_screws_reach_the_cavity_whose_pads_they_need() -> None:
    """The cavity keeps wood under the screws of its cover, so their size is part of its shape."""

    def with_pads(pads: float) -> dict[str, str]:
        lid = step(
            "lid", "cover", of="control", sheet="ply3", gap=0.25, screws=Screws(count=4, diameter=2.5, pads=pads)
        )
        cavity = step(
            "control",
            "cavity",
            opening=Shape(rectangle=(80.0, 45.0), corner=8.0),
            centre=(0.0, 0.0),
            face="back",
            floor=4.0,
            ledge=Ledge(width=4.5, depth=3.0),
        )
        r = replace(recipe({}), steps={"control": cavity, "lid": lid})
        return keys(Derived(recipe=r, drawing=drawing(), order=tuple(ordered(r)), results={}))

    assert with_pads(9.0)["control"] != with_pads(10.0)["control"]
    assert with_pads(9.0) == with_pads(9.0)
