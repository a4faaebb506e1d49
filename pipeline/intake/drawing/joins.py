"""Open paths whose ends meet: joined where the gap is at most JOIN_MM (trade.md 1.8), never moved further."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.intake.drawing.segments import Bow, Line, Segment, Subpath

JOIN_MM = 0.05
"""Ends nearer than this are joined; what is wider stays open."""
SAME_MM = 1e-6
"""Ends nearer than this are one point: nothing needs telling."""
CLOSING_MM = 0.005
"""A closing line shorter than this comes from rounded coordinates; the end before it is moved instead."""


@dataclass(frozen=True, slots=True)
class Joined:
    """``paths`` after joining; ``gaps`` (mm) of those that were more than a rounding; ``forks`` are points
    where three or more ends meet, which stay as they are."""

    paths: tuple[Subpath, ...]
    gaps: tuple[float, ...]
    forks: tuple[complex, ...] = ()


def closed_up(path: Subpath) -> Joined:
    """One subpath, closed when its ends lie within JOIN_MM."""
    if path.closed:
        last = path.segments[-1]
        short = isinstance(last, Line) and SAME_MM < abs(last.q - last.p) <= CLOSING_MM
        if short and len(path.segments) > 1:
            before = path.segments[-2]
            end = _ended(before, last.q)
            return Joined((Subpath((*path.segments[:-2], end), True),), (abs(last.q - last.p),))
        return Joined((path,), ())
    reach = sum(abs(s.q - s.p) for s in path.segments)
    alone = len(path.segments) == 1 and isinstance(path.segments[0], Line)
    if path.gap > JOIN_MM or alone or 0 < reach <= 2 * JOIN_MM:
        return Joined((path,), ())
    end = _ended(path.segments[-1], path.start)
    gaps = (path.gap,) if path.gap > SAME_MM else ()
    return Joined((Subpath((*path.segments[:-1], end), True),), gaps)


def linked(paths: list[Subpath]) -> Joined:
    """Open subpaths chained where exactly two ends lie within JOIN_MM of each other, then closed up."""
    done = [closed_up(p) for p in paths]
    gaps = [g for j in done for g in j.gaps]
    closed = [p for j in done for p in j.paths if p.closed]
    open_ = [p for j in done for p in j.paths if not p.closed]
    if len(open_) < 2:
        return Joined((*closed, *open_), tuple(gaps))
    ends = [z for p in open_ for z in (p.start, p.end)]
    partner, forks = _partners(ends)
    used: set[int] = set()
    # Chains begin at a loose end where they have one, so that each is walked once.
    order = sorted(range(len(ends)), key=lambda i: (partner[i] >= 0, i))
    for first in order:
        if first // 2 in used:
            continue
        run: list[Segment] = []
        at = first
        while at // 2 not in used:
            used.add(at // 2)
            piece = open_[at // 2] if at % 2 == 0 else open_[at // 2].reversed()
            if run:
                gap = abs(run[-1].q - piece.start)
                if gap > SAME_MM:
                    gaps.append(gap)
                run[-1] = _ended(run[-1], piece.start)
            run.extend(piece.segments)
            across = partner[at ^ 1]
            if across < 0:
                break
            at = across
        whole = closed_up(Subpath(tuple(run), False))
        gaps += whole.gaps
        (closed if whole.paths[0].closed else open_).append(whole.paths[0])
    return Joined((*closed, *open_[len(ends) // 2 :]), tuple(gaps), tuple(forks))


def _partners(ends: list[complex]) -> tuple[list[int], list[complex]]:
    """For each end the one other end within JOIN_MM, −1 for none or several; and where several are."""
    points = shapely.points([(z.real, z.imag) for z in ends])
    tree = shapely.STRtree(points)
    i, j = tree.query(points, predicate="dwithin", distance=JOIN_MM)
    near: list[list[int]] = [[] for _ in ends]
    for a, b in zip(i.tolist(), j.tolist(), strict=True):
        if a != b:
            near[a].append(b)
    partner = [n[0] if len(n) == 1 and len(near[n[0]]) == 1 else -1 for n in near]
    crowd = [ends[k] for k, n in enumerate(near) if len(n) > 1]
    forks: list[complex] = []
    for z in crowd:
        if not forks or np.min(np.abs(np.array(forks) - z)) > 4 * JOIN_MM:
            forks.append(z)
    return partner, forks


def _ended(s: Segment, q: complex) -> Segment:
    """The segment with its end at ``q``, a tiny way off."""
    if s.q == q:
        return s
    if isinstance(s, Bow) and abs(s.q - s.p) < 10 * abs(s.q - q):
        # Nearly a full turn: turned about its start it would swing far, so it becomes a full one.
        return Bow(s.p, q, s.centre, s.u, s.v, s.start, math.copysign(2 * math.pi, s.sweep))
    return s.moved_end(q)
