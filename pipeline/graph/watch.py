"""What a piece of work reads: stand-ins for a recipe, a drawing and results that note each look at them.

A stand-in behaves as what it stands for; whoever reads a field of it leaves a note (path, sign of what was there).
With the notes of one run anyone can tell later, without running it again, whether it would read the same.
Which way was taken through the values is part of the notes: a name that was looked for and not found, the
names of a mapping that was gone through, what kind of thing stood somewhere.

A place in a file is handed on unread: its path is noted, not its line, so that moved lines spoil nothing. Whoever
looks into it (prints its line, say) leaves a note of that too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import fields, is_dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Generic, TypeVar, overload

from pipeline.core.place import Place
from pipeline.core.recipe import Frame, HardwarePart, Recipe, Sheet, Step
from pipeline.core.shop import Rates, Shop
from pipeline.graph.codec import Key
from pipeline.steps.values import Derived, Drawing, Drawn, Result

OPENED = frozenset({Derived, Drawing, Drawn, Frame, HardwarePart, Rates, Recipe, Result, Sheet, Shop, Step})
"""Values that are read field by field, as are the specs of steps; all others are read whole."""

T = TypeVar("T")
GONE = "-"
"""The sign of what isn't there."""

Notes = dict[tuple[Key, str], Any]
"""(path, what was asked) → what there was to answer; asked is "whole", "kind" (of thing), "has" or "names"."""
_notes: ContextVar[Notes | None] = ContextVar("notes", default=None)


@contextmanager
def noting() -> Iterator[Notes]:
    """Collect all that is read of stand-ins meanwhile."""
    notes: Notes = {}
    token = _notes.set(notes)
    try:
        yield notes
    finally:
        _notes.reset(token)


def add(notes: Notes) -> None:
    """Enter what other work has read, whose result is used here."""
    mine = _notes.get()
    if mine is not None:
        for asked, found in notes.items():
            mine.setdefault(asked, found)


def _note(path: Key, asked: str, found: Any) -> None:
    notes = _notes.get()
    if notes is not None:
        notes.setdefault((path, asked), found)


# -- stand-ins -------------------------------------------------------------------------------------
class StandIn:
    """What all stand-ins have in common: the real thing behind it and the path to it."""

    __slots__ = ()


def watched(value: Any, path: Key) -> Any:
    """A stand-in for the value at ``path``, or the value itself where it is read whole (and noted so)."""
    if isinstance(value, StandIn):
        return value
    if value.__class__ is Place:
        return _stand_in(Place)(value, path)
    if _is_opened(value.__class__):
        _note(path, "kind", _kind(value))
        return _stand_in(value.__class__)(value, path)
    if isinstance(value, Mapping):
        return _Names(value, path)
    if value.__class__ is tuple and value and value[0].__class__ is Step:
        _note(path, "names", shape_of("names", value))
        return tuple(watched(s, (*path, k)) for k, s in enumerate(value))
    _note(path, "whole", value)
    return value


@cache
def _is_opened(cls: type[Any]) -> bool:
    return cls in OPENED or (cls.__name__ == "Spec" and is_dataclass(cls))


def _kind(value: Any) -> str:
    cls = value.__class__
    return f"{cls.__module__}:{cls.__qualname__}"


@cache
def _stand_in(cls: type[Any]) -> Callable[[Any, Key], Any]:
    """A class that looks like ``cls`` and notes what is read of it."""
    names = frozenset(f.name for f in fields(cls))
    whole = cls is Place

    class Watched(cls, StandIn):  # type: ignore[misc] # the base is known at run time only
        __slots__ = ("_path", "_real")

        def __init__(self, real: Any, path: Key) -> None:
            object.__setattr__(self, "_real", real)
            object.__setattr__(self, "_path", path)

        def __getattribute__(self, name: str) -> Any:
            get = object.__getattribute__
            if name in names:
                real = get(self, "_real")
                if whole:
                    _note(get(self, "_path"), "whole", real)
                    return getattr(real, name)
                return watched(getattr(real, name), (*get(self, "_path"), name))
            return cls if name == "__class__" else get(self, name)

        def __reduce__(self) -> Any:
            raise TypeError("a stand-in lives only while its work is done")

    return Watched


class _Names(Mapping[Any, Any], StandIn):
    """A mapping by whose names one looks things up; each look is noted."""

    __slots__ = ("_path", "_real")

    def __init__(self, real: Mapping[Any, Any], path: Key) -> None:
        self._real, self._path = real, path

    def __getitem__(self, name: Any) -> Any:
        if name not in self:
            raise KeyError(name)
        return watched(self._real[name], (*self._path, name))

    def __contains__(self, name: Any) -> bool:
        has = name in self._real
        _note((*self._path, name), "has", has)
        return has

    def __iter__(self) -> Iterator[Any]:
        _note(self._path, "names", tuple(self._real))
        return iter(self._real)

    def __len__(self) -> int:
        _note(self._path, "names", tuple(self._real))
        return len(self._real)

    def __repr__(self) -> str:
        return repr(dict(self.items()))


