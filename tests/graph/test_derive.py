"""Steps are made in order; a failed one takes only its dependents with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.core.errors import Refused, refuse
from pipeline.geometry.contour import line_chain
from pipeline.geometry.shapes import rectangle
from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.steps.values import Result, World
from tests.graph.recipes import drawing, place, recipe

STEPS = {
    "cover": {"control": "of"},
    "control": {"body": "cut"},
    "body": {},
    "guide": {"body": "of"},
    "pins": {},
}


def plain(name: str, spec: Any, world: World) -> Result:
    return Result(step=name, kind="thing", numbers={"sees": sorted(world.results)})


def test_a_step_sees_what_it_needs_and_nothing_else():
    made = derive(recipe(STEPS), drawing(), makers={"thing": plain})
    assert [s.name for s in made.order] == ["body", "control", "cover", "guide", "pins"]
    assert {n: r.numbers["sees"] for n, r in made.results.items()} == {
        "body": [],
        "control": ["body"],
        "cover": ["body", "control"],
        "guide": ["body"],
        "pins": [],
    }


def test_the_register_reaches_the_steps():
    def make(name: str, spec: Any, world: World) -> Result:
        return Result(step=name, kind="thing", numbers={"T": world.blank_measured[name], "s": world.since["x"]})

    made = derive(
        recipe({"blank": {}}),
        drawing(),
        blank_measured={"blank": 35.4},
        since={"x": "B"},
        makers={"thing": make},
    )
    assert made.results["blank"].numbers == {"T": 35.4, "s": "B"}


def test_all_problems_come_at_once_and_dependents_are_silent():
    def narrow(name: str, spec: Any, world: World) -> Result:
        rectangle(10, 10, 8)  # raises: corner larger than half the side
        raise AssertionError("never reached")

    def refused(name: str, spec: Any, world: World) -> Result:
        raise refuse("pins has no diameter.", place=place(51))

    kinds = {"control": "narrow", "pins": "refused"}
    makers = {"thing": plain, "narrow": narrow, "refused": refused}
    with pytest.raises(Refused) as caught:
        derive(recipe(STEPS, kinds), drawing(), makers=makers)
    assert [p.show().splitlines()[0] for p in caught.value.problems] == [
        "wren.yaml:20:3: control (narrow) can't be made: corner 8 is larger than half the shorter side 5.",
        "wren.yaml:51:3: pins has no diameter.",
    ]


def test_a_geometry_library_error_names_the_step():
    def crossing(name: str, spec: Any, world: World) -> Result:
        import shapely

        shapely.from_wkt("POLYGON ((0 0, 1")
        raise AssertionError("never reached")

    with pytest.raises(Refused, match=r"body \(crossing\) can't be made: ParseException"):
        derive(recipe({"body": {}}, {"body": "crossing"}), drawing(), makers={"crossing": crossing})


def test_a_fault_of_our_own_is_not_dressed_up():
    """Only errors of geometry become a refusal; a mistake in our code stays one."""

    def wrong(name: str, spec: Any, world: World) -> Result:
        return world.results["nothing"]

    with pytest.raises(KeyError):
        derive(recipe({"body": {}}), drawing(), makers={"thing": wrong})


def test_contours_refuse_what_is_not_a_number():
    """The ValueError that a bad number gives in a contour reaches the maker with the step's line."""

    def infinite(name: str, spec: Any, world: World) -> Result:
        line_chain([(0.0, 0.0), (1.0, float("inf"))])
        raise AssertionError("never reached")

    with pytest.raises(Refused, match="body \\(thing\\) can't be made: contour with a coordinate"):
        derive(recipe({"body": {}}), drawing(), makers={"thing": infinite})


def test_a_piece_of_kilometres_is_refused(tmp_path: Path) -> None:
    """A slip of a unit, told with its step before a picture or a nest of it fills the memory."""
    drawn = '<svg xmlns="http://www.w3.org/2000/svg" width="50000mm" height="50000mm" viewBox="0 0 5 5">'
    (tmp_path / "t.svg").write_text(f'{drawn}<path id="big" d="M0 0H5V5H0z"/></svg>', encoding="utf-8")
    (tmp_path / "t.yaml").write_text(
        "design: t\ndrawing: t.svg\nsheets: {ply: {measured: {A: 9}, size: [900, 600]}}\n"
        "steps: {big: {kind: outline, drawn: big, sheet: ply}}\n",
        encoding="utf-8",
    )
    real = read_recipe(tmp_path / "t.yaml")
    with pytest.raises(Refused, match=r"big would be, or lie, 50 m away from zero"):
        derive(real, read_drawing(real))
