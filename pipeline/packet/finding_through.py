"""The place of a finding from the side: laminations, glue lines and floors, at true scale."""

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
from pipeline.packet.finding_sections import Point, Section, Wood, section
from pipeline.steps.values import Derived


def through_place(f: Finding, shown: Shown, wood: Wood, seen: Seen) -> Section:
    """Through the place: along what was measured, down a slope, across a treated edge, else across the narrow way
    of the cut that is there."""
    assert f.at_mm is not None
    at = f.at_mm
    way = _way(f, shown, wood)
    facing = seen.x * way[0] if abs(way[0]) > 1e-6 else seen.y * way[1]
    if facing < 0:  # drawn from the left to the right of the plan above it
        way = (-way[0], -way[1])
    return section(wood, at, (way[0] + 0.0, way[1] + 0.0), PX[0] / _scale(f, shown, wood))


def _way(f: Finding, shown: Shown, wood: Wood) -> Point:
    assert f.at_mm is not None
    at, spot = f.at_mm, shapely.Point(f.at_mm)
    if shown.ends_mm is not None and math.dist(*shown.ends_mm) > 0.02:
        return _unit(*shown.ends_mm)
    here = [t for t in wood.taken if shapely.dwithin(t.shape, spot, 0.05)]
    sloped = next((t for t in here if t.floor.gx or t.floor.gy), None)
    if sloped is not None:
        return _unit((0.0, 0.0), (sloped.floor.gx, sloped.floor.gy))
    if any(shapely.dwithin(edge, spot, 2 * run.size_mm) for run, edge in wood.runs):
        foot = shapely.shortest_line(shapely.boundary(wood.edge), spot).coords[0]
        inward = shapely.intersection(wood.edge, shapely.Point(foot).buffer(4.0)).centroid
        if math.dist(foot, (inward.x, inward.y)) > 0.1:  # across the edge; at a corner half-way between its sides
            return _unit(foot, (inward.x, inward.y))
    if not here:
        return 1.0, 0.0
    smallest = min(here, key=lambda t: float(t.shape.area)).shape
    return (1.0, 0.0) if _across(smallest, at, (1.0, 0.0)) <= _across(smallest, at, (0.0, 1.0)) else (0.0, 1.0)


def _across(shape: BaseGeometry, at: Point, way: Point) -> float:
    far = 1e4
    line = shapely.LineString(
        [(at[0] - far * way[0], at[1] - far * way[1]), (at[0] + far * way[0], at[1] + far * way[1])]
    )
    return float(shapely.intersection(shape, line).length)


def _unit(a: Point, b: Point) -> Point:
    n = math.dist(a, b)
    return (b[0] - a[0]) / n, (b[1] - a[1]) / n


def _scale(f: Finding, shown: Shown, wood: Wood) -> float:
    """Dots a mm: the whole thickness fits, unless what was measured would then be too small to see."""
    fits = (PX[1] - 62) / wood.total
    span = abs(shown.heights_mm[1] - shown.heights_mm[0]) if shown.heights_mm else 0.0
    close = 14.0 / span if span > 0.2 else 0.0
    return min(max(fits, close), 16.0)


def side(f: Finding, shown: Shown, cut: Section, wood: Wood, derived: Derived, key: str) -> str:
    k = _scale(f, shown, wood)
    heights = _heights(f, shown, cut, derived)
    shift = _sideways(cut, k)
    whole = wood.total * k <= PX[1] - 50
    middle = wood.total / 2
    if not whole and heights is not None:  # no more than a little air above and below
        air = (PX[1] / 2 - 34) / k
        middle = min(max(sum(heights) / 2, air), wood.total - air)
    frame = Frame((shift, middle), k)
    body = []
    for n, layer in enumerate(cut.layers):
        body.append(frame.path(layer, "lam odd" if n % 2 else "lam"))
    body += [frame.path(g, "glue") for g in cut.glue]
    for taken, shape in cut.taken:
        inside = shapely.intersection(shape, shapely.box(-1e6, 0.0, 1e6, wood.total))
        body.append(frame.path(inside, "near" if taken.face == (f.face or "front") else "far"))
    body += _names(cut, frame, wood.total, clear=heights is not None)
    if shown.cutter_mm is not None:
        body.append(_cutter_from_side(f, shown, frame, wood.total, heights))
    said = number_words(f)
    x, _ = frame.at((0.0, 0.0))
    if heights is not None and abs(heights[1] - heights[0]) > 1e-6:
        a, b = frame.at((0.0, heights[0])), frame.at((0.0, heights[1]))
        same = f.unit == "mm" and f.measured is not None and abs(abs(heights[1] - heights[0]) - f.measured) < 0.02
        words = said if same else (f"{abs(heights[1] - heights[0]):.2f} mm", *said)
        body.append(dimension(a, b, words, f.limit if f.unit == "mm" else None, k))
    elif said:
        body.append(lines(x + 10, 34.0, said))
        body.append(f'<path class="cutline" d="M{num(x)} 20V{num(PX[1] - 20)}"/>')
    body += [text(6, 16, "section A-A, front above"), scale_bar(k)]
    title = f"{wood.name}: section through the place of {f.check}"
    desc = f"{len(wood.layers)} {'layer' if len(wood.layers) == 1 else 'layers'}, {wood.total:.2f} mm thick. "
    return svg(key, title, desc + ". ".join(said), body)


