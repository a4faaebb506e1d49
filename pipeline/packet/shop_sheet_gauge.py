"""Three dimensions of a set-up to gauge on the first part, each with what it may be off by."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from pipeline.geometry.contour import Contour
from pipeline.packet.shop_sheet_depths import cut_of
from pipeline.packet.shop_sheet_seen import Seen, Shown
from pipeline.steps.values import Cut, Derived, Op

Point = tuple[float, float]
Kind = Literal["outside", "inside", "centres"]
"""What a dimension goes over: wood, an opening or pocket, or from the middle of a hole to that of another."""

GENERAL = (
    (3.0, 0.1),
    (6.0, 0.1),
    (30.0, 0.2),
    (120.0, 0.3),
    (400.0, 0.5),
    (1000.0, 0.8),
    (2000.0, 1.2),
    (4000.0, 2.0),
)
"""ISO 2768-1, linear dimensions, class m (medium): (up to and with mm, ± mm)."""
FIT_MM = 0.1
"""± for what another part fits into or on (common practice, no source)."""
LEAST_MM = 0.5
"""Smaller dimensions have no general tolerance in ISO 2768-1."""
MOST = 3
SAME_MM = 0.01
HOLES = 24
"""Of more holes than this only those that lie outermost are measured between."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One dimension: its letter, in words, nominal size and tolerance in mm, the two ends in the file's
    coordinates. ``side`` is the way a dimension line stands off what it measures, (0, 0) where it runs between.
    ``of`` is the piece or blank it belongs to."""

    letter: str
    what: str
    size_mm: float
    plus_minus_mm: float
    fit: bool
    ends: tuple[Point, Point]
    side: Point
    of: str
    kind: Kind


@dataclass(frozen=True, slots=True)
class _Found:
    of: str
    kind: Kind
    what: str
    size: float
    ends: tuple[Point, Point]
    side: Point = (0.0, 0.0)
    fit: bool = False


def general_tolerance(size_mm: float) -> float:
    """± mm of ISO 2768-1 class m; beyond its last range as there. Raises ValueError under 0.5 mm."""
    if size_mm < LEAST_MM:
        raise ValueError("ISO 2768-1 has no general tolerance for dimensions under 0.5 mm")
    return next((t for upto, t in GENERAL if size_mm <= upto + 1e-9), GENERAL[-1][1])


def gauges(sheet: Shown, derived: Derived) -> tuple[Gauge, ...]:
    """Up to three: the longest length, what another part fits, the distance of two holes; where one of them is
    missing the widths of the largest opening or pocket and of the outside stand in."""
    kinds = (
        _lengths(sheet),
        _fits(sheet, derived),
        _hole_distances(sheet, derived),
        _widths(sheet),
        _across(sheet),
    )
    chosen: list[_Found] = []
    for found in kinds:
        new = [f for f in found if f.size >= LEAST_MM and all(abs(f.size - c.size) > SAME_MM for c in chosen)]
        if new and len(chosen) < MOST:
            chosen.append(max(new, key=lambda f: round(f.size, 6)))
    return tuple(
        Gauge(
            letter="ABC"[i],
            what=f.what,
            size_mm=f.size,
            plus_minus_mm=FIT_MM if f.fit else general_tolerance(f.size),
            fit=f.fit,
            ends=f.ends,
            side=f.side,
            of=f.of,
            kind=f.kind,
        )
        for i, f in enumerate(chosen)
    )


def _of(sheet: Shown, seen: Seen) -> str:
    return f" of {seen.thing.name}" if sheet.nest else ""


def _ops(sheet: Shown, *works: str) -> Iterator[tuple[Seen, Op, Contour]]:
    """Closed contours of these works with what they belong to; each thing once, however many copies lie there."""
    done: set[tuple[str, str]] = set()
    for seen in sheet.seen:
        key = (seen.thing.name, str(seen.set_up.face))
        if key in done:
            continue
        done.add(key)
        yield from ((seen, op, c) for op in seen.set_up.ops if op.work in works for c in op.contours if c.closed)


def _lengths(sheet: Shown) -> Iterator[_Found]:
    for seen, _, c in _ops(sheet, "CUT_OUTSIDE"):
        what = f"longest length{_of(sheet, seen)}, as cut"
        yield _side(seen.thing.name, seen.move.contour(c), what, longer=True)


def _across(sheet: Shown) -> Iterator[_Found]:
    for seen, _, c in _ops(sheet, "CUT_OUTSIDE"):
        yield _side(seen.thing.name, seen.move.contour(c), f"width{_of(sheet, seen)}, as cut", longer=False)


def _side(of: str, c: Contour, what: str, *, longer: bool) -> _Found:
    """The longer or shorter side of a contour's box, with a dimension line below it or to its left."""
    x0, y0, x1, y1 = c.bounds
    if (x1 - x0 >= y1 - y0) == longer:
        return _Found(of, "outside", what, x1 - x0, ((x0, y0), (x1, y0)), (0.0, -1.0))
    return _Found(of, "outside", what, y1 - y0, ((x0, y0), (x0, y1)), (-1.0, 0.0))


