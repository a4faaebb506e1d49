"""Pictures of pieces, set-ups and outlines as inline SVG for the report, with dimension lines.

Line type and label carry the meaning; colour (Okabe-Ito) only helps. Curves are drawn from few arcs. The width of
lines (``--w``) and the size of words (``--t``) are mm of the drawing, so that a style sheet can widen both.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape

from pipeline.geometry.contour import Contour
from pipeline.geometry.transform import Move
from pipeline.packet.path_text import matrix, number, path_data, words_path
from pipeline.packet.print_scene import Scene
from pipeline.packet.strokes import text_width
from pipeline.packet.views import label_seen
from pipeline.steps.values import Blank, Op, Piece, SetUp

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
RANK = {work: k for k, work in enumerate(LOOKS)}
Box = tuple[float, float, float, float]

STYLE = """
.pic{background:#fff;max-width:100%;height:auto}
.pic .body{fill:#f3ead9;stroke:none}
.pic .part{fill:#f3ead9;stroke:#000;stroke-width:var(--w)}
.pic .edge{fill:none;stroke:#000;stroke-width:var(--w)}
.pic .pocket{fill:#56b4e9;fill-opacity:.35;stroke:#0072b2;stroke-width:var(--w)}
.pic .ramp{fill:#e69f00;fill-opacity:.35;stroke:#d55e00;stroke-width:var(--w)}
.pic .drill{fill:#fff;stroke:#d55e00;stroke-width:var(--w)}
.pic .line{fill:none;stroke:#0072b2;stroke-width:calc(var(--w)*.7*var(--s,1))}
.pic .stock,.pic .ref{fill:none;stroke-width:calc(var(--w)*.6)}
.pic .stock{stroke:#777;stroke-dasharray:calc(var(--w)*6) calc(var(--w)*3)}
.pic .ref{stroke:#009e73;stroke-dasharray:calc(var(--w)*3) calc(var(--w)*2)}
.pic .index{fill:none;stroke:#cc79a7;stroke-width:var(--w)}
.pic .dim{fill:none;stroke:#555;stroke-width:calc(var(--w)*.6)}
.pic .tip{fill:#333;stroke:none}
.pic text{font-family:system-ui,sans-serif;fill:#1b1b1b}
.pic .says{font-size:var(--t);text-anchor:middle;paint-order:stroke;stroke:#fff;stroke-width:calc(var(--t)*.22)}
.pic .on{stroke:none}
"""


def picture(
    title: str,
    bounds: Box,
    body: Sequence[str],
    *,
    width_px: int = 560,
    pad: float = 0.06,
) -> str:
    """An inline SVG with a title for screen readers; ``bounds`` in mm, y up, and a rim of ``pad`` of its size.

    A line is about one dot wide at the picture's full width, and words that take their size from it 13 dots.
    """
    x0, y0, x1, y1 = bounds
    rim = max(x1 - x0, y1 - y0) * pad + 1
    w, h = x1 - x0 + 2 * rim, y1 - y0 + 2 * rim
    line = max(w, h) / 450
    sizes = f"--w:{number(line)}px;--t:{number(13 * w / width_px)}px"
    return (
        f'<svg class="pic" role="img" aria-label="{escape(title, quote=True)}" width="{width_px}" '
        f'height="{max(60, round(width_px * h / w))}" style="{sizes}" '
        f'viewBox="{number(x0 - rim)} {number(-y1 - rim)} {number(w)} {number(h)}">' + "".join(body) + "</svg>"
    )


PIECE_PX = 380
"""Width of a set-up's picture: as wide as a phone has room for, and three beside each other on a desk."""


def setup_picture(owner: Piece | Blank, set_up: SetUp, move: Move) -> str:
    """One set-up as the machinist sees it (``move``), with its overall size and depths."""
    shape = owner.cut if isinstance(owner, Piece) else owner.region
    turned = matrix(move)
    body = [f'<path class="body" fill-rule="evenodd"{turned} d="{path_data(shape.contours)}"/>']
    order = sorted((o for o in set_up.ops if o.work in LOOKS), key=lambda o: RANK[o.work])
    for op in sorted(order, key=lambda o: (o.work in ("CUT_OUTSIDE", "CUT_INSIDE"), o.depth_mm or 0)):
        body.append(f'<path class="{LOOKS[op.work]}" fill-rule="evenodd"{turned} d="{path_data(op.contours)}"/>')
    edge = _around(moved_box(c.bounds, move) for c in shape.contours)
    stock = [moved_box(c.bounds, move) for op in set_up.ops if op.work == "STOCK" for c in op.contours]
    around = _around((edge, *stock))
    x0, y0, x1, y1 = around
    text = 13 * max(x1 - x0, (y1 - y0) * 0.9) * 1.15 / PIECE_PX
    body += _engraved(set_up, move)
    body += _depths(set_up, move, text, around)
    body += dimensions(edge, text, around)
    title = f"{owner.name}, {set_up.face} as the machinist sees it, {_by(edge)} mm"
    return picture(title, dimensioned(around, text), body, pad=0.01, width_px=PIECE_PX)


def dimensioned(bounds: Box, text: float) -> Box:
    """The bounds of a picture with room for overall dimensions below and at the left."""
    return bounds[0] - 3.2 * text, bounds[1] - 3.4 * text, bounds[2], bounds[3]


def _by(bounds: Box) -> str:
    return f"{bounds[2] - bounds[0]:.2f} by {bounds[3] - bounds[1]:.2f}"


def _engraved(set_up: SetUp, move: Move) -> list[str]:
    seen = [label_seen(label, move) for label in set_up.labels if label.engrave]
    return [words_path("line", s.text, s.at, s.height_mm, s.turn_deg) for s in seen]


def _depths(set_up: SetUp, move: Move, text: float, around: Box) -> list[str]:
    """Depths and diameters on the shapes they belong to; words that would lie on others move up or down a line,
    and words that a row of equal holes repeats stand once."""
    taken = [
        (s.at[0], s.at[1], s.at[0] + text_width(s.text, s.height_mm), s.at[1] + s.height_mm)
        for s in (label_seen(label, move) for label in set_up.labels if label.engrave and not label.turn_deg)
    ]
    body, said = [], set()
    for op in set_up.ops:
        words = depth_words(op)
        if not words or not op.contours or (op.work == "DRILL" and words in said):
            continue
        said.add(words)
        x0, y0, x1, y1 = moved_box(op.contours[0].bounds, move)
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        half = len(words) * text * 0.31
        x = min(max(x, around[0] + half), max(around[2] - half, around[0] + half))
        for k in (0, 1, -1, 2, -2, 3, -3):
            at = y + k * text * 1.15
            box = (x - half, at - text * 0.5, x + half, at + text * 0.5)
            if not any(_meet(box, t) for t in taken):
                break
        taken.append(box)
        body.append(f'<text class="says" x="{number(x)}" y="{number(-at + text * 0.35)}">{escape(words)}</text>')
    return body


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def moved_box(box: Box, move: Move) -> Box:
    """A box after a move that keeps it square to the axes, or the box round it."""
    points = [move.point(x, y) for x in (box[0], box[2]) for y in (box[1], box[3])]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _around(boxes: Iterable[Box]) -> Box:
    rows = list(boxes)
    return min(b[0] for b in rows), min(b[1] for b in rows), max(b[2] for b in rows), max(b[3] for b in rows)


def depth_words(op: Op) -> str:
    """What a machinist needs to read on the shape: depth, two depths, or a diameter."""
    if op.work == "POCKET":
        return f"{op.depth_mm:.2f} deep"
    if op.work == "RAMP":
        return f"{op.depth_mm:.2f} to {op.deep_mm:.2f}"
    if op.work == "DRILL":
        many = f"{len(op.contours)} × " if len(op.contours) > 1 else ""
        return f"{many}Ø{op.diameter_mm:g}" + ("" if op.through else f", {op.depth_mm:.2f} deep")
    return ""


def dimensions(edge: Box, text: float, around: Box | None = None) -> list[str]:
    """Overall length of ``edge`` below and width at the left: extension lines, arrows, the number; outside of all
    that lies in ``around``."""
    x0, y0, x1, y1 = edge
    left, below, *_ = around or edge
    down, aside = min(y0, below) - text * 1.5, min(x0, left) - text * 1.5
    return [
        dimension((x0, down), (x1, down), f"{x1 - x0:.2f}", text, y0 - text * 0.3),
        dimension((aside, y0), (aside, y1), f"{y1 - y0:.2f}", text, x0 - text * 0.3),
    ]


def dimension(
    a: tuple[float, float], b: tuple[float, float], words: str, text: float, from_: float | None = None
) -> str:
    """A level or upright dimension line with its number below, or to the left; ``from_`` is where the extension
    lines begin, as a coordinate across it. Where the arrows have no room they point in from outside."""
    level = a[1] == b[1]
    along = 0 if level else 1
    lo, hi = sorted((a[along], b[along]))
    across = a[1 - along]
    tip = text * 0.75
    outside = hi - lo < 3 * tip
    ends = (lo - 2 * tip, hi + 2 * tip) if outside else (lo, hi)

    def at(u: float, v: float) -> str:
        return f"{number(u)} {number(-v)}" if level else f"{number(v)} {number(-u)}"

    lines = f"M{at(ends[0], across)}L{at(ends[1], across)}"
    if from_ is not None:
        beyond = across + (text * 0.35 if across > from_ else -text * 0.35)
        lines += "".join(f"M{at(u, from_)}L{at(u, beyond)}" for u in (lo, hi))
    tips = []
    for u, way in ((lo, 1.0), (hi, -1.0)):
        s = (-way if outside else way) * tip
        tips.append(f"M{at(u, across)}L{at(u + s, across + tip * 0.22)}L{at(u + s, across - tip * 0.22)}Z")
    middle = (lo + hi) / 2
    if level:
        place = f'x="{number(middle)}" y="{number(-across + text * 1.15)}"'
    else:
        place = f'transform="translate({number(across - text * 0.4)} {number(-middle)}) rotate(-90)"'
    return (
        f'<path class="dim" d="{lines}"/><path class="tip" d="{"".join(tips)}"/>'
        f'<text class="says" {place}>{escape(words)}</text>'
    )


STROKES: Mapping[str, str] = {"edge": "edge", "front": "pocket", "back": "ramp", "carve": "ref", "mark": "dim"}
"""How the strokes of a full-size print look in a picture."""
SCENE_PX = 640


def scene_picture(scene: Scene) -> str:
    """An outline and all that is cut or drawn in it, as the full-size print shows it."""
    grouped: dict[str, list[Contour]] = {}
    for s in scene.strokes:
        grouped.setdefault(STROKES[s.style], []).append(s.contour)
    order = sorted(grouped, key=["pocket", "ramp", "ref", "dim", "edge"].index)
    body = [f'<path class="{look}" d="{path_data((c,))}"/>' for look in order for c in grouped[look]]
    edge = _around(s.contour.bounds for s in scene.strokes if s.style == "edge")
    text = 13 * (scene.bounds[2] - scene.bounds[0]) * 1.12 / SCENE_PX
    body += _names(scene, text)
    around = _around(s.contour.bounds for s in scene.strokes)
    body += dimensions(edge, text, around)
    title = f"{scene.name}, seen from the front, {_by(edge)} mm"
    return picture(title, dimensioned(around, text), body, pad=0.01, width_px=SCENE_PX)


def _names(scene: Scene, text: float) -> list[str]:
    """The names of what is cut, each on its largest shape, where they have room."""
    largest: dict[str, tuple[float, Box]] = {}
    for s in scene.strokes:
        if s.style in ("front", "back") and s.label:
            x0, y0, x1, y1 = s.contour.bounds
            size = (x1 - x0) * (y1 - y0)
            if size > largest.get(s.label, (0.0, s.contour.bounds))[0]:
                largest[s.label] = (size, s.contour.bounds)
    body: list[str] = []
    taken: list[Box] = []
    for name, (_, (x0, y0, x1, y1)) in largest.items():
        half = len(name) * text * 0.29
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        box = (x - half, y - text * 0.6, x + half, y + text * 0.6)
        if 2 * half > 1.6 * (x1 - x0) or any(_meet(box, t) for t in taken):
            continue
        taken.append(box)
        body.append(f'<text class="says" x="{number(x)}" y="{number(-y + text * 0.35)}">{escape(name)}</text>')
    return body
