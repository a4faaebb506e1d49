"""A left-handed design: the whole derivation mirrored about the x axis, (x, y) → (x, −y).

Faces and heights stay, since only the plan is mirrored. Words are not: a label moves and reads on. What must not
be mirrored with its surroundings (a handed part, the sense of a feed arrow) is made mirrored by its own step,
so that the mirroring here turns it right again (`core.recipe.Recipe.mirrored`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from pipeline.core.balance import Balance
from pipeline.core.findings import Finding
from pipeline.core.recipe import Recipe
from pipeline.geometry.region import Region
from pipeline.geometry.transform import mirror_x_axis
from pipeline.steps.values import (
    Blank,
    Calibration,
    Cut,
    Derived,
    Drawing,
    Drawn,
    EdgeRun,
    Label,
    Mark,
    Op,
    Piece,
    Repair,
    Result,
    SetUp,
)

MOVE = mirror_x_axis()
Point = tuple[float, float]


def mirrored(derived: Derived) -> Derived:
    """The derivation of the other hand; bought parts and notes stand where the mirrored design has them."""
    return Derived(
        recipe=_recipe(derived.recipe),
        drawing=_drawing(derived.drawing),
        order=derived.order,
        results={name: _result(r) for name, r in derived.results.items()},
    )


def point(p: Point) -> Point:
    """(x, −y), without a negative zero."""
    return p[0] + 0.0, 0.0 - p[1]


def _recipe(recipe: Recipe) -> Recipe:
    hardware = {
        name: part if part.at is None else replace(part, at=(*point(part.at[:2]), part.at[2]))
        for name, part in recipe.hardware.items()
    }
    notes = tuple(n if isinstance(n.at, str) else replace(n, at=point(n.at)) for n in recipe.notes)
    balance = None if recipe.balance is None else _balance(recipe.balance)
    return replace(recipe, hardware=hardware, notes=notes, balance=balance)


def _balance(b: Balance) -> Balance:
    """Points move; marks move with the drawing. ``up`` turns over with the design: see `workshop/balance.py`."""
    legs, stands = b.legs, b.stands
    if legs is not None:
        legs = replace(legs, centre=_spot(legs.centre), first=0.0 - legs.first)
    if stands is not None and stands.device is not None:
        at = stands.device.at
        stands = replace(stands, device=replace(stands.device, at=(*point(at[:2]), at[2])))
    pieces = {n: v if isinstance(v, float | int) else (*point(v[:2]), v[2]) for n, v in b.pieces.items()}
    return replace(
        b,
        seat=_spot(b.seat),
        strap=tuple(_spot(v) for v in b.strap),
        nut=_spot(b.nut),
        handle=tuple(_spot(v) for v in b.handle),
        hang=_spot(b.hang),
        legs=legs,
        stands=stands,
        pieces=pieces,
    )


def _spot(at: str | Point) -> str | Point:
    return at if isinstance(at, str) else point(at)


def _drawing(drawing: Drawing) -> Drawing:
    return replace(
        drawing,
        objects={name: _drawn(d) for name, d in drawing.objects.items()},
        all=_drawn(drawing.all),
        several={names: _drawn(d) for names, d in drawing.several.items()},
        findings=tuple(_finding(f) for f in drawing.findings),
        calibrations=tuple(_calibration(c) for c in drawing.calibrations),
    )


def _drawn(drawn: Drawn) -> Drawn:
    return replace(
        drawn,
        region=_region(drawn.region),
        lines=tuple(MOVE.contour(c) for c in drawn.lines),
        mark=_mark(drawn.mark) if drawn.mark else None,
    )


def _mark(mark: Mark) -> Mark:
    return replace(mark, at=point(mark.at), ends=tuple(point(p) for p in mark.ends))


def _calibration(c: Calibration) -> Calibration:
    return replace(c, ends=(point(c.ends[0]), point(c.ends[1])))


def _region(region: Region | None) -> Region | None:
    return None if region is None else MOVE.region(region)


def _finding(finding: Finding) -> Finding:
    at, shown = finding.at_mm, finding.shown
    if shown is not None:
        a, b = shown.ends_mm or (None, None)
        shown = replace(
            shown,
            ends_mm=(point(a), point(b)) if a is not None and b is not None else None,
            cutter_at_mm=point(shown.cutter_at_mm) if shown.cutter_at_mm is not None else None,
            left_mm=tuple(tuple(point(p) for p in loop) for loop in shown.left_mm),
        )
    return replace(finding, at_mm=None if at is None else point(at), shown=shown)


def _result(r: Result) -> Result:
    return replace(
        r,
        region=_region(r.region),
        regions=tuple(MOVE.region(v) for v in r.regions),
        cuts=tuple(_cut(c) for c in r.cuts),
        pieces=tuple(_piece(p) for p in r.pieces),
        blanks=tuple(_blank(b) for b in r.blanks),
        numbers=_numbers(r.numbers),
        findings=tuple(_finding(f) for f in r.findings),
        before=_region(r.before),
        repairs=tuple(_repair(v) for v in r.repairs),
    )


def _repair(repair: Repair) -> Repair:
    return replace(repair, at_mm=point(repair.at_mm))


def _cut(cut: Cut) -> Cut:
    tilt = cut.depth.tilt
    if tilt is not None:  # p·toward stays what it was: both are mirrored
        tilt = replace(tilt, toward=point(tilt.toward))
    return replace(
        cut,
        region=MOVE.region(cut.region),
        design=MOVE.region(cut.design),
        depth=replace(cut.depth, tilt=tilt),
    )


def _op(op: Op) -> Op:
    return replace(
        op,
        contours=tuple(MOVE.contour(c) for c in op.contours),
        ramp=tuple((*point((x, y)), depth) for x, y, depth in op.ramp),
    )


def _label(label: Label) -> Label:
    """Upright words stay upright; a label that isn't centred keeps its left end."""
    return replace(label, at=point(label.at), turn_deg=_reads(-label.turn_deg) if label.turn_deg else 0.0)


