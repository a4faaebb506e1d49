"""Watch mode for the bench: build, then build again whenever a file that a design is made from is saved.

Files are looked at twice a second (a stat each, some milliseconds for hundreds); a save that goes on is waited
out. It ends with Ctrl-C.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator

from pipeline.core.answer import Answer

EVERY_S = 0.5
SETTLED_S = 0.2
"""A file that is still being written looks different so soon after."""
KINDS = (".yaml", ".yml", ".svg", ".svgz", ".dxf", ".csv")
MOST_FILES = 5000
"""Files that are looked at; a project with more is watched by the first ones in order of their names."""

Seen = dict[str, tuple[int, int]]


def watch(
    paths: Iterable[str | os.PathLike[str]],
    build: Callable[[], Answer],
    say: Callable[[Answer, tuple[str, ...]], None],
    *,
    stop: Callable[[], bool] = lambda: False,
    every_s: float = EVERY_S,
) -> Answer:
    """Build at once and after each save, until ``stop`` says so; the last answer.

    ``say`` hears each answer with the files whose saving led to it (none for the first).
    """
    roots = _roots(paths)
    seen = files(roots)
    answer = build()
    say(answer, ())
    while not stop():
        time.sleep(every_s)
        now = files(roots)
        if now == seen:
            continue
        while not stop():
            time.sleep(SETTLED_S)
            later = files(roots)
            if later == now:
                break
            now = later
        saved = tuple(sorted(p for p in {*seen, *now} if seen.get(p) != now.get(p)))
        seen = now
        answer = build()
        say(answer, saved)
    return answer


def _roots(paths: Iterable[str | os.PathLike[str]]) -> tuple[str, ...]:
    """The project roots of recipes: where their drawings, shops and registers lie too."""
    from pathlib import Path

    from pipeline.intake.root import project_root

    given = [Path(os.path.abspath(p)) for p in paths]
    return tuple(dict.fromkeys(os.fspath(project_root(p / "any" if p.is_dir() else p)) for p in given))


def files(roots: Iterable[str]) -> Seen:
    """Size and time of every file that a design could be made from, packets and hidden folders left out."""
    seen: Seen = {}
    for path in _walk(roots):
        try:
            stat = os.stat(path)
        except OSError:
            continue
        seen[path] = (stat.st_size, stat.st_mtime_ns)
        if len(seen) >= MOST_FILES:
            break
    return seen


def _walk(roots: Iterable[str]) -> Iterator[str]:
    for root in roots:
        for folder, inner, names in os.walk(root):
            packet = "packet.json" in names
            inner[:] = sorted(n for n in inner if not packet and not n.startswith(".") and n != "issued")
            if not packet:
                yield from (os.path.join(folder, n) for n in sorted(names) if n.lower().endswith(KINDS))
