"""A rounding by a bit with a bearing, or by hand: its line, what the bearing meets, and what is taken off.

trade.md 4.1 (common practice where no derivation is given): the lamination's outline stays full, the bearing needs
a straight wall as high as itself, bridges concave curves tighter than itself, and falls into mouths of cavities.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.geometry.alongside import Interval, Rim, common, inner_lines, mouths, widened
from pipeline.geometry.boolean import difference
from pipeline.geometry.morph import closing
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.geometry.rounding import curvature, dip, inset, inset_integral, square_integral
from pipeline.geometry.segments import segments_of
from pipeline.geometry.wobble import breaks
from pipeline.steps.edge import Treatment
from pipeline.steps.edge_ground import Ground, Stretch, Told, interval_row, stretch_rows
from pipeline.steps.edge_round_told import bridged_told, mouth_told, ridge_told, sentence_told
from pipeline.steps.values import EdgeRun, Op

CORNER_RAD = math.radians(1.0)
"""A turn of the edge of at least this is a corner."""
RESIDUE_MM = 0.05
"""What a bearing leaves in a curve is worth a word from here."""


def make_round(g: Ground, face: FaceName, number: int, t: Treatment, found: tuple[Stretch, ...]) -> Told:
    """The runs of one rounding with the lines where they begin on the face, and all that stands in their way."""
    radius = t.round
    assert radius is not None
    inside = offset(g.solid, -radius)
    runs = tuple(
        EdgeRun(
            face=face,
            kind="round",
            size_mm=radius,
            edge=s.rim.stretch(i),
            lines=inner_lines(s.rim, _beside(inside, s.rim), radius, i),
            from_mm=i[0],
            to_mm=i[1],
            by=t.by,
        )
        for s in found
        for i in s.runs
    )
    ridges = [(rho, s.rim, at) for s in found for rho, at in _tight(s, radius, convex=True)]
    findings: list[Finding] = []
    row: dict[str, Any] = {
        "face": face,
        "kind": "round",
        "radius_mm": radius,
        "by": t.by,
        **stretch_rows(found),
        "section_mm": [[u, inset(radius, u)] for u in (*np.arange(0.0, radius, 1.0).tolist(), radius)],
        "ridges_at_mm": [list(rim.point(at)) for _, rim, at in ridges],
    }
    if ridges:
        findings.append(ridge_told(g, face, number, radius, ridges))
    if t.by_bit:
        row |= {"bearing_mm": t.bearing, "bearing_height_mm": t.bearing_height}
        rests = _rests(g, found, t.bearing / 2)
        row["bridged"] = [{"at_mm": list(at), "depth_mm": depth} for depth, at in rests]
        if rests:
            rho = min(r for s in found for r, _ in _tight(s, t.bearing / 2, convex=False))
            findings.append(bridged_told(g, face, number, t, rho, rests))
        fallen = _fallen(g, face, t, found)
        row["mouths"] = [
            {"step": name, "mouth_mm": list(m), "dip_mm": sink, **interval_row(rim, i)}
            for name, rim, m, i, sink in fallen
        ]
        findings += [mouth_told(g, face, number, t, *f) for f in fallen]
    row |= _removed(g, face, radius, found, inside)
    ops = tuple(Op(work="REFERENCE", face=face, contours=r.lines, step=g.step.name) for r in runs if r.lines)
    return Told(
        face=face,
        treatment=t,
        stretches=found,
        runs=runs,
        row=row,
        ops=ops,
        findings=tuple(findings),
        reports=(sentence_told(g, face, radius, t, found),),
    )


def _beside(inside: Region, rim: Rim) -> Region:
    """The parts of the parallel that lie within one outer edge."""
    area = shapely.Polygon(rim.contour.flatten()[0])
    return Region(tuple(p for p in inside.parts if shapely.intersects(area, p.polygon)))


# -- curves ------------------------------------------------------------------------------------------
def _tight(s: Stretch, radius: float, *, convex: bool) -> list[tuple[float, float]]:
    """(radius, arc length) of each convex or concave place of the runs that is tighter than ``radius``: corners
    count as 0, arcs that follow one another as one place, at the tightest."""
    rim, sign = s.rim, 1.0 if convex else -1.0
    c = rim.contour
    segs = segments_of([c])
    stops = rim.walk.stops
    spots = [
        (float(segs.radius[k]), float(stops[k]), float(stops[k + 1]))
        for k in np.flatnonzero((segs.bulge * sign > 0) & (segs.radius < radius - 1e-9)).tolist()
    ]
    spots += [
        (0.0, float(stops[k]), float(stops[k])) for k in np.flatnonzero(breaks(c) * sign > CORNER_RAD).tolist()
    ]
    groups: list[list[tuple[float, float, float]]] = []
    for spot in sorted(spots, key=lambda v: (v[1], v[2])):
        if groups and spot[1] <= groups[-1][-1][2] + 1e-6:
            groups[-1].append(spot)
        else:
            groups.append([spot])
    if len(groups) > 1 and groups[0][0][1] < 1e-6 and groups[-1][-1][2] > rim.length - 1e-6:
        groups[0] = groups.pop() + groups[0]
    found = []
    for group in groups:
        rho, a, b = min(group)
        at = ((a + b) / 2 - rim.zero) % rim.length
        if _within(at, s.runs, rim.length):
            found.append((rho, at))
    return found


def _within(at: float, runs: tuple[Interval, ...], length: float) -> bool:
    return any(a <= at <= b or a <= at + length <= b for a, b in runs)


def _rests(g: Ground, found: tuple[Stretch, ...], bearing: float) -> list[tuple[float, tuple[float, float]]]:
    """(depth, place) of what a bearing of that radius can't reach on the runs, deepest first: the outline closed
    by a disc, less the outline."""
    if not any(_tight(s, bearing, convex=False) for s in found):
        return []
    reached = closing(g.solid, bearing)
    edge = shapely.boundary(reached.polygon)
    rests = []
    for part in difference(reached, g.solid).parts:
        corners = shapely.get_coordinates(part.polygon)
        away = shapely.distance(edge, shapely.points(corners))
        k = int(np.argmax(away))
        x, y = corners[k].tolist()
        s = min(found, key=lambda s: s.rim.locate(x, y)[1])
        if away[k] > RESIDUE_MM and _within(s.rim.locate(x, y)[0], s.runs, s.rim.length):
            rests.append((float(away[k]), (float(x), float(y))))
    return sorted(rests, key=lambda r: (-r[0], r[1]))


Fallen = tuple[str, Rim, Interval, Interval, float]


def _fallen(g: Ground, face: FaceName, t: Treatment, found: tuple[Stretch, ...]) -> list[Fallen]:
    """(step, edge, mouth, interval with the bearing's radius, how far it sinks) of every mouth the bearing meets.

    A cut counts where it is open at the height at which the bearing runs: from r to r + its height below the face.
    """
    radius, reach = t.reach, t.bearing / 2
    low, high = radius, radius + t.bearing_height
    if face == "front":
        low, high = g.total - high, g.total - low
    result: list[Fallen] = []
    for k in g.taken:
        if k.z1 <= low + 1e-9 or k.z0 >= high - 1e-9 or k.cut.step in t.skip:
            continue
        for s in found:
            for m in mouths(s.rim, k.cut.region):
                wide = widened([m], reach, s.rim.length)
                if common(wide, s.runs, s.rim.length):
                    a, b = (np.array(s.rim.point(v)) for v in m)
                    gap = float(np.hypot(*(b - a)))
                    known = [f for f in result if f[0] == k.cut.step and abs(f[2][0] - m[0]) < 0.01]
                    if not known:
                        result.append((k.cut.step, s.rim, m, wide[0], dip(reach, gap)))
    return result


# -- what is taken off ---------------------------------------------------------------------------------
def _removed(
    g: Ground, face: FaceName, radius: float, found: tuple[Stretch, ...], inside: Region
) -> dict[str, Any]:
    """Volume and mass that the rounding takes off: ∫ (L·n − K·n²) dz over its section n(z), Pappus with Steiner's
    correction. Exact where the edge runs round without a ridge (``removed_exact``)."""
    length = sum(i[1] - i[0] for s in found for i in s.runs)
    bend = sum(curvature(s.rim.stretch(i)) for s in found for i in s.runs)
    volume = length * inset_integral(radius, radius) - bend * square_integral(radius, radius)
    whole_l = sum(r.length for r in g.rims)
    whole_k = sum(curvature(r.contour) for r in g.rims)
    steiner = g.solid.area - whole_l * radius + whole_k * radius * radius
    exact = bool(inside) and abs(inside.area - steiner) <= 1e-6 * g.solid.area
    mass = 0.0
    for span, density in g.layers:
        low, high = span.z0 - (g.total - radius), span.z1 - (g.total - radius)
        if face == "back":
            low, high = radius - span.z1, radius - span.z0
        low, high = max(low, 0.0), min(high, radius)
        if high > low:
            first = inset_integral(radius, high) - inset_integral(radius, low)
            second = square_integral(radius, high) - square_integral(radius, low)
            mass += density * 1e-6 * (length * first - bend * second)
    return {
        "removed_mm3": volume,
        "removed_g": mass if g.layers else None,
        "removed_exact": exact,
    }
