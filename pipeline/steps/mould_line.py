"""The line that a mould or a bent board follows: where it comes from, which side is inside, how it is bent."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from pipeline.core.errors import Problem, Refused, refuse
from pipeline.core.recipe import Step
from pipeline.core.text import quoted
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.parallel import Bends, TooTight, bends, parallel, rebent, stretch
from pipeline.geometry.wobble import Walk, breaks
from pipeline.steps.bending import kept
from pipeline.steps.common import UNIT, mm, one_of_words, place_in, sheet_of
from pipeline.steps.measures import point_of
from pipeline.steps.mould import Spec, Stretch, Trial
from pipeline.steps.values import World

CORNER_DEG = 0.5
"""A break of the tangent by more is a corner, and no wood bends round a corner."""
ONE_WAY_DEG = 5.0
"""A line that turns less than this in all has no side that is plainly inside."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """The middle of the finished thickness as ``wanted`` and as the ``form`` has it, both of one length.

    ``side`` is +1 where the inner side lies left of the line, else −1; ``kept`` the share of its curvature that
    the piece keeps (1 without springback).
    """

    wanted: Contour
    form: Contour
    side: int
    thickness_mm: float
    kept: float

    def face(self, line: Contour, inward_mm: float) -> Contour:
        """The parallel of one of the two lines, so far toward the inner side."""
        return parallel(line, self.side * inward_mm)

    @property
    def bends(self) -> Bends:
        return bends(self.form)


def curve_of(step: Step, world: World) -> Contour:
    """The line as drawn, or the part of an outline. Raises Refused where there is none or it has corners."""
    spec: Spec = step.spec
    line = _drawn(step, spec.curve, world) if isinstance(spec.curve, str) else _part(step, spec.curve, world)
    turn = np.abs(breaks(line))
    k = int(np.argmax(turn))
    if math.degrees(float(turn[k])) > CORNER_DEG:
        x, y = (float(v) for v in line.xy[k])
        raise refuse(
            f"The line of {step.name} has a corner of {math.degrees(float(turn[k])):.2f} degrees at {at(x, y)}, "
            "and wood doesn't bend round a corner.",
            place=place_in(step, "curve"),
            expected="a line whose stretches run into one another smoothly",
            remedy="Round the corner in the drawing.",
        )
    return line


def _drawn(step: Step, name: str, world: World) -> Contour:
    found = world.drawing.objects.get(name)
    if found is None:
        raise refuse(
            f"The drawing has nothing called {quoted(name)}.",
            place=place_in(step, "curve"),
            expected=one_of_words(world.drawing.objects, name),
        )
    if len(found.lines) == 1 and not found.region:
        return found.lines[0]
    if found.region:
        raise refuse(
            f"{quoted(name)} is closed or filled, and {step.name} is bent along an open line.",
            place=place_in(step, "curve"),
            expected="one open line without a fill, or `{of: …, from: …, to: …}` with an outline",
        )
    raise refuse(
        f"{quoted(name)} is {len(found.lines)} separate lines."
        if found.lines
        else found.problem or "It is no line.",
        place=place_in(step, "curve"),
        expected="one open line, whose stretches meet end to end",
    )


def _part(step: Step, curve: Stretch, world: World) -> Contour:
    shape = world.result(curve.of).region
    if not shape or len(shape.parts) != 1:
        raise refuse(
            f"{curve.of} is {len(shape.parts) if shape else 'no'} single shape.",
            place=place_in(step, "curve.of"),
            expected="an outline of one part",
        )
    outer = shape.parts[0].outer
    if curve.from_ is None or curve.to is None:
        return outer
    ends = [
        _along(outer, point_of(world, step, f"curve.{k}", p)) for k, p in (("from", curve.from_), ("to", curve.to))
    ]
    if abs(ends[0] - ends[1]) < 1e-6:
        raise refuse(
            f"Both ends of the part of {curve.of} are one place.",
            place=place_in(step, "curve.to"),
            expected="two places",
        )
    return stretch(outer, ends[0], ends[1])


def _along(c: Contour, point: tuple[float, float]) -> float:
    """Arc length of the point of a closed contour that is nearest to a point."""
    from pipeline.geometry.query import feet
    from pipeline.geometry.segments import segments_of

    segs = segments_of([c])
    n = np.arange(len(segs))
    far, foot = feet(segs, n, np.tile(np.array(point), (len(segs), 1)))
    k = int(np.argmin(far))
    s, _ = segs.along(n[k : k + 1], foot[k : k + 1])
    return float(Walk.of(c).stops[k]) + float(np.clip(s[0], 0.0, segs.length[k]))


def inner_side(step: Step, line: Contour) -> int:
    """+1 where the inner side is left of the line, else −1. Raises Refused where it bends both ways alike."""
    spec: Spec = step.spec
    if line.closed:
        return 1 if line.area > 0 else -1
    if spec.inside is not None:
        walk = Walk.of(line)
        _, way = walk.at(np.array([walk.length / 2]))
        ux, uy = UNIT[spec.inside]
        across = float(-way[0, 1] * ux + way[0, 0] * uy)
        if abs(across) < math.sin(math.radians(ONE_WAY_DEG)):
            raise refuse(
                f"In its middle the line of {step.name} runs along {spec.inside}, so neither side lies there.",
                place=place_in(step, "inside"),
                expected="a direction across the line",
            )
        return 1 if across > 0 else -1
    turn = bends(line).total_turn
    if abs(math.degrees(turn)) < ONE_WAY_DEG:
        raise refuse(
            f"The line of {step.name} bends as much one way as the other, so neither side is plainly inside.",
            place=place_in(step, "curve"),
            expected="`inside:` with +x, -x, +y or -y",
        )
    return 1 if turn > 0 else -1


def thickness_of(step: Step, world: World) -> tuple[float, float]:
    """(one ply, all of them with their glue lines) in mm."""
    spec: Spec = step.spec
    assert spec.plies is not None  # `problems` has seen to it
    assert spec.ply is not None
    ply = sheet_of(world, step, "ply", spec.ply).thickness_mm if isinstance(spec.ply, str) else spec.ply
    return ply, spec.plies * ply + (spec.plies - 1) * spec.glue


def bent(step: Step, line: Contour, thickness_mm: float) -> Bent:
    """The middle line of the finished piece and of the form. Raises Refused where the thickness doesn't fit."""
    spec: Spec = step.spec
    side = inner_side(step, line)
    by = {"inner": -side, "outer": side, "middle": 0}[spec.face] * thickness_mm / 2
    wanted = folded(step, line, by, thickness_mm)
    ratio = _kept(spec)
    form = rebent(wanted, 1.0 / ratio) if ratio != 1.0 else wanted
    return Bent(wanted=wanted, form=form, side=side, thickness_mm=thickness_mm, kept=ratio)


