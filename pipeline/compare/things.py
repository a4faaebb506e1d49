"""Two states side by side: each piece and blank with what became of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.compare.changes import Change, changes_of
from pipeline.compare.engraved import engraved
from pipeline.compare.measure import SAME_MM
from pipeline.compare.rigid import moved_alike
from pipeline.compare.state import State, Thing
from pipeline.geometry.transform import Move

THICK_MM = 0.005
COUNT = "to make"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A number or word that differs: thickness, count, sheet, price."""

    what: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """One piece or blank: ``was`` is its old name where it has another one now; ``relabelled`` tells that other
    words or marks are engraved on it."""

    old: Thing | None
    new: Thing | None
    changes: tuple[Change, ...]
    facts: tuple[Fact, ...] = ()
    relabelled: bool = False
    was: str = ""

    @property
    def thing(self) -> Thing:
        thing = self.new or self.old
        assert thing is not None
        return thing

    @property
    def name(self) -> str:
        return self.thing.name

    @property
    def changed(self) -> tuple[Change, ...]:
        """The lines that are not the same."""
        return tuple(c for c in self.changes if c.state != "same")

    @property
    def problem(self) -> str:
        return next((t.problem for t in (self.old, self.new) if t and t.problem), "")

    @property
    def state(self) -> str:
        """``same``, ``changed``, ``relabelled``, ``renamed``, ``added``, ``gone`` or ``unknown``."""
        if self.old is None:
            return "added"
        if self.new is None:
            return "gone"
        if self.problem:
            return "unknown"
        if self.changed or self.facts:
            return "changed"
        return "renamed" if self.was else "relabelled" if self.relabelled else "same"

    @property
    def move(self) -> Move | None:
        """The one shift or turn by which all of it moved, None where it didn't, or not alike."""
        pairs = [(c.old.contour, c.new.contour) for c in self.changes if c.old and c.new]
        if len(pairs) < len(self.changes) or len(self.changed) < len(self.changes):
            return None
        return moved_alike(pairs, SAME_MM)

    @property
    def worst(self) -> Change | None:
        """The line that moved most, None where none moved."""
        moved = [c for c in self.changes if c.state == "moved"]
        return max(moved, key=_size, default=None)


def _size(change: Change) -> float:
    if change.holes is None:
        return change.worst.mm
    return max(math.hypot(*change.shift), abs(change.resized_mm))


def size_of(change: Change) -> float:
    """How far a line moved at most in mm; of a hole the larger of its shift and what it became wider."""
    return _size(change)


def compared(old: Thing | None, new: Thing | None, *, was: str = "") -> Compared:
    """One piece or blank at two revisions, either of them absent."""
    if old is None or new is None:
        return Compared(old=old, new=new, changes=changes_of(old, new))
    if old.problem or new.problem:
        return Compared(old=old, new=new, changes=(), was=was)
    return Compared(
        old=old,
        new=new,
        changes=changes_of(old, new),
        facts=_facts(old, new),
        relabelled=engraved(old, new) != "same",
        was=was,
    )


def all_compared(old: State, new: State) -> tuple[Compared, ...]:
    """Every piece and blank of both states, in the order of the new one; what is gone comes after."""
    before = {t.key: t for t in old.things}
    now = {t.key: t for t in new.things}
    renamed = _renamed(
        [t for k, t in before.items() if k not in now], [t for k, t in now.items() if k not in before]
    )
    found = []
    for key, thing in now.items():
        other = before.get(key) or renamed.get(key)
        was = other.name if other is not None and key not in before else ""
        found.append(compared(other, thing, was=was))
    taken = {t.key for t in renamed.values()}
    return (*found, *(compared(t, None) for k, t in before.items() if k not in now and k not in taken))


def _renamed(gone: Sequence[Thing], added: Sequence[Thing]) -> dict[tuple[str, bool], Thing]:
    """New pieces that have the very shape of one that is gone: by the new name, each old one once."""
    found: dict[tuple[str, bool], Thing] = {}
    for new in added:
        for old in gone:
            if old in found.values() or old.blank != new.blank or not old.lines or old.problem or new.problem:
                continue
            if all(c.state == "same" for c in changes_of(old, new)):
                found[new.key] = old
                break
    return found


def _facts(old: Thing, new: Thing) -> tuple[Fact, ...]:
    facts = []
    if abs(old.thickness_mm - new.thickness_mm) >= THICK_MM:
        facts.append(Fact(what="thickness", old=f"{old.thickness_mm:.2f}", new=f"{new.thickness_mm:.2f}"))
    stock = [f"{t.sheet} {t.letter}".strip() for t in (old, new)]
    for what, a, b in (("sheet", *stock), ("shop", old.shop, new.shop), (COUNT, str(old.count), str(new.count))):
        if a != b and (what != "shop" or (a and b)):
            facts.append(Fact(what=what, old=a, new=b))
    layers = [[(v.number, v.piece) for v in t.layers] for t in (old, new)]
    if layers[0] != layers[1]:
        words = [", ".join(p for _, p in v) for v in layers]
        facts.append(Fact(what="laminations from the back", old=words[0], new=words[1]))
    return tuple(facts)


def same_cut(old: Thing | None, new: Thing) -> bool:
    """True when a machine would do the very same again: lines, depths, engraved words, sheet and thickness.

    How many are made is no change of the piece.
    """
    if old is None or old.problem or new.problem:
        return False
    if any(f.what != COUNT for f in _facts(old, new)) or engraved(old, new) != "same":
        return False
    return all(c.state == "same" for c in changes_of(old, new))


# -- order and money -----------------------------------------------------------------------------------
def totals_changed(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Fact, ...]:
    """What the packet adds up to, where it differs: mass, sheets, cost, minutes."""
    if not old or not new:
        return ()
    a, b = _flat(old), _flat(new)
    facts = []
    for key in dict.fromkeys((*a, *b)):
        if not _alike(a.get(key), b.get(key)):
            facts.append(Fact(what=key.replace("_", " "), old=_shown(a.get(key)), new=_shown(b.get(key))))
    return tuple(facts)


def _flat(values: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in values.items():
        name = f"{before}{key}"
        if isinstance(value, Mapping):
            found |= _flat(value, f"{name} ")
        elif isinstance(value, list | tuple):
            found |= {f"{name} {axis}": v for axis, v in zip("xyz", value, strict=False)}
        else:
            found[name] = value
    return found


def _alike(a: Any, b: Any) -> bool:
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) < SAME_MM
    return bool(a == b)


def _shown(value: Any) -> str:
    if value is None:
        return "–"
    return f"{value:.2f}" if isinstance(value, float) else str(value)
