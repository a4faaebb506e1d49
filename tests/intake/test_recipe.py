"""Recipes as read: values, places, needs, variants, references."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from pipeline.core.errors import Problem, Refused
from pipeline.core.recipe import Recipe, Step
from pipeline.core.shop import Shop
from pipeline.intake.recipe import read_recipe
from tests.intake.things import HEAD, kind, read, step, write, wrongs

HOME = Path(__file__).parent.parent.parent


def test_six_lines_are_a_recipe(tmp_path: Path) -> None:
    """Design, drawing, a known length, one outline: all else has its default."""
    (tmp_path / "wren.svg").write_text("<svg/>", encoding="utf-8")
    path = tmp_path / "wren.yaml"
    path.write_text(
        "design: wren\n"
        "drawing: wren.svg\n"
        "frame:\n"
        "  known: [{between: [left, right], is: 430}]\n"
        "steps:\n"
        "  body: {kind: outline, drawn: body}\n",
        encoding="utf-8",
    )
    recipe = read_recipe(path)
    assert (recipe.design, recipe.title, recipe.revision, recipe.make) == ("wren", "wren", "A", 1)
    assert recipe.frame is not None
    assert recipe.frame.known[0].is_ == 430.0
    assert recipe.frame.turn_over == "x"
    assert recipe.shops == {"router": Shop()}
    assert recipe.said == (
        "No shop is named, so a small router is assumed: bed 1300 × 900 mm, cutters 3, 6, 8 mm, "
        "one file for each piece.",
    )
    assert list(recipe.steps) == ["body"]
    assert recipe.tolerance == 0.005
    assert recipe.drawing == str(tmp_path / "wren.svg")
    assert recipe.made == str(tmp_path / "wren.made.yaml")
    assert recipe.root == str(tmp_path)


def test_the_main_demo_reads_as_it_is_written() -> None:
    """Parameters, stocks, shops, parts and the names that steps use, compared with the file by eye."""
    heron = read_recipe(HOME / "configs" / "recipes" / "heron.yaml")
    assert heron.parameters == {"skin": 4.0, "string_length": 430.0}
    assert heron.frame is not None
    assert heron.frame.known[0].is_ == 430.0
    assert heron.by.issued == "2027-03-14"
    assert heron.sheets["birch12"].measured == {"A": 11.8, "B": 11.7, "C": 11.9}
    assert heron.shop_of("ply3").process == "laser"
    assert heron.default_shop.name == "router"
    assert heron.hardware["bridge"].price == 21.5
    assert heron.steps["control"].spec.floor == 4.0
    blank = heron.steps["blank"]
    assert blank.spec.laminations == ("birch12 A", "birch12 B", "birch12 C")
    assert {k: blank.needs[k] for k in ("body", "control", "pins")} == {
        "body": "outline",
        "control": "cut",
        "pins": "ears",
    }
    assert heron.steps["wire"].needs == {"neck_pocket": "from", "control": "to"}
    assert heron.root == str(HOME)
    assert [i.path for i in heron.inputs] == [
        "configs/recipes/heron.yaml",
        "demo_inputs/heron.svg",
        "configs/shops/small-router.yaml",
        "configs/shops/laser.yaml",
    ]
    for file in heron.inputs:
        assert file.sha256 == hashlib.sha256((HOME / file.path).read_bytes()).hexdigest()


def test_needs_tell_the_field_that_names_them(tmp_path: Path) -> None:
    """Names in lists and tables are edges too; the trailing underscore of a field is not written."""
    it = step(tmp_path, "of: one, from: two, edge: {front: {round: 6, skip: [three]}}, after: one")
    assert it.needs == {"one": "of", "two": "from", "three": "edge.front.skip"}
    assert it.after == ("one",)
    assert it.spec.from_ == "two"
    assert it.spec.edge["front"].round_ == 6.0
    only_after = step(tmp_path, "after: [two, three]")
    assert only_after.needs == {"two": "after", "three": "after"}


def test_a_kind_adds_needs_and_problems(tmp_path: Path) -> None:
    """``also_needs`` and ``problems`` see the whole recipe; a name the file gives keeps its own reason."""

    def also(step: Step, recipe: Recipe) -> Mapping[str, str]:
        return {name: "stands beside it" for name in recipe.steps if name != step.name}

    path = write(tmp_path, HEAD + "steps: {a: {kind: thing, of: b}, b: {kind: thing}, c: {kind: thing}}\n")
    recipe = read_recipe(path, kinds={"thing": kind(also_needs=also)})
    assert recipe.steps["a"].needs == {"b": "of", "c": "stands beside it"}

    def never(step: Step, recipe: Recipe) -> list[Any]:
        return [Problem(wrong=f"{step.name} of {len(recipe.steps)} is wrong.", place=step.place("of"))]

    with pytest.raises(Refused) as refused:
        read_recipe(path, kinds={"thing": kind(problems=never)})
    assert [p.wrong for p in refused.value.problems] == [f"{n} of 3 is wrong." for n in "abc"]


def test_one_value_stands_for_a_list_of_one(tmp_path: Path) -> None:
    """A name, a mark or a point needs no brackets of its own where several may stand."""
    assert step(tmp_path, "cut: one").spec.cut == ("one",)
    assert step(tmp_path, "at: mark").spec.at == ("mark",)
    assert step(tmp_path, "at: [3, 4]").spec.at == ((3.0, 4.0),)
    assert step(tmp_path, "at: [[3, 4], mark]").spec.at == ((3.0, 4.0), "mark")
    assert step(tmp_path, "at: [mark, other]").spec.at == ("mark", "other")
    assert step(tmp_path, "ways: [3, 4]").spec.ways == ((3.0, 4.0),)
    assert step(tmp_path, "ways: [[3, 4], [5, 6]]").spec.ways == ((3.0, 4.0), (5.0, 6.0))
    assert step(tmp_path, "ways: []").spec.ways == ()


def test_unions_take_the_form_that_fits(tmp_path: Path) -> None:
    """A word, a number, arithmetic, one name or several."""
    assert step(tmp_path, "fit: slide").spec.fit == "slide"
    assert step(tmp_path, "fit: 0.1").spec.fit == 0.1
    assert step(tmp_path, "fit: 1/64 in").spec.fit == 0.396875
    assert step(tmp_path, "drawn: body").spec.drawn == "body"
    assert step(tmp_path, "drawn: [body, tail]").spec.drawn == ("body", "tail")
    assert wrongs(tmp_path, "steps: {it: {kind: thing, fit: 0.1 kg}}") == [
        '"0.1 kg" is a mass, but a length is wanted here.'
    ]


def test_places_lead_back_to_the_line(tmp_path: Path) -> None:
    """Every field, list element and table entry of a step has its place; the step's own is its name."""
    text = (
        "steps:\n  one: {kind: thing}\n"
        "  it:\n    kind: thing\n    cut: [one, one]\n    edge:\n      front: {round: 6}\n"
    )
    recipe = read(tmp_path, text)
    it = recipe.steps["it"]
    spots = {
        path: (it.place(path).line, it.place(path).column) for path in ("", "cut", "cut.1", "edge.front.round")
    }
    assert spots == {"": (5, 3), "cut": (7, 10), "cut.1": (7, 16), "edge.front.round": (9, 22)}
    assert it.place("depth") == it.place("")
    assert it.place("cut").text == "    cut: [one, one]"
    assert recipe.places["steps.it.cut.1"] == it.place("cut.1")
    assert recipe.places["design"].line == 1
    assert str(it.place()) == "wren.yaml:5:3"


