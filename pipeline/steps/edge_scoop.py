"""A hollow at the edge (the belly's): where it ends, how deep it is, holes that tell its depth (trade.md 4.3)."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import shapely

from pipeline.core.errors import refuse
from pipeline.core.fields import FaceName
from pipeline.geometry.alongside import Interval, located, mouths
from pipeline.geometry.boolean import intersection
from pipeline.geometry.contour import Contour, Floats, line_chain
from pipeline.geometry.parallel import stretch
from pipeline.geometry.region import Part, Region, region
from pipeline.geometry.rounding import fading, hollow, scoop_depth, scoop_run
from pipeline.geometry.shapes import circle, disc
from pipeline.steps.common import mm, one_of_words, place_in
from pipeline.steps.edge import Scoop, Treatment, path
from pipeline.steps.edge_ground import Ground, Stretch, Told, stretch_rows
from pipeline.steps.edge_slice import skins, sliced
from pipeline.steps.heights import floor_of
from pipeline.steps.values import Cut, Depth, EdgeRun, Op

SHALLOW_MM = 1.0
"""Holes less deep than this tell nothing (common practice, no source)."""
ENDS_MM = 5.0
"""A drawn boundary must end at the outline, within this."""
Deep = Callable[[Floats], Floats]


def make_scoop(g: Ground, face: FaceName, number: int, t: Treatment, found: tuple[Stretch, ...]) -> Told:
    """One hollow: the area it takes, the depth at every place of it, and the table of its depth holes.

    Without a drawn boundary it is a cylinder whose axis is parallel to the chord of the stretch, deepest at the
    stretch's outermost point: it ends on the face in a straight line √(2Rd − d²) inside that.
    """
    s, sc = found[0], t.scoop
    assert sc is not None
    if sc.boundary is None:
        area, lines, depth_at, interval, across, run = _cylinder(g, face, number, s, sc)
    else:
        area, lines, depth_at, interval, across, run = _drawn(g, face, number, s, sc)
    here = Stretch(rim=s.rim, asked=(interval,), skipped=(), runs=(interval,))
    table = _holes(area, across, sc, depth_at)
    drills = tuple(circle(x, y, sc.drill / 2) for x, y, _ in table)
    name = f"{g.step.name} depth holes"
    guides = tuple(
        floor_of(
            Cut(
                step=g.step.name,
                name=name,
                region=disc(x, y, sc.drill / 2),
                design=disc(x, y, sc.drill / 2),
                face=face,
                depth=Depth(rule="depth", mm=d),
                diameter_mm=sc.drill,
            ),
            g.total,
        )
        for x, y, d in (table if sc.holes else ())
    )
    found_skins = skins(g, face, number, "scoop.skin", "hollow", sc.skin, area, depth_at)
    row: dict[str, Any] = {
        "face": face,
        "kind": "scoop",
        "depth_mm": sc.depth,
        "radius_mm": sc.radius,
        "run_mm": run,
        **stretch_rows([here]),
        "area_mm2": area.area,
        "holes_places_mm": [[x, y, d, sc.drill] for x, y, d in table],
        "holes_short_mm": sc.short,
        "drilled_by_machine": sc.holes,
        "skins": [{"step": n, "skin_mm": v, "at_mm": list(at)} for n, v, at, _ in found_skins],
    }
    long = interval[1] - interval[0]
    by = "the machine drills" if sc.holes else "drill"
    message = (
        f"{g.step.name}: a hollow on the {face} edge, {mm(sc.depth)} deep at the edge, radius {mm(sc.radius)}, "
        f"along {long:.0f} mm; {by} {len(table)} holes of {mm(sc.drill)} with a stop by the table, "
        f"{mm(sc.short)} short of the surface, and carve until they just vanish."
    )
    return Told(
        face=face,
        treatment=t,
        stretches=(here,),
        runs=(
            EdgeRun(
                face=face,
                kind="scoop",
                size_mm=sc.depth,
                edge=s.rim.stretch(interval),
                lines=(*lines, *drills),
                from_mm=interval[0],
                to_mm=interval[1],
            ),
        ),
        row=row,
        ops=(Op(work="CARVE_LINE", face=face, contours=lines, step=g.step.name),) if lines else (),
        guides=guides,
        findings=tuple(f for *_, f in found_skins if f is not None),
        reports=(message,),
    )


Area = tuple[Region, tuple[Contour, ...], Deep, tuple[float, float], tuple[float, float], float]
"""(area, boundary lines, depth at points, interval of the edge, outward direction, widest run)."""


def _cylinder(g: Ground, face: FaceName, number: int, s: Stretch, sc: Scoop) -> Area:
    cut = sliced(g, face, number, s, scoop_run(sc.radius, sc.depth), "scoop.radius")

    def depth_at(points: Floats) -> Floats:
        away = (cut.top - cut.height) - cut.beyond(points)
        down: Floats = np.where(cut.beyond(points) > 0.0, scoop_depth(sc.radius, sc.depth, away), 0.0)
        return down

    ends = [s.rim.point(v) for v in cut.interval]
    line = line_chain(ends, closed=False)
    return cut.area, (line,), depth_at, cut.interval, cut.out, cut.top - cut.height


# -- a drawn boundary --------------------------------------------------------------------------------
def _drawn(g: Ground, face: FaceName, number: int, s: Stretch, sc: Scoop) -> Area:
    """Over the area between a drawn line and the edge: across, an arc of the radius from the line to the edge."""
    where = place_in(g.step, path(face, number, "scoop.boundary"))
    thing = g.world.drawing.objects.get(sc.boundary or "")
    if thing is None or not (thing.region or len(thing.lines) == 1):
        raise refuse(
            f"The hollow on the {face} edge of {g.step.name} needs one drawn line or shape as its boundary.",
            place=where,
            expected=one_of_words(g.world.drawing.objects, sc.boundary or ""),
        )
    if thing.region:
        shape, rims = thing.region, mouths(s.rim, thing.region)
    else:  # its area lies along the edge, between the line's two ends
        shape, rims = _closed_by_edge(g, s, thing.lines[0], where)
    area = intersection(shape, g.solid)
    if not area or not rims:
        raise refuse(
            f"The boundary of the hollow on the {face} edge of {g.step.name} encloses nothing at its outline.",
            place=where,
            expected="a line whose two ends lie on the outline, or a shape that reaches over it",
        )
    interval = max(rims, key=lambda i: i[1] - i[0])
    a, b = (np.array(s.rim.point(v)) for v in interval)
    ux, uy = (b - a) / np.hypot(*(b - a))
    out = np.array([uy, -ux])
    polygon = area.polygon
    far = 2 * float(np.ptp(np.array(area.bounds)[[0, 2]]) + np.ptp(np.array(area.bounds)[[1, 3]])) + 10.0

    def one(p: Floats) -> float:
        """Depth at one point: across it, from where the boundary is to where the edge is."""
        ray = shapely.LineString([p - far * out, p + far * out])
        parts = shapely.get_parts(shapely.intersection(ray, polygon.buffer(1e-6)))
        piece = min(parts, key=lambda v: float(shapely.distance(v, shapely.Point(*p.tolist()))), default=None)
        if piece is None or shapely.length(piece) < 1e-4:
            return 0.0
        along = np.sort(shapely.get_coordinates(piece) @ out)
        x, run = float(p @ out - along[0]), float(along[-1] - along[0])
        edge = p + (along[-1] - p @ out) * out
        at = s.rim.locate(float(edge[0]), float(edge[1]))[0]
        share = fading(np.array([(at - interval[0]) % s.rim.length]), interval[1] - interval[0], sc.fade)
        deep = sc.depth * float(share[0])
        if deep < 1e-9 and run < 1e-3:
            return 0.0
        return max(0.0, float(hollow(sc.radius, run, deep, np.array([min(max(x, 0.0), run)]))[0]))

    def depth_at(points: Floats) -> Floats:
        return np.array([one(p) for p in points])

    try:
        depth_at(np.array([area.centroid]))
    except ValueError as error:
        raise refuse(
            f"The hollow on the {face} edge of {g.step.name} is wider than its radius allows: {error}.",
            place=place_in(g.step, path(face, number, "scoop.radius")),
            expected="a larger radius",
        ) from error
    width = max(float(np.ptp(shapely.get_coordinates(polygon) @ out)), 0.0)
    lines = thing.lines if thing.lines else tuple(p.outer for p in thing.region.parts) if thing.region else ()
    return area, lines, depth_at, interval, (float(out[0]), float(out[1])), width


def _closed_by_edge(g: Ground, s: Stretch, line: Contour, where: Any) -> tuple[Region, tuple[Interval, ...]]:
    """The area between an open line and the edge, the shorter way round, and the interval of the edge there."""
    rim = s.rim
    ends = [line.xy[0], line.xy[-1]]
    spots = [located(rim.contour, rim.walk, float(x), float(y)) for x, y in ends]
    if max(mm_ for _, mm_ in spots) > ENDS_MM:
        raise refuse(
            f"The boundary of a hollow of {g.step.name} ends {mm(max(v for _, v in spots))} mm from the outline.",
            place=where,
            expected=f"a line whose two ends lie on the outline, within {mm(ENDS_MM)} mm",
        )
    first, last = spots[0][0], spots[1][0]
    ahead = (first - last) % rim.length
    way = line if ahead <= rim.length / 2 else line.reversed()
    a, b = (last, ahead) if ahead <= rim.length / 2 else (first, rim.length - ahead)
    back = stretch(rim.contour, a % rim.length, a % rim.length + b)
    xy = np.concatenate([way.xy, back.xy])
    bulge = np.concatenate([way.bulge[:-1], [0.0], back.bulge[:-1], [0.0]])
    free = np.concatenate([way.free, back.free])
    keep = np.hypot(*(np.roll(xy, -1, axis=0) - xy).T) > 1e-6
    begins = (a - rim.zero) % rim.length
    return region([Part(Contour(xy[keep], bulge[keep], free[keep], True))]), ((begins, begins + b),)


# -- the table -----------------------------------------------------------------------------------------
def _holes(
    area: Region, out: tuple[float, float], sc: Scoop, depth_at: Deep
) -> tuple[tuple[float, float, float], ...]:
    """(x, y, depth) of the depth holes: a grid along and across, inside by a drill's diameter, depths in tenths
    and never deeper than ``short`` above the surface; row by row from the edge inward."""
    n, u = np.array(out), np.array([-out[1], out[0]])
    corners = shapely.get_coordinates(area.polygon)
    t, h = corners @ u, corners @ n
    room = shapely.buffer(area.polygon, -sc.drill)
    columns = _even_steps(float(t.min()), float(t.max()), sc.spacing)
    rows = np.arange(float(h.max()) - 2 * sc.drill, float(h.min()), -sc.spacing)
    found: list[tuple[float, float, float]] = []
    for level in rows.tolist():
        points = np.round(np.array([u * c + n * level for c in columns]), 2) + 0.0
        inside = [p for p in points if shapely.contains_xy(room, p[0], p[1])]
        if not inside:
            continue
        for p, deep in zip(inside, depth_at(np.array(inside)), strict=True):
            depth = math.floor((float(deep) - sc.short) * 10 + 1e-9) / 10
            if depth >= SHALLOW_MM:
                found.append((float(p[0]), float(p[1]), depth))
    return tuple(found)


def _even_steps(low: float, high: float, most: float) -> list[float]:
    """Places between two ends, half a step from each, evenly and at most ``most`` apart."""
    n = max(1, math.ceil((high - low) / most))
    step = (high - low) / n
    return [low + (k + 0.5) * step for k in range(n)]
