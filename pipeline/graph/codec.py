"""Values of ours as bytes and back, exactly: what the store of results holds.

Frozen dataclasses, contours, arrays, tuples, lists, mappings, texts, numbers and None; nothing else, and nothing
that would run code when it is read (so never pickle). The text is JSON, whose numbers Python writes so that they
come back to the last bit; the vertices of contours follow it as they lie in memory. What was one object comes back
as one object, and flattened forms are worked out again only when they are asked for.

`digest` is the sign of a value by its content alone: equal content, equal sign, however it is shared in memory.
"""

from __future__ import annotations

import dataclasses
import hashlib
import itertools
import json
from collections.abc import Callable, Mapping
from functools import cache
from importlib import import_module
from types import MappingProxyType
from typing import Any

import numpy as np

from pipeline.core.place import Place
from pipeline.geometry.contour import Contour

LIVES_IN = ("pipeline.core.", "pipeline.geometry.", "pipeline.steps.", "pipeline.workshop.", "pipeline.proof.",
            "pipeline.packet.")  # fmt: skip
"""Only dataclasses of these packages are written and read."""
_CLOSED, _COUNT = 1, np.dtype("<i8")
_NUMPY: Mapping[str, type[Any]] = {t.__name__: t for t in (np.float64, np.int64, np.bool_)}
_ARRAYS = ("<f8", "<i8", "|b1")

Key = tuple[Any, ...]


class NotKept(Exception):
    """A value that the store can't hold; what made it is simply made again each time."""


class Damaged(Exception):
    """Bytes that don't hold what was written: the entry counts as lost."""


def signed(data: bytes) -> str:
    """The name of some bytes: 40 hex digits."""
    return hashlib.blake2b(data, digest_size=20).hexdigest()


class Signs:
    """Signs of contours and whole values by identity, so that each is worked out once in a build.

    It holds on to what it has seen, so an identity stays what it was.
    """

    def __init__(self) -> None:
        self._seen: dict[int, tuple[Any, str]] = {}

    def of(self, value: Any, make: Callable[[], str]) -> str:
        """The sign of ``value``, made at the first time."""
        found = self._seen.get(id(value))
        if found is None:
            found = self._seen[id(value)] = (value, make())
        return found[1]


# -- writing ---------------------------------------------------------------------------------------
def encoded(value: Any, spot_of: Callable[[Any], Key | None] = lambda _: None) -> bytes:
    """The bytes of a value. ``spot_of`` tells of a place by which path it was looked up; such a place is written
    as that path and looked up anew when it is read. Raises NotKept."""
    contours: list[Contour] = []
    blobs: list[bytes] = []
    where: dict[int, int] = {}
    done: dict[int, int] = {}

    def blob(data: bytes) -> list[Any]:
        blobs.append(data)
        return ["b", len(blobs) - 1]

    def contour(c: Contour) -> list[Any]:
        if id(c) not in where:
            where[id(c)] = len(contours)
            contours.append(c)
        return ["c", where[id(c)]]

    def same(v: Any, write: Callable[[], list[Any]]) -> list[Any]:
        if id(v) in done:
            return ["=", done[id(v)]]
        made = write()
        done[id(v)] = len(done)
        return made

    text = json.dumps(_tree(value, contour, blob, same, spot_of), separators=(",", ":")).encode("ascii")
    sizes = np.array([[len(c.xy), c.closed] for c in contours], dtype=_COUNT).reshape(-1, 2)
    head = np.array([len(text), len(contours), len(blobs)], dtype=_COUNT).tobytes()
    lengths = np.array([len(b) for b in blobs], dtype=_COUNT).tobytes()
    padding = b" " * (-len(text) % 8)
    arrays = [
        *(np.ascontiguousarray(c.xy).tobytes() for c in contours),
        *(np.ascontiguousarray(c.bulge).tobytes() for c in contours),
        *(np.ascontiguousarray(c.free).tobytes() for c in contours),
    ]
    return b"".join((head, text, padding, sizes.tobytes(), lengths, *arrays, *blobs))


def digest(value: Any, signs: Signs | None = None) -> str:
    """The sign of a value by its content; a short one (a number, a word) stands in it as it is. Raises NotKept."""
    signs = signs or Signs()

    def contour(c: Contour) -> list[Any]:
        return ["c", signs.of(c, lambda: _sign_of(c))]

    text = json.dumps(
        _tree(value, contour, lambda b: ["b", signed(b)], lambda _, write: write(), lambda _: None),
        separators=(",", ":"),
        ensure_ascii=False,
    )
    return f"={text}" if len(text) <= 60 else signed(text.encode("utf-8", "surrogatepass"))


def _sign_of(c: Contour) -> str:
    return signed(b"%d" % c.closed + c.xy.tobytes() + c.bulge.tobytes() + c.free.tobytes())


