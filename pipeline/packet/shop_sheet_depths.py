"""The depth table of a shop sheet: every cut with its depth from the face and its height above the table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from pipeline.geometry.contour import Contour
from pipeline.packet.layers import two_decimals
from pipeline.packet.shop_sheet_seen import Seen, Shown
from pipeline.steps.values import Cut, Derived, Op
from pipeline.workshop.cutters import CUTS

Governs = Literal["face", "table", ""]
WORDS = {
    "DRILL": "hole",
    "POCKET": "pocket",
    "RAMP": "sloped pocket",
    "GROOVE": "groove",
    "ENGRAVE": "engraving",
    "SCORE": "scored line",
    "CUT_INSIDE": "opening",
    "CUT_OUTSIDE": "outside",
}
MOST_PLACES = 6
"""So many places of one row get its number in the picture."""
FLAT_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthRow:
    """One row: ``depth`` from the face that lies up and ``height`` above the table as printed (mm, two decimals; a
    sloped floor has both ends); ``governs`` tells which of the two is held. ``places`` are in the file's
    coordinates; ``count`` how often it occurs."""

    number: int
    what: str
    count: int
    depth: str
    height: str
    governs: Governs
    places: tuple[tuple[float, float], ...]


def depth_rows(sheet: Shown, derived: Derived) -> tuple[DepthRow, ...]:
    """All rows in the order of works, numbered from 1."""
    groups: dict[tuple[object, ...], list[tuple[Seen, Op, Cut | None]]] = {}
    for seen in sheet.seen:
        for op in seen.set_up.ops:
            if op.work in CUTS:
                cut = cut_of(op, derived)
                groups.setdefault(_key(sheet, seen, op, cut), []).append((seen, op, cut))
    ordered = sorted(groups.values(), key=lambda rows: CUTS.index(rows[0][1].work))
    return tuple(_row(n, sheet, rows) for n, rows in enumerate(ordered, start=1))


def cut_of(op: Op, derived: Derived) -> Cut | None:
    """The plan rule that an operation follows: of its step's rules the one whose plan is most alike; None where
    the step states none."""
    result = derived.results.get(op.step)
    cuts = [c for c in result.cuts if c.region] if result else []
    if not cuts or not op.contours:
        return None
    box = shapely.total_bounds([shapely.box(*c.bounds) for c in op.contours]).tolist()
    off = [max(abs(a - b) for a, b in zip(c.region.bounds, box, strict=True)) for c in cuts]
    return cuts[off.index(min(off))]


def _plain(op: Op) -> bool:
    """What a nest tells once for the whole sheet."""
    return op.work in ("CUT_OUTSIDE", "CUT_INSIDE", "ENGRAVE", "SCORE")


def _name(sheet: Shown, op: Op, cut: Cut | None) -> str:
    if op.work == "CUT_OUTSIDE" or (sheet.nest and _plain(op)):
        return ""
    return cut.name if cut and not op.through and op.work != "DRILL" else op.step


def _key(sheet: Shown, seen: Seen, op: Op, cut: Cut | None) -> tuple[object, ...]:
    """What goes into one row: on a nest the same cut of every copy of a part."""
    thing = "" if sheet.nest is None or _plain(op) else seen.thing.name
    return op.work, thing, _name(sheet, op, cut), op.depth_mm, op.deep_mm, op.diameter_mm, op.through


def _row(number: int, sheet: Shown, rows: Sequence[tuple[Seen, Op, Cut | None]]) -> DepthRow:
    seen, op, cut = rows[0]
    words = [WORDS[op.work]]
    if op.diameter_mm and op.work == "DRILL":
        words.append(f"Ø{two_decimals(op.diameter_mm)}")
    if op.diameter_mm and op.work == "GROOVE":
        words.append(f"{two_decimals(op.diameter_mm)} wide")
    words.append(_name(sheet, op, cut))
    if sheet.nest and not _plain(op):
        words.append(f"in {seen.thing.name}")
    depth, height = _heights(op, sheet.thickness_mm)
    found = [(s, c) for s, o, _ in rows for c in _features(o)]
    strokes = op.work in ("ENGRAVE", "SCORE")
    shown = 0 if op.work == "CUT_OUTSIDE" or (sheet.nest and _plain(op)) else 1 if strokes else MOST_PLACES
    return DepthRow(
        number=number,
        what=" ".join(w for w in words if w),
        count=1 if strokes else len(found),
        depth=depth,
        height=height,
        governs=_governs(op, cut),
        places=tuple(s.move.point(*_middle(c)) for s, c in found[:shown]),
    )


def _heights(op: Op, thick: float) -> tuple[str, str]:
    """(from the face, above the table) as printed."""
    if op.work in ("CUT_INSIDE", "CUT_OUTSIDE") or op.through:
        return f"{two_decimals(thick)} through", "0.00"
    if op.depth_mm is None:  # a scored line: as deep as the shop scores
        return "scored", ""
    ends = (op.depth_mm, op.deep_mm) if op.work == "RAMP" and op.deep_mm is not None else (op.depth_mm,)
    down = " to ".join(str(two_decimals(d)) for d in ends)
    return down, " to ".join(str(two_decimals(thick - d)) for d in ends)


def _governs(op: Op, cut: Cut | None) -> Governs:
    """A depth rule is held from the face, a floor rule from the table; what goes through needs neither."""
    if op.work in ("CUT_INSIDE", "CUT_OUTSIDE", "SCORE") or op.through:
        return ""
    return "table" if cut and cut.depth.rule == "floor" else "face"


def _features(op: Op) -> tuple[Contour, ...]:
    """One contour for each pocket (islands left out), hole or stroke."""
    if op.work in ("POCKET", "RAMP"):
        return tuple(c for c in op.contours if c.area > 0) or op.contours[:1]
    return op.contours


def _middle(c: Contour) -> tuple[float, float]:
    """A point well inside a closed contour, or on an open one."""
    round_one = c.circle()
    if round_one:
        return round_one[0], round_one[1]
    if not c.closed:
        x, y = c.xy[len(c.xy) // 2].tolist()
        return x, y
    shape = shapely.simplify(shapely.Polygon(c.flatten(FLAT_MM)[0]), FLAT_MM)
    x0, y0, x1, y1 = shape.bounds
    centre = shapely.Point((x0 + x1) / 2, (y0 + y1) / 2)
    inside = centre if shape.buffer(-1.0).contains(centre) else shape.representative_point()
    return round(inside.x, 6), round(inside.y, 6)
