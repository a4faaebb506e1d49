"""Shop files as DXF R12, written group by group: for shops whose programs take nothing newer.

R12 has no light polylines, no true colours, no units and no letters beyond ASCII: closed contours are POLYLINE
with bulges, colours are indexed, the legend says mm, and words are spelled with what ASCII has.
"""

from __future__ import annotations

import unicodedata

from pipeline.packet.dxf import dxf_text
from pipeline.packet.layers import LOOKS, Look
from pipeline.packet.shop_file import ShopFile, Words
from pipeline.packet.written import Circle, Curve

_SIGNS = {"Ø": "%%c", "ø": "%%c", "°": "%%d", "±": "%%p", "×": "x", "–": "-", "—": "-", "’": "'", "·": "."}


def r12_bytes(file: ShopFile) -> bytes:
    """The file as DXF R12 (AC1009), ASCII, lines ended by a line feed."""
    looks: dict[str, Look] = {d.name: LOOKS[d.work] for d in file.layers}
    if file.words:
        looks[file.text_layer] = LOOKS["TEXT"]
    x0, y0, x1, y1 = file.bounds
    out: list[str] = []
    _add(out, (0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"))
    _add(out, (9, "$INSBASE"), (10, 0.0), (20, 0.0), (30, 0.0))
    _add(out, (9, "$EXTMIN"), (10, x0), (20, y0), (30, 0.0), (9, "$EXTMAX"), (10, x1), (20, y1), (30, 0.0))
    _add(out, (0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"))
    lines = {look.line: look for look in looks.values() if look.pattern}
    _add(out, (0, "TABLE"), (2, "LTYPE"), (70, 1 + len(lines)))
    _add(out, (0, "LTYPE"), (2, "CONTINUOUS"), (70, 64), (3, "solid"), (72, 65), (73, 0), (40, 0.0))
    for name, look in lines.items():
        total = sum(abs(p) for p in look.pattern)
        _add(out, (0, "LTYPE"), (2, name), (70, 64), (3, name), (72, 65), (73, len(look.pattern)), (40, total))
        _add(out, *((49, p) for p in look.pattern))
    _add(out, (0, "ENDTAB"), (0, "TABLE"), (2, "LAYER"), (70, 1 + len(looks)))
    _add(out, (0, "LAYER"), (2, "0"), (70, 0), (62, 7), (6, "CONTINUOUS"))
    for name, look in looks.items():
        _add(out, (0, "LAYER"), (2, name), (70, 0), (62, look.index), (6, look.line))
    _add(out, (0, "ENDTAB"), (0, "TABLE"), (2, "STYLE"), (70, 1), (0, "STYLE"), (2, "STANDARD"), (70, 0))
    _add(out, (40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5), (3, "txt"), (4, ""), (0, "ENDTAB"))
    _add(out, (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES"))
    for layer in file.layers:
        for curve in layer.curves:
            _curve(out, layer.name, curve)
    for words in file.words:
        _words(out, file.text_layer, words)
    _add(out, (0, "ENDSEC"), (0, "EOF"))
    return "".join(out).encode("ascii")


def r12_text(text: str) -> str:
    """Words in ASCII: Ø, ° and ± as R12's codes, accents dropped, any other letter a question mark."""
    plain = unicodedata.normalize("NFKC", dxf_text(text))
    spelled = []
    for c in plain:
        bare = unicodedata.normalize("NFKD", c)[0]
        spelled.append(_SIGNS.get(c) or (bare if bare.isascii() else "?"))
    return "".join(spelled)


def _curve(out: list[str], layer: str, curve: Curve) -> None:
    if isinstance(curve, Circle):
        _add(out, (0, "CIRCLE"), (8, layer), (10, curve.x), (20, curve.y), (30, 0.0), (40, curve.r))
        return
    _add(out, (0, "POLYLINE"), (8, layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0), (70, int(curve.closed)))
    for (x, y), bulge in zip(curve.xy.tolist(), curve.bulge.tolist(), strict=True):
        _add(out, (0, "VERTEX"), (8, layer), (10, x), (20, y), (30, 0.0))
        if bulge:
            _add(out, (42, bulge))
    _add(out, (0, "SEQEND"), (8, layer))


def _words(out: list[str], layer: str, w: Words) -> None:
    _add(out, (0, "TEXT"), (8, layer), (10, round(w.x, 6) + 0.0), (20, round(w.y, 6) + 0.0), (30, 0.0))
    _add(out, (40, w.height_mm), (1, r12_text(w.text)))
    if w.turn_deg:
        _add(out, (50, w.turn_deg))


def _add(out: list[str], *groups: tuple[int, str | float]) -> None:
    out += [f"{code:3d}\n{value}\n" for code, value in groups]
