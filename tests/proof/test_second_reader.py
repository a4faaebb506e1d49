"""A reader in another language, by other people, sees in our files what we wrote: counts, layers, bounds."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.shop_files import shop_files
from pipeline.packet.written import Circle
from tests.packet import factory
from tests.proof.packets import egg, plate

READER = Path(__file__).with_name("second_reader") / "read.js"
NODE = shutil.which("node")
RECIPES = sorted((Path(__file__).parents[2] / "configs" / "recipes").glob("*.yaml"))


def missing() -> str:
    """Why the second reader can't be asked; empty when it can."""
    if NODE is None:
        return "node is not installed"
    found = subprocess.run(
        [NODE, "-e", "require('dxf-parser')"], cwd=READER.parent, capture_output=True, check=False
    )
    if found.returncode:
        return (
            "node finds no dxf-parser: `npm install dxf-parser` somewhere and name its node_modules in NODE_PATH"
        )
    return ""


WHY = missing()
pytestmark = pytest.mark.skipif(bool(WHY), reason=WHY)


def read(paths: list[Path]) -> list[dict[str, Any]]:
    assert NODE is not None
    done = subprocess.run(
        [NODE, str(READER), *map(str, paths)], capture_output=True, check=True, env=dict(os.environ)
    )
    seen: list[dict[str, Any]] = json.loads(done.stdout)
    return seen


def seen_contour(entity: dict[str, Any]) -> Contour | None:
    if entity["circle"]:
        return circle(*entity["circle"])
    if not entity["vertices"]:
        return None
    rows = np.array(entity["vertices"], dtype=float)
    return chain(rows[:, :2], rows[:, 2], closed=entity["closed"])


def compared(folder: Path, files: tuple[ShopFile, ...]) -> None:
    """Every file as the second reader sees it against the values it was written from."""
    from pipeline.packet.dxf import dxf_bytes

    paths = []
    for file in files:
        path = folder / f"{file.shop}-{file.stem}.dxf"
        path.write_bytes(dxf_bytes(file))
        paths.append(path)
    for file, seen in zip(files, read(paths), strict=True):
        assert seen["units"] == (4 if file.flavour == "R2010" else None)
        assert {layer.name for layer in file.layers} <= set(seen["layers"])
        wanted = Counter((v.name, isinstance(c, Circle)) for v in file.layers for c in v.curves)
        drawn = [(e, seen_contour(e)) for e in seen["entities"]]
        found = Counter((e["layer"], e["kind"] == "CIRCLE") for e, c in drawn if c is not None)
        assert found == wanted
        assert sum(e["text"] is not None for e, _ in drawn) == len(file.words)
        boxes: dict[str, list[tuple[float, ...]]] = {}
        for e, c in drawn:
            if c is not None:
                boxes.setdefault(e["layer"], []).append(c.bounds)
        for layer in {v.name for v in file.layers if v.curves}:
            curves = [c.bounds for v in file.layers if v.name == layer for c in v.curves]
            assert sorted(map(rounded, boxes[layer])) == sorted(map(rounded, curves))
        low, high = seen["extents"]
        assert (low["x"], low["y"], high["x"], high["y"]) == pytest.approx(file.bounds, abs=1e-6)


def rounded(box: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(round(v, 5) + 0.0 for v in box)


@pytest.mark.parametrize("dxf", ["R2010", "R12"])
def test_hand_made_designs(tmp_path: Path, dxf: Any) -> None:
    shops = {"router": Shop(dxf=dxf), "laser": factory.laser(dxf=dxf)}
    made = factory.recipe(shops)
    compared(tmp_path, shop_files(factory.derived(made), (factory.cover_nest(),)))
    one = factory.derived(made, pieces=(plate("egg", egg(), circle(0, 0, 20).reversed()),), blanks=())
    compared(tmp_path, shop_files(one, ()))


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda p: p.stem)
def test_every_demo(tmp_path: Path, recipe: Path) -> None:
    from pipeline.graph.derive import derive
    from pipeline.intake.drawing import read_drawing
    from pipeline.intake.recipe import read_recipe
    from pipeline.workshop.nest import nests

    design = read_recipe(recipe)
    derived = derive(design, read_drawing(design))
    compared(tmp_path, shop_files(derived, nests(derived)[0]))
