"""Makes a carved shape: each lamination's cut outline, the lines to carve to, and what is left to carve.

A lamination from z0 to z1 is cut to the union of all sections between (everything that finished wood needs); on
its upper face stands the section at z1, on its underside that at z0. With no allowance the inner corner of every
step lies on the finished surface (trade.md 4.4). It makes its own laminations and blank, as a stack does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pipeline.core.errors import refuse
from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.contour import Floats
from pipeline.geometry.offset import offset
from pipeline.geometry.profiles import Areas, Profile, areas, of_line, section
from pipeline.geometry.region import Region
from pipeline.geometry.rounding import scallop
from pipeline.steps.carved import Spec, problems
from pipeline.steps.carved_told import RULE, Row, ball_numbers, findings_of, row_numbers, wrong_height
from pipeline.steps.common import Stock, mm, one_of_words, place_in, refuse_all, sheet_of
from pipeline.steps.heights import Floor, Span, floor_of, spans
from pipeline.steps.lamination import Layer, cut_layer
from pipeline.steps.measures import shape_of
from pipeline.steps.solids import body
from pipeline.steps.stack_rows import cut_row
from pipeline.steps.values import Blank, Cut, Lamination, Op, Piece, Result, SetUp, World

SAME_MM = 1e-6
LINE_MM = 0.05
"""A carve line as near to the cut edge as this is not drawn."""
STROKE_MM = 0.3


def make(name: str, spec: Spec, world: World) -> Result:
    """The laminations as pieces, the blank, the carve lines, and the volume that is left to carve."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    outline = shape_of(world, step, "outline", spec.outline)
    profile = _profile(step, spec, world)
    stock = [sheet_of(world, step, f"laminations.{i}", s) for i, s in enumerate(spec.laminations)]
    levels = spans(tuple(s.thickness_mm for s in stock), spec.glue)
    total = levels[-1].z1
    findings: list[Finding] = list(wrong_height(step, profile.top, total, outline))
    cuts = tuple(c for n in spec.cut for c in world.result(n).cuts)
    floors = tuple(floor_of(c, total) for c in cuts if not c.index)
    index = tuple(c for c in cuts if c.index)
    insets = profile.at(profile.stops(0.0, min(total, profile.top)))
    measure = areas(outline, min(0.0, float(insets.min())), max(0.0, float(insets.max())))

    made = [
        _lamination(
            step, spec, world, _Place(span=v, stock=s, count=len(levels)), outline, profile, measure, floors, index
        )
        for v, s in zip(levels, stock, strict=True)
        if v.z0 < profile.top - SAME_MM
    ]
    for m in made:
        findings += m.findings
    rows = [m.row for m in made]
    findings += findings_of(step, rows, outline)
    widest = section(outline, float(insets.min()))
    mass, centre = _weight(made)
    blank = Blank(
        name=name,
        step=name,
        shop=stock[0].shop.name,
        count=world.recipe.make,
        laminations=tuple(
            Lamination(
                number=m.row.number,
                sheet=m.piece.sheet,
                letter=m.piece.letter,
                z0=m.row.z0,
                z1=m.row.z1,
                piece=m.piece.name,
            )
            for m in made
        ),
        thickness_mm=total,
        region=widest,
        set_ups=(),
        mass_g=mass,
        centre_mm=centre,
    )
    left = sum(r.carve_mm3 for r in rows)
    error = sum(r.error_mm3 for r in rows)
    numbers: dict[str, Any] = {
        "thickness_mm": total,
        "profile_top_mm": profile.top,
        "spans_mm": [[v.z0, v.z1] for v in levels],
        "profile_mm": [[float(n), float(z)] for z, n in _shown(profile)],
        "cuts": [cut_row(f, levels) for f in floors],
        "laminations": [{**row_numbers(m.row), "work": list(m.work)} for m in made],
        "finished_mm3": sum(r.finished_mm3 for r in rows),
        "to_carve_mm3": left,
        "to_carve_error_mm3": error,
        "to_carve_exact": measure.exact,
        **ball_numbers(spec, profile),
    }
    about = "" if measure.exact else f" (to {error / 1000:.2f})"
    reports = [
        f"{name}: {len(made)} laminations in steps, {total:.2f} mm high; {left / 1000:.1f} cm³{about} are "
        f"left to carve. {RULE[0].upper()}{RULE[1:]}."
    ]
    if spec.ball is not None:
        cusp = scallop(spec.ball.diameter / 2, spec.ball.step)
        reports.append(
            f"{name}: a ball of {mm(spec.ball.diameter)} stepping {mm(spec.ball.step)} leaves cusps of {cusp:.3f}."
        )
    return Result(
        step=name,
        kind="carved",
        region=widest,
        regions=tuple(m.cut for m in made),
        pieces=tuple(m.piece for m in made),
        blanks=(blank,),
        numbers=numbers,
        reports=tuple(reports),
        findings=tuple(findings),
    )


def _profile(step: Step, spec: Spec, world: World) -> Profile:
    """The profile from its points or from the drawn line. Raises Refused where it isn't one."""
    if spec.drawn is None:
        points = np.array(spec.profile)
        return Profile(heights=points[:, 1], insets=points[:, 0], smooth=spec.smooth)
    thing = world.drawing.objects.get(spec.drawn)
    lines = thing.lines if thing is not None else ()
    if len(lines) != 1:
        raise refuse(
            f"The profile of {step.name} must be one open line, and {spec.drawn} is none.",
            place=place_in(step, "drawn"),
            expected=one_of_words([n for n, d in world.drawing.objects.items() if len(d.lines) == 1], spec.drawn),
        )
    try:
        return of_line(lines[0])
    except ValueError as error:
        raise refuse(
            f"The line {spec.drawn} can't be the profile of {step.name}: {error}.",
            place=place_in(step, "drawn"),
            expected="a line that rises from its foot to its top, however it goes in and out",
        ) from error


