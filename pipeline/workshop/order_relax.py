"""Cautions that the recipe leaves out: their links go, and tasks that are done for them alone."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.reasons import REASONS
from pipeline.core.recipe import Relaxed
from pipeline.workshop.tasks import Link, Task


def relaxed(
    tasks: Sequence[Task], links: Sequence[Link], relax: Sequence[Relaxed]
) -> tuple[tuple[Task, ...], tuple[Link, ...], dict[str, tuple[str, ...]]]:
    """Tasks and links that stay, and what is said of it at the tasks that come earlier for it, by key.

    What a task that goes waited for is then waited for by all that waited for it.
    """
    notes: dict[str, dict[str, None]] = {}
    by_key = {t.key: t for t in tasks}
    left: list[Task] = []
    kept = list(links)
    for task in tasks:
        entry = _entry(relax, task.caution, task.steps)
        if entry is None:
            left.append(task)
            continue
        before = [x for x in kept if x.after == task.key]
        after = [x for x in kept if x.before == task.key]
        for x in after:
            words = f'the recipe leaves out "{task.work}" ({task.caution}): {entry.because}'
            notes.setdefault(x.after, {})[words] = None
        kept = [x for x in kept if task.key not in (x.before, x.after)]
        kept += [Link(before=b.before, after=a.after, reason=REASONS["made"]) for b in before for a in after]
    stay = []
    for x in kept:
        entry = _entry(relax, x.reason.name, (*by_key[x.before].steps, *by_key[x.after].steps))
        if entry is None or x.reason.kind != "quality":
            stay.append(x)
        else:
            words = f"the recipe lets it come before its time ({x.reason.name}): {entry.because}"
            notes.setdefault(x.after, {})[words] = None
    return tuple(left), tuple(stay), {key: tuple(words) for key, words in notes.items()}


def idle(tasks: Sequence[Task], links: Sequence[Link], relax: Sequence[Relaxed]) -> tuple[Relaxed, ...]:
    """The entries that leave nothing out in this design."""
    steps = {t.key: t.steps for t in tasks}
    met = [(t.caution, t.steps) for t in tasks if t.caution]
    met += [(x.reason.name, (*steps[x.before], *steps[x.after])) for x in links if x.reason.kind == "quality"]
    return tuple(r for r in relax if not any(_entry((r,), name, of) for name, of in met))


def _entry(relax: Sequence[Relaxed], caution: str, steps: Sequence[str]) -> Relaxed | None:
    return next((r for r in relax if caution and r.caution == caution and (not r.of or r.of in steps)), None)
