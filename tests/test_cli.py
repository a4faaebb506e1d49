"""The commands as a person or a program starts them: another process, exit codes, what goes to which stream."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.readback import CASES, project, run, tree


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project with one small design that has been built."""
    folder = tmp_path_factory.mktemp("home")
    project(folder, "two-faces")
    code, out, err = run(["build", "configs/recipes", "--json"], folder)
    assert code == 0, err
    answer = json.loads(out)  # one document and nothing else
    assert answer["exit_code"] == 0
    assert answer["designs"][0]["state"] == "built"
    assert "two-faces A:" in err
    return folder


def test_build_again_does_nothing(home: Path) -> None:
    code, out, err = run(["build", "configs/recipes"], home)
    assert (code, out) == (0, "")
    assert err == "configs/recipes/two-faces.yaml: nothing to do.\n"


def test_check_json(home: Path) -> None:
    code, out, err = run(["check", "configs/recipes", "--json"], home)
    answer = json.loads(out)
    assert (code, answer["exit_code"]) == (0, 0)
    assert (home / answer["designs"][0]["page"]).is_file()
    found = answer["designs"][0]["findings"]
    assert ("Pictures of the findings" in err) == bool(found)
    assert "{" not in err


def test_check_tells_what_stops(tmp_path: Path) -> None:
    project(tmp_path, "held")
    code, out, err = run(["check", "configs/recipes/held.yaml"], tmp_path)
    assert code == 1
    assert "stop: " in out
    assert "to do: " in out
    assert "stop: " not in err
    assert not list(tmp_path.rglob("*.dxf"))


def test_print(home: Path) -> None:
    code, out, err = run(["print", "configs/recipes/two-faces.yaml", "--out", "paper"], home)
    assert code == 0
    files = out.split()
    assert files
    assert all((home / f).read_bytes().startswith(b"%PDF-") for f in files)
    assert "100 %" in err


def test_sequence(home: Path) -> None:
    code, out, _ = run(["sequence", "configs/recipes/two-faces.yaml", "--json"], home)
    rows = json.loads(out)["sequence"]
    assert code == 0
    assert [r["n"] for r in rows] == list(range(1, len(rows) + 1))
    assert all(r["because"] for r in rows)
    faces = [r["face"] for r in rows if r["piece"] == "plate" and r["face"]]
    assert faces.index("back") < faces.index("front")  # the pins are bored in the back set-up


def test_look(home: Path) -> None:
    code, out, _ = run(["look", "configs/recipes/two-faces.svg", "--json"], home)
    answer = json.loads(out)
    assert code == 0
    names = {o.get("name") or o.get("id") for o in answer["objects"]}
    assert {"plate", "dish", "zero", "east"} <= names
    picture = (home / answer["picture"]).read_text(encoding="utf-8")
    assert picture.count("<svg") == 1


def test_proof(home: Path) -> None:
    code, out, _ = run(["proof", "out/two-faces", "--json"], home)
    answer = json.loads(out)
    assert (code, answer["findings"]) == (0, [])
    assert answer["worst_mm"] <= 0.005


def test_proof_finds_a_moved_line(home: Path, tmp_path: Path) -> None:
    """One vertex of one file, a tenth of a millimetre."""
    for part in ("configs", "out"):
        shutil.copytree(home / part, tmp_path / part)
    path = next((tmp_path / "out" / "two-faces").rglob("*_front.dxf"))
    text = path.read_text(encoding="utf-8")
    moved = text.replace("-100.0\n", "-100.1\n")
    assert moved != text
    path.write_text(moved, encoding="utf-8")
    code, out, _ = run(["proof", "out/two-faces"], tmp_path)
    assert code == 1
    assert path.name in out


