"""A packet is replaced whole or not at all, also when the run is killed at the worst moment."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.core.errors import MachineFailed
from pipeline.packet import exchange
from pipeline.packet.disk import plainly
from pipeline.packet.exchange import abandon, begin, finish
from pipeline.packet.lock import locked, work_folder

ROOT = Path(__file__).resolve().parents[2]


def put(out: Path, text: str, *, held: bool = False) -> Path:
    with locked(out, "heron"):
        stage = begin(out, "heron")
        fill(stage, text)
        return finish(out, "heron", held=held)


def fill(stage: Path, text: str) -> None:
    (stage / "packet.json").write_text(text, encoding="utf-8")
    (stage / "shops" / "router").mkdir(parents=True)
    (stage / "shops" / "router" / "a.dxf").write_text(text, encoding="utf-8")


def texts(folder: Path) -> set[str]:
    return {p.read_text(encoding="utf-8") for p in folder.rglob("*") if p.is_file()}


def left_over(out: Path) -> list[str]:
    return sorted(p.name for p in work_folder(out).iterdir() if not p.name.startswith("lock-"))


def test_a_new_packet_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    assert put(tmp_path, "one") == tmp_path / "heron"
    (tmp_path / "heron" / "stray.txt").write_text("one", encoding="utf-8")
    put(tmp_path, "two")
    assert texts(tmp_path / "heron") == {"two"}
    assert left_over(tmp_path) == []


def test_a_held_packet_leaves_the_last_good_one(tmp_path: Path) -> None:
    """Blueprint section 5: held goes to .held, the good one stays; a later good build removes .held."""
    put(tmp_path, "good")
    assert put(tmp_path, "held", held=True) == tmp_path / "heron.held"
    assert texts(tmp_path / "heron") == {"good"}
    assert texts(tmp_path / "heron.held") == {"held"}
    put(tmp_path, "better")
    assert texts(tmp_path / "heron") == {"better"}
    assert not (tmp_path / "heron.held").exists()


@pytest.mark.parametrize("what", ["file", "folder", "link"])
def test_what_is_not_ours_is_left_alone(tmp_path: Path, what: str) -> None:
    """A maker's own folder of the design's name must not be replaced by a packet."""
    mine = tmp_path / "out" / "heron"
    mine.parent.mkdir()
    if what == "file":
        mine.write_text("mine", encoding="utf-8")
    else:
        real = tmp_path / "real" if what == "link" else mine
        real.mkdir()
        (real / "drawing.svg").write_text("mine", encoding="utf-8")
        if what == "link":
            mine.symlink_to(real)
    with pytest.raises(MachineFailed, match="heron"):
        put(tmp_path / "out", "new")
    assert texts(mine) == {"mine"} if what != "file" else mine.read_text(encoding="utf-8") == "mine"


def test_an_abandoned_packet_leaves_nothing(tmp_path: Path) -> None:
    put(tmp_path, "good")
    with locked(tmp_path, "heron"):
        fill(begin(tmp_path, "heron"), "half")
        abandon(tmp_path, "heron")
    assert texts(tmp_path / "heron") == {"good"}
    assert left_over(tmp_path) == []


# -- killed runs -----------------------------------------------------------------------------------
CHILD = """
import os, shutil, signal, sys
from pathlib import Path
from pipeline.packet import disk, exchange
from tests.packet.test_exchange import put

where, out = sys.argv[1], Path(sys.argv[2])
die = lambda: os.kill(os.getpid(), signal.SIGKILL)
real_settle, real_rename, real_swap, real_rmtree = exchange.settle, os.rename, exchange._swapped, shutil.rmtree
if where.startswith("slow"):
    exchange._swapped = lambda a, b: False  # a system without the exchange
if where == "before settling":
    exchange.settle = lambda folder: die()
if where == "before the exchange":
    exchange._swapped = lambda a, b: die()
if where == "after the exchange":
    def swapped(a, b):
        done = real_swap(a, b)
        assert done
        die()
    exchange._swapped = swapped
if where == "while removing the old one":
    def rmtree(path, *rest, **more):
        os.unlink(Path(path) / "packet.json")
        die()
    shutil.rmtree = rmtree
if where == "slow, between the two renames":
    def rename(a, b):
        real_rename(a, b)
        if "aside" in Path(b).name:
            die()
    os.rename = rename
if where == "slow, after both renames":
    exchange.settle_one = lambda path: die() if path == out else None
