"""What is said of a template's own shape and of what comes out by it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from pipeline.core.findings import Finding
from pipeline.core.recipe import Step
from pipeline.geometry.region import Region
from pipeline.steps.common import mm, place_in
from pipeline.steps.follow import Outcome, Use
from pipeline.steps.measures import LeastArc, inside_point, least_arcs
from pipeline.steps.template import Follow
from pipeline.steps.values import Cut

RESIDUE_MM2 = 0.05
"""Residue that is worth a word (trade.md 8, check 1)."""
EASY_MM = 0.2
"""A concave corner should be so much rounder than the follower (trade.md 5.3)."""
POINT_MM = 1.0
"""A point of a template that is sharper gets crushed (trade.md 5.3)."""
CORNER_RAD = 0.02
"""A turn of the edge larger than this at one place is a sharp corner."""
APART = 0.6
"""Index holes should stand this part of the template's length apart (trade.md 2.1)."""
CLEARANCE_MM = 0.1
"""Clearance of a pin in its hole, on the diameter (common practice, no source)."""


def result_findings(
    step: Step, piece: str, of: str, out: Outcome, wanted: Region, follow: Follow, shared: bool
) -> Iterator[Finding]:
    """A follower that doesn't go in, or corners that don't come out. ``shared``: the hole serves a cavity and its
    recess, so it can't have what only one of them has."""
    if out.empty:
        yield Finding(
            check="follower-too-big",
            severity="stop",
            message=f"A {follow.kind} of {mm(follow.diameter)} doesn't go into the opening of {piece}.",
            step=step.name,
            piece=piece,
            at_mm=inside_point(wanted),
            measured=follow.diameter,
            limit=None,
            remedy="take a smaller follower and cutter, or widen the shape",
            place=place_in(step, "follow"),
        )
        return
    if out.residue_mm2 <= RESIDUE_MM2:
        return
    n = len(out.residues)
    yield Finding(
        check="template-corner",
        severity="ask",
        message=(
            f"By {piece} the shape of {of} does not come out whole: {out.residue_mm2:.2f} mm² differ in "
            f"{'one place' if n == 1 else f'{n} places'}, the worst by {out.corner_mm:.2f} mm."
        ),
        step=step.name,
        piece=piece,
        at_mm=out.residues[0].at,
        measured=out.residue_mm2,
        limit=RESIDUE_MM2,
        unit="mm2",
        remedy=_corner_remedy(of, follow, shared),
        place=place_in(step, "follow"),
    )


def _corner_remedy(of: str, follow: Follow, shared: bool) -> str:
    if shared:
        return f"give cavity and recess of {of} a template each, with `recess: true` at the second one"
    inner = f"give the inside corners of {of} a radius of at least {mm(follow.cutter / 2)} mm"
    if follow.offset > 0:
        return (
            f"{inner} and the outside corners one of at least {mm(follow.offset)} mm, or take a smaller follower"
        )
    return f"{inner}, or take a smaller cutter"


def ledge_finding(step: Step, piece: str, of: str, width: float, stages: tuple[Follow, ...]) -> Finding | None:
    """A ledge from one template is as wide as the two followers' offsets differ (trade.md 5.1)."""
    comes = stages[0].offset - stages[1].offset
    if abs(comes - width) <= 0.005:
        return None
    bush = stages[0].cutter + 2 * (width + stages[1].offset)
    return Finding(
        check="ledge-width",
        severity="ask",
        message=f"By {piece} the ledge of {of} comes out {mm(comes)} mm wide, and {mm(width)} mm are wanted.",
        step=step.name,
        piece=piece,
        measured=comes,
        limit=width,
        remedy=f"take a bush of {mm(bush)} mm with this cutter, or write `width: {comes:g}` at the ledge",
        place=place_in(step, "follow"),
    )


# -- the edge that is followed -----------------------------------------------------------------------
def edge_findings(
    step: Step, piece: str, followed: Region, use: Use, stages: tuple[Follow, ...]
) -> Iterator[Finding]:
    """Concave corners in which the follower jams, and points that get crushed: notes.

    A corner that is too tight to be followed at all is residue, which is said by itself.
    """
    convex, concave = least_arcs(followed)
    sharp = _sharp(followed)
    if use == "opening":  # the wood lies outside of the edge
        convex, concave = concave, convex
    largest = max(f.diameter for f in stages) / 2
    if concave is not None and largest - 1e-6 <= concave[0] < largest + EASY_MM - 1e-6:
        yield _edge_note(
            step,
            piece,
            "follower-tight",
            concave,
            f"An inside corner of {piece} has a radius of {mm(concave[0])} mm, and the follower one of "
            f"{mm(largest)}: it sticks there and leaves a mark.",
            largest + EASY_MM,
            f"give it a radius of {mm(largest + EASY_MM)} mm, or take a smaller follower",
        )
    point = sharp["right" if use == "opening" else "left"] or convex
    if point is not None and point[0] < POINT_MM - 1e-6:
        yield _edge_note(
            step,
            piece,
            "template-point",
            point,
            f"{piece} has a point with a radius of {mm(point[0])} mm, which a follower crushes in time.",
            POINT_MM,
            "harden it with thin glue, or give it a radius of 1 mm",
        )


