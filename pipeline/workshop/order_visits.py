"""Visits to machines: what is done there in one go, its best order, and what each caution costs.

A visit is all that one shop (or the maker at the bench) clamps on the same day with nothing from elsewhere needed
in between. Its operations are put in order by `order_search`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.workshop.order_search import Found, best_order
from pipeline.workshop.tasks import Link, Task, days_of


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFound:
    """One visit: its tasks' keys in order, what was found, what is said of it."""

    order: tuple[str, ...]
    listed: tuple[Task, ...]
    found: Found
    words: str


def visits(ranked: Sequence[Task], links: Sequence[Link], days: Mapping[str, int]) -> list[VisitFound]:
    """All visits, each in its best order; ``ranked`` breaks ties."""
    level = _levels(ranked, links)
    rooms: dict[tuple[str, int, int], list[Task]] = {}
    for task in ranked:
        if task.clamping:
            rooms.setdefault((task.who, days[task.key], level[task.key]), []).append(task)
    return [_visit(tasks, links) for tasks in rooms.values()]


def _levels(tasks: Sequence[Task], links: Sequence[Link]) -> dict[str, int]:
    """How many visits come before each task, its own included: one more wherever the work leaves a machine."""
    before: dict[str, list[str]] = {t.key: [] for t in tasks}
    for link in links:
        before[link.after].append(link.before)
    by_key = {t.key: t for t in tasks}
    found: dict[str, int] = {}

    def level(key: str) -> int:
        if key not in found:
            task = by_key[key]
            found[key] = max(
                (
                    level(b) + (bool(task.clamping) and not (by_key[b].clamping and by_key[b].who == task.who))
                    for b in before[key]
                ),
                default=int(bool(task.clamping)),
            )
        return found[key]

    for task in tasks:
        level(task.key)
    return found


def _visit(listed: Sequence[Task], links: Sequence[Link]) -> VisitFound:
    found = _ordered(listed, links)
    order = [listed[i] for i in found.order]
    return VisitFound(
        order=tuple(t.key for t in order), listed=tuple(listed), found=found, words=_words(order, found)
    )


def _ordered(listed: Sequence[Task], links: Sequence[Link]) -> Found:
    place = {t.key: i for i, t in enumerate(listed)}
    pairs = [(place[x.before], place[x.after]) for x in links if x.before in place and x.after in place]
    return best_order([(t.clamping, t.cutter) for t in listed], pairs)


def _words(order: Sequence[Task], found: Found) -> str:
    """How often things change, and whether it could be less; empty where nothing changes."""
    pairs = pairwise(order)
    flips = sum(a.clamping != b.clamping and a.piece == b.piece for a, b in pairs)
    if not found.set_ups and not found.tools:
        return ""
    parts = [_count(found.set_ups + 1, "set-up"), _count(flips, "flip"), _count(found.tools, "tool change")]
    how = "no order has fewer" if found.exact else "by rule of thumb, since more than 20 operations come together"
    return f"{', '.join(p for p in parts if p)}: {how}"


def _count(n: int, word: str) -> str:
    return f"{n} {word}{'' if n == 1 else 's'}" if n else ""


# -- what a caution costs ----------------------------------------------------------------------------
def prices(
    found: Sequence[VisitFound], order: Sequence[Task], links: Sequence[Link], days: Mapping[str, int]
) -> dict[tuple[str, str], str]:
    """What is said of cautions that cost something, by (key of the first task that they hold back, name).

    Each is tried without: the flips, set-ups and tool changes that are then saved on the machine, and the days.
    """
    told: dict[tuple[str, str], str] = {}
    for visit in found:
        groups: dict[tuple[str, str], list[Link]] = {}
        by_key = {t.key: t for t in visit.listed}
        for x in links:
            if x.reason.kind == "quality" and x.before in by_key and x.after in by_key:
                groups.setdefault((x.reason.name, _subject(by_key[x.after], x)), []).append(x)
        for (name, _), mine in groups.items():
            freed = _ordered(visit.listed, [x for x in links if x not in mine])
            saved = visit.found.set_ups - freed.set_ups, visit.found.tools - freed.tools
            if visit.found.exact and freed.exact and saved > (0, 0):
                key = min((x.after for x in mine), key=visit.order.index)
                told[key, name] = _cost(saved)
    last = max(days.values(), default=0)
    for task in order:
        if task.caution and task.hours:
            less = last - max(days_of(order, links, frozenset((task.key,))).values())
            if less:
                told[task.key, task.caution] = f"this caution costs {_count(less, 'day')} of waiting"
    return told


def _subject(task: Task, link: Link) -> str:
    """What a caution is about: for one that the recipe asks for its place there, else the piece."""
    return str(link.place) if link.place else task.piece


def _cost(saved: tuple[int, int]) -> str:
    set_ups, tools = saved
    if not set_ups:
        return f"this caution costs {_count(tools, 'tool change')}"
    more = f" and {_count(tools, 'tool change')}" if tools > 0 else ""
    less = f", and saves {_count(-tools, 'tool change')}" if tools < 0 else ""
    return f"this caution costs {_count(set_ups, 'more set-up')}{more}{less}"
