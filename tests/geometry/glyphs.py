"""Glyphs of an open font as hard shapes: thin, ripe with corners, with holes, islands and overlapping pieces.

The font is Bitstream Vera (its licence allows use and copying), four faces of which come with reportlab;
fontTools, which reads them, comes with ezdxf. A glyph is quadratics and lines; the region is made of the
cubics that equal them. What is wanted is computed here from the quadratics alone, by the textbook formula
and GEOS.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
import reportlab
import shapely

from pipeline.geometry.boolean import union
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.curves import Line, contour, quadratic
from pipeline.geometry.deviation import deviation
from pipeline.geometry.fit import fitted
from pipeline.geometry.morph import closing, opening
from pipeline.geometry.offset import OffsetFailed, offset
from pipeline.geometry.region import Part, Region, region

FACES = ("Vera.ttf", "VeraIt.ttf", "VeraBd.ttf", "VeraBI.ttf")
EM_MM = 80.0
OFFSETS_MM = (0.5, -0.5, 3.0, -1.5)
CUTTER_MM = 1.5
TOLERANCE_MM = 0.005
FINE_MM = 1e-4
"""Chords of the source stay this near to its curves."""
SPACING_MM = 0.25
"""Distance of the points at which a result is measured."""
NEAR_MM = 0.1
"""What is farther off than this is not measured but infinite."""

Point = tuple[float, float]
Piece = tuple[Point, Point, Point]
"""A quadratic p0, p1, p2; of a line p1 is the middle."""


@dataclass(frozen=True, slots=True, eq=False)
class Glyph:
    """``loops``: closed chains of pieces as the font has them, mm; outer ones run clockwise."""

    name: str
    loops: tuple[tuple[Piece, ...], ...]


def glyphs(count: int) -> tuple[Glyph, ...]:
    """``count`` glyphs spread evenly over the four faces."""
    found = list(every_glyph().values())
    return tuple(found[len(found) * k // count] for k in range(count))


@cache
def every_glyph() -> dict[str, Glyph]:
    """All glyphs that have an outline, by face and name, in the fonts' order."""
    from fontTools.pens.basePen import BasePen
    from fontTools.ttLib import TTFont

    class Taken(BasePen):
        def __init__(self, shapes: object) -> None:
            super().__init__(shapes)
            self.loops: list[list[Piece]] = []

        def _moveTo(self, at: Point) -> None:
            self.loops.append([])
            self.first = at

        def _lineTo(self, to: Point) -> None:
            p = self._getCurrentPoint()
            if p != to:
                self.loops[-1].append((p, ((p[0] + to[0]) / 2, (p[1] + to[1]) / 2), to))

        def _qCurveToOne(self, handle: Point, to: Point) -> None:
            self.loops[-1].append((self._getCurrentPoint(), handle, to))

        def _closePath(self) -> None:
            self._lineTo(self.first)

    found = {}
    for face in FACES:
        font = TTFont(Path(reportlab.__file__).parent / "fonts" / face)
        scale, shapes = EM_MM / font["head"].unitsPerEm, font.getGlyphSet()
        for name in font.getGlyphOrder():
            pen = Taken(shapes)
            shapes[name].draw(pen)
            loops = tuple(
                tuple(tuple((x * scale, y * scale) for x, y in piece) for piece in loop)
                for loop in pen.loops
                if loop
            )
            if loops:
                known = f"{face.removesuffix('.ttf')} {name}"
                found[known] = Glyph(known, loops)
    return found


# -- the product's region ------------------------------------------------------------------------------
def _is_line(piece: Piece) -> bool:
    (ax, ay), (bx, by), (cx, cy) = piece
    return abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)) < 1e-12


def _contour(loop: tuple[Piece, ...]) -> Contour:
    return contour([Line(p[0], p[2]) if _is_line(p) else quadratic(*p) for p in loop], True)


def as_region(glyph: Glyph) -> Region:
    """The glyph by nonzero winding: each hole in the smallest outline around it, then the union of all."""
    contours = [_contour(loop) for loop in glyph.loops]
    outers = sorted((c for c in contours if c.area < 0), key=lambda c: -c.area)
    flat = [shapely.Polygon(c.flatten()[0]) for c in outers]
    holes: list[list[Contour]] = [[] for _ in outers]
    for hole in (c for c in contours if c.area > 0):
        within = shapely.contains(flat, shapely.Polygon(hole.flatten()[0]))
        holes[int(np.argmax(within))].append(hole)
    return union(*(region([Part(c, tuple(h))]) for c, h in zip(outers, holes, strict=True)))


