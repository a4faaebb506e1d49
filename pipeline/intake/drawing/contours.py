"""From the drawing's segments to exact contours of lines and arcs in mm."""

from __future__ import annotations

import math

from pipeline.geometry import curves
from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.drawn import SAME_MM
from pipeline.intake.drawing.affine import IDENTITY, Affine
from pipeline.intake.drawing.segments import Bow, Cubic, Line, Segment, Subpath

ROUND_MM = curves.CURVE_MM
"""An ellipse that lies nearer than this to a circle is one."""
NEARLY_ROUND = math.tan(1.9 * math.pi / 4)
"""Arcs that sweep more than 1.9 π are cut in halves: a bulge tells their ends apart badly."""


class NoContour(ValueError):
    """A path of which no contour can be made; the message is a plain clause without a full stop."""


def as_contour(path: Subpath, move: Affine = IDENTITY) -> Contour:
    """The contour of a subpath after a similarity ``move`` (mm to mm).

    Lines and circular arcs stay what they are, each one segment; other curves become fine arc chains.
    Raises NoContour when nothing is left or the numbers are out of reach.
    """
    segments = [part for s in path.segments for part in _halved(s.mapped(move))]
    if all(isinstance(s, Line) or (isinstance(s, Bow) and s.roundness <= ROUND_MM) for s in segments):
        long = [s for s in segments if abs(s.q - s.p) > SAME_MM]
        if not long:
            raise NoContour("the path has no length")
        points = [(s.p.real, s.p.imag) for s in long]
        bulges = [s.bulge if isinstance(s, Bow) else 0.0 for s in long]
        if not path.closed:
            return chain([*points, (long[-1].q.real, long[-1].q.imag)], [*bulges, 0.0], closed=False)
        if len(long) > 1:
            return chain(points, bulges)
        return chain([*points, (long[0].q.real, long[0].q.imag)], [*bulges, 0.0])
    try:
        return curves.contour([_as_drawn(s) for s in segments], path.closed)
    except ValueError as error:
        raise NoContour(str(error)) from error


def _halved(s: Segment) -> tuple[Segment, ...]:
    if not isinstance(s, Bow) or abs(s.bulge) <= NEARLY_ROUND:
        return (s,)
    middle = s.at(0.5)
    half = s.sweep / 2
    return (
        Bow(s.p, middle, s.centre, s.u, s.v, s.start, half),
        Bow(middle, s.q, s.centre, s.u, s.v, s.start + half, half),
    )


def _as_drawn(s: Segment) -> curves.PathSegment:
    if isinstance(s, Line):
        return curves.Line(_xy(s.p), _xy(s.q))
    if isinstance(s, Cubic):
        return curves.Cubic(_xy(s.p), _xy(s.c1), _xy(s.c2), _xy(s.q))
    if s.roundness <= ROUND_MM:
        return curves.Arc(_xy(s.p), _xy(s.q), s.bulge)
    # The conjugate vectors u, v turned by t0 are the axes (Rytz): tan 2 t0 = 2 u·v / (u² − v²).
    dot = (s.u.conjugate() * s.v).real
    t0 = math.atan2(2 * dot, abs(s.u) ** 2 - abs(s.v) ** 2) / 2
    a = s.u * math.cos(t0) + s.v * math.sin(t0)
    b = s.v * math.cos(t0) - s.u * math.sin(t0)
    way = math.copysign(1.0, (s.u.conjugate() * s.v).imag)
    return curves.EllipseArc(
        _xy(s.centre),
        (abs(a), abs(b)),
        math.degrees(math.atan2(a.imag, a.real)),
        math.degrees(way * (s.start - t0)),
        math.degrees(way * (s.start + s.sweep - t0)),
    )


def _xy(z: complex) -> tuple[float, float]:
    return z.real, z.imag
