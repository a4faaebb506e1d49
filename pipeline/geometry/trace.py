"""From exact curves to faces and back: GEOS decides what lies inside what, the curves say where.

``area_of`` cuts the plane along exact segments and keeps the faces that are wanted; ``traced`` turns
any area that GEOS made of flattened curves back into contours of the exact lines and arcs.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.contour import FLATTEN_MM, Bools, Contour, Floats
from pipeline.geometry.region import EMPTY, Region
from pipeline.geometry.segments import Ints, Segments
from pipeline.geometry.tidy import tidied

THIN_MM = 2 * FLATTEN_MM
"""Faces of less mean width are below what flattening can tell."""
MEET_MM = 0.5
"""Curves that meet at a flat angle may cross this far off in their flattened forms."""

Polygons = NDArray[np.object_]
Inside = Callable[[Floats], Bools]
"""For points (k, 2): which lie inside the wanted area."""


def area_of(segs: Segments, inside: Inside) -> Region:
    """The region of all faces between ``segs`` (cut at their crossings: ``nodes.noded``) that lie inside.

    ``inside`` is asked for one point within each face.
    """
    chords = Chords(segs)
    cells = chords.faces()
    if not len(cells):
        return EMPTY
    chosen = _without_cracks(cells, inside(_spots(cells)))
    if not chosen.any():
        return EMPTY
    return chords.region(shapely.coverage_union_all(cells[chosen]))


def _spots(cells: Polygons) -> Floats:
    """A point within each cell, well away from its edge where the cell has room for that.

    GEOS's point lies half-way along a level line, which may all but touch a hole; a turned cell is
    cut along another line.
    """
    points = shapely.point_on_surface(cells)
    clear = shapely.distance(shapely.boundary(cells), points)
    close = np.flatnonzero(clear < 20 * FLATTEN_MM)
    for angle in (0.6, 1.3, 2.2):
        if not len(close):
            break
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, s], [-s, c]])
        turned = shapely.point_on_surface(shapely.transform(cells[close], lambda xy, m=turn: xy @ m))
        other = shapely.transform(turned, lambda xy, m=turn: xy @ m.T)
        there = shapely.distance(shapely.boundary(cells[close]), other)
        better = there > clear[close]
        points[close[better]], clear[close[better]] = other[better], there[better]
        close = close[clear[close] < 20 * FLATTEN_MM]
    xy: Floats = shapely.get_coordinates(points)
    return xy


def _without_cracks(cells: Polygons, chosen: Bools) -> Bools:
    """Faces thinner than flattening can tell take the side of their neighbours."""
    thin = 2 * shapely.area(cells) < THIN_MM * shapely.length(cells)
    if not thin.any():
        return chosen
    a, b, cell = _edges(cells)
    # Two faces share an edge when their edges have the same middle: edges don't cross.
    middle = _complex(a + b)
    order = np.argsort(middle, kind="stable")
    middle, cell, length = middle[order], cell[order], np.hypot(*(a - b).T)[order]
    k = np.flatnonzero(middle[1:] == middle[:-1])
    one, other, length = cell[k], cell[k + 1], length[k]
    sound = chosen & ~thin
    beside = np.zeros(len(cells))
    np.add.at(beside, one, length * sound[other])
    np.add.at(beside, other, length * sound[one])
    share = beside / shapely.length(cells)
    return np.where(thin & (share > 0.75), True, np.where(thin & (share < 0.25), False, chosen))


def _edges(cells: Polygons) -> tuple[Floats, Floats, Ints]:
    """Edges of polygons: starts, ends, index of the polygon."""
    rings, owner = shapely.get_rings(cells, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    k = np.flatnonzero(ring[1:] == ring[:-1])
    return xy[k], xy[k + 1], owner[ring[k]]


def traced(shape: shapely.Geometry, sources: Segments) -> Region:
    """A polygonal GEOS result as a region of the exact segments that its edges are chords of.

    ``sources`` must be cut at their crossings. An edge whose two ends are the bits of a chord is that
    chord; others go to the nearest chord, the previous edge's segment first, then the lowest. Runs of one
    segment become that segment, neighbours meet at the end they share, else at GEOS's vertex.
    Raises ValueError when an edge lies on no source.
    """
    return Chords(sources).region(shape)


def _complex(xy: Floats) -> NDArray[np.complex128]:
    return np.asarray((xy + 0.0).view(np.complex128).ravel())


class Chords:
    """The flattened form of segments, known by the bits of its points."""

    def __init__(self, segs: Segments) -> None:
        self.segs = segs
        pts, seg = segs.flattened()
        self.pts, self.pts_seg = pts, seg
        k = np.flatnonzero(seg[1:] == seg[:-1])
        self.a, self.b, self.seg = pts[k], pts[k + 1], seg[k]
        self.known, ids = np.unique(_complex(pts), return_inverse=True)
        key = self._key(ids[k], ids[k + 1])
        self.order = np.argsort(key, kind="stable")
        self.key = key[self.order]
        first = np.searchsorted(seg, np.arange(len(segs)))
        last = np.searchsorted(seg, np.arange(len(segs)), side="right") - 1
        self.p_id, self.q_id = ids[first], ids[last]
        self.tree: shapely.STRtree | None = None

    def _key(self, a: Ints, b: Ints) -> Ints:
        return np.minimum(a, b) * (len(self.known) + 1) + np.maximum(a, b)

    def _ids(self, xy: Floats) -> Ints:
        """Number of each point among the known ones, or their count where it is none of them."""
        z = _complex(xy)
        at = np.minimum(np.searchsorted(self.known, z), len(self.known) - 1)
        return np.where(self.known[at] == z, at, len(self.known))

    def faces(self) -> Polygons:
        """The faces between the segments, (k,) polygons. Loose ends bound nothing."""
        lines = shapely.unary_union(shapely.linestrings(self.pts, indices=self.pts_seg))
        cells: Polygons = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
        return cells

    def region(self, shape: shapely.Geometry) -> Region:
        """A polygonal GEOS result as exact contours: see ``traced``."""
        polygons = shapely.get_parts(shape)
        polygons = polygons[shapely.get_dimensions(polygons) == 2]
        rings, owner = shapely.get_rings(polygons, return_index=True)
        found: list[list[Contour]] = [[] for _ in polygons]
        for r, k in zip(rings, owner.tolist(), strict=True):
            c = self.contour(shapely.get_coordinates(r)[:-1])
            if c is not None:
                found[k].append(c)
        return tidied((cs[0], tuple(cs[1:])) for cs in found if cs)[0]

    def contour(self, xy: Floats) -> Contour | None:
        """A closed ring (n, 2) of GEOS as the contour it stands for; None when it shrinks to nothing."""
        ids = self._ids(xy)
        seg = self._segments(xy, ids)
        change = seg != np.roll(seg, 1)
        if not change.any():
            raise ValueError("a ring that lies on one segment only")
        start = np.flatnonzero(change)  # edge k leaves vertex k
        run = seg[start]
        at, to = ids[start], ids[np.roll(start, -1)]
        p, q = self.p_id[run], self.q_id[run]
        forward, back = (at == p) & (to == q), (at == q) & (to == p)
        bulge = np.where(forward, self.segs.bulge[run], -self.segs.bulge[run])
        pts = xy[start].copy()
        partial = ~(forward | back)
        if partial.any():
            run, pts, bulge = self._with_loose_joints(run, pts, at, bulge, partial, xy, start)
            if len(run) < 2:
                return None
        return Contour(pts, bulge, self.segs.free[run])

    def _segments(self, xy: Floats, ids: Ints) -> Ints:
        """The segment that each edge (vertex k to k + 1) lies on."""
        key = self._key(ids, np.roll(ids, -1))
        at = np.minimum(np.searchsorted(self.key, key), len(self.key) - 1)
        seg = np.where(self.key[at] == key, self.seg[self.order[at]], -1)
        for k in np.flatnonzero(seg < 0).tolist():
            seg[k] = self._nearest((xy[k] + xy[(k + 1) % len(xy)]) / 2, int(seg[k - 1]))
        return seg

    def _nearest(self, middle: Floats, previous: int) -> int:
        if self.tree is None:
            self.tree = shapely.STRtree(shapely.linestrings(np.stack([self.a, self.b], axis=1)))
        point = shapely.Point(middle)
        near = self.tree.query(point, predicate="dwithin", distance=2 * FLATTEN_MM)
        if not len(near):
            raise ValueError(f"no curve near ({middle[0]:.6f}, {middle[1]:.6f})")
        d = shapely.distance(self.tree.geometries[near], point)
        best = self.seg[near[d <= d.min() + 1e-9]]
        return previous if previous in best else int(best.min())

    def _with_loose_joints(
        self,
        run: Ints,
        pts: Floats,
        at: Ints,
        bulge: Floats,
        partial: Bools,
        xy: Floats,
        start: Ints,
    ) -> tuple[Ints, Floats, Floats]:
        """Where flattened curves crossed at a place that is no end of theirs: move to the end they share,
        and cut the runs there."""
        before = np.roll(run, 1)
        for k in np.flatnonzero(partial | np.roll(partial, 1)).tolist():
            if at[k] in (self.p_id[run[k]], self.q_id[run[k]]) and at[k] in (
                self.p_id[before[k]],
                self.q_id[before[k]],
            ):
                continue
            mine = [(self.segs.p[run[k]], self.p_id[run[k]]), (self.segs.q[run[k]], self.q_id[run[k]])]
            other = (self.p_id[before[k]], self.q_id[before[k]])
            shared = [
                (float(np.hypot(*(point - pts[k]))), i) for i, (point, id_) in enumerate(mine) if id_ in other
            ]
            if shared and min(shared)[0] < MEET_MM:
                pts[k] = mine[min(shared)[1]][0]
        ahead = np.roll(pts, -1, axis=0)
        s, _ = self.segs.along(run, pts)
        t, _ = self.segs.along(run, ahead)
        chord = np.hypot(*(ahead - pts).T)
        # Which way a run goes along its segment is told by GEOS's own vertices.
        s0, _ = self.segs.along(run, xy[start])
        t0, _ = self.segs.along(run, xy[np.roll(start, -1)])
        sign = np.where(t0 >= s0, 1.0, -1.0)
        cut = self.segs.part_bulge(run, np.abs(t - s), chord) * sign
        bulge = np.where(partial, cut, bulge)
        keep = chord > 0
        return run[keep], pts[keep], bulge[keep]