# -- what is wanted, from the quadratics alone ------------------------------------------------------------
def _sampled(piece: Piece, steps: int) -> Floats:
    """Points (steps, 2) from the start, the end left out."""
    a, b, c = (np.array(p) for p in piece)
    t = (np.arange(steps) / steps)[:, None]
    points: Floats = (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c
    return points


def _bend(piece: Piece) -> float:
    """|p0 − 2 p1 + p2|: a chord over 1/n of the parameter is a quarter of it / n² off at most."""
    (ax, ay), (bx, by), (cx, cy) = piece
    return math.hypot(ax - 2 * bx + cx, ay - 2 * by + cy)


def polyline(loop: tuple[Piece, ...]) -> Floats:
    """The loop as chords within FINE_MM, closed."""
    parts = [_sampled(p, max(1, math.ceil(math.sqrt(_bend(p) / 4 / FINE_MM)))) for p in loop]
    points = np.concatenate(parts)
    return np.vstack([points, points[:1]])


def faces(glyph: Glyph) -> shapely.Geometry:
    """The glyph by nonzero winding, of fine chords, by GEOS and a count of crossings."""
    rings = [polyline(loop) for loop in glyph.loops]
    lines = shapely.unary_union([shapely.LineString(r) for r in rings])
    cells = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    spots = shapely.get_coordinates(shapely.point_on_surface(cells))
    winding = np.zeros(len(cells))
    for r in rings:
        (x0, y0), (x1, y1) = r[:-1].T, r[1:].T
        for k, (x, y) in enumerate(spots.tolist()):
            left = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
            winding[k] += np.sum((y0 <= y) & (y < y1) & (left > 0)) - np.sum((y1 <= y) & (y < y0) & (left < 0))
    return shapely.union_all(cells[winding != 0])


def _edges(shape: shapely.Geometry) -> tuple[Floats, Floats]:
    """Starts and ends (n, 2) of all edges, material on the left."""
    rings = shapely.get_rings(shapely.get_parts(shapely.orient_polygons(shape)))
    xy, ring = shapely.get_coordinates(shapely.segmentize(rings, SPACING_MM), return_index=True)
    k = np.flatnonzero((ring[1:] == ring[:-1]) & (np.hypot(*(xy[1:] - xy[:-1]).T) > 0))
    return xy[k], xy[k + 1]


def far_off(points: Floats, p: Floats, q: Floats, within_mm: float) -> Floats:
    """Distance (n,) of points (n, 2) from the nearest edge, infinite where that is more than
    ``within_mm``."""
    tree = shapely.STRtree(shapely.linestrings(np.stack([p, q], axis=1)))
    lo, hi = points - within_mm, points + within_mm
    spot, edge = tree.query(shapely.box(lo[:, 0], lo[:, 1], hi[:, 0], hi[:, 1]))
    v, d = points[spot] - p[edge], (q - p)[edge]
    t = np.clip(np.sum(v * d, axis=1) / np.sum(d * d, axis=1), 0, 1)
    far = np.full(len(points), np.inf)
    np.minimum.at(far, spot, np.hypot(*(v - d * t[:, None]).T))
    return far


def true_parallel(p: Floats, q: Floats, by_mm: float) -> Floats:
    """Points (n, 2) of the true parallel curve: the middles of edges moved square by ``by_mm``, and arcs
    round corners, where nothing of the source lies nearer than that."""
    way = (q - p) / np.hypot(*(q - p).T)[:, None]
    normal = np.stack([way[:, 1], -way[:, 0]], axis=1)
    follows = np.flatnonzero((q[:-1] == p[1:]).all(axis=1))
    a, b, at = way[follows], way[follows + 1], q[follows]
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.sum(a * b, axis=1))
    round_there = np.flatnonzero(turn * by_mm > 1e-9)
    steps = np.ceil(np.abs(turn[round_there] * by_mm) / SPACING_MM).astype(int) + 1
    owner = np.repeat(round_there, steps)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(steps) - steps, steps) + 0.5) / np.repeat(steps, steps)
    c, s = np.cos(turn[owner] * share), np.sin(turn[owner] * share)
    n = normal[follows][owner]
    arcs = at[owner] + by_mm * np.stack([n[:, 0] * c - n[:, 1] * s, n[:, 0] * s + n[:, 1] * c], axis=1)
    points = np.concatenate([(p + q) / 2 + by_mm * normal, arcs])
    kept: Floats = points[far_off(points, p, q, abs(by_mm)) > abs(by_mm) - 2 * FINE_MM]
    return kept


