"""A design as it has just been derived, as a State: its lines as they would be written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.compare.state import CUT, Gauged, Layer, Line, State, Thing
from pipeline.core.shop import Shop
from pipeline.geometry.contour import Contour
from pipeline.geometry.shapes import circle
from pipeline.geometry.transform import Move
from pipeline.packet.layers import two_decimals
from pipeline.packet.packet_json import tidy
from pipeline.packet.refits import refit
from pipeline.packet.strokes import text_strokes
from pipeline.packet.views import label_seen, turned_over
from pipeline.packet.written import Circle, written
from pipeline.steps.values import Blank, Derived, Op, Piece, SetUp, WorkLine
from pipeline.workshop.cutters import shop_named


def state_of_derived(
    derived: Derived,
    *,
    sequence: Sequence[WorkLine] = (),
    totals: Mapping[str, Any] | None = None,
    gauges: Sequence[Mapping[str, Any]] = (),
) -> State:
    """The State of a derivation; curves are fitted as they are for cutting, so that equal designs are equal.

    ``gauges`` are rows of `packet.view_rows`. Raises Refused when a curve can't be fitted.
    """
    recipe = derived.recipe
    asked = _asked(gauges)
    steps = {s.name: _step(derived, s.name) for s in derived.order}
    pieces = [_piece(derived, p, asked) for p in derived.pieces]
    blanks = [_blank(derived, b, asked) for b in derived.blanks]
    return State(
        source=f"the recipe, revision {recipe.revision}",
        design=recipe.design,
        variant=recipe.variant,
        revision=recipe.revision,
        title=recipe.title or recipe.design,
        things=(*pieces, *blanks),
        steps=steps,
        sequence=tuple(
            {"n": w.n, "work": w.work, "piece": w.piece, "face": w.face, "cutter": w.cutter} for w in sequence
        ),
        totals=tidy(dict(totals)) if totals else {},
    )


def _step(derived: Derived, name: str) -> dict[str, Any]:
    step, result = derived.recipe.steps[name], derived.results.get(name)
    numbers: dict[str, Any] = tidy(dict(result.numbers)) if result else {}
    return {"name": name, "kind": step.kind, "needs": sorted(step.needs), **numbers}


def _piece(derived: Derived, p: Piece, asked: Mapping[str, tuple[Gauged, ...]]) -> Thing:
    stock = derived.recipe.sheets.get(p.sheet)
    return Thing(
        name=p.name,
        blank=False,
        lines=_lines(derived, p),
        role=p.role,
        step=p.step,
        sheet=p.sheet,
        letter=p.letter,
        material=stock.material if stock else "",
        shop=p.shop,
        count=p.count,
        thickness_mm=p.thickness_mm,
        mass_g=p.mass_g,
        gauges=asked.get(p.name, ()),
        design=p.region.contours,
    )


def _blank(derived: Derived, b: Blank, asked: Mapping[str, tuple[Gauged, ...]]) -> Thing:
    return Thing(
        name=b.name,
        blank=True,
        lines=_lines(derived, b),
        role="blank",
        step=b.step,
        shop=b.shop,
        count=b.count,
        thickness_mm=b.thickness_mm,
        mass_g=b.mass_g,
        layers=tuple(Layer(number=v.number, piece=v.piece, z0=v.z0, z1=v.z1) for v in b.laminations),
        gauges=asked.get(b.name, ()),
        design=tuple(part.outer for part in b.region.parts),
    )


def _asked(rows: Sequence[Mapping[str, Any]]) -> dict[str, tuple[Gauged, ...]]:
    found: dict[str, tuple[Gauged, ...]] = {}
    for row in rows:
        found[row["of"]] = (*found.get(row["of"], ()), gauged_of(row))
    return found


def gauged_of(row: Mapping[str, Any]) -> Gauged:
    """A row of packet.json's `gauges`."""
    return Gauged(
        page=str(row["path"]).rpartition("/")[2].removesuffix(".dxf"),
        letter=row["letter"],
        kind=row["kind"],
        what=row["what"],
        size_mm=float(row["size_mm"]),
        plus_minus_mm=float(row["plus_minus_mm"]),
    )


# -- lines -------------------------------------------------------------------------------------------
def _lines(derived: Derived, thing: Piece | Blank) -> tuple[Line, ...]:
    shop, tolerance = shop_named(derived.recipe, thing.shop), derived.recipe.tolerance
    found: list[Line] = []
    for set_up in thing.set_ups:
        for op in set_up.ops:
            if op.work in CUT:
                found += [_line(op, c, shop, tolerance) for c in op.contours]
        found += _words(derived, set_up)
    return tuple(found)


def _line(op: Op, contour: Contour, shop: Shop, tolerance: float) -> Line:
    """A contour as it is written, with depths as layer names say them; a laser cuts its holes as openings."""
    drilled = op.work == "DRILL" and op.through
    return Line(
        work="CUT_INSIDE" if drilled and shop.process == "laser" else op.work,
        face=op.face,
        contour=_written(refit(contour, tolerance)),
        depth_mm=_said(op.depth_mm)
        if op.work not in ("CUT_OUTSIDE", "CUT_INSIDE", "INDEX", "CARVE_LINE")
        else None,
        deep_mm=_said(op.deep_mm),
        diameter_mm=_said(op.diameter_mm) if op.work in ("DRILL", "GROOVE") else None,
        through=drilled,
        ramp=op.ramp,
    )


def _said(mm: float | None) -> float | None:
    return None if mm is None else float(two_decimals(mm))


def _written(contour: Contour) -> Contour:
    curve = written(contour)
    return circle(curve.x, curve.y, curve.r) if isinstance(curve, Circle) else curve


def _words(derived: Derived, set_up: SetUp) -> list[Line]:
    """Engraved labels as strokes: they are set as the machinist sees them, then turned back."""
    over = turned_over(set_up.face, derived.recipe)
    found: list[Line] = []
    for label in set_up.labels:
        if not label.engrave:
            continue
        seen = label_seen(label, over)
        strokes = text_strokes(seen.text, *seen.at, seen.height_mm, seen.turn_deg)
        found += [
            Line(work="ENGRAVE", face=set_up.face, contour=_back(over, s), depth_mm=_said(label.depth_mm))
            for s in strokes
        ]
    return found


def _back(over: Move, contour: Contour) -> Contour:
    """A contour as seen, in the design frame: turning over is its own way back."""
    return over.contour(contour)
