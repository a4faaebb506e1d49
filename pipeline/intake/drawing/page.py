"""The outermost element: the page's size and the one map from user units to mm with y up."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.core.errors import Problem, Refused
from pipeline.core.text import quoted
from pipeline.intake.drawing.affine import Affine, Malformed, shift
from pipeline.intake.drawing.document import Sized
from pipeline.intake.drawing.source import Node, Source
from pipeline.intake.drawing.units import MM, Viewport, fit, parse_view_box, split_length

LARGEST_MM = 100_000.0


@dataclass(frozen=True, slots=True)
class Page:
    """``to_mm`` maps root user units to page mm with y up; ``viewport`` is what percentages refer to."""

    size: tuple[float, float] | None
    to_mm: Affine
    unit_mm: float
    sized: Sized
    viewport: Viewport


def read_page(source: Source) -> Page:
    """Read width, height, viewBox and preserveAspectRatio of the root. Raises Refused."""
    root = source.root
    problems: list[Problem] = []
    sizes = [_physical(source, root, name, problems) for name in ("width", "height")]
    view = None
    if root.attrs.get("viewBox", "").strip():
        try:
            view = parse_view_box(root.attrs["viewBox"])
        except Malformed as fault:
            problems.append(_wrong(source, root, "viewBox", fault.wrong, 'viewBox="0 0 width height"'))
    if root.attrs.get("transform", "").strip() not in ("", "none"):
        problems.append(
            Problem(
                wrong="The outermost element has a transformation of its own, which programs read differently.",
                place=source.place(root, "transform"),
                remedy="Put the transformation on a group inside.",
            )
        )
    if problems:
        raise Refused(problems)
    (width, width_unit), (height, height_unit) = sizes
    units = [u for u in (width_unit, height_unit) if u is not None]
    sized: Sized = "none" if not units else "px" if set(units) <= {"", "px"} else "mm"
    if view is None:
        unit = MM[""] if units else 1.0
        size = (width, height) if width and height else None
        flip = shift(0.0, height or 0.0) @ Affine(unit, 0.0, 0.0, -unit, 0.0, 0.0)
        # Without a size 100 % is unknown: a browser would take its window, we have none.
        port = Viewport((width or math.nan) / unit, (height or math.nan) / unit)
        return Page(size, flip, unit, sized, port)
    if not units:
        width, height = view[2], view[3]
    elif width is None and height is not None:
        width = height * view[2] / view[3]
    elif height is None and width is not None:
        height = width * view[3] / view[2]
    if width is None or height is None:
        raise ValueError("a page has two sizes here")
    try:
        inner = fit(width, height, view, root.attrs.get("preserveAspectRatio", "").strip())
    except Malformed as fault:
        raise Refused(
            _wrong(source, root, "preserveAspectRatio", fault.wrong, 'for instance "xMidYMid meet" or "none"')
        ) from fault
    flip = Affine(1.0, 0.0, 0.0, -1.0, 0.0, height) @ inner
    return Page((width, height), flip, inner.size, sized, Viewport(view[2], view[3]))


def _physical(source: Source, root: Node, name: str, problems: list[Problem]) -> tuple[float | None, str | None]:
    """(mm, unit) of the outermost width or height; (None, None) where it says nothing physical."""
    text = root.attrs.get(name, "").strip()
    if text in ("", "auto"):
        return None, None
    expected = "a length with one of the units mm, cm, Q, in, pt, pc, px"
    try:
        number, unit = split_length(text)
    except Malformed as fault:
        problems.append(_wrong(source, root, name, fault.wrong, expected))
        return None, None
    if unit == "%":
        return None, None
    if unit not in MM:
        problems.append(_wrong(source, root, name, f"the unit {quoted(unit)} has no fixed length", expected))
        return None, None
    size = number * MM[unit]
    if not 0 < size <= LARGEST_MM:
        problems.append(
            _wrong(
                source, root, name, f"{quoted(text)} is {size:g} mm", f"more than 0 and at most {LARGEST_MM:g} mm"
            )
        )
        return None, None
    return size, unit


def _wrong(source: Source, root: Node, name: str, wrong: str, expected: str) -> Problem:
    return Problem(
        wrong=f"The {name} of the drawing can't be used: {wrong}.",
        place=source.place(root, name),
        expected=expected,
    )
