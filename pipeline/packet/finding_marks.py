"""Parts of a finding's picture: the window, dimension lines, words, the scale."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding
from pipeline.packet.finding_sections import Point
from pipeline.packet.views import turned_over
from pipeline.steps.values import Derived

PX = (360.0, 236.0)
"""Width and height of a picture; one unit is about one dot on a phone."""
SMALL_PX = 30.0
"""A dimension shorter than this gets its arrows from outside."""

STYLE = """
.finding{background:#fff;width:100%;max-width:34rem;height:auto;display:block;margin:.4rem 0}
.finding{border:1px solid #ddd6c8}
.finding .wood{fill:#f3ead9;stroke:#1b1b1b;stroke-width:1.6}
.finding .lam{fill:#f3ead9;stroke:#6b5d43;stroke-width:.6}.finding .lam.odd{fill:#e8dabd}
.finding .glue{fill:#4a3a20;stroke:#4a3a20;stroke-width:.5}
.finding .near{fill:#56b4e9;fill-opacity:.3;stroke:#0072b2;stroke-width:1.4}
.finding .far{fill:#e69f00;fill-opacity:.12;stroke:#b35900;stroke-width:1.2;stroke-dasharray:6 3}
.finding .asked{fill:none;stroke:#0072b2;stroke-width:1.2;stroke-dasharray:2 3}
.finding .hole{fill:#fff;stroke:#1b1b1b;stroke-width:1.4}
.finding .carve{fill:none;stroke:#009e73;stroke-width:1.1;stroke-dasharray:9 3 2 3}
.finding .left{fill:#d55e00;stroke:#8a3d00;stroke-width:1}
.finding .cutter{fill:#cc79a7;fill-opacity:.14;stroke:#8f3f6b;stroke-width:1.3;stroke-dasharray:8 2 2 2}
.finding .dim{fill:none;stroke:#1b1b1b;stroke-width:1.1}.finding .tip{fill:#1b1b1b}
.finding .limit{fill:none;stroke:#5a5a5a;stroke-width:1.6;stroke-dasharray:2 2}
.finding .spot{fill:none;stroke:#d55e00;stroke-width:1.8}
.finding .cutline{fill:none;stroke:#5a5a5a;stroke-width:1;stroke-dasharray:12 3 3 3}
.finding .key{fill:#fff;fill-opacity:.9;stroke:#aaa;stroke-width:.7}
.finding .keyline{fill:#f3ead9;stroke:#555;stroke-width:.7}
.finding text{font:12.5px system-ui,sans-serif;fill:#1b1b1b;stroke:#fff;stroke-width:3;paint-order:stroke}
.finding text.strong{font-weight:700}
"""


@dataclass(frozen=True, slots=True)
class Seen:
    """Signs that turn the design frame to the way a face looks when it lies up."""

    x: float
    y: float

    @classmethod
    def of(cls, face: str, derived: Derived) -> Seen:
        over = turned_over("back" if face == "back" else "front", derived.recipe)
        x, y = over.point(1.0, 1.0)
        return cls(x, y)


@dataclass(frozen=True, slots=True)
class Frame:
    """A window of the plane at a scale: ``k`` dots a mm about a centre, y up; ``x`` and ``y`` are signs."""

    centre: Point
    k: float
    x: float = 1.0
    y: float = 1.0

    def at(self, p: Point) -> Point:
        return (
            PX[0] / 2 + self.x * (p[0] - self.centre[0]) * self.k,
            PX[1] / 2 - self.y * (p[1] - self.centre[1]) * self.k,
        )

    def clip(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape inside the window and a rim round it, with no more points than can be seen."""
        w, h = PX[0] / 2 / self.k + 8 / self.k, PX[1] / 2 / self.k + 8 / self.k
        x, y = self.centre
        inside = shapely.clip_by_rect(shape, x - w, y - h, x + w, y + h)
        few = shapely.simplify(inside, 0.12 / self.k, preserve_topology=False)
        # What is too thin to keep its shape, a sliver or a glue line, stays as it is.
        return few if len(shapely.get_parts(few)) == len(shapely.get_parts(inside)) else inside

    def path(self, shape: BaseGeometry, look: str) -> str:
        """A shape, clipped, as one path; nothing where none of it is in the window."""
        words = []
        for part in shapely.get_parts(self.clip(shape)):
            rings = [part.exterior, *part.interiors] if part.geom_type == "Polygon" else [part]
            for ring in rings:
                closed = part.geom_type == "Polygon"
                if part.geom_type == "Point" or len(ring.coords) < 2:
                    continue
                points = [self.at((p[0], p[1])) for p in (ring.coords[:-1] if closed else ring.coords)]
                words.append("M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + ("Z" if closed else ""))
        return f'<path class="{look}" fill-rule="evenodd" d="{"".join(words)}"/>' if words else ""


def num(value: float) -> str:
    """A dot's coordinate with one decimal, without minus zero."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def number_words(f: Finding) -> tuple[str, ...]:
    """The measured number and its limit, a line each."""
    if f.measured is None:
        return ()
    # A limit of nothing tells nothing on a picture.
    limit = (f"limit {amount(f.limit, f.unit)}",) if f.limit else ()
    return (amount(f.measured, f.unit), *limit)


def amount(value: float, unit: str) -> str:
    """A number with its unit; counts have no decimals."""
    counted = unit not in ("mm", "mm2", "deg", "min", "%") and value == int(value)
    return f"{value:.0f} {unit}" if counted else f"{value:.2f} {unit.replace('mm2', 'mm²')}"


def dimension(a: Point, b: Point, said: Sequence[str], limit: float | None, k: float) -> str:
    """A dimension line from ``a`` to ``b`` in dots with its words, and the limit (mm) beside it as a dotted line
    that begins at ``a``; ``k`` is the scale in dots a mm."""
    long = max(math.dist(a, b), 1e-6)
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    side = 1.0 if (uy, -ux) > (0.0, 0.0) else -1.0
    nx, ny = uy * side, -ux * side
    parts = []
    if long >= SMALL_PX:
        parts += [_line(a, b), _tip(a, -ux, -uy), _tip(b, ux, uy)]
    else:
        for p, s in ((a, -1.0), (b, 1.0)):
            parts += [_line(p, (p[0] + s * ux * 24, p[1] + s * uy * 24)), _tip(p, -s * ux, -s * uy)]
    parts += [_line((p[0] - nx * 7, p[1] - ny * 7), (p[0] + nx * 7, p[1] + ny * 7)) for p in (a, b)]
    if limit is not None and 0 < limit * k < 1.2 * PX[0]:
        c = (a[0] - nx * 9, a[1] - ny * 9)
        d = (c[0] + ux * limit * k, c[1] + uy * limit * k)
        end = ((d[0] - nx * 5, d[1] - ny * 5), (d[0] + nx * 5, d[1] + ny * 5))
        parts += [_line(c, d, "limit"), _line(*end, "limit")]
    if long < SMALL_PX and abs(ux) > 0.3:  # at the outer end of the arrow, away from what is measured
        x, y = a[0] - ux * 28, a[1] - uy * 28
        return "".join(parts) + lines(x - 4 - _wide(said) if ux > 0 else x + 4, y - 6, said)
    return "".join(parts) + lines((a[0] + b[0]) / 2 + nx * 12, (a[1] + b[1]) / 2 + ny * 12, said)


def _line(a: Point, b: Point, look: str = "dim") -> str:
    return f'<path class="{look}" d="M{num(a[0])} {num(a[1])}L{num(b[0])} {num(b[1])}"/>'


def _tip(p: Point, ux: float, uy: float) -> str:
    """An arrowhead with its point at ``p``, looking along (ux, uy)."""
    a = (p[0] - ux * 8 + uy * 2.6, p[1] - uy * 8 - ux * 2.6)
    b = (p[0] - ux * 8 - uy * 2.6, p[1] - uy * 8 + ux * 2.6)
    return f'<path class="tip" d="M{num(p[0])} {num(p[1])}L{num(a[0])} {num(a[1])}L{num(b[0])} {num(b[1])}Z"/>'


def lines(x: float, y: float, said: Sequence[str]) -> str:
    """Lines of words beside a point, kept inside the picture; the first is the measured number."""
    x = min(max(x, 6.0), PX[0] - _wide(said) - 6)
    y = min(max(y, 34.0), PX[1] - 24 - 15 * (len(said) - 1))
    return "".join(text(x, y + 4 + 15 * i, s, strong=i == 0) for i, s in enumerate(said))


def _wide(said: Sequence[str]) -> float:
    return 7.2 * max((len(s) for s in said), default=0)


def text(x: float, y: float, words: str, anchor: str = "", *, strong: bool = False) -> str:
    more = (f' text-anchor="{anchor}"' if anchor else "") + (' class="strong"' if strong else "")
    return f'<text x="{num(x)}" y="{num(y)}"{more}>{escape(words)}</text>'


def svg(key: str, title: str, desc: str, body: Iterable[str]) -> str:
    return (
        f'<svg class="finding" role="img" aria-labelledby="{key}t {key}d" viewBox="0 0 {num(PX[0])} {num(PX[1])}">'
        f'<title id="{key}t">{escape(title)}</title><desc id="{key}d">{escape(desc)}</desc>{"".join(body)}</svg>'
    )


def scale_bar(k: float) -> str:
    size = next((s for s in (100, 50, 20, 10, 5, 2, 1) if s * k <= 90), 1)
    y = PX[1] - 9
    return f'<path class="dim" d="M8 {num(y - 4)}v8M8 {num(y)}h{num(size * k)}m0 -4v8"/>' + text(
        14 + size * k, y + 4, f"{size} mm"
    )
