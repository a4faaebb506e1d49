"""A comparison in plain text, and as JSON values."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.compare.changes import HOLES, Change
from pipeline.compare.comparison import Comparison
from pipeline.compare.measure import SAME_MM, clock, signed, spot
from pipeline.compare.pairs import hole_of
from pipeline.compare.recut import still_to_make
from pipeline.compare.rigid import said
from pipeline.compare.state import State
from pipeline.compare.things import Compared
from pipeline.core.verdict import Verdict

WIDTH = 96
STATES = {
    "same": "the same",
    "changed": "changed",
    "relabelled": "other words or marks are engraved on it",
    "renamed": "has another name",
    "added": "new",
    "gone": "gone",
    "unknown": "can't be compared",
}


def text_of(found: Comparison) -> str:
    """The whole comparison as lines of text."""
    old, new = found.old, found.new
    lines = [
        f"{name_of(new)}: revision {old.revision} ({old.source}) against revision {new.revision} ({new.source})"
    ]
    if found.same:
        lines.append("Nothing has changed: every line lies within 0.005 mm of where it was.")
    for t in found.things:
        if t.state != "same":
            lines += ["", *_thing(t)]
    same = [t.thing.said for t in found.with_state("same")]
    if same and not found.same:
        lines += ["", *_filled(f"The same within 0.005 mm: {', '.join(same)}.")]
    if found.work:
        lines += ["", "Order of work"]
        for w in found.work:
            if w.what == "changed":
                lines += _filled(f"changed: {w.new}; it was {w.old}", "  ")
            else:
                told = {"moved": f"{w.new}; it was {w.old.split('.')[0]}.", "added": w.new, "gone": w.old}[w.what]
                lines += _filled(f"{w.what}: {told}", "  ")
    if found.totals:
        lines += ["", "What it adds up to", *(f"  {f.what}: {f.old} → {f.new}" for f in found.totals)]
    if found.verdicts:
        lines += ["", "What was cut (re-cut list)", *verdict_lines(found.verdicts)]
        wanted = still_to_make(new, found.verdicts)
        if wanted:
            lines += _filled("still to make: " + ", ".join(f"{n} of {t.said}" for t, n in wanted) + ".", "  ")
    elif found.unknown:
        lines += ["", found.unknown]
    return "\n".join(lines)


def verdict_lines(found: Iterable[Verdict]) -> list[str]:
    """The re-cut list as text, indented."""
    lines: list[str] = []
    for v in found:
        count = f", {v.in_hand} in hand" if v.in_hand > 1 else ""
        lines += _filled(f"{v.said} (cut from {v.revision or '?'}{count}): {v.what.upper()}. {v.because}", "  ")
        lines += [line for r in v.remarks for line in _filled(r, "      ")]
    return lines


def name_of(state: State) -> str:
    return f"{state.design}-{state.variant}" if state.variant else state.design


def _thing(t: Compared) -> list[str]:
    head = f"{t.thing.said}: {STATES[t.state]}"
    if t.was:
        head += f" (it was called {t.was})"
    lines = [head]
    if t.problem:
        lines += _filled(t.problem, "  ")
    lines += [f"  {f.what}: {f.old} → {f.new}" for f in t.facts]
    if t.state in ("added", "gone"):
        return lines
    move = t.move
    if move is not None:
        lines += _filled(f"all of it lies elsewhere, the same shape: {said(move)}", "  ")
    for c in () if move is not None else t.changed:
        lines += _filled(change_words(c), "  ")
    if t.relabelled and t.state != "relabelled":
        lines.append("  other words or marks are engraved on it")
    return lines


def change_words(c: Change) -> str:
    """One line's change in words, with its numbers."""
    if c.state in ("added", "gone"):
        return f"{c.what} at {spot(c.at)}: {'new' if c.state == 'added' else 'gone'}"
    if c.holes is not None:
        return _hole_words(c)
    parts = [f"{c.what}:"]
    move = c.move
    if move is not None:
        parts.append(f"the same shape, {said(move)}")
    elif c.moved and c.spread is not None:
        parts.append(_moves(c))
        parts.append(
            f"rms {c.spread.rms_mm:.3f}; area {signed(c.area_mm2)} mm² ({c.spread.added_mm2:.1f} added, "
            f"{c.spread.removed_mm2:.1f} removed)"
        )
        if c.segments[0] != c.segments[1]:
            parts.append(f"; {c.segments[0]} → {c.segments[1]} lines and arcs")
    elif c.moved:
        parts.append(f"{c.worst.mm:.3f} mm off at {spot(c.at)}, {c.clock}")
    if c.depths:
        parts.append(f"{'; ' if c.moved else ''}{c.depths[0]} → {c.depths[1]}")
    return " ".join(parts).replace(" ;", ";")