def test_issue_means_one_thing(tmp_path: Path) -> None:
    """Twice is once; a changed shape under the same letter is held, refused, and changes nothing."""
    recipe = project(tmp_path, "six-lines") / "six-lines.yaml"
    command = ["issue", "configs/recipes/six-lines.yaml"]
    assert run(["build", "configs/recipes"], tmp_path)[0] == 0
    code, out, _ = run(command, tmp_path)
    assert code == 0
    assert "is issued" in out
    issued = tmp_path / "issued"
    assert tree(issued / "six-lines-A") == tree(tmp_path / "out" / "six-lines")
    register, first = recipe.with_name("six-lines.made.yaml").read_bytes(), tree(issued)
    code, out, _ = run(command, tmp_path)
    assert code == 0
    assert "nothing has changed" in out
    assert tree(issued) == first
    assert recipe.with_name("six-lines.made.yaml").read_bytes() == register
    recipe.write_text(recipe.read_text(encoding="utf-8").replace("is: 100", "is: 101"), encoding="utf-8")
    assert run(["build", "configs/recipes"], tmp_path)[0] == 1
    code, out, err = run(command, tmp_path)
    assert (code, out) == (2, "")
    assert "next letter, B" in err
    assert tree(issued) == first
    assert recipe.with_name("six-lines.made.yaml").read_bytes() == register


def test_schema(tmp_path: Path) -> None:
    code, out, err = run(["schema"], tmp_path)
    assert (code, err) == (0, "")
    assert json.loads(out)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_new(tmp_path: Path) -> None:
    code, out, err = run(["new", "lamp-one", "--starter", "lamp"], tmp_path)
    assert code == 0
    assert "lamp-one/configs/recipes/lamp.yaml" in out.splitlines()
    assert "mouldloft build" in err
    assert run(["new", "lamp-one"], tmp_path)[0] == 2


def test_refused_recipes_are_exit_2_and_stop_no_other(tmp_path: Path) -> None:
    recipes = project(tmp_path, "six-lines")
    (recipes / "bad.yaml").write_text(
        "design: bad\ndrawing: six-lines.svg\nsteps:\n  a: {kind: outlin}\n", encoding="utf-8"
    )
    code, out, err = run(["build", "configs/recipes", "--json"], tmp_path)
    answer = json.loads(out)
    assert (code, answer["exit_code"]) == (2, 2)
    assert [d["state"] for d in answer["designs"]] == ["refused", "built"]
    assert "configs/recipes/bad.yaml:4:13:" in err
    assert "Traceback" not in err
    assert (tmp_path / "out" / "six-lines" / "packet.json").is_file()


def test_held_is_exit_1(tmp_path: Path) -> None:
    project(tmp_path, "held")
    code, _, err = run(["build", "configs/recipes"], tmp_path)
    assert code == 1
    assert "HELD" in err
    assert (tmp_path / "out" / "held.held" / "packet.json").is_file()
    assert not (tmp_path / "out" / "held").exists()


def test_a_machine_that_fails_is_exit_3(tmp_path: Path) -> None:
    """A file where the folder for packets should be (a folder that may not be written to is none for root)."""
    project(tmp_path, "six-lines")
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    code, _, err = run(["build", "configs/recipes"], tmp_path)
    assert code == 3
    assert "Traceback" not in err
    assert err.strip().endswith(".")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_no_such_recipe_is_a_sentence(tmp_path: Path) -> None:
    code, out, err = run(["build", "nothing.yaml", "--json"], tmp_path)
    assert code == 2
    assert json.loads(out)["exit_code"] == 2
    assert err.startswith("nothing.yaml:") or "nothing.yaml." in err
    assert "Traceback" not in err


def test_nothing_asked_is_help_and_exit_2(tmp_path: Path) -> None:
    code, out, err = run([], tmp_path)
    assert (code, out) == (2, "")
    assert "COMMAND" in err
    assert run(["--version"], tmp_path)[1].startswith("mouldloft ")


def test_cases_are_not_touched_by_tests() -> None:
    """Everything above works on copies: no packet, register or print stands among the cases."""
    assert {p.suffix for p in CASES.rglob("*") if p.is_file()} <= {".yaml", ".svg", ".json"}
    assert not list(CASES.rglob("*.made.yaml"))
