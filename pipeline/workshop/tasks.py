"""Tasks and links of the order of work, as they are gathered before they are put in order."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pipeline.core.place import Place
from pipeline.core.reasons import REASONS, Kind, Reason

STOCK, CUT, GLUE, MACHINE, HAND, FIT, FINISH = 0, 10, 20, 30, 40, 50, 60
"""Stages: roughly when a task comes where nothing else decides."""
HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do. ``clamping`` is the set-up it is done in (empty: no machine holds it), ``group`` the
    headline it stands under, ``stage`` roughly when it comes; ``steps`` are the recipe's steps that it is for.
    ``because`` and ``kind`` are told when nothing comes before it. ``caution`` names the reason for which it is
    done at all, and ``hours`` is how long all that follows has to wait then."""

    key: str
    work: str
    stage: int
    clamping: str = ""
    piece: str = ""
    face: str = ""
    cutter: str = ""
    who: str = "maker"
    group: str = ""
    because: str = ""
    kind: Kind = "must"
    caution: str = ""
    hours: int = 0
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """``before`` comes before ``after`` because of ``reason``, in its own words unless ``because`` has others.
    ``place`` is where the recipe asks for it."""

    before: str
    after: str
    reason: Reason
    because: str = ""
    place: Place | None = None

    @property
    def words(self) -> str:
        return self.because or self.reason.because


@dataclass(slots=True)
class Plan:
    """Tasks and links as they are gathered."""

    tasks: list[Task] = field(default_factory=list)
    links: list[Link] = field(default_factory=list)

    def add(self, task: Task, after: Iterable[str] = (), reason: str = "", because: str = "") -> str:
        """Adds a task that waits for others, by the name of the reason; gives its key."""
        self.tasks.append(task)
        self.wait(task.key, after, reason, because)
        return task.key

    def wait(self, key: str, after: Iterable[str], reason: str, because: str = "") -> None:
        self.links += [
            Link(before=b, after=key, reason=REASONS[reason], because=because) for b in dict.fromkeys(after)
        ]

    def last(self, piece: str) -> list[str]:
        """The tasks of a piece that no other one of it waits for."""
        mine = {t.key: None for t in self.tasks if t.piece == piece}
        held = {x.before for x in self.links if x.after in mine}
        return [k for k in mine if k not in held]


def natural(key: str) -> tuple[tuple[int, str], ...]:
    """A key by which names sort as people count: 2 before 10."""
    return tuple((int(x), "") if x.isdigit() else (-1, x) for x in re.split(r"(\d+)", key))


def days_of(order: Sequence[Task], links: Iterable[Link], free: frozenset[str] = frozenset()) -> dict[str, int]:
    """The earliest day of each task, from 1; tasks in ``free`` make nothing wait. ``order``: each after those
    that it waits for."""
    before: dict[str, list[str]] = {t.key: [] for t in order}
    for link in links:
        before[link.after].append(link.before)
    by_key = {t.key: t for t in order}
    found: dict[str, int] = {}
    for task in order:
        found[task.key] = max(
            (found[b] + (0 if b in free else by_key[b].hours // HOURS_A_DAY) for b in before[task.key]),
            default=1,
        )
    return found
