"""Never a broken packet: killed runs, failing disks, two runs at once, files that change while they are read.

What takes long is done in a process of its own (`tests/bench`), which says what was off; here it runs shortly.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import pipeline.intake.recipe as intake
from pipeline.packet import disk, exchange
from pipeline.packet.lock import locked
from pipeline.path import build
from tests.bench.disturbed import DRAWING, HELD, NAME, RECIPE, STATES, tree, unsound
from tests.bench.exchanging import put, stands

ROOT = Path(__file__).resolve().parents[2]
LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc, and forks")


def bench(*arguments: str) -> str:
    """What a bench printed; fails with it when the bench found anything."""
    ran = subprocess.run(
        [sys.executable, "-m", *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr[-2000:]
    return ran.stdout


@LINUX
def test_every_call_of_the_exchange_may_fail_or_be_the_last() -> None:
    """Good and held packets, with the system's exchange and without: killed before each call, refused by it."""
    assert "0 broken" in bench("tests.bench.exchanging", "2")


@LINUX
def test_builds_that_are_killed_or_failed_leave_one_whole_packet() -> None:
    """A few of each kind; `python -m tests.bench.crash` does 500."""
    assert "0 faults" in bench("tests.bench.crash", "4", "3")


# -- the order of what reaches the disk ------------------------------------------------------------------------
@pytest.mark.parametrize("at_once", [True, False])
def test_all_is_on_the_disk_before_the_exchange_and_the_exchange_before_anything_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at_once: bool
) -> None:
    """A power cut may take back what was not flushed: so files and folders are, then the exchange, then its
    folder, and only then is the old packet removed."""
    put(tmp_path, "old", held=False)
    done: list[str] = []
    real_fsync, real_swap, real_rmtree, library = (
        os.fsync,
        exchange._swapped,
        exchange.shutil.rmtree,
        disk.c_library(),
    )

    def fsync(handle: int) -> None:
        done.append(f"flushed {Path(os.readlink(f'/proc/self/fd/{handle}')).relative_to(tmp_path)}")
        real_fsync(handle)

    def swapped(a: Path, b: Path) -> bool:
        done.append("exchanged")
        return bool(real_swap(a, b))

    def rmtree(path: Path, **how: Any) -> None:
        done.append("removed")
        real_rmtree(path, **how)

    class Library:
        renameat2 = library.renameat2
        if at_once:

            @staticmethod
            def syncfs(handle: int) -> int:
                done.append("flushed the whole disk")
                return int(library.syncfs(handle))

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(exchange, "_swapped", swapped)
    monkeypatch.setattr(exchange.shutil, "rmtree", rmtree)
    monkeypatch.setattr(disk, "c_library", Library)
    monkeypatch.setattr(exchange, "c_library", Library)
    put(tmp_path, "new", held=False)
    stage = ".mouldloft/stage-heron"
    paths = ("", "/packet.json", "/shops", "/shops/router", "/shops/router/a.dxf", "/shops/router.zip")
    files = ["flushed the whole disk"] if at_once else [f"flushed {stage}{p}" for p in paths]
    assert done[0] == "flushed .mouldloft"
    assert sorted(done[1:-3]) == sorted(files)
    assert done[-3:] == ["exchanged", "flushed .", "removed"]
    assert stands(tmp_path) == ("new", "-")


# -- two runs, and files that move ----------------------------------------------------------------------------
@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The project of the bench with its first packet built, and its folder the current one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "well.svg").write_text(DRAWING, encoding="utf-8")
    edit(tmp_path, STATES[0])
    assert build(["well.yaml"]).exit_code == 0
    return tmp_path


def edit(folder: Path, state: str, more: str = "") -> None:
    (folder / "well.yaml").write_text(RECIPE.replace("DEPTH", state) + more, encoding="utf-8")


def test_a_second_run_says_so_and_changes_nothing(project: Path) -> None:
    before = tree(project / "out" / NAME)
    edit(project, STATES[1])
    with locked(project / "out", NAME):
        answer = build(["well.yaml"])
    assert answer.exit_code == 3
    assert "Another run is writing" in answer.said[-1]
    assert tree(project / "out" / NAME) == before
    assert build(["well.yaml"]).exit_code == 0
    assert tree(project / "out" / NAME) != before


