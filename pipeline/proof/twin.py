"""The picture beside a DXF file: a laser shop may cut from it, so it must hold the same lines."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from pipeline.core.findings import Finding
from pipeline.geometry.contour import Contour
from pipeline.proof.compare import off, same_vertices
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected, prefix
from pipeline.proof.groups import DxfBroken, Entity
from pipeline.proof.layer import theirs
from pipeline.proof.matching import Matching, Told
from pipeline.proof.svg import Picture, read_svg
from pipeline.proof.words import bare

TWIN_MM = 0.005
"""How far a line of the picture may lie from the same line of the DXF file."""
SCALE = 1e-6


def wrong_twin(want: Expected, drawn: Drawn, data: bytes, matching: Matching, name: str) -> Iterator[Finding]:
    """Everything in which a picture differs from the DXF file it stands beside."""
    told = Told(file=name, want=want)
    try:
        picture = read_svg(data)
    except DxfBroken as broken:
        yield Told(file=name, want=want, line=broken.line).finding(broken.wrong)
        return
    for line, strange in picture.strange:
        yield Told(file=name, want=want, line=line).finding(strange)
    yield from _page(told, picture)
    yield from _words(told, want, drawn, picture, matching)
    theirs_: dict[str, list[Entity]] = {}
    for e in drawn.entities:
        if e.contour is not None:
            theirs_.setdefault(e.layer, []).append(e)
    for layer in sorted({*theirs_, *(n for n, v in picture.layers.items() if v)}):
        yield from _layer(told, layer, picture.layers.get(layer, []), theirs_.get(layer, []))


def _page(told: Told, picture: Picture) -> Iterator[Finding]:
    """One unit is one millimetre, and everything stands on the page."""
    assert picture.view is not None
    x, y, w, h = picture.view
    size = picture.size
    if size is None or not (abs(size[0] - w) <= SCALE * w and abs(size[1] - h) <= SCALE * h):
        yield told.finding(
            "The picture isn't drawn at 1:1; its page is "
            + (f"{size[0]:.3f} by {size[1]:.3f} mm" if size else "of no size in mm")
            + f" for {w:.3f} by {h:.3f} units.",
            measured=size[0] if size else None,
            limit=w,
        )
    boxes = [e.contour.bounds for v in picture.layers.values() for e in v if e.contour is not None]
    over = [b for b in boxes if b[0] < x - 1e-3 or b[2] > x + w + 1e-3 or -b[3] < y - 1e-3 or -b[1] > y + h + 1e-3]
    if over:
        yield told.finding(f"{len(over)} contours reach over the page's edge.", at=over[0][:2])


def _words(told: Told, want: Expected, drawn: Drawn, picture: Picture, matching: Matching) -> Iterator[Finding]:
    recipe = matching.recipe
    said = " ".join([picture.desc, *(t.text for t in picture.texts)])
    revisions = {r.rstrip(".,;") for r in re.findall(r"\brevision (\S+)", said)}
    if revisions != {recipe.revision}:
        spoken = ", ".join(sorted(revisions)) or "nothing"
        yield told.finding(f"Its words speak of revision {spoken}; its name says {prefix(recipe)}.")
    stem = want.path.rsplit("/", 1)[-1].removesuffix(".dxf")
    if picture.title != stem:
        yield told.finding(f"It calls itself '{picture.title}', not {stem}.")
    layer = theirs("TEXT", want.shop.layers)
    lines = [e for e in drawn.entities if e.kind in ("TEXT", "MTEXT") and e.layer == layer]
    by_words: dict[str, list[Entity]] = {}
    for e in lines:
        by_words.setdefault(bare(e.text), []).append(e)
    here, there = Counter(bare(t.text) for t in picture.texts), Counter({w: len(v) for w, v in by_words.items()})
    for text in sorted((here - there) + (there - here)):
        yield told.finding(f"The words '{text[:60]}' stand in only one of the picture and its DXF file.")
    for t in picture.texts:
        same = by_words.get(bare(t.text), [])
        if same and not any(_stands_as(t, e) for e in same):
            yield told.finding(f"The words '{t.text}' stand elsewhere than in the DXF file.", at=t.at)


def _stands_as(one: Entity, other: Entity) -> bool:
    turned = abs((one.turn_deg - other.turn_deg + 180) % 360 - 180)
    return bool(one.at and other.at) and math.dist(one.at or (0, 0), other.at or (0, 0)) <= 0.01 and turned <= 0.01


def _layer(told: Told, layer: str, here: Sequence[Entity], there: Sequence[Entity]) -> Iterator[Finding]:
    """The contours of one layer in both files."""
    if len(here) != len(there):
        yield told.finding(
            f"The picture has {len(here)} contours on {layer or 'no layer'}; the DXF file has {len(there)}."
        )
        return
    pairs = list(zip(here, there, strict=True))
    if not all(_close(a, b) is not None for a, b in pairs):
        pairs = _paired(here, there)
    for a, b in pairs:
        assert a.contour is not None
        assert b.contour is not None
        if a.contour.closed != b.contour.closed:
            yield told.finding(
                f"A line on {layer} is closed in only one of the picture and its DXF file.", at=_at(a)
            )
            continue
        near = _close(a, b)
        if near is not None and near <= TWIN_MM:
            continue
        away = off(a.contour, b.contour)
        if away.mm > TWIN_MM:
            yield told.finding(
                f"On {layer} a line of the picture is {away.mm:.4f} mm off that of the DXF file.",
                at=away.at,
                measured=away.mm,
                limit=TWIN_MM,
            )


def _close(a: Entity, b: Entity) -> float | None:
    """The distance where both have the same vertices; radii in path data are rounded, so bends differ a bit."""
    assert a.contour is not None
    assert b.contour is not None
    same = same_vertices(a.contour, b.contour, bend_mm=TWIN_MM)
    return same.mm if same else None


def _paired(here: Sequence[Entity], there: Sequence[Entity]) -> list[tuple[Entity, Entity]]:
    """Contours of both files by their bounding boxes, the nearest first."""
    a, b = (np.array([_box(e.contour) for e in v]) for v in (here, there))
    apart = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2)
    found: list[tuple[Entity, Entity]] = []
    i_used: set[int] = set()
    j_used: set[int] = set()
    for flat in np.argsort(apart, axis=None, kind="stable").tolist():
        i, j = divmod(flat, len(there))
        if i not in i_used and j not in j_used:
            i_used.add(i)
            j_used.add(j)
            found.append((here[i], there[j]))
    return found


def _box(contour: Contour | None) -> tuple[float, float, float, float]:
    assert contour is not None
    return contour.bounds


def _at(e: Entity) -> tuple[float, float] | None:
    if e.contour is None:
        return e.at
    x, y = e.contour.xy[0].tolist()
    return x, y
