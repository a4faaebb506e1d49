"""Makes an outline its own mirror image: from a drawn half, from one of two halves, or midway between them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.core.errors import Problem, refuse
from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.core.text import quoted
from pipeline.geometry.contour import Contour
from pipeline.geometry.deviation import deviation
from pipeline.geometry.midway import midway
from pipeline.geometry.mirror import BEND_DEG, BEND_MM, EXACT_DEG, End, doubled, halves_of, without
from pipeline.geometry.region import Region, solid
from pipeline.geometry.symmetry import X_AXIS, Y_AXIS, Axis, symmetry
from pipeline.geometry.transform import Move, mirror_x_axis
from pipeline.steps.common import mm, place_in, refuse_all
from pipeline.steps.outline import Mirror
from pipeline.steps.outline_repairs import Mended, xy
from pipeline.steps.values import Drawn, Repair

SNAP_MM = 0.5
ASK_MM = 2.0
"""Ends nearer to the axis than the first are put on it and told; to the second, asked about (trade.md 1.5)."""
ASK_DEG = 10.0
"""Ends that are off square by more make a point that is meant (trade.md 1.5)."""
TOLD_MM = 1e-3
ALONG_DEG = 5.0
WAYS = {"+x": (1.0, 0.0), "-x": (-1.0, 0.0), "+y": (0.0, 1.0), "-y": (0.0, -1.0)}


def from_half(step: Step, mirror: Mirror, drawn: Drawn) -> tuple[Mended, Region | None]:
    """The whole of a drawn half, and the half as drawn, closed along the axis (None where that is no area).

    Raises Refused where lines end beside the axis, cross it, or where there are none.
    """
    axis = X_AXIS if mirror.about == "x" else Y_AXIS
    halves, apart, dropped = _halves(drawn, axis.upright)
    refuse_all(_wrong(step, mirror, drawn, [*halves, *apart], halves, axis.back))
    try:
        region, ends = doubled(halves, apart)
    except ValueError as error:
        raise refuse(
            f"{quoted(drawn.name)} and its mirror image make no certain area: {error}.",
            place=place_in(step, "mirror"),
            expected="lines that end on the axis and cross neither it nor each other",
        ) from error
    before = _closed(halves, axis.back)
    whole = axis.back.region(region)
    done = Mended(region=whole)
    if dropped:
        long = sum(c.length for c in dropped)
        at = axis.back.point(*(float(v) for v in dropped[0].xy.mean(axis=0)))
        said = f"{step.name}: the axis itself is drawn, {long:.1f} mm long; it is left out."
        repair = Repair(what="dropped", moved_mm=0.0, at_mm=at, message=said)
        done = done.after(whole, repair, numbers={"mirror_dropped_mm": long})
    told = [_told(e, axis.back) for e in ends]
    findings = tuple(f for at, e in told for f in _end_findings(step, e, at))
    far = max(ends, key=_moved)
    said = f"{step.name}: the drawn half and its mirror image about {mirror.about} make the whole."
    if _moved(far) > TOLD_MM:
        said += f" Its ends moved by at most {_moved(far):.3f} mm to meet the axis."
    repair = Repair(what="mirrored", moved_mm=_moved(far), at_mm=_told(far, axis.back)[0], message=said)
    return done.after(whole, repair, findings, _numbers(mirror, axis, ends)), before


def from_whole(step: Step, mirror: Mirror, done: Mended) -> Mended:
    """The shape with one half replaced by the mirror image of the other, or both by the line midway."""
    axis = X_AXIS if mirror.about == "x" else Y_AXIS if mirror.about == "y" else symmetry(done.region).axis
    upright = axis.upright.region(done.region)
    y0, y1 = upright.bounds[1], upright.bounds[3]
    if not y0 < -ASK_MM or not y1 > ASK_MM:
        raise refuse(
            f"{step.name} lies on one side of the axis alone, so there are no two halves to choose from.",
            place=place_in(step, "mirror"),
            expected="`keep: drawn` where only one half is drawn",
        )
    numbers: dict[str, Any] = {}
    if mirror.keep == "mean":
        upper, above = halves_of(upright, 1)
        lower, below = halves_of(upright, -1)
        other = [mirror_x_axis().contour(c) for c in (*lower, *below)]
        middle = midway([*upper, *above], other)
        halves, apart = list(middle.contours[: len(upper)]), list(middle.contours[len(upper) :])
        numbers = {"mean_mm": middle.mean_mm, "worst_mm": middle.worst_mm}
        what = (
            f"the line midway between both halves, which lie {middle.mean_mm:.3f} mm apart in the mean and "
            f"{middle.worst_mm:.3f} mm at most"
        )
    else:
        angle = math.radians(axis.angle_deg)
        wx, wy = WAYS[mirror.keep]
        side = 1 if wy * math.cos(angle) - wx * math.sin(angle) > 0 else -1
        halves, apart = halves_of(upright, side)
        what = f"the half toward {mirror.keep} and its mirror image"
    try:
        made, ends = doubled(halves, apart)
    except ValueError as error:
        raise refuse(
            f"{step.name} can't be mirrored: {error}.",
            place=place_in(step, "mirror"),
            remedy="Keep the other half, or mend the drawing where the outline meets the axis.",
        ) from error
    whole = axis.back.region(made)
    moved = deviation(done.region, whole)
    told = [_told(e, axis.back) for e in ends]
    findings = tuple(f for at, e in told for f in _end_findings(step, e, at))
    about = mirror.about if mirror.about != "best" else f"the best axis, at {axis.angle_deg + 0.0:.2f} degrees"
    said = (
        f"{step.name}: made of {what} about {about}; the line moved by at most {moved.worst_mm:.3f} mm, at "
        f"{xy(moved.at_mm)}, the area by {100 * (whole.area / done.region.area - 1):+.3f} %."
    )
    repair = Repair(what="mirrored", moved_mm=moved.worst_mm, at_mm=moved.at_mm, message=said)
    return done.after(whole, repair, findings, _numbers(mirror, axis, ends, numbers))


# -- the drawn half ------------------------------------------------------------------------------
def _halves(drawn: Drawn, upright: Move) -> tuple[list[Contour], list[Contour], list[Contour]]:
    """What is drawn of a half, its axis on the x axis: open lines, closed contours, and lines along the axis."""
    halves: list[Contour] = []
    apart: list[Contour] = []
    dropped: list[Contour] = []
    for line in (upright.contour(c) for c in drawn.lines):
        along = not line.bulges.any() and float(np.abs(line.xy[:, 1]).max()) <= SNAP_MM
        (dropped if along else halves).append(line)
    for c in (upright.contour(c) for c in (drawn.region.contours if drawn.region else ())):
        d = c.ends - c.starts
        flat = np.abs(d[:, 1]) <= math.tan(math.radians(ALONG_DEG)) * np.abs(d[:, 0])
        near = (np.abs(c.starts[:, 1]) <= ASK_MM) & (np.abs(c.ends[:, 1]) <= ASK_MM)
        on = flat & near & (c.bulges == 0) & (np.hypot(*d.T) > ASK_MM)
        if not on.any():
            apart.append(c)
            continue
        halves += without(c, on)
        for k in np.flatnonzero(on).tolist():
            xy_ = np.stack([c.starts[k], c.ends[k]])
            dropped.append(Contour(xy_, np.zeros(2), np.zeros(2, dtype=np.bool_), False))
    return halves, apart, dropped


def _wrong(
    step: Step, mirror: Mirror, drawn: Drawn, all_: list[Contour], halves: list[Contour], back: Move
) -> list[Problem]:
    place = place_in(step, "mirror")
    name = quoted(drawn.name)
    low = min((c.bounds[1] for c in all_), default=0.0)
    high = max((c.bounds[3] for c in all_), default=0.0)
    if low < -ASK_MM and high > ASK_MM:
        keep = "+y or -y" if mirror.about == "x" else "+x or -x"
        return [
            Problem(
                wrong=f"{name} lies on both sides of the {mirror.about} axis, so it is no half.",
                place=place,
                expected=f"one half, or `keep:` with {keep} or mean where both halves are drawn",
            )
        ]
    if not halves:
        return [
            Problem(
                wrong=f"{name} has no open line that could be half an outline.",
                place=place_in(step, "drawn"),
                expected=f"one or several open lines that end on the {mirror.about} axis",
            )
        ]
    found = []
    for half in halves:
        for end in (half.xy[0], half.xy[-1]):
            gap = abs(float(end[1]))
            if gap > ASK_MM:
                at = back.point(float(end[0]), float(end[1]))
                found.append(
                    Problem(
                        wrong=f"A line of {name} ends at {xy(at)}, {gap:.2f} mm from the {mirror.about} axis.",
                        place=place,
                        expected=f"an end on the axis, or at most {mm(ASK_MM)} mm from it",
                        remedy="Draw the half up to the axis, or lay the frame so that the axis meets it.",
                    )
                )
    return found


def _closed(halves: list[Contour], back: Move) -> Region | None:
    """Halves closed by straight lines along the axis, for the picture of what was drawn."""
    shut = [Contour(c.xy, c.bulge, c.free, True) for c in halves]
    region = back.region(solid(*shut))
    return region if region.polygon.is_valid else None


# -- what is told --------------------------------------------------------------------------------
def _told(end: End, back: Move) -> tuple[tuple[float, float], End]:
    x, y = back.point(*end.at)
    return (x + 0.0, y + 0.0), end


def _moved(end: End) -> float:
    """How far an end moved at most: to the axis, or where it was bent (5 mm at the angle it was off by)."""
    bent = BEND_MM * math.tan(math.radians(end.off_deg)) / 4 if end.done == "bent" else 0.0
    return max(end.gap_mm, bent)


def _end_findings(step: Step, end: End, at: tuple[float, float]) -> list[Finding]:
    place = place_in(step, "mirror")
    found = []
    if end.gap_mm > TOLD_MM:
        found.append(
            Finding(
                check="mirror-gap",
                severity="note" if end.gap_mm <= SNAP_MM else "ask",
                message=f"{step.name} ends {end.gap_mm:.3f} mm from the axis at {xy(at)}; the end was put on it.",
                step=step.name,
                at_mm=at,
                measured=end.gap_mm,
                limit=SNAP_MM,
                remedy="draw the half up to the axis",
                place=place,
            )
        )
    if end.done == "bent" and end.off_deg > EXACT_DEG:
        found.append(
            Finding(
                check="mirror-square",
                severity="note",
                message=f"{step.name} meets the axis {end.off_deg:.2f} degrees off square at {xy(at)}; its last "
                "5 mm were bent so that both halves join smoothly.",
                step=step.name,
                at_mm=at,
                measured=end.off_deg,
                limit=BEND_DEG,
                unit="deg",
                remedy="draw it square to the axis there",
                place=place,
            )
        )
    elif end.done == "corner" and end.off_deg <= ASK_DEG:
        found.append(
            Finding(
                check="mirror-square",
                severity="ask",
                message=f"{step.name} meets the axis {end.off_deg:.1f} degrees off square at {xy(at)}, so its "
                "halves join in a blunt point. Is that meant, or a slip?",
                step=step.name,
                at_mm=at,
                measured=end.off_deg,
                limit=BEND_DEG,
                unit="deg",
                remedy="draw it square to the axis there, or accept the point",
                place=place,
            )
        )
    return found


def _numbers(
    mirror: Mirror, axis: Axis, ends: tuple[End, ...], more: dict[str, Any] | None = None
) -> dict[str, Any]:
    rows = []
    for e in ends:
        at, _ = _told(e, axis.back)
        rows.append({"at_mm": list(at), "gap_mm": e.gap_mm, "off_square_deg": e.off_deg, "done": e.done})
    return {
        "mirror": {
            "about": mirror.about,
            "keep": mirror.keep,
            "angle_deg": round(axis.angle_deg, 6) + 0.0,
            "offset_mm": round(axis.offset_mm, 6) + 0.0,
            "ends": rows,
            **(more or {}),
        }
    }
