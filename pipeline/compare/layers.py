"""What the layers of a shop's file mean, also under the shop's own names: its legend says it in words."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.packet.layers import LOOKS
from pipeline.proof.dxf import Drawn
from pipeline.proof.layer import Layer, parse, two_decimals

_NUMBER = r"\d+\.\d\d"
_DEPTH = (
    rf"(?:, (?P<from>{_NUMBER}) to (?P<to>{_NUMBER}) deep|, (?P<depth>{_NUMBER}) deep|(?P<through>, through))?"
)
_SAYS = "|".join(re.escape(look.says) for look in LOOKS.values())
_WORK = {look.says: work for work, look in LOOKS.items()}
_ROW = r" x (-?[\d.]+) y (-?[\d.]+) depth (-?[\d.]+)"
_TABLE = re.compile(rf"Depth along (\S[^:]*):((?:{_ROW})+)")
_DIAMETER = re.compile(r"_DIA(\d+-\d\d)")

Row = tuple[float, float, float]


def said_in(files: Iterable[Drawn]) -> str:
    """All words of some files as one line: columns from left to right, each from top to bottom."""
    said: list[str] = []
    for drawn in files:
        texts = [e for e in drawn.entities if e.kind in ("TEXT", "MTEXT") and e.at]
        texts.sort(key=lambda e: (round(e.at[0], 3), -e.at[1]) if e.at else (0.0, 0.0))
        said += [" ".join(e.text.split()) for e in texts]
    return " ".join(said)


def meaning(name: str, said: str, face: str) -> Layer | None:
    """What a layer holds: as the legend says it of that name, else by the name itself; None when neither does."""
    found = re.search(rf"(?:^|\s){re.escape(name)}: (?P<says>{_SAYS}){_DEPTH}; \d+ contours?\b", said)
    own = parse(name)
    if found is None or (own is not None and own.work == _WORK[found["says"]]):
        return own
    work = _WORK[found["says"]]
    up = "back" if name.upper().startswith("BACK") else "front" if name.upper().startswith("FRONT") else face
    wide = _DIAMETER.search(name)
    return Layer(
        work=work,
        face=up
        if work in ("CUT_OUTSIDE", "CUT_INSIDE", "POCKET", "RAMP", "DRILL", "GROOVE", "ENGRAVE", "SCORE")
        else "",
        depth=found["from"] or found["depth"] or "",
        deep=found["to"] or "",
        diameter=wide[1].replace("-", ".") if wide else "",
        through=bool(found["through"]),
    )


def tables_in(said: str) -> list[tuple[str, list[Row]]]:
    """(layer, rows x, y, depth in the file's coordinates) of the tables of sloped floors."""
    return [
        (m[1], [(float(x), float(y), float(d)) for x, y, d in re.findall(_ROW, m[2])])
        for m in _TABLE.finditer(said)
    ]


__all__ = ["meaning", "said_in", "tables_in", "two_decimals"]
