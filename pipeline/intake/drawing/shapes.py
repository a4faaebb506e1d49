"""The basic shapes of SVG 2 as chains of segments, in user units."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import LARGEST, Malformed
from pipeline.intake.drawing.pathdata import MOST, NUMBER, parse_path
from pipeline.intake.drawing.segments import Bow, Line, Segment, Subpath
from pipeline.intake.drawing.units import Axis, Viewport, user_length

_LIST = re.compile(r"[n \t\r\n\f,]*")

Get = Callable[[str], str]
"""Gives an attribute (or style property) of the element, "" when absent."""

SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")


class Wrong(Exception):
    """A shape that can't be drawn: ``attribute`` holds the fault at ``index``."""

    def __init__(self, attribute: str, wrong: str, index: int = 0) -> None:
        super().__init__(wrong)
        self.attribute = attribute
        self.wrong = wrong
        self.index = index


def subpaths(tag: str, get: Get, viewport: Viewport) -> tuple[Subpath, ...]:
    """The outline of one of ``SHAPES``. Raises Wrong."""
    if tag == "path":
        return _path(get("d"))
    if tag in ("polyline", "polygon"):
        return _poly(get("points"), tag == "polygon")

    def length(name: str, axis: Axis, missing: float = 0.0) -> float:
        text = get(name)
        if not text.strip() or text.strip() == "auto":
            return missing
        try:
            return user_length(text, viewport, axis)
        except Malformed as fault:
            raise Wrong(name, f"{fault.wrong}, so its {name} is unknown") from fault

    if tag == "line":
        p, q = complex(length("x1", "x"), length("y1", "y")), complex(length("x2", "x"), length("y2", "y"))
        if p == q:
            raise Wrong("x2", "it has no length")
        return (Subpath((Line(p, q),), False),)
    if tag == "rect":
        return (_rect(length),)
    centre = complex(length("cx", "x"), length("cy", "y"))
    if tag == "circle":
        rx = ry = length("r", "r")
        names = ("r", "r")
    else:
        names = ("rx", "ry")
        rx, ry = _auto_pair(length)
    for name, value in zip(names, (rx, ry), strict=True):
        if value <= 0:
            raise Wrong(name, f"its {name} is {value:g}; it must be greater than zero")
    return (_ellipse(centre, rx, ry),)


def _path(d: str) -> tuple[Subpath, ...]:
    if not d.strip() or d.strip() == "none":
        raise Wrong("d", "it has no path data")
    try:
        found = parse_path(d)
    except Malformed as fault:
        raise Wrong("d", f"at character {fault.index + 1} of its path data: {fault.wrong}", fault.index) from fault
    if not found:
        raise Wrong("d", "its path data draws nothing: it only moves")
    return found


def _poly(points: str, closed: bool) -> tuple[Subpath, ...]:
    values: list[float] = []
    at, end = 0, len(points.rstrip())
    if _LIST.fullmatch(NUMBER.sub("n", points)):
        values, at = [float(w) for w in NUMBER.findall(points)], end
    while at < end:
        found = NUMBER.match(points, at)
        if found:
            values.append(float(found[0]))
            at = found.end()
        elif points[at] in " \t\r\n\f,":
            at += 1
        else:
            raise Wrong("points", f"at character {at + 1} of its points: {quoted(points[at])} isn't a number", at)
    if not all(math.isfinite(v) and abs(v) <= LARGEST for v in values):
        raise Wrong("points", "one of its points is too far away for a drawing")
    if len(values) > 2 * MOST:
        raise Wrong("points", f"it has more than {MOST} points")
    if len(values) % 2:
        raise Wrong(
            "points", f"its points have {len(values)} numbers: the last point lacks its y", max(end - 1, 0)
        )
    corners = [complex(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]
    chain = [z for i, z in enumerate(corners) if i == 0 or z != corners[i - 1]]
    if closed and len(chain) > 1 and chain[0] == chain[-1]:
        chain.pop()
    if len(chain) < 2:
        raise Wrong("points", "it has fewer than two different points")
    ends = [*chain[1:], chain[0]] if closed else chain[1:]
    return (Subpath(tuple(Line(p, q) for p, q in zip(chain, ends, strict=False)), closed),)


def _auto_pair(length: Callable[[str, Axis, float], float]) -> tuple[float, float]:
    """rx and ry, of which a missing one copies the other (SVG 2, shapes)."""
    rx, ry = length("rx", "x", math.nan), length("ry", "y", math.nan)
    if math.isnan(rx) and math.isnan(ry):
        return 0.0, 0.0
    return (ry if math.isnan(rx) else rx), (rx if math.isnan(ry) else ry)


def _rect(length: Callable[..., float]) -> Subpath:
    x, y, w, h = length("x", "x"), length("y", "y"), length("width", "x"), length("height", "y")
    for name, value in (("width", w), ("height", h)):
        if value <= 0:
            raise Wrong(name, f"its {name} is {value:g}; it must be greater than zero")
    rx, ry = _auto_pair(length)
    for name, value in (("rx", rx), ("ry", ry)):
        if value < 0:
            raise Wrong(name, f"its {name} is {value:g}; it can't be negative")
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx == 0 or ry == 0:
        corners = [complex(x, y), complex(x + w, y), complex(x + w, y + h), complex(x, y + h)]
        return Subpath(tuple(Line(p, q) for p, q in zip(corners, corners[1:] + corners[:1], strict=True)), True)
    left, right, top, bottom = x + rx, x + w - rx, y + ry, y + h - ry
    half = math.pi / 2
    # Each side with the corner after it: start, end of the side, end of the corner, its centre and angle.
    turns = (
        (complex(left, y), complex(right, y), complex(x + w, top), complex(right, top), -half),
        (complex(x + w, top), complex(x + w, bottom), complex(right, y + h), complex(right, bottom), 0.0),
        (complex(right, y + h), complex(left, y + h), complex(x, bottom), complex(left, bottom), half),
        (complex(x, bottom), complex(x, top), complex(left, y), complex(left, top), 2 * half),
    )
    segments: list[Segment] = []
    for p, q, r, centre, angle in turns:
        if abs(q - p) > 1e-12 * (w + h):
            segments.append(Line(p, q))
        segments.append(Bow(segments[-1].q if segments else p, r, centre, complex(rx), ry * 1j, angle, half))
    return Subpath(tuple(segments), True)


def _ellipse(centre: complex, rx: float, ry: float) -> Subpath:
    """Two halves from three o'clock, clockwise on the screen."""
    p, q = centre + rx, centre - rx
    u, v = complex(rx), ry * 1j
    return Subpath((Bow(p, q, centre, u, v, 0.0, math.pi), Bow(q, p, centre, u, v, math.pi, math.pi)), True)
