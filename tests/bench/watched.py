"""One forked child that works through mutants, watched: limits of memory, files touched, lines of ours reached."""

from __future__ import annotations

import contextlib
import importlib
import io
import json
import os
import pkgutil
import resource
import shutil
import sys
import time
import traceback
import warnings
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from tests.bench.mutate import LINK, Files
from tests.bench.seeds import RECIPE

MOST_S = 10.0
MOST_BYTES = 1_000_000_000
WATCHED = ("/pipeline/intake/", "/pipeline/steps/", "/pipeline/checks/", "/pipeline/graph/derive")
"""Lines of these are looked at: a mutant that reaches a new one is worth mutating further."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How one mutant ended: ``fault`` says what was off, "" when nothing was."""

    index: int
    code: int
    seconds: float
    grown: int
    said: str
    fault: str
    lines: tuple[tuple[int, int], ...]


def prepared() -> None:
    """Import all that a run needs."""
    import pipeline

    for module in pkgutil.walk_packages(pipeline.__path__, "pipeline."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)


# -- lines reached -------------------------------------------------------------------------------------------
class Lines:
    """Lines of the watched modules that nothing has reached yet. A function all of whose lines were reached runs
    at full speed. Code is known by its id, which a forked child shares."""

    def __init__(self) -> None:
        self.left: dict[int, set[int]] = {}
        self.new: list[tuple[int, int]] = []

    def called(self, frame: FrameType, _: str, __: Any) -> Any:
        code = frame.f_code
        left = self.left.get(id(code))
        if left is None:
            left = self.left[id(code)] = _lines(code)
        return self.stepped if left else None

    def stepped(self, frame: FrameType, event: str, _: Any) -> Any:
        code = frame.f_code
        if event == "line" and frame.f_lineno in self.left[id(code)]:
            self.left[id(code)].discard(frame.f_lineno)
            self.new.append((id(code), frame.f_lineno))
        return self.stepped

    def learn(self, lines: Iterable[tuple[int, int]], codes: Callable[[int], set[int]]) -> int:
        """Note what a child has reached; how much of it is new here."""
        count = 0
        for code, line in lines:
            left = self.left.get(code)
            if left is None:
                left = self.left[code] = codes(code)
            if line in left:
                left.discard(line)
                count += 1
        return count


def _lines(code: CodeType) -> set[int]:
    if not any(part in code.co_filename for part in WATCHED):
        return set()
    return {line for _, _, line in code.co_lines() if line}


def all_codes() -> dict[int, set[int]]:
    """The lines of every function of the watched modules, by the id of its code."""
    import gc

    return {id(c): _lines(c) for f in gc.get_objects() if isinstance(c := getattr(f, "__code__", None), CodeType)}


# -- files touched ---------------------------------------------------------------------------------------------
class Guard:
    """What was opened for reading outside the project, or written outside its folder ``out``."""

    def __init__(self) -> None:
        self.root = ""
        self.off: list[str] = []
        sys.addaudithook(self.seen)

    def seen(self, event: str, given: tuple[Any, ...]) -> None:
        if not self.root or event not in _TOUCHES:
            return
        writes = event != "open" or _writes(given[1], given[2])
        for path in given[: _TOUCHES[event]]:
            if not isinstance(path, str | bytes | os.PathLike):
                continue
            real = os.path.realpath(os.fsdecode(path))
            if writes and not real.startswith(self.root + "/out") and not os.path.isabs(os.fsdecode(path)):
                continue  # a name within a folder that was opened, and checked, before: rmtree works so
            if writes and not real.startswith((self.root + "/out", "/dev/null")):
                self.off.append(f"{event} {real}")
            if not writes and (
                "secret" in real or real.startswith(("/etc/passwd", "/dev/zero", "/proc/self/mem"))
            ):
                self.off.append(f"read {real}")


_TOUCHES = {
    "open": 1, "os.rename": 2, "os.remove": 1, "os.rmdir": 1, "os.mkdir": 1, "os.symlink": 2, "os.link": 2,
    "os.truncate": 1, "os.chmod": 1, "os.utime": 1, "os.system": 1, "subprocess.Popen": 1, "socket.connect": 2,
}  # fmt: skip


