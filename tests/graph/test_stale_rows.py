"""What an edit makes stale: the usual table of the trade on the heron, by the names of the steps made again.

``stale`` came out otherwise; ``looked`` are steps that had to be made again to find that they come out the same,
which is where the search ends.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from tests.graph.kept import Bench, case, content, demo

RECIPE, DRAWING = "configs/recipes/heron.yaml", "demo_inputs/heron.svg"
ROUTER, LASER = "configs/shops/small-router.yaml", "configs/shops/laser.yaml"
OUTLINE = {"body", "body_guide", "carve", "blank"}
Edit = tuple[str, str, str]

ROWS: dict[str, tuple[list[Edit], set[str], set[str]]] = {
    "outline edited away from hardware: the cavities' templates stay": (
        [(DRAWING, "C 108,40 72,98 72,156", "C 107,40 71,98 72,156")],
        OUTLINE,
        {"hollows", "neck_pocket"},
    ),
    "outline near a cavity: nothing more, the checks look at walls": (
        [(DRAWING, "C 72,208 118,276 168,276", "C 72,207 118,275 168,276")],
        OUTLINE,
        {"hollows", "neck_pocket"},
    ),
    "one path of the drawing: only what hangs on it": (
        [(DRAWING, "C 206,192 196,182 180,182", "C 206,191 196,182 180,182")],
        {"control", "cover", "wire", "blank"},
        set(),
    ),
    "frame: everything that is located by it, templates among it": (
        [(DRAWING, "M 215,160 H 225 M 220,155 V 165", "M 216,160 H 226 M 221,155 V 165")],
        {*OUTLINE, "control", "cover", "wire", "neck_pocket", "neck_guide"},
        {"hollows", "tries"},
    ),
    "sheet of the stack measured: its heights and depths, nothing flat": (
        [(RECIPE, "C: 11.9", "C: 11.95")],
        {"blank", "neck_pocket"},
        {"control"},
    ),
    "sheet of the templates measured: the templates": (
        [(RECIPE, "{A: 9.1}", "{A: 9.0}")],
        {"body_guide", "neck_guide"},
        set(),
    ),
    "bush of a template: that template": (
        [(RECIPE, "bush: 17, cutter: 8", "bush: 16, cutter: 8")],
        {"neck_guide"},
        set(),
    ),
    "length of a cutter's edge: no shape": (
        [(ROUTER, "{DC: 8, APMX: 38,", "{DC: 8, APMX: 39,")],
        set(),
        {"blank", "control", "neck_pocket"},
    ),
    "kerf: the coupon that tries it; the lines are drawn true": (
        [(LASER, "kerf: 0.18", "kerf: 0.2")],
        {"tries"},
        set(),
    ),
    "gap of the cover: the cover": ([(RECIPE, "gap: 0.25", "gap: 0.3")], {"cover"}, set()),
    "wall of the hollows: they and the stack": ([(RECIPE, "wall: 14", "wall: 15")], {"blank", "hollows"}, set()),
    "prices": ([(RECIPE, "price: 38", "price: 39"), (ROUTER, "hour: 48", "hour: 49")], set(), set()),
    "a part's price and mass: no shape of the heron": (
        [(RECIPE, "price: 6.80", "price: 7"), (RECIPE, "mass: 140", "mass: 150")],
        set(),
        set(),
    ),
    "title, who, what is accepted": (
        [
            (RECIPE, "title: Heron,", "title: A Heron,"),
            (RECIPE, "drawn: AR", "drawn: XY"),
            (RECIPE, "the horn tips are blended by hand", "the tips are blended by hand"),
        ],
        set(),
        set(),
    ),
    "lines moved in recipe and drawing": (
        [
            (RECIPE, "design: heron", "# a line\n\n\ndesign: heron"),
            (DRAWING, "<title>", "<!-- told -->\n\n<title>"),
        ],
        set(),
        set(),
    ),
    "a mark that no step reads": ([(DRAWING, 'cx="272" cy="234"', 'cx="273" cy="234"')], set(), set()),
}


@pytest.fixture(scope="module")
def heron(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    bench = demo(tmp_path_factory.mktemp("rows") / "heron", "heron")
    assert len(bench.again()) == 14
    assert bench.again() == set()
    return bench


@pytest.mark.parametrize("row", ROWS)
def test_an_edit_makes_again_what_hangs_on_it(heron: Bench, tmp_path: Path, row: str):
    edits, stale, looked = ROWS[row]
    bench = heron.fork(tmp_path / "edited")
    bench.edit(*edits)
    again = [d for d in bench.derive()[1] if d.unit == "step" and d.again]
    assert {d.name for d in again if not d.same} == stale
    assert {d.name for d in again if d.same} == looked
    assert bench.again() == set()
    bench.edit(*((file, new, old) for file, old, new in edits))
    assert bench.again() == set()  # what stood before is still in the store


def test_findings_point_at_the_lines_as_they_are_now(heron: Bench, tmp_path: Path):
    """Nothing is made again when lines move, and yet each place is where it is now."""
    bench = heron.fork(tmp_path / "edited")
    bench.edit((RECIPE, "design: heron", "# one\n\n# two\ndesign: heron"))
    derived, done = bench.derive()
    assert not [d.name for d in done if d.unit == "step" and d.again]
    recipe = derived.recipe
    assert content(derived) == content(derive(recipe, read_drawing(recipe)))
    places = [f.place for r in derived.results.values() for f in r.findings if f.place]
    lines = bench.recipe.read_text(encoding="utf-8").splitlines()
    assert places
    assert all(lines[p.line - 1] == p.text for p in places)


@pytest.mark.parametrize(
    ("how", "stale"),
    [({"blank_measured": {"blank": 35.0}}, {"blank"}), ({"since": {"body_guide": "A"}}, {"body_guide"})],
    ids=["glued blank measured: its set-up sheet's depths", "a letter that stays: its label"],
)
def test_the_register_makes_again_what_it_is_about(heron: Bench, how: dict[str, Any], stale: set[str]):
    assert heron.again(**how) == stale
    assert heron.again(**how) == set()


def test_the_other_hand_takes_over_all_but_what_is_handed(heron: Bench, tmp_path: Path):
    """Derived right-handed and mirrored at the end; only words that must read on are made for each hand."""
    bench = heron.fork(tmp_path / "left")
    done = bench.derive(variant="left")[1]
    assert {d.name for d in done if d.unit == "step" and d.again} == {"body_guide", "neck_guide", "section"}


def test_a_hardware_part_makes_again_its_own_cavity(tmp_path: Path):
    bench = case(tmp_path / "case", "hardware")
    bench.again()
    bench.edit(("hardware.yaml", "thread: 8, size: [17, 17, 12]", "thread: 9, size: [17, 17, 12]"))
    done = [d for d in bench.derive()[1] if d.unit == "step" and d.again]
    assert {d.name for d in done} == {"control"}
