"""Progress on long work: one line for a person who watches, nothing for a pipe, a file or a program."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from pipeline.progress import Progress
from tests.readback import CASES, project

PATIENCE_S = 120.0
ROOT = CASES.parents[1]


def watched(arguments: list[str], folder: Path, *, columns: int = 60, **environ: str) -> tuple[int, str]:
    """Run a command with its error stream on a terminal of so many columns; exit code and what it got to show."""
    ours, theirs = pty.openpty()
    os.set_blocking(ours, False)
    env = os.environ | {"PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": str(columns)} | environ
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-m", "pipeline", *arguments],
        cwd=folder,
        env=env,
        stdout=subprocess.DEVNULL,
        stderr=theirs,
    )
    os.close(theirs)
    said, end = b"", time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if not select.select([ours], [], [], 1.0)[0]:
            continue
        try:
            got = os.read(ours, 1 << 16)
        except OSError:  # the other end is closed: Linux tells so by an error
            break
        if not got:
            break
        said += got
    os.close(ours)
    return process.wait(PATIENCE_S), said.decode()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("watched")
    project(folder, "plain-page", "six-lines")
    return folder


def screen(said: str, columns: int = 60) -> list[str]:
    """The lines of a terminal after it got this text: a carriage return goes back, letters write over letters."""
    lines = []
    for line in said.replace("\r\n", "\n").split("\n"):
        shown = ""
        *over, last = line.split("\r")
        assert all(len(part) < columns for part in over), "a line that breaks can't be written over"
        for part in (*over, last):
            shown = part + shown[len(part) :]
        lines.append(shown.rstrip())
    return lines


def test_a_line_that_is_written_over_and_wiped(home: Path) -> None:
    """Design, count over the folder and every part of the work are named; nothing of it is left on the screen."""
    code, said = watched(["build", "configs/recipes", "--fresh"], home)
    assert code == 0, said
    told = [t.rstrip() for t in re.split(r"[\r\n]+", said)]
    for design in ("plain-page (1 of 2)", "six-lines (2 of 2)"):
        mine = [t for t in told if t.startswith(design + ": ")]
        for doing in ("deriving ", "laying out sheets", "checking", "proving", "writing"):
            assert any(t.startswith(f"{design}: {doing}") for t in mine), (doing, mine)
    assert "\x1b" not in said
    left = screen(said)
    assert not any("…" in line for line in left), left
    assert any(line.startswith("plain-page A: ") for line in left)


def test_a_narrow_terminal_never_breaks_the_line(home: Path) -> None:
    """Nor is there any colour, asked for or not."""
    _, said = watched(["build", "configs/recipes/six-lines.yaml", "--fresh"], home, columns=24, NO_COLOR="1")
    assert "\x1b" not in said
    assert "deriving" in said
    over = [part for line in said.split("\n") for part in line.rstrip("\r").split("\r")[:-1]]
    assert over
    assert max(map(len, over)) <= 23


def test_nothing_stale_shows_nothing(home: Path) -> None:
    watched(["build", "configs/recipes"], home)
    code, said = watched(["build", "configs/recipes"], home)
    assert code == 0
    assert "…" not in said
    assert said.count("nothing to do") == 2


@pytest.mark.parametrize("arguments", [["build", "configs/recipes", "--fresh"], ["check", "configs/recipes"]])
def test_a_dumb_terminal_gets_a_line_a_design(home: Path, arguments: list[str]) -> None:
    _, said = watched(arguments, home, TERM="dumb")
    lines = said.replace("\r\n", "\n")
    assert "\r" not in lines
    assert "six-lines" in lines
    assert [re.search(r"\((\d) of 2\)", t)[1] for t in lines.split("\n") if t.endswith(") …")] in (  # type: ignore[index]
        ["1", "1", "2", "2"],  # the recipe, then each design made from it
        ["1", "2"],
    )


def test_a_program_and_a_pipe_get_nothing(home: Path) -> None:
    """--json on a terminal, and any command into a pipe."""
    _, said = watched(["build", "configs/recipes/six-lines.yaml", "--fresh", "--json"], home)
    assert "…" not in said
    assert "\r" not in said.replace("\r\n", "\n")
    done = subprocess.run(
        [sys.executable, "-m", "pipeline", "build", "configs/recipes/six-lines.yaml", "--fresh"],
        cwd=home,
        env=os.environ | {"PYTHONPATH": str(ROOT), "TERM": "xterm"},
        capture_output=True,
        check=True,
    )
    assert b"deriving" not in done.stderr
    assert b"\r" not in done.stderr


def test_a_message_begins_on_a_wiped_line(home: Path) -> None:
    """A recipe that is refused half-way: the sentence stands alone."""
    good = (home / "configs/recipes/plain-page.yaml").read_text(encoding="utf-8")
    (home / "configs/recipes/zzz.yaml").write_text(good + "nonsense: 1\n", encoding="utf-8")
    try:
        code, said = watched(["build", "configs/recipes/zzz.yaml"], home)
    finally:
        (home / "configs/recipes/zzz.yaml").unlink()
    assert code == 2
    assert any(line.lstrip().startswith("configs/recipes/zzz.yaml:") for line in screen(said)), said


def test_a_sign_that_a_terminal_lacks_stops_nothing() -> None:
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "w", encoding="ascii") as stream, Progress(stream, {"TERM": "xterm"}) as line:
        line("heron", "deriving")
        assert os.read(ours, 99) == b"\rheron: deriving ..."  # as a terminal without the sign can show it
        line("höhle", "checking")
        line("heron", "proving")
    os.close(ours)
