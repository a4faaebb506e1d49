"""A piece before and now: old dashed, new solid, wood that comes and wood that goes by two patterns, the worst
place enlarged with an arrow at its own size."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

import shapely

from pipeline.compare.changes import Change
from pipeline.compare.measure import SAME_MM, Point, nearest_on, polygon_of, spot
from pipeline.compare.state import Line, Thing
from pipeline.compare.things import Compared, size_of
from pipeline.geometry.contour import Contour
from pipeline.packet.svg import number, path_data

Box = tuple[float, float, float, float]
STYLE = """
.cmp{background:#fff;max-width:100%;height:auto;border:1px solid #ddd6c8}
.cmp .new{fill:none;stroke:#000;vector-effect:non-scaling-stroke;stroke-width:1.6px}
.cmp .old{fill:none;stroke:#8a3b00;vector-effect:non-scaling-stroke;stroke-width:1.6px;stroke-dasharray:7 4}
.cmp .thin{stroke-width:1px}
.cmp .body{fill:#f3ead9;stroke:none}
.cmp .frame{fill:none;stroke:#00598a;vector-effect:non-scaling-stroke;stroke-width:2px}
.cmp .arrow{stroke:#00598a;vector-effect:non-scaling-stroke;stroke-width:2.2px;fill:none}
.cmp .tip{fill:#00598a;stroke:none}
.cmp text{font-family:system-ui,sans-serif;fill:#00364f;font-weight:600}
.cmp .halo{stroke:#fff;stroke-width:.28em;paint-order:stroke;stroke-linejoin:round}
"""
WIDE_PX, INSET_PX = 620, 330
LEAST_WINDOW_MM = 0.6


def pictures(t: Compared, n: int) -> str:
    """The figures of one piece: all of it, and its worst place enlarged. ``n`` keeps the names of patterns
    apart."""
    box = _bounds([line for thing in (t.old, t.new) if thing for line in thing.lines])
    if box is None:
        return ""
    worst = t.worst
    window = _window(worst, box) if worst is not None and size_of(worst) >= SAME_MM else None
    frame = ""
    if window is not None:
        x0, y0, x1, y1 = window
        frame = (
            f'<rect class="frame" x="{number(x0, 3)}" y="{number(-y1, 3)}" width="{number(x1 - x0, 3)}" '
            f'height="{number(y1 - y0, 3)}"/>'
        )
    whole = _svg(f"{t.thing.said}, before (dashed) and now (solid)", box, _body(t, box, f"c{n}") + frame, WIDE_PX)
    figures = [f'<figure class="whole">{whole}<figcaption>{_caption(t)}</figcaption></figure>']
    if window is not None and worst is not None:
        detail = _body(t, window, f"d{n}") + _arrow(worst, window)
        words = f"{t.thing.said}: {worst.what} at its worst place, {size_of(worst):.3f} mm"
        figures.append(
            f'<figure class="inset">{_svg(words, window, detail, INSET_PX)}<figcaption>The worst place, enlarged: '
            f"{escape(worst.what)}, {size_of(worst):.3f} mm at {spot(worst.at)}, "
            f"{worst.clock}. The window is {window[2] - window[0]:.1f} mm wide.</figcaption></figure>"
        )
    return f'<div class="figures">{"".join(figures)}</div>'


def _caption(t: Compared) -> str:
    if t.state == "added":
        return "New: solid."
    if t.state == "gone":
        return "Gone: dashed."
    return "Dashed: as it was. Solid: as it is now. Slanted lines: wood that comes. Dots: wood that goes."


# -- what is drawn ---------------------------------------------------------------------------------
def _body(t: Compared, view: Box, name: str) -> str:
    """Patterns, areas and lines of both states; ``view`` scales the patterns."""
    step = max(view[2] - view[0], view[3] - view[1]) / 70
    parts = [_patterns(name, step)]
    wood = [_wood(thing) for thing in (t.old, t.new)]
    shown = wood[1] if t.new else wood[0]
    parts.append(f'<path class="body" fill-rule="evenodd" d="{_shape_path(shown)}"/>')
    if t.old and t.new:
        comes, goes = _differences(t.old, t.new, wood)
        parts.append(
            f'<path class="comes" fill="url(#{name}-comes)" fill-rule="evenodd" d="{_shape_path(comes)}"/>'
        )
        parts.append(f'<path class="goes" fill="url(#{name}-goes)" fill-rule="evenodd" d="{_shape_path(goes)}"/>')
    for thing, look in ((t.old, "old"), (t.new, "new")):
        if thing:
            heavy = [v.contour for v in thing.lines if v.work != "ENGRAVE"]
            thin = [v.contour for v in thing.lines if v.work == "ENGRAVE"]
            parts.append(f'<path class="{look}" d="{_path(heavy)}"/>')
            parts.append(f'<path class="{look} thin" d="{_path(thin)}"/>')
    return "".join(parts)


def _patterns(name: str, step: float) -> str:
    s, half, r, w = (number(v, 4) for v in (step, step / 2, step * 0.2, step * 0.22))
    return (
        f'<defs><pattern id="{name}-comes" width="{s}" height="{s}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="{s}" height="{s}" fill="#d5ecf8"/>'
        f'<path d="M{half} 0V{s}" stroke="#0072b2" stroke-width="{w}"/></pattern>'
        f'<pattern id="{name}-goes" width="{s}" height="{s}" patternUnits="userSpaceOnUse">'
        f'<rect width="{s}" height="{s}" fill="#fbe3d0"/><circle cx="{half}" cy="{half}" r="{r}" fill="#d55e00"/>'
        "</pattern></defs>"
    )


def _wood(thing: Thing | None) -> shapely.Geometry:
    """The plan of a piece with what is cut through it; of a blank without an outside of its own, its outline."""
    if thing is None:
        return shapely.Polygon()
    outside = polygon_of(tuple(v.contour for v in thing.of("CUT_OUTSIDE")) or thing.design)
    through = [v.contour for v in thing.lines if v.work in ("CUT_INSIDE", "DRILL", "INDEX") and v.goes_through]
    holes = [polygon_of((c,)) for c in through]
    return shapely.difference(outside, shapely.union_all(holes)) if holes else outside


def _pockets(thing: Thing) -> shapely.Geometry:
    by_face: dict[tuple[str, float | None], list[Contour]] = {}
    for v in thing.of("POCKET", "RAMP"):
        by_face.setdefault((v.face, v.depth_mm), []).append(v.contour)
    shapes = [polygon_of(tuple(cs)) for cs in by_face.values()]
    return shapely.union_all(shapes) if shapes else shapely.Polygon()


def _differences(
    old: Thing, new: Thing, wood: Sequence[shapely.Geometry]
) -> tuple[shapely.Geometry, shapely.Geometry]:
    """(wood that comes, wood that goes), pockets among them; slivers left out."""
    pockets = [_pockets(old), _pockets(new)]
    comes = shapely.union(shapely.difference(wood[1], wood[0]), shapely.difference(pockets[0], pockets[1]))
    goes = shapely.union(shapely.difference(wood[0], wood[1]), shapely.difference(pockets[1], pockets[0]))
    return _thick(comes), _thick(goes)


def _thick(shape: shapely.Geometry) -> shapely.Geometry:
    kept = [p for p in shapely.get_parts(shape) if p.area and not p.buffer(-SAME_MM / 2, quad_segs=2).is_empty]
    return shapely.union_all(kept) if kept else shapely.Polygon()


# -- the worst place -------------------------------------------------------------------------------
def _ends(c: Change) -> tuple[Point, Point]:
    """Where a line was and where it is, at its worst place."""
    if c.holes is not None:
        return c.holes[0].at, c.holes[1].at
    worst = c.worst
    # An outward move ends on the new line, an inward one of a part that is gone began on the old one.
    on_new = c.new is not None and _on(c.new.contour, worst.at)
    return (worst.other, worst.at) if on_new else (worst.at, worst.other)


def _on(contour: Contour, at: Point) -> bool:
    return math.dist(nearest_on(contour, at), at) < 1e-4


def _window(c: Change, box: Box) -> Box:
    """A square round the worst place, a few times as wide as the move, a hole with all of it."""
    (ax, ay), (bx, by) = _ends(c)
    size = max(6 * math.dist((ax, ay), (bx, by)), LEAST_WINDOW_MM)
    if c.holes is not None:
        size = max(size, 2.2 * max(h.diameter for h in c.holes))
    size = min(size, 1.2 * max(box[2] - box[0], box[3] - box[1]))
    x, y = (ax + bx) / 2, (ay + by) / 2
    return x - size / 2, y - size / 2, x + size / 2, y + size / 2


def _arrow(c: Change, window: Box) -> str:
    a, b = _ends(c)
    size = window[2] - window[0]
    length = math.dist(a, b)
    words = f"{size_of(c):.3f} mm"
    font = size / 15
    tx, ty = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2 + size * 0.16
    if abs(b[1] - a[1]) > abs(b[0] - a[0]):  # an upright arrow has its words beside it
        tx, ty = tx + size * 0.24, (a[1] + b[1]) / 2
    drawn = ""
    if length > size / 400:
        ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        head = min(size / 22, length * 0.6)
        sx, sy = b[0] - ux * head, b[1] - uy * head
        wing = head * 0.38
        tip = [(b[0], b[1]), (sx - uy * wing, sy + ux * wing), (sx + uy * wing, sy - ux * wing)]
        points = " ".join(f"{number(x, 4)},{number(-y, 4)}" for x, y in tip)
        drawn = (
            f'<path class="arrow" d="M{number(a[0], 4)} {number(-a[1], 4)}L{number(sx, 4)} {number(-sy, 4)}"/>'
            f'<polygon class="tip" points="{points}"/>'
        )
    return drawn + (
        f'<text class="halo" x="{number(tx, 3)}" y="{number(-ty, 3)}" font-size="{number(font, 3)}" '
        f'text-anchor="middle" dominant-baseline="middle">{words}</text>'
    )


# -- SVG ---------------------------------------------------------------------------------------------
def _svg(title: str, view: Box, body: str, width_px: int) -> str:
    x0, y0, x1, y1 = view
    rim = 0.03 * max(x1 - x0, y1 - y0) if width_px == WIDE_PX else 0.0
    w, h = x1 - x0 + 2 * rim, y1 - y0 + 2 * rim
    height = max(80, round(width_px * h / w))
    said = escape(title, quote=True)
    return (
        f'<svg class="cmp" role="img" aria-label="{said}" width="{width_px}" height="{height}" '
        f'viewBox="{number(x0 - rim, 3)} {number(-y1 - rim, 3)} {number(w, 3)} {number(h, 3)}">'
        f"<title>{said}</title>{body}</svg>"
    )


def _path(contours: Iterable[Contour]) -> str:
    return "".join(path_data(c, 3) for c in contours)


def _shape_path(shape: shapely.Geometry) -> str:
    found = []
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            xy = shapely.get_coordinates(shapely.simplify(ring, SAME_MM / 2)).tolist()
            found.append("M" + "L".join(f"{number(x, 3)} {number(-y, 3)}" for x, y in xy[:-1]) + "Z")
    return "".join(found)


def _bounds(lines: Sequence[Line]) -> Box | None:
    if not lines:
        return None
    boxes = [v.contour.bounds for v in lines]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
