"""The place of a finding in plan, zoomed, as its face looks when it lies up."""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding, Shown
from pipeline.packet.finding_marks import (
    PX,
    Frame,
    Seen,
    dimension,
    lines,
    num,
    number_words,
    scale_bar,
    svg,
    text,
)
from pipeline.packet.finding_sections import Point, Section, Wood
from pipeline.steps.values import Derived

WIDE = (14.0, 160.0)
"""Least and greatest width of a window, mm."""


def plan(
    f: Finding, shown: Shown, wood: Wood | None, seen: Seen, derived: Derived, cut: Section | None, key: str
) -> str:
    assert f.at_mm is not None
    ends = _ends(f, shown, wood) if cut is None else None
    focus = ((ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2) if ends else f.at_mm
    frame = Frame(focus, PX[0] / _width(f, shown, wood, ends, cut), seen.x, seen.y)
    body = _shapes(f, wood, derived, frame)
    body += [frame.path(shapely.Polygon(loop), "left") for loop in shown.left_mm if len(loop) > 2]
    if shown.cutter_mm is not None:
        body.append(_cutter(frame, shown.cutter_at_mm or f.at_mm, shown.cutter_mm))
    said = number_words(f)
    if ends is not None:
        limit = f.limit if f.unit == "mm" else None
        body.append(dimension(frame.at(ends[0]), frame.at(ends[1]), said, limit, frame.k))
    elif shown.cutter_mm is None:
        x, y = frame.at(f.at_mm)
        body.append(
            f'<path class="spot" d="M{num(x - 10)} {num(y)}h20M{num(x)} {num(y - 10)}v20"/>'
            f'<circle class="spot" cx="{num(x)}" cy="{num(y)}" r="5.5"/>'
        )
        if cut is None and said:
            body.append(lines(x + 12, y - 12, said))
    if cut is not None:
        body.append(_cut_line(frame, cut))
    body.append(scale_bar(frame.k))
    whole = wood.edge if wood is not None else _outline(derived, f.at_mm)
    if whole is not None:
        x, y = frame.at(shown.cutter_at_mm or f.at_mm)
        # Not over the cutter, nor over the end of a section that runs up to the right.
        rising = cut is not None and frame.x * cut.way[0] * frame.y * cut.way[1] > 0.1
        low = rising or (x > PX[0] / 2 and y < PX[1] / 2 - 2)
        body.append(_key(whole, focus, frame, seen, low=low))
    face = f"{f.face or 'front'} face" if f.face != "back" else "back face, turned over"
    body.append(text(6, 16, face))
    title = f"{wood.name if wood else f.step or derived.recipe.design}: {f.message}"
    at = f"The place is x {f.at_mm[0]:.1f}, y {f.at_mm[1]:.1f} mm, on the {face}. "
    return svg(key, title, at + f"{PX[0] / frame.k:.0f} mm wide. " + ". ".join(said), body)


def _width(f: Finding, shown: Shown, wood: Wood | None, ends: object, cut: Section | None) -> float:
    """Width of the window in mm: a few times what it must show."""
    wanted = [WIDE[0]]
    if isinstance(ends, tuple):
        wanted.append(3.2 * math.dist(*ends))
    if f.unit == "mm" and f.measured is not None and cut is None and (ends or shown.left_mm):
        wanted.append(3.2 * max(abs(f.measured), min(f.limit or 0.0, 4 * abs(f.measured) + 10)))
    if shown.cutter_mm is not None:
        wanted.append(3.2 * shown.cutter_mm)
    for loop in shown.left_mm:
        x0, y0, x1, y1 = shapely.LineString(loop).bounds
        wanted.append(3 * max(x1 - x0, y1 - y0))
    if len(wanted) == 1 or cut is not None:  # nothing tells the size: the cut that it stands in does
        wanted.append(_room(f, wood))
    return min(max(wanted), WIDE[1] if not isinstance(ends, tuple) else 1e4)


def _room(f: Finding, wood: Wood | None) -> float:
    assert f.at_mm is not None
    if wood is None:
        return 80.0
    here = [
        t.shape for t in wood.taken if t.step == f.step and shapely.dwithin(t.shape, shapely.Point(f.at_mm), 2.0)
    ]
    boxes = [s.bounds for s in here] or [wood.edge.bounds]
    x0, y0, x1, y1 = min(boxes, key=lambda b: (b[2] - b[0]) * (b[3] - b[1]))
    return float(min(max(1.5 * max(x1 - x0, (y1 - y0) * PX[0] / PX[1]), 40.0), WIDE[1]))


def _shapes(f: Finding, wood: Wood | None, derived: Derived, frame: Frame) -> list[str]:
    """The wood with all that is cut and drawn in it; without a piece the outlines and plan rules there are."""
    if wood is None:
        body = []
        for r in derived.results.values():
            if r.kind == "outline" and r.region is not None:
                body.append(frame.path(r.region.polygon, "wood"))
        for r in derived.results.values():
            body += [
                frame.path(c.design.polygon, "near" if c.face == (f.face or "front") else "far") for c in r.cuts
            ]
            if r.kind in ("offset", "channel"):
                body += [frame.path(shapely.boundary(v.polygon), "carve") for v in r.regions]
        return body
    face = "back" if f.face == "back" else "front"
    body = [frame.path(wood.edge, "wood")]
    order = sorted(wood.taken, key=lambda t: (t.through, t.face == face))
    body += [frame.path(t.shape, "hole" if t.through else "near" if t.face == face else "far") for t in order]
    strokes = [shapely.LineString(c.flatten(0.02)[0]) for side, c in wood.lines if side == face]
    strokes += [
        shapely.LineString(c.flatten(0.02)[0]) for run, _ in wood.runs if run.face == face for c in run.lines
    ]
    if f.step in derived.results and not any(t.step == f.step for t in wood.taken):  # asked for, and cut nowhere
        body += [frame.path(c.design.polygon, "asked") for c in derived.results[f.step].cuts]
    return [*body, *(frame.path(line, "carve") for line in strokes)]


def _outline(derived: Derived, at: Point) -> BaseGeometry | None:
    shapes = [r.region.polygon for r in derived.results.values() if r.kind == "outline" and r.region]
    return min(shapes, key=lambda s: float(shapely.distance(s, shapely.Point(at))), default=None)


def _ends(f: Finding, shown: Shown, wood: Wood | None) -> tuple[Point, Point] | None:
    """The two ends of what was measured in plan: as the check says, else from the place to the nearest edge that
    lies so far away."""
    if shown.ends_mm is not None:
        return shown.ends_mm if math.dist(*shown.ends_mm) > 0.02 else None
    if (
        wood is None
        or f.at_mm is None
        or f.measured is None
        or f.unit != "mm"
        or f.measured < 0.02
        or shown.left_mm
    ):
        return None
    spot = shapely.Point(f.at_mm)
    for shape in (wood.edge, *(t.shape for t in wood.taken)):
        line = shapely.shortest_line(spot, shapely.boundary(shape))
        if abs(line.length - f.measured) <= 0.005 + 0.002 * f.measured:
            (ax, ay), (bx, by) = line.coords
            return (ax, ay), (bx, by)
    return None


def _cutter(frame: Frame, at: Point, diameter: float) -> str:
    x, y = frame.at(at)
    r = diameter / 2 * frame.k
    cross = f"M{num(x - r - 4)} {num(y)}h{num(2 * r + 8)}M{num(x)} {num(y - r - 4)}v{num(2 * r + 8)}"
    said = y - r - 7 if y - r > 36 else y + r + 17 if y + r < PX[1] - 22 else y + 4
    return (
        f'<circle class="cutter" cx="{num(x)}" cy="{num(y)}" r="{num(r)}"/>'
        f'<path class="cutter" stroke-width=".8" d="{cross}"/>' + text(x, said, f"Ø{diameter:g}", "middle")
    )


def _cut_line(frame: Frame, cut: Section) -> str:
    """Where the section runs, as drawings show it: a chain line with A at both ends."""
    x, y = frame.at(cut.at)
    dx, dy = frame.x * cut.way[0], -frame.y * cut.way[1]
    room = min(
        (PX[0] / 2 - 16) / abs(dx) if abs(dx) > 1e-6 else math.inf,
        (PX[1] / 2 - 18) / abs(dy) if abs(dy) > 1e-6 else math.inf,
    )
    a, b = (x - dx * room, y - dy * room), (x + dx * room, y + dy * room)
    return f'<path class="cutline" d="M{num(a[0])} {num(a[1])}L{num(b[0])} {num(b[1])}"/>' + "".join(
        text(p[0] - dy * 11, p[1] + dx * 11 + 4, "A", "middle", strong=True) for p in (a, b)
    )


def _key(whole: BaseGeometry, at: Point, frame: Frame, seen: Seen, *, low: bool) -> str:
    """The whole piece, small, in a corner, with a box where the window is; none where the window shows it all."""
    x0, y0, x1, y1 = whole.bounds
    w, h = max(x1 - x0, 1e-6), max(y1 - y0, 1e-6)
    if w * frame.k < 1.1 * PX[0] and h * frame.k < 1.1 * PX[1]:
        return ""
    s = min(84 / w, 50 / h)
    left, top = PX[0] - w * s - 10, PX[1] - h * s - 14 if low else 6.0

    def spot(x: float, y: float) -> Point:
        return (
            left + ((x - x0) if seen.x > 0 else (x1 - x)) * s,
            top + 4 + ((y1 - y) if seen.y > 0 else (y - y0)) * s,
        )

    words = []
    for part in shapely.get_parts(shapely.simplify(whole, 0.4 / s, preserve_topology=False)):
        words.append(
            "M" + "L".join(f"{num(x)} {num(y)}" for x, y in (spot(*p) for p in part.exterior.coords[:-1])) + "Z"
        )
    bw, bh = max(PX[0] / frame.k * s / 2, 2.0), max(PX[1] / frame.k * s / 2, 2.0)
    cx, cy = spot(*at)
    west, east = max(cx - bw, left - 4), min(cx + bw, left + w * s + 4)
    north, south = max(cy - bh, top), min(cy + bh, top + h * s + 8)
    box = f"M{num(west)} {num(north)}H{num(east)}V{num(south)}H{num(west)}Z"
    size = f'width="{num(w * s + 8)}" height="{num(h * s + 8)}"'
    return (
        f'<rect class="key" x="{num(left - 4)}" y="{num(top)}" {size}/>'
        f'<path class="keyline" d="{"".join(words)}"/><path class="spot" stroke-width="1.4" d="{box}"/>'
    )
