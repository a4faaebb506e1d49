"""A small project whose packet changes from state to state, built in forked children that are disturbed.

The parent imports the whole program once; a child is then a build and nothing else, so that hundreds of them take
minutes. What is true of a packet is read from the disk by plain means: hashes of files, and the zip reader.
"""

from __future__ import annotations

import gc
import hashlib
import importlib
import json
import os
import pkgutil
import shutil
import signal
import time
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

NAME = "well"
STATES = ("9", "10", "22")
"""Depths of the well. For the last one no cutter is long enough, so that packet is held back."""
HELD = "22"
Tree = dict[str, str] | None
"""sha256 of every file by its path; None where there is no packet."""

RECIPE = """design: well
drawing: well.svg
shops: {router: {bed: [600, 400], cutters: [
  {DC: 4, APMX: 12, LU: 20, DMM: 4}, {DC: 12, APMX: 30, LU: 40, DMM: 12}]}}
sheets: {maple: {measured: {A: 25}, size: [300, 200], density: 700}}
steps:
  block: {kind: outline, drawn: block, sheet: maple, cut: [hollow]}
  hollow:  {kind: cavity, drawn: hollow, face: front, depth: DEPTH}
"""
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
<g fill="none" stroke="#000"><rect id="block" x="20" y="20" width="120" height="60"/>
<path id="hollow" d="M 50,40 h 60 v 5 h -60 z"/></g></svg>
"""


def prepared(folder: Path) -> None:
    """Import all that a build needs, and build once, so that a forked child does nothing but build."""
    import pipeline
    from pipeline.path import build

    for module in pkgutil.walk_packages(pipeline.__path__, "pipeline."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    folder.mkdir(parents=True)
    (folder / "well.svg").write_text(DRAWING, encoding="utf-8")
    (folder / "well.yaml").write_text(RECIPE.replace("DEPTH", STATES[0]), encoding="utf-8")
    assert build([folder / "well.yaml"], out=folder / "out").exit_code == 0
    gc.collect()
    gc.freeze()


def tree(folder: Path) -> Tree:
    """What lies in a packet's folder, None when there is none."""
    if not folder.is_dir():
        return None
    files = [p for p in folder.rglob("*") if p.is_file()]
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(files)}


def unsound(folder: Path) -> str:
    """What is wrong with a packet by its own record: "" when every hash is right and every archive can be read."""
    listed = {f["path"]: f["sha256"] for f in json.loads((folder / "packet.json").read_bytes())["files"]}
    found = tree(folder) or {}
    found.pop("packet.json")
    if listed != found:
        return f"{sorted(p for p in {*listed, *found} if listed.get(p) != found.get(p))} are not as listed"
    for path in folder.rglob("*.zip"):
        with zipfile.ZipFile(path) as archive:
            if archive.testzip() is not None:
                return f"{path.name} is damaged"
    return ""


@dataclass(slots=True)
class Ran:
    """How a child ended: its exit code (negative: the signal), what it said, processor seconds it took."""

    code: int
    said: str
    seconds: float


@dataclass(slots=True)
class Project:
    """The project in a folder, and what each state's packet is when nothing disturbs its build."""

    folder: Path
    clean: dict[str, Tree] = field(default_factory=dict)
    seconds: dict[tuple[str, ...], float] = field(default_factory=dict)
    """Processor seconds that a build takes, by its options."""

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True)
        (self.folder / "well.svg").write_text(DRAWING, encoding="utf-8")
        for state in STATES:
            self.edit(state)
            ran = self.run(None, "--fresh")
            assert ran.code == (1 if state == HELD else 0), ran.said
            self.seconds["--fresh",] = ran.seconds
            packet = self.out / (f"{NAME}.held" if state == HELD else NAME)
            assert unsound(packet) == ""
            self.clean[state] = tree(packet)
            shutil.rmtree(self.out)
        for state in (*STATES[:2], *STATES[:2]):
            self.edit(state)
            self.seconds[()] = self.run().seconds
        assert len({json.dumps(t) for t in self.clean.values()}) == len(STATES)

    @property
    def out(self) -> Path:
        return self.folder / "out"

    def edit(self, state: str) -> None:
        (self.folder / "well.yaml").write_text(RECIPE.replace("DEPTH", state), encoding="utf-8")

    def start(self, disturb: Callable[[], None] | None = None, *options: str) -> int:
        """A child that builds; ``disturb`` is called in it first."""
        child = os.fork()
        if child == 0:
            code = 70
            try:
                os.chdir(self.folder)
                log = os.open("log.txt", os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
                os.dup2(log, 1)
                os.dup2(log, 2)
                from pipeline import cli

                if disturb is not None:
                    disturb()
                code = cli.main(["build", "well.yaml", *options])
            finally:
                os._exit(code)
        return child

    def ended(self, child: int) -> Ran:
        _, status, used = os.wait4(child, 0)
        said = (self.folder / "log.txt").read_text(encoding="utf-8", errors="replace")
        return Ran(os.waitstatus_to_exitcode(status), said, used.ru_utime + used.ru_stime)

    def run(self, disturb: Callable[[], None] | None = None, *options: str) -> Ran:
        return self.ended(self.start(disturb, *options))

    def killed(self, share: float, *options: str) -> Ran:
        """A build that is killed when it has used this share of the processor time that it takes."""
        child = self.start(None, *options)
        at, ticks = share * self.seconds[options], os.sysconf("SC_CLK_TCK")
        while True:
            state, *used = Path(f"/proc/{child}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
            if state == "Z" or sum(map(int, used[10:12])) >= int(at * ticks):
                break
            time.sleep(0.001)
        time.sleep(at % (1 / ticks))
        os.kill(child, signal.SIGKILL)
        return self.ended(child)

    # -- what stands ---------------------------------------------------------------------------------
    def stands(self) -> tuple[str, str]:
        """The states of the packet and of the held one: "-" where none is, "TORN" for anything else."""
        return self._state(self.out / NAME), self._state(self.out / f"{NAME}.held")

    def _state(self, packet: Path) -> str:
        found = tree(packet)
        if found is None:
            return "-"
        return next((state for state, clean in self.clean.items() if clean == found), "TORN")

    def wanted(self, before: tuple[str, str], state: str) -> tuple[str, str]:
        """What stands after a build of ``state`` that nothing disturbs."""
        return (before[0], state) if state == HELD else (state, "-")

    def fault(self, before: tuple[str, str], state: str) -> str:
        """What is wrong with what stands after a disturbed build of ``state``, "" when nothing is."""
        good, held = now = self.stands()
        after = self.wanted(before, state)
        whole = good in (before[0], after[0]) and held in (before[1], after[1])
        early = state != HELD and held != before[1] and good != after[0]  # the held one goes last
        return "" if whole and not early else f"{before} was to become {after} and is {now}"

    def settled(self, before: tuple[str, str], state: str) -> str:
        """Build once more, undisturbed; what is wrong with what stands then, or with what else was left."""
        ran = self.run()
        if ran.code != (1 if state == HELD else 0):
            return f"the next run ended with {ran.code}: {ran.said[-400:]}"
        now, wanted = self.stands(), self.wanted(before, state)
        left = [n for n in os.listdir(self.out / ".mouldloft") if n.startswith(("stage-", "aside-", "gone-"))]
        others = sorted(set(os.listdir(self.out)) - {NAME, f"{NAME}.held", ".mouldloft"})
        if now != wanted or left or others:
            return f"the next run left {now} and {left + others}, not {wanted}: {ran.said[-400:]}"
        return ""
