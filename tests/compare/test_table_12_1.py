"""After an edit: which physical things may die. Each row of trade.md 12.1 with the verdicts that come of it.

(Which steps run again is tested with the steps' store.)
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.compare.state import State
from pipeline.intake.made import Made
from tests.compare import factory as f
from tests.readback import project

PINS = (
    "steps:\n",
    "steps:\n  pins: {kind: holes, role: index, at: [[-60, 0], [120, 0]], diameter: [6, 8], through: true}\n",
)
SETTING = (
    PINS,
    ("follow: {bush: 17, cutter: 8}, sheet: mdf", "follow: {bush: 17, cutter: 8}, index: pins, sheet: mdf"),
    ("glue: 0.05,", "glue: 0.05, allowance: 1,"),
    # a bought part in a cavity of its own, with a template and a cover
    (
        "  inner:  ",
        "  well: {kind: cavity, part: {rectangle: [60, 30], corner: 5}, fit: drop-in, centre: [40, 55],\n"
        "         face: back, floor: 6, ledge: {width: 4, depth: 3}}\n"
        "  lid: {kind: cover, of: well, sheet: mdf, gap: 0.25}\n"
        "  well_guide: {kind: template, of: well, use: opening, follow: {bush: 17, cutter: 8}, sheet: mdf,\n"
        "               margin: 40}\n"
        "  inner:  ",
    ),
    ("cut: [neck_pocket, control]", "cut: [neck_pocket, control, well]"),
)
PIECES = ("bush_guide", "wide_guide", "well_guide", "lid")
LOOSE = ("blank-1", "blank-2", "blank-3", "blank-4")
"""Body W with index holes carried by its template, an allowance of 1, and a well with a lid and a template."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One edit: changes of the recipe, of the outline, of a drawn mark; a measured blank. ``dies`` maps what is no
    longer good as it is to its verdict; all else must be good as is, or continue."""

    edits: tuple[tuple[str, str], ...] = ()
    outline: str = ""
    mark: Callable[[str], str] | None = None
    measured: float = 36.15
    dies: dict[str, str]


def marked(by: float) -> Callable[[str], str]:
    """The drawing with its bridge and joint marks ``by`` to the right: the frame moves, the drawn outline
    doesn't."""

    def moved(svg: str) -> str:
        svg, n = re.subn(r"M -4,0 H 4 M 0,-4 V 4", f"M {by - 4},0 H {by + 4} M {by},-4 V 4", svg)
        svg, m = re.subn(r"M 168,0 H 176 M 172,-4 V 4", f"M {by + 168},0 H {by + 176} M {by + 172},-4 V 4", svg)
        assert (n, m) == (1, 1)
        return svg

    return moved


