"""Parallel curves: growing and shrinking regions by a distance, exact for lines and arcs.

The boundary of a grown or shrunk region consists of parallels of its lines and arcs and of arcs
round its corners. ``offset`` draws all of these, cuts them where they meet and keeps the faces whose
points lie at the right distance from the source. GEOS's own buffer is not used for the result: it
simplifies its input by about a hundredth of the distance first.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np
import shapely

from pipeline.geometry.boolean import difference, union
from pipeline.geometry.contour import FLATTEN_MM, Bools, Contour, Floats
from pipeline.geometry.loops import bounded, chains, closed_ones, longest
from pipeline.geometry.mitre import corners, kite, normals, turns
from pipeline.geometry.nodes import Pieces, pieces
from pipeline.geometry.region import EMPTY, Region, solid
from pipeline.geometry.segments import SAME_MM, Ints, Segments, joined, segments, segments_of
from pipeline.geometry.trace import area_of

Join = Literal["round", "mitre"]
OFF_MM = 0.002
"""Largest error in distance that a result may show when it is measured against its source."""
BESIDE_MM = 0.05
"""How far beside the candidates it is looked whether the right side was kept."""
SMOOTH_RAD = 0.02
"""Turns smaller than this may be taken for tangent joints: where that moves nothing by more than SAME_MM."""


NEEDLE_RAD = 0.1
TIP_MM = 1.0
"""Within NEEDLE_RAD of a half turn a corner is a needle's tip or a slit's end; looked at TIP_MM off."""


class OffsetFailed(ValueError):
    """A result that does not lie at the wanted distance: ``at`` (x, y) and ``error_mm`` of the worst place."""

    def __init__(self, by_mm: float, at: tuple[float, float], error_mm: float) -> None:
        self.by_mm, self.at, self.error_mm = by_mm, at, error_mm
        super().__init__(
            f"The offset by {by_mm:g} mm could not be made: near ({at[0]:.3f}, {at[1]:.3f}) "
            f"it would be wrong by {error_mm:.4f} mm."
        )


def offset(region: Region, by_mm: float, *, join: Join = "round") -> Region:
    """All points within ``by_mm`` of the region (negative: those of it further than that from its edge).

    Parts may merge, split or vanish; the result may be empty. ``round`` is the exact parallel curve;
    ``mitre`` carries straight on round corners up to MITRE_LIMIT. Raises OffsetFailed when a point of
    the result measures further than OFF_MM from where it should be.
    """
    if not region or by_mm == 0:
        return region
    if not math.isfinite(by_mm):
        raise ValueError("an offset must be a number")
    result = _rounded(region, by_mm)
    if join == "mitre":
        kites = [kite(*k, by_mm) for k in corners(region, by_mm)]
        beyond = [solid(k) for k in kites if k is not None]
        if beyond:
            result = union(result, *beyond) if by_mm > 0 else difference(result, *beyond)
    return result


@lru_cache(maxsize=64)
def _rounded(region: Region, by_mm: float) -> Region:
    reach = abs(by_mm)
    edge = region.edge
    drawn = _near_enough(_candidates(region, by_mm), edge, reach)
    cut = pieces(drawn)
    plain = _from_pieces(cut, edge, reach)
    if plain is not None and _wrong(plain, drawn, region, edge, by_mm) is None:
        return plain

    def inside(points: Floats) -> Bools:
        within: Bools = shapely.contains_xy(region.polygon, points[:, 0], points[:, 1])
        near: Bools = shapely.dwithin(edge, shapely.points(points), reach)
        return within | near if by_mm > 0 else within & ~near

    result = area_of(cut.segs[np.unique(cut.same)], inside) if len(drawn) else EMPTY
    wrong = _wrong(result, drawn, region, edge, by_mm)
    if wrong is not None:
        raise wrong
    return result


def _from_pieces(cut: Pieces, edge: shapely.Geometry, reach: float) -> Region | None:
    """The region that the candidates bound, all of which have it on their left, where those that lie too near
    the source are clearly told from the others; else None."""
    turned = cut.a != cut.a[cut.same]
    against = np.bincount(cut.same[turned], minlength=len(turned)) > 0  # the area lies on both sides
    found = cut[np.flatnonzero((cut.same == np.arange(len(turned))) & ~against)]
    found = found[closed_ones(found.a, found.b)]
    chain = chains(found.a, found.b)
    spots = shapely.points(found.segs.middle[longest(chain, found.segs.length)])
    far = ~shapely.dwithin(edge, spots, reach - 2 * FLATTEN_MM)
    keep = np.flatnonzero(far[chain])
    return bounded(found.segs[keep], found.a[keep], found.b[keep], np.zeros(len(keep), dtype=np.bool_))


# -- candidates ----------------------------------------------------------------------------------
def _candidates(region: Region, by_mm: float) -> Segments:
    """Parallels of all segments, arcs round all corners on the offset's side."""
    return joined(_parallel(c, by_mm) for c in region.contours)


