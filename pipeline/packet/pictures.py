"""Pictures of pieces, set-ups, stacks and nests as inline SVG for the report.

Line type and label carry the meaning; colour (Okabe-Ito) only helps. Curves are drawn from few arcs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape

import shapely

from pipeline.geometry.contour import Contour, line_chain
from pipeline.geometry.region import Region
from pipeline.geometry.transform import Move
from pipeline.packet import svg
from pipeline.packet.print_scene import Scene
from pipeline.packet.refits import known
from pipeline.packet.strokes import text_strokes
from pipeline.packet.views import label_seen, placed
from pipeline.steps.values import Blank, Nest, Op, Piece, SetUp

PICTURE_MM = 0.02
"""How far a line in a picture may lie from the curve it stands for, where that is not fitted for cutting."""

LOOKS: Mapping[str, str] = {
    "CUT_OUTSIDE": "edge",
    "CUT_INSIDE": "edge",
    "POCKET": "pocket",
    "RAMP": "ramp",
    "DRILL": "drill",
    "GROOVE": "line",
    "ENGRAVE": "line",
    "SCORE": "line",
    "STOCK": "stock",
    "INDEX": "index",
    "REFERENCE": "ref",
    "CARVE_LINE": "ref",
    "KEEP_CLEAR": "ref",
}

STYLE = """
.pic{background:#fff;max-width:100%;height:auto}
.pic .body{fill:#f3ead9;stroke:none}
.pic .edge{fill:none;stroke:#000;stroke-width:var(--w)}
.pic .pocket{fill:#56b4e9;fill-opacity:.35;stroke:#0072b2;stroke-width:var(--w)}
.pic .ramp{fill:#e69f00;fill-opacity:.35;stroke:#d55e00;stroke-width:var(--w)}
.pic .drill{fill:#fff;stroke:#d55e00;stroke-width:var(--w)}
.pic .line{fill:none;stroke:#0072b2;stroke-width:calc(var(--w)*.7)}
.pic .stock,.pic .ref{fill:none;stroke-width:calc(var(--w)*.6)}
.pic .stock{stroke:#777;stroke-dasharray:calc(var(--w)*6) calc(var(--w)*3)}
.pic .ref{stroke:#009e73;stroke-dasharray:calc(var(--w)*3) calc(var(--w)*2)}
.pic .index{fill:none;stroke:#cc79a7;stroke-width:var(--w)}
.pic .dim{fill:none;stroke:#555;stroke-width:calc(var(--w)*.5)}
.pic text{font-family:system-ui,sans-serif;fill:#222}
"""


DECIMALS = 3
"""Decimals of a millimetre in pictures."""


def number(value: float) -> str:
    """A short decimal for pictures."""
    return svg.number(value, DECIMALS)


def path_data(contours: Iterable[Contour], move: Move | None = None) -> str:
    """SVG path data of contours, fitted by few arcs."""
    shapes = (_pictured(c) for c in contours)
    return "".join(svg.path_data(move.contour(s) if move else s, DECIMALS) for s in shapes)


def _pictured(contour: Contour) -> Contour:
    """A contour as it is drawn in pictures: as it is cut; one that is cut nowhere by as few chords as do."""
    made = known(contour)
    if made is not None:
        return made
    xy = contour.flatten(PICTURE_MM / 2)[0]
    line = shapely.LinearRing(xy) if contour.closed else shapely.LineString(xy)
    points = shapely.get_coordinates(shapely.simplify(line, PICTURE_MM / 2))
    return line_chain(points[:-1] if contour.closed else points, closed=contour.closed)


def picture(
    title: str,
    bounds: tuple[float, float, float, float],
    body: Sequence[str],
    *,
    width_px: int = 560,
    pad: float = 0.06,
) -> str:
    """An inline SVG with a title for screen readers; ``bounds`` in mm, y up."""
    x0, y0, x1, y1 = bounds
    rim = max(x1 - x0, y1 - y0) * pad + 1
    w, h = x1 - x0 + 2 * rim, y1 - y0 + 2 * rim
    line = max(w, h) / 450
    return (
        f'<svg class="pic" role="img" aria-label="{escape(title, quote=True)}" width="{width_px}" '
        f'height="{max(60, round(width_px * h / w))}" style="--w:{number(line)}px" '
        f'viewBox="{number(x0 - rim)} {number(-y1 - rim)} {number(w)} {number(h)}">' + "".join(body) + "</svg>"
    )


def setup_picture(owner: Piece | Blank, set_up: SetUp, move: Move) -> str:
    """One set-up as the machinist sees it (``move``), with its overall size and depths."""
    shape = owner.cut if isinstance(owner, Piece) else owner.region
    body = [f'<path class="body" fill-rule="evenodd" d="{path_data(shape.contours, move)}"/>']
    order = sorted(set_up.ops, key=lambda o: list(LOOKS).index(o.work) if o.work in LOOKS else 99)
    for op in sorted(order, key=lambda o: (o.work in ("CUT_OUTSIDE", "CUT_INSIDE"), o.depth_mm or 0)):
        look = LOOKS.get(op.work)
        if look:
            body.append(f'<path class="{look}" fill-rule="evenodd" d="{path_data(op.contours, move)}"/>')
    stock = [c for op in set_up.ops if op.work == "STOCK" for c in op.contours]
    boxes = [move.contour(c).bounds for c in (*shape.contours, *stock)]
    bounds = (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
    size = max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    text = size / 38
    for op in set_up.ops:
        words = depth_words(op)
        if words and op.contours:
            x, y = _centre(move.contour(op.contours[0]))
            body.append(
                f'<text x="{number(x)}" y="{number(-y)}" font-size="{number(text)}" '
                f'text-anchor="middle" dominant-baseline="middle">{escape(words)}</text>'
            )
    for label in set_up.labels:
        if label.engrave:
            seen = label_seen(label, move)
            strokes = text_strokes(seen.text, *seen.at, seen.height_mm, seen.turn_deg)
            body.append(f'<path class="line" d="{path_data(strokes)}"/>')
    body += _dimensions(bounds, text)
    title = f"{owner.name}, {set_up.face} as the machinist sees it"
    return picture(title, bounds, body, pad=0.1)


def depth_words(op: Op) -> str:
    """What a machinist needs to read on the shape: depth, two depths, or a diameter."""
    if op.work == "POCKET":
        return f"{op.depth_mm:.2f} deep"
    if op.work == "RAMP":
        return f"{op.depth_mm:.2f} to {op.deep_mm:.2f}"
    if op.work == "DRILL" and len(op.contours) < 3:
        return f"Ø{op.diameter_mm:g}" + ("" if op.through else f" × {op.depth_mm:.2f}")
    return ""


def _centre(contour: Contour) -> tuple[float, float]:
    x0, y0, x1, y1 = contour.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2


def _dimensions(bounds: tuple[float, float, float, float], text: float) -> list[str]:
    """Overall width below and height at the left, on dimension lines."""
    x0, y0, x1, y1 = bounds
    down, left = y0 - text * 1.2, x0 - text * 1.2
    return [
        f'<path class="dim" d="M{number(x0)} {number(-down)}H{number(x1)}'
        f"M{number(x0)} {number(-down - text / 3)}v{number(text * 2 / 3)}"
        f'M{number(x1)} {number(-down - text / 3)}v{number(text * 2 / 3)}"/>',
        f'<text x="{number((x0 + x1) / 2)}" y="{number(-down + text * 1.1)}" font-size="{number(text)}" '
        f'text-anchor="middle">{x1 - x0:.1f}</text>',
        f'<path class="dim" d="M{number(left)} {number(-y0)}V{number(-y1)}'
        f"M{number(left - text / 3)} {number(-y0)}h{number(text * 2 / 3)}"
        f'M{number(left - text / 3)} {number(-y1)}h{number(text * 2 / 3)}"/>',
        f'<text transform="translate({number(left - text * 0.5)} {number(-(y0 + y1) / 2)}) rotate(-90)" '
        f'font-size="{number(text)}" text-anchor="middle">{y1 - y0:.1f}</text>',
    ]


STROKES: Mapping[str, str] = {"edge": "edge", "front": "pocket", "back": "ramp", "carve": "ref", "mark": "dim"}
"""How the strokes of a full-size print look in a picture."""


def scene_picture(scene: Scene) -> str:
    """An outline and all that is cut or drawn in it, as the full-size print shows it."""
    body = [f'<path class="{STROKES[s.style]}" d="{path_data((s.contour,))}"/>' for s in scene.strokes]
    x0, _, x1, _ = scene.bounds
    body += _dimensions(_edge(scene), (x1 - x0) / 38)
    return picture(f"{scene.name}, seen from the front", scene.bounds, body, pad=0.08)


def _edge(scene: Scene) -> tuple[float, float, float, float]:
    boxes = [s.contour.bounds for s in scene.strokes if s.style == "edge"]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def nest_picture(nest: Nest, shapes: Mapping[str, tuple[Region, Move]]) -> str:
    """A sheet with its parts; ``shapes`` holds each piece's region and how it is turned over to be nested."""
    w, h = nest.size
    body = [f'<rect class="stock" x="0" y="{number(-h)}" width="{number(w)}" height="{number(h)}"/>']
    for p in nest.placements:
        region, over = shapes[p.piece]
        move = over.then(placed(p))
        data = path_data(region.contours, move)
        body.append(f'<path class="body" fill-rule="evenodd" d="{data}"/><path class="edge" d="{data}"/>')
        x, y = move.point(*region.polygon.representative_point().coords[0])
        body.append(
            f'<text x="{number(x)}" y="{number(-y)}" font-size="{number(max(w, h) / 50)}" '
            f'text-anchor="middle">{escape(p.piece)}</text>'
        )
    return picture(f"{nest.sheet} {nest.letter} with its parts", (0, 0, w, h), body, pad=0.02)


def stack_picture(blank: Blank, rows: Sequence[Mapping[str, object]]) -> str:
    """The stack from the side, not to scale along: each lamination with its heights, and the floors."""
    total = blank.thickness_mm
    width = total * 4.2
    body = []
    text = total / 13
    for lam in blank.laminations:
        body.append(
            f'<rect x="0" y="{number(-lam.z1)}" width="{number(width)}" height="{number(lam.z1 - lam.z0)}" '
            f'fill="#f3ead9" stroke="#000" stroke-width="{number(total / 200)}"/>'
            f'<text x="{number(width + text)}" y="{number(-(lam.z0 + lam.z1) / 2)}" font-size="{number(text)}" '
            f'dominant-baseline="middle">{lam.number}  {escape(lam.sheet)} {escape(lam.letter)}  '
            f"z {lam.z0:.2f} to {lam.z1:.2f}</text>"
        )
    cuts = [r for r in rows if isinstance(r.get("floor_z_mm"), float)]
    for k, row in enumerate(cuts):
        a, b = _number(row["floor_z_mm"]), _number(row["deep_floor_z_mm"])
        x0 = width * (k + 0.12) / max(1, len(cuts))
        x1 = width * (k + 0.88) / max(1, len(cuts))
        ends = row.get("z_mm")
        face = (
            (max(_number(v) for v in ends) if row["face"] == "front" else min(_number(v) for v in ends))
            if isinstance(ends, list)
            else (total if row["face"] == "front" else 0.0)
        )
        look = "ramp" if a != b else "pocket"
        body.append(
            f'<path class="{look}" d="M{number(x0)} {number(-face)}L{number(x0)} {number(-a)}'
            f'L{number(x1)} {number(-b)}L{number(x1)} {number(-face)}Z"/>'
            f'<text x="{number((x0 + x1) / 2)}" y="{number(-(face + (a + b) / 2) / 2)}" '
            f'font-size="{number(text * 0.8)}" '
            f'text-anchor="middle" dominant-baseline="middle">{escape(str(row["cut"]))}</text>'
        )
    body.append(f'<text x="0" y="{number(-total - text * 0.6)}" font-size="{number(text)}">front</text>')
    body.append(f'<text x="0" y="{number(text * 1.3)}" font-size="{number(text)}">back</text>')
    return picture(
        f"{blank.name}: laminations and floors from the side",
        (0, -text, width + text * 17, total + text),
        body,
        width_px=640,
        pad=0.03,
    )


def _number(value: object) -> float:
    assert isinstance(value, int | float)
    return float(value)
