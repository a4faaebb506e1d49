"""Work that is done once: what it gave is kept with what it read, and used again while it would read the same.

``traced`` is for work that looks at large values (a recipe, the results of other steps) and reads a little of
them: it gets stand-ins (`watch.py`), and what it read is kept beside its result. It is good while everything that
one of its earlier runs read is what it was then, whatever else has changed. When a step is made again and comes
out the same, all that reads it is good: the search ends there.

``kept`` is for plain functions of small values: the key is the sign of the arguments.

Either way the version of our own code that does the work counts as read (`code.py`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

from pipeline.core.errors import Problem, Refused
from pipeline.graph import watch
from pipeline.graph.code import Code
from pipeline.graph.codec import Damaged, Key, NotKept, Signs, decoded, digest, encoded, signed
from pipeline.graph.store import Store
from pipeline.steps.values import NOTHING

T = TypeVar("T")
FORMAT = "1"
KEPT = 16
"""So many runs of one piece of work are remembered, besides two for each variant."""


class Read(NamedTuple):
    """One thing that was read: where, what was asked of it, and the sign of what was there."""

    path: Key
    asked: str
    sign: str


Changed = tuple[tuple[Read, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One run of a piece of work: all that it read, in this order, and the key of what it gave."""

    reads: tuple[Read, ...]
    gave: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What came of one piece of work in this run. Done ``again``, though it was ``known``: ``changed`` are the
    reads that are not what they were in the nearest of its earlier runs, with the sign now; none when the result
    of that run was lost. ``same``: it came out as it was."""

    unit: str
    name: str
    again: bool
    known: bool = True
    changed: Changed = ()
    same: bool = False


@dataclass(slots=True)
class Keep:
    """The keeping of one recipe's work: ``of`` says whose, ``done`` what came of it so far."""

    store: Store
    code: Code
    of: str = ""
    most: int = KEPT
    done: list[Done] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)
    looked: dict[tuple[int, Key, str], tuple[Any, str]] = field(default_factory=dict)

    # -- work that reads what it likes ---------------------------------------------------------------
    def traced(
        self,
        unit: str,
        name: str,
        roots: Mapping[str, Any],
        work: Callable[[Mapping[str, Any]], T],
        *,
        code: Iterable[str],
        given: Mapping[str, Any] = NOTHING,
    ) -> T:
        """``work`` done with stand-ins for ``roots``, or what it gave when it read the same as it would now.

        ``unit`` and ``name`` say what it is; ``code`` names the modules of ours that do it; ``given`` is what else
        it reads, by name, and always reads whole. The result must be made of what `codec` knows, else it is made
        each time.
        """
        try:
            fixed = {name: digest(v, self.signs) for name, v in given.items()}
        except NotKept:
            return work(roots)
        fixed["code"] = self.code.version(*code)
        key = signed(json.dumps([FORMAT, "traced", self.of, unit, name]).encode())
        traces = self._traces(key)
        nearest: tuple[Changed, Trace | None] = ((), None)
        for trace in traces:
            changed = tuple(
                (read, now) for read in trace.reads if (now := self._sign_now(read, roots, fixed)) != read.sign
            )
            if not changed:
                found = self._given(trace, roots)
                if found is not None:
                    self.done.append(Done(unit=unit, name=name, again=False))
                    known: T = found[0]
                    return known
            if nearest[1] is None or len(changed) < len(nearest[0]):
                nearest = changed, trace
        made, now_read = self._made(roots, fixed, work)
        same = now_read is not None and nearest[1] is not None and now_read.gave == nearest[1].gave
        self.done.append(Done(unit=unit, name=name, again=True, known=bool(traces), changed=nearest[0], same=same))
        if now_read is not None:
            others = [t for t in traces if t.reads != now_read.reads]
            self.store.put(key, _written([now_read, *others][: self.most]))
        return made

    def _made(
        self, roots: Mapping[str, Any], fixed: Mapping[str, str], work: Callable[[Mapping[str, Any]], T]
    ) -> tuple[T, Trace | None]:
        """What the work gives, without stand-ins, and what it read; None for what can't be kept."""
        places: dict[int, Key] = {}
        with watch.noting() as notes:
            try:
                made = work(watch.roots(roots))
            except Refused as refused:
                raise Refused(_plain_problem(p) for p in refused.problems) from refused
            made = watch.plain(made, places)
        try:
            data = encoded(made, lambda p: places.get(id(p)))
            reads = [Read((name,), "whole", sign) for name, sign in fixed.items()]
            reads += [Read(path, asked, self._sign(found)) for (path, asked), found in notes.items()]
        except NotKept:
            return made, None
        gave = signed(data)
        if not self.store.has(gave):
            self.store.put(gave, data)
        return made, Trace(reads=tuple(reads), gave=gave)

    def _sign_now(self, read: Read, roots: Mapping[str, Any], fixed: Mapping[str, str]) -> str:
        """The sign of what stands there now, looked up once in a build for each root; ``fixed`` are the signs of
        what is read whole."""
        if len(read.path) == 1 and read.path[0] in fixed:
            return fixed[read.path[0]]
        root = roots.get(read.path[0])
        at = (id(root), read.path, read.asked)
        known = self.looked.get(at)
        if known is None:
            try:
                sign = self._sign(watch.asked_now(read.path, read.asked, roots))
            except NotKept:  # then it can't have been read by what was kept
                sign = watch.GONE
            known = self.looked[at] = (root, sign)
        return known[1]

    def _sign(self, value: Any) -> str:
        if value is None or isinstance(value, str | int | float):
            return digest(value)
        return self.signs.of(value, lambda: digest(value, self.signs))

    def _given(self, trace: Trace, roots: Mapping[str, Any]) -> tuple[Any] | None:
        """What a run of the work gave, in a tuple of one, None when it is lost."""
        data = self.store.get(trace.gave)
        if data is None:
            return None
        try:
            return (decoded(data, lambda path: _place(watch.at(path, roots))),)
        except Damaged:
            return None

    def _traces(self, key: str) -> list[Trace]:
        data = self.store.get(key)
        if data is None:
            return []
        try:
            return _read(data)
        except (ValueError, TypeError, LookupError):
            return []

    # -- plain functions ---------------------------------------------------------------------------
    def kept(self, kind: str, arguments: Any, work: Callable[[], T], *, code: Iterable[str]) -> T:
        """What ``work`` gives, or what it gave for equal arguments. They must be all that it reads."""
        try:
            sign = digest(arguments, self.signs)
        except NotKept:
            return work()
        key = signed(json.dumps([FORMAT, "kept", kind, self.code.version(*code), sign]).encode())
        data = self.store.get(key)
        if data is not None:
            try:
                found: T = decoded(data)
                return found
            except Damaged:
                data = None
        made = work()
        try:
            self.store.put(key, encoded(made))
        except NotKept:
            return made
        return made


def _place(found: Any) -> Any:
    from pipeline.core.place import Place

    if not isinstance(found, Place):
        raise ValueError("no place stands there")
    return found


def _plain_problem(problem: Problem) -> Problem:
    found: Problem = watch.plain(problem, {})
    return found


def _written(traces: Iterable[Trace]) -> bytes:
    rows = [[t.gave, [[r.path, r.asked, r.sign] for r in t.reads]] for t in traces]
    return json.dumps(rows, separators=(",", ":")).encode()


def _read(data: bytes) -> list[Trace]:
    return [
        Trace(gave=gave, reads=tuple([Read(_tuples(path), asked, sign) for path, asked, sign in reads]))
        for gave, reads in json.loads(data)
    ]


def _tuples(path: Any) -> Any:
    """A path as it was before it was written: JSON knows no tuples."""
    return tuple([_tuples(v) if v.__class__ is list else v for v in path])