@dataclass(slots=True)
class Outcome:
    """What came of some glyphs: the largest distances in mm, and what went wrong, by name."""

    results: int = 0
    area_mm: float = 0.0
    """Difference of a glyph's own area from that of fine chords, for each millimetre of outline."""
    area_share: float = 0.0
    """By which the area of a result differs from GEOS's."""
    refit_mm: float = 0.0
    """Between the exact result and its refit, both ways (`deviation`)."""
    from_source_mm: float = 0.0
    """By which a point of the refit is nearer to or farther from the source than wanted."""
    from_truth_mm: float = 0.0
    """Of a point of the true parallel curve from the refit."""
    refused: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    invalid: list[str] = field(default_factory=list)


def check(
    glyph: Glyph,
    outcome: Outcome,
    offsets: Sequence[float] = OFFSETS_MM,
    cuts: Sequence[float] = (-CUTTER_MM, CUTTER_MM),
    closely: int = len(OFFSETS_MM),
) -> None:
    """Add what came of the glyph: its area, its holes, ``offsets``, and ``cuts`` (negative: opening, else
    closing).

    Of the offsets the first ``closely`` are measured by `deviation` too, which takes the most time.
    """
    truth, made = faces(glyph), as_region(glyph)
    outcome.area_mm = max(outcome.area_mm, abs(made.area - truth.area) / truth.length)
    _alike(glyph.name, made, truth, outcome)
    p, q = _edges(truth)
    for k, by in enumerate(offsets):
        name = f"{glyph.name} by {by:g}"
        try:
            exact = offset(made, by)
        except OffsetFailed as refusal:
            outcome.refused.append(f"{name}: {refusal}")
            continue
        _alike(name, exact, truth.buffer(by, quad_segs=32), outcome)
        points = true_parallel(p, q, by)
        if not exact:
            outcome.lost += [name] if len(points) else []
            continue
        done = fitted(exact, TOLERANCE_MM)
        outcome.results += 1
        outcome.invalid += [] if done.polygon.is_valid else [name]
        if k < closely:
            outcome.refit_mm = max(outcome.refit_mm, deviation(exact, done).worst_mm)
        fine = [np.vstack([f, f[:1]]) for f in (c.flatten(FINE_MM)[0] for c in done.contours)]
        a, b = (np.concatenate([f[s] for f in fine]) for s in (slice(None, -1), slice(1, None)))
        outcome.from_truth_mm = max(outcome.from_truth_mm, float(far_off(points, a, b, NEAR_MM).max()))
        spread = shapely.get_coordinates(shapely.segmentize([shapely.LineString(f) for f in fine], SPACING_MM))
        off = np.abs(far_off(spread, p, q, abs(by) + NEAR_MM) - abs(by))
        side = shapely.contains_xy(truth, spread[:, 0], spread[:, 1])
        outcome.lost += [f"{name}: on the wrong side"] if (side == (by > 0)).any() else []
        outcome.from_source_mm = max(outcome.from_source_mm, float(off.max()))
    for by in cuts:
        act, name = (opening, f"{glyph.name} opened") if by < 0 else (closing, f"{glyph.name} closed")
        try:
            exact = act(made, abs(by))
        except OffsetFailed as refusal:
            outcome.refused.append(f"{name}: {refusal}")
            continue
        _alike(name, exact, truth.buffer(by, quad_segs=32).buffer(-by, quad_segs=32), outcome)


def _alike(name: str, ours: Region, theirs: shapely.Geometry, outcome: Outcome) -> None:
    """Valid, with the parts and holes that GEOS finds and its area."""
    if not ours.polygon.is_valid:
        outcome.invalid.append(name)
    parts = shapely.get_parts(theirs)
    counts = [len(ours.parts), len(parts)], [sum(len(p.holes) for p in ours), sum(len(p.interiors) for p in parts)]
    if any(a != b for a, b in counts):
        outcome.lost.append(f"{name}: parts {counts[0]}, holes {counts[1]}, ours and GEOS's")
    if theirs.area:
        outcome.area_share = max(outcome.area_share, abs(ours.area - theirs.area) / theirs.area)