def _moves(c: Change) -> str:
    """Outward and inward, each with its place, clock direction and arc length from the nut's side."""
    assert c.spread is not None
    ways = []
    for way, w in (("outward", c.spread.outward), ("inward", c.spread.inward)):
        if w.mm >= SAME_MM:
            ways.append(f"{way} {w.mm:.3f} at {spot(w.at)}, {clock(w.at, c.centre)}")
    along = c.along
    tail = f" (the worst place is {along:.1f} along the edge from its foremost point)" if along is not None else ""
    return "; ".join(ways) + tail + ";"


def _hole_words(c: Change) -> str:
    assert c.holes is not None
    old, new = c.holes
    dx, dy = c.shift
    parts = [f"{c.what} at {spot(new.at)}:"]
    if (dx * dx + dy * dy) ** 0.5 >= 0.005:
        parts.append(f"moved by {dx:+.3f}, {dy:+.3f}")
    if abs(c.resized_mm) >= 0.005:
        parts.append(f"{old.diameter:.2f} → {new.diameter:.2f} wide")
    if c.depths:
        parts.append(f"{c.depths[0]} → {c.depths[1]}")
    return ", ".join([" ".join(parts[:2]), *parts[2:]])


def _filled(words: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        words, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False
    ) or [indent]


# -- JSON ----------------------------------------------------------------------------------------------
def rows_of(found: Comparison) -> dict[str, Any]:
    """The comparison as JSON values; lengths in mm, areas in mm², places in the design frame."""
    wanted = still_to_make(found.new, found.verdicts) if found.verdicts else ()
    return {
        "old": _state(found.old),
        "new": _state(found.new),
        "same": found.same,
        "pieces": [_row(t) for t in found.things],
        "order": [{"what": w.what, "piece": w.piece, "old": w.old, "new": w.new} for w in found.work],
        "totals": [{"what": f.what, "old": f.old, "new": f.new} for f in found.totals],
        "recut": [verdict_row(v) for v in found.verdicts],
        "still_to_make": [{"piece": t.name, "blank": t.blank, "count": n} for t, n in wanted],
        "unknown": found.unknown,
    }


def verdict_row(v: Verdict) -> dict[str, Any]:
    """A verdict as JSON values."""
    return {
        "piece": v.piece,
        "blank": v.blank,
        "revision": v.revision,
        "verdict": v.what,
        "because": v.because,
        "mm": _number(v.mm),
        "tolerance_mm": v.tolerance_mm,
        "at_mm": _point(v.at_mm),
        "area_mm2": _number(v.area_mm2, 1),
        "remarks": list(v.remarks),
        "in_hand": v.in_hand,
        "to_make": v.to_make,
    }


def _state(s: State) -> dict[str, Any]:
    return {"source": s.source, "design": s.design, "variant": s.variant, "revision": s.revision}


def _row(t: Compared) -> dict[str, Any]:
    return {
        "name": t.name,
        "blank": t.thing.blank,
        "state": t.state,
        "was": t.was,
        "problem": t.problem,
        "relabelled": t.relabelled,
        "facts": [{"what": f.what, "old": f.old, "new": f.new} for f in t.facts],
        "changes": [_change(c) for c in t.changed],
    }


def _change(c: Change) -> dict[str, Any]:
    s = c.spread
    row: dict[str, Any] = {
        "kind": c.kind,
        "what": c.what,
        "state": c.state,
        "at_mm": _point(c.at),
        "clock": c.clock,
        "along_mm": _number(c.along),
        "area_mm2": _number(c.area_mm2, 1),
        "segments": list(c.segments),
        "depth": list(c.depths) if c.depths else None,
    }
    if s is not None and c.moved:
        row |= {
            "outward_mm": _number(s.outward.mm),
            "outward_at_mm": _point(s.outward.at if s.outward.mm else None),
            "inward_mm": _number(s.inward.mm),
            "inward_at_mm": _point(s.inward.at if s.inward.mm else None),
            "rms_mm": _number(s.rms_mm),
            "added_mm2": _number(s.added_mm2, 1),
            "removed_mm2": _number(s.removed_mm2, 1),
        }
    elif c.kind in HOLES and c.holes:
        row |= {"moved_mm": _point(c.shift), "diameters_mm": [_number(h.diameter) for h in c.holes]}
    elif c.kind in HOLES:
        hole = hole_of(c.line)
        row |= {"diameter_mm": _number(hole.diameter) if hole else None}
    elif c.moved:
        row |= {"off_mm": _number(c.worst.mm)}
    return row


def _number(value: float | None, decimals: int = 3) -> float | None:
    return None if value is None else round(value, decimals) + 0.0


def _point(at: Sequence[float] | None) -> list[float] | None:
    return None if at is None else [round(v, 3) + 0.0 for v in at]