def folded(step: Step, line: Contour, by_mm: float, thickness_mm: float) -> Contour:
    """A parallel; Refused, with the radius and the place, where it would fold over or run into itself."""
    try:
        made = parallel(line, by_mm)
    except TooTight as error:
        raise Refused(
            Problem(
                wrong=f"{step.name} bends to {mm(error.radius_mm)} mm at {at(*error.at)}, which is less than the "
                f"{mm(abs(by_mm))} mm that lie inside the bend there ({mm(thickness_mm)} mm are bent).",
                place=place_in(step, "curve"),
                expected=f"a radius of more than {mm(abs(by_mm))} mm there, or a thinner piece",
            )
        ) from error
    points = made.flatten(0.01)[0]
    if not shapely.is_simple(shapely.LinearRing(points) if made.closed else shapely.LineString(points)):
        x, y = _crossing(points, made.closed)
        raise refuse(
            f"At {mm(abs(by_mm))} mm from its middle {step.name} runs into itself at {at(x, y)}.",
            place=place_in(step, "curve"),
            expected="more room between the legs of the bend, or a thinner piece",
        )
    return made


def _crossing(points: Floats, closed: bool) -> tuple[float, float]:
    if closed:
        points = np.concatenate([points, points[:1]])
    chords = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    i, j = shapely.STRtree(chords).query(chords, predicate="intersects")
    far = np.flatnonzero((j > i + 1) & ~((i == 0) & (j == len(chords) - 1) & closed))
    k = int(far[0]) if len(far) else 0
    x, y = points[i[k]]
    return float(x), float(y)


def _kept(spec: Spec) -> float:
    if spec.use == "closed" or spec.springback == "none":
        return 1.0
    if isinstance(spec.springback, Trial):
        return spec.springback.form / spec.springback.piece
    assert spec.plies is not None
    return kept(spec.plies)


def at(x: float, y: float) -> str:
    return f"({x + 0.0:.1f}, {y + 0.0:.1f})"


def numbers_of_bend(b: Bent) -> dict[str, Any]:
    """What is stated of the bend itself; angles are between the ends' tangents."""
    wanted, form = bends(b.wanted), bends(b.form)
    return {
        "thickness_mm": b.thickness_mm,
        "curvature_kept": b.kept,
        "turn_deg": abs(math.degrees(wanted.total_turn)),
        "form_turn_deg": abs(math.degrees(form.total_turn)),
        "developed_mm": b.wanted.length,
    }