def _tips_told(turn: Floats, source: Segments) -> Floats:
    """Turns at needle tips with the sign that their sides have a little way off, where the tangents' says nothing.

    A tip that turns by a little more than half a turn is one whose tangents cross: its sides bend apart within
    TIP_MM, before anybody could cut between them.
    """
    needle = np.abs(turn) > math.pi - NEEDLE_RAD
    if not needle.any():
        return turn
    bend = np.where(source.bulge != 0, np.sign(source.bulge) / np.maximum(source.radius, SAME_MM), 0.0)
    way = np.minimum(np.minimum(source.length, np.roll(source.length, -1)), TIP_MM)
    # Chords of that length leave an arc by half of what it turns over them.
    sides = turn + (bend + np.roll(bend, -1)) * way / 2
    told: Floats = np.where(needle & (np.abs(sides) > math.pi), turn - np.copysign(math.tau, turn), turn)
    return told


def _parallel(c: Contour, by_mm: float) -> Segments:
    """Candidates of one contour. Material lies on the left, so growing goes to the right."""
    source = segments_of([c])
    d = source.q - source.p
    d = d / np.hypot(d[:, 0], d[:, 1])[:, None]
    half = source.sweep / 2
    cos, sin = np.cos(half), np.sin(half)
    dx, dy = d[:, 0], d[:, 1]
    leaving = np.stack([dx * cos + dy * sin, dy * cos - dx * sin], axis=1)
    arriving = np.stack([dx * cos - dy * sin, dy * cos + dx * sin], axis=1)
    ahead = np.roll(leaving, -1, axis=0)
    turn = _tips_told(turns(arriving, ahead), source)
    p, q = source.p + by_mm * normals(leaving), source.q + by_mm * normals(arriving)
    radius = source.radius + np.sign(source.bulge) * by_mm
    stays = (source.bulge == 0) | (radius > SAME_MM)
    # Tangent joints: both parallels are carried on, or held back, to the tip of their tiny mitre.
    curved = source.bulge != 0
    around = np.where(curved, np.maximum(radius, SAME_MM), np.inf)
    arc = np.where(curved, around, 0.0) * np.abs(source.sweep)
    length = np.where(curved, arc, source.length)
    reach = by_mm * np.tan(np.clip(turn, -SMOOTH_RAD, SMOOTH_RAD) / 2)
    room = np.minimum(length, np.roll(length, -1)) / 4
    slack = reach**2 / (2 * np.minimum(around, np.roll(around, -1)))
    smooth = (np.abs(turn) < SMOOTH_RAD) & (slack < SAME_MM) & (np.abs(reach * turn) < 4 * SAME_MM)
    smooth &= np.abs(reach) < room + SAME_MM
    reach = np.where(smooth, reach, 0.0)
    way = arriving + ahead
    way = way / np.where(smooth, np.sum(way * arriving, axis=1), 1.0)[:, None]
    meet = source.q + by_mm * normals(way)
    q = np.where(smooth[:, None], meet, q)
    p = np.where(np.roll(smooth, 1)[:, None], np.roll(meet, 1, axis=0), p)
    longer = np.arctan(reach / around) + np.arctan(np.roll(reach, 1) / around)
    bulge = np.where(curved, np.tan((source.sweep + np.sign(source.bulge) * longer) / 4), 0.0)
    drawn = stays & (np.hypot(*(q - p).T) > 0)
    sides = segments(p, q, bulge, source.free)[drawn]
    # Round corners, also at needle tips where the sign of the turn is noise.
    corner = ~smooth & ((turn * by_mm > 0) | (np.abs(turn) > math.pi - 1e-6))
    bulge = np.tan(np.copysign(np.abs(turn), by_mm) / 4)
    arcs = segments(q, np.roll(p, -1, axis=0), bulge, np.zeros(len(c), dtype=np.bool_))[corner]
    # Each corner's arc follows the side that it leaves.
    order = np.argsort(np.concatenate([np.flatnonzero(drawn), np.flatnonzero(corner)]), kind="stable")
    return joined([sides, arcs])[order]


