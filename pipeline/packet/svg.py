"""Shop files as SVG at 1:1: one unit is one millimetre, layers are groups, arcs stay arcs."""

from __future__ import annotations

import re
import unicodedata
from xml.sax.saxutils import escape, quoteattr

from pipeline.geometry.contour import Contour
from pipeline.packet.layers import LOOKS
from pipeline.packet.shop_file import Drawn, ShopFile, Words
from pipeline.packet.written import Circle, Curve, rounded

HAIRLINE_MM = 0.1
CAPITAL = 0.7
"""Height of a capital by the size of a font (common practice for sans serif fonts)."""


def svg_bytes(file: ShopFile) -> bytes:
    """The file as SVG; the page is ``file.page``, y down as SVG has it, so every y is written negated."""
    x0, y0, x1, y1 = file.page
    w, h = number(x1 - x0), number(y1 - y0)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="{number(x0)} {number(-y1)} {w} {h}">',
        f"<title>{xml_text(file.stem)}</title>",
        f"<desc>{xml_text(' / '.join(file.lines))}</desc>",
    ]
    for layer in file.layers:
        out += _group(layer)
    if file.words:
        out += [
            f'<g data-layer={_attribute(file.text_layer)} data-work="TEXT" fill="#000000" stroke="none" '
            'font-family="sans-serif">',
            *(_words(w) for w in file.words),
            "</g>",
        ]
    out.append("</svg>\n")
    return "\n".join(out).encode("utf-8")


def _group(layer: Drawn) -> list[str]:
    look = LOOKS[layer.work]
    colour = "#{:02x}{:02x}{:02x}".format(*look.rgb)
    dashes = [number(abs(p) or HAIRLINE_MM) for p in look.pattern]
    dashed = f' stroke-dasharray="{" ".join(dashes)}"' if dashes else ""
    depth = "" if layer.depth_mm is None else f' data-depth="{number(layer.depth_mm)}"'
    return [
        f'<g data-layer={_attribute(layer.name)} data-work="{layer.work}"{depth} fill="none" '
        f'stroke="{colour}" stroke-width="{HAIRLINE_MM}"{dashed}>',
        f"<title>{xml_text(layer.name)}: {xml_text(look.says)}</title>",
        *(_curve(c) for c in layer.curves),
        "</g>",
    ]


def _curve(curve: Curve) -> str:
    if isinstance(curve, Circle):
        return f'<circle cx="{number(curve.x)}" cy="{number(-curve.y)}" r="{number(curve.r)}"/>'
    return f'<path d="{path_data(curve)}"/>'


def path_data(contour: Contour, decimals: int = 6) -> str:
    """A contour as path data with y turned down: an anticlockwise arc has sweep flag 0 there."""

    def at(x: float, y: float) -> str:
        return f"{number(x, decimals)} {number(-y, decimals)}"

    words = [f"M{at(*contour.xy[0].tolist())}"]
    rows = zip(contour.starts.tolist(), contour.ends.tolist(), contour.bulges.tolist(), strict=True)
    for i, ((px, py), (qx, qy), b) in enumerate(rows):
        if b:
            chord = ((qx - px) ** 2 + (qy - py) ** 2) ** 0.5
            r = number(chord * (1 + b * b) / (4 * abs(b)), decimals + 3)
            words.append(f"A{r} {r} 0 {int(abs(b) > 1)} {int(b < 0)} {at(qx, qy)}")
        elif not contour.closed or i < len(contour) - 1:
            words.append(f"L{at(qx, qy)}")
    return "".join(words) + ("Z" if contour.closed else "")


def _words(w: Words) -> str:
    turn = f' transform="rotate({number(-w.turn_deg)} {number(w.x)} {number(-w.y)})"' if w.turn_deg else ""
    size = number(w.height_mm / CAPITAL)
    return f'<text x="{number(w.x)}" y="{number(-w.y)}" font-size="{size}"{turn}>{xml_text(w.text)}</text>'


def number(value: float, decimals: int = 6) -> str:
    """Plain decimal without exponent, trailing zeros or minus zero."""
    text = f"{rounded(value, decimals):.{decimals}f}"
    return re.sub(r"\.?0+$", "", text)


def xml_text(text: str) -> str:
    """Words as XML text; signs that XML can't hold become spaces."""
    return escape(_plain(text))


def _attribute(text: str) -> str:
    return quoteattr(_plain(text))


def _plain(text: str) -> str:
    return "".join(" " if unicodedata.category(c).startswith("C") else c for c in text)