ROWS = {
    "outline away from hardware": Row(
        outline=f.hull(118.0),
        dies={"bush_guide": "trim down"},  # the laminations have an allowance, which is cut after glue-up
    ),
    "outline near a cavity": Row(outline=f.hull(119.95), dies={}),
    "frame": Row(
        mark=marked(1.5), dies={"bush_guide": "re-register", **dict.fromkeys(LOOSE, "remake"), "blank": "scrap"}
    ),
    "hardware part": Row(
        edits=(("{rectangle: [60, 30]", "{rectangle: [62, 30]"),),
        dies={
            "well_guide": "open up",
            "lid": "remake",
            "blank-1": "open up",
            "blank-2": "open up",
            "blank-3": "open up",
        },
    ),
    "hardware part, smaller": Row(
        edits=(("{rectangle: [60, 30]", "{rectangle: [58, 30]"),),
        dies={
            "well_guide": "remake",
            "lid": "trim down",
            "blank-1": "remake",
            "blank-2": "remake",
            "blank-3": "remake",
            "blank": "scrap",
        },
    ),
    "sheet measured thickness": Row(
        edits=(("measured: {A: 11.8, B: 11.7, C: 11.9}", "measured: {A: 11.8, B: 11.7, C: 11.95}"),),
        dies={"blank-2": "keep, new set-up sheet", "blank-3": "keep, new set-up sheet"},
    ),
    "glued blank measured": Row(measured=36.05, dies={}),
    "cutter and bush": Row(
        edits=(("follow: {bush: 17, cutter: 8}, index", "follow: {bush: 16, cutter: 8}, index"),),
        dies={"bush_guide": "remake"},
    ),
    "cutter and bush, the same offset": Row(
        edits=(("follow: {bush: 17, cutter: 8}, index", "follow: {bush: 21, cutter: 12}, index"),),
        dies={"bush_guide": "re-label"},
    ),
    "price, text, notes": Row(
        edits=(
            ("title: Body W", "title: Another title\nby: {owner: Somebody, issued: 2027-06-01}"),
            ("grain: x, density: 680}\n  veneer", "grain: x, density: 680, price: 99}\n  veneer"),
            ("\nsteps:", "\nnotes: [{at: [0, 0], text: sand this by hand, since: A}]\nsteps:"),
        ),
        dies={},
    ),
}


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> State:
    home = tmp_path_factory.mktemp("old")
    return f.packet(f.body_w(home / "w", SETTING), home / "body-w-A")


@pytest.mark.parametrize("edited", ROWS)
def test_what_dies(edited: str, old: State, tmp_path: Path) -> None:
    """Flat pieces in hand, laminations loose; then the same with the laminations glued."""
    row = ROWS[edited]
    path = f.body_w(tmp_path / "w", (*SETTING, *row.edits), outline=row.outline)
    if row.mark is not None:
        svg = path.with_suffix(".svg")
        svg.write_text(row.mark(svg.read_text(encoding="utf-8")), encoding="utf-8")
    new = f.now(path, Made(blanks={"blank": row.measured} if row.measured != 36.15 else {}))
    loose = f.judged(old, new, f.register(*PIECES, *LOOSE))
    wanted = {n: row.dies.get(n, "good as is") for n in (*PIECES, *LOOSE)}
    assert {n: v.what for n, v in loose.items()} == wanted, [v.because for v in loose.values()]
    glued = f.judged(old, new, f.register(*PIECES, glued={"blank": row.measured}))
    assert glued["blank"].what == row.dies.get("blank", "continue"), glued["blank"]
    assert all(v.mm is not None for v in (*loose.values(), *glued.values()))


def test_a_measured_blank_asks_for_its_sheet_alone(old: State, tmp_path: Path) -> None:
    """Glued and measured 0.1 thinner: the blank continues, and is told to take its new set-up sheet."""
    new = f.now(f.body_w(tmp_path / "w", SETTING), Made(blanks={"blank": 36.05}))
    found = f.judged(old, new, f.register(glued={"blank": 36.05}))["blank"]
    assert found.what == "continue"
    assert any("new set-up sheet" in r for r in found.remarks)


def test_a_kerf_kills_nothing(tmp_path: Path) -> None:
    """Kerf 0.2 → 0.3: every line of the laser's file moves by 0.05, and what was cut true stays true."""
    states = []
    for n, kerf in enumerate(("0.2", "0.3")):
        home = project(tmp_path / str(n), "laser-nest")
        shop = home.parent / "beam-shop.yaml"
        text = shop.read_text(encoding="utf-8")
        assert "kerf: 0.2" in text
        shop.write_text(text.replace("kerf: 0.2", f"kerf: {kerf}"), encoding="utf-8")
        states.append(f.packet(home / "laser-nest.yaml", tmp_path / f"p{n}"))
    names = [t.name for t in states[0].things]
    found = f.judged(states[0], states[1], f.register(*names))
    assert {v.what for v in found.values()} == {"good as is"}
    cut = [next((tmp_path / f"p{n}").rglob("*nest*.dxf")).read_bytes() for n in (0, 1)]
    assert cut[0] != cut[1]
