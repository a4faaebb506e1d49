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


def make(recipe: Recipe, out: Path) -> Packet:
    """Derive, check, write, prove and exchange one packet. Raises MouldloftError."""
    from dataclasses import replace

    from pipeline.assemble import proved, written
    from pipeline.checks import findings
    from pipeline.graph.derive import derive
    from pipeline.intake.drawing import read_drawing
    from pipeline.intake.made import read_made
    from pipeline.packet import exchange, lock, shop_files
    from pipeline.packet.names import packet_name
    from pipeline.workshop import nest, sequence

    name = packet_name(recipe)
    made = read_made(recipe.made)
    derived = derive(recipe, read_drawing(recipe), blank_measured=made.blanks)
    nests, unplaced = nest.nests(derived)
    found = (*findings(derived, nests), *unplaced)
    work = sequence.sequence(derived)
    files = shop_files.shop_files(derived, nests)
    with lock.locked(out, name):
        stage = exchange.begin(out, name)
        try:
            proof = proved(stage, derived, nests, files)
            packet = written(stage, derived, nests, files, work, found, proof, made)
            return replace(packet, folder=exchange.finish(out, name, held=packet.held))
        except BaseException:
            exchange.abandon(out, name)
            raise


def build(
    paths: Iterable[str | os.PathLike[str]],
    *,
    out: str | os.PathLike[str] = "out",
    fresh: bool = False,
    why: bool = False,
    tell: Callable[[str], None] | None = None,
) -> Answer:
    """Make the packets of recipes, or of all recipes in folders; only what is stale unless ``fresh``.

    One bad recipe never stops the others; the worst exit code counts. Raises Refused when a path is no recipe.
    """
    run, said, rows, worst = Run(), [], [], 0
    taken: dict[str, str] = {}
    for path in list(recipes(paths)):
        row = _one(path, os.fspath(out), run, taken, fresh=fresh, why=why, tell=tell)
        said += row["said"]
        rows.append(row)
        worst = max(worst, row["exit_code"])
    return Answer(exit_code=worst, said=tuple(said), data={"exit_code": worst, "designs": rows})


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


def _one(
    path: str,
    out: str,
    run: Run,
    taken: dict[str, str],
    *,
    fresh: bool,
    why: bool,
    tell: Callable[[str], None] | None,
) -> dict[str, Any]:
    """Build one recipe when it is stale, with its variants; what came of it as JSON values.

    ``taken`` maps packets made in this run to their recipes, so that no two recipes replace each other's.
    """
    reasons, last = stale.look(out=out, recipe=path, options={}, run=run)
    if last and not reasons and not fresh:
        taken.update((o.split("/")[0], path) for o, *_ in last["outputs"])
        told = [f"{stale.shown(path)}: nothing to do."] + (last["said"] if last["exit_code"] else [])
        return {"recipe": path, "state": "nothing to do", "exit_code": last["exit_code"], "said": told, "why": []}
    if fresh:
        reasons = ("Everything is done again, as asked.",)
    if tell:
        tell(f"{stale.shown(path)} …")
    from pathlib import Path

    from pipeline.assemble import outcome

    row = outcome(path, Path(out), make, run, taken)
    row["why"] = list(reasons)
    if why:
        row["said"] = [f"{stale.shown(path)}: {reason}" for reason in reasons] + row["said"]
    return row


__all__ = ["MachineFailed", "MouldloftError", "build", "make", "recipes"]
