"""A shop's sheet and the order of work say the same of the tools: the sheet reads it from there."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.packet.shop_files import shop_files
from pipeline.packet.shop_sheet_facts import Page, pages
from pipeline.packet.shop_sheet_seen import shown
from pipeline.steps.values import WorkLine
from pipeline.workshop.nest import nests
from pipeline.workshop.sequence import sequence

RECIPES = Path(__file__).parents[2] / "configs" / "recipes"


@lru_cache
def both(name: str) -> tuple[tuple[Page, ...], tuple[WorkLine, ...]]:
    recipe = read_recipe(RECIPES / f"{name}.yaml")
    derived = derive(recipe, read_drawing(recipe))
    laid = nests(derived)[0]
    files = shop_files(derived, laid)
    work = sequence(derived)
    seen = shown(derived, files, laid)
    return pages(derived, seen, files, work, held=False, since={}), work


@pytest.mark.parametrize("name", ["heron", "curlew", "lapwing", "sandpiper"])
def test_the_tools_of_a_page_stand_in_the_order_of_work(name: str):
    found, work = both(name)
    checked: set[int] = set()
    for page in found:
        told = [cutter for _, cutter in page.tools]
        verbs = [work_.split(" (")[0].split(",")[0] for work_, _ in page.tools]
        for seen in page.sheet.seen:
            mine = [w for w in work if w.piece == seen.thing.name and w.face == seen.set_up.face and w.cutter]
            mine = [w for w in mine if w.who == page.sheet.shop.name]
            rows = [(w.work.split(" (")[0].split(",")[0], w.cutter.split(" (")[0]) for w in mine]
            if not page.sheet.nest:
                assert [r[1] for r in rows] == told
            places = [list(zip(verbs, told, strict=True)).index(r) for r in rows]
            assert places == sorted(places), (page.heading, rows, page.tools)
            checked |= {w.n for w in mine}
    assert checked == {w.n for w in work if w.cutter and w.who != "maker" and w.piece}