def _reads(degrees: float) -> float:
    """An angle of text at which it isn't on its head: −90 < angle ≤ 90."""
    turned = (degrees + 90.0) % 180.0 - 90.0
    return 90.0 if turned == -90.0 else turned


def _set_up(s: SetUp) -> SetUp:
    return replace(s, ops=tuple(_op(o) for o in s.ops), labels=tuple(_label(v) for v in s.labels))


def _piece(p: Piece) -> Piece:
    return replace(
        p,
        region=MOVE.region(p.region),
        cut=MOVE.region(p.cut),
        set_ups=tuple(_set_up(s) for s in p.set_ups),
        partial=tuple((MOVE.region(r), depth) for r, depth in p.partial),
    )


def _blank(b: Blank) -> Blank:
    centre = None if b.centre_mm is None else (*point(b.centre_mm[:2]), b.centre_mm[2])
    return replace(
        b,
        region=MOVE.region(b.region),
        set_ups=tuple(_set_up(s) for s in b.set_ups),
        centre_mm=centre,
        edges=tuple(_edge_run(e) for e in b.edges),
    )


def _edge_run(run: EdgeRun) -> EdgeRun:
    return replace(run, edge=MOVE.contour(run.edge), lines=tuple(MOVE.contour(c) for c in run.lines))


def _numbers(numbers: Mapping[str, Any]) -> dict[str, Any]:
    """Places among a step's numbers: ``…bounds_mm`` is a box; ``…at_mm``, ``…axis_mm``, ``…places_mm`` hold points
    (one or several), which is what steps call them."""
    return {k: _number(k, v) for k, v in numbers.items()}


def _number(key: str, value: Any) -> Any:
    if isinstance(value, Mapping):
        return _numbers(value)
    if not isinstance(value, list | tuple) or not value:
        return value
    if key.endswith("bounds_mm") and len(value) == 4:
        return [value[0], 0.0 - value[3], value[2], 0.0 - value[1]]
    if key.endswith(("at_mm", "axis_mm", "places_mm", "screws_mm")):
        if all(isinstance(v, list | tuple) for v in value):
            return [_number(key, v) for v in value]
        return [value[0], 0.0 - value[1], *value[2:]] if len(value) >= 2 else value
    return [_number("", v) if not isinstance(v, Mapping) else _numbers(v) for v in value]
