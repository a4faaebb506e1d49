"""Many layouts of the same parts: in several orders, and the best order varied; the best one is kept.

Where the parts fill their sheets, the best orders are varied step by step as long as the work that is allowed
lasts. Work is counted, never timed, and chance comes from fixed seeds: the same parts give the same layout.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from pipeline.workshop.search import PULLS, Job, Layout, Part, Room, Turn, Work

WORSE = 0.002
"""How much worse (as a share) a layout may be that the search goes on from."""
LONGER = 1.03
"""A layout that gets longer than the best by this factor is given up half way."""
FAR = 0.5
"""So often a part that lies at the far end is tried elsewhere, not just any."""
KEYS: tuple[Callable[[Part], float], ...] = (
    lambda p: p.ways[0].area,
    lambda p: p.ways[0].shape.length,
    lambda p: p.ways[0].size[0] * p.ways[0].size[1],
    lambda p: float(p.ways[0].shape.convex_hull.area),
    lambda p: p.ways[0].size[0],
    lambda p: p.ways[0].size[1],
    lambda p: max(p.ways[0].size),
)
"""Orders that are tried: large before small, by these measures."""


@dataclass(frozen=True, slots=True)
class Found:
    """A layout and the order that gives it."""

    order: list[Turn]
    layout: Layout

    @property
    def rank(self) -> tuple[int, int, int, float, float]:
        """Less is better: parts left out, sheets, spares left out, length, and the worth of it all."""
        return *self.layout.count, round(self.layout.length, 6), self.layout.worth


def first_layouts(job: Job) -> Iterator[Found]:
    """A layout for each order of KEYS, as long as there is work left; at least one."""
    seen: list[list[int]] = []
    for key in KEYS:
        order = sorted(range(len(job.parts)), key=lambda i: _rank(job.parts[i], key))
        if order in seen:
            continue
        seen.append(order)
        for pull in PULLS if len(order) > 1 else PULLS[:1]:
            turns: list[Turn] = [(i, -1, False, pull) for i in order]
            if (len(seen) > 1 or pull) and job.work.left <= 0:
                return
            made = job.run(turns)
            assert made is not None  # nothing stops it
            yield Found(turns, made)


def _rank(part: Part, key: Callable[[Part], float]) -> tuple[int, float, str, int]:
    return part.late, -round(key(part), 6), part.name, part.copy


def varied(job: Job, order: list[Turn], first: Layout, seed: int, go_on: Callable[[Layout], bool]) -> Found:
    """The best layout found by varying an order step by step, until ``go_on`` says no to the best so far."""
    draw = random.Random(seed).random
    best = Found(order, first)
    now = first
    while go_on(best.layout):
        changed, start = _changed(job, order, now, draw)
        if changed == order:
            job.work.left -= 1000
            continue
        stop = math.inf if best.layout.left_out else best.layout.length * LONGER
        made = job.run(changed, now, start, stop)
        if made is None:
            continue
        worst = now.worth * (1 + 2 * WORSE * max(0.0, draw() - 0.5))
        if made.count < now.count or (made.count == now.count and made.worth <= worst):
            order, now = changed, made
            if Found(changed, made).rank < best.rank:
                best = Found(changed, made)
    return best


def _changed(job: Job, order: list[Turn], now: Layout, draw: Callable[[], float]) -> tuple[list[Turn], int]:
    """An order with two parts exchanged, one moved, or one turned another way; and where it begins to differ.

    Half of the time the part is one that lies at the far end, and goes to an earlier place.
    """
    made = list(order)
    a, b = int(draw() * len(made)), int(draw() * len(made))
    kind = draw()
    if draw() < FAR:
        far = _far(now)
        part = far[int(draw() * len(far))]
        a = next(k for k, turn in enumerate(made) if turn[0] == part)
        b = int(draw() * (a + 1)) if kind < 0.7 else a
    one, two = made[a], made[b]
    if kind < 0.7 and (job.parts[one[0]].late != job.parts[two[0]].late or _alike(job, one, two)):
        return order, 0
    if kind < 0.35:
        made[a], made[b] = two, one
    elif kind < 0.7:
        made.insert(b, made.pop(a))
    else:
        way = -1 if draw() < 0.5 else int(draw() * len(job.parts[one[0]].ways))
        made[a] = (one[0], way, draw() < 0.5, PULLS[int(draw() * len(PULLS))] if draw() < 0.5 else one[3])
        b = a
    return made, min(a, b)


def _alike(job: Job, one: Turn, two: Turn) -> bool:
    return job.parts[one[0]].name == job.parts[two[0]].name and one[1:] == two[1:]


def _far(now: Layout) -> list[int]:
    """The parts that reach furthest on the last sheet: a quarter of them, at least two."""
    spots = sorted(now.filled[-1].spots, key=lambda s: -(s.x + s.way.size[0]))
    return [s.part for s in spots[: max(2, len(spots) // 4)]]


# -- how much work -----------------------------------------------------------------------------------
FIRST_WORK = 3e8
"""Bits touched in trying the orders: about a tenth of a second."""
WORK_A_PART = 2.5e8
MOST_WORK = 1.5e10
"""Work spent on varying, where that may save a sheet or the sheet is a strip: some seconds at most."""
STARTS = 4
"""So many of the first layouts are varied for a while, the best of those until the end."""


def laid_out(parts: Sequence[Part], rooms: Sequence[Room]) -> Layout:
    """The layout that is taken: always the same for the same parts and rooms, in any order."""
    job = Job(tuple(parts), tuple(rooms), Work(FIRST_WORK))
    made = best_layouts(job)
    if len(parts) < 3 or not _may_gain(job, made[0].layout):
        return made[0].layout
    return searched(job, made, min(MOST_WORK, WORK_A_PART * len(parts)))


def best_layouts(job: Job) -> list[Found]:
    """The layouts of all orders, the best first."""
    return sorted(first_layouts(job), key=lambda f: f.rank)


def searched(job: Job, made: Sequence[Found], budget: float) -> Layout:
    """The best that comes of varying the best few of ``made`` with so much work: half on trying each, half on the
    best of those."""
    tried = [
        varied(job, f.order, f.layout, n, _until(job, budget / 2 / STARTS)) for n, f in enumerate(made[:STARTS])
    ]
    best = min(range(len(tried)), key=lambda k: tried[k].rank)
    return varied(job, tried[best].order, tried[best].layout, STARTS + best, _until(job, budget / 2)).layout


def _until(job: Job, work: float) -> Callable[[Layout], bool]:
    job.work.left = work
    return lambda best: job.work.left > 0


def _may_gain(job: Job, layout: Layout) -> bool:
    """Could a better layout save a sheet, or does the length count alone?"""
    if any(math.isinf(r.size[0]) for r in job.rooms) or layout.left_out:
        return True
    return layout.count[1] > _least_sheets(job)


def _least_sheets(job: Job) -> int:
    """So many whole sheets are needed at least, by areas alone."""
    whole = {r.letter: r.size[0] * r.size[1] for r in job.rooms if not r.single}
    if not whole:
        return 0
    asked = [p for p in job.parts if not p.spare]
    bound = {x: sum(p.ways[0].area for p in asked if p.letters == (x,)) for x in whole}
    single = sum(r.size[0] * r.size[1] for r in job.rooms if r.single)
    every = sum(p.ways[0].area for p in asked) - single
    return max(
        sum(math.ceil(area / whole[x] - 1e-9) for x, area in bound.items()),
        math.ceil(every / max(whole.values()) - 1e-9),
    )