put(out, "new")
"""


@pytest.mark.parametrize(
    ("where", "after"),
    [
        ("before settling", "old"),
        ("before the exchange", "old"),
        ("after the exchange", "new"),
        ("while removing the old one", "new"),
        ("slow, between the two renames", None),
        ("slow, after both renames", "new"),
    ],
)
def test_a_killed_run_leaves_one_whole_packet(tmp_path: Path, where: str, after: str | None) -> None:
    """Whatever the moment, one whole packet stands (at the latest once the next run has begun), nothing else
    stays, and the lock is free."""
    put(tmp_path, "old")
    child = subprocess.run(
        [sys.executable, "-c", CHILD, where, str(tmp_path)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert child.returncode == -9, child.stderr
    if after is not None:
        assert texts(tmp_path / "heron") == {after}
    with locked(tmp_path, "heron"):
        stage = begin(tmp_path, "heron")
        assert list(stage.iterdir()) == []
        assert texts(tmp_path / "heron") == {after or "old"}
        abandon(tmp_path, "heron")
    put(tmp_path, "next")
    assert texts(tmp_path / "heron") == {"next"}
    assert left_over(tmp_path) == []


def test_without_the_systems_exchange_it_works_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, "one")
    monkeypatch.setattr(exchange, "_swapped", lambda a, b: False)
    put(tmp_path, "two")
    put(tmp_path, "held", held=True)
    put(tmp_path, "worse", held=True)
    assert texts(tmp_path / "heron") == {"two"}
    assert texts(tmp_path / "heron.held") == {"worse"}
    assert left_over(tmp_path) == []


def test_there_is_never_a_moment_without_a_packet(tmp_path: Path) -> None:
    """A reader that looks all the time while packets are exchanged always finds a whole one."""
    put(tmp_path, "0")
    reader = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, pathlib\n"
            "f = pathlib.Path(sys.argv[1]) / 'heron' / 'packet.json'\n"
            "print('ready', flush=True)\n"
            "n = 0\n"
            "while not (pathlib.Path(sys.argv[1]) / 'stop').exists():\n"
            "    assert f.read_text()\n"
            "    n += 1\n"
            "print(n)\n",
            str(tmp_path),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert reader.stdout is not None
    assert reader.stdout.readline() == "ready\n"
    for n in range(60):
        put(tmp_path, str(n))
    (tmp_path / "stop").touch()
    out, err = reader.communicate(timeout=30)
    assert reader.returncode == 0, err
    assert int(out) > 60


# -- locks -----------------------------------------------------------------------------------------
def test_a_second_run_is_told_and_a_dead_one_frees_the_lock(tmp_path: Path) -> None:
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, time, pathlib\n"
            "from pipeline.packet.lock import locked\n"
            "with locked(pathlib.Path(sys.argv[1]), 'heron'):\n"
            "    print('held', flush=True)\n"
            "    time.sleep(60)\n",
            str(tmp_path),
        ],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    with pytest.raises(MachineFailed, match="Another run is writing"), locked(tmp_path, "heron"):
        pass
    with locked(tmp_path, "curlew"):
        pass  # other packets are free
    holder.kill()
    holder.wait()
    deadline = time.monotonic() + 5
    while True:
        try:
            with locked(tmp_path, "heron"):
                break
        except MachineFailed:
            assert time.monotonic() < deadline
            time.sleep(0.01)
    holder.stdout.close()


# -- the disk --------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("code", "said"),
    [
        (errno.ENOSPC, "no space left"),
        (errno.EACCES, "not permitted"),
        (errno.EROFS, "can only be read"),
        (errno.EIO, "can't be written or read"),
    ],
)
def test_the_disks_failures_are_sentences(code: int, said: str) -> None:
    with pytest.raises(MachineFailed, match=said) as caught, plainly(Path("out/heron")):
        raise OSError(code, os.strerror(code), "out/heron/packet.json")
    assert caught.value.exit_code == 3
    assert "out/heron/packet.json" in caught.value.show()


@pytest.mark.skipif(
    os.name != "posix" or not Path("/dev/full").exists(), reason="needs a device that is always full"
)
def test_a_full_disk_leaves_the_old_packet(tmp_path: Path) -> None:
    put(tmp_path, "old")
    with locked(tmp_path, "heron"):
        stage = begin(tmp_path, "heron")
        (stage / "big.dxf").symlink_to("/dev/full")
        with pytest.raises(MachineFailed, match="no space left"), plainly(stage):
            (stage / "big.dxf").write_bytes(b"x" * 100_000)
        abandon(tmp_path, "heron")
    assert texts(tmp_path / "heron") == {"old"}
    assert left_over(tmp_path) == []
