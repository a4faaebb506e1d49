"""Single lines and arcs as arrays, and the exact arithmetic between them.

Everything that has to be fast works on all segments of a drawing at once. A line has bulge 0,
radius 0 and an unused centre.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.contour import FLATTEN_MM, Bools, Contour, Floats, arc_centres

Ints = NDArray[np.int64]

SAME_MM = 1e-6
"""Points nearer than this are one point, curves nearer than this along a stretch are one curve."""
STRAIGHT_MM = 2e-7
"""An arc that rises less than this above its chord is a line."""


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Lines and arcs from ``p`` to ``q`` (n, 2) with ``bulge`` (n,) and the ``free`` mark (n,).

    ``centre`` (n, 2), ``radius`` (n,), ``sweep`` (n,) in radians and ``length`` (n,) in mm follow from
    these: ``segments`` makes them all.
    """

    p: Floats
    q: Floats
    bulge: Floats
    free: Bools
    centre: Floats
    radius: Floats
    sweep: Floats
    length: Floats

    def __len__(self) -> int:
        return len(self.bulge)

    def __getitem__(self, pick: Ints | Bools | slice) -> Segments:
        return Segments(*(getattr(self, name)[pick] for name in self.__slots__))

    @property
    def middle(self) -> Floats:
        """The point half-way along each segment, (n, 2)."""
        d = self.q - self.p
        rise = np.stack([d[:, 1], -d[:, 0]], axis=1) * (self.bulge / 2)[:, None]
        return (self.p + self.q) / 2 + rise

    @property
    def boxes(self) -> Floats:
        """(n, 4) rows xmin, ymin, xmax, ymax that hold each segment (arcs a little generously)."""
        rise = self.middle - (self.p + self.q) / 2
        lo = np.minimum(self.p, self.q) + np.minimum(rise, 0.0)
        hi = np.maximum(self.p, self.q) + np.maximum(rise, 0.0)
        big = np.abs(self.bulge) > 1  # past a half turn the arc leaves the box over its chord
        if big.any():
            c, r = self.centre[big], self.radius[big, None]
            lo[big], hi[big] = c - r, c + r
        return np.hstack([lo, hi])

    def along(self, i: Ints, points: Floats) -> tuple[Floats, Floats]:
        """Where ``points`` lie on the curves of segments ``i``: (mm from the start, mm off the curve).

        Both (k,). Off is signed: left of a line positive, outside of a circle positive.
        """
        p, b = self.p[i], self.bulge[i]
        v = points - p
        d = self.q[i] - p
        chord = np.hypot(d[:, 0], d[:, 1])
        u = d / np.where(chord > 0, chord, 1.0)[:, None]
        s = v[:, 0] * u[:, 0] + v[:, 1] * u[:, 1]
        off = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        k = np.flatnonzero(b)
        if len(k):
            c, r, sweep = self.centre[i[k]], self.radius[i[k]], self.sweep[i[k]]
            w = points[k] - c
            side = np.sign(b[k])
            # Angles count from the arc's middle so that the jump lies opposite of the arc.
            mx, my = u[k, 1] * side, -u[k, 0] * side
            turn = np.arctan2(mx * w[:, 1] - my * w[:, 0], mx * w[:, 0] + my * w[:, 1]) * side
            s[k] = r * (np.abs(sweep) / 2 + turn)
            off[k] = np.hypot(w[:, 0], w[:, 1]) - r
        return s, off

    def at(self, i: Ints, s: Floats) -> Floats:
        """Points ``s`` mm along the segments ``i``, (k, 2)."""
        p, q = self.p[i], self.q[i]
        out = p + (q - p) * (s / self.length[i])[:, None]
        k = np.flatnonzero(self.bulge[i])
        if len(k):
            j = i[k]
            a = s[k] / self.radius[j] * np.sign(self.bulge[j])
            v = self.p[j] - self.centre[j]
            c, n = np.cos(a), np.sin(a)
            turned = np.stack([v[:, 0] * c - v[:, 1] * n, v[:, 0] * n + v[:, 1] * c], axis=1)
            out[k] = self.centre[j] + turned
        return out

    def part_bulge(self, i: Ints, length: Floats, chord: Floats) -> Floats:
        """Bulge of pieces of the segments ``i``, ``length`` mm long over ``chord``.

        Small pieces go by the chord, which keeps the radius to the last digits.
        """
        r = np.where(self.radius[i] > 0, self.radius[i], 1.0)
        sweep = length / r
        small = sweep < 1
        fine = 2 * np.arcsin(np.clip(np.where(small, chord, 0.0) / (2 * r), 0, 1))
        return np.sign(self.bulge[i]) * np.tan(np.where(small, fine, sweep) / 4)

    def flattened(self, tol_mm: float = FLATTEN_MM) -> tuple[Floats, Ints]:
        """Chords within ``tol_mm``: points (m, 2) and the segment of each point, ends included.

        Segments that run the same way or against each other over the same curve get equal points.
        """
        p, q = self.p, self.q
        swap = (p[:, 0] > q[:, 0]) | ((p[:, 0] == q[:, 0]) & (p[:, 1] > q[:, 1]))
        n = np.ones(len(p), dtype=np.int64)
        curved = self.bulge != 0
        step = 2 * np.arccos(np.clip(1 - tol_mm / self.radius[curved], -0.5, 1 - 1e-15))
        n[curved] = np.maximum(1, np.ceil(np.abs(self.sweep[curved]) / step - 1e-9)).astype(np.int64)
        seg = np.repeat(np.arange(len(p)), n + 1)
        last = np.cumsum(n + 1) - 1
        k = np.arange(len(seg)) - (last - n)[seg]
        pts = p[seg]
        pts[last] = q
        inner = (k > 0) & (k < n[seg])
        if inner.any():
            g, k = seg[inner], k[inner]
            k = np.where(swap[g], n[g] - k, k)
            a = np.where(swap, -self.sweep, self.sweep)[g] * (k / n[g])
            v = np.where(swap[:, None], q, p)[g] - self.centre[g]
            c, s = np.cos(a), np.sin(a)
            turned = np.stack([v[:, 0] * c - v[:, 1] * s, v[:, 0] * s + v[:, 1] * c], axis=1)
            pts[inner] = self.centre[g] + turned
        return pts, seg


