"""``look``: every object of a drawing numbered, as a list and as a picture."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from pipeline.core.text import quoted
from pipeline.intake.drawing.document import Document, Shape
from pipeline.intake.drawing.joins import closed_up
from pipeline.intake.drawing.segments import Cubic, Line, Subpath
from pipeline.intake.drawing.stored import read_document

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00")
"""Okabe-Ito; open lines are dashed and every object has its number, so nothing rests on the colour."""


GROUPS = frozenset({"g", "a", "svg", "switch", "use", "layer", "block", "INSERT"})
"""What holds other objects."""
LEGEND = 60
"""Most lines of the picture's legend; the list holds all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One object: ``size`` is (width, height) and ``bounds`` (xmin, ymin, xmax, ymax), in mm (in drawing
    units where the drawing has no physical size), y up; None for what has no outline.

    ``closed`` is None for what has no outline; ``trouble`` says why it can't be used, "" when it can.
    """

    number: int
    name: str
    kind: str
    size: tuple[float, float] | None
    bounds: tuple[float, float, float, float] | None
    closed: bool | None
    filled: bool
    stroked: bool
    hidden: bool
    trouble: str
    paths: tuple[Subpath, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A named group and the numbers of what it holds."""

    name: str
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LookReport:
    """What a drawing holds. ``page`` is (width, height), ``unit`` "mm" or "drawing units"."""

    file: str
    page: tuple[float, float] | None
    unit: str
    sized: str
    objects: tuple[Seen, ...]
    groups: tuple[Group, ...]
    remarks: tuple[str, ...]


def look(path: str | os.PathLike[str]) -> LookReport:
    """Read a drawing and list its objects. Raises Refused when it can't be read at all."""
    doc = read_document(Path(path), Path(path).as_posix())
    sized = {
        "mm": "its page has a physical size",
        "px": "its page size is given in pixels, read as 1/96 inch each",
        "none": "it has no physical size: sizes are in drawing units until the recipe gives a known length",
    }[doc.sized]
    if doc.form == "DXF":
        sized = (
            f"its unit is the {doc.unit}, its zero is where the drawing has it"
            if doc.sized == "mm"
            else f"it has no unit ({doc.unit}): sizes are in drawing units until the recipe gives a known length"
        )
    groups = []
    for entry in doc.entries:
        if entry.parent >= 0 and entry.name and entry.kind in GROUPS:
            members = tuple(s.number for s in doc.members(entry.index))
            if members or entry.kind != "layer":
                groups.append(Group(name=entry.name, members=members))
    return LookReport(
        file=doc.file,
        page=doc.page,
        unit="drawing units" if doc.sized == "none" else "mm",
        sized=sized,
        objects=tuple(_seen(doc, s) for s in doc.shapes),
        groups=tuple(groups),
        remarks=tuple(f.message for f in doc.findings),
    )


def _seen(doc: Document, shape: Shape) -> Seen:
    bounds = shape.bounds
    entry = doc.entries[shape.entry]
    closed = all(closed_up(p).paths[0].closed for p in shape.subpaths) if shape.subpaths else None
    trouble = shape.faults[0].wrong if shape.faults else ""
    return Seen(
        number=shape.number,
        name=entry.name,
        kind=shape.kind,
        size=(bounds[2] - bounds[0], bounds[3] - bounds[1]) if bounds else None,
        bounds=bounds,
        closed=closed,
        filled=shape.filled and bool(shape.subpaths),
        stroked=shape.stroked and bool(shape.subpaths),
        hidden=bool(shape.hidden),
        trouble=trouble,
        paths=shape.subpaths,
    )


def look_text(report: LookReport) -> str:
    """The list for a person."""
    page = f"{report.page[0]:.2f} x {report.page[1]:.2f} {report.unit}" if report.page else "no page"
    lines = [f"{report.file}: {page}; {report.sized}"]
    rows = [("no.", "name", "kind", f"size ({report.unit})", "", "painted")]
    for o in report.objects:
        size = f"{o.size[0]:.2f} x {o.size[1]:.2f}" if o.size else "-"
        state = {True: "closed", False: "open", None: ""}[o.closed]
        rows.append((str(o.number), quoted(o.name) if o.name else "-", o.kind, size, state, _painted(o)))
    widths = [max(len(r[k]) for r in rows) for k in range(6)]
    lines += ["  ".join(c.ljust(w) for c, w in zip(r, widths, strict=True)).rstrip() for r in rows]
    for g in report.groups:
        members = ", ".join(str(n) for n in g.members) or "nothing"
        lines.append(f"group {quoted(g.name)} holds {members}")
    lines += [o.trouble for o in report.objects if o.trouble]
    lines += report.remarks
    if not report.objects:
        lines.append("The drawing holds no objects.")
    return "\n".join(lines)


def _painted(o: Seen) -> str:
    if o.hidden:
        return "hidden"
    words = [w for w, yes in (("filled", o.filled), ("stroked", o.stroked)) if yes]
    return " and ".join(words) or ("not painted" if o.paths else "not read")


def look_rows(report: LookReport) -> list[dict[str, Any]]:
    """The list for a program: one mapping for each object, sizes in mm with six decimals."""
    return [
        {
            "number": o.number,
            "name": o.name,
            "kind": o.kind,
            "size_mm" if report.unit == "mm" else "size_units": None
            if o.size is None
            else [round(v, 6) for v in o.size],
            "closed": o.closed,
            "filled": o.filled,
            "stroked": o.stroked,
            "hidden": o.hidden,
            "trouble": o.trouble,
        }
        for o in report.objects
    ]


