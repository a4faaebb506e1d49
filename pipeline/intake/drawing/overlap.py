"""Open lines that lie partly or wholly on each other: collinear lines and co-circular arcs become one
(trade.md 1.8). Other curves are one only where the same curve is drawn twice."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeGuard

import shapely

from pipeline.intake.drawing.contours import ROUND_MM
from pipeline.intake.drawing.same import SAME_MM
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, Subpath, box


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two segments became one: ``length`` mm of them lay on each other, in the middle ``at``."""

    length: float
    at: complex


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A segment and where it stands: (path, place in the path) of everything that went into it."""

    segment: Segment
    origins: tuple[tuple[int, int], ...]


def without_overlaps(paths: Sequence[Subpath]) -> tuple[tuple[Subpath, ...], tuple[Overlap, ...]]:
    """Open paths with what lies on each other (within SAME_MM) united; paths without overlaps are untouched.

    A path that runs back on itself (a spike) is left as it is.
    """
    drawn = [_Drawn(s, ((n, k),)) for n, p in enumerate(paths) for k, s in enumerate(p.segments)]
    if len(drawn) < 2:
        return tuple(paths), ()
    boxes = shapely.box(*zip(*(_bounds(d.segment) for d in drawn), strict=True))
    i, j = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    near: dict[int, set[int]] = {}
    for a, b in zip(i.tolist(), j.tolist(), strict=True):
        if a != b:
            near.setdefault(a, set()).add(b)
    live = dict(enumerate(drawn))
    touched: set[int] = set()
    overlaps: list[Overlap] = []
    todo = sorted(near, reverse=True)
    while todo:
        a = todo.pop()
        if a not in live:
            continue
        for b in sorted(near[a]):
            found = _united(live[a], live[b]) if b in live else None
            if found is not None:
                live[a], overlap = found
                overlaps.append(overlap)
                touched |= {a, b}
                near[a] |= near[b]
                near[a] -= {a, b}
                del live[b]
                todo.append(a)
                break
    if not overlaps:
        return tuple(paths), ()
    return _runs(paths, drawn, live, touched), tuple(overlaps)


def _bounds(s: Segment) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = box([Subpath((s,), False)]) or (0.0, 0.0, 0.0, 0.0)
    return x0 - SAME_MM, y0 - SAME_MM, x1 + SAME_MM, y1 + SAME_MM


def _runs(
    paths: Sequence[Subpath], drawn: Sequence[_Drawn], live: dict[int, _Drawn], touched: set[int]
) -> tuple[Subpath, ...]:
    """The paths again, cut where one of their segments was united with another."""
    found: list[Subpath] = []
    at = 0
    for path in paths:
        span = range(at, at + len(path.segments))
        at += len(path.segments)
        if not touched.intersection(span):
            found.append(path)
            continue
        run: list[Segment] = []
        for n in span:
            if n not in touched:
                run.append(drawn[n].segment)
                continue
            if run:
                found.append(Subpath(tuple(run), False))
                run = []
            if n in live:
                s = live[n].segment
                found.append(Subpath((s,), s.p == s.q))
        if run:
            found.append(Subpath(tuple(run), False))
    return tuple(found)


def _united(a: _Drawn, b: _Drawn) -> tuple[_Drawn, Overlap] | None:
    """Two segments as one, in the longer one's form; None when they don't lie on each other."""
    if any(m == n for m, _ in a.origins for n, _ in b.origins) and not _same_way(a.segment, b.segment):
        return None
    one, two = a.segment, b.segment
    made: tuple[Segment, Overlap] | None = None
    if isinstance(one, Line) and isinstance(two, Line):
        long, short = (one, two) if abs(one.q - one.p) >= abs(two.q - two.p) else (two, one)
        made = _line(long, short)
    elif _round(one) and _round(two):
        long_, short_ = (one, two) if _arc_length(one) >= _arc_length(two) else (two, one)
        made = _arc(long_, short_)
    elif _same_curve(one, two):
        made = one, Overlap(abs(one.q - one.p), (one.p + one.q) / 2)
    return (_Drawn(made[0], a.origins + b.origins), made[1]) if made else None


def _same_way(a: Segment, b: Segment) -> bool:
    if isinstance(a, Bow) and isinstance(b, Bow):
        return a.bulge * b.bulge > 0
    return ((a.q - a.p).conjugate() * (b.q - b.p)).real > 0


def _line(long: Line, short: Line) -> tuple[Line, Overlap] | None:
    length = abs(long.q - long.p)
    if length <= SAME_MM:
        return None
    u = (long.q - long.p) / length
    ends = []
    for z in (short.p, short.q):
        along = (z - long.p) * u.conjugate()
        if abs(along.imag) > SAME_MM:
            return None
        ends.append((along.real, z))
    (low, low_at), (high, high_at) = sorted(ends, key=lambda e: e[0])
    start, stop = max(low, 0.0), min(high, length)
    if stop - start <= SAME_MM:
        return None
    p = low_at if low < 0 else long.p
    q = high_at if high > length else long.q
    return Line(p, q), Overlap(stop - start, long.p + u * (start + stop) / 2)


def _arc(long: Bow, short: Bow) -> tuple[Bow, Overlap] | None:
    """Angles count from the long arc's start in its own direction."""
    radius = abs(long.u)
    if any(abs(abs(z - long.centre) - radius) > SAME_MM for z in (short.p, short.at(0.5), short.q)):
        return None
    if short.bulge * long.bulge < 0:
        short = short.reversed()
    whole = 2 * math.pi
    turn, way = math.copysign(1.0, long.bulge), math.copysign(1.0, long.sweep)
    sweep, slack = abs(long.sweep), SAME_MM / radius
    start = (turn * cmath.phase((short.p - long.centre) / (long.p - long.centre))) % whole
    shared = 0.0
    low, high, middle = 0.0, sweep, 0.0
    first, last = long.p, long.q
    for begin in (start, start - whole):  # the short one may reach round to the long one's start
        end = begin + abs(short.sweep)
        common = min(end, sweep) - max(begin, 0.0)
        if common <= slack:
            continue
        shared += common
        middle = (min(end, sweep) + max(begin, 0.0)) / 2
        if begin < low:
            low, first = begin, short.p
        if end > high:
            high, last = end, short.q
    if not shared:
        return None
    at = long.centre + (long.p - long.centre) * cmath.rect(1.0, turn * middle)
    overlap = Overlap(shared * radius, at)
    if high - low >= whole - slack:
        return Bow(long.p, long.p, long.centre, long.u, long.v, long.start, way * whole), overlap
    begin = long.start + way * low
    return Bow(first, last, long.centre, long.u, long.v, begin, way * (high - low)), overlap


def _round(s: Segment) -> TypeGuard[Bow]:
    return isinstance(s, Bow) and s.roundness <= ROUND_MM


def _arc_length(s: Bow) -> float:
    return abs(s.u) * abs(s.sweep)


def _same_curve(a: Segment, b: Segment) -> bool:
    """The same cubic or elliptic arc, in either direction."""
    if isinstance(a, Cubic) and isinstance(b, Cubic):
        p, q = (a.p, a.c1, a.c2, a.q), (b.p, b.c1, b.c2, b.q)
    elif isinstance(a, Bow) and isinstance(b, Bow):
        p, q = ((s.p, s.at(1 / 3), s.at(2 / 3), s.q) for s in (a, b))
    else:
        return False
    return any(all(abs(x - y) <= SAME_MM for x, y in zip(p, r, strict=True)) for r in (q, q[::-1]))
