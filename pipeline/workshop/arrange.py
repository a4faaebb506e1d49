"""Puts tasks in one order that keeps every reason, and stays at the same machine and tool where it can."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

STOCK, CUT, GLUE, MACHINE, HAND, FIT, FINISH = 0, 10, 20, 30, 40, 50, 60
"""Stages: roughly when a task comes where nothing else decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do. ``clamping`` is the piece and face that lie on the machine (or a place of work),
    ``stage`` says roughly when, smaller first; ``because`` is what is said when nothing binds it."""

    key: str
    work: str
    stage: int
    clamping: str = ""
    piece: str = ""
    face: str = ""
    cutter: str = ""
    who: str = "maker"
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """``before`` comes before ``after`` because …"""

    before: str
    after: str
    because: str


def arranged(tasks: Iterable[Task], links: Iterable[Link]) -> tuple[tuple[Task, str], ...]:
    """The tasks in order, each with the reason of the link that holds it where it stands.

    Of the tasks that are ready the next is one on the same clamping, else of the earliest stage; of
    those one with the same cutter, then by key. The reason is that of the last
    done of those it waits for. Raises ValueError when tasks wait for one another or a link names none.
    """
    todo = {t.key: t for t in tasks}
    waits: dict[str, dict[str, str]] = {key: {} for key in todo}
    for link in links:
        if link.before not in todo or link.after not in todo:
            raise ValueError(f"a link from {link.before} to {link.after} names an unknown task")
        waits[link.after].setdefault(link.before, link.because)
    done: dict[str, int] = {}
    order: list[tuple[Task, str]] = []
    clamping = cutter = ""
    while todo:
        ready = [t for t in todo.values() if all(b in done for b in waits[t.key])]
        if not ready:
            raise ValueError(f"these tasks wait for one another: {', '.join(sorted(todo))}")
        task = min(
            ready,
            key=lambda t: (
                t.clamping != clamping or not clamping,
                t.stage,
                t.cutter != cutter,
                t.clamping,
                t.key,
            ),
        )
        last = max(waits[task.key], key=lambda b: done[b], default="")
        order.append((task, waits[task.key].get(last, task.because)))
        done[task.key] = len(done)
        clamping, cutter = task.clamping, task.cutter
        del todo[task.key]
    return tuple(order)
