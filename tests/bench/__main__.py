"""`python -m tests.bench [rounds]`: one table of ratios, measured in one run; nothing is asserted.

Each number is a ratio of two medians over ``rounds`` rounds (5), in which everything is measured in turn, so that
a busy moment hits both sides. Times are processor times, which other people's work on the machine moves less
than the clock's; the clock's ratio stands beside. Limits are those of the speed contract; "-" where it has none.
"""

from __future__ import annotations

import importlib
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
RECIPE = "configs/recipes/heron.yaml"
# Whatever `path.make` and the two ends in `assemble` call, in the order of the path. (module, function): row.
HOOKS = {
    ("pipeline.intake.recipe", "read_recipe"): "read recipe",
    ("pipeline.intake.drawing", "read_drawing"): "read drawing",
    ("pipeline.graph.derive", "derive"): "derive",
    ("pipeline.workshop.nest", "nests"): "nests",
    ("pipeline.checks", "findings"): "checks",
    ("pipeline.workshop.sequence", "sequence"): "order of work",
    ("pipeline.packet.shop_files", "shop_files"): "shop files as values",
    ("pipeline.packet.write", "write_shop_files"): "write DXF, SVG",
    ("pipeline.assemble", "prove"): "proof",
    ("pipeline.assemble", "write_prints"): "write prints",
    ("pipeline.packet.write", "write_papers"): "write tables, letter, zip",
    ("pipeline.assemble", "write_report"): "write report",
    ("pipeline.packet.write", "write_record"): "write packet.json",
    ("pipeline.packet.exchange", "finish"): "exchange",
}
INSIDE = {("pipeline.packet.refits", "fitted"): "refits"}
BY = (4.5, -4.5)
Times = dict[str, list[tuple[float, float]]]


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Processor and clock seconds of a call in this process."""
    cpu, clock = time.process_time(), time.perf_counter()
    work()
    return time.process_time() - cpu, time.perf_counter() - clock


def process(*arguments: str, home: str) -> tuple[float, float]:
    """Processor and clock seconds of a whole python process. Raises CalledProcessError."""
    env = os.environ | {"XDG_CACHE_HOME": home, "PYTHONPATH": str(ROOT)}
    before, clock = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, cwd=ROOT, env=env, capture_output=True)
    took, after = time.perf_counter() - clock, resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, took


def hook(sums: dict[str, list[float]]) -> None:
    """Wrap the functions of the path, so that each adds its times to ``sums``."""
    for (module, name), row in (HOOKS | INSIDE).items():
        holder = importlib.import_module(module)
        setattr(holder, name, _wrapped(getattr(holder, name), row, sums))


def _wrapped(function: Callable[..., Any], row: str, sums: dict[str, list[float]]) -> Callable[..., Any]:
    def run(*args: Any, **kwargs: Any) -> Any:
        cpu, clock = time.process_time(), time.perf_counter()
        try:
            return function(*args, **kwargs)
        finally:
            sums[row][0] += time.process_time() - cpu
            sums[row][1] += time.perf_counter() - clock

    return run


def geometry(times: Times) -> None:
    """Offsets and refits of the heron's outline and of 1,300 chords of it; regions are new, nothing is cached."""
    from pipeline.geometry.contour import line_chain
    from pipeline.geometry.fit import fitted
    from pipeline.geometry.offset import offset
    from pipeline.geometry.region import Region, solid
    from pipeline.graph.derive import derive
    from pipeline.intake.drawing import read_drawing
    from pipeline.intake.recipe import read_recipe
    from tests.bench.plain_heron import ring

    recipe = read_recipe(ROOT / RECIPE)
    body = derive(recipe, read_drawing(recipe)).results["body"].region
    assert isinstance(body, Region)
    chords = solid(line_chain(ring(body.parts[0].polygon, 1300)))
    for name, shape in (("1,300 chords", chords), ("861 arcs", body)):
        flat = shape.parts[0].polygon
        times[f"buffer {name}"] += [timed(lambda f=flat: [f.buffer(by, quad_segs=64) for by in BY * 10])]
        new = [solid(*(c.rolled(0) for c in shape.contours)) for _ in BY]
        times[f"offset {name}"] += [timed(lambda s=new: [offset(s, by) for s, by in zip(s, BY, strict=True)])]
    times["simplify"].append(timed(lambda: [body.parts[0].polygon.simplify(0.005) for _ in range(10)]))
    times["refit"].append(timed(lambda: fitted(body, recipe.tolerance)))


