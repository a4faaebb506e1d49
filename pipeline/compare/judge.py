"""The verdict on a flat piece in hand: its old lines against the new ones, by what wood is there (trade.md
12.3)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.compare import rigid
from pipeline.compare.changes import Change
from pipeline.compare.engraved import engraved
from pipeline.compare.judge_needs import Need, hole_words, needs_of
from pipeline.compare.measure import SAME_MM, Point
from pipeline.compare.roles import Roles
from pipeline.compare.state import State, Thing
from pipeline.compare.things import Compared
from pipeline.core.verdict import What
from pipeline.geometry.transform import Move

INDEX_MM = 0.05
"""Index holes that lie within this are in the same place (trade.md 12.3)."""
ENGRAVED = {
    "same": "",
    "elsewhere": "",
    "marks": "its centreline or other marks lie elsewhere on it now",
    "words": "other words or marks are engraved on it now",
}
LOCAL_MM = 20.0
"""What is missing over less than this may be built up, in MDF (trade.md 12.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A verdict before it is told: what, its number and limit in mm, where, area, a sentence, further ones."""

    what: What
    because: str
    mm: float | None = None
    tolerance_mm: float | None = None
    at_mm: Point | None = None
    area_mm2: float | None = None
    remarks: tuple[str, ...] = ()


def judged(found: Compared, old_state: State, new_state: State) -> Judged:
    """The verdict on a piece by its drawings alone; both revisions must have it."""
    old, new = found.old, found.new
    assert old is not None
    assert new is not None
    if found.problem:
        return Judged(what="measure it", because=f"Its files can't be compared: {found.problem}.")
    roles = Roles(old, new, old_state, new_state)
    index = [c for c in found.changes if roles.is_index(c)]
    own = [c for c in found.changes if not roles.is_index(c)]
    ruling, idle = [c for c in own if roles.rules(c)], [c for c in own if not roles.rules(c) and c.state != "same"]
    remarks = _idle(idle)
    missing, trims, opens = needs_of(ruling, roles)
    off_index = [c for c in index if _index_off(c) > INDEX_MM]
    if not (missing or trims or opens):
        if off_index:
            return _registered(off_index, remarks)
        return _kept(found, ruling, roles, remarks)
    move = _whole(ruling)
    if move is not None:
        return _elsewhere(found, move, index, roles, remarks)
    return _worked(missing, trims, opens, new, roles, remarks)


# -- verdicts ----------------------------------------------------------------------------------------
def _worked(
    missing: list[Need],
    trims: list[Need],
    opens: list[Need],
    new: Thing,
    roles: Roles,
    remarks: tuple[str, ...],
) -> Judged:
    what: What = "remake" if missing else "trim down" if trims else "open up"
    needs = missing or trims or opens
    worst = max(needs, key=lambda n: n.mm)
    area = sum(n.area for n in needs)
    rest = [n.words for n in needs if n is not worst]
    if not missing and trims and opens:
        rest += [f"open up: {n.words}" for n in opens]
    ends = {
        "remake": f"; {area:.1f} mm² of wood are missing" if area else "",
        "trim down": f"; {area:.1f} mm² to remove, nothing to add",
        "open up": f"; {area:.1f} mm² to remove, nothing to add" if area else "",
    }
    more = (
        [_sentence(", ".join(rest[:4]) + (f" and {len(rest) - 4} more" if len(rest) > 4 else ""))] if rest else []
    )
    if missing and max(n.local for n in missing) < LOCAL_MM and roles.is_mdf(new):
        size = max(n.local for n in missing)
        more.append(f"It is MDF and the place is {size:.0f} mm long: it can be built up with filler instead.")
    return Judged(
        what=what,
        because=_sentence(worst.words + ends[what]),
        mm=worst.mm,
        tolerance_mm=worst.limit,
        at_mm=worst.at,
        area_mm2=area,
        remarks=(*more, *remarks),
    )


def _kept(found: Compared, ruling: Sequence[Change], roles: Roles, remarks: tuple[str, ...]) -> Judged:
    """Every ruling edge is within its tolerance: what is still to be said."""
    mm, limit = _fit(ruling, roles)
    fits = f"It fits within {mm:.2f} mm" if mm >= SAME_MM else "Its edges are the same"
    deeper = [c for c in ruling if c.depths]
    if deeper:
        words = ", ".join(f"{c.what} was {c.depths[0]}" for c in deeper if c.depths)
        because = _sentence(f"{words}. {fits}")
        return Judged(
            what="keep, new set-up sheet",
            because=because,
            mm=mm,
            tolerance_mm=limit,
            at_mm=deeper[0].at,
            remarks=remarks,
        )
    served = roles.depth_of_served()
    if served and found.relabelled:
        said = f"{fits}; {served}. Strike out the depth that is engraved on it"
        return Judged(what="keep, new set-up sheet", because=_sentence(said), mm=mm, tolerance_mm=limit,
                      remarks=remarks)  # fmt: skip
    pair = roles.pair_words()
    if pair:
        return Judged(
            what="re-label", because=_sentence(f"{fits}; {pair}"), mm=mm, tolerance_mm=limit, remarks=remarks
        )
    if found.was:
        return Judged(what="re-label", because=_sentence(f"{fits}; it was called {found.was}"), mm=mm,
                      tolerance_mm=limit, remarks=remarks)  # fmt: skip
    assert found.old is not None
    assert found.new is not None
    words = ENGRAVED[engraved(found.old, found.new)]
    if words:
        because = _sentence(f"{fits}; {words}")
        return Judged(what="re-label", because=because, mm=mm, tolerance_mm=limit, remarks=remarks)
    return Judged(what="good as is", because=_sentence(fits), mm=mm, tolerance_mm=limit, remarks=remarks)


def _fit(ruling: Sequence[Change], roles: Roles) -> tuple[float, float]:
    """The largest move among ruling edges and the tolerance that holds there."""
    rows = [(_moved(c, roles), roles.tolerance(c)) for c in ruling]
    return max(rows, default=(0.0, roles.usual))


def _moved(c: Change, roles: Roles) -> float:
    if roles.finished(c) is not None:
        return 0.0  # rough: its edge is trimmed later
    return max(math.hypot(*c.shift), abs(c.resized_mm)) if c.holes else c.worst.mm


def _index_off(c: Change) -> float:
    if c.holes is None:
        return math.inf
    return max(math.hypot(*c.shift), abs(c.resized_mm))


def _registered(off: Sequence[Change], remarks: tuple[str, ...]) -> Judged:
    worst = max(off, key=_index_off)
    if worst.holes is None:
        state = "new" if worst.old is None else "gone"
        words, mm = f"the shape is good; {worst.what} is {state}", None
    else:
        words, mm = f"the shape is good; {worst.what} {hole_words(*worst.holes)}", _index_off(worst)
    because = _sentence(f"{words}. Bore new index holes, or place it by its marks")
    return Judged(
        what="re-register", because=because, mm=mm, tolerance_mm=INDEX_MM, at_mm=worst.at, remarks=remarks
    )


def _whole(ruling: Sequence[Change]) -> Move | None:
    """The shift or turn by which all ruling lines moved alike."""
    if any(c.old is None or c.new is None for c in ruling):
        return None
    pairs = [(c.old.contour, c.new.contour) for c in ruling if c.old and c.new and c.kind != "carve line"]
    move = rigid.moved_alike(pairs, INDEX_MM) if pairs else None
    far = max((rigid.length_of(move, a.bounds) for a, _ in pairs), default=0.0) if move else 0.0
    return move if far > INDEX_MM else None


def _elsewhere(
    found: Compared, move: Move, index: Sequence[Change], roles: Roles, remarks: tuple[str, ...]
) -> Judged:
    """The same shape in another place of the design: good, unless its index holes did not go with it."""
    old, new = found.old, found.new
    assert old is not None
    assert new is not None
    boxes = [line.contour.bounds for line in old.lines]
    mm = max(rigid.length_of(move, b) for b in boxes)
    went = [c for c in index if c.holes is None or math.dist(move.point(*c.holes[0].at), c.holes[1].at) > INDEX_MM]
    if went:
        words = f"the shape is the same, {rigid.said(move)} from its index holes"
        because = _sentence(f"{words}. Bore new index holes, or place it by its marks")
        return Judged(what="re-register", because=because, mm=mm, tolerance_mm=INDEX_MM, remarks=remarks)
    same = replace(old, lines=tuple(replace(v, contour=move.contour(v.contour)) for v in old.lines))
    words = f"the same piece; it lies elsewhere in the design ({rigid.said(move)})"
    marks = ENGRAVED[engraved(same, new)]
    what: What = "re-label" if marks else "good as is"
    words += f"; {marks}" if marks else ""
    if roles.old.role == "template" and not index:
        words += ". It is placed by its marks"
    return Judged(what=what, because=_sentence(words), mm=mm, tolerance_mm=roles.usual, remarks=remarks)


def _idle(idle: Sequence[Change]) -> tuple[str, ...]:
    """What changed and doesn't matter, because nothing follows it."""
    if not idle:
        return ()
    worst = max(idle, key=lambda c: c.worst.mm)
    mm = f" by {worst.worst.mm:.2f} mm at most" if worst.worst.mm else ""
    names = ", ".join(dict.fromkeys(c.what for c in idle))
    return (_sentence(f"{names} changed{mm}, which nothing follows"),)


def _sentence(words: str) -> str:
    text = words.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."
