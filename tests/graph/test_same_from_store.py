"""A build from the store gives the same as one from nothing: over demos, cases and made-up edits."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.graph.derive import derive
from pipeline.intake.drawing import read_drawing
from pipeline.intake.recipe import read_recipe
from pipeline.path import build
from tests.graph.kept import ROOT, Bench, case, content, demo

CASES = sorted(p.name for p in (ROOT / "tests/cases").iterdir() if any(p.glob("*.yaml")))
EDITS: dict[str, list[tuple[str, str, str]]] = {
    "curlew": [
        ("demo_inputs/curlew.svg", "<svg", "<!-- moved -->\n<svg"),
        ("configs/shops/small-router.yaml", "DC: 12, APMX: 42", "DC: 10, APMX: 42"),
        ("configs/recipes/curlew.yaml", "design: curlew", "# a line more\ndesign: curlew"),
    ],
    "lapwing": [
        ("configs/shops/laser.yaml", "kerf: 0.18", "kerf: 0.2"),
        ("configs/recipes/lapwing.yaml", "title: ", "title: The "),
    ],
    "sandpiper": [
        ("configs/shops/small-router.yaml", "hour: 48", "hour: 50"),
        ("configs/recipes/sandpiper.yaml", "revision: A", "revision: B"),
    ],
}


def packets(out: Path) -> dict[str, str]:
    """Path and hash of every file of every packet."""
    files = [p for p in out.rglob("*") if p.is_file() and ".mouldloft" not in p.parts]
    return {p.relative_to(out).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(files)}


@pytest.mark.parametrize("name", CASES)
def test_stand_ins_change_nothing_and_what_is_restored_is_the_same(tmp_path: Path, name: str):
    """With a store, made and restored, every case derives to what it derives to without."""
    bench = case(tmp_path / name, name)
    for variant in ("", *read_recipe(bench.recipe).variants):
        recipe = read_recipe(bench.recipe, variant=variant)
        plain = content(derive(recipe, read_drawing(recipe)))
        assert content(bench.derive(variant=variant)[0]) == plain
        restored, done = bench.derive(variant=variant)
        assert content(restored) == plain
        assert not [d.name for d in done if d.again]


@pytest.mark.parametrize("name", EDITS)
def test_demos_edited_and_built_from_the_store_have_the_bytes_of_a_first_build(tmp_path: Path, name: str):
    """Edit after edit from one store, then back again; beside it, a build into an empty folder."""
    bench = demo(tmp_path / name, name)
    assert build([bench.recipe], out=bench.out).exit_code < 2
    first = packets(bench.out)
    for edit in EDITS[name]:
        bench.edit(edit)
        assert build([bench.recipe], out=bench.out).exit_code < 2
    edited = packets(bench.out)
    assert edited != first
    assert build([bench.recipe], out=tmp_path / "empty").exit_code < 2
    assert edited == packets(tmp_path / "empty")
    assert build([bench.recipe], out=bench.out, fresh=True).exit_code < 2
    assert packets(bench.out) == edited
    bench.edit(*((file, new, old) for file, old, new in EDITS[name]))
    assert build([bench.recipe], out=bench.out).exit_code < 2
    assert packets(bench.out) == first


RECIPE = """\
design: two-faces
title: {title}
drawing: two-faces.svg
frame: {{origin: zero, x_toward: east, turn_over: {over}, known: [{{between: [zero, east], is: {known}}}]}}
shops: {{router: two-faces-shop.yaml}}
sheets: {{maple: {{measured: {{A: {thick}, B: 18.0}}, size: [400, 300], density: {density}, price: {price}}}}}
make: {make}
{lines}steps:
  pins:  {{kind: holes, role: index, at: [[-80, {pin}], [80, -5]], diameter: [6, 8], through: true}}
  dish:  {{kind: cavity, drawn: dish, face: front, depth: {depth}}}
  well:  {{kind: cavity, opening: {{rectangle: [40, {wide}], corner: 6}}, centre: [-30, -20], face: back,
          floor: {floor}}}
  plate: {{kind: outline, drawn: plate, sheet: maple {letter}, cut: [{cut}]}}
  lip:   {{kind: offset, of: {of}, by: [{by}]}}
