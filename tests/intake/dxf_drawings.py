"""Small DXF drawings for the tests, written pair by pair, and what is read from them."""

from __future__ import annotations

from pipeline.geometry.region import Region
from pipeline.intake.drawing.affine import IDENTITY
from pipeline.intake.drawing.document import Document, Entry
from pipeline.intake.drawing.dxf import read_dxf
from pipeline.intake.drawing.names import find
from pipeline.intake.drawing.take import Taken, take

Pair = tuple[int, object]


def pairs(*given: Pair) -> str:
    return "".join(f"{code:>3}\n{value}\n" for code, value in given)


def thing(kind: str, *given: Pair, layer: str = "a") -> str:
    """One object on a layer."""
    return pairs((0, kind), (8, layer), *given)


def line(x0: float, y0: float, x1: float, y1: float, *more: Pair, layer: str = "a") -> str:
    return thing("LINE", (10, x0), (20, y0), (11, x1), (21, y1), *more, layer=layer)


def polyline(
    *corners: tuple[float, ...], closed: bool = True, more: tuple[Pair, ...] = (), layer: str = "a"
) -> str:
    """An LWPOLYLINE of (x, y) or (x, y, bulge)."""
    rows: list[Pair] = []
    for x, y, *bulge in corners:
        rows += [(10, x), (20, y), *((42, b) for b in bulge)]
    return thing("LWPOLYLINE", (90, len(corners)), (70, int(closed)), *more, *rows, layer=layer)


def block(name: str, body: str, base: tuple[float, float] = (0, 0), flags: int = 0) -> str:
    return (
        pairs((0, "BLOCK"), (8, "0"), (2, name), (70, flags), (10, base[0]), (20, base[1]), (30, 0))
        + body
        + pairs((0, "ENDBLK"), (8, "0"))
    )


def layer(name: str, colour: int = 7, flags: int = 0, line_type: str = "CONTINUOUS") -> str:
    return pairs((0, "LAYER"), (2, name), (70, flags), (62, colour), (6, line_type))


def section(name: str, body: str) -> str:
    return pairs((0, "SECTION"), (2, name)) + body + pairs((0, "ENDSEC"))


def dxf(body: str, *, units: int | None = 4, blocks: str = "", layers: str = "", header: str = "") -> str:
    """A whole drawing, in millimetres unless told otherwise."""
    given = "" if units is None else pairs((9, "$INSUNITS"), (70, units))
    tables = pairs((0, "TABLE"), (2, "LAYER")) + layers + pairs((0, "ENDTAB"))
    return (
        section("HEADER", header + given)
        + section("TABLES", tables)
        + section("BLOCKS", blocks)
        + section("ENTITIES", body)
        + pairs((0, "EOF"))
    )


def document(body: str, **more: object) -> Document:
    return read_dxf(dxf(body, **more).encode(), "t.dxf")  # type: ignore[arg-type]  # the keywords of dxf()


def taken(doc: Document, name: str = "a") -> Taken:
    """What an object gives, in the drawing's mm."""
    entry = find(doc, name)
    assert isinstance(entry, Entry), entry
    return take(doc, [s for s in doc.members(entry.index) if not s.unread], IDENTITY, name)


def area(doc: Document, name: str = "a") -> Region:
    """The region of an object; fails where it gives none."""
    found = taken(doc, name)
    assert found.region is not None, found.problem
    return found.region


def messages(doc: Document) -> str:
    return "\n".join(f.message for f in doc.findings)


def fault(doc: Document, name: str = "a") -> str:
    """The first fault of an object, in words."""
    entry = find(doc, name)
    assert isinstance(entry, Entry), entry
    return next(f.wrong for s in doc.members(entry.index) for f in s.faults)
