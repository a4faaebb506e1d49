"""The re-cut list: what of all that was cut is still good for the design as it is now (trade.md 12.3)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from pipeline.compare.judge import Judged, judged
from pipeline.compare.judge_blank import judged_blank
from pipeline.compare.judge_measured import with_measured
from pipeline.compare.of_design import state_of_derived
from pipeline.compare.of_packet import state_of_packet
from pipeline.compare.state import State, Thing
from pipeline.compare.things import compared, same_cut
from pipeline.core.errors import Refused
from pipeline.core.verdict import Verdict
from pipeline.intake.made import Made, MadePiece
from pipeline.packet.names import issued_name
from pipeline.steps.values import Derived

Lookup = Callable[[str], "State | str"]
"""Revision → its state, or the reason why there is none."""


def recut_list(derived: Derived, register: Made, root: str | Path) -> tuple[Verdict, ...]:
    """A verdict on every piece and glued blank in the register, in its order; empty without any.

    What a piece was cut from is looked up under ``issued/`` in the project root. Nothing is read or fitted when
    the register holds no pieces.
    """
    if register.is_empty:
        return ()
    recipe = derived.recipe
    return verdicts(
        state_of_derived(derived),
        register,
        issued_states(Path(root), lambda letter: issued_name(recipe, letter)),
    )


def issued_states(root: Path, named: Callable[[str], str], given: Sequence[State] = ()) -> Lookup:
    """A lookup of what was issued, each packet read once; ``given`` states count before the issued ones."""
    known: dict[str, State | str] = {s.revision: s for s in given}

    def look(revision: str) -> State | str:
        if revision not in known:
            folder = root / "issued" / named(revision)
            if not folder.is_dir():
                known[revision] = f"revision {revision} was never issued here, so nothing is kept of its shape"
            else:
                try:
                    known[revision] = state_of_packet(folder, source=f"issued/{folder.name}")
                except Refused as refused:
                    known[revision] = (
                        f"what was issued as revision {revision} can't be read: {refused.problems[0].wrong}"
                    )
        return known[revision]

    return look


def verdicts(new: State, register: Made, look: Lookup) -> tuple[Verdict, ...]:
    """A verdict on every row of the register, by the states that the lookup knows."""
    blanks = {t.name: t for t in new.things if t.blank}
    glued = _glued(register, blanks)
    made: list[Verdict] = []
    for row in glued.values():
        made.append(_blank(row, new, look, register))
    stuck = _stuck(glued, look)
    for row in register.made:
        if row.glued or (row.piece in glued and new.thing(row.piece) is None):
            continue
        if (row.piece, row.revision) in stuck:
            continue  # it is in a glued blank, which has a verdict of its own
        made.append(_piece(row, new, look))
    return _counted(made, new)


def still_to_make(new: State, found: Sequence[Verdict]) -> tuple[tuple[Thing, int], ...]:
    """What has to be cut of the new revision: pieces and blanks with how many, in the order of the files."""
    stays: dict[tuple[str, bool], int] = {}
    for v in found:
        if v.stays:
            key = (v.piece, v.blank)
            stays[key] = stays.get(key, 0) + v.in_hand
    inside = {(layer.piece, False): stays.get(t.key, 0) for t in new.things if t.blank for layer in t.layers}
    rows = []
    for t in new.things:
        wanted = t.count - stays.get(t.key, 0) - inside.get(t.key, 0)
        if wanted > 0:
            rows.append((t, wanted))
    return tuple(rows)


def _glued(register: Made, blanks: Mapping[str, Thing]) -> dict[str, MadePiece]:
    """Glued blanks by name: rows that say so, and names under `blanks` with the revision of their laminations."""
    found = {row.piece: row for row in register.made if row.glued}
    for name in register.blanks:
        if name in found:
            continue
        layers = {v.piece for v in blanks[name].layers} if name in blanks else set()
        cut = [row.revision for row in register.made if row.piece in layers]
        revision = cut[-1] if cut else register.issued[-1].revision if register.issued else ""
        found[name] = MadePiece(piece=name, revision=revision, measured=register.blanks[name], glued=True)
    return found


def _stuck(glued: Mapping[str, MadePiece], look: Lookup) -> set[tuple[str, str]]:
    """(piece, revision) of all laminations that are in a glued blank."""
    found = set()
    for row in glued.values():
        state = look(row.revision) if row.revision else ""
        blank = state.thing(row.piece, blank=True) if isinstance(state, State) else None
        found |= {(v.piece, row.revision) for v in blank.layers} if blank else set()
    return found


def _blank(row: MadePiece, new: State, look: Lookup, register: Made) -> Verdict:
    now = new.thing(row.piece, blank=True)
    if now is None:
        return _told(
            row, Judged(what="not needed", because=f"The design has no stack {row.piece} any more."), blank=True
        )
    state: State | str = look(row.revision) if row.revision else "the register doesn't say what it was cut from"
    then = state.thing(row.piece, blank=True) if isinstance(state, State) else None
    if not isinstance(state, State) or then is None:
        return _told(row, _unknown(state, row), blank=True)
    found = judged_blank(then, state, now, new, machined=row.machined)
    remarks = []
    measured = register.blanks.get(row.piece)
    if measured is not None and abs(measured - now.thickness_mm) >= 0.005:
        remarks.append(
            f"It is {measured:.2f} thick as measured, and these files count with {now.thickness_mm:.2f}."
        )
    if found.what == "continue" and not same_cut(then, now):
        remarks.append("What is machined in it has changed: take its new set-up sheet.")
    if row.condition:
        remarks.append(f"Its condition: {row.condition.rstrip('.')}.")
    return _told(row, replace(found, remarks=(*found.remarks, *remarks)), blank=True)


def _piece(row: MadePiece, new: State, look: Lookup) -> Verdict:
    state = look(row.revision)
    then = state.thing(row.piece) if isinstance(state, State) else None
    if not isinstance(state, State) or then is None:
        if new.thing(row.piece) is None:
            return _told(row, Judged(what="not needed", because=f"The design has no piece {row.piece} any more."))
        return _told(row, _unknown(state, row))
    now, was = new.thing(row.piece), ""
    if now is None:
        now = _renamed(then, state, new)
        was = then.name if now else ""
    if now is None:
        return _told(row, Judged(what="not needed", because=f"The design has no piece {row.piece} any more."))
    found = compared(then, now, was=was)
    verdict = judged(found, state, new)
    if verdict.what != "measure it":
        verdict = with_measured(verdict, row, found)
    return _told(row, verdict, now=now)


def _renamed(then: Thing, old: State, new: State) -> Thing | None:
    """A piece of the new design that has the very shape of one whose name is gone."""
    for thing in new.things:
        if not thing.blank and old.thing(thing.name) is None and thing.role == then.role:
            found = compared(then, thing, was=then.name)
            if not found.changed and not found.problem:
                return thing
    return None


def _unknown(state: State | str, row: MadePiece) -> Judged:
    why = state if isinstance(state, str) else f"revision {row.revision} has no piece of that name"
    return Judged(what="measure it", because=f"{why[:1].upper()}{why[1:]}: measure it against the new drawing.")


def _told(row: MadePiece, found: Judged, *, blank: bool = False, now: Thing | None = None) -> Verdict:
    return Verdict(
        piece=now.name if now else row.piece,
        blank=blank,
        revision=row.revision,
        what=found.what,
        because=found.because,
        mm=found.mm,
        tolerance_mm=found.tolerance_mm,
        at_mm=found.at_mm,
        area_mm2=found.area_mm2,
        remarks=found.remarks,
        in_hand=row.count,
    )


def _counted(found: Sequence[Verdict], new: State) -> tuple[Verdict, ...]:
    """The same with how many are still to be made of each."""
    wanted = {t.key: n for t, n in still_to_make(new, found)}
    return tuple(replace(v, to_make=wanted.get((v.piece, v.blank), 0)) for v in found)
