"""The whole path, from a recipe to a packet, on one screen; then the run over many recipes."""

from __future__ import annotations

import os

from pipeline.core.answer import Answer
from pipeline.core.failures import MachineFailed, MouldloftError
from pipeline.graph import stale
from pipeline.graph.run import Run

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path
    from typing import Any

    from pipeline.assemble import Packet
    from pipeline.core.recipe import Recipe

    Tell = Callable[[str, str], None]
    """Hears which design is being made (and which of how many), and what is being done to it."""


def make(recipe: Recipe, out: Path, tell: Callable[[str], None] | None = None) -> Packet:
    """Derive, check, write, prove and exchange one packet; ``tell`` hears what is being done. Raises
    MouldloftError."""
    from dataclasses import replace

    from pipeline.assemble import proved, written
    from pipeline.checks import findings
    from pipeline.compare.recut import recut_list
    from pipeline.compare.since import settled
    from pipeline.graph.derive import derive
    from pipeline.graph.drawn import drawing_of
    from pipeline.graph.once import once
    from pipeline.intake.made import read_made
    from pipeline.packet import exchange, lock, shop_files
    from pipeline.packet.names import packet_name
    from pipeline.workshop import nest, sequence

    tell = tell or _untold
    name = packet_name(recipe)
    made = read_made(recipe.made, known=recipe.inputs, root=recipe.root)
    tell("reading")
    drawing = drawing_of(recipe)
    labels = settled(
        recipe, made, lambda since: derive(recipe, drawing, blank_measured=made.blanks, since=since, tell=tell)
    )
    derived = labels.derived
    tell("laying out sheets")
    nests, unplaced = once(nest.nests, derived=derived)
    tell("checking")
    found = (*findings(derived, nests), *unplaced, *labels.findings)
    recut = recut_list(derived, made, recipe.root)
    tell("putting the work in order")
    work = once(sequence.sequence, derived=derived)
    tell("writing")
    files = shop_files.shop_files(derived, nests)
    with lock.locked(out, name):
        stage = exchange.begin(out, name)
        try:
            tell("proving")
            proof = proved(stage, derived, nests, files)
            tell("writing prints, lists and report")
            packet = written(stage, derived, nests, files, work, found, proof, since=labels.since, recut=recut)
            return replace(packet, folder=exchange.finish(out, name, held=packet.held))
        except BaseException:
            exchange.abandon(out, name)
            raise


def _untold(doing: str) -> None:
    """Nobody watches."""


def build(
    paths: Iterable[str | os.PathLike[str]],
    *,
    out: str | os.PathLike[str] = "out",
    fresh: bool = False,
    why: bool = False,
    jobs: int = 1,
    engine: str = "",
    report: str | os.PathLike[str] = "",
    prune: bool = False,
    improve: float | None = None,
    tell: Tell | None = None,
) -> Answer:
    """Make the packets of recipes, or of all recipes in folders; only what is stale unless ``fresh``.

    One bad recipe never stops the others; the worst exit code counts. ``jobs`` processes share the work (0: one a
    core), or the workers of the Dask scheduler at ``engine``. ``report`` is a file that gets what has changed, in
    words. ``prune`` tidies up the store of results; ``improve`` is for how many seconds better layouts are
    searched for each recipe first. Raises Refused when a path is no recipe, MachineFailed when there is no such
    scheduler.
    """
    all_, folder, run = list(recipes(paths)), os.fspath(out), Run()
    better = _improved(all_, improve, tell) if improve is not None else []
    if (jobs != 1 or engine) and len(all_) > 1:
        from pipeline.many import together

        rows = together(
            all_, folder, run, fresh=fresh, why=why, news=bool(report), jobs=jobs, engine=engine, tell=tell
        )
    else:
        taken: dict[str, str] = {}
        rows = [
            one(
                p, folder, run, taken, fresh=fresh, why=why, news=bool(report), tell=tell,
                of=f" ({k} of {len(all_)})" if len(all_) > 1 else "",
            )
            for k, p in enumerate(all_, start=1)
        ]  # fmt: skip
    said = better + [line for row in rows for line in row["said"]]
    worst = max((row["exit_code"] for row in rows), default=0)
    if len(rows) > 1 or report:
        from pipeline import night

        if len(rows) > 1:
            said.append(night.summary(rows))
        if report:
            said += night.written(report, rows)
    if prune:
        from pipeline.graph.store import pruned

        said.append(pruned(folder))
    return Answer(exit_code=worst, said=tuple(said), data={"exit_code": worst, "designs": rows})


def _improved(paths: list[str], seconds: float, tell: Tell | None) -> list[str]:
    """Search better layouts for each recipe before it is built; what has to be said of them, once each."""
    from functools import partial

    from pipeline.improving import improve

    said: dict[str, None] = {}
    for path in paths:
        said |= dict.fromkeys(improve(path, seconds, partial(tell, stale.shown(path)) if tell else None))
    return list(said)


def recipes(paths: Iterable[str | os.PathLike[str]]) -> Iterator[str]:
    """Recipe files: each path itself, or each `*.yaml` directly in a folder but `*.made.yaml`.

    Raises Refused for a folder that holds none; a path that isn't there says so when it is read.
    """
    for given in paths:
        path = os.fspath(given)
        if os.path.isdir(path):
            names = sorted(n for n in os.listdir(path) if n.endswith(".yaml") and not n.endswith(".made.yaml"))
            if not names:
                from pipeline.core.errors import refuse

                raise refuse(f"{path} holds no recipe.", expected="files that end in .yaml")
            yield from (os.path.join(path, n) for n in names)
        else:
            yield path


def one(
    path: str,
    out: str,
    run: Run,
    taken: dict[str, str],
    *,
    fresh: bool = False,
    why: bool = False,
    news: bool = False,
    tell: Tell | None = None,
    of: str = "",
) -> dict[str, Any]:
    """Build one recipe when it is stale, with its variants; what came of it as JSON values.

    ``taken`` maps packets made in this run to their recipes, so that no two recipes replace each other's; ``news``
    adds what differs from the packets before; ``of`` says which of how many it is.
    """
    reasons, last = stale.look(out=out, recipe=path, options={}, run=run)
    if last and not reasons and not fresh:
        return as_before(path, last, taken)
    if fresh:
        reasons = ("Everything is done again, as asked.",)
    if tell:
        tell(f"{stale.shown(path)}{of}", "")
    from functools import partial
    from pathlib import Path

    from pipeline.assemble import outcome
    from pipeline.packet.names import packet_name

    def telling(recipe: Recipe, folder: Path) -> Packet:
        return make(recipe, folder, partial(tell, f"{packet_name(recipe)}{of}") if tell else None)

    before = None
    if news:
        from pipeline import night

        before = night.packets_of(last, out)
    row = outcome(path, Path(out), telling, run, taken, fresh=fresh)
    if before is not None:
        row["news"] = night.news(before, row["packets"])
    row["why"] = [*reasons, *row["why"]]
    if why:
        row["said"] = [f"{stale.shown(path)}: {reason}" for reason in row["why"]] + row["said"]
    return row


def as_before(path: str, last: stale.Record, taken: dict[str, str]) -> dict[str, Any]:
    """What is told of a recipe that is as it was when ``last`` was recorded."""
    taken.update((name, path) for name in last["packets"])
    told = [f"{stale.shown(path)}: nothing to do."] + (last["said"] if last["exit_code"] else [])
    return {"recipe": path, "state": "nothing to do", "exit_code": last["exit_code"], "said": told, "why": []}


__all__ = ["MachineFailed", "MouldloftError", "build", "make", "one", "recipes"]
