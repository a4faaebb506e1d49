"""Shop files as DXF R2010 through ezdxf, the same bytes on every machine."""

from __future__ import annotations

import io
import re
import unicodedata
from types import ModuleType
from typing import Any

from pipeline.packet.ezdxf_door import quiet_ezdxf
from pipeline.packet.layers import LOOKS, Look
from pipeline.packet.shop_file import ShopFile
from pipeline.packet.written import Circle

MILLIMETRES = 4
"""$INSUNITS: millimetres (DXF reference)."""
METRIC = 1
"""$MEASUREMENT: metric (DXF reference)."""
OFF_ZERO = 1e-9
"""ezdxf leaves out extents whose lower corner is exactly (0, 0, 0)."""


def dxf_bytes(file: ShopFile) -> bytes:
    """The file as DXF of the flavour its shop takes."""
    if file.flavour == "R12":
        from pipeline.packet.dxf_r12 import r12_bytes

        return r12_bytes(file)
    return _r2010_bytes(file, quiet_ezdxf())


def dxf_text(text: str) -> str:
    """Words that no reader takes for codes: no control signs, no %%, caret or backslash sequences."""
    plain = "".join(" " if unicodedata.category(c).startswith("C") else c for c in text)
    return re.sub(r"%(?=%)", "% ", plain).replace("^", "^ ").replace("\\", "/")


def _r2010_bytes(file: ShopFile, ezdxf: ModuleType) -> bytes:
    doc: Any = ezdxf.new("R2010", setup=False, units=MILLIMETRES)
    doc.header["$MEASUREMENT"] = METRIC
    looks: dict[str, Look] = {d.name: LOOKS[d.work] for d in file.layers}
    if file.words:
        looks[file.text_layer] = LOOKS["TEXT"]
    for look in {v.line: v for v in looks.values() if v.pattern}.values():
        total = sum(abs(p) for p in look.pattern)
        doc.linetypes.add(look.line, pattern=[total, *look.pattern], description=look.line)
    for name, look in looks.items():
        colour = {} if look.rgb == (0, 0, 0) else {"true_color": ezdxf.rgb2int(look.rgb)}
        doc.layers.add(name, color=look.index, linetype=look.line.capitalize(), **colour)
    space = doc.modelspace()
    for layer in file.layers:
        at = {"layer": layer.name}
        for curve in layer.curves:
            if isinstance(curve, Circle):
                space.add_circle((curve.x, curve.y), curve.r, dxfattribs=at)
                continue
            rows = [(*p, b) for p, b in zip(curve.xy.tolist(), curve.bulge.tolist(), strict=True)]
            space.add_lwpolyline(rows, format="xyb", close=curve.closed, dxfattribs=at)
    for w in file.words:
        said: dict[str, Any] = {"layer": file.text_layer, "insert": (round(w.x, 6) + 0.0, round(w.y, 6) + 0.0)}
        space.add_text(dxf_text(w.text), height=w.height_mm, rotation=w.turn_deg, dxfattribs=said)
    x0, y0, x1, y1 = file.bounds
    space.reset_extents((x0 or (0.0 if y0 else OFF_ZERO), y0, 0.0), (x1, y1, 0.0))
    # The classes would else be written in the order of a set of names, which follows the hash seed.
    for name in sorted(doc.entitydb.dxf_types_in_use()):
        doc.classes.add_class(name)
    text = io.StringIO()
    doc.write(text)
    encoded: bytes = doc.encode(text.getvalue())
    return encoded