def _shown(profile: Profile) -> list[tuple[float, float]]:
    """(height, inset) rows to tell: the points of the profile, thinned to forty where a drawn line has more."""
    n = len(profile.heights)
    pick = np.unique(np.linspace(0, n - 1, min(n, 40)).round().astype(int))
    return list(zip(profile.heights[pick].tolist(), profile.insets[pick].tolist(), strict=True))


# -- one lamination ----------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a lamination lies, of how many, and what it is cut from."""

    span: Span
    stock: Stock
    count: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    """One lamination: its piece, its cut outline before allowance, its row, its mass and moments after carving."""

    piece: Piece
    cut: Region
    row: Row
    weight: Floats | None
    findings: tuple[Finding, ...]
    work: tuple[dict[str, Any], ...]


def _lamination(
    step: Step,
    spec: Spec,
    world: World,
    at: _Place,
    outline: Region,
    profile: Profile,
    measure: Areas,
    floors: tuple[Floor, ...],
    index: tuple[Cut, ...],
) -> _Made:
    span = at.span
    top = min(span.z1, profile.top)
    below, above = profile.one(span.z0), profile.one(top)
    least = profile.least(span.z0, top)
    cut = section(outline, least)
    if not cut:
        raise refuse(
            f"{step.name}: {mm(least)} mm inside the outline, at the height {mm(span.z0)}, nothing is left.",
            place=place_in(step, "profile" if spec.drawn is None else "drawn"),
            expected="a profile that stays within the outline, or fewer laminations",
        )
    edge = offset(cut, spec.allowance) if spec.allowance else cut
    name = f"{step.name}-{span.number}" if at.count > 1 else step.name
    layer = Layer(
        name=name,
        span=span,
        stock=at.stock,
        count=world.recipe.make,
        outline=cut,
        edge=edge,
        floors=floors,
        index=index,
        allowance=spec.allowance,
    )
    done = cut_layer(layer, step)
    on_top = section(outline, above) if above - least > LINE_MM and top == span.z1 else None
    under = section(outline, below) if below - least > LINE_MM else None
    finished, error = measure.between(profile, span.z0, top)
    row = Row(
        number=span.number,
        piece=name,
        z0=span.z0,
        z1=span.z1,
        below_mm=below,
        above_mm=above,
        cut_mm=least,
        finished_mm3=finished,
        carve_mm3=edge.area * span.thickness - finished,
        error_mm3=error,
    )
    lines: list[Op] = []
    if on_top:
        lines.append(_line(step, spec, at.stock, "front", on_top))
    if under:
        lines.append(Op(work="CARVE_LINE", face="back", contours=under.contours, step=step.name))
    piece = replace(done.piece, set_ups=_with_lines(done.piece.set_ups, lines))
    weight = None
    if at.stock.sheet.density:
        whole = body(cut, [(span, at.stock.sheet.density)], floors)
        carved = cut.area * span.thickness - finished
        gone = _carved_moments(outline, cut, profile, span.z0, top, span.thickness, carved)
        first = whole.mass_g * np.array([1.0, *whole.centre_mm])
        weight = first - at.stock.sheet.density * 1e-6 * gone
    return _Made(piece=piece, cut=cut, row=row, weight=weight, findings=done.findings, work=done.rows)


def _line(step: Step, spec: Spec, stock: Stock, face: FaceName, at: Region) -> Op:
    """The carve line on an upper face: drawn, or scored when asked."""
    if not spec.score:
        return Op(work="CARVE_LINE", face=face, contours=at.contours, step=step.name)
    if stock.shop.process == "laser":
        return Op(work="SCORE", face=face, contours=at.contours, step=step.name)
    return Op(work="ENGRAVE", face=face, contours=at.contours, depth_mm=STROKE_MM, step=step.name)


def _with_lines(set_ups: tuple[SetUp, ...], lines: list[Op]) -> tuple[SetUp, ...]:
    """The set-ups with the lines of their faces. A face that isn't worked gets no set-up for a line alone: its
    line stands on REFERENCE in the one that there is."""
    there = {s.face for s in set_ups}
    made: list[SetUp] = []
    for s in set_ups:
        mine = [o for o in lines if o.face == s.face]
        others = [
            replace(o, work="REFERENCE", face=s.face, depth_mm=None)
            for o in lines
            if o.face not in there and s is set_ups[-1]
        ]
        made.append(replace(s, ops=(*mine, *others, *s.ops)))
    return tuple(made)


# -- mass --------------------------------------------------------------------------------------------
def _carved_moments(
    outline: Region, cut: Region, profile: Profile, z0: float, z1: float, thickness: float, volume: float
) -> Floats:
    """(V, ∫x, ∫y, ∫z) of what is carved off one lamination; the moments by Simpson's rule over three sections."""
    solid = np.zeros(3)
    for z, w in ((z0, 1 / 6), ((z0 + z1) / 2, 4 / 6), (z1, 1 / 6)):
        s = section(outline, profile.one(z))
        if s:
            solid += w * (z1 - z0) * s.area * np.array([*s.centroid, z])
    block = cut.area * thickness * np.array([*cut.centroid, z0 + thickness / 2])
    found: Floats = np.concatenate([[volume], block - solid])
    return found


def _weight(made: list[_Made]) -> tuple[float | None, tuple[float, float, float] | None]:
    """Mass and centre of what is left when it is carved; None where a density is unknown."""
    known = [m.weight for m in made if m.weight is not None]
    if not known or len(known) < len(made):
        return None, None
    total = np.sum(known, axis=0)
    x, y, z = (float(v / total[0]) for v in total[1:])
    return float(total[0]), (x, y, z)
