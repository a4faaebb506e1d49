"""`python -m tests.bench.packing [seconds] [instance …]`: densities of packing instances beside the published ones.

The instances lie in `tests/data/packing` (see SOURCE.txt there). A density is the area of all parts over strip height ×
length. The published ones: records, and means of 50 runs of 1200 s (two sets of runs, averaged) of the programme that
holds most of them, arXiv:2509.13329. ``seconds`` is for the packing library (0, the default: leave it out).
"""

from __future__ import annotations

import json
import math
import resource
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from pipeline.workshop import strip
from pipeline.workshop.exact import Ground, clear, quarter_turned
from pipeline.workshop.nest_parts import cell_for
from pipeline.workshop.search import Part, Room
from pipeline.workshop.varying import laid_out
from pipeline.workshop.ways import way

DATA = Path(__file__).parents[1] / "data" / "packing"
PUBLISHED: Mapping[str, tuple[float, float]] = {
    "albano": (89.821, (89.461 + 89.489) / 2),
    "blaz1": (86.222, (84.668 + 84.676) / 2),
    "dagli": (90.172, (89.232 + 89.283) / 2),
    "fu": (92.394, (92.249 + 92.212) / 2),
    "jakobs1": (89.244, (89.083 + 89.080) / 2),
    "jakobs2": (87.719, (84.886 + 84.641) / 2),
    "mao": (86.867, (86.095 + 86.178) / 2),
    "marques": (92.015, (90.907 + 90.944) / 2),
    "shapes0": (69.978, (68.576 + 68.612) / 2),
    "shapes1": (76.720, (75.743 + 75.619) / 2),
    "shirts": (90.920, (89.720 + 89.590) / 2),
    "swim": (79.826, (78.302 + 78.220) / 2),
    "trousers": (92.615, (91.786 + 91.677) / 2),
}
"""Record and mean density in percent."""
ABOVE = 0.5
"""More than a record by so many points would be an overlap."""


@dataclass(frozen=True, slots=True)
class Instance:
    """Parts as (shape, turns), one for each copy; the strip's height."""

    parts: tuple[tuple[shapely.Polygon, tuple[int, ...]], ...]
    height: float

    @property
    def area(self) -> float:
        return sum(float(shape.area) for shape, _ in self.parts)


@dataclass(frozen=True, slots=True)
class Result:
    """The shapes where they lie, and what it cost in processor seconds."""

    shapes: tuple[shapely.Geometry, ...]
    seconds: float

    @property
    def length(self) -> float:
        return max(float(s.bounds[2]) for s in self.shapes)


def instance(name: str) -> Instance:
    """One of the instances of `tests/data/packing`."""
    found = json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
    parts = []
    for item in found["items"]:
        shape = shapely.orient_polygons(shapely.Polygon(item["shape"]["data"]))
        parts += [(shape, tuple(round(a) for a in item["allowed_orientations"]))] * item["demand"]
    return Instance(tuple(parts), float(found["strip_height"]))


def built_in(given: Instance) -> Result:
    """By the search of every build, with the work that it may do."""
    before = time.process_time()
    parts, names = [], {}
    for shape, turns in given.parts:
        name, copy = names.setdefault(shape.wkb, (f"{len(names):03d}", [0]))
        copy[0] += 1
        turned = [(t, quarter_turned(shape, t)) for t in turns]
        ways = tuple(way(s, t, s.bounds, 0.0) for t, s in turned)
        parts.append(Part(name=name, copy=copy[0], ways=ways, letters=("A",)))
    cell = cell_for(1.3 * given.area, [float(s.area) for s, _ in given.parts])
    room = Room(letter="A", size=(math.inf, given.height), cell=given.height / math.ceil(given.height / cell))
    layout = laid_out(parts, (room,))
    spots = layout.filled[0].spots
    shapes = tuple(shapely.transform(s.way.shape, lambda xy, s=s: xy + np.array([s.x, s.y])) for s in spots)
    return Result(shapes, time.process_time() - before)


def by_library(given: Instance, seconds: float) -> Result:
    """By the packing library, in so many seconds of the clock."""
    before = time.process_time()
    made = strip.packed([strip.Shape(outline=s, turns=t) for s, t in given.parts], given.height, seconds)
    shapes = tuple(
        shapely.transform(
            quarter_turned(given.parts[p.shape][0], p.turn_deg), lambda xy, p=p: xy + np.array([p.dx, p.dy])
        )
        for p in made
    )
    return Result(shapes, time.process_time() - before)


def density(given: Instance, shapes: Sequence[shapely.Geometry]) -> float:
    """In percent. Raises AssertionError for shapes that are missing, over each other, or out of the strip."""
    assert len(shapes) == len(given.parts)
    assert math.isclose(sum(float(s.area) for s in shapes), given.area, rel_tol=1e-9)
    length = max(float(s.bounds[2]) for s in shapes)
    found = clear(shapes, Ground(outline=shapely.box(0.0, 0.0, length, given.height)))
    size = math.sqrt(given.area / len(shapes))
    assert found.overlap < 1e-5 * size, f"{found.overlap} deep"
    assert found.border > -1e-5 * size, f"{found.border} out of the strip"
    return 100.0 * given.area / (given.height * length)


def main(seconds: float, names: Sequence[str]) -> None:
    """Prints a table; raises AssertionError where a density can't be true."""
    print(f"{'instance':10}{'parts':>6}{'record':>8}{'mean':>8}{'built in':>10}{'below mean':>12}{'s':>7}", end="")
    print(f"{f'{seconds:g} s':>10}{'below mean':>12}{'s':>7}" if seconds else "")
    for name in names or PUBLISHED:
        record, mean = PUBLISHED[name]
        given = instance(name)
        row = f"{name:10}{len(given.parts):6}{record:8.2f}{mean:8.2f}"
        results = [built_in(given), *([by_library(given, seconds)] if seconds else [])]
        for result in results:
            found = density(given, result.shapes)
            assert found <= record + ABOVE, f"{name}: {found:.3f} is more than the record"
            row += f"{found:10.2f}{mean - found:12.2f}{result.seconds:7.1f}"
        print(row, flush=True)
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.0, sys.argv[2:])