def _near_enough(drawn: Segments, edge: shapely.Geometry, reach: float) -> Segments:
    """Candidates without the stretches that lie too near the source to bound the result.

    Distance changes by no more than one moves, so a piece whose middle is nearer than the reach by
    more than half its length is out as a whole. Doubtful pieces are halved a few times.
    """
    seg = np.arange(len(drawn))
    low, high = np.zeros(len(drawn)), drawn.length.copy()
    settled: list[tuple[Ints, Floats, Floats]] = []
    for _ in range(8):
        half = (high - low) / 2
        middle = shapely.points(drawn.at(seg, low + half))
        doubt = np.flatnonzero(shapely.dwithin(edge, middle, reach - OFF_MM))
        lack = reach - OFF_MM - half[doubt]
        # (On the edge itself GEOS calls any distance enough, even a negative one.)
        out = doubt[(lack >= 0) & shapely.dwithin(edge, middle[doubt], np.maximum(lack, 0.0))]
        keep, split = np.ones((2, len(seg)), dtype=np.bool_)
        keep[out], split[:] = False, False
        split[doubt] = keep[doubt] & (half[doubt] > OFF_MM)
        keep &= ~split
        settled.append((seg[keep], low[keep], high[keep]))
        mid = (low + half)[split]
        seg, low, high = (
            np.repeat(seg[split], 2),
            np.stack([low[split], mid], axis=1).ravel(),
            np.stack([mid, high[split]], axis=1).ravel(),
        )
        if not len(seg):
            break
    seg, low, high = (np.concatenate(x) for x in zip(*settled, (seg, low, high), strict=True))
    return _pieces(drawn, seg, low, high)


def _pieces(drawn: Segments, seg: Ints, low: Floats, high: Floats) -> Segments:
    """Stretches low…high of segments; neighbouring stretches become one."""
    order = np.lexsort((low, seg))
    seg, low, high = seg[order], low[order], high[order]
    fresh = np.ones(len(seg), dtype=np.bool_)
    fresh[1:] = (seg[1:] != seg[:-1]) | (low[1:] != high[:-1])
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(seg)) - 1
    if not len(first):
        return drawn[first]
    seg, low, high = seg[first], low[first], high[last]
    whole = (low == 0) & (high == drawn.length[seg])
    p = np.where((low == 0)[:, None], drawn.p[seg], drawn.at(seg, low))
    q = np.where((high == drawn.length[seg])[:, None], drawn.q[seg], drawn.at(seg, high))
    cut = drawn.part_bulge(seg, high - low, np.hypot(*(q - p).T))
    return segments(p, q, np.where(whole, drawn.bulge[seg], cut), drawn.free[seg])


# -- proof ---------------------------------------------------------------------------------------
def _wrong(
    result: Region, drawn: Segments, region: Region, edge: shapely.Geometry, by_mm: float
) -> OffsetFailed | None:
    """What can be found wrong with the result."""
    return _off(result, edge, by_mm) or _not_whole(result, drawn, region, edge, by_mm)


def _off(result: Region, edge: shapely.Geometry, by_mm: float) -> OffsetFailed | None:
    """Measure the middle of every segment of the result against the source."""
    segs, reach = result.segments, abs(by_mm)
    xy = segs.middle
    chord = segs.q - segs.p
    # Square across the result by the offset there must be an edge of the source, and none nearer.
    foot = xy - normals(chord) * (by_mm / np.hypot(*chord.T))[:, None]
    middle = shapely.points(xy)
    wrong = shapely.dwithin(edge, middle, reach - OFF_MM) | ~shapely.dwithin(edge, shapely.points(foot), OFF_MM)
    if wrong.any():
        off = np.abs(shapely.distance(edge, middle) - reach)
        worst = int(off.argmax())
        if off[worst] > OFF_MM:
            return OffsetFailed(by_mm, (float(middle[worst].x), float(middle[worst].y)), float(off[worst]))
    return None


def _not_whole(
    result: Region, drawn: Segments, region: Region, edge: shapely.Geometry, by_mm: float
) -> OffsetFailed | None:
    """No face is missing and none too much: points on both sides of every candidate lie where they should."""
    chord = drawn.q - drawn.p
    side = np.stack([chord[:, 1], -chord[:, 0]], axis=1) * (BESIDE_MM / np.hypot(*chord.T))[:, None]
    xy = np.concatenate([drawn.middle + side, drawn.middle - side])
    held = shapely.contains_xy(result.polygon, xy[:, 0], xy[:, 1])
    # Where the result's edge runs along a candidate it has been measured.
    right, left = held[: len(drawn)], held[len(drawn) :]
    ask = np.flatnonzero(np.tile(right | ~left, 2))
    if not len(ask):
        return None
    xy, held = xy[ask], held[ask]
    points, reach = shapely.points(xy), abs(by_mm)
    within = shapely.contains_xy(region.polygon, xy[:, 0], xy[:, 1])
    if by_mm < 0:  # what lies outside grows
        within, held = ~within, ~held
    wrong = np.zeros(len(xy), dtype=np.bool_)
    must, may, odd = ~held & ~within, held & ~within, ~held & within
    wrong[must | odd] = shapely.dwithin(edge, points[must | odd], reach - 2 * OFF_MM)
    wrong[may | odd] |= ~shapely.dwithin(edge, points[may | odd], reach + 2 * OFF_MM)
    if wrong.any():
        x, y = xy[int(wrong.argmax())].tolist()
        return OffsetFailed(by_mm, (x, y), BESIDE_MM)
    return None