def segments(p: Floats, q: Floats, bulge: Floats, free: Bools) -> Segments:
    """Segments p→q; an arc that rises less than STRAIGHT_MM above its chord becomes a line."""
    chord = np.hypot(q[:, 0] - p[:, 0], q[:, 1] - p[:, 1])
    bulge = np.where(np.abs(bulge) * chord < 2 * STRAIGHT_MM, 0.0, bulge)
    curved = np.flatnonzero(bulge)
    centre, radius, length = np.zeros_like(p), np.zeros(len(bulge)), chord
    sweep = 4 * np.arctan(bulge)
    if len(curved):
        centre[curved], radius[curved] = arc_centres(p[curved], q[curved], bulge[curved])
        length = np.where(bulge == 0, chord, radius * np.abs(sweep))
    return Segments(p, q, bulge, free, centre, radius, sweep, length)


def segments_of(contours: Iterable[Contour]) -> Segments:
    """All segments of ``contours``, in their order."""
    return joined(segments(c.starts, c.ends, c.bulges, c.free if c.closed else c.free[:-1]) for c in contours)


def joined(parts: Iterable[Segments]) -> Segments:
    """Several lots of segments as one."""
    lots = [x for x in parts if len(x)]
    if not lots:
        none = np.empty((0, 2))
        return segments(none, none, np.empty(0), np.empty(0, dtype=np.bool_))
    if len(lots) == 1:
        return lots[0]
    return Segments(*(np.concatenate([getattr(x, name) for x in lots]) for name in Segments.__slots__))


def near_pairs(segs: Segments, lots: Ints | None = None) -> tuple[Ints, Ints]:
    """Pairs (i < j) of segments whose boxes meet; of different ``lots`` (n,) only, where these are given."""
    b = segs.boxes + np.array([-1.0, -1.0, 1.0, 1.0]) * 2 * SAME_MM
    some = np.arange(len(b)) if lots is None else _near_others(b, lots)
    boxes = shapely.box(*b[some].T)
    i, j = shapely.STRtree(boxes).query(boxes)
    i, j = some[i], some[j]
    keep = i < j if lots is None else (i < j) & (lots[i] != lots[j])
    return i[keep], j[keep]


def _near_others(boxes: Floats, lots: Ints) -> Ints:
    """Numbers of the boxes that meet the box around another lot."""
    kinds = np.unique(lots)
    around = [np.concatenate([boxes[lots == k, :2].min(0), boxes[lots == k, 2:].max(0)]) for k in kinds]
    near = np.zeros(len(boxes), dtype=np.bool_)
    for k, (x0, y0, x1, y1) in zip(kinds, around, strict=True):
        meets = (boxes[:, 0] <= x1) & (boxes[:, 2] >= x0) & (boxes[:, 1] <= y1) & (boxes[:, 3] >= y0)
        near |= meets & (lots != k)
    return np.flatnonzero(near)


