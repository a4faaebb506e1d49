"""Puts tasks in one order that keeps every reason: earliest days first, then as few changes as can be.

Fewest flips, then tool changes, on each machine (`order_visits`); nothing waits for glue or finish longer than it
must, since each task stands on the earliest day that those before it allow; then the stated ties: stay at the
clamping, what has the longest waits after it, the stage of the work, the name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.core.reasons import STRENGTH, Kind
from pipeline.core.recipe import Relaxed
from pipeline.workshop.order_relax import relaxed
from pipeline.workshop.order_ring import checked
from pipeline.workshop.order_visits import prices, visits
from pipeline.workshop.tasks import Link, Task, days_of, natural


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A task in its place: why it stands there (words, kind, the caution's name where it is one), what the caution
    costs in words, the earliest day, and what is to be said of its visit to the machine."""

    task: Task
    because: str
    kind: Kind
    caution: str
    price: str
    day: int
    visit: str


def arranged(tasks: Iterable[Task], links: Iterable[Link], relax: Sequence[Relaxed] = ()) -> tuple[Line, ...]:
    """The tasks in order, each with the reason that holds it where it stands.

    That reason is one of safety where there is any; else a caution that costs something; else that of the last
    done of those it waits for. Raises Refused when tasks wait for one another, ValueError when a link names none.
    """
    tasks, links = tuple(tasks), tuple(links)
    known = {t.key for t in tasks}
    for link in links:
        if link.before not in known or link.after not in known:
            raise ValueError(f"a link from {link.before} to {link.after} names an unknown task")
    todo, kept, notes = relaxed(tasks, links, relax)
    by_key = {t.key: t for t in todo}
    order = checked(by_key, kept)
    days = days_of(order, kept)
    tails = _tails(order, kept)
    ranked = _ranked(todo, tails)
    found = visits(ranked, kept, days)
    paid = prices(found, order, kept, days)
    chain = [(a, b) for v in found for a, b in pairwise(v.order)]
    said = {key: v.words for v in found for key in v.order}
    done: dict[str, int] = {}
    lines = []
    for task in _listed(ranked, [(x.before, x.after) for x in kept] + chain, days, tails):
        because, kind, caution = _reason(task, [x for x in kept if x.after == task.key], done, paid)
        done[task.key] = len(done)
        lines.append(
            Line(
                task=task,
                because="; ".join((because, *notes.get(task.key, ()))),
                kind=kind,
                caution=caution,
                price=paid.get((task.key, caution), "") if caution else "",
                day=days[task.key],
                visit=said.get(task.key, ""),
            )
        )
    return tuple(lines)


def _ranked(tasks: Sequence[Task], tails: Mapping[str, int]) -> list[Task]:
    """What has the longest waits after it first, then by stage, then by name; what is clamped together counts as
    one there, so that a sheet is worked in the order of its keys, whatever its pieces are for."""

    def bed(t: Task) -> tuple[str, str]:
        return (t.who, t.clamping) if t.clamping else ("", t.key)

    beds: dict[tuple[str, str], tuple[int, int]] = {}
    for t in tasks:
        wait, stage = beds.get(bed(t), (0, t.stage))
        beds[bed(t)] = (min(wait, -tails[t.key]), min(stage, t.stage))
    return sorted(tasks, key=lambda t: (*beds[bed(t)], natural(t.key)))


def _tails(order: Sequence[Task], links: Iterable[Link]) -> dict[str, int]:
    """Hours of waiting that come with and after each task, along the longest way."""
    after: dict[str, list[str]] = {t.key: [] for t in order}
    for link in links:
        after[link.before].append(link.after)
    found: dict[str, int] = {}
    for task in reversed(order):
        found[task.key] = task.hours + max((found[a] for a in after[task.key]), default=0)
    return found


def _listed(
    ranked: Sequence[Task],
    pairs: Iterable[tuple[str, str]],
    days: Mapping[str, int],
    tails: Mapping[str, int],
) -> list[Task]:
    """The tasks as they are done: of those that are ready one of the earliest day; of those one at the clamping,
    under the headline in hand; else one with the longest waits after it, on the machine in hand, first by rank."""
    waits: dict[str, set[str]] = {t.key: set() for t in ranked}
    for a, b in pairs:
        waits[b].add(a)
    left = dict(enumerate(ranked))
    done: list[Task] = []
    clamping = group = machine = ""

    def rank(entry: tuple[int, Task]) -> tuple[int | bool, ...]:
        n, t = entry
        return (
            days[t.key], t.clamping != clamping or not clamping, t.group != group, -tails[t.key],
            bool(machine) and (t.who if t.clamping else "") != machine, n,
        )  # fmt: skip

    while left:
        n, task = min(((n, t) for n, t in left.items() if not waits[t.key]), key=rank)
        done.append(task)
        clamping, group, machine = task.clamping, task.group, task.who if task.clamping else ""
        del left[n]
        for keys in waits.values():
            keys.discard(task.key)
    return done


def _reason(
    task: Task, links: Sequence[Link], done: Mapping[str, int], paid: Mapping[tuple[str, str], str]
) -> tuple[str, Kind, str]:
    if not links:
        return task.because, task.kind, task.caution if task.kind == "quality" else ""
    told = max(
        links,
        key=lambda x: (
            x.reason.kind == "safety",
            (task.key, x.reason.name) in paid,
            done[x.before],
            -STRENGTH.index(x.reason.kind),
        ),
    )
    return told.words, told.reason.kind, told.reason.name if told.reason.kind == "quality" else ""
