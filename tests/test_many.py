"""Runs over many designs: by several processes, by a cluster, watched, and what a nightly run tells."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from pipeline import many, night
from pipeline.core.answer import Answer
from pipeline.core.failures import MachineFailed
from pipeline.path import build
from pipeline.watching import watch
from tests.many import packets, tags
from tests.readback import run


def chunks(recipes: list[Path], out: Path, workers: int = 2) -> tuple[many.Chunk, ...]:
    return many.chunks([str(r) for r in recipes], out=str(out), taken={}, fresh=False, why=False, workers=workers)


def test_two_processes_give_the_same_bytes_and_rows(tmp_path: Path) -> None:
    tags(tmp_path / "r", 3)
    (tmp_path / "r" / "bad.yaml").write_text("design: bad\nsteps: {a: {kind: outlin}}\n", encoding="utf-8")
    alone = build([tmp_path / "r"], out=tmp_path / "one")
    both = build([tmp_path / "r"], out=tmp_path / "two", jobs=2)
    assert (alone.exit_code, both.exit_code) == (2, 2)
    assert packets(tmp_path / "one") == packets(tmp_path / "two")
    assert [r["recipe"] for r in both.data["designs"]] == [r["recipe"] for r in alone.data["designs"]]
    assert [r["state"] for r in both.data["designs"]] == ["refused"] + 3 * ["built"]
    again = build([tmp_path / "r"], out=tmp_path / "two", jobs=2)
    assert [r["state"] for r in again.data["designs"]] == ["refused"] + 3 * ["nothing to do"]


def test_two_recipes_of_one_name_are_told_by_two_processes_too(tmp_path: Path) -> None:
    recipes = tags(tmp_path / "r", 5)
    text = recipes[0].read_text(encoding="utf-8")
    (tmp_path / "r" / "twin.yaml").write_text(text, encoding="utf-8")
    answer = build([tmp_path / "r"], out=tmp_path / "out", jobs=2)
    assert answer.exit_code == 2
    assert [r["state"] for r in answer.data["designs"]] == 5 * ["built"] + ["refused"]
    assert "makes a packet called tag-000 too" in "\n".join(answer.said)


def test_names_that_could_be_one_packet_stay_in_one_chunk(tmp_path: Path) -> None:
    """A variant ``left`` of ``a`` and a design ``a-left`` would both be out/a-left."""
    for name in ("a", "a-left", "b"):
        (tmp_path / f"{name}.yaml").write_text(f"design: {name}\n", encoding="utf-8")
    made = chunks([tmp_path / f"{n}.yaml" for n in ("a", "b", "a-left")], tmp_path, workers=8)
    assert [[os.path.basename(s) for s in c.shown] for c in made] == [["a.yaml", "a-left.yaml"], ["b.yaml"]]


def test_a_killed_process_loses_nothing(tmp_path: Path) -> None:
    recipes = tags(tmp_path / "r", 5)
    found = []
    killed = False
    for chunk, rows in many.here(chunks(recipes, tmp_path / "out"), 2):
        found += [(s, r["state"]) for s, r in zip(chunk.shown, rows, strict=True)]
        if not killed:
            victim = multiprocessing.active_children()[-1].pid
            assert victim is not None
            os.kill(victim, signal.SIGKILL)
            killed = True
    assert sorted(s for s, _ in found) == [str(r) for r in recipes]
    assert {state for _, state in found} <= {"built", "nothing to do"}
    build([tmp_path / "r"], out=tmp_path / "whole")
    assert packets(tmp_path / "out") == packets(tmp_path / "whole")


def test_a_recipe_that_kills_its_process_is_told_and_the_others_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every process that gets this chunk dies: `done` is replaced by a function that ends the process."""
    recipes = tags(tmp_path / "r", 3)
    monkeypatch.setattr(many, "done", deadly)
    rows = {s: r for c, rs in many.here(chunks(recipes, tmp_path), 2) for s, r in zip(c.shown, rs, strict=True)}
    assert sorted(rows) == [str(r) for r in recipes]
    assert rows[str(recipes[1])]["state"] == "failed"
    assert "died 3 times" in rows[str(recipes[1])]["said"][0]
    assert [rows[str(recipes[k])]["state"] for k in (0, 2)] == ["fine", "fine"]


def deadly(chunk: many.Chunk) -> tuple[many.Row, ...]:
    """Stands in for `many.done`: dies of the second recipe."""
    if any("tag-001" in s for s in chunk.shown):
        os._exit(1)
    return tuple({"state": "fine"} for _ in chunk.shown)