def look_svg(report: LookReport) -> str:
    """The picture: every object that can be seen with its number beside it; open lines are dashed."""
    boxes = [o.bounds for o in report.objects if o.bounds and not o.hidden]
    if report.page:
        boxes.append((0.0, 0.0, *report.page))
    if not boxes:
        boxes = [(0.0, 0.0, 100.0, 100.0)]
    x0, y0 = min(b[0] for b in boxes), min(b[1] for b in boxes)
    x1, y1 = max(b[2] for b in boxes), max(b[3] for b in boxes)
    text = max(x1 - x0, y1 - y0, 1.0) / 55
    pad = 3 * text
    legend = [_row(o) for o in report.objects[:LEGEND]]
    below = 1.5 * text * (len(legend) + 1)
    view = (x0 - pad, -y1 - pad, x1 - x0 + 2 * pad, y1 - y0 + 2 * pad + below)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{" ".join(map(_n, view))}" width="1000" '
        f'height="{_n(1000 * view[3] / view[2])}" font-family="sans-serif" font-size="{_n(text)}">',
        f"<title>{escape(quoted(report.file, 200)[1:-1])}</title>",
        f'<rect x="{_n(view[0])}" y="{_n(view[1])}" width="{_n(view[2])}" height="{_n(view[3])}" fill="white"/>',
    ]
    line = text / 8
    if report.page:
        out.append(
            f'<rect x="0" y="{_n(-report.page[1])}" width="{_n(report.page[0])}" height="{_n(report.page[1])}" '
            f'fill="none" stroke="#999999" stroke-width="{_n(line / 2)}" stroke-dasharray="{_n(text / 4)}"/>'
        )
    shown = [o for o in report.objects if o.paths and not o.hidden]
    for o in shown:
        colour = COLOURS[(o.number - 1) % len(COLOURS)]
        step = min(text, max(o.size or (0.0,)) / 5)
        dash = "" if o.closed else f' stroke-dasharray="{_n(step / 2)} {_n(step / 4)}"'
        fill = f'"{colour}" fill-opacity="0.12" fill-rule="evenodd"' if o.filled else '"none"'
        data = "".join(_path(p) for p in o.paths)
        title = escape(f"{o.number} {quoted(o.name)[1:-1] or o.kind}")
        out.append(
            f'<path d="{data}" fill={fill} stroke="{colour}" stroke-width="{_n(line)}"{dash}>'
            f"<title>{title}</title></path>"
        )
    taken: list[complex] = []
    for o in shown:
        at = _label_spot(o, taken, 1.6 * text)
        taken.append(at)
        out.append(
            f'<circle cx="{_n(at.real)}" cy="{_n(-at.imag)}" r="{_n(0.8 * text)}" fill="white" stroke="black" '
            f'stroke-width="{_n(line / 2)}"/>'
            f'<text x="{_n(at.real)}" y="{_n(0.35 * text - at.imag)}" text-anchor="middle">{o.number}</text>'
        )
    for k, row in enumerate(legend, 1):
        y = -y0 + pad + 1.5 * text * k
        out.append(f'<text x="{_n(x0)}" y="{_n(y)}">{escape(row)}</text>')
    return "\n".join([*out, "</svg>", ""])


def _row(o: Seen) -> str:
    """One line of the picture's legend."""
    size = f"{o.size[0]:.2f} x {o.size[1]:.2f}" if o.size else ""
    state = {True: "closed", False: "open", None: ""}[o.closed]
    words = (quoted(o.name)[1:-1] if o.name else f"({o.kind})", size, state, _painted(o))
    return f"{o.number}: " + ", ".join(w for w in words if w)


def _label_spot(o: Seen, taken: list[complex], apart: float) -> complex:
    """A point of the object's line that lies clear of the numbers set before, else the clearest one."""
    spots = [
        p
        for path in o.paths
        for s in path.segments
        for p in ((s.p + s.q) / 2 if isinstance(s, Line) else s.at(0.5), s.p)
    ]
    spots = spots[:: max(1, len(spots) // 40)]
    if o.size and max(o.size) < 2 * apart and o.bounds:  # beside what the number would cover
        x0, y0, x1, y1 = o.bounds
        away = apart * 0.7
        middle = complex((x0 + x1) / 2, (y0 + y1) / 2)
        rx, ry = (x1 - x0) / 2 + away, (y1 - y0) / 2 + away
        spots = [middle + d for d in (complex(rx, ry), complex(-rx, ry), complex(rx, -ry), complex(-rx, -ry))]
    best, room = spots[0], -1.0
    for z in spots:
        free = min((abs(z - t) for t in taken), default=math.inf)
        if free >= apart:
            return z
        if free > room:
            best, room = z, free
    return best


def _path(path: Subpath) -> str:
    """Path data with y down; arcs as chords of five degrees, since it is only a picture."""
    words = [f"M{_xy(path.start)}"]
    for s in path.segments:
        if isinstance(s, Line):
            words.append(f"L{_xy(s.q)}")
        elif isinstance(s, Cubic):
            words.append(f"C{_xy(s.c1)} {_xy(s.c2)} {_xy(s.q)}")
        else:
            n = max(1, math.ceil(abs(s.sweep) / math.radians(5)))
            words += [f"L{_xy(s.at((k + 1) / n))}" for k in range(n)]
    return "".join(words) + ("Z" if path.closed else "")


def _xy(z: complex) -> str:
    return f"{_n(z.real)} {_n(-z.imag)}"


def _n(value: float) -> str:
    return f"{round(value, 4) + 0.0:g}" if abs(value) < 1e5 else f"{value:.1f}"
