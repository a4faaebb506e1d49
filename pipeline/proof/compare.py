"""One contour of a file against one of the design: how far apart, and are its corners the design's."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.deviation import deviation
from pipeline.graph.once import kept

ROUNDING_MM = 2e-6
"""What writing coordinates with six decimals can move a line by, with some room."""
BREAK_DEG = 0.1
"""Largest break of direction that a smooth curve may show (blueprint 6.2)."""
KINK_DEG = 0.03
"""A turn of the design larger than this counts as drawn."""
CORNER_DEG = 5.0
"""A turn of the design larger than this must still be a corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """Distance of a file's contour from the design's, and where in the file it was measured."""

    mm: float
    at: tuple[float, float]


def off(found: Contour, design: Contour) -> Off:
    """Largest distance between two contours in the same frame, both ways."""
    same = same_vertices(found, design)
    if same is not None:
        return same
    one, other = found.circle(), design.circle()
    if one and other:
        apart = math.dist(one[:2], other[:2]) + abs(one[2] - other[2])
        return Off(mm=apart, at=(one[0] + one[2], one[1]))
    return kept("off", (found, design), lambda: _measured(found, design), code=("pipeline.proof.compare",))


def _measured(found: Contour, design: Contour) -> Off:
    measured = deviation(found, design)
    return Off(mm=measured.worst_mm, at=measured.at_mm)


def same_vertices(found: Contour, design: Contour, bend_mm: float = 1e-5) -> Off | None:
    """The distance where both have the same vertices in the same order from any start and in either
    direction, with the same bulges: then it is no larger than the vertices' own. None where they haven't.
    ``bend_mm`` is how much an arc may bulge more or less."""
    if len(found.xy) != len(design.xy) or found.closed != design.closed:
        return None
    for turned in (found, found.reversed()):
        start = 0
        if found.closed:
            start = int(np.argmin(np.hypot(*(turned.xy - design.xy[0]).T)))
        xy, bulge = np.roll(turned.xy, -start, axis=0), np.roll(turned.bulge, -start)
        apart = np.hypot(*(xy - design.xy).T)
        if apart.max() > 1e-5:
            continue
        # A bulge is twice the sagitta over the chord, so the arc moves by half the chord times its change.
        chord = np.hypot(*(design.ends - design.starts).T)
        change = np.abs(bulge - design.bulge)[: len(chord)]
        bend = chord * change * (1 + design.bulges**2)
        if bend.max() > bend_mm:
            continue
        k = int(np.argmax(apart))
        return Off(mm=float(apart.max() + bend.max()), at=(float(xy[k, 0]), float(xy[k, 1])))
    return None


def off_parallel(found: Contour, design: Contour, grown_mm: float) -> Off:
    """How far a contour is from standing ``grown_mm`` outside (negative: inside) the design's, everywhere.

    The path of a beam of kerf k: every point of it lies k/2 from the design, on the right side (trade.md 7.1);
    and no point of the design lies much farther from it than that. Measured on flattened forms.
    """
    edge = shapely.Polygon(design.flatten()[0])
    path = found.flatten(0.002)[0]
    spots = shapely.points(path)
    outside = np.where(shapely.contains_xy(edge, path), -1.0, 1.0)
    signed = shapely.distance(spots, edge.exterior) * outside
    wrong = np.abs(signed - grown_mm)
    k = int(np.argmax(wrong))
    line = shapely.Polygon(path).exterior
    back = shapely.distance(shapely.points(design.flatten(0.002)[0]), line)
    # Round a corner of the design that turns toward the path, the path stays up to 1.5 kerfs away.
    far = float(back.max()) - 3 * abs(grown_mm)
    return Off(mm=max(float(wrong[k]), far), at=(float(path[k, 0]), float(path[k, 1])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kink:
    """A break that shouldn't be there, or a corner that should."""

    at: tuple[float, float]
    degrees: float
    lost: bool


def kinks(found: Contour, design: Contour, near_mm: float) -> list[Kink]:
    """Breaks of direction in a closed contour that the design hasn't, and corners of the design it lost.

    ``near_mm`` is how near a corner must stand to the design's.
    """
    spots, angles = breaks(found)
    drawn_at, drawn = breaks(design)
    real = drawn > KINK_DEG
    wrong = [
        Kink(at=_xy(p), degrees=float(a), lost=False)
        for p, a in zip(spots, angles, strict=True)
        if a > BREAK_DEG and not _near(p, drawn_at[real], near_mm)
    ]
    kept = spots[angles > BREAK_DEG]
    corners = drawn_at[drawn > CORNER_DEG]
    wrong += [
        Kink(at=_xy(p), degrees=float(a), lost=True)
        for p, a in zip(drawn_at, drawn, strict=True)
        if a > CORNER_DEG and not _near(p, kept, near_mm) and _alone(p, corners)
    ]
    return wrong


def breaks(contour: Contour) -> tuple[Floats, Floats]:
    """Vertices (n, 2) of a closed contour and the turn of direction at each, in degrees, never negative."""
    start, end = contour.tangents()
    before = np.roll(end, 1, axis=0)
    cross = before[:, 0] * start[:, 1] - before[:, 1] * start[:, 0]
    dot = (before * start).sum(axis=1)
    return contour.starts, np.degrees(np.abs(np.arctan2(cross, dot)))


def _near(p: Floats, spots: Floats, near_mm: float) -> bool:
    return bool(len(spots)) and bool(np.hypot(*(spots - p).T).min() <= near_mm)


def _alone(p: Floats, corners: Floats) -> bool:
    """True when no second corner stands within a tenth of a millimetre."""
    return int((np.hypot(*(corners - p).T) <= 0.1).sum()) == 1


def _xy(p: Floats) -> tuple[float, float]:
    return float(p[0]), float(p[1])