def _writes(mode: Any, flags: Any) -> bool:
    if isinstance(mode, str):
        return any(c in mode for c in "wax+")
    return bool(isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))


# -- one child -----------------------------------------------------------------------------------------------
def work(
    folder: Path, mutants: list[tuple[int, str, Files]], lines: Lines | None, tell: Callable[[Any], None]
) -> None:
    """Run every mutant (index, verb, files) and tell how each began and ended. Never returns an error: whatever a
    mutant raises is what is looked for."""
    from pipeline import assemble

    told = assemble.fault
    assemble.fault = lambda what, error: told(what, error) + "".join(traceback.format_exception(error)[-4:])
    with open("/proc/self/statm", encoding="ascii") as stream:
        size = int(stream.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (size + MOST_BYTES, size + MOST_BYTES))
    guard = Guard()
    for index, verb, files in mutants:
        tell({"began": index})
        if lines is not None:
            lines.new = []
        ended = one(folder / "project", index, verb, files, guard, lines)
        tell({f: getattr(ended, f) for f in Ended.__slots__})


def one(folder: Path, index: int, verb: str, files: Files, guard: Guard, lines: Lines | None) -> Ended:
    """Run one mutant in an empty folder."""
    from pipeline import cli

    put(folder, files)
    before = _listed(folder)
    os.chdir(folder)
    out, said, raised = io.StringIO(), io.StringIO(), ""
    arguments = [verb, RECIPE] + ([] if verb == "sequence" else ["--out", "out"])
    arguments += ["--json"] if verb == "check" else []
    peak, begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    guard.off, guard.root = [], os.path.realpath(folder)
    code = 70
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(said), warnings.catch_warnings():
        warnings.simplefilter("always")
        if lines is not None:
            sys.settrace(lines.called)
        try:
            code = cli.main(arguments)
        except BaseException as error:  # whatever it is, it is what is looked for
            raised = "".join(traceback.format_exception(error)[-4:])
        finally:
            sys.settrace(None)
    guard.root = ""
    took = time.process_time() - begun
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak) * 1024
    text = said.getvalue()
    off = [raised, *guard.off, *sorted(f"{p} is new" for p in _listed(folder) - before)]
    off += _unclear(code, out.getvalue(), text, json_asked="--json" in arguments)
    off += [f"took {took:.1f} s"] if took > MOST_S else []
    off += [f"grew by {grown / 1e6:.0f} MB"] if grown > 0.9 * MOST_BYTES else []
    return Ended(
        index=index,
        code=code,
        seconds=took,
        grown=grown,
        said=text,
        fault="; ".join(o for o in off if o),
        lines=tuple(lines.new) if lines is not None else (),
    )


def put(folder: Path, files: Files) -> None:
    """Write a project into its folder, which is emptied first, with a file beside it that nobody may read."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    (folder.parent / "secret.svg").write_bytes(b"<svg/>")
    for name, data in files.items():
        if data.startswith(LINK):
            with contextlib.suppress(FileExistsError):
                (folder / name).symlink_to(data[len(LINK) :].decode())
        elif not (folder / name).is_symlink():
            (folder / name).write_bytes(data)


def _listed(folder: Path) -> set[str]:
    """All paths in the folder and beside it, but for what the output folder holds."""
    found = {p.relative_to(folder).as_posix() for p in folder.rglob("*")} | {
        f"../{p.name}" for p in folder.parent.iterdir()
    }
    return {p for p in found if p != "out" and not p.startswith("out/")}


def _unclear(code: int, out: str, said: str, *, json_asked: bool) -> list[str]:
    """What is wrong with how a run ended and what it said."""
    found = []
    if code not in (0, 1, 2):
        found.append(f"exit code {code}: {said[-600:]}")
    if "Traceback" in said or "fault of its own" in said:
        found.append(said[-1500:])
    if "Warning" in said:
        found.append(f"a warning: {said[-600:]}")
    if "more memory than there is" in said:
        found.append(f"out of memory: {said[-400:]}")
    if code == 2 and len(said.strip()) < 20:
        found.append(f"refused with {said!r}")
    if json_asked:
        try:
            json.loads(out, parse_constant=lambda name: found.append(f"{name} in what it printed"))
        except ValueError as error:
            found.append(f"no JSON: {error}, {out[:200]!r}")
    return found
