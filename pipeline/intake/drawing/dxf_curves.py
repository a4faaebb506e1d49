"""Objects of a DXF file as exact curves, in the coordinates of the drawing or block they stand in.

Lines, arcs, circles, ellipses and bulges stay what they are. Sources: DXF reference ("Object coordinate
systems", "Arbitrary axis algorithm", the group codes of each object); bulge = tan(sweep / 4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.intake.drawing.affine import IDENTITY, Affine
from pipeline.intake.drawing.dxf_file import Record, Unusable
from pipeline.intake.drawing.dxf_splines import spline
from pipeline.intake.drawing.segments import Bow, Line, Segment, Subpath

MIRRORED = Affine(a=-1.0)
"""From the coordinates of an object that looks down (extrusion 0, 0, −1) to the drawing's, z turned too."""
STRAIGHT = 1e-12
"""A bulge smaller than this is a straight line."""
LEVEL = 1e-6
"""Heights that differ by less than this (drawing units) are one height."""
FULL_TURN = 2 * math.pi
FLATTEN = "Flatten it in the drawing: every height (z) 0, seen straight from above."


@dataclass(frozen=True, slots=True)
class Flat:
    """``paths`` of an object as seen from above, its height ``z``, and what must be told of it."""

    paths: tuple[Subpath, ...]
    z: float = 0.0
    notes: tuple[str, ...] = ()


def flat(record: Record, near: float) -> Flat:
    """The curves of an object of one of the ``CURVES``; free-form ones within ``near`` (drawing units).

    No paths come of what has no length. Raises Unusable.
    """
    found = CURVES[record.kind](record, near)
    notes = found.notes
    if record.number(39, 0.0) != 0:
        notes = (*notes, "thick")
    if not found.paths:
        notes = (*notes, "no length")
    return Flat(found.paths, found.z, notes)


def facing(record: Record) -> Affine:
    """The map from an object's own coordinates to the drawing's: as they are, or mirrored.

    Raises Unusable when the object stands tilted.
    """
    x, y, z = record.point(210, (0.0, 0.0, 1.0))
    length = math.sqrt(x * x + y * y + z * z)
    if length == 0:
        raise Unusable("its direction (group 210) has no length", record.first(210))
    if math.hypot(x, y) > 1e-9 * length:
        raise Unusable("it stands tilted in space, and drawings are read flat", record.first(210), FLATTEN)
    return IDENTITY if z > 0 else MIRRORED


def level(record: Record, heights: Sequence[float]) -> float:
    """The one height of several points. Raises Unusable when they differ."""
    low, high = min(heights), max(heights)
    if high - low > LEVEL:
        raise Unusable(
            f"it runs in space, from height {low:g} to {high:g}, and drawings are read flat", record.at, FLATTEN
        )
    return low if abs(low) > LEVEL else 0.0


# -- kinds ---------------------------------------------------------------------------------------
def _line(record: Record, _: float) -> Flat:
    p, q = record.point(10), record.point(11)
    a, b = complex(p[0], p[1]), complex(q[0], q[1])
    return Flat((Subpath((Line(a, b),), False),) if a != b else (), level(record, (p[2], q[2])))


def _point(record: Record, _: float) -> Flat:
    """A point is a line without length: it can be a mark, and encloses nothing."""
    x, y, z = record.point(10)
    return Flat((Subpath((Line(complex(x, y), complex(x, y)),), False),), level(record, (z,)), ("point",))


def _circle(record: Record, _: float) -> Flat:
    m, (x, y, z), r = facing(record), record.point(10), _radius(record)
    return Flat(mapped(_round(complex(x, y), complex(r), r * 1j), m), _height(m, z))


def _arc(record: Record, _: float) -> Flat:
    m, (x, y, z), r = facing(record), record.point(10), _radius(record)
    start, end = math.radians(record.number(50)), math.radians(record.number(51))
    path = _part(complex(x, y), complex(r), r * 1j, start, end)
    return Flat(mapped(path, m), _height(m, z))


def _ellipse(record: Record, _: float) -> Flat:
    m, (x, y, z), (ux, uy, uz) = facing(record), record.point(10), record.point(11)
    u, ratio = complex(ux, uy), record.number(40)
    if abs(uz) > LEVEL:
        raise Unusable("it stands tilted in space, and drawings are read flat", record.first(31), FLATTEN)
    if u == 0 or ratio == 0:
        raise Unusable("an axis of it has no length", record.at)
    v = u * 1j * ratio * (1 if m is IDENTITY else -1)  # the second axis: direction x first axis
    path = _part(complex(x, y), u, v, record.number(41, 0.0), record.number(42, FULL_TURN))
    return Flat((path,), level(record, (z,)))