def test_a_check_at_construction_becomes_a_problem(tmp_path: Path) -> None:
    """A ValueError of a spec is told at the step."""
    assert wrongs(tmp_path, "steps: {it: {kind: thing, depth: 3, through: true}}") == [
        "A thing has a depth or goes through, not both."
    ]


def test_parameters_use_those_above_and_variants_change_them(tmp_path: Path) -> None:
    """What is worked out from a changed parameter follows it."""
    text = (
        "parameters: {scale: 25 1/2 in, half: scale / 2, turn: 90 deg}\n"
        "steps: {it: {kind: thing, depth: half + 0.15}}\n"
        "variants: {short: {parameters: {scale: 400}}, odd: {parameters: {half: scale - 47.7}}, same: {}}\n"
    )
    assert read(tmp_path, text).parameters == {"scale": 647.7, "half": 323.85, "turn": 90.0}
    assert read(tmp_path, text).steps["it"].spec.depth == 324.0
    short = read(tmp_path, text, variant="short")
    assert short.variants == ("short", "odd", "same")
    assert (short.variant, short.parameters["half"], short.steps["it"].spec.depth) == ("short", 200.0, 200.15)
    assert read(tmp_path, text, variant="odd").parameters["half"] == 600.0
    assert read(tmp_path, text, variant="same").parameters == read(tmp_path, text).parameters
    assert wrongs(tmp_path, text, variant="shrt") == ['The recipe has no variant "shrt".']


