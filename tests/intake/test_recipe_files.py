"""Files around a recipe: shop profiles, parts lists, the project they must lie in."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.core.errors import Refused
from pipeline.core.shop import Shop
from pipeline.intake.recipe import read_recipe
from pipeline.intake.shop import read_shop
from tests.intake.things import HEAD, THINGS, read, write, wrongs

HOME = Path(__file__).parent.parent.parent


def test_shops_stand_in_the_recipe_or_in_a_file(tmp_path: Path) -> None:
    """The first is the default; each is called what the recipe calls it; its places lead into its file."""
    (tmp_path / "mine.yaml").write_text("name: Mine\nprocess: laser\nkerf: 0.2\n", encoding="utf-8")
    text = "shops: {own: {bed: [600, 400]}, far: mine.yaml}\nsteps: {it: {kind: thing}}\n"
    recipe = read(tmp_path, text)
    assert recipe.default_shop == Shop(name="own", bed=(600.0, 400.0))
    assert recipe.shops["far"] == Shop(name="far", process="laser", kerf=0.2)
    assert recipe.said == ()
    assert str(recipe.places["shops.far.kerf"]) == "mine.yaml:3:7"
    assert [i.path for i in recipe.inputs] == ["wren.yaml", "wren.svg", "mine.yaml"]


@pytest.mark.parametrize("path", sorted((HOME / "configs" / "shops").glob("*.yaml")), ids=lambda p: p.stem)
def test_shipped_profiles_are_read(path: Path) -> None:
    """Every profile in ``configs/shops`` is a shop with a bed."""
    shop = read_shop(path)
    assert min(shop.bed) > 0
    assert shop.half_depth == (shop.process == "router")


def test_parts_come_from_a_spreadsheet(tmp_path: Path) -> None:
    """Commas, or semicolons with decimal commas; quotes, units and empty cells."""
    recipe_text = "hardware: parts.csv\nsteps: {it: {kind: thing, part: 'neck, long'}}\n"
    names = "name,count,mass,x,y,z,price,measured,length,width,height,keep_out"
    commas = f'{names}\n"neck, long",1,410 g,330,0,40,,yes,72,44,20,\njack,,,,,,6.80,,,,,2\n'
    semicolons = (
        f"{names.replace(',', ';')}\r\nneck, long;1;0,41 kg;330;0;40;;TRUE;72;44;20;\r\njack;;;;;;6,80;;;;;2\r\n"
    )
    for text in (commas, semicolons):
        (tmp_path / "parts.csv").write_bytes(text.encode())
        parts = read(tmp_path, recipe_text).hardware
        neck, jack = parts["neck, long"], parts["jack"]
        assert (neck.mass, neck.at, neck.size, neck.measured) == (
            410.0,
            (330.0, 0.0, 40.0),
            (72.0, 44.0, 20.0),
            True,
        )
        assert (jack.count, jack.price, jack.keep_out, jack.at, jack.measured) == (1, 6.8, 2.0, None, False)


def test_links_must_not_lead_out_of_the_project(tmp_path: Path) -> None:
    """Neither a file that the recipe names nor the recipe itself may be a link to somewhere else."""
    project, elsewhere = tmp_path / "project", tmp_path / "elsewhere"
    project.mkdir()
    elsewhere.mkdir()
    (elsewhere / "secret.svg").write_text("<svg/>", encoding="utf-8")
    path = write(project, HEAD.replace("wren.svg", "link.svg") + "steps: {it: {kind: thing}}\n")
    (project / "link.svg").symlink_to(elsewhere / "secret.svg")
    with pytest.raises(Refused, match="outside the project folder"):
        read_recipe(path, kinds=THINGS)
    (project / "other.yaml").symlink_to(write(elsewhere, HEAD + "steps: {it: {kind: thing}}\n"))
    with pytest.raises(Refused, match="outside the project folder"):
        read_recipe(project / "other.yaml", kinds=THINGS)
    (project / "ring.svg").symlink_to(project / "ring.svg")
    with pytest.raises(Refused):
        read_recipe(write(project, HEAD.replace("wren.svg", "ring.svg")), kinds=THINGS)


def test_the_project_is_the_folder_with_configs(tmp_path: Path) -> None:
    """The nearest one above the recipe; what it holds may be named, and messages begin there."""
    (tmp_path / "configs" / "recipes").mkdir(parents=True)
    (tmp_path / "wren.svg").write_text("<svg/>", encoding="utf-8")
    path = tmp_path / "configs" / "recipes" / "wren.yaml"
    path.write_text("design: wren\ndrawing: ../../wren.svg\nsteps: {it: {kind: thing}}\n", encoding="utf-8")
    recipe = read_recipe(path, kinds=THINGS)
    assert recipe.root == str(tmp_path)
    assert [i.path for i in recipe.inputs] == ["configs/recipes/wren.yaml", "wren.svg"]
    path.write_text("design: wren\ndrawing: wren.svg\nsteps: {it: {kind: thing}}\n", encoding="utf-8")
    with pytest.raises(Refused) as refused:
        read_recipe(path, kinds=THINGS)
    assert str(refused.value.problems[0].place) == "configs/recipes/wren.yaml:2:10"


def test_what_is_no_file_is_said(tmp_path: Path) -> None:
    """A missing recipe, a folder, a name that no file system takes."""
    for name in ("none.yaml", ".", "x" * 5000 + ".yaml"):
        with pytest.raises(Refused, match="no such file"):
            read_recipe(tmp_path / name, kinds=THINGS)
    assert wrongs(tmp_path, f"hardware: {'x' * 900}\nsteps: {{it: {{kind: thing}}}}\n")[0].startswith(
        "There is no parts list"
    )