def _fits(sheet: Shown, derived: Derived) -> Iterator[_Found]:
    for seen, op, c in _ops(sheet, "POCKET", "RAMP", "CUT_INSIDE", "DRILL"):
        cut = cut_of(op, derived)
        if cut and cut.fit and c.area and _alike(cut, c):
            found = _width(seen, cut, c, f"width of {cut.name}{_of(sheet, seen)}, fit {cut.fit}")
            yield replace(found, fit=True)


def _alike(cut: Cut, c: Contour) -> bool:
    """The contour is the cut itself, not a smaller one that is trimmed later."""
    return any(
        max(abs(a - b) for a, b in zip(p.outer.bounds, c.bounds, strict=True)) < SAME_MM for p in cut.region.parts
    )


def _width(seen: Seen, cut: Cut, c: Contour, what: str) -> _Found:
    """Across a pocket: the shorter side of its least box that no overrun has made longer."""
    design = min(
        (p.outer for p in cut.design.parts),
        key=lambda o: max(abs(a - b) for a, b in zip(o.bounds, c.bounds, strict=True)),
    )
    whole = {round(math.dist(*s), 3) for s in _sides(c)}
    own = sorted(_sides(design), key=lambda s: math.dist(*s))
    side = next((s for s in own if any(abs(math.dist(*s) - w) < SAME_MM for w in whole)), own[0])
    a, b = (seen.move.point(*p) for p in side)
    return _Found(seen.thing.name, "inside", what, math.dist(*side), (a, b))


def _sides(c: Contour) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """The two middle lines of the least box around a contour; of a circle, its diameters."""
    round_one = c.circle()
    x0, y0, x1, y1 = c.bounds
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    straight = (((x0, my), (x1, my)), ((mx, y0), (mx, y1)))
    if round_one:
        return straight
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(c.flatten()[0]))
    # The exact box where it lies along the axes: the flattened form is a hair smaller.
    if box.geom_type != "Polygon" or box.area > (x1 - x0) * (y1 - y0) * 0.9999:
        return straight
    p = shapely.get_coordinates(box)[:4]
    m = [((p[i] + p[(i + 1) % 4]) / 2).tolist() for i in range(4)]
    return ((m[0][0], m[0][1]), (m[2][0], m[2][1])), ((m[1][0], m[1][1]), (m[3][0], m[3][1]))


def _hole_distances(sheet: Shown, derived: Derived) -> Iterator[_Found]:
    """The holes of each thing that lie farthest apart; index holes are made for pins, and count as a fit."""
    holes: dict[str, list[tuple[Seen, Point, bool]]] = {}
    for seen, op, c in _ops(sheet, "DRILL", "CUT_INSIDE"):
        round_one = c.circle()
        if round_one:
            cut = cut_of(op, derived)
            found = holes.setdefault(seen.thing.name, [])
            found.append((seen, (round_one[0], round_one[1]), bool(cut and cut.index)))
    for these in holes.values():
        pair = _farthest([p for _, p, _ in these])
        if pair is None:
            continue
        (seen, p, first), (_, q, second) = these[pair[0]], these[pair[1]]
        index = first and second
        what = f"{'index holes' if index else 'holes'}{_of(sheet, seen)}, centre to centre"
        ends = (seen.move.point(*p), seen.move.point(*q))
        yield _Found(seen.thing.name, "centres", what, math.dist(p, q), ends, fit=index)


def _farthest(points: Sequence[Point]) -> tuple[int, int] | None:
    which = list(range(len(points)))
    if len(which) > HOLES:
        by_x, by_y = (sorted(which, key=lambda i: points[i][k]) for k in (0, 1))
        which = sorted({*by_x[:6], *by_x[-6:], *by_y[:6], *by_y[-6:]})
    pairs = itertools.combinations(which, 2)
    return max(
        pairs, key=lambda ij: (round(math.dist(points[ij[0]], points[ij[1]]), 6), -ij[0], -ij[1]), default=None
    )


def _widths(sheet: Shown) -> Iterator[_Found]:
    """Across the openings and pockets."""
    for seen, op, c in _ops(sheet, "POCKET", "RAMP", "CUT_INSIDE", "DRILL"):
        side = min(_sides(c), key=lambda s: math.dist(*s))
        a, b = (seen.move.point(*p) for p in side)
        what = f"{'diameter' if c.circle() else 'width'} of {op.step or 'an opening'}"
        yield _Found(seen.thing.name, "inside", f"{what}{_of(sheet, seen)}", math.dist(*side), (a, b))
