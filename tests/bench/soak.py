"""Offsets of generated free-form designs, fitted and measured against the mathematical curves.

    python -m tests.bench.soak [designs] [seed]

Each design is offset by six distances; each result is fitted within 0.005 mm and measured: is it sound,
does every point of it lie at the distance from the drawn curves, does every point at the distance lie on
it, has it the parts, holes and area that GEOS finds. The truth shares no code with the product: points of
the drawn curves by the textbook formula (`tests/geometry/freeform.py`).
"""

from __future__ import annotations

import math
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely

from pipeline.geometry.contour import FLATTEN_MM, Contour
from pipeline.geometry.fit import fitted
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from tests.geometry.freeform import Design, Truth, design, truth
from tests.geometry.greedy import arc_count
from tests.geometry.measured import BOUND_MM, SPACING_MM, deviation_of
from tests.geometry.outlines import breaks_deg

BY = (1.0, -1.0, 6.0, -6.0, -15.0, 20.0)
SMOOTH_DEG = 0.1
CORNER_MM = 1e-6
GEOS_STEP_MM = 2.0
"""GEOS simplifies what it buffers by a hundredth of the distance, so it is asked in steps."""
GEOS_MM = 0.05
"""How far its edge may stand off after all steps."""


@dataclass(slots=True)
class Tally:
    """What a soak found. ``faults`` are sentences; ``worst`` is (mm, where)."""

    designs: int = 0
    offsets: int = 0
    faults: list[tuple[str, str]] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)
    refusals: list[str] = field(default_factory=list)
    slivers: list[str] = field(default_factory=list)
    worst: tuple[float, str] = (0.0, "-")
    worst_break: tuple[float, str] = (0.0, "-")
    worst_corner: tuple[float, str] = (0.0, "-")
    ratios: dict[str, list[tuple[float, str]]] = field(default_factory=dict)
    seconds: float = 0.0
    working_s: float = 0.0
    """Of these, in ``offset`` and ``fitted``."""

    def count(self, kind: str) -> int:
        return sum(k == kind for k, _ in self.faults)