def _sideways(cut: Section, k: float) -> float:
    """Where the middle of the window lies along the section: over the wood there, as far as the place allows."""
    if cut.body.is_empty:
        return 0.0
    t0, _, t1, _ = cut.body.bounds
    room = PX[0] / 2 / k
    return max(-0.5 * room, min(0.5 * room, max(0.0, float(t0) + 0.8 * room), float(t1) - 0.8 * room))


def _heights(f: Finding, shown: Shown, cut: Section, derived: Derived) -> tuple[float, float] | None:
    """Heights of what was measured: as the check says, else the wood, or the air, that is so high at the place,
    else the depth that the plan rule asks for."""
    if shown.heights_mm is not None:
        return shown.heights_mm
    if f.unit != "mm" or f.measured is None or f.measured < 0.02:
        return None
    near = 0.005 + 0.002 * f.measured
    for spans in (cut.wood_at(0.0), cut.air_at(0.0)):
        for a, b in spans:
            if abs(b - a - f.measured) <= near:
                return (a, b) if f.face != "back" else (b, a)
    asked = derived.results[f.step].cuts if f.step in derived.results else ()
    for rule in asked:
        if rule.depth.rule == "depth" and abs(rule.depth.mm - f.measured) <= near:
            return (0.0, f.measured) if rule.face == "back" else (cut.total, cut.total - f.measured)
    return None


def _names(cut: Section, frame: Frame, total: float, *, clear: bool) -> list[str]:
    """The names of what is cut, each where it is widest; ``clear``: to the left of the dimension line."""
    best: dict[str, tuple[float, BaseGeometry]] = {}
    for taken, shape in cut.taken:
        seen = frame.clip(shapely.intersection(shape, shapely.box(-1e6, 0.0, 1e6, total)))
        if not seen.is_empty and seen.area > best.get(taken.step, (0.0, seen))[0]:
            best[taken.step] = (seen.area, seen)
    words = []
    best.pop("", None)
    for name, (_, shape) in best.items():
        x0, y0, x1, y1 = shape.bounds
        x, y = frame.at(((x0 + x1) / 2, (y0 + y1) / 2))
        (left, _), (right, _), (line, _) = frame.at((x0, y0)), frame.at((x1, y0)), frame.at((0.0, y0))
        half = 3.4 * len(name)
        if clear and x - half - 12 < line < x + half + 4:
            x = line - half - 12
        if left + 2 < x - half and x + half < right - 2 and (y1 - y0) * frame.k > 16:
            words.append(text(x, y + 4, name.replace("_", " "), "middle"))
    return words


def _cutter_from_side(
    f: Finding, shown: Shown, frame: Frame, total: float, heights: tuple[float, float] | None
) -> str:
    """The cutter from the side, as deep as it gets: to the limit where it doesn't reach the floor."""
    assert shown.cutter_mm is not None
    back = f.face == "back"
    mouth = heights[0] if heights else (0.0 if back else total)
    deep = abs(heights[1] - heights[0]) if heights else total
    if f.unit == "mm" and f.limit is not None and f.check == "tool-reach":
        deep = min(deep, f.limit)
    tip = mouth + deep if back else mouth - deep
    shank = -3.0 * total if back else 4.0 * total
    half = shown.cutter_mm / 2
    box = shapely.box(-half, min(tip, shank), half, max(tip, shank))
    x, y = frame.at((0.0, mouth))
    return frame.path(box, "cutter") + text(x, y + (14 if back else -5), f"Ø{shown.cutter_mm:g}", "middle")