# -- on a cluster ------------------------------------------------------------------------------------
@pytest.fixture
def scheduler(tmp_path: Path) -> object:
    """A Dask scheduler and two workers of one thread each on loopback; (address, the workers' processes)."""
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    file = tmp_path / "scheduler.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": tmp_path}
    env = {**os.environ, "PYTHONPATH": os.fspath(Path(__file__).parents[1])}
    lead = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0",
         "--no-dashboard", "--scheduler-file", str(file)], env=env, **quiet,
    )  # fmt: skip
    workers = [
        subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", "--scheduler-file", str(file), "--nthreads", "1",
             "--no-nanny", "--no-dashboard", "--local-directory", str(tmp_path / f"w{k}")], env=env, **quiet,
        )
        for k in range(2)
    ]  # fmt: skip
    try:
        end = time.monotonic() + 60
        while not file.exists():
            assert time.monotonic() < end, "the scheduler did not start"
            time.sleep(0.1)
        yield _address(file), workers
    finally:
        for process in (*workers, lead):
            process.kill()
            process.wait()


def _address(file: Path) -> str:
    import json

    while True:
        try:
            return str(json.loads(file.read_text(encoding="utf-8"))["address"])
        except ValueError:  # still being written
            time.sleep(0.05)


def test_a_cluster_gives_the_same_bytes_and_a_killed_worker_loses_nothing(
    tmp_path: Path, scheduler: tuple[str, list[subprocess.Popen[bytes]]]
) -> None:
    address, workers = scheduler
    recipes = tags(tmp_path / "r", 8)
    threading.Timer(5.0, workers[0].kill).start()
    far = build([tmp_path / "r"], out=tmp_path / "far", engine=address)
    assert far.exit_code == 0, far.said
    assert len(far.data["designs"]) == len(recipes)
    build([tmp_path / "r"], out=tmp_path / "near", jobs=2)
    assert packets(tmp_path / "far") == packets(tmp_path / "near")


def test_no_scheduler_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recipes = tags(tmp_path / "r", 1)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MachineFailed, match=r"pip install 'mouldloft\[cluster\]'"):
        list(many.afar(chunks(recipes, tmp_path), "tcp://127.0.0.1:1"))


# -- watched, and at night ---------------------------------------------------------------------------
def test_watch_builds_again_after_a_save(tmp_path: Path) -> None:
    (recipe,) = tags(tmp_path / "r", 1)
    heard: list[tuple[Answer, tuple[str, ...]]] = []

    def say(answer: Answer, saved: tuple[str, ...]) -> None:
        heard.append((answer, saved))
        if len(heard) == 1:
            text = recipe.read_text(encoding="utf-8").replace("diameter: 5", "diameter: 6")
            recipe.write_text(text, encoding="utf-8")

    begun = time.monotonic()
    watch(
        [tmp_path / "r"],
        lambda: build([tmp_path / "r"], out=tmp_path / "r" / "out"),
        say,
        stop=lambda: len(heard) == 2 or time.monotonic() - begun > 60,
        every_s=0.05,
    )
    assert [saved for _, saved in heard] == [(), (str(recipe),)]
    assert [a.data["designs"][0]["state"] for a, _ in heard] == ["built", "built"]


def test_the_morning_tells_what_changed_and_why(tmp_path: Path) -> None:
    """Of three designs one is edited, one gets a drawing that changed under it, one can't be read any more."""
    recipes = tags(tmp_path / "configs", 3)
    code, _, err = run(["build", "configs", "--report", "night.txt"], tmp_path)
    assert code == 0, err
    assert "3 designs: 3 built." in (tmp_path / "night.txt").read_text(encoding="utf-8")
    drawing = tmp_path / "configs" / "tag.svg"
    (tmp_path / "configs" / "other.svg").write_bytes(drawing.read_bytes())
    text = recipes[1].read_text(encoding="utf-8")
    recipes[1].write_text(text.replace("diameter: 5", "diameter: 7"), encoding="utf-8")
    recipes[2].write_text("design: tag-002\nsteps: {", encoding="utf-8")
    drawing.write_bytes(drawing.read_bytes().replace(b"H 90 A", b"H 88 A"))
    code, _, err = run(["build", "configs", "--report", "night.txt", "--json"], tmp_path)
    page = (tmp_path / "night.txt").read_text(encoding="utf-8")
    assert code == 2
    assert "3 designs: 2 built, 1 refused." in page
    assert "Refused: these recipes can't be used as they are.\n  configs/tag-002.yaml:" in page
    unasked = page[page.index("though their recipe did not") :].split("\n\n")[0]
    assert "configs/tag-000.yaml: configs/tag.svg" in unasked
    assert "tag-001" not in unasked
    assert "tag-000-A_tag_ply4_x1.dxf" in page


def test_news_of_findings() -> None:
    stop = {
        "check": "wall-thin",
        "severity": "stop",
        "step": "a",
        "piece": "p",
        "at_mm": [1.2, 3.4],
        "remedy": "r",
    }
    old = {"files": [], "findings": [stop], "inputs": []}
    moved = {**old, "findings": [{**stop, "at_mm": [1.4, 3.1]}, {**stop, "check": "part-thin"}]}
    assert [k[0] for k in night._findings(moved)] == ["wall-thin", "part-thin"]
    assert set(night._findings(old)) < set(night._findings(moved))
