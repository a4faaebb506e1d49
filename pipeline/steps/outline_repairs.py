"""Repairs of an outline that its recipe asks for: the tracing pencil's offset, wobble, symmetry (trade.md 1)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.core.errors import refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.deviation import deviation
from pipeline.geometry.region import Region
from pipeline.steps.common import mm, place_in
from pipeline.steps.outline import Mirror
from pipeline.steps.values import NOTHING, Repair

AREA_CHANGE = 0.002
"""Smoothing may change the area by this share (trade.md 1.6)."""
SYMMETRIC_MM = 1.0
"""A shape whose mirror image lies nearer everywhere was meant to be symmetric (trade.md 1.4)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """A region and what was done to it so far."""

    region: Region
    repairs: tuple[Repair, ...] = ()
    findings: tuple[Finding, ...] = ()
    numbers: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    reports: tuple[str, ...] = ()

    def after(
        self,
        region: Region,
        repair: Repair | None = None,
        findings: tuple[Finding, ...] = (),
        numbers: Mapping[str, Any] = NOTHING,
        reports: tuple[str, ...] = (),
    ) -> Mended:
        """This with one thing more done; a repair's sentence is reported."""
        said = (repair.message,) if repair else ()
        return Mended(
            region=region,
            repairs=(*self.repairs, *((repair,) if repair else ())),
            findings=(*self.findings, *findings),
            numbers={**self.numbers, **numbers},
            reports=(*self.reports, *said, *reports),
        )


def xy(at: tuple[float, float]) -> str:
    """A place in a sentence."""
    return f"x {at[0] + 0.0:.1f}, y {at[1] + 0.0:.1f} mm"


def traced(step: Step, done: Mended, off_mm: float) -> Mended:
    """The trace of a pencil that stood ``off_mm`` outside the edge, shrunk by it (trade.md 1.1).

    Raises Refused when nothing is left or the shrunk line can't be made.
    """
    from pipeline.geometry.offset import OffsetFailed, offset

    place = place_in(step, "traced_off")
    try:
        edge = offset(done.region, -off_mm)
    except OffsetFailed as error:
        raise refuse(
            f"{step.name} can't be taken off its trace: {error}",
            place=place,
            remedy="Mend the trace there, or give another distance.",
        ) from error
    if not edge:
        raise refuse(
            f"Nothing of {step.name} is left {mm(off_mm)} mm inside its trace.",
            place=place,
            expected="how far outside the true edge the pencil stood, in mm",
        )
    moved = deviation(done.region, edge)
    said = (
        f"{step.name}: the pencil stood {mm(off_mm)} mm outside the edge, so the outline lies that far inside the "
        f"trace; the area goes from {done.region.area:.0f} to {edge.area:.0f} mm², the length of the edge from "
        f"{done.region.perimeter:.1f} to {edge.perimeter:.1f} mm."
    )
    findings: tuple[Finding, ...] = ()
    if len(edge.parts) != len(done.region.parts):
        findings = (
            Finding(
                check="traced-parts",
                severity="ask",
                message=f"{step.name} had {len(done.region.parts)} parts as traced and has {len(edge.parts)} "
                f"{mm(off_mm)} mm inside the trace.",
                step=step.name,
                at_mm=moved.at_mm,
                measured=float(len(edge.parts)),
                limit=float(len(done.region.parts)),
                unit="",
                remedy="look at the narrow places of the trace, or give a smaller distance",
                place=place,
            ),
        )
    repair = Repair(what="traced off", moved_mm=moved.worst_mm, at_mm=moved.at_mm, message=said)
    numbers = {
        "traced_off_mm": off_mm,
        "traced_area_mm2": done.region.area,
        "traced_perimeter_mm": done.region.perimeter,
    }
    return done.after(edge, repair, findings, numbers)


