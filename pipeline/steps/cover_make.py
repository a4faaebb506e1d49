"""Makes a cover: the recess less the gap, with its screw holes."""

from __future__ import annotations

import math

import numpy as np
import shapely

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.offset import offset
from pipeline.geometry.region import Region
from pipeline.geometry.shapes import disc
from pipeline.steps.common import mm, place_in, refuse_all, sheet_of
from pipeline.steps.cover import Screws, Spec, problems
from pipeline.steps.measures import numbers_of, point_of
from pipeline.steps.panel import Panel, piece_of
from pipeline.steps.values import Cut, Depth, Piece, Result, World


def make(name: str, spec: Spec, world: World) -> Result:
    """The cover as a piece, with holes through it for the screws."""
    step = world.recipe.steps[name]
    refuse_all(problems(step, world.recipe))
    deep, recess = world.result(spec.of).cuts[:2]
    stock = sheet_of(world, step, "sheet", spec.sheet)
    plate = offset(recess.design, -spec.gap) if spec.gap else recess.design
    if not plate:
        raise refuse(
            f"Nothing is left of the cover {name} with a gap of {mm(spec.gap)} a side.",
            place=place_in(step, "gap"),
            expected="a gap much smaller than the cover",
        )
    places = screw_places(recess.design, spec.screws, world, step) if spec.screws else ()
    holes = tuple(
        Cut(
            step=name,
            name=f"{name} screw {i}",
            region=disc(x, y, spec.screws.diameter / 2),
            design=disc(x, y, spec.screws.diameter / 2),
            face=recess.face,
            depth=Depth(rule="through"),
            diameter_mm=spec.screws.diameter,
        )
        for i, (x, y) in enumerate(places, start=1)
        if spec.screws
    )
    pieces: list[Piece] = []
    findings: list[Finding] = []
    for i, part in enumerate(plate.parts, start=1):
        panel = Panel(
            name=name if len(plate.parts) == 1 else f"{name}-{i}",
            role="cover",
            plate=Region((part,)),
            stock=stock,
            count=world.recipe.make,
            face=recess.face,
            cuts=tuple(h for h in holes if part.polygon.intersects(h.region.polygon)),
        )
        made, found = piece_of(panel, step)
        pieces += made
        findings += found
    findings += _no_wood(step, spec, places, deep)
    reports = () if len(plate.parts) == 1 else (f"{name}: the cover falls into {len(plate.parts)} parts.",)
    proud = stock.thickness_mm - recess.depth.mm
    if proud > 1e-9:
        findings.append(_stands_proud(step, spec, stock.thickness_mm, recess))
    return Result(
        step=name,
        kind="cover",
        region=plate,
        pieces=tuple(pieces),
        reports=reports,
        numbers={
            **numbers_of(plate),
            "gap_mm": spec.gap,
            "below_face_mm": recess.depth.mm - stock.thickness_mm,
            "screws_mm": [[x, y] for x, y in places],
        },
        findings=tuple(findings),
    )


def screw_places(recess: Region, screws: Screws, world: World, cover: Step) -> tuple[tuple[float, float], ...]:
    """Where the screws of a cover stand, (x, y) in mm; the cavity leaves its pads at the same places.

    Given places come as given. Else the screws stand on the line on which a pad (without pads: twice
    the screw) just touches the recess's wall from inside, in even directions from the middle of its
    bounds, measured as if they were square: four stand in the corners, two at the ends. Raises Refused
    when there is no such line.
    """
    if screws.at:
        return tuple(point_of(world, cover, f"screws.at.{i}", p) for i, p in enumerate(screws.at))
    inset = max(screws.pads, 2 * screws.diameter) / 2
    line = offset(recess, -inset)
    if not line:
        raise refuse(
            f"The recess of {cover.spec.of} is too narrow for screws with {mm(2 * inset)} of wood round them.",
            place=place_in(cover, "screws"),
            expected="smaller pads or screws",
        )
    x0, y0, x1, y1 = line.bounds
    cx, cy, a, b = (x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2
    along = 0.0 if a >= b else math.pi / 2
    n = screws.count
    first = along if n <= 2 else along + math.pi / n
    edge = line.polygon.boundary
    found = []
    for k in range(n):
        angle = first + 2 * math.pi * k / n
        far = (cx + 3 * a * math.cos(angle), cy + 3 * b * math.sin(angle))
        hits = shapely.get_coordinates(edge.intersection(shapely.LineString([(cx, cy), far])))
        if not len(hits):
            raise refuse(
                f"The screws of {cover.name} can't be spread evenly over this shape.",
                place=place_in(cover, "screws"),
                expected="`at:` with a point for each screw",
            )
        best = hits[int(np.argmax(np.hypot(hits[:, 0] - cx, hits[:, 1] - cy)))]
        found.append((round(float(best[0]), 3) + 0.0, round(float(best[1]), 3) + 0.0))
    return tuple(found)


def _no_wood(step: Step, spec: Spec, places: tuple[tuple[float, float], ...], deep: Cut) -> list[Finding]:
    """Screws under which the cavity leaves no wood."""
    found = []
    for i, (x, y) in enumerate(places, start=1):
        assert spec.screws is not None
        hole = disc(x, y, spec.screws.diameter / 2)
        over = float(deep.region.polygon.intersection(hole.polygon).area)
        if over > 0.01:
            found.append(
                Finding(
                    check="screw-no-wood",
                    severity="ask",
                    message=f"Screw {i} of {step.name} stands over the open cavity {spec.of}.",
                    step=step.name,
                    piece=step.name,
                    at_mm=(x, y),
                    face=deep.face,
                    measured=over,
                    limit=0.0,
                    unit="mm2",
                    remedy="give `pads:` so that wood stays under it, make the ledge wider, or move the screw",
                    place=place_in(step, "screws"),
                )
            )
    return found


def _stands_proud(step: Step, spec: Spec, thickness: float, recess: Cut) -> Finding:
    return Finding(
        check="cover-proud",
        severity="ask",
        message=(
            f"{step.name} is {mm(thickness)} thick and its recess {mm(recess.depth.mm)} deep, so it stands "
            f"{mm(thickness - recess.depth.mm)} proud of the face."
        ),
        step=step.name,
        piece=step.name,
        at_mm=recess.design.centroid,
        face=recess.face,
        measured=recess.depth.mm,
        limit=thickness,
        remedy=f"make the ledge of {spec.of} {mm(thickness + 0.1)} deep, or take a thinner sheet",
        place=place_in(step, "sheet"),
    )