def _edge_note(
    step: Step, piece: str, check: str, arc: LeastArc, message: str, limit: float, remedy: str
) -> Finding:
    return Finding(
        check=check,
        severity="note",
        message=message,
        step=step.name,
        piece=piece,
        at_mm=arc[1],
        measured=arc[0],
        limit=limit,
        remedy=remedy,
        place=place_in(step, "of"),
    )


def _sharp(region: Region) -> dict[str, LeastArc | None]:
    """The sharpest corner to the left and to the right of a region's contours, as an arc of radius 0."""
    found: dict[str, tuple[float, LeastArc] | None] = {"left": None, "right": None}
    for c in region.contours:
        leaving, arriving = c.tangents()
        ahead = np.roll(leaving, -1, axis=0)
        cross = arriving[:, 0] * ahead[:, 1] - arriving[:, 1] * ahead[:, 0]
        turn = np.arctan2(cross, np.sum(arriving * ahead, axis=1))
        for side, sign in (("left", 1.0), ("right", -1.0)):
            k = int(np.argmax(np.round(turn * sign, 9)))
            known = found[side]
            if turn[k] * sign > CORNER_RAD and (known is None or turn[k] * sign > known[0] + 1e-9):
                x, y = c.ends[k]
                found[side] = (float(turn[k] * sign), (0.0, (float(x) + 0.0, float(y) + 0.0)))
    return {side: f and f[1] for side, f in found.items()}


# -- index holes -------------------------------------------------------------------------------------
def lateral_error(clearance_mm: float, spacing_mm: float, beyond_mm: float) -> float:
    """How far a feature ``beyond_mm`` past two pins may lie off sideways: δ/2 + δ·D/L (trade.md 2.1)."""
    return clearance_mm / 2 + clearance_mm * beyond_mm / spacing_mm


def index_finding(
    step: Step, piece: str, edge: Region, pins: tuple[Cut, ...]
) -> tuple[Finding | None, dict[str, Any]]:
    """A note when the index holes stand close together for the length of the template, and what that does."""
    if not pins:
        return None, {}
    if len(pins) == 1:
        return _one_pin(step, piece, pins[0]), {"index_spacing_mm": 0.0}
    at = np.array([p.design.centroid for p in pins])
    pairs = [(float(np.hypot(*(at[i] - at[j]))), i, j) for i in range(len(at)) for j in range(i)]
    spacing, i, j = max(pairs, key=lambda p: (round(p[0], 6), p[1], p[2]))
    points = np.concatenate([c.flatten()[0] for c in edge.contours])
    beyond = float(np.min([np.hypot(*(points - at[k]).T) for k in (i, j)], axis=0).max())
    x0, y0, x1, y1 = edge.bounds
    length = max(x1 - x0, y1 - y0)
    error = lateral_error(CLEARANCE_MM, spacing, beyond)
    numbers = {"index_spacing_mm": spacing, "lateral_error_mm": error}
    if spacing >= APART * length:
        return None, numbers
    note = Finding(
        check="index-close",
        severity="note",
        message=(
            f"The index holes of {piece} stand {mm(spacing)} mm apart on {mm(length)} mm, so its far edge may lie "
            f"{error:.2f} mm off with pins that have {mm(CLEARANCE_MM)} mm play."
        ),
        step=step.name,
        piece=piece,
        at_mm=(float(at[i, 0]), float(at[i, 1])),
        measured=spacing,
        limit=APART * length,
        remedy=f"put index holes at least {mm(APART * length)} mm apart inside it, or make the pins a tight fit",
        place=place_in(step, "index"),
    )
    return note, numbers


def _one_pin(step: Step, piece: str, pin: Cut) -> Finding:
    return Finding(
        check="index-close",
        severity="note",
        message=f"Only one index hole falls inside {piece}, so it can turn about it.",
        step=step.name,
        piece=piece,
        at_mm=pin.design.centroid,
        measured=1.0,
        limit=2.0,
        unit="holes",
        remedy="add a second index hole inside it, or line it up by its centreline",
        place=place_in(step, "index"),
    )
