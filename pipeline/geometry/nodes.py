"""Cutting lines and arcs at every point where they meet, exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Bools, Floats
from pipeline.geometry.segments import SAME_MM, Ints, Segments, crossings, near_pairs, segments

Stops = tuple[Ints, Floats, Ints]
"""Places on segments: (segment, mm along it, index of the point)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """What segments are cut into, in their order: ``segs`` run from point ``a`` to point ``b`` (numbers, equal
    for one place), ``parent`` tells whose pieces they are, ``same`` (n,) the first piece that each coincides
    with (itself when there is none before it)."""

    segs: Segments
    a: Ints
    b: Ints
    parent: Ints
    same: Ints

    def __getitem__(self, pick: Ints) -> Pieces:
        """Some of the pieces; ``same`` must not point to any that is left out."""
        number = np.zeros(len(self.segs), dtype=np.int64)
        number[pick] = np.arange(len(pick))
        return Pieces(
            segs=self.segs[pick],
            a=self.a[pick],
            b=self.b[pick],
            parent=self.parent[pick],
            same=number[self.same[pick]],
        )


def noded(segs: Segments) -> Segments:
    """The same curves cut where they cross, touch or end on each other, each stretch once.

    Meeting points within SAME_MM become one, equal to the last bit, original ends before computed
    crossings; stretches that coincide within SAME_MM are kept once, in the first one's form.
    """
    cut = pieces(segs)
    return cut.segs[np.unique(cut.same)]


def pieces(segs: Segments, lots: Ints | None = None) -> Pieces:
    """The same curves cut as in ``noded``, coinciding stretches told apart.

    Segments of the same lot, where lots (n,) are given, are taken to meet at their ends only.
    """
    parent = np.flatnonzero(segs.length > 0)
    segs = segs[parent]
    n = len(segs)
    ends = np.concatenate([segs.p, segs.q])
    i, j = near_pairs(segs, None if lots is None else lots[parent])
    on_i, on_j, hit_at, same = _ends_on_curves(segs, i, j)
    free = np.flatnonzero(~same)
    roots, cross_i, cross_j = _crossings_within(segs, i[free], j[free], hit_at[free], 2 * n)
    points = np.concatenate([ends, roots])
    one = clusters(points)
    seg, s, point = (np.concatenate(x) for x in zip(on_i, on_j, cross_i, cross_j, strict=True))
    cut, a, b, g = _cut(segs, points, seg, s, one[point], one[: 2 * n])
    return Pieces(segs=cut, a=a, b=b, parent=parent[g], same=_same(cut, a, b))