def soak(seeds: range, by: tuple[float, ...] = BY, *, greedy: bool = True) -> Tally:
    """Make, offset, fit and measure the designs of ``seeds``."""
    tally, start = Tally(), time.perf_counter()
    for seed in seeds:
        made = design(seed)
        shape, true = made.region(), truth(made, SPACING_MM)
        source = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in true.rings])
        shapely.prepare(source)
        tally.designs += 1
        for k, distance in enumerate(by):
            tally.offsets += 1
            one(tally, made, shape, true, source, distance, greedy=greedy and k == (seed // 10) % len(by))
    tally.seconds = time.perf_counter() - start
    return tally


def one(
    tally: Tally, made: Design, shape: Region, true: Truth, source: shapely.Geometry, by: float, *, greedy: bool
) -> None:
    """One offset of one design."""
    name = f"{made.kind} {made.seed} by {by:g}"
    clock = time.perf_counter()
    try:
        exact = offset(shape, by)
        result = fitted(exact, BOUND_MM)
    except ValueError as failed:
        tally.refused[type(failed).__name__] += 1
        tally.refusals.append(f"{name}: {failed}")
        return
    finally:
        tally.working_s += time.perf_counter() - clock
    for fault in unsound(result):
        tally.faults.append(("invalid", f"{name}: {fault}"))
    far, at, which = deviation_of(result, shape, true, source, by)
    place = f"{name}, {which} near ({at[0]:.4f}, {at[1]:.4f})"
    tally.worst = max(tally.worst, (far, place))
    if which.endswith("slivers dropped"):
        tally.slivers.append(f"slivers of {name} dropped")
    if far > BOUND_MM:
        tally.faults.append(("over", f"{place}: {far:.6f}"))
    for fault in lost(result, shape, by):
        tally.faults.append(("lost", f"{name}: {fault}"))
    smooth, moved = joints(exact, result)
    tally.worst_break = max(tally.worst_break, (smooth, name))
    tally.worst_corner = max(tally.worst_corner, (moved, name))
    if smooth > SMOOTH_DEG:
        tally.faults.append(("break", f"{name}: {smooth:.4f} degrees"))
    if moved > CORNER_MM:
        tally.faults.append(("corner", f"{name}: {moved:.7f} mm"))
    if greedy:
        for c, fit in zip(exact.contours, result.contours, strict=True):
            if c.free.all() and c.length > 100:
                tally.ratios.setdefault(made.kind, []).append((ratio(c, fit), name))


# -- is it sound --------------------------------------------------------------------------------------
def unsound(result: Region) -> list[str]:
    """What is wrong with a region in itself."""
    found = []
    polygons = [
        shapely.Polygon(p.outer.flatten(FLATTEN_MM)[0], [h.flatten(FLATTEN_MM)[0] for h in p.holes])
        for p in result.parts
    ]
    if not shapely.is_valid(shapely.MultiPolygon(polygons)):
        found.append(shapely.is_valid_reason(shapely.MultiPolygon(polygons)))
    for p in result.parts:
        if p.outer.area <= 0 or any(h.area >= 0 for h in p.holes):
            found.append("turns the wrong way")
        for c in (p.outer, *p.holes):
            if not c.closed:
                found.append("open")
            if abs(c.area) < 0.005 * c.length:
                found.append(f"sliver near {c.xy[0].tolist()}")
            if np.hypot(*(c.ends - c.starts).T).min() < 1e-5:
                found.append("a segment without length")
    edges: Counter[tuple[float, ...]] = Counter()
    for c in result.contours:
        d = c.ends - c.starts
        middle = (c.starts + c.ends) / 2 + np.stack([d[:, 1], -d[:, 0]], axis=1) * (c.bulges / 2)[:, None]
        rounded = (v.round(5).tolist() for v in (c.starts, middle, c.ends))
        for a, m, z in zip(*rounded, strict=True):
            edges[(*min(a, z), *m, *max(a, z))] += 1
    twice = [e for e, n in edges.items() if n > 1]
    return [*found, *(f"an edge twice near {e[2:4]}" for e in twice)]


# -- is it all there ------------------------------------------------------------------------------------
def lost(result: Region, shape: Region, by: float) -> list[str]:
    """Parts, holes and area against GEOS, taken a little more and a little less far where it doubts."""
    theirs = stepped(shape.polygon, by)
    found = []
    strip = GEOS_MM * (result.perimeter + theirs.length) / 2
    if abs(result.area - theirs.area) > strip:
        found.append(f"area {result.area:.3f}, GEOS {theirs.area:.3f} with a strip of {strip:.3f}")
    ours = census(result.polygon)
    if ours != census(theirs):
        # Just where something splits, merges or vanishes the two may see different moments of it.
        near = [census(stepped(shape.polygon, by + d)) for d in (-GEOS_MM, GEOS_MM)]
        spread = [*near, census(theirs)]
        for k, what in ((0, "parts"), (1, "holes")):
            if not min(s[k] for s in spread) <= ours[k] <= max(s[k] for s in spread):
                found.append(f"{ours[k]} {what}, GEOS {spread}")
    return found


def stepped(polygon: shapely.Geometry, by: float) -> shapely.Geometry:
    """GEOS's buffer in steps of at most GEOS_STEP_MM."""
    n = max(1, math.ceil(abs(by) / GEOS_STEP_MM))
    for _ in range(n):
        polygon = shapely.buffer(polygon, by / n, quad_segs=24)
    return polygon


def census(shape: shapely.Geometry) -> tuple[int, int]:
    """(parts, holes) of an area, without what is smaller than a hundredth of a square millimetre."""
    parts = [p for p in shapely.get_parts(shape) if p.area > 0.01]
    return len(parts), sum(shapely.Polygon(h).area > 0.01 for p in parts for h in p.interiors)


# -- is it smooth, and of few arcs ------------------------------------------------------------------------
def joints(exact: Region, result: Region) -> tuple[float, float]:
    """The largest break of tangents at no corner of the exact result (degrees), and the largest distance of
    such a corner from a vertex of the fit (mm)."""
    corners = np.concatenate([np.empty((0, 2)), *(c.xy[breaks_deg(c) > SMOOTH_DEG] for c in exact.contours)])
    smooth, moved = 0.0, 0.0
    vertices = np.concatenate([np.empty((0, 2)), *(c.xy for c in result.contours)])
    if len(corners):
        tree = shapely.STRtree(shapely.points(vertices))
        moved = float(tree.query_nearest(shapely.points(corners), return_distance=True)[1].max())
    for c in result.contours:
        for p, turn in zip(c.xy, breaks_deg(c).tolist(), strict=True):
            if turn > smooth and (not len(corners) or np.hypot(*(corners - p).T).min() > CORNER_MM):
                smooth = turn
    return smooth, moved


def ratio(exact: Contour, fit: Contour) -> float:
    """Segments of the fit for one of a greedy cover by arcs whose tangents needn't meet, corners kept."""
    ends = np.flatnonzero(breaks_deg(exact) > SMOOTH_DEG)
    start = exact.xy[ends[0]] if len(ends) else fit.xy[0]
    points = exact.flatten(5e-6)[0]
    points = np.roll(points, -int(np.argmin(np.hypot(*(points - start).T))), axis=0)
    points = np.vstack([points, points[:1]])
    cuts = [int(np.argmin(np.hypot(*(points[:-1] - exact.xy[k]).T))) for k in ends]
    cuts = [*sorted({0, *cuts}), len(points) - 1]
    return len(fit) / sum(arc_count(points[a : b + 1], BOUND_MM) for a, b in pairwise(cuts))


def report(tally: Tally) -> str:
    """The tally in lines of text."""
    lines = [
        f"{tally.designs} designs, {tally.offsets} offsets in {tally.seconds:.0f} s "
        f"({tally.working_s:.0f} s offsetting and fitting)",
        f"invalid {tally.count('invalid')}, over the bound {tally.count('over')}, lost {tally.count('lost')}, "
        f"breaks {tally.count('break')}, corners moved {tally.count('corner')}, "
        f"refused {dict(sorted(tally.refused.items()))}",
        f"worst deviation {tally.worst[0]:.6f} mm: {tally.worst[1]}",
        f"worst tangent break {tally.worst_break[0]:.4f} degrees: {tally.worst_break[1]}",
        f"farthest corner {tally.worst_corner[0]:.2e} mm: {tally.worst_corner[1]}",
    ]
    for kind, pairs in sorted(tally.ratios.items()):
        mean = sum(r for r, _ in pairs) / len(pairs)
        lines.append(f"entities / greedy, {kind}: mean {mean:.3f}, worst {max(pairs)[0]:.3f} ({max(pairs)[1]})")
    return "\n".join(
        [*lines, *tally.slivers, *tally.refusals, *(f"{kind}: {text}" for kind, text in tally.faults)]
    )


def main() -> None:
    """Run and print."""
    count, first = (
        (int(v) for v in [*sys.argv[1:], "1000", "0"][:2]) if len(sys.argv) != 2 else (int(sys.argv[1]), 0)
    )
    print(report(soak(range(first, first + count))))


if __name__ == "__main__":
    main()
