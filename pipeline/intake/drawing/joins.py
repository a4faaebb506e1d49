"""Open paths whose ends meet, by the three thresholds of trade.md 1.8: up to JOIN_MM joined and counted, up to
ASK_MM joined and asked about, wider ones left open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from pipeline.intake.drawing.bridge import Gap, bridged
from pipeline.intake.drawing.segments import Bow, Line, Segment, Subpath, box

JOIN_MM = 0.05
"""Ends nearer than this are joined by moving one of them."""
ASK_MM = 1.0
"""Ends nearer than this are joined too, but each is asked about; what is wider stays open."""
SAME_MM = 1e-6
"""Ends nearer than this are one point: nothing needs telling."""
CROWD = 60
"""So many ends in one spot are no drawing's joints: it is told as a fork, and not each of them is looked at."""
CLOSING_MM = 0.005
"""A closing line shorter than this comes from rounded coordinates; the end before it is moved instead."""


@dataclass(frozen=True, slots=True)
class Joined:
    """``paths`` after joining; the ``gaps`` that were more than a rounding; ``forks`` are points where
    three or more ends lie within ASK_MM of each other: they stay as they are."""

    paths: tuple[Subpath, ...]
    gaps: tuple[Gap, ...]
    forks: tuple[complex, ...] = ()


def closed_up(path: Subpath) -> Joined:
    """One subpath, closed when its ends lie within JOIN_MM."""
    if path.closed:
        last = path.segments[-1]
        short = isinstance(last, Line) and SAME_MM < abs(last.q - last.p) <= CLOSING_MM
        if short and len(path.segments) > 1:
            end = _ended(path.segments[-2], last.q)
            return Joined((Subpath((*path.segments[:-2], end), True),), (_moved(last.p, last.q),))
        return Joined((path,), ())
    if path.gap > JOIN_MM or not can_close(path, JOIN_MM):
        return Joined((path,), ())
    gaps = (_moved(path.end, path.start),) if path.gap > SAME_MM else ()
    end = _ended(path.segments[-1], path.start)
    return Joined((Subpath((*path.segments[:-1], end), True),), gaps)


def linked(paths: Sequence[Subpath]) -> Joined:
    """Subpaths chained where ends are each other's nearest: within JOIN_MM first, what is left within ASK_MM."""
    done = [closed_up(p) for p in paths]
    gaps = [g for j in done for g in j.gaps]
    closed = [p for j in done for p in j.paths if p.closed]
    open_ = [p for j in done for p in j.paths if not p.closed]
    forks: list[complex] = []
    for reach in (JOIN_MM, ASK_MM):
        if not open_ or forks:
            break
        ends = [z for p in open_ for z in (p.start, p.end)]
        near = _near(open_, ends, reach)
        partner, forks = _touching(ends, near) if reach == JOIN_MM else _facing(ends, near)
        chains, members, widths = _chained(open_, partner)
        if not forks and reach == JOIN_MM:
            forks = _at_joints(open_, chains, members)
        gaps += widths
        closed += [p for p in chains if p.closed]
        open_ = [p for p in chains if not p.closed]
    return Joined((*closed, *open_), tuple(gaps), tuple(forks))


def crowded(paths: Sequence[Subpath]) -> list[complex]:
    """The first end of open paths that lies in a square of JOIN_MM with more than CROWD others (none in an honest
    drawing)."""
    squares: dict[tuple[int, int], int] = {}
    for z in (z for p in paths for z in (p.start, p.end)):
        square = math.floor(z.real / JOIN_MM), math.floor(z.imag / JOIN_MM)
        squares[square] = squares.get(square, 0) + 1
        if squares[square] > CROWD:
            return [z]
    return []


# -- which ends belong together ---------------------------------------------------------------------
Near = list[list[tuple[float, int]]]
"""For each end (distance, other end), the nearest first."""


