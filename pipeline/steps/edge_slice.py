"""What a straight line cuts off an outline, and the wood that is left over cavities where a face is lowered."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.core.errors import refuse
from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding, Severity
from pipeline.geometry.alongside import Interval, Rim, mouths
from pipeline.geometry.boolean import intersection
from pipeline.geometry.contour import Floats, line_chain
from pipeline.geometry.region import EMPTY, Region, solid
from pipeline.geometry.transform import turn
from pipeline.steps.common import mm, place_in
from pipeline.steps.edge import Bevel, path
from pipeline.steps.edge_ground import Ground, Stretch, finding, skin_left
from pipeline.steps.measures import point_of

BREAKS_MM = 1.5
"""A skin of less than this is a `stop` (trade.md 8, as for floors)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slice:
    """Where a straight line cuts off a part of the solid. ``out`` is the unit vector away from the wood; along it
    the line lies at ``height`` and the edge's outermost point at ``top``. ``interval`` of the edge lies beyond the
    line, ``area`` is what it cuts off."""

    out: tuple[float, float]
    height: float
    top: float
    interval: Interval
    area: Region

    def beyond(self, points: Floats) -> Floats:
        """How far points lie beyond the line, mm."""
        far: Floats = points @ np.array(self.out) - self.height
        return far


def sliced(g: Ground, face: FaceName, number: int, s: Stretch, run: float, field: str = "bevel.run") -> Slice:
    """What a line parallel to a stretch's chord cuts off, ``run`` inward from the outermost point of the stretch.

    Raises Refused where the stretch doesn't bulge.
    """
    rim, interval = s.rim, s.asked[0]
    a, b = (np.array(rim.point(v)) for v in interval)
    chord = b - a
    if float(np.hypot(*chord)) < 1.0:
        raise refuse(
            f"The stretch of the {face} edge of {g.step.name} ends where it begins, so it has no direction.",
            place=place_in(g.step, path(face, number)),
            expected="a stretch between two places that lie apart",
        )
    ux, uy = chord / np.hypot(*chord)
    out = (float(uy), float(-ux))
    degrees = math.degrees(math.atan2(out[1], out[0]))
    top = turn(-degrees).contour(rim.stretch(interval)).bounds[2]
    found = _cut_off(g, rim, out, top - run, top)
    if found is None:
        raise refuse(
            f"The line {mm(run)} mm inside the {face} edge of {g.step.name} doesn't cut its outline.",
            place=place_in(g.step, path(face, number, field)),
            expected=f"less than the width of the outline there, {mm(_width(g.solid, out))}",
        )
    return found


def _width(region: Region, out: tuple[float, float]) -> float:
    degrees = math.degrees(math.atan2(out[1], out[0]))
    x0, _, x1, _ = turn(-degrees).region(region).bounds
    return x1 - x0


def half_plane(region: Region, out: tuple[float, float], height: float) -> Region:
    """The half plane p·out ≥ height, as far as the region reaches."""
    x0, y0, x1, y1 = region.bounds
    far = 2 * (abs(x0) + abs(x1) + abs(y0) + abs(y1)) + 10.0
    n, u = np.array(out), np.array([-out[1], out[0]])
    return solid(
        line_chain([n * height - u * far, n * far - u * far, n * far + u * far, n * height + u * far][::-1])
    )


def _cut_off(g: Ground, rim: Rim, out: tuple[float, float], height: float, top: float) -> Slice | None:
    """The part beyond a line that holds the edge's outermost point at ``top``; None where nothing is cut off."""
    half = half_plane(g.solid, out, height)
    inside = [i for i in mouths(rim, half) if i[1] - i[0] < rim.length - 1e-3]
    if not inside:
        return None

    def near_top(i: Interval) -> float:
        points = rim.at(np.linspace(i[0], i[1], 200))[0]
        return abs(float((points @ np.array(out)).max()) - top)

    interval = min(inside, key=near_top)
    middle = rim.at(np.array([(interval[0] + interval[1]) / 2]))[0][0]
    parts = intersection(g.solid, half).parts
    area = min(parts, key=lambda p: _off(Region((p,)), middle)) if parts else None
    return Slice(out=out, height=height, top=top, interval=interval, area=Region((area,)) if area else EMPTY)


def _off(region: Region, point: Floats) -> float:
    return float(shapely.distance(region.polygon, shapely.Point(*point.tolist())))


def by_line(g: Ground, face: FaceName, number: int, b: Bevel) -> Slice:
    """What the stated inner line cuts off: the smaller of both sides."""
    assert b.line is not None
    p, q = (
        np.array(point_of(g.world, g.step, path(face, number, f"bevel.line.{i}"), v)) for i, v in enumerate(b.line)
    )
    way = q - p
    size = float(np.hypot(*way))
    found: list[Slice] = []
    for sign in (1.0, -1.0) if size > 1e-6 else ():
        out = (float(way[1] / size * sign), float(-way[0] / size * sign))
        degrees = math.degrees(math.atan2(out[1], out[0]))
        top = turn(-degrees).region(g.solid).bounds[2]
        for rim in g.rims:
            cut = _cut_off(g, rim, out, float(p @ np.array(out)), top)
            if cut is not None and cut.area:
                found.append(cut)
    if not found:
        raise refuse(
            f"The inner line of the {face} bevel of {g.step.name} doesn't cross its outline.",
            place=place_in(g.step, path(face, number, "bevel.line")),
            expected="two different places whose line crosses the outline",
        )
    return min(found, key=lambda c: c.area.area)


def rim_of(g: Ground, cut: Slice) -> Rim:
    x, y = cut.area.parts[0].outer.xy[0].tolist()
    return min(g.rims, key=lambda r: r.locate(float(x), float(y))[1])


def cut_height(area: Region, out: tuple[float, float]) -> float:
    """Height of an area's centroid along a direction."""
    x, y = area.centroid
    return x * out[0] + y * out[1]


def skins(
    g: Ground,
    face: FaceName,
    number: int,
    field: str,
    what: str,
    least: float,
    area: Region,
    lowered: Callable[[Floats], Floats],
) -> list[tuple[str, float, tuple[float, float], Finding | None]]:
    """(step, skin, place, finding) for each cut that lies beneath a lowered area of the face."""
    result: list[tuple[str, float, tuple[float, float], Finding | None]] = []
    for k in g.taken:
        here = intersection(k.cut.region, area) if area else EMPTY
        if not here:
            continue
        points = np.vstack([c.flatten(0.02)[0] for c in here.contours])
        down = lowered(points)
        skin = skin_left(k, face, g.total, down)
        if skin is None or float(down.max()) < 1e-9:
            continue
        x, y = points[int(np.argmax(down))].tolist()
        told = None
        if skin < least - 1e-9:
            severity: Severity = "stop" if skin < BREAKS_MM else "ask"
            message = (
                f"The {what} on the {face} edge cuts {mm(-skin)} mm into {k.cut.name}."
                if skin <= 0
                else f"The {what} on the {face} edge leaves {mm(skin)} mm over {k.cut.name}."
            )
            told = finding(
                g, face, number, field,
                check="edge-skin",
                severity=severity,
                message=message,
                at=(float(x), float(y)),
                measured=skin,
                limit=least,
                remedy=f"lower the drop there by {mm(least - skin)} mm, move {k.cut.step}, or make it shallower",
            )  # fmt: skip
        result.append((k.cut.step, skin, (float(x), float(y)), told))
    return result
