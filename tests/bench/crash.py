"""Builds that are killed, that the disk fails, and that find it full: is the packet always the old or the new one?

    python -m tests.bench.crash [kills] [seed]

Four rounds over one small project whose packet changes with every build, one state of the three held back:

- ``kills`` builds (500) killed at random instants, spread over the whole build;
- as many builds killed, or failed by the system, just before one of its calls (files opened, renamed, removed,
  folders made, listed, removed, exchanged, flushed), spread over all calls of a build;
- a tenth as many builds whose writing fails: the disk is full after so many bytes (by a writer that counts, by the
  system's own bound on a file's size, and on a small disk of memory where that may be mounted);
- a disk that can only be read, where such a thing may be mounted.

After each the packet must be the old or the new one, byte for byte, the next run must bring what an undisturbed
one brings, and whatever was said must be a sentence, with exit code 3 when the run failed. One line a round; exit
code 1 when anything is off.
"""

from __future__ import annotations

import errno
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from tests.bench.disturbed import STATES, Project, Ran, prepared
from tests.bench.failing import at_call, full_after, small_files

FAILURES = (errno.ENOSPC, errno.EIO, errno.EACCES, errno.EROFS)
FRESH = 4
"""Every fifth build does everything again, the others take from the store what they can."""


def options(k: int) -> tuple[str, ...]:
    return ("--fresh",) if k % 5 == FRESH else ()


def random_kills(project: Project, count: int, rng: random.Random) -> list[str]:
    """Faults found by killing builds at random instants."""
    ends: Counter[str] = Counter()

    def killed(k: int) -> Ran:
        return project.killed(rng.uniform(0.0, 1.1), *options(k))

    found = rounds(project, count, rng, killed, ends)
    print(f"{count} builds killed at random instants ({told(ends)}): {len(found)} broken")
    return found


def calls(project: Project, count: int, rng: random.Random) -> list[str]:
    """Faults found by killing or failing builds at their calls, all of them or ``count`` spread over all."""
    ends: Counter[str] = Counter()
    noted = project.folder / "calls.txt"
    most: dict[tuple[str, ...], int] = {}
    few = count <= FRESH
    for k, state in enumerate(STATES[:1] if few else (*STATES, *STATES)):
        project.edit(state)
        given = options(FRESH if k >= len(STATES) else 0)
        assert project.run(lambda: at_call(0, None, note=noted), *given).code in (0, 1)
        most[given] = max(most.get(given, 0), int(noted.read_text(encoding="ascii")))

    def disturbed(k: int) -> Ran:
        at = 1 + int((k + rng.random()) * most[options(k)] / count) if count < sum(most.values()) else 1 + k
        code = rng.choice((None, *FAILURES))
        return project.run(lambda: at_call(at, code), *options(k))

    found = rounds(project, count, rng, disturbed, ends)
    print(f"{count} builds disturbed at one of {sum(most.values())} calls ({told(ends)}): {len(found)} broken")
    return found


def writes(project: Project, count: int, rng: random.Random) -> list[str]:
    """Faults found by failing builds while they write."""
    ends: Counter[str] = Counter()

    def disturbed(k: int) -> Ran:
        most = rng.randrange(200, 60_000), rng.randrange(1, 400_000)
        return project.run((lambda: small_files(most[0])) if k % 2 else (lambda: full_after(most[1])), *options(k))

    found = rounds(project, count, rng, disturbed, ends)
    print(f"{count} builds whose writing failed ({told(ends)}): {len(found)} broken")
    return found


def rounds(
    project: Project, count: int, rng: random.Random, disturbed: Callable[[int], Ran], ends: Counter[str]
) -> list[str]:
    """Go from state to state ``count`` times, disturbed and then not; what was wrong, a line each."""
    found = []
    for k in range(count):
        before = project.stands()
        state = rng.choice([s for s in STATES if s not in before])
        project.edit(state)
        ran = disturbed(k)
        ends[end(ran, project.stands() == before)] += 1
        off = [unclear(ran), project.fault(before, state), project.settled(before, state)]
        found += [f"{k}, {before} to {state}: {what}" for what in off if what]
    return found