def _tree(
    value: Any,
    contour: Callable[[Contour], list[Any]],
    blob: Callable[[bytes], list[Any]],
    same: Callable[[Any, Callable[[], list[Any]]], list[Any]],
    spot_of: Callable[[Any], Key | None],
) -> Any:
    """A value as JSON: plain values as they are, all else as a list that begins with what it is."""

    def tree(v: Any) -> Any:
        kind = v.__class__  # of what is watched (`watch.py`) the class that it stands for
        if v is None or kind is str or kind is float or kind is int or kind is bool:
            return v
        if kind is tuple:
            return ["t", *map(tree, v)]
        if kind is Contour:
            if not (v.xy.flags.c_contiguous and v.bulge.flags.c_contiguous and v.free.flags.c_contiguous):
                raise NotKept("a contour whose vertices lie scattered in memory")  # sums over it may differ
            return contour(v)
        if kind is Place and (path := spot_of(v)) is not None:
            return ["P", *tree(path)[1:]]
        if hasattr(kind, "__dataclass_fields__"):
            return same(v, lambda: ["d", _name_of(kind), *(tree(getattr(v, f)) for f in _fields(kind))])
        if kind is list:
            return ["l", *map(tree, v)]
        if isinstance(v, Mapping):
            return ["m" if kind is dict else "M", *([tree(k), tree(w)] for k, w in v.items())]
        if kind is bytes:
            return blob(v)
        if kind.__name__ in _NUMPY and isinstance(v, np.generic):
            return ["n", kind.__name__, v.item()]
        if kind is np.ndarray and v.dtype.str in _ARRAYS and v.flags.c_contiguous:
            return ["a", v.dtype.str, list(v.shape), blob(v.tobytes())]
        raise NotKept(f"a value of the type {kind.__module__}.{kind.__qualname__}")

    return tree(value)


# -- reading ---------------------------------------------------------------------------------------
def decoded(data: bytes, place_at: Callable[[Key], Place] | None = None) -> Any:
    """The value of some bytes; ``place_at`` gives the place that a path leads to now. Raises Damaged."""
    try:
        return _decoded(data, place_at)
    except (ValueError, TypeError, LookupError, AttributeError, ImportError, RecursionError) as error:
        raise Damaged(str(error)) from error


def _decoded(data: bytes, place_at: Callable[[Key], Place] | None) -> Any:
    length, count, several = (int(n) for n in np.frombuffer(data, _COUNT, 3))
    tree = json.loads(data[24 : 24 + length])
    contours, blobs = _arrays(data, 24 + length + (-length % 8), count, several)
    done: list[Any] = []

    def value(t: Any) -> Any:
        if t.__class__ is not list:
            return t
        tag = t[0]
        if tag == "t":
            return tuple([value(v) for v in t[1:]])
        if tag == "d":
            cls = _class_of(t[1])
            made = cls(**dict(zip(_fields(cls), [value(v) for v in t[2:]], strict=True)))
            done.append(made)
            return made
        if tag == "c":
            return contours[t[1]]
        if tag == "=":
            return done[t[1]]
        if tag == "l":
            return [value(v) for v in t[1:]]
        if tag in ("m", "M"):
            found = {value(k): value(v) for k, v in t[1:]}
            return found if tag == "m" else MappingProxyType(found)
        if tag == "P":
            if place_at is None:
                raise ValueError("a place that nobody can look up")
            return place_at(tuple(value(v) for v in t[1:]))
        if tag == "b":
            return blobs[t[1]]
        if tag == "n":
            return _NUMPY[t[1]](t[2])
        if tag == "a":
            if t[1] not in _ARRAYS:
                raise ValueError(f"no such array: {t[1]!r}")
            return np.frombuffer(value(t[3]), np.dtype(t[1])).reshape(t[2]).copy()
        raise ValueError(f"no such kind of value: {tag!r}")

    return value(tree)


def _arrays(data: bytes, at: int, count: int, several: int) -> tuple[list[Contour], list[bytes]]:
    """The contours and the strings of bytes whose sizes stand at ``at``, followed by themselves."""
    sizes = np.frombuffer(data, _COUNT, 2 * count, at).reshape(count, 2)
    lengths = np.frombuffer(data, _COUNT, several, at + sizes.nbytes).tolist()
    at += sizes.nbytes + 8 * several
    total = int(sizes[:, 0].sum())
    if len(data) != at + total * 25 + sum(lengths) or np.any(sizes[:, 0] < 2) or min(lengths, default=0) < 0:
        raise ValueError("vertices are missing")
    xy = np.frombuffer(data, "<f8", 2 * total, at).reshape(total, 2).copy()
    bulge = np.frombuffer(data, "<f8", total, at + total * 16).copy()
    free = np.frombuffer(data, "|b1", total, at + total * 24).copy()
    ends = np.cumsum(sizes[:, 0]).tolist()
    contours = [
        Contour(xy[e - n : e], bulge[e - n : e], free[e - n : e], closed == _CLOSED)
        for e, (n, closed) in zip(ends, sizes.tolist(), strict=True)
    ]
    begins = np.cumsum([at + total * 25, *lengths]).tolist()
    return contours, [data[a:b] for a, b in itertools.pairwise(begins)]


# -- classes ---------------------------------------------------------------------------------------
@cache
def _fields(cls: Any) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(cls))


@cache
def _name_of(cls: Any) -> str:
    """``room.module:Class`` of a dataclass of ours. Raises NotKept for others."""
    if not cls.__module__.startswith(LIVES_IN) or "." in cls.__qualname__:
        raise NotKept(f"a value of the type {cls.__module__}.{cls.__qualname__}")
    return f"{cls.__module__.removeprefix('pipeline.')}:{cls.__qualname__}"


@cache
def _class_of(name: str) -> Any:
    """The dataclass of that name. Raises ValueError, ImportError and AttributeError when it isn't one of ours."""
    module, _, cls = name.partition(":")
    if not f"pipeline.{module}".startswith(LIVES_IN):
        raise ValueError(f"no value of ours: {name}")
    found = getattr(import_module(f"pipeline.{module}"), cls)
    if not (isinstance(found, type) and dataclasses.is_dataclass(found)) or _name_of(found) != name:
        raise ValueError(f"no value of ours: {name}")
    return found
