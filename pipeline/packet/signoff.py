"""The picture that a maker signs (one for each outline): as drawn, as it will be, and all that was assumed.

Line type and words carry the meaning; colour (Okabe-Ito) only helps. Sizes of letters and lines are given
in pixels of the picture at its full width.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

import shapely

from pipeline.core.text import listed
from pipeline.geometry.moves import Moved, moves
from pipeline.geometry.region import Region
from pipeline.packet.path_text import number, path_data
from pipeline.packet.placing import Board, Dimension, Point
from pipeline.steps.measures import least_arcs
from pipeline.steps.values import Calibration, Derived, Drawing, Mark, Result

WIDE_PX, HIGH_PX, FONT_PX = 560.0, 520.0, 13.0
"""Room for the shape itself, and the size of letters."""
LEAST_MOVE_MM = 0.1
"""Moves over this have an arrow (trade.md 1.9)."""
TENFOLD = 10.0
MOST_MOVE_MM = 5.0
"""What lies further off was left out or replaced, not moved."""
ARROWS_APART_PX, NUMBERS_APART_PX = 12.0, 70.0

STYLE = """
.sign{display:flex;flex-wrap:wrap;gap:1.2rem}.sign>figure{flex:3 1 40rem;margin:0;min-width:0}
.sign>div{flex:1 1 15rem;font-size:.94rem}.sign h4{margin:.8rem 0 .2rem}
.sign ul,.sign ol{margin:0;padding-left:1.3rem}.agree{margin:1.4rem 0 .4rem}
.agree span{display:inline-block;width:15rem;border-bottom:1.5px solid #333;margin-right:1.5rem}
.pic .drawn{fill:none;stroke:#b4b4b4;stroke-width:calc(var(--w)*5)}
.pic .final{fill:none;stroke:#000;stroke-width:calc(var(--w)*1.5)}
.pic .moved{fill:none;stroke:#d55e00;stroke-width:calc(var(--w)*1.2)}
.pic .axis{fill:none;stroke:#0072b2;stroke-width:var(--w)}
.pic .axis{stroke-dasharray:calc(var(--w)*14) calc(var(--w)*3) calc(var(--w)*3) calc(var(--w)*3)}
.pic .mark{fill:none;stroke:#009e73;stroke-width:calc(var(--w)*1.3)}
.pic .mark{stroke-dasharray:calc(var(--w)*6) calc(var(--w)*3)}
.pic .known{fill:none;stroke:#cc79a7;stroke-width:calc(var(--w)*2)}
.pic .known{stroke-dasharray:calc(var(--w)*9) calc(var(--w)*2)}
.pic .over{fill:none;stroke:#333;stroke-width:var(--w)}
.pic .helper{fill:none;stroke:#777;stroke-width:calc(var(--w)*.5)}
.pic .spot{fill:#fff;stroke:#e69f00;stroke-width:calc(var(--w)*2)}
.pic .where{fill:#d55e00;stroke:none}
"""


def signoffs(derived: Derived) -> str:
    """A card for every outline, to be signed; outlines that are the same share one. "" where there is none."""
    same: dict[tuple[object, ...], list[str]] = {}
    for step in derived.order:
        result = derived.results[step.name]
        if step.kind == "outline" and result.region:
            before = (result.before or result.region).contours
            key = (path_data(result.region.contours), path_data(before), result.repairs)
            same.setdefault(key, []).append(step.name)
    return "".join(_card(names, derived.results[names[0]], derived) for names in same.values())


def _card(names: Sequence[str], result: Result, derived: Derived) -> str:
    region = result.region
    assert region is not None
    name = listed(names, "and")
    picture, left_out = signoff_picture(name, result, derived)
    return (
        f'<div class="card whole"><h3>{escape(name)}: the outline to be agreed</h3><div class="sign">'
        f"<figure>{picture}<figcaption>{escape(_legend(result, derived))}</figcaption></figure>"
        f"<div>{_sizes(region)}{_lengths(derived.drawing)}{_repairs(result, left_out)}</div></div>"
        '<p class="agree">agreed: <span></span> date <span></span></p></div>'
    )


def signoff_picture(name: str, result: Result, derived: Derived) -> tuple[str, bool]:
    """The picture as inline SVG; and whether grey lines lie where no arrow can tell of a move."""
    region = result.region
    assert region is not None
    before = result.before or region
    frame = derived.recipe.frame
    objects = derived.drawing.objects
    named = [n for n in ((frame.origin, frame.x_toward) if frame else ()) if n]
    marks = [m for n in dict.fromkeys(named) if n in objects and (m := objects[n].mark)]
    calibrations = derived.drawing.calibrations
    px = _pixel(region, before, marks, calibrations)
    board = Board(px=px, font=FONT_PX * px)
    for shape in {id(r): r for r in (before, region)}.values():
        board.shape(shape)
    moved: tuple[Moved, ...] = ()
    left_out = False
    if result.before:
        moved, left_out = moves(before, region, LEAST_MOVE_MM, MOST_MOVE_MM, ARROWS_APART_PX * px)
    body = [f'<path class="drawn" d="{path_data(before.contours)}"/>']
    body.append(f'<path class="final" d="{path_data(region.contours)}"/>')
    if marks:
        body += _axis(board, region, marks)
    body += _arrows(board, moved)
    for i, repair in enumerate(result.repairs, start=1):
        body += _spot(board, "where", f"repair {i}", repair.at_mm)
    for word, least in zip(("convex", "concave"), least_arcs(region), strict=True):
        if least:
            body += _spot(board, "spot", f"least {word} radius {least[0]:.2f}", least[1])
    x0, y0, x1, y1 = region.bounds
    below = board.dimension((x0, y0), (x1, y0), (f"{x1 - x0:.2f}",), (0.0, -1.0))
    beside = board.dimension((x0, y0), (x0, y1), (f"{y1 - y0:.2f}",), (-1.0, 0.0))
    body += [_dimension(board, d, "over") for d in (below, beside)]
    for c in calibrations:
        said = (
            f"{c.name}: {c.true_mm:.2f} true",
            f"drawn {c.drawn_mm:.2f}, comes out {c.comes_out_mm:.2f} ± {c.plus_minus_mm:.2f}",
        )
        if math.dist(*c.ends) > 0:
            body.append(_dimension(board, board.dimension(*c.ends, said), "known"))
    return _svg(board, name, _description(name, region, moved, result), body), left_out


# -- parts of the picture ------------------------------------------------------------------------
def _pixel(region: Region, before: Region, marks: Iterable[Mark], known: Iterable[Calibration]) -> float:
    """Millimetres of one pixel, so that everything the picture shows of the shape has room."""
    points = [p for b in (region.bounds, before.bounds) for p in (b[:2], b[2:])]
    points += [m.at for m in marks]
    points += [p for c in known for p in c.ends]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return max((max(xs) - min(xs)) / WIDE_PX, (max(ys) - min(ys)) / HIGH_PX, 1e-3)


def _axis(board: Board, region: Region, marks: Sequence[Mark]) -> list[str]:
    """The centreline (y = 0) past all marks, and a line across it through each mark."""
    x0, y0, x1, y1 = region.bounds
    rim = 14 * board.px
    left, right = min(x0, *(m.at[0] for m in marks)) - rim, max(x1, *(m.at[0] for m in marks)) + rim
    board.line((left, 0.0), (right, 0.0))
    body = [f'<path class="axis" d="{_line((left, 0.0), (right, 0.0))}"/>']
    for m in marks:
        x = m.at[0]
        within = x0 <= x <= x1
        low, high = (min(y0, 0.0) - rim, max(y1, 0.0) + rim) if within else (-3 * rim, 3 * rim)
        board.line((x, low), (x, high))
        body.append(f'<path class="mark" d="{_line((x, low), (x, high))}"/>')
        body += _words(board, m.name, (x, high), 3.0)
    body += _words(board, "centreline", (right, 0.0), 3.0)
    return body


def _arrows(board: Board, moved: Sequence[Moved]) -> list[str]:
    """Moves ten times as long; the farthest ones with their number."""
    body: list[str] = []
    numbered: list[Point] = []
    for m in moved:
        x, y = (m.at[i] + TENFOLD * (m.to[i] - m.at[i]) for i in (0, 1))
        angle = math.atan2(m.to[1] - m.at[1], m.to[0] - m.at[0])
        barb = min(6 * board.px, 0.6 * TENFOLD * m.mm)
        barbs = [(x - barb * math.cos(angle + s), y - barb * math.sin(angle + s)) for s in (0.4, -0.4)]
        board.line(m.at, (x, y))
        body.append(f'<path class="moved" d="{_line(m.at, (x, y))}{_line(barbs[0], (x, y), barbs[1])}"/>')
        if all(math.dist(m.at, p) >= NUMBERS_APART_PX * board.px for p in numbered):
            numbered.append(m.at)
            body += _words(board, f"{m.mm:.2f}", (x, y), 4.0)
    return body


def _spot(board: Board, look: str, text: str, at: Point) -> list[str]:
    """A dot with words beside it."""
    board.taken.append(shapely.Point(at).buffer(4 * board.px))
    dot = f'<circle class="{look}" cx="{number(at[0])}" cy="{number(-at[1])}" r="{number(3.5 * board.px)}"/>'
    return [*_words(board, text, at, 14.0), dot]


def _words(board: Board, text: str, near: Point, start_px: float) -> list[str]:
    at, leader = board.words(text, near, start_px)
    y = -at[1] + board.font * 0.35
    words = (
        f'<text x="{number(at[0])}" y="{number(y)}" font-size="{number(board.font)}" '
        f'text-anchor="middle">{escape(text)}</text>'
    )
    if leader is None or leader.length < 8 * board.px:
        return [words]
    return [f'<path class="helper" d="{_line(*shapely.get_coordinates(leader).tolist())}"/>', words]


def _dimension(board: Board, d: Dimension, look: str) -> str:
    """Extension lines, the line with slashes at its ends, and its words above and below."""
    font = board.font
    slash = 5 * board.px
    lines = "".join(_line(p, q) for p, q in zip(d.of, (d.a, d.b), strict=True))
    ends = "".join(_line((x - slash, y - slash), (x + slash, y + slash)) for x, y in (d.a, d.b))
    x, y = d.at
    words = "".join(
        f'<text y="{number(font * (-0.4 if k == 0 else 1.1))}" font-size="{number(font)}" '
        f'text-anchor="middle">{escape(w)}</text>'
        for k, w in enumerate(d.words)
    )
    return (
        f'<path class="helper" d="{lines}"/><path class="{look}" d="{_line(d.a, d.b)}"/>'
        f'<path class="over" d="{ends}"/>'
        f'<g transform="translate({number(x)} {number(-y)}) rotate({number(-d.turn_deg)})">{words}</g>'
    )


def _line(*points: Sequence[float]) -> str:
    return "M" + "L".join(f"{number(x)} {number(-y)}" for x, y in points)


def _svg(board: Board, name: str, description: str, body: Sequence[str]) -> str:
    px = board.px
    x0, y0, x1, y1 = board.bounds
    w, h = x1 - x0 + 12 * px, y1 - y0 + 12 * px
    title = escape(f"{name}: as drawn and as it will be", quote=True)
    view = " ".join(number(v) for v in (x0 - 6 * px, -y1 - 6 * px, w, h))
    return (
        f'<svg class="pic" role="img" aria-label="{title}" width="{round(w / px)}" height="{round(h / px)}" '
        f'style="--w:{number(px)}px" viewBox="{view}">'
        f"<title>{title}</title><desc>{escape(description)}</desc>{''.join(body)}</svg>"
    )


# -- words beside it -------------------------------------------------------------------------------
def _description(name: str, region: Region, moved: Sequence[Moved], result: Result) -> str:
    x0, y0, x1, y1 = region.bounds
    worst = (
        f"The line moved by at most {moved[0].mm:.2f} mm" if moved else "No part of the line moved by over 0.1 mm"
    )
    return (
        f"The outline {name} seen from the front, {x1 - x0:.2f} mm long and {y1 - y0:.2f} mm wide. "
        f"{worst}; {len(result.repairs)} repairs are listed beside it."
    )


def _legend(result: Result, derived: Derived) -> str:
    words = ["Black: the outline as it will be", "wide grey below it: as drawn"]
    if result.before:
        words.append("orange arrows: where it moved by over 0.1 mm, ten times as long, with the number in mm")
    if derived.recipe.frame and derived.recipe.frame.origin:
        words.append("blue chain line: centreline; green dashes: the lines of the marks")
    if derived.drawing.calibrations:
        words.append("purple dashes: known lengths")
    return "; ".join(words) + ". Seen from the front; all numbers in mm."


def _sizes(region: Region) -> str:
    x0, y0, x1, y1 = region.bounds
    rows = [f"length {x1 - x0:.2f} mm", f"width {y1 - y0:.2f} mm"]
    for word, least in zip(("convex", "concave"), least_arcs(region), strict=True):
        place = (
            f"{least[0]:.2f} mm at x {least[1][0]:.1f}, y {least[1][1]:.1f}"
            if least
            else "none, it has no such arc"
        )
        rows.append(f"least {word} radius: {place}")
    return _list("Sizes", "ul", map(escape, rows))


def _lengths(drawing: Drawing) -> str:
    rows = [
        f"{c.name}: {c.true_mm:.2f} mm true, {c.drawn_mm:.2f} mm as drawn, comes out as {c.comes_out_mm:.2f} mm; "
        f"± {c.plus_minus_mm:.2f} mm over the longest dimension"
        for c in drawing.calibrations
    ]
    return _list("Known lengths", "ul", map(escape, rows or ["none given: the scale is the drawing's own"]))


def _repairs(result: Result, left_out: bool) -> str:
    rows = [
        f"<b>{escape(r.what)}{f', {r.moved_mm:.3f} mm' if r.moved_mm else ''} at x {r.at_mm[0]:.1f}, "
        f"y {r.at_mm[1]:.1f}:</b> {escape(r.message.removeprefix(f'{result.step}: '))}"
        for r in result.repairs
    ]
    none = () if left_out else ("none: the outline is as drawn",)
    told = _list("Repairs", "ol", rows) if rows else _list("Repairs", "ul", none)
    if left_out:
        why = f"Grey lines over {MOST_MOVE_MM:g} mm from the outline were left out or replaced: no arrows there."
        told += f"<p>{why}</p>"
    return told


def _list(title: str, tag: str, rows: Iterable[str]) -> str:
    """A headed list of rows of HTML; the heading alone without rows."""
    rows = list(rows)
    if not rows:
        return f"<h4>{title}</h4>"
    return f"<h4>{title}</h4><{tag}>" + "".join(f"<li>{r}</li>" for r in rows) + f"</{tag}>"