def _light_polyline(record: Record, _: float) -> Flat:
    m = facing(record)
    corners: list[list[float]] = []
    wide = record.number(43, 0.0) != 0
    for code, k in record.pairs():
        if code == 10:
            corners.append([record.at_pair(k), math.nan, 0.0])
        elif corners and code in (20, 42):
            corners[-1][1 if code == 20 else 2] = record.at_pair(k)
        elif corners and code in (40, 41):
            wide = wide or record.at_pair(k) != 0
    if any(math.isnan(y) for _, y, _ in corners):
        raise Unusable("a vertex of it has an x but no y", record.at)
    path = _chain([(complex(x, y), b) for x, y, b in corners], bool(record.whole(70) & 1))
    return Flat(mapped(path, m), _height(m, record.number(38, 0.0)), ("wide",) if wide else ())


def _polyline(record: Record, _: float) -> Flat:
    flags = record.whole(70)
    if flags & (16 | 64):
        raise Unusable("it is a mesh in space, and drawings are read flat", record.at, FLATTEN)
    # Flag 16 marks the frame of a fitted curve, which isn't drawn.
    parts = [p for p in record.parts if not p.whole(70) & 16]
    notes = ("fitted",) if flags & 4 else ()
    points = [p.point(10) for p in parts]
    bulges = [0.0 if flags & 8 else p.number(42, 0.0) for p in parts]
    path = _chain([(complex(x, y), b) for (x, y, _), b in zip(points, bulges, strict=True)], bool(flags & 1))
    if flags & 8:
        return Flat(mapped(path, IDENTITY), level(record, [z for _, _, z in points] or [0.0]), notes)
    default = record.number(40, 0.0), record.number(41, 0.0)
    if any(p.number(40, default[0]) or p.number(41, default[1]) for p in parts):
        notes = (*notes, "wide")
    m = facing(record)
    return Flat(mapped(path, m), _height(m, record.number(30, 0.0)), notes)


def _spline(record: Record, near: float) -> Flat:
    segments, heights, notes = spline(record, near)
    z = level(record, heights)
    return Flat((Subpath(tuple(segments), False),) if segments else (), z, notes)


CURVES = {
    "LINE": _line,
    "POINT": _point,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}


# -- helpers -------------------------------------------------------------------------------------
def _radius(record: Record) -> float:
    r = record.number(40)
    if r <= 0:
        raise Unusable(f"its radius is {r:g}", record.first(40))
    return r


def _height(m: Affine, z: float) -> float:
    z = z if abs(z) > LEVEL else 0.0
    return z if m is IDENTITY else -z


def mapped(path: Subpath | None, m: Affine) -> tuple[Subpath, ...]:
    """The path, if there is one, under a map."""
    if path is None or m == IDENTITY:  # most objects, and mapping each point costs time
        return () if path is None else (path,)
    return (path.mapped(m),)


def _round(centre: complex, u: complex, v: complex) -> Subpath:
    """A whole circle or ellipse in two halves."""
    p, q = centre + u, centre - u
    return Subpath((Bow(p, q, centre, u, v, 0.0, math.pi), Bow(q, p, centre, u, v, math.pi, math.pi)), True)


def _part(centre: complex, u: complex, v: complex, start: float, end: float) -> Subpath:
    """centre + u cos t + v sin t from ``start`` on to ``end`` (radians), always with growing t."""
    sweep = (end - start) % FULL_TURN
    if min(sweep, FULL_TURN - sweep) < 1e-12:
        return _round(centre, u, v)
    whole = Bow(0j, 0j, centre, u, v, start, sweep)
    return Subpath((Bow(whole.at(0.0), whole.at(1.0), centre, u, v, start, sweep),), False)


def _chain(corners: list[tuple[complex, float]], closed: bool) -> Subpath | None:
    """Vertices and the bulge of what follows each as lines and arcs; None when they have no length."""
    ends = [z for z, _ in corners[1:]] + ([corners[0][0]] if closed and corners else [])
    segments = [side(p, q, bulge) for (p, bulge), q in zip(corners, ends, strict=False) if p != q]
    return Subpath(tuple(segments), closed) if segments else None


def side(p: complex, q: complex, bulge: float) -> Segment:
    """A line or arc of a polyline."""
    if abs(bulge) < STRAIGHT:
        return Line(p, q)
    centre = (p + q) / 2 + (q - p) * 1j * (1 - bulge * bulge) / (4 * bulge)
    u = p - centre
    return Bow(p, q, centre, u, u * 1j, 0.0, 4 * math.atan(bulge))
