"""What is said of a rounding: where it runs, ridges, curves the bearing bridges, mouths it falls into."""

from __future__ import annotations

import math

from pipeline.core.fields import FaceName
from pipeline.core.findings import Finding
from pipeline.geometry.alongside import Interval, Rim, whole
from pipeline.steps.common import mm
from pipeline.steps.edge import Treatment, path
from pipeline.steps.edge_ground import Ground, Stretch, finding


def sentence_told(g: Ground, face: FaceName, radius: float, t: Treatment, found: tuple[Stretch, ...]) -> str:
    how = f"a bit with a bearing of {mm(t.bearing)}" if t.by_bit else "hand"
    every = all(len(s.runs) == 1 and whole(s.runs[0], s.rim.length) for s in found)
    length = sum(i[1] - i[0] for s in found for i in s.runs)
    where = "all round" if every else f"along {length:.0f} mm"
    left = "".join(
        f"; {name} is skipped from {i[0]:.1f} to {i[1]:.1f} mm along the edge"
        for s in found
        for name, i in s.skipped
    )
    idle = [n for n in t.skip if not any(name == n for s in found for name, _ in s.skipped)]
    none = f"; {' and '.join(idle)} doesn't open at this edge, so nothing is skipped for it" if idle else ""
    return f"{g.step.name}: the {face} edge is rounded {mm(radius)} by {how} {where}{left}{none}."


def ridge_told(
    g: Ground, face: FaceName, number: int, radius: float, ridges: list[tuple[float, Rim, float]]
) -> Finding:
    rho, rim, at = min(ridges, key=lambda r: (r[0], r[2]))
    places = f"in {len(ridges)} places" if len(ridges) > 1 else "in one place"
    tip = "a corner" if rho == 0 else f"a radius of {mm(rho)}"
    return finding(
        g,
        face,
        number,
        "round",
        check="edge-ridge",
        severity="ask",
        message=(
            f"The outline turns outward tighter than the rounding of {mm(radius)} {places} ({tip}): both sides of "
            f"the rounding meet there in a ridge that runs {_ridge_length(radius, rho)}."
        ),
        at=rim.point(at),
        measured=rho,
        limit=radius,
        remedy=(
            f"at horn tips it is often wanted; else give the outline a radius of {mm(radius)} there"
            + (f", or round it by {mm(rho)} at most" if rho else ", or stop the rounding before it")
        ),
    )


def _ridge_length(radius: float, rho: float) -> str:
    return (
        f"from {mm(inset_height(radius, rho))} above the side up to the face" if rho else "over its whole height"
    )


def inset_height(radius: float, rho: float) -> float:
    """Height above the beginning of a rounding at which it stands back by ``rho``: √(r² − (r − ρ)²)."""
    return math.sqrt(radius * radius - (radius - rho) ** 2)


def bridged_told(
    g: Ground,
    face: FaceName,
    number: int,
    t: Treatment,
    rho: float,
    rests: list[tuple[float, tuple[float, float]]],
) -> Finding:
    depth, at = rests[0]
    fits = f"take a bearing of {mm(2 * rho)} or less, or " if rho else ""
    return finding(
        g,
        face,
        number,
        "bearing",
        check="edge-concave",
        severity="ask",
        message=(
            f"The bearing of {mm(t.bearing)} bridges {len(rests)} concave "
            f"{'place' if len(rests) == 1 else 'places'} of the outline (least radius {mm(rho)}); "
            f"it leaves up to {mm(depth)} mm there."
        ),
        at=at,
        measured=rho,
        limit=t.bearing / 2,
        remedy=f"{fits}take the rest off with a rasp",
    )


def mouth_told(
    g: Ground,
    face: FaceName,
    number: int,
    t: Treatment,
    name: str,
    rim: Rim,
    mouth: Interval,
    wide: Interval,
    sink: float,
) -> Finding:
    return finding(
        g,
        face,
        number,
        "skip" if path(face, number, "skip") in g.step.places else "round",
        check="edge-mouth",
        severity="ask",
        message=(
            f"The bearing of the {face} rounding falls {mm(sink)} mm into the mouth of {name} "
            f"({mm(mouth[1] - mouth[0])} mm wide along the edge)."
        ),
        at=rim.point((mouth[0] + mouth[1]) / 2),
        measured=sink,
        limit=0.0,
        remedy=(
            f"write `skip: [{name}]` to leave the edge square from {wide[0]:.1f} to {wide[1]:.1f} mm along it, "
            f"plug the mouth, or round the edge before {name} is cut"
        ),
    )
