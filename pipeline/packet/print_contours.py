"""Laminations over each other like a map: where glue lines come to the surface of a carved or edged blank.

A carved or bevelled edge shows the glue lines as contours of equal height; the plan of one at z is the section of
the finished shape there (trade.md 6.6). Hollows and bevels that begin slowly are drawn without theirs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
import shapely

from pipeline.geometry.alongside import Rim
from pipeline.geometry.contour import Contour, Floats, line_chain
from pipeline.packet.print_scene import Scene, Stroke, scene_of
from pipeline.steps.values import Blank, Derived, EdgeRun, Result

STEP_MM = 0.25
"""From point to point of a contour: 2e-4 mm off its curve at a radius of 40."""
OFF_MM = 0.01


def contour_scenes(derived: Derived) -> Iterator[Scene]:
    """One scene for every blank of a stack or carved shape, seen from the front."""
    for step in derived.order:
        result = derived.results[step.name]
        for blank in result.blanks:
            strokes = list(_laminations(derived, blank))
            if step.kind == "carved":
                lines = [o for p in result.pieces for s in p.set_ups for o in s.ops if o.work == "CARVE_LINE"]
                strokes += [
                    Stroke(style="carve", contour=c, label="carve line")
                    for o in lines
                    for c in o.contours
                    if not any(_same(c, s.contour) for s in strokes)
                ]
            else:
                strokes += _on_edges(blank, result)
            glue = step.kind == "carved" or any(s.style != "edge" for s in strokes)
            yield scene_of(
                derived,
                blank.name,
                tuple(strokes),
                what=f"{blank.name}, " + ("glue lines as a map" if glue else "no glue line comes to the surface"),
                legend="lamination: full line; glue line on the front, or carve line: dashed; on the back: chain "
                "line. Heights from the back face.",
            )


def _laminations(derived: Derived, blank: Blank) -> Iterator[Stroke]:
    """The outline of each lamination before allowance, equal ones once, with their numbers and heights."""
    pieces = {p.name: p for p in derived.pieces}
    found: list[tuple[Contour, list[int]]] = []
    regions = derived.results[blank.step].regions
    for i, lam in enumerate(blank.laminations):
        region = regions[i] if len(regions) == len(blank.laminations) else None
        outers = region.parts if region else (blank.region.parts if lam.piece in pieces else ())
        for part in outers:
            known = next((n for c, n in found if _same(c, part.outer)), None)
            if known is None:
                found.append((part.outer, [i]))
            else:
                known.append(i)
    for contour, numbers in found:
        first, last = blank.laminations[numbers[0]], blank.laminations[numbers[-1]]
        which = f"{first.number}" if first is last else f"{first.number} to {last.number}"
        yield Stroke(style="edge", contour=contour, label=f"{which}: z {first.z0:.2f} to {last.z1:.2f}")


def _same(a: Contour, b: Contour) -> bool:
    return bool(np.abs(np.subtract(a.bounds, b.bounds)).max() < OFF_MM) and abs(abs(a.area) - abs(b.area)) < 1.0


# -- edges of a stack -----------------------------------------------------------------------------
def _on_edges(blank: Blank, result: Result) -> Iterator[Stroke]:
    """Every glue line where a rounding or bevel lays it open."""
    rows: list[Mapping[str, Any]] = list(result.numbers.get("edge", ()))
    for below in blank.laminations[:-1]:
        z = below.z1
        for run in blank.edges:
            depth = blank.thickness_mm - z if run.face == "front" else z
            if not 0.0 < depth < run.size_mm - 1e-9:
                continue
            row = next((r for r in rows if r["face"] == run.face and r["kind"] == run.kind and _of(r, run)), None)
            style = "carve" if run.face == "front" else "back"
            for c in _opened(blank, run, row, depth):
                yield Stroke(
                    style="carve" if style == "carve" else "back", contour=c, label=f"glue line z {z:.2f}"
                )


def _of(row: Mapping[str, Any], run: EdgeRun) -> bool:
    """True when a row of numbers speaks of a run."""
    return any(
        abs(float(r["from_mm"]) - run.from_mm) < OFF_MM and abs(float(r["to_mm"]) - run.to_mm) < OFF_MM
        for r in row.get("runs", ())
    )


def _opened(blank: Blank, run: EdgeRun, row: Mapping[str, Any] | None, depth: float) -> Iterable[Contour]:
    """The contours at a depth below the face along one run; none for a shape that isn't known here."""
    if run.kind == "round":
        r = run.size_mm
        return _alongside(blank, run, r - math.sqrt(r * r - (r - depth) ** 2))
    if run.kind == "bevel" and row is not None and row.get("shape") == "even" and not row.get("fade_mm"):
        return _alongside(blank, run, float(row["run_mm"]) * (1 - depth / run.size_mm))
    if run.kind == "bevel" and row is not None and row.get("shape") == "plane" and run.lines:
        return _level(blank, run, depth)
    return ()


def _alongside(blank: Blank, run: EdgeRun, inset: float) -> Iterator[Contour]:
    """The points ``inset`` inside a run of the edge, those left out that lie nearer to another part of it."""
    rims = [Rim.of(p.outer) for p in blank.region.parts]
    x, y = run.edge.xy[0].tolist()
    rim = min(rims, key=lambda r: r.locate(x, y)[1])
    n = max(8, math.ceil((run.to_mm - run.from_mm) / STEP_MM))
    points, ways = rim.at(np.linspace(run.from_mm, run.to_mm, n + 1))
    inner = points + inset * np.stack([-ways[:, 1], ways[:, 0]], axis=1)
    away = shapely.distance(blank.region.polygon.boundary, shapely.points(inner))
    keep = away >= inset - OFF_MM
    if keep.all() and run.to_mm - run.from_mm > rim.length - OFF_MM:
        yield line_chain(_apart(inner[:-1]))
        return
    edges = np.flatnonzero(np.diff(np.concatenate([[False], keep, [False]]).astype(int)))
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if b - a >= 2:
            yield line_chain(_apart(inner[a:b]), closed=False)


def _apart(points: Floats) -> Floats:
    """Points without those that repeat their forerunner, as they do in corners."""
    step = np.hypot(*np.diff(points, axis=0).T)
    found: Floats = points[np.concatenate([[True], step > 1e-6])]
    return found


def _level(blank: Blank, run: EdgeRun, depth: float) -> Iterator[Contour]:
    """The level line of a plane bevel: parallel to its inner line, as far out as the depth asks."""
    p, q = run.lines[0].xy[0], run.lines[0].xy[-1]
    way = (q - p) / np.hypot(*(q - p))
    out = np.array([-way[1], way[0]])
    edge, _ = run.edge.flatten(0.05)
    far = (edge - p) @ out
    if abs(float(far.min())) > float(far.max()):
        out, far = -out, -far
    at = p + out * (float(far.max()) * depth / run.size_mm)
    line = shapely.LineString([at - way * 1e4, at + way * 1e4])
    near = run.edge.flatten(0.05)[0]
    hull = shapely.MultiPoint([*near.tolist(), p.tolist(), q.tolist()]).convex_hull.buffer(0.1)
    inside = shapely.intersection(shapely.intersection(line, blank.region.polygon), hull)
    for piece in shapely.get_parts(inside):
        if piece.geom_type == "LineString" and piece.length > 0.5:
            yield line_chain(np.array(piece.coords), closed=False)