def reading(times: Times) -> None:
    """Drawings of 600 closed paths of 20 cubics or arcs, and flattening, beside the bare libraries."""
    import io

    import ezdxf
    import numpy as np
    from ezdxf.math import Bezier4P, Vec2
    from svgelements import SVG

    from pipeline.geometry import curves
    from pipeline.geometry.contour import FLATTEN_MM
    from pipeline.intake.drawing.dxf import read_dxf
    from pipeline.intake.drawing.svg import read_svg

    turn = np.linspace(0, 2 * np.pi, 21)
    ring_ = np.stack([np.cos(turn), 0.7 * np.sin(turn)], axis=1) * (20 + 2 * np.cos(3 * turn))[:, None]
    slope = np.gradient(ring_, axis=0) / 3
    cubics = [(p, p + s, q - t, q) for p, q, s, t in zip(ring_, ring_[1:], slope, slope[1:], strict=False)]
    text = "M{:.4f},{:.4f}".format(*ring_[0]) + "".join(
        "C" + " ".join(f"{x:.4f},{y:.4f}" for x, y in c[1:]) for c in cubics
    )
    paths = "".join(f'<path transform="translate({50 * k},0)" d="{text}Z"/>' for k in range(600))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">{paths}</svg>'
    )
    times["read svg"].append(timed(lambda: read_svg(svg.encode(), "bench.svg")))
    times["svgelements"].append(timed(lambda: list(SVG.parse(io.StringIO(svg)).elements())))
    doc = ezdxf.new("R2010", units=4)
    for k in range(600):
        points = [(50 * k + x, y, 0.1) for x, y in ring_[:-1]]
        doc.modelspace().add_lwpolyline(points, format="xyb", close=True)
    stream = io.StringIO()
    doc.write(stream)
    times["read dxf"].append(timed(lambda: read_dxf(stream.getvalue().encode(), "bench.dxf")))
    times["ezdxf read"].append(timed(lambda: ezdxf.read(io.StringIO(stream.getvalue()))))
    drawn = [curves.Cubic(*(tuple(map(float, v)) for v in c)) for c in cubics]
    theirs = [Bezier4P([Vec2(v) for v in c]) for c in cubics]
    times["flatten"].append(timed(lambda: [curves.contour(drawn, True).flatten() for _ in range(20)]))
    times["ezdxf flatten"].append(timed(lambda: [[*b.flattening(FLATTEN_MM)] for _ in range(20) for b in theirs]))


def measure(rounds: int, scratch: Path) -> Times:
    """All times by name, a pair (processor, clock) a round."""
    from pipeline.path import build
    from tests.bench import plain_heron

    times: Times = defaultdict(list)
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    ours, plain, home = str(scratch / "ours"), str(scratch / "plain"), str(scratch / "home")
    os.chdir(ROOT)
    hook(sums)
    for n in range(-1, rounds):
        sums.clear()
        now: Times = defaultdict(list)
        now["build"].append(timed(lambda: build([RECIPE], out=ours, fresh=True)))
        for row, (cpu, clock) in sums.items():
            now[row].append((cpu, clock))
        now["plain"].append(timed(lambda: plain_heron.main(plain)))
        fresh = ("-m", "pipeline", "build", RECIPE, "--out", ours)
        now["build, process"].append(process(*fresh, "--fresh", home=home))
        now["plain, process"].append(process("-m", "tests.bench.plain_heron", plain, home=home))
        for _ in range(5):
            now["interpreter"].append(process("-c", "pass", home=home))
            now["nothing stale"].append(process(*fresh, home=home))
        geometry(now)
        reading(now)
        if n >= 0:  # the first round warms imports and the disk's cache
            for name, pairs in now.items():
                times[name] += pairs
    return times


def table(times: Times) -> list[tuple[str, list[float], str]]:
    """Rows (what, ratios of processor and clock times, limit)."""

    def ratio(above: list[str], below: list[str], less: tuple[str, ...] = ()) -> list[float]:
        m = {name: [median(pair[k] for pair in pairs) for k in (0, 1)] for name, pairs in times.items()}
        top = [sum(m[a][k] for a in above) - sum(m[a][k] for a in less) for k in (0, 1)]
        return [top[k] / max(sum(m[b][k] for b in below), 1e-9) for k in (0, 1)]

    judged = ("checks", "proof")
    rows = [
        ("full heron build / plain script, in process", ratio(["build"], ["plain"]), "-"),
        ("  the same less checks and proof", ratio(["build"], ["plain"], judged), "1.5"),
        ("full heron build / plain script, whole process", ratio(["build, process"], ["plain, process"]), "-"),
        ("  the same less checks and proof", ratio(["build, process"], ["plain, process"], judged), "1.5"),
        ("checks and proof / the whole build", ratio([*judged], ["build"]), "0.5"),
        ("nothing stale / bare interpreter start", ratio(["nothing stale"], ["interpreter"]), "4"),
        ("all geometry / the whole build", ratio(["derive", "refits"], ["build"]), "0.333"),
        ("  derivation alone", ratio(["derive"], ["build"]), "-"),
        ("  arc refits alone", ratio(["refits"], ["build"]), "-"),
        ("arc refit of the heron / shapely simplify", [10 * r for r in ratio(["refit"], ["simplify"])], "-"),
        ("flattening cubics within 0.5 um / ezdxf", ratio(["flatten"], ["ezdxf flatten"]), "-"),
        ("reading an SVG of 600 paths / svgelements", ratio(["read svg"], ["svgelements"]), "-"),
        ("reading a DXF of 600 polylines / ezdxf", ratio(["read dxf"], ["ezdxf read"]), "-"),
    ]
    for name, limit in (("1,300 chords", "120"), ("861 arcs", "-")):
        tenfold = [10 * r for r in ratio([f"offset {name}"], [f"buffer {name}"])]
        rows.append((f"offset of {name} by 4.5 and -4.5 / shapely buffer", tenfold, limit))
    return [*rows, *((f"  share of the build: {row}", ratio([row], ["build"]), "-") for row in HOOKS.values())]


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as scratch:
        times = measure(rounds, Path(scratch))
    print(f"{'what':58}{'processor':>11}{'clock':>9}{'at most':>9}")
    for what, (cpu, clock), limit in table(times):
        print(f"{what:58}{cpu:11.3f}{clock:9.3f}{limit:>9}")


if __name__ == "__main__":
    main()
