"""What a catalogue costs: nothing stale in 1,000 designs, one step edited, and growth with the number of designs.

Times are processor seconds of whole processes or of calls in this one; see `tests.bench.__main__`.
"""

from __future__ import annotations

import hashlib
import os
import resource
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
CASE = "two-faces"
MANY = 1000
GROWTH = (10, 100)
Process = Callable[..., tuple[float, float]]
Row = tuple[str, list[float], str]


# -- nothing stale -------------------------------------------------------------------------------
def thousand(folder: Path) -> list[str]:
    """1,000 recipes in ``folder``/all with a packet and a record each, as 1,000 builds of the case leave them;
    the paths of all their inputs and outputs. One is built; the others are copies, which a look can't tell."""
    from pipeline.graph import stale
    from pipeline.graph.run import Run
    from pipeline.path import build

    run, text = Run(), _project(folder)
    recipe = folder / f"{CASE}.yaml"
    build([recipe], out=folder / "out")
    last = stale.read(stale.record_file(str(folder / "out"), str(recipe)))
    assert isinstance(last, dict)
    (folder / "all").mkdir()
    paths: list[str] = []
    for k in range(MANY):
        name = f"design-{k:04d}"
        own = folder / f"all/{name}.yaml"
        own.write_text(text.replace(f"design: {CASE}", f"design: {name}"), encoding="utf-8")
        os.utime(own, (1e9, 1e9))
        shutil.copytree(folder / "out" / CASE, folder / "out" / name)
        outputs = [f"{name}/{p.partition('/')[2]}" for p in last["outputs"][0]]
        inputs = {str(own): hashlib.sha256(own.read_bytes()).hexdigest()}
        inputs |= {path: sha for path, *_, sha in last["inputs"] if not path.endswith(f"/{CASE}.yaml")}
        made = stale.record(
            out=str(folder / "out"),
            recipe=str(own),
            options={},
            inputs=inputs,
            outputs=outputs,
            exit_code=0,
            run=run,
        )
        stale.write(stale.record_file(str(folder / "out"), str(own)), made)
        paths += [*inputs, *(str(folder / "out" / p) for p in outputs)]
    return paths


def nothing_stale(scratch: Path, process: Process, rounds: int) -> list[Row]:
    """The run over 1,000 designs with nothing to do, against a plain look at all their files and two starts."""
    folder = scratch / "thousand"
    paths = thousand(folder)
    ours, floor = [], []
    for _ in range(rounds):
        with _inside(folder):
            cpu, clock = time.process_time(), time.perf_counter()
            for path in paths:
                os.stat(path)
            looked = time.process_time() - cpu, time.perf_counter() - clock
        start = process("-c", "pass", home=str(scratch))
        floor.append([2 * a + 2 * b for a, b in zip(looked, start, strict=True)])
        build = ("-m", "pipeline", "build", str(folder / "all"), "--out", str(folder / "out"))
        ours.append(process(*build, home=str(scratch)))
    ratio = [median(o[k] for o in ours) / median(f[k] for f in floor) for k in (0, 1)]
    shutil.rmtree(folder)
    return [(f"{MANY:,} designs, nothing stale / 2 looks at {len(paths):,} files + 2 starts", ratio, "1")]


# -- one step edited -----------------------------------------------------------------------------
EDITS = (
    ("the cover's gap", "gap: 0.25", "gap: 0.3", "cover"),
    ("the wall of the hollows", "laminations: [2], wall: 14", "laminations: [2], wall: 15", "hollows"),
    ("a sheet of the stack", "B: 11.7,", "B: 11.75,", ""),
    ("a price", "price: 38", "price: 39", ""),
)


def one_edit(scratch: Path) -> list[Row]:
    """The heron with its left-handed variant, built, and built again after edits, each against the first build."""
    from pipeline.path import build

    folder, rows = scratch / "edits", []
    shutil.copytree(ROOT / "configs", folder / "configs")
    shutil.copytree(ROOT / "demo_inputs", folder / "demo_inputs")
    recipe = folder / "configs/recipes/heron.yaml"
    text = recipe.read_text(encoding="utf-8")

    def built(out: str) -> list[float]:
        cpu, clock = time.process_time(), time.perf_counter()
        assert build([recipe], out=folder / out).exit_code < 2
        return [time.process_time() - cpu, time.perf_counter() - clock]

    built("warm")
    full = built("out")
    for what, old, new, _ in EDITS:
        recipe.write_text(text.replace(old, new), encoding="utf-8")
        took = built("out")
        rows.append(
            (
                f"heron after an edit of {what} / its full build",
                [t / f for t, f in zip(took, full, strict=True)],
                "-",
            )
        )
        recipe.write_text(text, encoding="utf-8")
        built("out")
    shutil.rmtree(folder)
    return rows


# -- growth --------------------------------------------------------------------------------------
MEASURE = """
import resource, sys, time
from pipeline.path import build
build([sys.argv[1] + "/warm"], out=sys.argv[1] + "/out")
cpu = time.process_time()
answer = build([sys.argv[1] + "/all"], out=sys.argv[1] + "/out")
assert answer.exit_code == 0, answer.said
print(time.process_time() - cpu, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def growth(scratch: Path) -> list[Row]:
    """Processor seconds a design and the most memory of one process that builds N designs from nothing."""
    import subprocess

    found: dict[int, tuple[float, float]] = {}
    for n in GROWTH:
        folder = scratch / f"growth-{n}"
        text = _project(folder)
        for where, names in (("warm", ["warm"]), ("all", [f"design-{k:04d}" for k in range(n)])):
            (folder / where).mkdir()
            for name in names:
                own = text.replace(f"design: {CASE}", f"design: {name}")
                (folder / where / f"{name}.yaml").write_text(own, encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, str(folder)],
            check=True, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        )  # fmt: skip
        cpu, most = map(float, done.stdout.split())
        found[n] = cpu / n, most
        shutil.rmtree(folder)
    few, many = GROWTH
    return [
        (f"a design of {many} / one of {few}, processor time", [found[many][0] / found[few][0]] * 2, "-"),
        (f"memory for {many} designs / for {few}", [found[many][1] / found[few][1]] * 2, "-"),
    ]


def table(scratch: Path, process: Process, rounds: int) -> list[Row]:
    """All rows."""
    return [*nothing_stale(scratch, process, rounds), *one_edit(scratch), *growth(scratch)]


def _project(folder: Path) -> str:
    """The case in a folder of its own; the text of its recipe, whose paths lead one folder up."""
    shutil.copytree(ROOT / "tests/cases" / CASE, folder)
    (folder / "configs").mkdir()
    text = (folder / f"{CASE}.yaml").read_text(encoding="utf-8")
    return text.replace(f"drawing: {CASE}.svg", f"drawing: ../{CASE}.svg").replace(
        f"{CASE}-shop", f"../{CASE}-shop"
    )


@contextmanager
def _inside(folder: Path) -> Iterator[None]:
    before = os.getcwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def main() -> None:
    """Measure these rows alone and print them."""
    import tempfile

    from tests.bench.__main__ import process

    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as scratch:
        for what, (cpu, clock), limit in table(Path(scratch), process, rounds):
            print(f"{what:76}{cpu:9.3f}{clock:9.3f}{limit:>7}")
    print(f"most memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