def _near(paths: Sequence[Subpath], ends: Sequence[complex], reach: float) -> Near:
    points = shapely.points([(z.real, z.imag) for z in ends])
    i, j = shapely.STRtree(points).query(points, predicate="dwithin", distance=reach)
    near: Near = [[] for _ in ends]
    for a, b in zip(i.tolist(), j.tolist(), strict=True):
        if a != b and (a ^ 1 != b or can_close(paths[a // 2], abs(ends[a] - ends[b]))):
            near[a].append((abs(ends[a] - ends[b]), b))
    return [sorted(n) for n in near]


def _touching(ends: Sequence[complex], near: Near) -> tuple[list[int], list[complex]]:
    """Partners within JOIN_MM, −1 for none, and forks. Two ends at one point belong together, so that pieces
    shorter than JOIN_MM hang together too; a third one there, or near there, makes a fork."""
    partner = [-1] * len(ends)
    forks = []
    for k, n in enumerate(near):
        here = [b for d, b in n if d <= SAME_MM]
        if len(here) == 1:
            partner[k] = here[0]
        elif here:
            forks.append(ends[k])
    chain = _chain_numbers(partner)
    free = [k for k, p in enumerate(partner) if p < 0]
    others = {k: [b for _, b in near[k] if partner[b] < 0 or chain[b] != chain[k]] for k in free}
    for k in free:
        if len(others[k]) > 1 or any(partner[b] >= 0 for b in others[k]):
            forks.append(ends[k])
    lonely = {k: o[0] for k, o in others.items() if len(o) == 1 and partner[o[0]] < 0}
    for k, b in lonely.items():
        if lonely.get(b) == k:
            partner[k] = b
    return partner, _apart(forks)


def _facing(ends: Sequence[complex], near: Near) -> tuple[list[int], list[complex]]:
    """Partners within ASK_MM: each other's nearest, where no third end lies within ASK_MM of both."""
    about = [{b for _, b in n} for n in near]
    forks = [ends[k] for k in range(len(ends)) if any(about[b] & about[k] for b in about[k])]
    nearest = [n[0][1] if n else -1 for n in near]
    partner = [b if b >= 0 and nearest[b] == k else -1 for k, b in enumerate(nearest)]
    return partner, _apart(forks)


def _at_joints(
    paths: Sequence[Subpath], chains: Sequence[Subpath], members: Sequence[Sequence[int]]
) -> list[complex]:
    """Loose ends within ASK_MM of two ends that are joined already, in another chain.

    What lies near a loose end of that other chain doesn't count: there the two may belong together.
    """
    loose = [() if c.closed else (c.start, c.end) for c in chains]
    joints = [
        (z, n)
        for n, m in enumerate(members)
        for k in m
        for z in (paths[k].start, paths[k].end)
        if len(m) > 1 and all(abs(z - e) > 2 * ASK_MM for e in loose[n])
    ]
    ends = [(z, n) for n, pair in enumerate(loose) for z in pair]
    if not joints or not ends:
        return []
    tree = shapely.STRtree(shapely.points([(z.real, z.imag) for z, _ in joints]))
    i, j = tree.query(shapely.points([(z.real, z.imag) for z, _ in ends]), predicate="dwithin", distance=ASK_MM)
    found = zip(i.tolist(), j.tolist(), strict=True)
    return _apart([ends[a][0] for a, b in found if ends[a][1] != joints[b][1]])


def _chain_numbers(partner: Sequence[int]) -> list[int]:
    """A number for each end: equal for ends of pieces that hang together."""
    number = [-1] * len(partner)
    for first in range(len(partner)):
        todo = [first]
        while todo:
            at = todo.pop()
            if number[at] < 0:
                number[at] = first
                todo += [b for b in (at ^ 1, partner[at]) if b >= 0]
    return number


def _apart(points: Sequence[complex]) -> list[complex]:
    """One point of each crowd."""
    far = 2 * ASK_MM
    kept: dict[tuple[int, int], list[complex]] = {}  # by squares, so that a crowd isn't compared with itself
    for z in points:
        x, y = math.floor(z.real / far), math.floor(z.imag / far)
        near = (k for dx in (-1, 0, 1) for dy in (-1, 0, 1) for k in kept.get((x + dx, y + dy), ()))
        if all(abs(z - k) > far for k in near):
            kept.setdefault((x, y), []).append(z)
    return [z for square in kept.values() for z in square]


def can_close(path: Subpath, gap: float) -> bool:
    """True when a path is large enough beside the gap between its ends that it was meant to close."""
    if len(path.segments) == 1 and isinstance(path.segments[0], Line):
        return False
    bounds = box([path])
    return bounds is not None and math.hypot(bounds[2] - bounds[0], bounds[3] - bounds[1]) > 2 * gap


# -- joining ----------------------------------------------------------------------------------------
def _chained(paths: Sequence[Subpath], partner: Sequence[int]) -> tuple[list[Subpath], list[list[int]], list[Gap]]:
    """The paths run together from end to partner, which of them are in each chain, and the gaps on the way."""
    chains: list[Subpath] = []
    members: list[list[int]] = []
    gaps: list[Gap] = []
    used: set[int] = set()
    # Chains begin at a loose end where they have one, so that each is walked once.
    for first in sorted(range(2 * len(paths)), key=lambda i: (partner[i] >= 0, i)):
        if first // 2 in used:
            continue
        run: list[Segment] = []
        members.append([])
        at = first
        while at >= 0 and at // 2 not in used:
            used.add(at // 2)
            members[-1].append(at // 2)
            piece = paths[at // 2] if at % 2 == 0 else paths[at // 2].reversed()
            if run:
                last, between, head, gap = _joint(run[-1], piece.segments[0])
                run[-1:] = [last, *between, head, *piece.segments[1:]]
                gaps += gap
            else:
                run.extend(piece.segments)
            at = partner[at ^ 1]
        closes = at == first
        if closes and len(run) > 1:
            last, between, head, gap = _joint(run[-1], run[0])
            run = [head, *run[1:-1], last, *between]
            gaps += gap
        elif closes:  # one segment: nearly a full turn, or a curve that comes back
            last, between, _, gap = _joint(run[0], run[0])
            run = [last, *between]
            gaps += gap
        chains.append(Subpath(tuple(run), closes))
    return chains, members, gaps


def _joint(before: Segment, after: Segment) -> tuple[Segment, tuple[Line, ...], Segment, tuple[Gap, ...]]:
    """Two segments brought together, with what stands between them and the gap that there was."""
    width = abs(after.p - before.q)
    if width > JOIN_MM:
        last, between, head, gap = bridged(before, after)
        return last, between, head, (gap,)
    return _ended(before, after.p), (), after, (_moved(before.q, after.p),) if width > SAME_MM else ()


def _moved(p: complex, q: complex) -> Gap:
    return Gap(abs(q - p), (p + q) / 2, "moved", abs(q - p))


def _ended(s: Segment, q: complex) -> Segment:
    """The segment with its end at ``q``, a tiny way off."""
    if s.q == q:
        return s
    if isinstance(s, Bow) and abs(s.q - s.p) < 10 * abs(s.q - q):
        # Nearly a full turn: turned about its start it would swing far, so it becomes a full one.
        return Bow(s.p, q, s.centre, s.u, s.v, s.start, math.copysign(2 * math.pi, s.sweep))
    return s.moved_end(q)