def smooth(step: Step, done: Mended, within_mm: float, corner_deg: float, mirror: Mirror | None) -> Mended:
    """Without the wobble of a hand (trade.md 1.6). A whole that was made of a half by ``mirror`` stays its own
    mirror image. Raises Refused where no smooth line lies that near."""
    from pipeline.geometry.mirror import even
    from pipeline.geometry.smooth import SmoothFailed, bends, smoothed
    from pipeline.geometry.symmetry import X_AXIS, Y_AXIS

    place = place_in(step, "smooth")
    try:
        fair = smoothed(done.region, within_mm, corner_deg)
    except SmoothFailed as error:
        raise refuse(
            f"No smooth line was found within {within_mm:g} mm of {step.name}.",
            place=place,
            expected="a distance that is larger than the wobble of the line",
            remedy="Let the line move further, or smooth the shape in the drawing.",
        ) from error
    made = fair.region if mirror is None else even(fair.region, Y_AXIS if mirror.about == "y" else X_AXIS)
    after = (bends(made), sum(len(c) for c in made.contours))
    counts = ((fair.bends[0], after[0]), (fair.entities[0], after[1]), fair.corners)
    return _smooth_told(step, done, made, within_mm, counts)


def _smooth_told(
    step: Step,
    done: Mended,
    fair: Region,
    within_mm: float,
    counts: tuple[tuple[int, int], tuple[int, int], int],
) -> Mended:
    bends, entities, corners = counts
    moved = deviation(done.region, fair)
    change = fair.area / done.region.area - 1.0
    numbers = {
        "smooth_mm": within_mm,
        "smooth_worst_mm": moved.worst_mm,
        "smooth_worst_at_mm": list(moved.at_mm),
        "smooth_area_change": change,
        "smooth_bends": list(bends),
        "smooth_entities": list(entities),
        "smooth_corners": corners,
    }
    kept = f", {corners} corner{'' if corners == 1 else 's'} stayed" if corners else ""
    said = (
        f"{step.name}: smoothed within {mm(within_mm)} mm; the line moved by at most {moved.worst_mm:.3f} mm, at "
        f"{xy(moved.at_mm)}, the area by {100 * change:+.3f} %{kept}. The curvature changed its sign {bends[0]} "
        f"times and now does {bends[1]} times; {entities[0]} curve pieces became {entities[1]}."
    )
    findings: tuple[Finding, ...] = ()
    if abs(change) > AREA_CHANGE:
        findings = (
            Finding(
                check="smooth-area",
                severity="ask",
                message=f"Smoothing changes the area of {step.name} by {100 * change:+.2f} %.",
                step=step.name,
                at_mm=fair.centroid,
                measured=abs(100 * change),
                limit=100 * AREA_CHANGE,
                unit="%",
                remedy="smooth less, or redraw the shape",
                place=place_in(step, "smooth"),
            ),
        )
    repair = Repair(what="smoothed", moved_mm=moved.worst_mm, at_mm=moved.at_mm, message=said)
    return done.after(fair, repair, findings, numbers)


def symmetry_told(step: Step, done: Mended) -> Mended:
    """The axis about which the shape is most nearly symmetric, and how nearly it is (trade.md 1.4)."""
    from pipeline.geometry.symmetry import symmetry

    s = symmetry(done.region)
    numbers = {
        "symmetry": {
            "angle_deg": round(s.axis.angle_deg, 6) + 0.0,
            "offset_mm": round(s.axis.offset_mm, 6) + 0.0,
            "mean_mm": s.mean_mm,
            "worst_mm": s.worst_mm,
            "worst_at_mm": list(s.at_mm),
        }
    }
    said = (
        f"{step.name}: the axis about which it is most nearly symmetric stands at "
        f"{s.axis.angle_deg + 0.0:.2f} degrees to x, {abs(s.axis.offset_mm):.2f} mm from the origin; the edge "
        f"lies {s.mean_mm:.2f} mm from its mirror image in the mean, {s.worst_mm:.2f} mm at most at {xy(s.at_mm)}."
    )
    near = s.worst_mm <= SYMMETRIC_MM
    finding = Finding(
        check="symmetry",
        severity="note" if near else "ask",
        message=f"{step.name} is its own mirror image within {s.worst_mm:.2f} mm."
        if near
        else f"{step.name} differs from its mirror image by up to {s.worst_mm:.2f} mm. "
        "Is this meant to be asymmetric?",
        step=step.name,
        at_mm=s.at_mm,
        measured=s.worst_mm,
        limit=SYMMETRIC_MM,
        remedy="`mirror:` would keep one half, or the mean of both, and make it exact"
        if near and step.spec.mirror is None
        else ""
        if near
        else "say which half counts with `mirror:`, or accept it if it is meant so",
        place=place_in(step, "symmetric"),
    )
    return done.after(done.region, None, (finding,), numbers, (said,))