def _ends_on_curves(segs: Segments, i: Ints, j: Ints) -> tuple[Stops, Stops, Floats, Bools]:
    """Ends of j on i, ends of i on j; where (pairs, 4, 2; nan: no hit); which pairs run on one curve."""
    n = len(segs)
    at = np.full((len(i), 4, 2), np.nan)
    low, high = np.full(len(i), np.inf), np.full(len(i), -np.inf)
    stops: list[list[Stops]] = [[], []]
    for k in range(4):
        host, guest = (i, j) if k < 2 else (j, i)
        end = segs.q if k % 2 else segs.p
        s, off = segs.along(host, end[guest])
        hit = np.flatnonzero((np.abs(off) < SAME_MM) & (s > -SAME_MM) & (s < segs.length[host] + SAME_MM))
        stops[k // 2].append((host[hit], s[hit], guest[hit] + n * (k % 2)))
        at[hit, k] = end[guest[hit]]
        here = s[hit] if k < 2 else segs.length[i[hit]] * (k % 2)
        low[hit] = np.minimum(low[hit], here)
        high[hit] = np.maximum(high[hit], here)
    same = high - low > 10 * SAME_MM
    both = np.flatnonzero(same)
    middle = segs.at(i[both], (low[both] + high[both]) / 2)
    same[both] = np.abs(segs.along(j[both], middle)[1]) < SAME_MM
    on_i, on_j = (
        (np.concatenate([x[0] for x in y]), np.concatenate([x[1] for x in y]), np.concatenate([x[2] for x in y]))
        for y in stops
    )
    return on_i, on_j, at, same


def _crossings_within(segs: Segments, i: Ints, j: Ints, hit_at: Floats, first: int) -> tuple[Floats, Stops, Stops]:
    """Crossings within both segments, apart from the contacts of their ends that are known already."""
    pair, points, sine = crossings(segs, i, j)
    s, _ = segs.along(i[pair], points)
    t, _ = segs.along(j[pair], points)
    inside = (s > -SAME_MM) & (s < segs.length[i[pair]] + SAME_MM)
    inside &= (t > -SAME_MM) & (t < segs.length[j[pair]] + SAME_MM)
    k = np.flatnonzero(inside)
    pair, points, s, t, sine = pair[k], points[k], s[k], t[k], sine[k]
    # An end within SAME_MM of the other curve lies SAME_MM/sine from the crossing that it stands for.
    d = hit_at[pair] - points[:, None, :]
    known = np.hypot(d[..., 0], d[..., 1]) < (10 * SAME_MM + 2 * SAME_MM / np.maximum(sine, 1e-3))[:, None]
    new = np.flatnonzero(~known.any(axis=1))
    ids = np.arange(len(new)) + first
    return points[new], (i[pair[new]], s[new], ids), (j[pair[new]], t[new], ids)


def clusters(points: Floats, within: float = SAME_MM) -> Ints:
    """For each point the index of the first of those that are, link by link, within ``within`` of it."""
    key = points @ np.array([0.7986355, 0.6018150])  # a direction that no drawing prefers
    order = np.argsort(key, kind="stable")
    sorted_key, xy = key[order], points[order]
    links: list[tuple[Ints, Ints]] = []
    for step in range(1, len(points)):
        near = np.flatnonzero(sorted_key[step:] - sorted_key[:-step] <= 2 * within)
        if not len(near):
            break
        close = np.abs(xy[near + step] - xy[near]).max(axis=1) <= within
        links.append((order[near[close]], order[near[close] + step]))
    label = np.arange(len(points))
    if not links:
        return label
    a, b = (np.concatenate(x) for x in zip(*links, strict=True))
    while True:
        least = np.minimum(label[a], label[b])
        before = label.copy()
        np.minimum.at(label, a, least)
        np.minimum.at(label, b, least)
        label = label[label]
        if np.array_equal(label, before):
            return label


def _cut(
    segs: Segments, points: Floats, seg: Ints, s: Floats, stop: Ints, ends: Ints
) -> tuple[Segments, Ints, Ints, Ints]:
    """Pieces between neighbouring stops of each segment, the points they run between and whose they are."""
    n = len(segs)
    own = np.arange(n)
    length = segs.length
    s = np.clip(s, 0, length[seg])
    seg = np.concatenate([own, seg, own])
    rank = np.concatenate([np.full(n, -1.0), s, length + 1])
    stop = np.concatenate([ends[:n], stop, ends[n:]])
    order = np.lexsort((rank, seg))
    seg, rank, stop = seg[order], rank[order], stop[order]
    # Several stops at one point count once.
    keep = np.ones(len(seg), dtype=np.bool_)
    keep[1:] = (seg[1:] != seg[:-1]) | (stop[1:] != stop[:-1])
    seg, rank, stop = seg[keep], rank[keep], stop[keep]
    k = np.flatnonzero(seg[1:] == seg[:-1])
    g, a, b = seg[k], stop[k], stop[k + 1]
    p, q = points[a], points[b]
    run = np.clip(rank[k + 1], 0, length[g]) - np.clip(rank[k], 0, length[g])
    whole = np.bincount(g, minlength=n)[g] == 1
    bulge = np.where(whole, segs.bulge[g], segs.part_bulge(g, run, np.hypot(*(q - p).T)))
    return segments(p, q, bulge, segs.free[g]), a, b, g


def _same(segs: Segments, a: Ints, b: Ints) -> Ints:
    """For each piece the first of those that run between the same points a, b along the same curve."""
    low, high = np.minimum(a, b), np.maximum(a, b)
    bulge = np.where(a == low, segs.bulge, -segs.bulge)
    order = np.lexsort((bulge, high, low))
    chord = np.hypot(*(segs.q - segs.p).T)
    rise = (bulge * chord / 2)[order]
    fresh = np.ones(len(order), dtype=np.bool_)
    lo, hi = low[order], high[order]
    fresh[1:] = (lo[1:] != lo[:-1]) | (hi[1:] != hi[:-1]) | (np.diff(rise) > 2 * SAME_MM)
    first = np.arange(len(order))
    if not fresh.all():
        least = np.minimum.reduceat(order, np.flatnonzero(fresh))
        first[order] = least[np.cumsum(fresh) - 1]
    return first
