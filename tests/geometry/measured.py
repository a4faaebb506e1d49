"""How far an offset's result lies from the truth, both ways, by code that the product doesn't share."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.region import Region
from tests.geometry.freeform import CHORD_MM, Truth

BOUND_MM = 0.005
SPACING_MM = 0.25
THIN_MM = 0.011
"""A part or hole of the truth that is nowhere deeper than this is a sliver, which `tidy.py` drops on purpose:
it drops what is less than SLIVER_MM = 0.01 wide in the mean, so at most 0.02 at its middle."""


def deviation_of(
    result: Region, shape: Region, true: Truth, source: shapely.Geometry, by: float
) -> tuple[float, tuple[float, float], str]:
    """The largest distance between result and truth, where, and which way it was measured."""
    near, reach, body, wanted = 0.9 * BOUND_MM, abs(by), shape.polygon, by < 0
    worst, at, which = near, (0.0, 0.0), "nothing looked at closely"
    if result:
        points = np.concatenate([spots(c) for c in result.contours])
        where = shapely.points(points)
        doubt = shapely.dwithin(source, where, reach - near) | ~shapely.dwithin(source, where, reach + near)
        doubt |= shapely.contains_xy(body, points[:, 0], points[:, 1]) != wanted
        if doubt.any():
            points = points[doubt]
            off = np.abs(distances(points, true.rings) - reach)
            off[shapely.contains_xy(body, points[:, 0], points[:, 1]) != wanted] = np.inf
            k = int(off.argmax())
            if off[k] > worst:
                worst, at, which = float(off[k]), (float(points[k, 0]), float(points[k, 1])), "result to truth"
    points = at_distance(true, by)
    deeper = at_distance(true, by + math.copysign(THIN_MM, by))
    kept = shapely.contains_xy(body, points[:, 0], points[:, 1]) == wanted
    kept[kept] = ~shapely.dwithin(source, shapely.points(points[kept]), reach - 1.2 * CHORD_MM)
    points, deeper = points[kept], deeper[kept]
    rings = [spots(c, 5e-5) for c in result.contours]
    if rings:
        line = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in rings])
        shapely.prepare(line)
        away = ~shapely.dwithin(line, shapely.points(points), worst)
        points, deeper = points[away], deeper[away]
    off = distances(points, rings) if rings else np.full(len(points), np.inf)
    gone = off > 2 * THIN_MM
    gone[gone] = shapely.dwithin(source, shapely.points(deeper[gone]), reach + THIN_MM - BOUND_MM / 5)
    for k in np.argsort(-off, kind="stable").tolist():
        if off[k] <= worst:
            break
        if not gone[k] and (off[k] <= BOUND_MM or exactly_kept(points[k], true, reach)):
            return float(off[k]), (float(points[k, 0]), float(points[k, 1])), "truth to result"
    if gone.any():
        which += ", slivers dropped"
    return worst, at, which


def distances(points: Floats, rings: Sequence[Floats]) -> Floats:
    """Distance (n,) of points (n, 2) from closed polylines, by GEOS."""
    lots = []
    for r in rings:
        line = np.vstack([r, r[:1]])
        k = np.arange(0, len(r), 8)[:, None] + np.arange(9)
        lots.append(line[np.minimum(k, len(r))])
    tree = shapely.STRtree(shapely.linestrings(np.concatenate(lots)))
    far: Floats = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)[1]
    return far


def at_distance(true: Truth, by: float) -> Floats:
    """Points ``by`` from the curves along their normals, and on circles round the corners."""
    lots = [true.points + by * true.normals]
    turn = np.linspace(0, 2 * math.pi, 8 + math.ceil(2 * math.pi * (abs(by) // 1 + 1) / 0.1))
    for c in true.corners:
        lots.append(c + abs(by) * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    return np.concatenate(lots)


def exactly_kept(point: Floats, true: Truth, reach: float) -> bool:
    """Is no part of the drawn curves nearer to the point than ``reach``, to a nanometre? A parabola through
    three neighbours of each nearest vertex tells (its error falls with the cube of their step)."""
    for ring in true.rings:
        d = np.hypot(*(ring - point).T)
        before, after = np.roll(d, 1), np.roll(d, -1)
        low = np.flatnonzero((d <= before) & (d <= after) & (d < reach + 0.01))
        for k in low.tolist():
            a, b, c = before[k] ** 2, d[k] ** 2, after[k] ** 2
            bend = a - 2 * b + c
            least = b - (a - c) ** 2 / (8 * bend) if bend > 0 else b
            if math.sqrt(max(least, 0.0)) < reach - 1e-8:
                return False
    return True


def spots(c: Contour, chord_mm: float = 1e-3) -> Floats:
    """Points (n, 2) along a closed contour, from the meaning of a bulge: tan of a quarter of the sweep."""
    out = []
    for p, q, b in zip(c.starts, c.ends, c.bulges.tolist(), strict=True):
        chord = math.dist(p, q)
        sweep = 4 * math.atan(b)
        n = 3 + math.ceil(chord * (1 + b * b) / SPACING_MM)
        if b:
            radius = chord / (2 * math.sin(abs(sweep) / 2))
            n += math.ceil(abs(sweep) * math.sqrt(radius / (8 * chord_mm)))
        t = np.arange(n) / n
        if abs(sweep) < 1e-9:
            out.append(p + t[:, None] * (q - p))
            continue
        # A chord's end seen from its start turns by half of what the arc sweeps.
        share, angle = np.sin(t * sweep / 2) / math.sin(sweep / 2), (t - 1) * sweep / 2
        x, y = (q - p) * 1.0
        turned = np.stack([x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)], axis=1)
        out.append(p + share[:, None] * turned)
    return np.concatenate(out)
