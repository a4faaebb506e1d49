"""Many designs at once: whole recipes in coarse chunks, on the cores here or on a Dask cluster.

A worker does with each recipe what a run without workers does; the packets are the same to the byte. Which recipes
belong to one chunk follows from their names alone, so it is the same on any machine.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pipeline.core.failures import MachineFailed
from pipeline.graph import stale
from pipeline.graph.run import Run
from pipeline.path import as_before, one

LARGEST = 16
"""Recipes in a chunk at most: a lost worker costs no more than these."""
CHUNKS = 4
"""Chunks a worker gets over a run, so that one with slow designs doesn't keep the others waiting at the end."""
TRIES = 3
"""A recipe whose process dies so often is told as failed."""
HEAD_BYTES = 65_536
_DESIGN = re.compile(rb"^design\s*:\s*[\"']?([A-Za-z0-9_-]+)", re.MULTILINE)

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """What one worker does in one go: recipes (absolute paths) in their order, into ``out``.

    ``shown`` are the paths as the person gave them, ``taken`` the packets that recipes before these make.
    """

    recipes: tuple[str, ...]
    shown: tuple[str, ...]
    out: str
    taken: tuple[tuple[str, str], ...]
    fresh: bool
    why: bool
    news: bool
    folder: str


def together(
    recipes: Sequence[str],
    out: str,
    run: Run,
    *,
    fresh: bool,
    why: bool,
    news: bool,
    jobs: int,
    engine: str,
    tell: Callable[[str, str], None] | None,
) -> list[Row]:
    """A row for each recipe, in their order. What is as it was is seen here; the rest goes to the workers.

    Raises MachineFailed when there is no scheduler at ``engine``.
    """
    rows: dict[str, Row] = {}
    taken: dict[str, str] = {}
    for path in recipes:
        reasons, last = stale.look(out=out, recipe=path, options={}, run=run)
        if last and not reasons and not fresh:
            rows[path] = as_before(path, last, taken)
    todo = [p for p in dict.fromkeys(recipes) if p not in rows]
    workers = workers_of(jobs)
    lots = chunks(todo, out=out, taken=taken, fresh=fresh, why=why, news=news, workers=workers)
    for chunk, made in afar(lots, engine) if engine else here(lots, workers):
        rows.update(zip(chunk.shown, made, strict=True))
        if tell:
            tell(f"{len(rows)} of {len(recipes)} designs", f"{stale.shown(chunk.shown[-1])} is done")
    return [rows[path] for path in recipes]


def done(chunk: Chunk) -> tuple[Row, ...]:
    """Build the recipes of a chunk one after the other; a row for each, as without workers. Runs in a worker.

    Raises MachineFailed when the worker doesn't see the recipes: it must share the folders of whoever asks.
    """
    lost = [r for r in chunk.recipes if not os.path.exists(r)]
    if lost and not os.path.isdir(chunk.folder):
        raise MachineFailed(
            f"A worker can't see {chunk.folder}. All workers must see the folders of recipes and packets under "
            "the same paths: share the disk with them."
        )
    if os.path.isdir(chunk.folder):
        os.chdir(chunk.folder)  # messages name paths as they are seen from where the person stands
    run, taken = Run(), dict(chunk.taken)
    return tuple(
        one(p, chunk.out, run, taken, fresh=chunk.fresh, why=chunk.why, news=chunk.news) for p in chunk.shown
    )


