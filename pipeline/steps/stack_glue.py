"""What is glued in a stack: each joint's area, its border, its narrow strips and its islands.

trade.md 6.3 (judged, no source): at least 40 % of the outline's area, a border at least 12 wide all round, no
strip narrower than 8, no island under 400 mm². Holes up to 12 wide (dowels, screws, pins) don't weaken a joint
and are left out of the border and the strips; openings that run out of the edge have no border by intent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely

from pipeline.core.findings import Finding, Severity
from pipeline.core.recipe import Step
from pipeline.geometry.boolean import difference, intersection
from pipeline.geometry.query import thin_places
from pipeline.geometry.region import Part, Region
from pipeline.steps.common import place_in
from pipeline.steps.measures import inside_point

SHARE = 0.4
RING_MM = 12.0
WALL_MM = 8.0
"""A border narrower than this splinters (edge of plywood): asked, not only noted."""
STRIP_MM = 8.0
ISLAND_MM2 = 400.0
HOLE_MM = 12.0
THIN_MM = 0.002
"""How far a thinned shape may lie from its curves; a looser one is found many times sooner."""
ROUGH_MM = 0.1
"""By so much a disc is larger for a first look, on a shape thinned by a quarter of it."""
CORNER_MM2 = (1 - math.pi / 4) * (STRIP_MM / 2) ** 2 + 0.05
"""What a disc of STRIP_MM leaves in one square corner, (1 − π/4)·r²: less isn't worth looking at."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One glue line, between laminations ``number`` and ``number + 1``.

    ``ring_mm`` is the narrowest border with its place, None where no opening is closed; ``strips`` are the places
    of wood narrower than STRIP_MM with their widths; ``islands`` the small parts with their areas.
    """

    number: int
    region: Region
    share: float
    ring_mm: tuple[float, Point] | None
    strips: tuple[tuple[float, Point], ...]
    islands: tuple[tuple[float, Point], ...]

    @property
    def name(self) -> str:
        return f"{self.number}-{self.number + 1}"


def joints(laminations: Sequence[tuple[Region, Region, Region]], outline: Region) -> tuple[Joint, ...]:
    """The joints of a stack, from the back.

    Each lamination is (what is left of it, what is pocketed in its back, what is pocketed in its front), to the
    design edge; a pocket holds no glue.
    """
    found: list[Joint] = []
    for n, ((a, _, front), (b, back, _)) in enumerate(pairwise(laminations), start=1):
        glued = intersection(a, b)
        if front or back:
            glued = difference(glued, front, back)
        found.append(_joint(n, glued, outline))
    return tuple(found)


def _joint(number: int, glued: Region, outline: Region) -> Joint:
    whole = _without_holes(glued)
    return Joint(
        number=number,
        region=glued,
        share=glued.area / outline.area,
        ring_mm=_ring(whole, outline),
        strips=_strips(whole, outline),
        islands=tuple((_net(p), inside_point(Region((p,)))) for p in whole.parts if _net(p) < ISLAND_MM2),
    )


def _net(part: Part) -> float:
    return float(sum(c.area for c in (part.outer, *part.holes)))


def _without_holes(region: Region) -> Region:
    """The region with its holes up to HOLE_MM wide filled."""

    def small(bounds: tuple[float, float, float, float]) -> bool:
        return max(bounds[2] - bounds[0], bounds[3] - bounds[1]) <= HOLE_MM + 1e-6

    return Region(tuple(Part(p.outer, tuple(h for h in p.holes if not small(h.bounds))) for p in region.parts))


def _ring(glued: Region, outline: Region) -> tuple[float, Point] | None:
    """The least distance of a closed opening from the edge, and its place on the edge."""
    openings = [shapely.Polygon(h.flatten()[0]) for p in glued.parts for h in p.holes]
    if not openings:
        return None
    edge = shapely.MultiLineString([p.polygon.exterior for p in outline.parts])
    line = shapely.shortest_line(edge, shapely.MultiPolygon(openings))
    (x, y), _ = shapely.get_coordinates(line).tolist()
    return float(line.length), (x, y)


def _strips(glued: Region, outline: Region) -> tuple[tuple[float, Point], ...]:
    """(width, place) of what is narrower than STRIP_MM: of a neck its narrowest, of a tongue its widest.

    Between a closed opening and the edge it is the border, which is told by itself.
    """
    if not _unreached(glued.polygon, STRIP_MM / 2 + ROUGH_MM, ROUGH_MM / 4, 8):
        return ()  # a somewhat larger disc comes everywhere, even on a roughly thinned shape
    shape = shapely.simplify(glued.polygon, THIN_MM)
    rests = _unreached(glued.polygon, STRIP_MM / 2, THIN_MM, 32)
    if not rests:
        return ()
    edge = outline.polygon.boundary
    openings = shapely.MultiPolygon([shapely.Polygon(h.flatten()[0]) for p in glued.parts for h in p.holes])
    found: list[tuple[float, Point]] = []
    for x, y in thin_places(glued, STRIP_MM):
        rest = min(rests, key=lambda p: float(shapely.distance(p, shapely.Point(x, y))))
        if not (shapely.dwithin(rest, openings, 0.02) and shapely.dwithin(rest, edge, 0.02)):
            found.append((_width(rest, shape), (x, y)))
    return tuple(sorted(found))


def _unreached(shape: shapely.MultiPolygon, r: float, thin_mm: float, quad_segs: int) -> list[shapely.Polygon]:
    """What a disc of radius ``r`` doesn't reach of a shape thinned by ``thin_mm``, corners left out."""
    thinned = shapely.simplify(shape, thin_mm)
    swept = shapely.buffer(shapely.buffer(thinned, -r, quad_segs=quad_segs), r, quad_segs=quad_segs)
    return [p for p in shapely.get_parts(shapely.difference(thinned, swept)) if p.area > CORNER_MM2]


