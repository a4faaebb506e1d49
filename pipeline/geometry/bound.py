"""What a fit is proved to keep: for each of its segments an upper bound of the distance, both ways, between
it and the stretch of the fine chain that it stands for.

Along a stretch of an arc the signed distance d from a circle changes by sin α, α being the angle between
the two directions; it peaks at the ends or where α passes through 0. While |α| stays under a right angle
the foot of the distance runs one way only, from one end of the segment to the other, so every point of the
segment is the foot of a point of the chain: the largest |d| bounds the distance of either from the other.
Where a chain turns on itself (|α| over ``TURN_RAD``) the distance is measured instead (`deviation.py`).
"""

from __future__ import annotations

import math

import numpy as np

from pipeline.geometry.biarcs import along, circle_distance
from pipeline.geometry.contour import Contour, Floats
from pipeline.geometry.deviation import deviation

TURN_RAD = math.radians(20)
SWEEP_RAD = math.radians(4)
"""No stretch sweeps more, so that between its ends (α ≤ TURN_RAD) α stays under a right angle."""
MEASURED_MM = 1e-5
"""What a measured distance can lie under the true one."""


def bounds(chain: Contour, fit: Contour, upto: Floats) -> Floats:
    """Upper bounds (len(fit),) in mm of each segment's distance from its stretch of the chain, both ways.

    Segment k of ``fit`` stands for the chain from place ``upto[k − 1]`` (0 for the first) to ``upto[k]``: a
    place is the number of a segment of the chain plus the fraction of its sweep.
    """
    sweep = 4 * np.arctan(chain.bulges)
    wide = np.flatnonzero(np.abs(sweep) > SWEEP_RAD)
    inner = [k + np.linspace(0, 1, 1 + math.ceil(abs(sweep[k]) / SWEEP_RAD)) for k in wide.tolist()]
    cuts = np.unique(np.concatenate([np.arange(len(chain) + 1.0), upto, *inner]))
    cuts = cuts[cuts <= upto[-1]]
    middle = (cuts[:-1] + cuts[1:]) / 2
    seg = middle.astype(np.int64)
    owner = np.searchsorted(upto, middle)
    low, high = cuts[:-1] - seg, cuts[1:] - seg
    p, q, bulge = chain.starts[seg], chain.ends[seg], chain.bulges[seg]
    start, first = along(p, q, bulge, low)
    stop, last = along(p, q, bulge, high)

    base, way = fit.starts[owner], fit.tangents()[0][owner]
    chord = np.hypot(*(fit.ends - fit.starts).T)
    bend = (4 * fit.bulges / (chord * (1 + fit.bulges**2)))[owner]
    turn = np.stack([_angle(x, t, base, way, bend) for x, t in ((start, first), (stop, last))])
    length = np.hypot(*(stop - start).T)
    # The peak between: α runs all but straight from one end to the other.
    passes = turn[0] * turn[1] < 0
    share = np.where(passes, turn[0] / np.where(passes, turn[0] - turn[1], 1.0), 0.0)
    peak = along(p, q, bulge, low + (high - low) * share)[0]
    off = np.abs([circle_distance(x - base, way, bend) for x in (start, stop, peak)]).max(axis=0)
    # α' = κ − bend · cos α / (1 − bend · d), so α leaves the straight by a quarter of that term's change.
    steepest = np.abs(turn).max(axis=0)
    change = 1 - np.cos(np.minimum(steepest, TURN_RAD)) + np.abs(bend) * off
    off += np.abs(bend) * change * length**2 / 4

    found = np.zeros(len(fit))
    np.maximum.at(found, owner, off)
    found += np.maximum(*_uncovered(fit, start, stop, owner))
    folded = np.zeros(len(fit), dtype=np.bool_)
    np.logical_or.at(folded, owner, (steepest > TURN_RAD) | (np.abs(bend) * off > 0.5))
    for k in np.flatnonzero(folded).tolist():
        at = np.flatnonzero(owner == k)
        part = np.tan(sweep[seg[at]] * (high - low)[at] / 4)
        stretch = _open(np.vstack([start[at], stop[at[-1:]]]), part)
        piece = _open(np.stack([fit.starts[k], fit.ends[k]]), fit.bulges[k : k + 1])
        found[k] = deviation(stretch, piece).worst_mm + MEASURED_MM
    return found


def _angle(x: Floats, tangent: Floats, base: Floats, way: Floats, bend: Floats) -> Floats:
    """From the direction of a circle (through ``base`` along ``way``, curvature ``bend``) at the foot of x,
    to ``tangent``, rad; all (n, 2) or (n,)."""
    w = x - base
    nx, ny = -way[:, 1] - bend * w[:, 0], way[:, 0] - bend * w[:, 1]  # towards the left, along the radius
    cross, dot = ny * tangent[:, 1] + nx * tangent[:, 0], ny * tangent[:, 0] - nx * tangent[:, 1]
    angle: Floats = np.arctan2(cross, dot)
    return angle


def _uncovered(
    fit: Contour, start: Floats, stop: Floats, owner: np.typing.NDArray[np.int64]
) -> tuple[Floats, Floats]:
    """How far along each segment the stretch begins and ends beside the segment's own ends, mm."""
    leaves, arrives = fit.tangents()
    first, last = (
        np.searchsorted(owner, np.arange(len(fit))),
        np.searchsorted(owner, np.arange(len(fit)), "right") - 1,
    )
    return (
        np.abs(((start[first] - fit.starts) * leaves).sum(axis=1)),
        np.abs(((stop[last] - fit.ends) * arrives).sum(axis=1)),
    )


def _open(xy: Floats, bulges: Floats) -> Contour:
    keep = np.append(np.hypot(*np.diff(xy, axis=0).T) > 0, True)
    bulge = np.append(bulges, 0.0)[keep]
    return Contour(xy[keep], bulge, np.zeros(len(bulge), dtype=np.bool_), False)
