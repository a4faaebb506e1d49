"""Mutated recipes and drawings, end to end: nothing may crash, hang, grow, or reach out of its folder.

    python -m tests.bench.fuzz [count] [seed] [jobs] [folder]

Each of ``count`` (20,000) mutants of a golden case, demo or bad input is read and derived and its work ordered
(a sixth is laid out and checked as well, a hundredth built whole) in a forked child with 1 GB of memory above its
start, which is killed after 10 s of processor time. A fault is: a traceback or a sentence that tells of a fault of
our own, any exit code but 0, 1 and 2, a warning of a library, a refusal without words, NaN in JSON, a file opened
for writing outside the output folder, a forbidden one read.

Coverage guides it: a mutant that reaches a line of the readers, steps or checks that none before reached joins
the seeds (followed by `sys.settrace`, only in functions that still have such lines). A count of 2,000 or less goes
unguided, at full speed. The folder (none) gets the files of every mutant with a fault; exit code 1 when there is
one.
"""

from __future__ import annotations

import gc
import json
import os
import random
import select
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.bench.mutate import Files, mutated
from tests.bench.seeds import RECIPE, seeds
from tests.bench.watched import MOST_S, Lines, all_codes, prepared, put, work

BATCH = 40
VERBS = ("sequence", "check", "print", "build")
SHARES = (0.79, 0.15, 0.05, 0.01)
HEAVY = ("body-w", "chambers", "configs/curlew", "configs/heron")
"""Seeds that take longest: taken thirty times less often, and never built whole."""
WALL_S = 240.0
GUIDED = 2000
"""Up to so many mutants coverage is not followed: it takes as long again, and a short run has little of it."""
Mutant = tuple[int, str, Files]


@dataclass(slots=True)
class Child:
    """A child at work: which mutant it is at, and the processor time it had used when that began."""

    pid: int
    stream: int
    mutants: dict[int, Mutant]
    at: int = -1
    since: float = 0.0
    clock: float = 0.0
    rest: bytes = b""
    done: set[int] = field(default_factory=set)


@dataclass(slots=True)
class Tally:
    """What a run found."""

    ran: int = 0
    built: int = 0
    codes: Counter[int] = field(default_factory=Counter)
    faults: list[tuple[int, str]] = field(default_factory=list)
    slowest: tuple[float, int] = (0.0, -1)
    grown: tuple[int, int] = (0, -1)
    lines: int = 0
    kept: int = 0
    refusals: set[str] = field(default_factory=set)


@dataclass(slots=True)
class Fuzz:
    """The run: seeds with their weights, lines that were reached, what was found."""

    seed: int
    scratch: Path
    keep: Path | None
    corpus: list[Files] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    heavy: list[Files] = field(default_factory=list)
    lines: Lines | None = None
    codes: dict[int, set[int]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)

    def __post_init__(self) -> None:
        for name, files in seeds():
            self.corpus.append(files)
            self.weights.append(0.03 if name in HEAVY else 0.15 if name.startswith("errors/") else 1.0)
            self.heavy += [files] if name in HEAVY else []
        self.codes = all_codes()

    def batch(self, number: int, size: int) -> Child:
        """Start a child on some mutants of the seeds as they are now."""
        rng = random.Random(f"{self.seed}-{number}")
        mutants: dict[int, Mutant] = {}
        for k in range(size):
            seed = rng.choices(self.corpus, self.weights)[0]
            verb = "sequence" if seed in self.heavy else rng.choices(VERBS, SHARES)[0]
            mutants[number * BATCH + k] = (number * BATCH + k, verb, mutated(seed, self.corpus, rng))
        return self.start(mutants, number)

    def start(self, mutants: dict[int, Mutant], number: int) -> Child:
        reading, writing = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(reading)
            status = 70
            try:
                work(self.scratch / f"{number}", [*mutants.values()], self.lines, lambda row: _send(writing, row))
                status = 0
            finally:
                os._exit(status)
        os.close(writing)
        return Child(pid, reading, mutants, clock=time.monotonic())

    def run(self, count: int, jobs: int) -> None:
        """Rounds of one batch a job; seeds grow between rounds, in the order of the batches."""
        number = 0
        while self.tally.ran < count:
            sizes = [min(BATCH, count - self.tally.ran - k * BATCH) for k in range(jobs)]
            round_ = [(number + k, self.batch(number + k, n)) for k, n in enumerate(sizes) if n > 0]
            number += len(round_)
            while round_:
                rows = self.surely(self.finish([child for _, child in round_]), dict(round_))
                self.take(rows, {i: m for _, c in round_ for i, m in c.mutants.items()})
                # a child that was killed leaves mutants that it did not come to
                left = [(n, {i: m for i, m in c.mutants.items() if i not in c.done}) for n, c in round_]
                round_ = [(n, self.start(mutants, n)) for n, mutants in left if mutants]

    def surely(self, rows: list[dict[str, Any]], children: dict[int, Child]) -> list[dict[str, Any]]:
        """The rows with those that were slow run again without following lines, which takes time itself."""
        slow = {row["index"] for row in rows if row.get("seconds", MOST_S) > MOST_S * 0.9} if self.lines else set()
        if not slow:
            return rows
        lines, self.lines = self.lines, None
        again = {i: m for c in children.values() for i, m in c.mutants.items() if i in slow}
        rows = [row for row in rows if row["index"] not in slow]
        for index, mutant in again.items():
            rows += self.finish([self.start({index: mutant}, min(children))])
        self.lines = lines
        return rows

    def finish(self, children: list[Child]) -> list[dict[str, Any]]:
        """Wait for children to end, killing those that hang; how each mutant ended."""
        rows, open_ = list[dict[str, Any]](), {c.stream: c for c in children}
        while open_:
            ready, _, _ = select.select([*open_], [], [], 0.5)
            for stream in ready:
                child = open_[stream]
                data = os.read(stream, 1 << 20)
                if data:
                    rows += _received(child, data)
                    continue
                del open_[stream]
                os.close(stream)
                status = os.waitstatus_to_exitcode(os.waitpid(child.pid, 0)[1])
                if child.at not in child.done and child.at >= 0:
                    child.done.add(child.at)
                    how = f"hung for {MOST_S} s" if status == -9 else f"the process ended with {status}"
                    rows.append({"index": child.at, "code": status, "fault": how, "lines": [], "said": ""})
                elif status != 0 and child.at < 0:
                    raise RuntimeError(f"a child ended with {status} before its first mutant")
            for child in open_.values():
                over = _used(child.pid) - child.since > MOST_S
                if (
                    child.at >= 0
                    and child.at not in child.done
                    and (over or time.monotonic() - child.clock > WALL_S)
                ):
                    os.kill(child.pid, signal.SIGKILL)
        return sorted(rows, key=lambda row: row["index"])

    def take(self, rows: list[dict[str, Any]], mutants: dict[int, Mutant]) -> None:
        """Count how mutants ended; keep those with something new."""
        tally = self.tally
        for row in rows:
            index, verb, files = mutants[row["index"]]
            tally.ran += 1
            tally.built += verb == "build"
            tally.codes[row["code"]] += 1
            tally.slowest = max(tally.slowest, (row.get("seconds", MOST_S), index))
            tally.grown = max(tally.grown, (row.get("grown", 0), index))
            tally.refusals.update(_sentences(row["said"]))
            learn = self.lines.learn if self.lines else lambda *_: 0
            new = learn([(c, n) for c, n in row["lines"]], lambda code: self.codes.get(code, set()))
            tally.lines += new
            if row["fault"]:
                tally.faults.append((index, f"{verb}: {row['fault']}"))
                print(f"mutant {index}, {verb}: {row['fault']}", flush=True)
                if self.keep is not None:
                    put(self.keep / f"{index}" / "project", files)
                    (self.keep / f"{index}" / "fault.txt").write_text(f"{verb}: {row['fault']}", encoding="utf-8")
            elif new and sum(map(len, files.values())) < 60_000 and row.get("seconds", MOST_S) < 0.5:
                self.corpus.append(files)
                self.weights.append(1.0)
                tally.kept += 1