def _width(rest: shapely.Polygon, shape: shapely.MultiPolygon) -> float:
    walls = shapely.intersection(rest.boundary, shapely.buffer(shape.boundary, 0.01))
    sides = [w for w in shapely.get_parts(shapely.line_merge(walls)) if w.length > 0.5]
    if len(sides) == 2 and shapely.distance(*sides) > 0.02:
        return float(shapely.distance(*sides))
    return 2.0 * float(shapely.maximum_inscribed_circle(rest, tolerance=0.005).length)


# -- what is said ----------------------------------------------------------------------------------
def glue_findings(step: Step, found: Sequence[Joint], outline: Region) -> list[Finding]:
    """One finding a kind of weakness, at its worst place, with the joints that have it."""
    said: list[Finding] = []

    def tell(
        check: str,
        severity: Severity,
        message: str,
        at: Point,
        measured: float,
        limit: float,
        remedy: str,
        unit: str = "mm",
    ) -> None:
        said.append(
            Finding(
                check=check,
                severity=severity,
                message=message,
                step=step.name,
                at_mm=at,
                measured=measured,
                limit=limit,
                unit=unit,
                remedy=remedy,
                place=place_in(step, "cut"),
            )
        )

    low = [j for j in found if j.share < SHARE - 1e-9]
    if low:
        worst = min(low, key=lambda j: j.share)
        tell(
            "glue-area", "ask",
            f"Only {worst.share * 100:.1f} % of the outline's area is glued between laminations {worst.name} of "
            f"{step.name}{_also(worst, low)}.",
            inside_point(worst.region) if worst.region else inside_point(outline),
            worst.share * 100, SHARE * 100, unit="%",
            remedy=f"leave {(SHARE - worst.share) * outline.area:.0f} mm² more wood there: fewer openings",
        )  # fmt: skip
    rings = [(j.ring_mm, j) for j in found if j.ring_mm is not None and j.ring_mm[0] < RING_MM - 1e-3]
    if rings:
        (width, at), joint = min(rings, key=lambda v: (v[0][0], v[1].number))
        tell(
            "glue-border", "ask" if width < WALL_MM - 1e-3 else "note",
            f"The glued border of {step.name} is {width:.2f} mm wide at its narrowest, between laminations "
            f"{joint.name}{_also(joint, [j for _, j in rings])}.",
            at, width, RING_MM,
            remedy=f"move the opening {RING_MM - width:.2f} mm inward, or make it so much smaller on this side",
        )  # fmt: skip
    strips = [(s, j) for j in found for s in j.strips]
    if strips:
        (width, at), joint = min(strips, key=lambda v: (v[0], v[1].number))
        tell(
            "glue-strip", "ask",
            f"A glued strip of {step.name} is {width:.2f} mm wide, between laminations {joint.name}"
            f"{_also(joint, [j for j in found if j.strips])}.",
            at, width, STRIP_MM,
            remedy=f"make it {STRIP_MM - width:.2f} mm wider, or cut it away with the opening beside it",
        )  # fmt: skip
    islands = [(v, j) for j in found for v in j.islands]
    if islands:
        (area, at), joint = min(islands, key=lambda v: (v[0], v[1].number))
        tell(
            "glue-island", "ask",
            f"An island of {area:.0f} mm² is glued by itself between laminations {joint.name} of {step.name}"
            f"{_also(joint, [j for j in found if j.islands])}.",
            at, area, ISLAND_MM2, unit="mm2",
            remedy="leave a bridge 10 mm wide to the wood beside it, to be routed out later, or leave it away",
        )  # fmt: skip
    return said


def _also(worst: Joint, all_: Sequence[Joint]) -> str:
    others = [j.name for j in all_ if j is not worst]
    return f" (also between {', '.join(dict.fromkeys(others))})" if others else ""