def chunks(
    recipes: Sequence[str],
    *,
    out: str,
    taken: Mapping[str, str],
    fresh: bool,
    why: bool,
    news: bool = False,
    workers: int,
) -> tuple[Chunk, ...]:
    """Recipes in lots for ``workers``. Those whose packets could have one name stay together, in their order."""
    lots: dict[str, list[str]] = {}
    names = sorted({_design(r) for r in recipes})
    lead = {n: next((m for m in names if n == m or n.startswith(f"{m}-")), n) for n in names}
    for r in recipes:
        lots.setdefault(lead[_design(r)], []).append(r)
    most = min(LARGEST, max(1, -(-len(recipes) // (workers * CHUNKS))))
    groups: list[list[str]] = []
    for lot in lots.values():
        if groups and len(groups[-1]) + len(lot) <= most:
            groups[-1] += lot
        else:
            groups.append(list(lot))
    return tuple(
        Chunk(
            recipes=tuple(os.path.abspath(r) for r in group),
            shown=tuple(group),
            out=out,
            taken=tuple(sorted(taken.items())),
            fresh=fresh,
            why=why,
            news=news,
            folder=os.getcwd(),
        )
        for group in groups
    )


def _design(recipe: str) -> str:
    """The design's name as it stands in the file; the file's own name where none can be seen."""
    try:
        with open(recipe, "rb") as stream:
            found = _DESIGN.search(stream.read(HEAD_BYTES))
    except OSError:
        found = None
    return found[1].decode("ascii") if found else os.path.abspath(recipe)


# -- on the cores here -------------------------------------------------------------------------------
def here(todo: Sequence[Chunk], workers: int) -> Iterator[tuple[Chunk, tuple[Row, ...]]]:
    """Chunks with their rows as they are finished, by ``workers`` processes of this machine.

    When a process dies, all that was under way is handed out once more, recipe by recipe. What is lost again is
    tried each by itself: a recipe that kills its process a third time is told as failed, and the others go on.
    """
    lost: list[Chunk] = []
    again: list[Chunk] = []
    yield from _round(todo, workers, lost)
    yield from _round([c for chunk in lost for c in _single(chunk)], workers, again)
    for chunk in again:
        dead: list[Chunk] = []
        yield from _round([chunk], 1, dead)
        if dead:
            yield chunk, (_died(chunk.shown[0]),)


def _round(todo: Sequence[Chunk], workers: int, lost: list[Chunk]) -> Iterator[tuple[Chunk, tuple[Row, ...]]]:
    """Chunks done by one pool of processes; those that are not, because one of these died, go to ``lost``."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from concurrent.futures.process import BrokenProcessPool

    if not todo:
        return
    forks = "forkserver" in multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if forks else "spawn")
    if forks:
        context.set_forkserver_preload(["pipeline.preload"])
    with ProcessPoolExecutor(max_workers=min(workers, len(todo)), mp_context=context) as pool:
        asked = {pool.submit(done, chunk): chunk for chunk in todo}
        try:
            for future in as_completed(asked):
                try:
                    rows = future.result()
                except BrokenProcessPool:
                    lost.append(asked[future])
                else:
                    yield asked[future], rows
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _single(chunk: Chunk) -> list[Chunk]:
    pairs = zip(chunk.recipes, chunk.shown, strict=True)
    return [replace(chunk, recipes=(recipe,), shown=(shown,)) for recipe, shown in pairs]


def _died(recipe: str) -> Row:
    said = f"{recipe}: the process that built it died {TRIES} times. Its last good packet is as it was."
    return {"recipe": recipe, "state": "failed", "exit_code": 3, "said": [said], "why": [], "packets": []}


# -- on a cluster ------------------------------------------------------------------------------------
def afar(todo: Sequence[Chunk], address: str) -> Iterator[tuple[Chunk, tuple[Row, ...]]]:
    """The same by the workers of a running Dask scheduler; a chunk whose worker is lost goes to another one.

    Raises MachineFailed when the extra isn't installed or no scheduler answers at ``address``.
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise MachineFailed(
            "Building on a cluster needs one more package: pip install 'mouldloft[cluster]'."
        ) from None
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise MachineFailed(
            f"No Dask scheduler answers at {address} ({str(error).splitlines()[0]}). Start one with "
            "`dask scheduler`, and workers with `dask worker`, in the environment that mouldloft is installed in."
        ) from None
    with client, client.as_current():
        futures = [client.submit(done, c, pure=False, retries=TRIES - 1) for c in todo]
        of = {f.key: c for f, c in zip(futures, todo, strict=True)}
        for future in as_completed(futures):
            chunk = of[future.key]
            failed = future.exception()
            if failed is None:
                yield chunk, future.result()
            elif isinstance(failed, MachineFailed):
                raise failed
            else:
                yield chunk, tuple(_died(s) for s in chunk.shown)


def workers_of(jobs: int) -> int:
    """How many processes: as many as asked, for 0 one for each core."""
    if jobs > 0:
        return jobs
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
