"""Since which revision each piece and glued blank is unchanged, and the labels that say so.

A label carries the revision in which its piece last changed. It is part of what is cut, so a piece is made as if
nothing had changed since the last issue, label and all, and compared with the files that went out: where it is
the very same it keeps its old letter, and every other piece is made with the letter of the recipe.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.compare.of_design import state_of_derived
from pipeline.compare.of_packet import state_of_packet
from pipeline.compare.state import State
from pipeline.compare.things import same_cut
from pipeline.core.errors import Refused
from pipeline.core.findings import Finding
from pipeline.core.names import next_revision
from pipeline.core.recipe import Recipe
from pipeline.intake.made import Made
from pipeline.packet.changes import since_key
from pipeline.packet.names import issued_name
from pipeline.steps.values import NOTHING, Derived

Make = Callable[[Mapping[str, str]], Derived]
"""Derives the design, given the revision in which each piece last changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A derivation with its labels settled. ``since`` maps pieces and blanks (`packet.changes.since_key`) to the
    revision they are unchanged since; ``findings`` tell of a letter that went out with other cut files."""

    derived: Derived
    since: Mapping[str, str]
    findings: tuple[Finding, ...] = ()


def settled(recipe: Recipe, made: Made, make: Make) -> Settled:
    """Derive a design so that each label says when its piece last changed.

    Nothing is read or compared before a first packet was issued. A piece counts as unchanged only when the packet
    that was issued last can still be read and its files cut the very same; every doubt gives the present revision.
    """
    last = _issued(recipe, made.issued[-1].revision) if made.issued else None
    if last is None:
        derived = make(NOTHING)
        return Settled(
            derived=derived, since=_all(derived, recipe.revision), findings=_reused(derived, made, None)
        )
    entry = made.issued[-1]
    old = {**entry.pieces, **{since_key(n, blank=True): r for n, r in entry.blanks.items()}}
    derived = make({**{t.name: entry.revision for t in last.things if not t.blank}, **entry.pieces})
    state = state_of_derived(derived)
    since: dict[str, str] = {}
    for thing in state.things:
        key = since_key(thing.name, blank=thing.blank)
        same = same_cut(last.thing(thing.name, blank=thing.blank), thing)
        since[key] = old.get(key, entry.revision) if same else recipe.revision
    if _mislabelled(derived, {**dict.fromkeys(since, entry.revision), **old}, since):
        derived = make({p.name: since[since_key(p.name, blank=False)] for p in derived.pieces})
    return Settled(derived=derived, since=since, findings=_reused(derived, made, last, since=since))


def _mislabelled(derived: Derived, said: Mapping[str, str], since: Mapping[str, str]) -> bool:
    """True when a piece with engraved words was made with another letter than it must have."""
    return any(s.labels and said.get(p.name) != since[p.name] for p in derived.pieces for s in p.set_ups)


def _all(derived: Derived, revision: str) -> dict[str, str]:
    keys = [since_key(p.name, blank=False) for p in derived.pieces]
    keys += [since_key(b.name, blank=True) for b in derived.blanks]
    return dict.fromkeys(keys, revision)


def _issued(recipe: Recipe, revision: str) -> State | None:
    """What was issued under a letter, None when it is gone or damaged: then nothing is known to be unchanged."""
    folder = Path(recipe.root) / "issued" / issued_name(recipe, revision)
    if not folder.is_dir():
        return None
    try:
        return state_of_packet(folder)
    except Refused:
        return None


# -- a letter goes out once ----------------------------------------------------------------------------
def _reused(
    derived: Derived, made: Made, last: State | None, *, since: Mapping[str, str] = NOTHING
) -> tuple[Finding, ...]:
    """A `stop` when the recipe's letter went out with other cut files: what a letter means stays.

    Drafts are never issued, and rebuild freely.
    """
    recipe = derived.recipe
    if made.issue(recipe.revision) is None:
        return ()
    there = last if last is not None and last.revision == recipe.revision else _issued(recipe, recipe.revision)
    if there is None:
        return ()  # nothing is left to compare with; `issue` still refuses by the hashes in the register
    now = state_of_derived(derived)
    off = [t.said for t in now.things if not same_cut(there.thing(t.name, blank=t.blank), t)]
    off += [t.said for t in there.things if now.thing(t.name, blank=t.blank) is None]
    if not off:
        return ()
    following = next_revision(recipe.revision)
    return (
        Finding(
            check="revision-issued",
            severity="stop",
            message=(
                f"Revision {recipe.revision} was issued with other cut files: {', '.join(off[:4])}"
                f"{f' and {len(off) - 4} more' if len(off) > 4 else ''} would differ under the same letter."
            ),
            measured=float(len(off)),
            limit=0.0,
            unit="pieces",
            remedy=f"give the design the next letter, {following}, or a draft of it, {following}.1",
            place=recipe.places.get("revision"),
            fix=(("revision", following),),
        ),
    )
