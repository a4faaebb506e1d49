"""A small reader of DXF text files: header, layer table and the flat entities that shop files hold.

Written from the published group codes alone, for proving files that another part of mouldloft wrote:
it uses neither a DXF library nor anything of `pipeline.packet`. R12 (POLYLINE, VERTEX, SEQEND) and
later files (LWPOLYLINE) both read; every entity keeps the line of the file on which it begins.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle

Group = tuple[int, str]
Flat = tuple[float, float]

SAME_MM = 1e-7
"""Vertices nearer than this are one vertex."""


class DxfBroken(ValueError):
    """The bytes are not a readable DXF text file; ``line`` counts from 1 (0: the file as a whole)."""

    def __init__(self, wrong: str, line: int = 0) -> None:
        super().__init__(wrong)
        self.wrong, self.line = wrong, line


@dataclass(frozen=True, slots=True, kw_only=True)
class Entity:
    """One drawn thing. ``contour`` is None for text, points and whatever this reader doesn't know.

    ``problem`` says in a sentence what is wrong with it by itself; ``flat`` is False when it stands off z = 0
    or is extruded along another direction; ``mirrored`` is a text written backward or upside down.
    """

    kind: str
    layer: str
    line: int
    contour: Contour | None = None
    at: Flat | None = None
    text: str = ""
    height_mm: float = 0.0
    turn_deg: float = 0.0
    mirrored: bool = False
    flat: bool = True
    paper: bool = False
    problem: str = ""

    @property
    def is_circle(self) -> bool:
        return self.kind == "CIRCLE"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What one DXF file holds. ``layers`` maps each layer of the table to True when it is shown."""

    version: str
    header: Mapping[str, tuple[Group, ...]]
    layers: Mapping[str, bool]
    entities: tuple[Entity, ...]

    def number(self, variable: str) -> float | None:
        """The number that a header variable holds, None when it is absent."""
        groups = self.header.get(variable, ())
        return _number(groups[0][1], 0) if groups else None

    def point(self, variable: str) -> Flat | None:
        """The (x, y) that a header variable holds, None when it is absent."""
        by_code = dict(self.header.get(variable, ()))
        if 10 not in by_code or 20 not in by_code:
            return None
        return _number(by_code[10], 0), _number(by_code[20], 0)