"""
SETTINGS = st.fixed_dictionaries(
    {
        "title": st.sampled_from(["Plate", "Another"]),
        "over": st.sampled_from(["x", "y"]),
        "known": st.sampled_from([80, 80.5]),
        "thick": st.sampled_from([18.2, 18.3]),
        "density": st.sampled_from([700, 710]),
        "price": st.sampled_from([0, 12]),
        "make": st.sampled_from([1, 2]),
        "lines": st.sampled_from(["", "# a line\n", "\n\n\n"]),
        "pin": st.sampled_from([10, 11]),
        "depth": st.sampled_from([7.5, 7.6, 30]),
        "wide": st.sampled_from([24, 25]),
        "floor": st.sampled_from([5, 4]),
        "letter": st.sampled_from(["A", "B"]),
        "cut": st.sampled_from(["pins, dish, well", "dish, pins", "well"]),
        "of": st.sampled_from(["plate", "dish"]),
        "by": st.sampled_from(["-3", "-3, 2"]),
    }
)
CENTRE = st.sampled_from(["", "<!-- told -->"])


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """One store for all that hypothesis thinks of: an older edit must never stand for a newer one."""
    return case(tmp_path_factory.mktemp("edits") / "case", "two-faces")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(values=SETTINGS, comment=CENTRE)
def test_made_up_edits_derive_to_the_same(shelf: Bench, values: dict[str, object], comment: str):
    (shelf.root / "two-faces.yaml").write_text(RECIPE.format(**values), encoding="utf-8")
    drawing = (ROOT / "tests/cases/two-faces/two-faces.svg").read_text(encoding="utf-8")
    (shelf.root / "two-faces.svg").write_text(drawing.replace("<svg", f"{comment}<svg", 1), encoding="utf-8")
    recipe = read_recipe(shelf.recipe)
    plain = content(derive(recipe, read_drawing(recipe)))
    assert content(shelf.derive()[0]) == plain
    restored, done = shelf.derive()
    assert content(restored) == plain
    assert not [d.name for d in done if d.again]


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(values=SETTINGS.filter(lambda v: v["depth"] != 30))
def test_made_up_edits_build_the_same_bytes(
    shelf: Bench, tmp_path_factory: pytest.TempPathFactory, values: dict[str, object]
):
    empty = tmp_path_factory.mktemp("empty")
    (shelf.root / "two-faces.yaml").write_text(RECIPE.format(**values), encoding="utf-8")
    codes = [build([shelf.recipe], out=out).exit_code for out in (shelf.out, empty)]
    assert codes[0] == codes[1] < 2
    made = {path.replace(".held/", "/"): h for path, h in packets(empty).items()}
    held = codes[0] == 1
    here = {p: h for p, h in packets(shelf.out).items() if p.startswith("two-faces.held/") == held}
    assert {p.replace(".held/", "/"): h for p, h in here.items()} == made


def test_two_builds_at_the_same_time_share_a_store(tmp_path: Path):
    """Two variants of one case, built at once into one folder, come out as when built alone."""
    bench = case(tmp_path / "case", "two-faces")
    text = bench.recipe.read_text(encoding="utf-8")
    names = ["one", "two"]
    for name in names:
        (bench.root / f"{name}.yaml").write_text(
            text.replace("design: two-faces", f"design: {name}"), encoding="utf-8"
        )
        assert build([bench.root / f"{name}.yaml"], out=tmp_path / "alone").exit_code == 0
    for _ in range(2):
        runs = [
            subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "pipeline",
                    "build",
                    str(bench.root / f"{n}.yaml"),
                    "--out",
                    str(bench.out),
                ],
                cwd=ROOT,
                stderr=subprocess.DEVNULL,
            )
            for n in names
        ]
        assert [run.wait() for run in runs] == [0, 0]
        assert packets(bench.out) == packets(tmp_path / "alone")
        for file in (bench.out / ".mouldloft").glob("*.json"):
            file.unlink()


def test_a_store_spoilt_in_any_way_gives_the_same_bytes(tmp_path: Path):
    bench = case(tmp_path / "case", "two-faces")
    build([bench.recipe], out=bench.out)
    first = packets(bench.out)
    store = bench.out / ".mouldloft/store"
    entries = [p for p in sorted(store.glob("??/*")) if p.is_file()]
    assert len(entries) > 20
    for spoil in (
        lambda p, n: p.write_bytes(p.read_bytes()[: 7 * n]),
        lambda p, n: p.write_bytes(p.read_bytes()[:-1] + b"\0") if n % 3 else p.unlink(),
        lambda p, n: p.write_bytes(entries[n - 1].read_bytes()) if n % 2 else None,
    ):
        for n, entry in enumerate(entries):
            if entry.exists():
                spoil(entry, n)
        for record in (bench.out / ".mouldloft").glob("*.json"):
            record.unlink()
        assert build([bench.recipe], out=bench.out).exit_code == 0
        assert packets(bench.out) == first
    shutil.rmtree(store)
    for record in (bench.out / ".mouldloft").glob("*.json"):
        record.unlink()
    assert build([bench.recipe], out=bench.out).exit_code == 0
    assert packets(bench.out) == first
