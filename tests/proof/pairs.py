"""DXF text as pairs of a code and a value, to be changed by tests: knows nothing of what the proof knows."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

Pair = tuple[int, str]
Row = list[float]
"""x, y and bulge of one vertex."""


@dataclass
class Thing:
    """One entity."""

    pairs: list[Pair]

    @property
    def kind(self) -> str:
        return self.pairs[0][1]

    def get(self, code: int) -> str:
        return next(v for c, v in self.pairs if c == code)

    def put(self, code: int, value: object) -> None:
        """Change the first group of a code, or add one behind the layer's."""
        for i, (c, _) in enumerate(self.pairs):
            if c == code:
                self.pairs[i] = (code, str(value))
                return
        at = next(i for i, (c, _) in enumerate(self.pairs) if c == 8)
        self.pairs.insert(at + 1, (code, str(value)))

    @property
    def layer(self) -> str:
        return self.get(8)

    @property
    def rows(self) -> list[Row]:
        """Vertices of a light polyline."""
        found: list[Row] = []
        for c, v in self.pairs:
            if c == 10:
                found.append([float(v), 0.0, 0.0])
            elif c in (20, 42) and found:
                found[-1][1 if c == 20 else 2] = float(v)
        return found

    @rows.setter
    def rows(self, rows: list[Row]) -> None:
        kept = [(c, v) for c, v in self.pairs if c not in (10, 20, 40, 41, 42, 91)]
        kept = [(c, str(len(rows)) if c == 90 else v) for c, v in kept]
        for x, y, b in rows:
            kept += [(10, repr(x)), (20, repr(y)), *([(42, repr(b))] if b else [])]
        self.pairs = kept

    def moved(self, place: Callable[[float, float], tuple[float, float]], *, mirrors: bool = False) -> None:
        """Move every point of it."""
        if self.kind == "LWPOLYLINE":
            self.rows = [[*place(x, y), -b if mirrors else b] for x, y, b in self.rows]
        else:
            x, y = place(float(self.get(10)), float(self.get(20)))
            self.put(10, repr(x))
            self.put(20, repr(y))

    def copy(self) -> Thing:
        return Thing([*self.pairs])


@dataclass
class Doc:
    """A file: what stands before the entities, the entities, what stands behind."""

    before: list[Pair]
    things: list[Thing]
    behind: list[Pair] = field(default_factory=list)

    @classmethod
    def of(cls, text: str) -> Doc:
        lines = text.split("\n")
        pairs = [(int(c), v) for c, v in zip(lines[0:-1:2], lines[1::2], strict=False)]
        start = pairs.index((2, "ENTITIES")) + 1
        end = next(i for i in range(start, len(pairs)) if pairs[i] == (0, "ENDSEC"))
        things: list[Thing] = []
        for pair in pairs[start:end]:
            if pair[0] == 0:
                things.append(Thing([]))
            things[-1].pairs.append(pair)
        return cls(pairs[:start], things, pairs[end:])

    @property
    def text(self) -> str:
        pairs = [*self.before, *(p for t in self.things for p in t.pairs), *self.behind]
        return "".join(f"{c:3d}\n{v}\n" for c, v in pairs)

    def on(self, layer: str, kind: str = "") -> list[Thing]:
        return [t for t in self.things if t.layer == layer and kind in ("", t.kind)]

    def one(self, layer: str, kind: str = "", n: int = 0) -> Thing:
        """The n-th entity of a layer, the one with most vertices first."""
        found = self.on(layer, kind)
        return sorted(found, key=lambda t: -len(t.rows))[n]

    def words(self, part: str) -> Thing:
        """The text that holds some words."""
        return next(t for t in self.things if t.kind == "TEXT" and part in t.get(1))

    def variable(self, name: str, value: str) -> None:
        """Change a header variable."""
        at = self.before.index((9, name))
        self.before[at + 1] = (self.before[at + 1][0], value)

    def table_layer(self, name: str, code: int, value: object) -> None:
        """Change a group of a layer in the table."""
        at = next(
            i
            for i, p in enumerate(self.before)
            if p == (2, name) and (100, "AcDbLayerTableRecord") in self.before[i - 3 : i]
        )
        while self.before[at][0] != code:
            at += 1
        self.before[at] = (code, str(value))


def spin(degrees: float, cx: float, cy: float) -> Callable[[float, float], tuple[float, float]]:
    """A turn about a point."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return lambda x, y: (cx + c * (x - cx) - s * (y - cy), cy + s * (x - cx) + c * (y - cy))