def crossings(segs: Segments, i: Ints, j: Ints) -> tuple[Ints, Floats, Floats]:
    """Points where the full curves of pairs (i, j) cross or touch, whether or not within the segments.

    Returns (pair (k,), points (k, 2), sine of the crossing angle (k,)). Curves that come within
    SAME_MM of touching give the one point of contact.
    """
    line_i, line_j = segs.bulge[i] == 0, segs.bulge[j] == 0
    found = [
        _line_line(segs, i, j, np.flatnonzero(line_i & line_j)),
        _line_arc(segs, i, j, np.flatnonzero(line_i & ~line_j)),
        _line_arc(segs, j, i, np.flatnonzero(~line_i & line_j)),
        _arc_arc(segs, i, j, np.flatnonzero(~line_i & ~line_j)),
    ]
    pair, points, sine = (np.concatenate([f[k] for f in found]) for k in range(3))
    return pair, points, sine


Found = tuple[Ints, Floats, Floats]


def _unit(d: Floats) -> Floats:
    n = np.hypot(d[:, 0], d[:, 1])
    return d / np.where(n > 0, n, 1.0)[:, None]


def _line_line(segs: Segments, i: Ints, j: Ints, k: Ints) -> Found:
    p, q = segs.p[i[k]], segs.p[j[k]]
    u, v = _unit(segs.q[i[k]] - p), _unit(segs.q[j[k]] - q)
    sine = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    ok = np.abs(sine) > 1e-12
    p, q, u, v, s = p[ok], q[ok], u[ok], v[ok], sine[ok]
    w = q - p
    t = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / s
    return k[ok], p + u * t[:, None], np.abs(s)


def _line_arc(segs: Segments, i: Ints, j: Ints, k: Ints) -> Found:
    """Lines are segments ``i``, arcs segments ``j``, of the pairs ``k``."""
    p, c, r = segs.p[i[k]], segs.centre[j[k]], segs.radius[j[k]]
    u = _unit(segs.q[i[k]] - p)
    w = c - p
    t = w[:, 0] * u[:, 0] + w[:, 1] * u[:, 1]
    foot = p + u * t[:, None]
    high = np.abs(u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0])
    return _two_roots(k, foot, u, r - high, np.sqrt(np.maximum((r - high) * (r + high), 0.0)), r, r * 0 + 1)


def _arc_arc(segs: Segments, i: Ints, j: Ints, k: Ints) -> Found:
    c, r = segs.centre[i[k]], segs.radius[i[k]]
    e, s = segs.centre[j[k]], segs.radius[j[k]]
    d = e - c
    far = np.hypot(d[:, 0], d[:, 1])
    ok = far > 1e-9  # concentric circles meet nowhere or everywhere
    k, c, r, s, d, far = k[ok], c[ok], r[ok], s[ok], d[ok], far[ok]
    u = d / far[:, None]
    x = (far + (r - s) * (r + s) / far) / 2
    inside, outside = far - np.abs(r - s), r + s - far
    gap = np.minimum(inside, outside)
    four = inside * outside * (far + np.abs(r - s)) * (r + s + far)  # 16 × the triangle's area squared
    half = np.sqrt(np.maximum(four, 0.0)) / (2 * far)
    # A contact lies on the line of centres, on both circles.
    touch = np.where(outside < inside, r, np.where(r > s, r, -r))
    near = np.abs(gap) < SAME_MM
    x = np.where(near, touch, x)
    foot = c + u * x[:, None]
    across = np.stack([-u[:, 1], u[:, 0]], axis=1)
    return _two_roots(k, foot, across, gap, half, r * s, far)


def _two_roots(
    k: Ints, foot: Floats, way: Floats, gap: Floats, half: Floats, product: Floats, far: Floats
) -> Found:
    """Roots foot ± way·half where the curves reach ``gap`` > 0 into each other, foot where they touch.

    The sine of the crossing angle is half·far/product.
    """
    one = np.flatnonzero(np.abs(gap) < SAME_MM)
    two = np.flatnonzero(gap >= SAME_MM)
    step = way[two] * half[two, None]
    sine = np.minimum(half[two] * far[two] / product[two], 1.0)
    return (
        np.concatenate([k[one], k[two], k[two]]),
        np.concatenate([foot[one], foot[two] - step, foot[two] + step]),
        np.concatenate([np.zeros(len(one)), sine, sine]),
    )
