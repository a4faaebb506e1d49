"""A glued blank taken apart: its laminations lifted off each other, and a table of what is cut in each.

The picture is an oblique view: x to the right, y away from the reader, heights upward, all to one scale; only the
gaps between laminations are wider than they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from pipeline.packet.path_text import number, path_data
from pipeline.packet.views import index_pins
from pipeline.steps.values import Blank, Derived, Lamination, Piece

WIDE_PX = 640
FORE, ASIDE = 0.5, 0.3
"""How much of y shows as height and as sideways shift in the oblique view."""
LEAST_MM = 0.8
"""A veneer is drawn at least so thick."""
LABEL_PX = 172
"""Room for the labels at the right, also where a phone enlarges them."""

STYLE = """
.stack{background:#fff;max-width:100%;height:auto}
.stack .side{fill:#d9c79f;stroke:#8d7a4f;stroke-width:calc(var(--w)*.5)}
.stack .top{fill:#f6efe0;stroke:#000;stroke-width:var(--w)}
.stack .pocket{fill:#56b4e9;fill-opacity:.45;stroke:#0072b2;stroke-width:var(--w)}
.stack .under{fill:none;stroke:#b35900;stroke-width:var(--w)}
.stack .under{stroke-dasharray:calc(var(--w)*4) calc(var(--w)*2.5)}
.stack .pin{fill:none;stroke:#8f3f6b;stroke-width:calc(var(--w)*.8)}
.stack .pin{stroke-dasharray:calc(var(--w)*8) calc(var(--w)*2) calc(var(--w)*2) calc(var(--w)*2)}
.stack .lead{fill:none;stroke:#555;stroke-width:calc(var(--w)*.6)}
.stack text{font:var(--t) system-ui,sans-serif;fill:#1b1b1b}.stack .strong{font-weight:700}
"""


def stack_picture(blank: Blank, derived: Derived) -> str:
    """The laminations of a blank, lifted apart, as inline SVG: number, sheet, letter and thickness beside each."""
    pieces = {p.name: p for p in derived.pieces}
    pins = _pins(blank, pieces, derived)
    x0, y0, x1, y1 = _bounds(blank, pieces)
    width, height = (x1 - x0) + ASIDE * (y1 - y0), FORE * (y1 - y0)
    n = len(blank.laminations)
    gap = height * (0.85 if n <= 4 else 0.55 if n <= 8 else 0.3) + max(_thick(v) for v in blank.laminations)
    unit = width / (WIDE_PX - LABEL_PX)  # mm of one dot
    rim = 8 * unit
    total = height + gap * (n - 1) + _thick(blank.laminations[0])
    body, up = [], 0.0
    for k, lam in enumerate(blank.laminations):
        up = k * gap
        body += _layer(pieces.get(lam.piece), blank, lam, up, unit)
        body += _label(lam, k, n, (x0, y0, x1, y1), up, unit)
        if k + 1 < n:
            low, high = -up - _thick(lam), -up - gap
            lines = "".join(f"M{number(u)} {number(v + low)}V{number(v + high)}" for u, v in map(_oblique, pins))
            body.append(f'<path class="pin" d="{lines}"/>' if lines else "")
    left, bottom = x0 + ASIDE * y0, -FORE * y0
    box = (left - rim, bottom - total - rim, WIDE_PX * unit + 2 * rim, total + 2 * rim)
    title = f"{blank.name} taken apart: {n} {'lamination' if n == 1 else 'laminations'}, the front on top"
    return (
        f'<svg class="stack" role="img" aria-label="{escape(title, quote=True)}" width="{WIDE_PX}" '
        f'height="{round(WIDE_PX * box[3] / box[2])}" style="--w:{number(unit)}px;--t:{number(13 * unit)}px" '
        f'viewBox="{" ".join(number(v) for v in box)}">{"".join(body)}</svg>'
    )


def _thick(lam: Lamination) -> float:
    return max(lam.z1 - lam.z0, LEAST_MM)


def _oblique(point: tuple[float, float]) -> tuple[float, float]:
    return point[0] + ASIDE * point[1], -FORE * point[1]


def _bounds(blank: Blank, pieces: Mapping[str, Piece]) -> tuple[float, float, float, float]:
    boxes = [blank.region.bounds, *(pieces[v.piece].cut.bounds for v in blank.laminations if v.piece in pieces)]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def _pins(blank: Blank, pieces: Mapping[str, Piece], derived: Derived) -> list[tuple[float, float]]:
    """Centres of the index holes that the laminations are pinned on."""
    set_ups = [s for v in blank.laminations if v.piece in pieces for s in pieces[v.piece].set_ups]
    found = [c.circle() for c in index_pins(derived, set_ups)]
    return [(c[0], c[1]) for c in found if c]


def _layer(piece: Piece | None, blank: Blank, lam: Lamination, up: float, unit: float) -> list[str]:
    """One lamination: copies of its shape one above the other make its side, the last one is its face."""
    shape = piece.cut if piece else blank.region
    data = path_data(shape.contours)
    thick = _thick(lam)
    copies = max(1, min(12, round(thick / (1.5 * unit))))
    body = [_placed("side", data, up + thick * k / copies) for k in range(copies)]
    body.append(_placed("top", data, up + thick))
    for set_up in piece.set_ups if piece else ():
        for op in set_up.ops:
            if op.work in ("POCKET", "RAMP", "GROOVE", "DRILL") and not op.through:
                look = "pocket" if set_up.face == "front" else "under"
                body.append(_placed(look, path_data(op.contours), up + thick))
    return body


def _placed(look: str, data: str, up: float) -> str:
    return (
        f'<path class="{look}" fill-rule="evenodd" '
        f'transform="matrix(1 0 {number(-ASIDE)} {number(FORE)} 0 {number(-up)})" d="{data}"/>'
    )


def _label(
    lam: Lamination, k: int, n: int, bounds: tuple[float, float, float, float], up: float, unit: float
) -> list[str]:
    _, y0, x1, y1 = bounds
    text = 13 * unit
    u, v = _oblique((x1, (y0 + y1) / 2))
    right = x1 + ASIDE * y1 + 8 * unit
    v -= up
    where = " back" if k == 0 and n > 1 else " front" if k == n - 1 and n > 1 else ""
    sheet = f"{lam.sheet} {lam.letter}".strip()
    at = number(right + 3 * unit)
    return [
        f'<path class="lead" d="M{number(u)} {number(v)}H{number(right)}"/>',
        f'<text class="strong" x="{at}" y="{number(v - text * 0.2)}">{lam.number}{where}</text>',
        f'<text x="{at}" y="{number(v + text * 1.3)}">{escape(sheet)} {lam.z1 - lam.z0:.2f}</text>',
    ]


# -- the table -----------------------------------------------------------------------------------------
def lamination_table(blank: Blank, numbers: Mapping[str, Any]) -> str:
    """Every lamination with its sheet, thickness, heights and what is cut in it; from the front down."""
    work = {row["lamination"]: row["work"] for row in numbers.get("laminations", ())}
    rows = "".join(
        f'<tr><th scope="row">{lam.number}</th><td>{escape(lam.piece)}</td>'
        f"<td>{escape(f'{lam.sheet} {lam.letter}'.strip())}</td>"
        f'<td class="n">{lam.z1 - lam.z0:.2f}</td><td class="n">{lam.z0:.2f} to {lam.z1:.2f}</td>'
        f"<td>{escape('; '.join(_works(work.get(lam.number, ())))) or 'nothing but its edge'}</td></tr>"
        for lam in reversed(blank.laminations)
    )
    head = (
        '<tr><th scope="col">No.</th><th scope="col">Piece</th><th scope="col">Sheet</th>'
        '<th scope="col" class="n">Thick mm</th><th scope="col" class="n">Above the back mm</th>'
        '<th scope="col">Cut in it</th></tr>'
    )
    name = escape(blank.name, quote=True)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="Laminations of {name}">'
        f"<table><caption>Laminations, from the front down</caption><thead>{head}</thead>"
        f"<tbody>{rows}</tbody></table></div>"
    )


def _works(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """A phrase for each cut; cuts of one step that say the same stand once, with their number."""
    said: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        if row["action"] == "through":
            words = "through"
        else:
            depth, deep = float(row["depth_mm"]), float(row.get("deep_mm", row["depth_mm"]))
            deepest = f" to {deep:.2f}" if abs(deep - depth) >= 0.005 else ""
            words = f"{depth:.2f}{deepest} deep from the {row['face']}"
        said.setdefault((str(row["step"]), words), []).append(str(row["cut"]))
    return [
        f"{cuts[0]} {words}" if len(cuts) == 1 else f"{len(cuts)} {step} {words}"
        for (step, words), cuts in said.items()
    ]
