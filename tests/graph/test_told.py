"""`--why`: one sentence a step, word for word."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.graph.told import sentences
from tests.graph.kept import Bench, demo

RECIPE, DRAWING, ROUTER = "configs/recipes/heron.yaml", "demo_inputs/heron.svg", "configs/shops/small-router.yaml"


def why(bench: Bench, variant: str = "") -> dict[str, str]:
    derived, done = bench.derive(variant=variant)
    told = [s.partition(": ") for s in sentences(done, derived.recipe)]
    assert len({name for name, _, _ in told}) == len(told) == 1 + len(derived.order)
    return {name: said for name, _, said in told}


@pytest.fixture(scope="module")
def heron(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    bench = demo(tmp_path_factory.mktemp("why") / "heron", "heron")
    first = why(bench)
    assert set(first.values()) == {"made for the first time.", "read for the first time."}
    assert set(why(bench).values()) == {"as it was."}
    return bench


def test_sheet_of_the_stack(heron: Bench):
    heron.edit((RECIPE, "B: 11.7,", "B: 11.75,"))
    said = why(heron)
    assert said["blank"] == "made again, because sheet birch12 B is 11.75 instead of 11.7."
    assert said["control"] == "made again, because sheet birch12 B is 11.75 instead of 11.7. It came out the same."
    assert said["cover"] == "as it was: control came out the same."
    assert said["neck_guide"] == "as it was: neck_pocket came out the same, as far as it looks."
    assert {said[n] for n in ("heron.svg", "body", "hollows", "pins", "section")} == {"as it was."}


def test_one_object_of_the_drawing(heron: Bench):
    heron.edit((DRAWING, "C 206,192 196,182 180,182", "C 206,191 196,182 180,182"))
    said = why(heron)
    assert said["heron.svg"] == "read again, because it changed."
    assert said["control"] == "made again, because the object control of heron.svg changed."
    assert said["cover"] == "made again, because control came out otherwise."
    assert said["body"] == "as it was."


def test_fields_of_the_step_itself_and_of_others(heron: Bench):
    heron.edit((RECIPE, "gap: 0.25", "gap: 0.3"))
    assert why(heron)["cover"] == "made again, because its gap is 0.3 instead of 0.25."
    heron.edit((RECIPE, "laminations: [2], wall: 14", "laminations: [2], wall: 15"))
    said = why(heron)
    assert said["hollows"] == "made again, because its wall is 15 instead of 14."
    assert said["blank"] == "made again, because hollows' wall is 15 instead of 14."
    heron.edit((ROUTER, "{DC: 8, APMX: 38,", "{DC: 8, APMX: 39,"))
    told = "made again, because the cutters of the shop router changed. It came out the same."
    assert why(heron)["blank"] == told


def test_another_hand(heron: Bench):
    said = why(heron, "left")
    assert said["neck_guide"] == "made again, because the recipe's mirrored is true instead of false."
    assert said["blank"] == "as it was."


def test_what_was_kept_is_lost(heron: Bench):
    for file in (heron.out / ".mouldloft/store").glob("??/*"):
        if b'["d","steps.values:Result"' in file.read_bytes() and b'"cover"' in file.read_bytes()[:200]:
            file.unlink()
    assert (
        why(heron)["cover"]
        == "made again, because what it gave last time is lost or damaged. It came out the same."
    )


def test_the_code_of_one_kind(heron: Bench, monkeypatch: pytest.MonkeyPatch):
    from pipeline.graph.code import Code

    real = Code.version
    monkeypatch.setattr(
        Code, "version", lambda self, *m: real(self, *m) + "x" * (m == ("pipeline.steps.cover_make",))
    )
    said = why(heron)
    assert said.pop("cover") == "made again, because mouldloft's own code for it changed. It came out the same."
    assert set(said.values()) == {"as it was."}


def test_a_build_tells_it_step_by_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    from pipeline.path import build
    from tests.graph.kept import case

    bench = case(tmp_path / "case", "two-faces")
    monkeypatch.chdir(bench.root)
    build([bench.recipe.name], out="out")
    bench.edit(("two-faces.yaml", "depth: 7.5", "depth: 7.6"))
    answer = build([bench.recipe.name], out="out", why=True)
    assert list(answer.said[:6]) == [
        "two-faces.yaml: two-faces.yaml has changed.",
        "two-faces.yaml: two-faces, two-faces.svg: as it was.",
        "two-faces.yaml: two-faces, dish: made again, because its depth is 7.6 instead of 7.5.",
        "two-faces.yaml: two-faces, pins: as it was.",
        "two-faces.yaml: two-faces, well: as it was.",
        "two-faces.yaml: two-faces, plate: made again, because dish came out otherwise.",
    ]