def test_a_mistake_in_a_variant_is_told_even_when_it_is_not_built(tmp_path: Path) -> None:
    """And once, though each variant works all parameters out anew."""
    text = (
        "parameters: {a: 1 +, b: 2}\nsteps: {it: {kind: thing}}\n"
        "variants: {x: {parameters: {b: 3}}, y: {tint: true}}\n"
    )
    assert wrongs(tmp_path, text) == ['"1 +" ends too early.', "`tint` is not known in `y`."]


def test_references_are_checked(tmp_path: Path) -> None:
    """Steps, stocks, letters and parts; names of the drawing are left to its reader."""
    stock = "sheets: {ply: {measured: {A: 3, B: 3.1}}}\nhardware: {jack: {}}\n"
    assert step(tmp_path, "sheet: ply B, part: jack, drawn: anything, at: nowhere", stock).spec.sheet == "ply B"
    assert step(tmp_path, "sheet: ply", stock).spec.sheet == "ply"
    bad = stock + "steps: {it: {kind: thing, sheet: ply C, part: jak, of: itt, cut: [it, on]}}"
    assert wrongs(tmp_path, bad) == [
        'The stock "ply" has no sheet "C".',
        '"jak" is not a part in `hardware`.',
        '"itt" is not a step of this recipe.',
        '"on" is not a step of this recipe.',
    ]


def test_many_problems_are_counted(tmp_path: Path) -> None:
    """Two hundred are told, of the others the number, so that no file floods the screen."""
    found = wrongs(tmp_path, "steps: {it: {kind: thing}}\n" + "".join(f"x{n}: 1\n" for n in range(300)))
    assert len(found) == 201
    assert found[-1] == "100 more problems are not shown."


def test_a_reference_to_a_broken_step_is_no_second_problem(tmp_path: Path) -> None:
    """One mistake, one message."""
    text = "steps: {bad: {kind: thing, depth: -1}, it: {kind: thing, of: bad}}\n"
    assert wrongs(tmp_path, text) == ["`depth` must be more than 0, but -1 stands here."]


def test_reading_loads_no_geometry() -> None:
    """Neither importing the reader nor reading a recipe with all its kinds needs numpy or shapely."""
    code = (
        "import sys; from pipeline.intake.recipe import read_recipe\n"
        "assert 'yaml' not in sys.modules and 'pipeline.steps.registry' not in sys.modules\n"
        "read_recipe('configs/recipes/heron.yaml')\n"
        "print([m for m in ('numpy', 'shapely', 'ezdxf', 'networkx', 'svgelements') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=HOME, capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
