"""The entities of a DXF text file as contours, points and words, each with the line it begins on."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from pipeline.geometry.contour import Contour, chain
from pipeline.geometry.shapes import circle
from pipeline.proof.groups import SAME_MM, DxfBroken, Entity, Flat, Group, common, number, point, real, whole

FAR_MM = 1e7
"""Ten kilometres: no contour stands further from zero."""


def entities(records: Iterable[tuple[str, list[Group], int]]) -> Iterator[Entity]:
    """The entities of (kind, groups, line) records. Raises DxfBroken when one can't be read."""
    chain_of: tuple[list[Group], int] | None = None  # an R12 POLYLINE whose vertices are being read
    vertices: list[list[Group]] = []
    for kind, groups, line in records:
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
    layer, flat, paper, hidden = common(groups, line)
    contour: Contour | None = None
    problem = ""
    at: Flat | None = None
    if kind == "LWPOLYLINE":
        contour, problem = _contour(*_light_vertices(groups, line), closed=bool(whole(groups, 70, 0, line) & 1))
        if any(abs(number(v, line)) > SAME_MM for c, v in groups if c in (40, 41, 43)):
            problem = problem or "It has a width; the edge that is meant is not certain."
    elif kind == "CIRCLE":
        at, radius = point(groups, line), real(groups, 40, math.nan, line)
        if 0 < radius < FAR_MM and _known(at):
            contour = circle(at[0], at[1], radius)
        else:
            problem = "It is a circle without a centre or a radius."
    elif kind == "ARC":
        contour, problem = _arc(groups, line)
    elif kind == "LINE":
        end = (real(groups, 11, math.nan, line), real(groups, 21, math.nan, line))
        contour, problem = _contour([point(groups, line), end], [0.0, 0.0], closed=False)
    elif kind in ("TEXT", "MTEXT"):
        return _text(kind, groups, line)
    elif kind == "POINT":
        at = point(groups, line)
    return Entity(
        kind=kind, layer=layer, line=line, contour=contour, at=at, flat=flat, paper=paper, hidden=hidden,
        problem=problem,
    )  # fmt: skip


def _old_polyline(groups: list[Group], vertices: list[list[Group]], line: int) -> Entity:
    layer, flat, paper, hidden = common(groups, line)
    flags = whole(groups, 70, 0, line)
    contour: Contour | None = None
    if flags & (8 | 16 | 64):
        problem = "It is a polyline in space or a mesh, not a flat one."
    elif flags & (2 | 4):
        problem = "It is a fitted polyline; only lines and arcs are exact."
    else:
        points = [point(v, line) for v in vertices]
        bulges = [real(v, 42, 0.0, line) for v in vertices]
        flat = flat and all(abs(real(v, 30, 0.0, line)) <= SAME_MM for v in vertices)
        contour, problem = _contour(points, bulges, closed=bool(flags & 1))
    return Entity(
        kind="POLYLINE", layer=layer, line=line, contour=contour, flat=flat, paper=paper, hidden=hidden,
        problem=problem,
    )  # fmt: skip


def _text(kind: str, groups: list[Group], line: int) -> Entity:
    """TEXT: 71 has bit 2 for backward, bit 4 for upside down. MTEXT: 3 and 1 are parts of one text."""
    layer, flat, paper, hidden = common(groups, line)
    raw = "".join(v for c, v in groups if c in (1, 3))
    mirrored = False
    if kind == "TEXT":
        generation = whole(groups, 71, 0, line)
        mirrored = bool(generation & 6) or real(groups, 41, 1.0, line) < 0
    turn = real(groups, 50, 0.0, line)
    direction = (real(groups, 11, 1.0, line), real(groups, 21, 0.0, line))
    if kind == "MTEXT" and any(c == 11 for c, _ in groups):
        turn = math.degrees(math.atan2(direction[1], direction[0]))
    return Entity(
        kind=kind,
        layer=layer,
        line=line,
        at=point(groups, line),
        text=_plain(raw),
        height_mm=real(groups, 40, 0.0, line),
        turn_deg=turn,
        mirrored=mirrored,
        flat=flat,
        paper=paper,
        hidden=hidden,
    )


def _arc(groups: list[Group], line: int) -> tuple[Contour | None, str]:
    """An ARC always runs anticlockwise from angle 50 to angle 51, in degrees."""
    (x, y), r = point(groups, line), real(groups, 40, math.nan, line)
    a0 = math.radians(real(groups, 50, math.nan, line))
    a1 = math.radians(real(groups, 51, math.nan, line))
    if not (0 < r < FAR_MM and _known((x, y)) and math.isfinite(a0 + a1)):
        return None, "It is an arc without a centre, a radius or its angles."
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
            xs.append(number(value, line))
            bulges.append(0.0)
        elif code == 20:
            ys.append(number(value, line))
        elif code == 42 and bulges:
            bulges[-1] = number(value, line)
    if len(xs) != len(ys):
        raise DxfBroken("A polyline has a vertex with one coordinate missing.", line)
    return list(zip(xs, ys, strict=True)), bulges


def _contour(points: Sequence[Flat], bulges: Sequence[float], *, closed: bool) -> tuple[Contour | None, str]:
    """The contour and what is wrong with it; a doubled vertex is taken out and told."""
    if not all(_known(p) for p in points) or not all(abs(b) < FAR_MM for b in bulges):
        return None, "It has a coordinate that is missing, or no place on any bed."
    n = len(points)
    last = n if closed else n - 1
    short = [i for i in range(last) if math.dist(points[i], points[(i + 1) % n]) <= SAME_MM]
    keep = [i for i in range(n) if i not in short]
    if len(keep) < 2:
        return None, "It has no length."
    problem = "It has two vertices in the same place." if short else ""
    return chain(np.array([points[i] for i in keep]), [bulges[i] for i in keep], closed=closed), problem


def _known(p: Flat) -> bool:
    """True when both coordinates are there and of this world."""
    return abs(p[0]) < FAR_MM and abs(p[1]) < FAR_MM


_ESCAPED = re.compile(r"\\U\+([0-9A-Fa-f]{4})")


def _plain(raw: str) -> str:
    """Text with the format's escapes of characters (\\U+XXXX, %%d, %%p, %%c) resolved."""
    text = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), raw)
    for code, sign in (("%%d", "°"), ("%%p", "±"), ("%%c", "Ø")):
        text = text.replace(code, sign).replace(code.upper(), sign)
    return text
