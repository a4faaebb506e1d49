"""Leaving nothing in a region that nobody would draw: no vertex inside a line or an arc, no slivers."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.contour import Bools, Contour, Floats
from pipeline.geometry.region import EMPTY, Part, Region, region
from pipeline.geometry.segments import SAME_MM, Ints, Segments, joined, segments

Points = NDArray[np.complex128]

SLIVER_MM = 0.01
"""Parts and holes whose mean width is less than this are artefacts, not shapes: nobody can cut them, and
their flattened forms (FLATTEN_MM) might cross themselves at their flat tips."""
WHOLE_RAD = math.radians(340)
"""No arc is merged to sweep more than this."""
FINE_MM = 1e-7
"""How far a vertex may lie from the one curve that replaces its two segments, where these are free (their
chains follow the drawn curve to 50 nm); for lines and arcs as drawn it is SAME_MM."""


def tidy(shape: Region) -> tuple[Region, tuple[Contour, ...]]:
    """The region with segments merged, slivers dropped and start vertices normalised.

    The second value holds what was dropped as slivers (mean width under SLIVER_MM).
    """
    return tidied((p.outer, p.holes) for p in shape.parts)


def tidied(parts: Iterable[tuple[Contour, tuple[Contour, ...]]]) -> tuple[Region, tuple[Contour, ...]]:
    """As ``tidy``, from (outer, holes) in any orientation."""
    kept: list[list[Segments]] = []
    dropped: list[Contour] = []
    for outer, holes in parts:
        if is_sliver(outer):
            dropped += [outer, *holes]
            continue
        dropped += [h for h in holes if is_sliver(h)]
        rings = [_cleaned(outer, 1), *(_cleaned(h, -1) for h in holes if not is_sliver(h))]
        if rings[0] is not None:
            kept.append([r for r in rings if r is not None])
    if not kept:
        return EMPTY, tuple(dropped)
    pinned = _touching([r for rings in kept for r in rings])
    clean = ([_without_needless(r, pinned) for r in rings] for rings in kept)
    return region(Part(edge, tuple(inner)) for edge, *inner in clean), tuple(dropped)


def is_sliver(c: Contour) -> bool:
    """True when a closed contour encloses less than a strip of SLIVER_MM along half its length."""
    return abs(c.area) < SLIVER_MM * c.length / 2


def _cleaned(c: Contour, way: int) -> Segments | None:
    """A closed contour, anticlockwise for ``way`` 1 and clockwise for −1, without tiny segments; None when
    nothing is left of it."""
    if c.area * way < 0:
        c = c.reversed()
    segs = segments(c.starts, c.ends, c.bulges, c.free)
    long = segs.length > 10 * SAME_MM
    if not long.all():
        segs = _closed_up(segs[long])
    if len(segs) < 2 or (len(segs) == 2 and not segs.bulge.any()):
        return None
    return segs


def _closed_up(segs: Segments) -> Segments:
    """Segments whose ends are moved onto the next one's start, after tiny ones were taken out."""
    return segments(segs.p, np.roll(segs.p, -1, axis=0), segs.bulge, segs.free)


def _touching(rings: list[Segments]) -> Points:
    """Points (to a nanometre, as complex numbers) where edges touch without crossing: they stay
    vertices, or the flattened forms would cross there."""
    points, count = np.unique(np.concatenate([_point(r.p) for r in rings]), return_counts=True)
    touching: Points = points[count > 1]
    return touching


def _point(xy: Floats) -> Points:
    key = np.round(xy / SAME_MM)
    number: Points = key[:, 0] + 1j * key[:, 1]
    return number


def _without_needless(segs: Segments, pinned: Points) -> Contour:
    """The contour without vertices inside lines or arcs, from its lexicographically smallest vertex."""
    nxt = np.roll(np.arange(len(segs)), -1)
    with_next = _one_curve(segs, nxt)
    if len(pinned):
        with_next &= ~np.isin(_point(segs.q), pinned)
    if with_next.any():
        segs = _merged(segs, with_next)
    # The first vertex is chosen to a nanometre, so that noise has no say.
    start = int(np.argsort(_point(segs.p), kind="stable")[0])
    segs = segs[np.r_[start : len(segs), 0:start]]
    return Contour(segs.p + 0.0, segs.bulge + 0.0, segs.free)  # + 0.0: no negative zeros


def _one_curve(a: Segments, nxt: Ints) -> Bools:
    """Whether segment i and segment nxt[i] lie on one line or circle and run on in one direction."""
    n = len(a)
    i = np.arange(n)
    same: Bools = (a.free == a.free[nxt]) & (np.sign(a.bulge) == np.sign(a.bulge[nxt])) & (i != nxt)
    if not same.any():
        return same
    # Compare the next one's end and middle with this curve, and the other way round. A short arc says
    # little about its circle far away, so the measure is taken on the longer of the two.
    longer = np.where(a.length >= a.length[nxt], i, nxt)
    shorter = np.where(longer == i, nxt, i)
    slack = np.where(a.free, FINE_MM / 4, SAME_MM / 2)
    for pts in (a.p[shorter], a.q[shorter], a.middle[shorter]):
        off = a.along(longer, pts)[1]
        same &= np.abs(off) < slack
    r, s = a.radius, a.radius[nxt]
    same &= np.abs(r - s) <= 1e-6 * np.minimum(r, s)
    d, e = a.q - a.p, a.q[nxt] - a.p[nxt]
    same &= (a.bulge != 0) | (np.sum(d * e, axis=1) > 0)
    return same


def _merged(segs: Segments, with_next: Bools) -> Segments:
    n = len(segs)
    if with_next.all():
        # All on one circle: begin anywhere, the halves are cut afresh.
        return _whole_circle(segs)
    start = int(np.flatnonzero(~with_next)[0] + 1) % n
    order = np.roll(np.arange(n), -start)
    segs, with_next = segs[order], with_next[order]
    ends = np.flatnonzero(~with_next)
    starts = np.concatenate([[0], ends[:-1] + 1])
    out: list[Segments] = []
    at = 0
    for s, e in zip(starts.tolist(), ends.tolist(), strict=True):
        if s == e:
            continue
        out += [segs[at:s], _one(segs[s : e + 1])]
        at = e + 1
    return joined([*out, segs[at:]])


def _one(run: Segments) -> Segments:
    """A run on one curve as one segment, or in halves where it would be too long or would drift off."""
    if len(run) == 1:
        return run
    sweep = float(run.sweep.sum())
    p, q = run.p[:1], run.q[-1:]
    if abs(sweep) <= WHOLE_RAD:
        bulge = np.array([math.tan(sweep / 4)])
        one = segments(p, q, bulge, run.free[:1])
        off = one.along(np.zeros(len(run) - 1, dtype=np.int64), run.q[:-1])[1]
        if np.abs(off).max() < (FINE_MM if run.free[0] else SAME_MM):
            return one
        if len(run) == 2:
            return run
    half = len(run) // 2
    return joined([_one(run[:half]), _one(run[half:])])


def _whole_circle(segs: Segments) -> Segments:
    """Two half arcs, from the leftmost point."""
    weight = segs.length / segs.length.sum()
    c = (segs.centre * weight[:, None]).sum(axis=0)
    r = float((segs.radius * weight).sum())
    p: Floats = np.array([[c[0] - r, c[1]], [c[0] + r, c[1]]])
    return segments(p, p[::-1].copy(), np.full(2, np.sign(segs.bulge[0])), segs.free[:1].repeat(2))
