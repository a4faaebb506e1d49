"""What one line of a piece in hand needs to become the new one: wood that is missing, edges to trim, openings
to open."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely

from pipeline.compare.changes import HOLES, Change
from pipeline.compare.measure import SAME_MM, Point, Worst, clock, polygon_of, spot, spread
from pipeline.compare.pairs import Round
from pipeline.compare.roles import Roles
from pipeline.compare.state import Line
from pipeline.geometry.contour import Contour


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One thing to be done about a line: by how much, where, over what area, in words; ``holds`` the limit."""

    mm: float
    at: Point
    words: str
    limit: float
    area: float = 0.0
    local: float = math.inf


def needs_of(changes: Sequence[Change], roles: Roles) -> tuple[list[Need], list[Need], list[Need]]:
    """(wood that is missing, edges to trim, openings to open up) beyond the tolerance."""
    missing: list[Need] = []
    trims: list[Need] = []
    opens: list[Need] = []
    for c in changes:
        limit = roles.tolerance(c)
        if c.kind == "outside":
            _outside(c, roles, limit, missing, trims)
        elif c.kind in HOLES:
            _hole(c, limit, missing, opens)
        elif c.kind in ("opening", "pocket"):
            _opening(c, limit, missing, opens)
        elif c.kind in ("groove", "score") and c.state != "same":
            mm = c.worst.mm
            if c.old is None:
                opens.append(Need(mm=0.0, at=c.at, words=f"{c.what} is new", limit=limit))
            elif c.new is None or mm > limit:
                words = f"{c.what} is {'gone' if c.new is None else f'{mm:.2f} mm off'}"
                missing.append(Need(mm=mm, at=c.at, words=words, limit=limit))
    return missing, trims, opens


def _outside(c: Change, roles: Roles, limit: float, missing: list[Need], trims: list[Need]) -> None:
    if c.old is None or c.new is None:
        words = "it has one part more now" if c.old is None else "one of its parts is gone"
        missing.append(Need(mm=0.0, at=c.at, words=words, limit=limit))
        return
    assert c.spread is not None
    grew, area = c.spread.outward, c.spread.added_mm2
    finished = roles.finished(c)
    if (
        finished is not None
    ):  # it has an allowance, which is trimmed after glue-up: the finished edge must lie in it
        inside = spread(c.old.contour, finished)
        grew, area = inside.outward, inside.added_mm2
    elif c.spread.inward.mm > limit:
        w = c.spread.inward
        trims.append(Need(mm=w.mm, at=w.at, words=_edge("the outside", w, "farther in", c), limit=limit,
                           area=c.spread.removed_mm2))  # fmt: skip
    if grew.mm > limit:
        local = _local([finished or c.new.contour], [c.old.contour], limit)
        words = _edge("the outside", grew, "farther out", c)
        missing.append(Need(mm=grew.mm, at=grew.at, words=words, limit=limit, area=area, local=local))


def _opening(c: Change, limit: float, missing: list[Need], opens: list[Need]) -> None:
    if c.old is None:
        opens.append(Need(mm=0.0, at=c.at, words=f"{c.what} is new", limit=limit))
        return
    if c.new is None:
        missing.append(Need(mm=0.0, at=c.at, words=f"{c.what} is gone, and its wood with it", limit=limit))
        return
    assert c.spread is not None
    grew, fell = c.spread.outward, c.spread.inward
    if grew.mm > limit:
        opens.append(Need(mm=grew.mm, at=grew.at, words=_edge(c.what, grew, "wider", c), limit=limit,
                           area=c.spread.added_mm2))  # fmt: skip
    if fell.mm > limit:
        local = _local([c.old.contour], [c.new.contour], limit)
        missing.append(Need(mm=fell.mm, at=fell.at, words=_edge(c.what, fell, "narrower", c), limit=limit,
                             area=c.spread.removed_mm2, local=local))  # fmt: skip
    shallower = _less_deep(c.old, c.new)
    if shallower > limit:
        words = f"{c.what} is {shallower:.2f} mm less deep than it is cut"
        missing.append(Need(mm=shallower, at=c.at, words=words, limit=limit))


def _hole(c: Change, limit: float, missing: list[Need], opens: list[Need]) -> None:
    if c.holes is None:
        if c.old is None:
            opens.append(Need(mm=0.0, at=c.at, words=f"{c.what} is new: drill it", limit=limit))
        else:
            words = f"{c.what} is gone: plug it"
            missing.append(Need(mm=0.0, at=c.at, words=words, limit=limit, local=_width(c.old)))
        return
    a, b = c.holes
    away = math.dist(a.at, b.at)
    stays_out = away + a.diameter / 2 - b.diameter / 2  # how far the old hole reaches out of the new one
    if away <= limit and abs(b.diameter - a.diameter) <= 2 * limit:
        if c.old and c.new and _less_deep(c.old, c.new) > limit:
            mm = _less_deep(c.old, c.new)
            missing.append(Need(mm=mm, at=c.at, words=f"{c.what} is {mm:.2f} mm less deep", limit=limit))
        return
    words = f"{c.what} {hole_words(a, b)}"
    if stays_out <= limit:
        opens.append(
            Need(mm=max(away, b.diameter - a.diameter), at=c.at, words=f"{words}: drill it out", limit=limit)
        )
    else:
        mm = max(away, abs(b.diameter - a.diameter))
        missing.append(
            Need(mm=mm, at=c.at, words=f"{words}: plug it and drill anew", limit=limit, local=a.diameter)
        )


def hole_words(a: Round, b: Round) -> str:
    parts = []
    if math.dist(a.at, b.at) >= SAME_MM:
        parts.append(f"moved by {b.x - a.x:+.2f}, {b.y - a.y:+.2f}")
    if abs(a.diameter - b.diameter) >= SAME_MM:
        parts.append(f"was {a.diameter:.2f} wide")
    return " and ".join(parts) or "is the same"


def _less_deep(old: Line, new: Line) -> float:
    pairs = ((old.depth_mm, new.depth_mm), (old.deep_mm or old.depth_mm, new.deep_mm or new.depth_mm))
    return max((a - b for a, b in pairs if a is not None and b is not None), default=0.0)


def _edge(what: str, w: Worst, way: str, c: Change) -> str:
    return f"{what} lies {w.mm:.2f} mm {way} at {spot(w.at, 1)}, {clock(w.at, c.centre)}"


def _width(line: Line) -> float:
    x0, y0, x1, y1 = line.contour.bounds
    return max(x1 - x0, y1 - y0)


def _local(more: Iterable[Contour], less: Iterable[Contour], limit: float) -> float:
    """The longest extent of what lies in the first and not within the tolerance of the second."""
    gone = shapely.difference(polygon_of(tuple(more)), shapely.buffer(polygon_of(tuple(less)), limit))
    boxes = [p.bounds for p in shapely.get_parts(gone) if p.area > 0]
    return max((math.hypot(b[2] - b[0], b[3] - b[1]) for b in boxes), default=0.0)