def end(ran: Ran, old: bool) -> str:
    how = {-9: "killed", 3: "failed"}.get(ran.code, "came through")
    return f"{how}, {'old' if old else 'new'} packet"


def unclear(ran: Ran) -> str:
    """What is wrong with how a run ended and what it said."""
    if ran.code not in (-9, 0, 1, 3):
        return f"it ended with {ran.code}: {ran.said[-400:]}"
    if "Traceback" in ran.said or "fault of its own" in ran.said:
        return f"it said {ran.said[-600:]}"
    if ran.code == 3 and not (ran.said.strip() and ran.said.strip().splitlines()[-1].endswith((".", ")"))):
        return f"it failed and said {ran.said[-400:]!r}"
    return ""


def told(ends: Counter[str]) -> str:
    return ", ".join(f"{n} {how}" for how, n in sorted(ends.items()))


# -- disks of memory -----------------------------------------------------------------------------------
def small_disk(count: int, rng: random.Random) -> list[str]:
    """The same on a real disk that is nearly full, then on one that can only be read."""
    with tempfile.TemporaryDirectory() as scratch:
        disk = Path(scratch) / "disk"
        disk.mkdir()
        if not mounted("-t", "tmpfs", "-o", "size=8m", "tmpfs", str(disk)):
            print("No disk of memory may be mounted here: a really full one and a read-only one are left out.")
            return []
        try:
            project = Project(disk / "project")
            ballast, ends = disk / "ballast", Counter[str]()

            def full(_: int) -> Ran:
                free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
                ballast.write_bytes(bytes(max(0, free - rng.randrange(0, 300_000))))
                try:
                    return project.run()
                finally:
                    ballast.unlink()

            found = rounds(project, count, rng, full, ends)
            print(f"{count} builds on a disk that is nearly full ({told(ends)}): {len(found)} broken")
            return found + read_only(project, disk)
        finally:
            subprocess.run(["umount", str(disk)], check=False)


def read_only(project: Project, disk: Path) -> list[str]:
    """A build onto a disk that can only be read: told so, and nothing else."""
    before = project.stands()
    state = next(s for s in STATES if s not in before)
    project.edit(state)
    (project.folder / "log.txt").write_text("", encoding="utf-8")
    assert mounted("-o", "remount,ro", str(disk))
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(writing, 1)
        os.dup2(writing, 2)
        os.chdir(project.folder)
        from pipeline import cli

        os._exit(cli.main(["build", "well.yaml"]))
    os.close(writing)
    with os.fdopen(reading) as stream:
        said = stream.read()
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert mounted("-o", "remount,rw", str(disk))
    print(f"1 build on a disk that can only be read: exit code {code}, {said.strip()!r}")
    off = [unclear(Ran(code, said, 0.0)), project.fault(before, state), project.settled(before, state)]
    off += [] if code == 3 and "can only be read" in said else ["it was not told so"]
    return [what for what in off if what]


def mounted(*arguments: str) -> bool:
    try:
        return subprocess.run(["mount", *arguments], check=False, capture_output=True).returncode == 0
    except OSError:
        return False


def main() -> int:
    """Run all rounds; 1 when anything is off."""
    kills, seed = (
        (int(v) for v in [*sys.argv[1:], "500", "1"][:2]) if len(sys.argv) != 2 else (int(sys.argv[1]), 1)
    )
    begun, found = time.perf_counter(), list[str]()
    with tempfile.TemporaryDirectory() as scratch:
        prepared(Path(scratch) / "first")
        project = Project(Path(scratch) / "project")
        rng = random.Random(seed)
        for part, count in ((random_kills, kills), (calls, kills), (writes, max(4, kills // 10))):
            found += part(project, count, rng)
    if kills >= 100:
        found += small_disk(kills // 10, rng)
    print(*found, sep="\n", end="\n" if found else "")
    print(f"{len(found)} faults in {time.perf_counter() - begun:.0f} s")
    return 1 if found else 0


if __name__ == "__main__":
    raise SystemExit(main())