def read_dxf(data: bytes) -> Drawn:
    """Read one file's bytes. Raises DxfBroken with a sentence when they aren't readable DXF text."""
    if data.startswith(b"AutoCAD Binary DXF"):  # the sentinel that the format's own reference gives
        raise DxfBroken("It is a binary DXF; shop files are written as text.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    lines = text.replace("\r\n", "\n").split("\n")
    while lines and not lines[-1].strip():
        lines.pop()
    if len(lines) % 2:
        raise DxfBroken("The file ends in the middle of a group code and its value.", len(lines))
    values = lines[1::2]
    sections = _sections(lines, values)
    if "ENTITIES" not in sections:
        raise DxfBroken("The file has no section of entities.")
    header = _header(lines, *sections["HEADER"]) if "HEADER" in sections else {}
    version = header["$ACADVER"][0][1].strip() if header.get("$ACADVER") else ""
    layers = _layers(lines, *sections["TABLES"]) if "TABLES" in sections else {}
    entities = tuple(_entities(lines, *sections["ENTITIES"]))
    return Drawn(version=version, header=header, layers=layers, entities=entities)


# -- sections ------------------------------------------------------------------------------------
def _sections(lines: list[str], values: list[str]) -> dict[str, tuple[int, int]]:
    """Section name → its first and last pair (pair k is lines 2k and 2k + 1, counted from 0)."""
    found: dict[str, tuple[int, int]] = {}
    open_at, name = -1, ""
    for k in [k for k, v in enumerate(values) if v.strip() in ("SECTION", "ENDSEC", "EOF")]:
        if lines[2 * k].strip() != "0":
            continue
        word = values[k].strip()
        if word == "SECTION":
            if open_at >= 0 or k + 1 >= len(values) or lines[2 * k + 2].strip() != "2":
                raise DxfBroken("A section begins where none may begin.", 2 * k + 1)
            open_at, name = k + 2, values[k + 1].strip()
        elif word == "ENDSEC":
            if open_at < 0:
                raise DxfBroken("A section ends that never began.", 2 * k + 1)
            if name in found:
                raise DxfBroken(f"The section {name} stands twice in the file.", 2 * k + 1)
            found[name] = (open_at, k)
            open_at = -1
        else:
            break
    else:
        raise DxfBroken("The file has no end mark; it was cut off.", len(lines))
    if open_at >= 0:
        raise DxfBroken(f"The section {name} has no end.", 2 * open_at + 1)
    return found


def _groups(lines: list[str], first: int, last: int) -> Iterator[tuple[int, str, int]]:
    """(code, value, line) of pairs first … last − 1."""
    for k in range(first, last):
        raw = lines[2 * k].strip()
        try:
            code = int(raw)
        except ValueError:
            raise DxfBroken(f"A group code was expected here, not '{raw[:20]}'.", 2 * k + 1) from None
        yield code, lines[2 * k + 1], 2 * k + 1


def _header(lines: list[str], first: int, last: int) -> dict[str, tuple[Group, ...]]:
    header: dict[str, list[Group]] = {}
    current: list[Group] = []
    for code, value, _ in _groups(lines, first, last):
        if code == 9:
            current = header.setdefault(value.strip(), [])
        else:
            current.append((code, value))
    return {name: tuple(groups) for name, groups in header.items()}


def _layers(lines: list[str], first: int, last: int) -> dict[str, bool]:
    """Layer → shown: False when it is frozen (70 has bit 1) or off (negative colour, 62)."""
    found: dict[str, bool] = {}
    for kind, groups, line in _records(lines, first, last):
        if kind != "LAYER":
            continue
        name = next((v.strip() for c, v in groups if c == 2), "")
        frozen = _int(groups, 70, 0, line) & 1
        off = _int(groups, 62, 7, line) < 0
        found[name] = not (frozen or off)
    return found


def _records(lines: list[str], first: int, last: int) -> Iterator[tuple[str, list[Group], int]]:
    """(kind, groups, line) of the records that code 0 begins."""
    kind, groups, began = "", [], 0
    for code, value, line in _groups(lines, first, last):
        if code == 0:
            if kind:
                yield kind, groups, began
            kind, groups, began = value.strip(), [], line
        else:
            groups.append((code, value))
    if kind:
        yield kind, groups, began


# -- entities ------------------------------------------------------------------------------------
def _entities(lines: list[str], first: int, last: int) -> Iterator[Entity]:
    chain_of: tuple[list[Group], int] | None = None  # an R12 POLYLINE whose vertices are being read
    vertices: list[list[Group]] = []
    for kind, groups, line in _records(lines, first, last):
        if chain_of is not None:
            if kind == "VERTEX":
                vertices.append(groups)
                continue
            if kind != "SEQEND":
                raise DxfBroken("The vertices of a POLYLINE have no end mark.", line)
            yield _old_polyline(chain_of[0], vertices, chain_of[1])
            chain_of, vertices = None, []
        elif kind == "POLYLINE":
            chain_of = (groups, line)
        else:
            yield _entity(kind, groups, line)
    if chain_of is not None:
        raise DxfBroken("The vertices of a POLYLINE have no end mark.", chain_of[1])


def _entity(kind: str, groups: list[Group], line: int) -> Entity:
    layer, flat, paper = _common(groups, line)
    contour: Contour | None = None
    problem = ""
    at: Flat | None = None
    if kind == "LWPOLYLINE":
        contour, problem = _contour(*_light_vertices(groups, line), closed=bool(_int(groups, 70, 0, line) & 1))
        if any(abs(_number(v, line)) > SAME_MM for c, v in groups if c in (40, 41, 43)):
            problem = problem or "It has a width; the edge that is meant is not certain."
    elif kind == "CIRCLE":
        at, radius = _at(groups, line), _float(groups, 40, math.nan, line)
        if radius > 0:
            contour = circle(at[0], at[1], radius)
        else:
            problem = "It is a circle without a radius."
    elif kind == "ARC":
        contour, problem = _arc(groups, line)
    elif kind == "LINE":
        end = (_float(groups, 11, math.nan, line), _float(groups, 21, math.nan, line))
        contour, problem = _contour([_at(groups, line), end], [0.0, 0.0], closed=False)
    elif kind in ("TEXT", "MTEXT"):
        return _text(kind, groups, line, layer, flat, paper)
    elif kind == "POINT":
        at = _at(groups, line)
    return Entity(
        kind=kind, layer=layer, line=line, contour=contour, at=at, flat=flat, paper=paper, problem=problem
    )


def _old_polyline(groups: list[Group], vertices: list[list[Group]], line: int) -> Entity:
    layer, flat, paper = _common(groups, line)
    flags = _int(groups, 70, 0, line)
    contour: Contour | None = None
    if flags & (8 | 16 | 64):
        problem = "It is a polyline in space or a mesh, not a flat one."
    elif flags & (2 | 4):
        problem = "It is a fitted polyline; only lines and arcs are exact."
    else:
        points = [_at(v, line) for v in vertices]
        bulges = [_float(v, 42, 0.0, line) for v in vertices]
        flat = flat and all(abs(_float(v, 30, 0.0, line)) <= SAME_MM for v in vertices)
        contour, problem = _contour(points, bulges, closed=bool(flags & 1))
    return Entity(
        kind="POLYLINE", layer=layer, line=line, contour=contour, flat=flat, paper=paper, problem=problem
    )


def _text(kind: str, groups: list[Group], line: int, layer: str, flat: bool, paper: bool) -> Entity:
    """TEXT: 71 has bit 2 for backward, bit 4 for upside down. MTEXT: 3 and 1 are parts of one text."""
    raw = "".join(v for c, v in groups if c in (1, 3))
    mirrored = False
    if kind == "TEXT":
        generation = _int(groups, 71, 0, line)
        mirrored = bool(generation & 6) or _float(groups, 41, 1.0, line) < 0
    turn = _float(groups, 50, 0.0, line)
    direction = (_float(groups, 11, 1.0, line), _float(groups, 21, 0.0, line))
    if kind == "MTEXT" and any(c == 11 for c, _ in groups):
        turn = math.degrees(math.atan2(direction[1], direction[0]))
    return Entity(
        kind=kind,
        layer=layer,
        line=line,
        at=_at(groups, line),
        text=_plain(raw),
        height_mm=_float(groups, 40, 0.0, line),
        turn_deg=turn,
        mirrored=mirrored,
        flat=flat,
        paper=paper,
    )


def _arc(groups: list[Group], line: int) -> tuple[Contour | None, str]:
    """An ARC always runs anticlockwise from angle 50 to angle 51, in degrees."""
    (x, y), r = _at(groups, line), _float(groups, 40, math.nan, line)
    a0 = math.radians(_float(groups, 50, math.nan, line))
    a1 = math.radians(_float(groups, 51, math.nan, line))
    if not r > 0:
        return None, "It is an arc without a radius."
    sweep = (a1 - a0) % (2 * math.pi) or 2 * math.pi
    middle = a0 + sweep / 2
    points = [(x + r * math.cos(a), y + r * math.sin(a)) for a in (a0, middle, a0 + sweep)]
    bulge = math.tan(sweep / 8)  # two halves, so that a bulge never passes 1
    return _contour(points, [bulge, bulge, 0.0], closed=False)


def _light_vertices(groups: list[Group], line: int) -> tuple[list[Flat], list[float]]:
    """Vertices and bulges of an LWPOLYLINE: 10 begins a vertex, 20 and 42 belong to the last begun."""
    xs: list[float] = []
    ys: list[float] = []
    bulges: list[float] = []
    for code, value in groups:
        if code == 10:
            xs.append(_number(value, line))
            bulges.append(0.0)
        elif code == 20:
            ys.append(_number(value, line))
        elif code == 42 and bulges:
            bulges[-1] = _number(value, line)
    if len(xs) != len(ys):
        raise DxfBroken("A polyline has a vertex with one coordinate missing.", line)
    return list(zip(xs, ys, strict=True)), bulges


def _contour(points: Sequence[Flat], bulges: Sequence[float], *, closed: bool) -> tuple[Contour | None, str]:
    """The contour and what is wrong with it; a doubled vertex is taken out and told."""
    if not all(math.isfinite(v) for p in points for v in p) or not all(math.isfinite(b) for b in bulges):
        return None, "It has a coordinate that is missing or not a number."
    n = len(points)
    last = n if closed else n - 1
    short = [i for i in range(last) if math.dist(points[i], points[(i + 1) % n]) <= SAME_MM]
    keep = [i for i in range(n) if i not in short]
    if len(keep) < 2:
        return None, "It has no length."
    problem = "It has two vertices in the same place." if short else ""
    return chain(np.array([points[i] for i in keep]), [bulges[i] for i in keep], closed=closed), problem


# -- group values --------------------------------------------------------------------------------
def _common(groups: list[Group], line: int) -> tuple[str, bool, bool]:
    """(layer, flat, stands in paper space) of an entity."""
    layer = next((v.strip() for c, v in groups if c == 8), "0")
    raised = any(abs(_number(v, line)) > SAME_MM for c, v in groups if c in (30, 31, 38))
    tipped = any(abs(_number(v, line) - (c == 230)) > 1e-9 for c, v in groups if c in (210, 220, 230))
    paper = any(c == 67 and v.strip() == "1" for c, v in groups)
    return layer, not (raised or tipped), paper


def _at(groups: list[Group], line: int) -> Flat:
    return _float(groups, 10, math.nan, line), _float(groups, 20, math.nan, line)


def _float(groups: list[Group], code: int, absent: float, line: int) -> float:
    return next((_number(v, line) for c, v in groups if c == code), absent)


def _int(groups: list[Group], code: int, absent: int, line: int) -> int:
    return int(_float(groups, code, float(absent), line))


def _number(value: str, line: int) -> float:
    try:
        return float(value)
    except ValueError:
        raise DxfBroken(f"A number was expected in an entity, not '{value.strip()[:20]}'.", line) from None


_ESCAPED = re.compile(r"\\U\+([0-9A-Fa-f]{4})")


def _plain(raw: str) -> str:
    """Text with the format's escapes of characters (\\U+XXXX, %%d, %%p, %%c) resolved."""
    text = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), raw)
    for code, sign in (("%%d", "°"), ("%%p", "±"), ("%%c", "Ø")):
        text = text.replace(code, sign).replace(code.upper(), sign)
    return text
