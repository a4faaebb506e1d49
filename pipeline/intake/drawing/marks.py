"""Marks: a small closed shape (its centre), a cross (its crossing), a line (its ends and middle) or a point."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.text import quoted
from pipeline.intake.drawing.contours import NoContour, as_contour
from pipeline.intake.drawing.document import Shape
from pipeline.intake.drawing.joins import closed_up
from pipeline.intake.drawing.segments import Line, Subpath
from pipeline.steps.values import Mark

AGREE_MM = 0.05
"""The parts of one mark (rings, ring and cross) may lie so far off each other."""


def mark_of(shapes: Sequence[Shape], name: str) -> Mark | str:
    """The mark that visible shapes make, in page mm; a full sentence when they make none."""
    seen = [s for s in shapes if s.painted and s.subpaths]
    if not seen:
        why = next((s.hidden for s in shapes if s.hidden), "it draws nothing that can be seen")
        return f"The mark {quoted(name)} can't be used: {why}."
    closed: list[Subpath] = []
    open_: list[Subpath] = []
    dots: list[complex] = []
    for s in seen:
        for path in s.subpaths:
            if s.kind == "POINT":
                dots.append(path.start)
                continue
            whole = closed_up(path).paths[0]
            if not whole.closed and s.filled and abs(_area(whole)) > 1e-3:
                whole = Subpath((*whole.segments, Line(whole.end, whole.start)), True)
            (closed if whole.closed else open_).append(whole)
    try:
        centres = [_centre(p) for p in closed]
    except NoContour as error:
        return f"The mark {quoted(name)} can't be used: {error}."
    points = [*centres, *dots]
    if len(open_) == 2:
        crossing = _crossing(*open_)
        if crossing is None:
            return f"The mark {quoted(name)} isn't clear: its two lines don't cross."
        points.append(crossing)
    elif len(open_) == 1 and not points:
        p, q = open_[0].start, open_[0].end
        middle = (p + q) / 2
        return Mark(name=name, at=_xy(middle), ends=(_xy(p), _xy(q)))
    elif open_:
        return f"The mark {quoted(name)} isn't clear: it is made of {len(open_)} open lines."
    if max(abs(z - points[-1]) for z in points) > AGREE_MM:
        return f"The mark {quoted(name)} isn't clear: its parts have different centres."
    return Mark(name=name, at=_xy(points[-1]))


def _centre(path: Subpath) -> complex:
    """The centre of area of a closed path."""
    c = as_contour(path)
    if abs(c.area) < 1e-9:
        raise NoContour("it encloses no area")
    x, y = c.moment
    return complex(x / c.area, y / c.area)


def _area(path: Subpath) -> float:
    """Twice the signed area of the polygon through the ends of the segments and a middle of each."""
    points = [z for s in path.segments for z in (s.p, *s.hull()[2:])] + [path.end]
    return sum((a.conjugate() * b).imag for a, b in zip(points, [*points[1:], points[0]], strict=True))


def _crossing(a: Subpath, b: Subpath) -> complex | None:
    """Where two chains of straight lines cross."""
    for s in a.segments:
        for t in b.segments:
            if not (isinstance(s, Line) and isinstance(t, Line)):
                continue
            d, e = s.q - s.p, t.q - t.p
            det = (d.conjugate() * e).imag
            if abs(det) < 1e-12 * abs(d) * abs(e):
                continue
            k = ((t.p - s.p).conjugate() * e).imag / det
            m = ((t.p - s.p).conjugate() * d).imag / det
            if -1e-9 <= k <= 1 + 1e-9 and -1e-9 <= m <= 1 + 1e-9:
                return s.p + k * d
    return None


def _xy(z: complex) -> tuple[float, float]:
    return z.real + 0.0, z.imag + 0.0
