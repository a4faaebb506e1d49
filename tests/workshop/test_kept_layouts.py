"""Layouts that were stored: taken while they hold, told when they don't, the same bytes either way."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipeline import build
from pipeline.core.errors import Refused
from pipeline.core.recipe import Sheet, StoredSheet
from pipeline.core.shop import Shop
from pipeline.geometry.region import Region, solid
from pipeline.geometry.shapes import rectangle
from pipeline.intake.layouts import layouts_file, write_layouts
from pipeline.intake.recipe import read_recipe
from pipeline.steps.values import Derived, Nest
from pipeline.workshop import strip
from pipeline.workshop.exact import clearances
from pipeline.workshop.improve import improved
from pipeline.workshop.nest import nests
from tests.workshop.factory import of_pieces, piece, ring

SHOP = Shop(name="router", gap=8.0, border=10.0)
KEY = "/router/birch12"
CASES = Path(__file__).parents[1] / "cases"


def box(w: float, h: float) -> Region:
    return solid(rectangle(w, h))  # round its own middle


def tiles(width: float = 80.0, count: int = 2, **more: Any) -> Derived:
    sheet = Sheet(measured={"A": 11.8}, size=(300.0, 200.0), grain=more.pop("grain", "none"))
    made = of_pieces(
        piece("tile", box(width, 60), count=count, grain="x"), shops={"router": SHOP}, sheets={"birch12": sheet}
    )
    return replace(made, recipe=replace(made.recipe, **more))


def sheet(*rows: tuple[str, int, int, float, float], letter: str = "A", number: int = 1) -> StoredSheet:
    return StoredSheet(letter=letter, number=number, rows=rows)


GOOD = (("tile", 1, 0, 60.0, 50.0), ("tile", 2, 0, 150.0, 50.0))


def spots(found: tuple[Nest, ...]) -> set[tuple[float, float]]:
    return {(p.dx, p.dy) for n in found for p in n.placements}


def test_a_layout_that_holds_is_taken_as_it_is():
    """Two tiles of 80 × 60 at x 60 and 150: 10 apart; not what our own search gives."""
    made = tiles(layouts={KEY: (sheet(*GOOD),)})
    found, said = nests(made)
    assert (spots(found), said) == ({(60.0, 50.0), (150.0, 50.0)}, ())
    assert found[0].kept
    assert spots(nests(tiles())[0]) != spots(found)


def test_it_is_taken_for_other_shapes_too_as_long_as_they_fit():
    found, said = nests(tiles(width=81.9, layouts={KEY: (sheet(*GOOD),)}))
    assert (spots(found), said) == ({(60.0, 50.0), (150.0, 50.0)}, ())
    assert clearances(tiles(width=81.9), found[0])[0] == pytest.approx(8.1)


@pytest.mark.parametrize(
    ("made", "rows", "why"),
    [
        (tiles(width=82.1), GOOD, "two parts lie 7.900 mm apart, where 8 are needed"),
        (tiles(width=82.1), (GOOD[0], ("tile", 2, 0, 60.0, 51.0)), "two parts lie over each other"),
        (tiles(count=3), GOOD, "tile is not in it, or not as many of it"),
        (tiles(count=1), GOOD, "tile is not made any more, or not so many of it"),
        (tiles(), (*GOOD, ("lath", 1, 0, 250.0, 50.0)), "lath is not made any more"),
        (tiles(), (GOOD[0], GOOD[0]), "a part stands in it twice"),
        (tiles(), (GOOD[0], ("tile", 2, 0, 150.0, 39.0)), "9.000 mm from the edge of the sheet, where 10"),
        (tiles(), (GOOD[0], ("tile", 2, 0, 280.0, 50.0)), "from the edge of the sheet"),
        (tiles(grain="x"), (GOOD[0], ("tile", 2, 90, 150.0, 60.0)), "tile lies across the grain"),
    ],
)
def test_a_layout_that_doesn_t_hold_is_told_and_not_taken(
    made: Derived, rows: tuple[tuple[str, int, int, float, float], ...], why: str
):
    plain, _ = nests(made)
    found, said = nests(replace(made, recipe=replace(made.recipe, layouts={KEY: (sheet(*rows),)})))
    assert [f.check for f in said] == ["layout-outdated"]
    assert why in said[0].message
    assert found == plain  # our own layout, as if nothing had been stored


def test_sheets_that_aren_t_there():
    for wrong in (sheet(*GOOD, letter="C"),):
        _, said = nests(tiles(layouts={KEY: (wrong,)}))
        assert [f.check for f in said] == ["layout-outdated"]
    _, said = nests(tiles(layouts={KEY: (sheet(GOOD[0]), sheet(GOOD[1]))}))
    assert "one sheet stands in it twice" in said[0].message


def hard(seed: int = 3) -> Derived:
    """Boxes and rings that fill more than a sheet and less than two."""
    draw = random.Random(seed)
    pieces = [piece(f"b{i}", box(40 + 90 * draw.random(), 30 + 60 * draw.random()), count=2) for i in range(6)]
    pieces += [piece("r", ring(45.0, 32.0), count=2), piece("d", solid(rectangle(30.0, 30.0)), count=2)]
    sheet = Sheet(measured={"A": 11.8}, size=(420.0, 300.0))
    return of_pieces(*pieces, shops={"router": SHOP}, sheets={"birch12": sheet})


def improving(made: Derived, seconds: float, monkeypatch: pytest.MonkeyPatch, *, library: bool) -> None:
    if not library:
        monkeypatch.setattr(strip, "available", lambda: False)
    found = improved(made, seconds)[KEY]
    assert found.after <= found.before
    taken = replace(made, recipe=replace(made.recipe, layouts={KEY: found.sheets}))
    again, said = nests(taken)
    assert "layout-outdated" not in {f.check for f in said}
    assert all(n.kept for n in again)
    assert sum(len(n.placements) for n in again) == 16
    assert len(again) == found.after[0]
    assert sum(n.length_mm for n in again) == pytest.approx(found.after[1], abs=0.01)
    for n in again:
        gap, border = clearances(made, n)
        assert gap >= 8.0 - 0.0011
        assert border >= 10.0 - 0.0011


def test_our_own_search_improves_alone(monkeypatch: pytest.MonkeyPatch):
    improving(hard(), 2.0, monkeypatch, library=False)


def test_with_the_library(monkeypatch: pytest.MonkeyPatch):
    pytest.importorskip("spyrrow")
    improving(hard(), 8.0, monkeypatch, library=True)


# -- the whole way ------------------------------------------------------------------------------------
@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project with a recipe that wants nests."""
    (tmp_path / "configs").mkdir()
    shutil.copytree(CASES / "laser-nest", tmp_path / "configs", dirs_exist_ok=True)
    return tmp_path / "configs" / "laser-nest.yaml"


