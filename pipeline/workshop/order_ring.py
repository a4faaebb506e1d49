"""Tasks that wait for one another: the ring is walked by name, each link with its reason and kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.core.errors import Problem, Refused
from pipeline.workshop.tasks import Link, Task


def checked(tasks: Mapping[str, Task], links: Sequence[Link]) -> list[Task]:
    """The tasks, each after all that it waits for. Raises Refused with the walk round a ring if there is one."""
    after: dict[str, list[Link]] = {key: [] for key in tasks}
    waits = dict.fromkeys(tasks, 0)
    for link in links:
        after[link.before].append(link)
        waits[link.after] += 1
    ready = [key for key, n in waits.items() if not n]
    for key in ready:
        for link in after[key]:
            waits[link.after] -= 1
            if not waits[link.after]:
                ready.append(link.after)
    if len(ready) < len(tasks):
        raise Refused(_problem(tasks, _ring({key: after[key] for key in sorted(tasks) if waits[key]}, waits)))
    return [tasks[key] for key in ready]


def _ring(after: Mapping[str, list[Link]], waits: Mapping[str, int]) -> list[Link]:
    """The shortest ring that goes through a link that the recipe can change, else the shortest of all.

    Ties go to the name that comes first.
    """
    found: list[tuple[bool, int, list[Link]]] = []
    for start in after:
        for first in after[start]:
            way = _way(after, first.after, start) if waits[first.after] else None
            if way is not None:
                ring = [first, *way]
                found.append((not any(_loose(x) for x in ring[:1]), len(ring), ring))
    return min(found, key=lambda f: f[:2])[2]


def _way(after: Mapping[str, list[Link]], start: str, end: str) -> list[Link] | None:
    """The shortest way along the links, breadth first; empty when it is already there."""
    came: dict[str, Link] = {}
    queue = [start]
    for key in queue:
        if key == end:
            way: list[Link] = []
            while key != start:
                way.append(came[key])
                key = came[key].before
            return way[::-1]
        for link in after.get(key, ()):
            if link.after in after and link.after not in came and link.after != start:
                came[link.after] = link
                queue.append(link.after)
    return None


def _loose(link: Link) -> bool:
    return link.reason.kind == "quality"


def _problem(tasks: Mapping[str, Task], ring: list[Link]) -> Problem:
    def name(key: str) -> str:
        task = tasks[key]
        tail = ", ".join(x for x in (task.piece, task.face) if x)
        return f'"{task.work}{f" ({tail})" if tail else ""}"'

    walk = "; ".join(
        f"{name(x.before)} comes before {name(x.after)}, because {x.words} ({x.reason.kind})" for x in ring
    )
    asked = [x for x in ring if x.place is not None]
    cautions = dict.fromkeys(x.reason.name for x in ring if _loose(x) and x.place is None)
    ways = [f"take out the `after:` at {x.place}" for x in asked]
    ways += [f"leave out the caution by `relax: [{{caution: {c}, because: …}}]`" for c in cautions]
    return Problem(
        wrong=f"The order of work goes in a ring, so none of these can be done first: {walk}.",
        place=asked[0].place if asked else None,
        expected="an order in which the work can be done",
        remedy=", or ".join(ways),
    )