def _send(stream: int, row: Any) -> None:
    data = json.dumps(row).encode() + b"\n"
    while data:
        data = data[os.write(stream, data) :]


def _received(child: Child, data: bytes) -> list[dict[str, Any]]:
    *lines, child.rest = (child.rest + data).split(b"\n")
    rows = []
    for line in lines:
        row = json.loads(line)
        if "began" in row:
            child.at, child.since, child.clock = row["began"], _used(child.pid), time.monotonic()
        else:
            child.done.add(row["index"])
            rows.append(row)
    return rows


def _used(pid: int) -> float:
    """Processor seconds that a process has used."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _sentences(said: str) -> set[str]:
    """What was said, without names and numbers, so that two refusals for one reason are one."""
    import re

    return {re.sub(r'"[^"]*"|`[^`]*`|[-\d.,]+', "#", line.partition(": ")[2])[:80] for line in said.splitlines()}


def warmed(scratch: Path) -> None:
    """Build one project here, so that no child has to load what is loaded when it is first needed."""
    from pipeline import build

    put(scratch / "first" / "project", dict(seeds())["tables"])
    build([scratch / "first" / "project" / RECIPE], out=scratch / "first" / "out")


def main() -> int:
    """Run and print; 1 when there is a fault."""
    given = [*sys.argv[1:], *("20000", "1", "1", "")[len(sys.argv) - 1 :]]
    count, seed, jobs, keep = int(given[0]), int(given[1]), int(given[2]), given[3]
    begun = time.monotonic()
    prepared()
    with tempfile.TemporaryDirectory() as scratch:
        fuzz = Fuzz(seed, Path(scratch), Path(keep).absolute() if keep else None)
        fuzz.lines = Lines() if count > GUIDED else None
        warmed(Path(scratch))
        gc.collect()
        gc.freeze()
        fuzz.run(count, jobs)
    t = fuzz.tally
    codes = ", ".join(f"{n} ended with {code}" for code, n in sorted(t.codes.items()))
    slow, grown = t.slowest, t.grown
    print(f"{t.ran} mutants ({t.built} built whole) in {time.monotonic() - begun:.0f} s: {codes}")
    print(f"{t.lines} lines reached, {t.kept} mutants kept as seeds, {len(t.refusals)} different sentences")
    print(f"the slowest: {slow[0]:.1f} s ({slow[1]}), the largest growth was {grown[0] / 1e6:.0f} MB ({grown[1]})")
    print(f"{len(t.faults)} faults")
    return 1 if t.faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