def packet(folder: Path) -> Mapping[str, Any]:
    found: Mapping[str, Any] = json.loads((folder / "packet.json").read_text(encoding="utf-8"))
    return found


def test_a_build_takes_what_lies_beside_the_recipe(project: Path, tmp_path: Path):
    """Three washers in a row 95 apart, where our own layout puts them as near as it can."""
    out = tmp_path / "out"
    first = build([project], out=out)
    assert first.exit_code == 0
    assert all("nests.json" not in i["path"] for i in packet(out / "laser-nest")["inputs"])
    x0, y0, _, _ = packet(out / "laser-nest")["pieces"][0]["bounds_mm"]
    rows = tuple(("washer", k, 0, 10.0 - x0 + 95.0 * (k - 1), 20.0 - y0) for k in (1, 2, 3))
    write_layouts(layouts_file(project), {"/beam/poplar": (sheet(*rows),)})
    again = build([project], out=out)
    assert again.exit_code == 0
    assert "nothing to do" not in " ".join(again.said)
    inputs = [i["path"] for i in packet(out / "laser-nest")["inputs"]]
    assert "configs/laser-nest.nests.json" in inputs
    assert "kept from a search" in (out / "laser-nest" / "report.html").read_text(encoding="utf-8")
    assert "nothing to do" in " ".join(build([project], out=out).said)
    # Three in a row are longer than what our own search gives: it is taken all the same, and said when outdated.
    text = project.read_text(encoding="utf-8").replace("make: 3", "make: 4")
    project.write_text(text, encoding="utf-8")
    build([project], out=out)
    notes = [f for f in packet(out / "laser-nest")["findings"] if f["check"] == "layout-outdated"]
    assert [f["severity"] for f in notes] == ["note"]


def test_improve_writes_it_and_the_bytes_need_no_library(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    text = project.read_text(encoding="utf-8").replace("make: 3", "make: 5")
    project.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    answer = build([project], out=out, improve=4.0)
    assert answer.exit_code == 0
    assert any("poplar" in line for line in answer.said)
    monkeypatch.setattr(strip, "available", lambda: False)
    build([project], out=tmp_path / "other")
    for file in sorted(p for p in (out / "laser-nest").rglob("*") if p.is_file()):
        other = tmp_path / "other" / "laser-nest" / file.relative_to(out / "laser-nest")
        assert file.read_bytes() == other.read_bytes(), file.name


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "it is no JSON"),
        ("[]", "it isn't of format 1"),
        ('{"format": 1, "layouts": {"a": 3}}', "`layouts` doesn't hold lists of sheets by name"),
        (
            '{"format": 1, "layouts": {"a": [{"letter": "A", "number": 0, "parts": [[]]}]}}',
            'a sheet of "a" is not',
        ),
        (
            '{"format": 1, "layouts": {"a": [{"letter": "A", "number": 1, "parts": [["x", 1, 45, 0, 0]]}]}}',
            "a part of",
        ),
        (
            '{"format": 1, "layouts": {"a": [{"letter": "A", "number": 1, "parts": [["x", 1, 90, NaN, 0]]}]}}',
            "a part of",
        ),
        ("[" * 50_000, "it is no JSON"),
    ],
)
def test_a_damaged_file_is_refused_with_a_sentence(project: Path, text: str, why: str):
    layouts_file(project).write_text(text, encoding="utf-8")
    with pytest.raises(Refused) as refused:
        read_recipe(project)
    told = refused.value.show()
    assert "The kept layouts can't be used" in told
    assert why in told or "nested too deep" in told or "recursion" in told
    assert "delete it" in told


def test_no_time_to_search_for(project: Path, tmp_path: Path):
    for seconds in (0.0, -1.0, float("nan"), 1e9):
        with pytest.raises(Refused, match="no time to search"):
            build([project], out=tmp_path / "out", improve=seconds)
