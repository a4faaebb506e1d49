"""How the rooms ask for work that is done once (`keep.py`): in ``kept_for`` it is kept, elsewhere just done."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Any, TypeVar

from pipeline.core.recipe import Recipe
from pipeline.graph import watch
from pipeline.graph.code import Code
from pipeline.graph.codec import signed
from pipeline.graph.keep import KEPT, Keep
from pipeline.graph.run import Run, moved
from pipeline.graph.store import Store
from pipeline.steps.values import NOTHING

T = TypeVar("T")
_active: ContextVar[Keep | None] = ContextVar("keep", default=None)


@contextmanager
def keeping(keep: Keep) -> Iterator[Keep]:
    """Let all work meanwhile be kept by ``keep``."""
    token = _active.set(keep)
    try:
        yield keep
    finally:
        _active.reset(token)


@contextmanager
def kept_for(recipe: Recipe, out: str | os.PathLike[str], run: Run, *, fresh: bool = False) -> Iterator[Keep]:
    """Keep all work on one recipe or variant in the store of the folder ``out``."""
    store = Store(out, fresh=fresh)
    file = signed(b"code")
    code = Code(run, store.get(file))
    of = os.path.relpath(recipe.path, recipe.root).replace(os.sep, "/")
    try:
        with keeping(Keep(store=store, code=code, of=of, most=KEPT + 2 * len(recipe.variants))) as keep:
            yield keep
    finally:
        if moved():  # our own files were replaced meanwhile: who knows what has been at work
            store.undo()
        elif code.changed:
            store.put(file, code.kept())
        store.close()


def traced(
    unit: str,
    name: str,
    roots: Mapping[str, Any],
    work: Callable[[Mapping[str, Any]], T],
    *,
    code: Iterable[str],
    given: Mapping[str, Any] = NOTHING,
) -> T:
    """`Keep.traced` where something keeps, else the work as it is."""
    keep = _active.get()
    return work(roots) if keep is None else keep.traced(unit, name, roots, work, code=code, given=given)


def kept(kind: str, arguments: Any, work: Callable[[], T], *, code: Iterable[str]) -> T:
    """`Keep.kept` where something keeps, else the work as it is."""
    keep = _active.get()
    return work() if keep is None else keep.kept(kind, arguments, work, code=code)


def once(function: Callable[..., T], **arguments: Any) -> T:
    """What a function of a whole derivation gives, done again only when something that it reads has changed.

    What is opened (`watch.OPENED`) is read as far as the function looks; all other arguments are read whole.
    """
    roots = {name: v for name, v in arguments.items() if v.__class__ in watch.OPENED}
    given = {name: v for name, v in arguments.items() if name not in roots}
    unit, code = function.__name__, (function.__module__,)
    return traced(unit, "", roots, lambda seen: function(**seen, **given), code=code, given=given)


def files_once(folder: Path, write: Callable[..., object], *, besides: Any = None, **arguments: Any) -> None:
    """Let a function write its files below ``folder``, or put there what it wrote when it read the same.

    It gets ``folder`` first, must write new files only, and reads nothing there. ``besides`` is what it reads that
    is no argument.
    """

    def work(roots: Mapping[str, Any]) -> dict[str, bytes]:
        before = set(_files(folder))
        write(folder, **roots, **given)
        return {path: (folder / path).read_bytes() for path in _files(folder) if path not in before}

    roots = {name: v for name, v in arguments.items() if v.__class__ in watch.OPENED}
    given = {name: v for name, v in arguments.items() if name not in roots}
    made = traced(write.__name__, "", roots, work, code=(write.__module__,), given=given | {"besides": besides})
    for path, data in made.items():
        if not (folder / path).exists():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)


def _files(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