class _Row(Sequence[Any], StandIn):
    """A tuple that is read whole as soon as anyone looks into it."""

    __slots__ = ("_path", "_real")

    def __init__(self, real: tuple[Any, ...], path: Key) -> None:
        self._real, self._path = real, path

    def __getitem__(self, index: Any) -> Any:
        _note(self._path, "whole", self._real)
        return self._real[index]

    def __len__(self) -> int:
        _note(self._path, "whole", self._real)
        return len(self._real)


class _Roots(Mapping[str, Any]):
    """What a piece of work starts from; each root is noted when it is taken."""

    def __init__(self, real: Mapping[str, Any]) -> None:
        self._real = real

    def __getitem__(self, name: str) -> Any:
        return watched(self._real[name], (name,))

    def __iter__(self) -> Iterator[str]:
        return iter(self._real)

    def __len__(self) -> int:
        return len(self._real)


def roots(real: Mapping[str, Any]) -> Mapping[str, Any]:
    """Stand-ins for the roots of a piece of work, made when they are asked for."""
    return _Roots(real)


def row(real: tuple[T, ...], path: Key) -> Sequence[T]:
    """A stand-in for a tuple, which is noted when it is looked into, not when it is handed on."""
    return _Row(real, path)


class shared(Generic[T]):
    """As `functools.cached_property`, for what several pieces of work use: what was read when it was worked out
    counts as read by each of them."""

    def __init__(self, work: Callable[[Any], T]) -> None:
        self._work = work
        self.__doc__ = work.__doc__

    def __set_name__(self, owner: type[Any], name: str) -> None:
        self._name = name

    @overload
    def __get__(self, holder: None, owner: type[Any]) -> shared[T]: ...
    @overload
    def __get__(self, holder: object, owner: type[Any]) -> T: ...
    def __get__(self, holder: Any, owner: type[Any]) -> Any:
        if holder is None:
            return self
        known = holder.__dict__.get(self._name)
        if known is None:
            with noting() as notes:
                known = self._work(holder), notes
            holder.__dict__[self._name] = known
        add(known[1])
        return known[0]

    def __set__(self, holder: object, value: object) -> None:
        raise AttributeError(f"{self._name} is worked out")


def real(value: Any) -> Any:
    """What a stand-in stands for; anything else as it is."""
    return object.__getattribute__(value, "_real") if isinstance(value, StandIn) else value


def plain(value: Any, places: dict[int, Key]) -> Any:
    """A value without stand-ins: the same object where it holds none.

    ``places`` gets the path of each place that was handed on, by the identity of the copy that is in the result.
    What else of the stand-ins is in it counts as read whole.
    """
    kind: Any = value.__class__
    if isinstance(value, StandIn):
        held = real(value)
        path = object.__getattribute__(value, "_path")
        if kind is Place:
            copy = Place(**{f.name: getattr(held, f.name) for f in fields(Place)})
            places[id(copy)] = path
            return copy
        _note(path, "whole", held)
        return held
    if kind in (tuple, list):
        made = [plain(v, places) for v in value]
        return value if all(a is b for a, b in zip(made, value, strict=True)) else kind(made)
    if kind in (dict, MappingProxyType):
        pairs = {plain(k, places): plain(v, places) for k, v in value.items()}
        if all(pairs.get(k) is v for k, v in value.items()):
            return value
        return pairs if kind is dict else MappingProxyType(pairs)
    if hasattr(kind, "__dataclass_fields__") and not kind.__module__.startswith("pipeline.geometry"):
        was = {f.name: getattr(value, f.name) for f in fields(kind)}
        now = {name: plain(v, places) for name, v in was.items()}
        return value if all(now[name] is v for name, v in was.items()) else kind(**now)
    return value


# -- looking again ---------------------------------------------------------------------------------
def at(path: Key, roots: Mapping[str, Any]) -> Any:
    """What stands at a path now. Raises LookupError or AttributeError when nothing does."""
    found: Any = roots[path[0]]
    for name in path[1:]:
        if isinstance(found, Mapping):
            found = found[name]
        elif isinstance(found, tuple):
            found = found[int(name)]
        else:
            found = getattr(found, name)
    return found


def asked_now(path: Key, asked: str, roots: Mapping[str, Any]) -> Any:
    """The value of which a note of this kind holds the sign; GONE when there is nothing to ask."""
    try:
        if asked == "has":
            return path[-1] in at(path[:-1], roots)
        return shape_of(asked, at(path, roots))
    except (LookupError, AttributeError, TypeError, ValueError):
        return GONE


def shape_of(asked: str, found: Any) -> Any:
    """What of a value the sign is taken: of the names of a mapping the names, of a kind its name, else all."""
    if asked == "kind":
        return _kind(found)
    if asked == "names":
        return tuple(found) if isinstance(found, Mapping) else tuple(s.name for s in found)
    return found