def test_something_of_the_makers_in_place_of_the_held_packet_is_told_before_the_exchange(project: Path) -> None:
    before = tree(project / "out" / NAME)
    (project / "out" / f"{NAME}.held").write_text("mine", encoding="utf-8")
    edit(project, STATES[1])
    answer = build(["well.yaml"])
    assert (answer.exit_code, tree(project / "out" / NAME)) == (3, before)
    assert "is not a folder" in answer.said[-1]
    assert (project / "out" / f"{NAME}.held").read_text(encoding="utf-8") == "mine"


Change = Callable[[Path, int], None]
CHANGES: dict[str, tuple[Change, str, str]] = {
    "the drawing": (
        lambda p, n: (p / "well.svg").write_text(DRAWING.replace("120", "118"), encoding="utf-8") and None,
        "",
        "The drawing was changed while it was being read",
    ),
    "the made register": (
        lambda p, n: (p / "well.made.yaml").write_text("made: []  # more\n", encoding="utf-8") and None,
        "",
        "The made register was changed while it was being read",
    ),
    "the recipe, between two variants": (
        lambda p, n: edit(p, STATES[1], "variants: {left: {mirror: true}}\n"),
        "variants: {left: {mirror: true}}\n",
        "well.yaml was changed while well.yaml was being built",
    ),
}


OPEN = pytest.mark.xfail(reason="open in issue 7: a drawing kept in the store isn't read again", strict=False)


@pytest.mark.parametrize("what", [pytest.param(k, marks=OPEN) if k == "the drawing" else k for k in CHANGES])
def test_what_changes_while_it_is_read_is_refused(
    project: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    """A packet names the hashes of what it was made from: of other bytes than those no packet is made. The next
    run takes the files as they are then."""
    change, more, said = CHANGES[what]
    (project / "well.made.yaml").write_text("made: []\n", encoding="utf-8")
    before = tree(project / "out" / NAME)
    edit(project, "8", more)
    real, count = intake.read_recipe, 0

    def read_recipe(*given: Any, **named: Any) -> Any:
        nonlocal count
        read = real(*given, **named)
        count += 1
        if count == 1:
            change(project, count)
        return read

    monkeypatch.setattr(intake, "read_recipe", read_recipe)
    answer = build(["well.yaml"])
    assert answer.exit_code == 2
    assert any(said in line for line in answer.said), answer.said
    if "variant" not in what:
        assert tree(project / "out" / NAME) == before
    monkeypatch.undo()
    again = build([project / "well.yaml"], out=project / "out")
    assert (again.exit_code, again.data["designs"][0]["state"]) == (0, "built")
    assert unsound(project / "out" / NAME) == ""


def test_a_clock_that_was_put_back_hides_no_edit(project: Path) -> None:
    """An edit that keeps the size and gets the time of the one before; one that bears a time to come; a shop file
    whose time has moved."""
    drawing, packet = project / "well.svg", project / "out" / NAME
    at = drawing.stat()
    while drawing.stat().st_ctime_ns == at.st_ctime_ns:
        drawing.write_text(DRAWING.replace('width="120"', 'width="121"'), encoding="utf-8")
        os.utime(drawing, ns=(at.st_mtime_ns, at.st_mtime_ns))
    assert drawing.stat().st_size == at.st_size
    answer = build(["well.yaml"], why=True)
    assert "well.svg has changed." in answer.said[0]
    to_come = at.st_mtime_ns + 10**15
    for width in ("122", "123"):
        drawing.write_text(DRAWING.replace('width="120"', f'width="{width}"'), encoding="utf-8")
        os.utime(drawing, ns=(to_come, to_come))
        assert build(["well.yaml"]).data["designs"][0]["state"] == "built", width
    os.utime(packet / "parts.csv", ns=(at.st_mtime_ns - 10**15,) * 2)
    assert "parts.csv was changed" in build(["well.yaml"], why=True).said[0]
    assert build(["well.yaml"]).data["designs"][0]["state"] == "nothing to do"


def test_the_held_state_is_held(project: Path) -> None:
    """The bench's own premise: its third state goes beside the good packet."""
    edit(project, HELD)
    assert build(["well.yaml"]).exit_code == 1
    assert unsound(project / "out" / f"{NAME}.held") == unsound(project / "out" / NAME) == ""
