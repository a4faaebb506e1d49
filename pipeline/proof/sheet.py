"""One shop file against what it should hold: entities, layers, contours, words, header."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pipeline.core.findings import Finding
from pipeline.proof.compare import kinks
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected, Wanted
from pipeline.proof.groups import Entity
from pipeline.proof.header import wrong_header
from pipeline.proof.layer import BEAM, CLOSED, LINES, Layer, ours, parse, theirs
from pipeline.proof.matching import Matching, Told, paired
from pipeline.proof.ramps import wrong_tables
from pipeline.proof.words import wrong_beside, wrong_words

SAME_MM = 0.01
"""Contours nearer than this are the same one drawn twice (trade.md 8, fault 9)."""
SEGMENTS, MEAN_MM = 500, 0.5
"""More segments than this, shorter than this on average, are a flattened curve (trade.md 8, fault 7)."""


def wrong_in_file(want: Expected, drawn: Drawn, matching: Matching, name: str) -> Iterator[Finding]:
    """Everything that is off in one file."""
    yield from wrong_header(want, drawn, name)
    beside = {theirs(n, want.shop.layers) for n in ("DATUM", "CHECK_SQUARE", "TEXT")} if want.worded else set()
    by_layer: dict[str, list[Entity]] = {}
    for entity in drawn.entities:
        by_layer.setdefault(entity.layer, []).append(entity)
        yield from _entity(want, entity, drawn, name)
    for layer in [*want.wanted, *(n for n in by_layer if n not in want.wanted)]:
        here = by_layer.get(layer, [])
        if layer in want.wanted:
            yield from _layer(want, layer, here, by_layer, matching, name)
        elif layer not in beside:
            yield from _unwanted(want, layer, here, by_layer, name)
    if want.worded:
        yield from wrong_beside(want, by_layer, name)
        yield from wrong_words(want, drawn, matching, name)
        yield from wrong_tables(want, drawn, name)


# -- entities by themselves --------------------------------------------------------------------------
def _entity(want: Expected, e: Entity, drawn: Drawn, name: str) -> Iterator[Finding]:
    told = Told(file=name, want=want, line=e.line)
    at = _spot(e)
    what = f"A {e.kind} on {e.layer}"
    if e.problem:
        yield told.finding(f"{what} is faulty: {e.problem}", at=at)
    if not e.flat:
        yield told.finding(f"{what} doesn't lie flat at z = 0.", at=at)
    if e.paper:
        yield told.finding(f"{what} stands on a paper layout, where no shop looks.", at=at)
    if e.hidden:
        yield told.finding(f"{what} is invisible.", at=at)
    if drawn.layers.get(e.layer) is False:
        yield told.finding(f"{what} is hidden: the layer is off or frozen.", at=at)
    layer = parse(ours(e.layer, want.shop.layers))
    if layer is None:
        return  # told once for the layer
    if layer.work in CLOSED:
        if e.kind not in ("LWPOLYLINE", "POLYLINE", "CIRCLE"):
            yield told.finding(f"{what}; this layer holds closed polylines and circles only.", at=at)
        elif e.contour is not None and not e.contour.closed:
            x, y = e.contour.xy[0].tolist()
            gap = math.dist(e.contour.xy[0].tolist(), e.contour.xy[-1].tolist())
            yield told.finding(
                f"{what} is not closed; its ends are {gap:.3f} mm apart.", at=(x, y), measured=gap, limit=0.0
            )
    elif layer.work in LINES:
        if e.kind not in ("LWPOLYLINE", "POLYLINE", "CIRCLE", "LINE", "ARC"):
            yield told.finding(f"{what}; this layer holds lines and arcs only.", at=at)
    elif layer.work == "TEXT" and e.kind in ("TEXT", "MTEXT"):
        if e.mirrored:
            yield told.finding(f"The text '{e.text}' is written backward or upside down.", at=at)
    elif e.contour is None and e.kind != "POINT":
        yield told.finding(f"{what} is neither line nor arc.", at=at)
    if want.kind != "reference" and want.shop.process == "laser" and layer.work not in BEAM:
        yield told.finding(f"{what}; a laser's cut file holds cut, engrave and score layers only.", at=at)
    if layer.work == "DRILL" and e.is_circle and e.contour is not None:
        round_one = e.contour.circle()
        if round_one and abs(2 * round_one[2] - float(layer.diameter)) > 0.005 + 1e-6:
            yield told.finding(
                f"A hole of {2 * round_one[2]:.3f} mm stands on {e.layer}.",
                at=at,
                measured=2 * round_one[2],
                limit=float(layer.diameter),
            )


def _spot(e: Entity) -> tuple[float, float] | None:
    if e.at is not None:
        return e.at
    if e.contour is None:
        return None
    x, y = e.contour.xy[0].tolist()
    return x, y


# -- layers ------------------------------------------------------------------------------------------
def _layer(
    want: Expected,
    layer: str,
    here: list[Entity],
    by_layer: dict[str, list[Entity]],
    matching: Matching,
    name: str,
) -> Iterator[Finding]:
    """The contours of one layer against those that belong there."""
    wanted = want.wanted[layer]
    matched = paired(here, wanted)
    for entity, w in matched.pairs:
        yield from _pair(want, layer, entity, w, matching, name)
    words = [w for w in matched.missing if w.words]
    for text in dict.fromkeys(w.words for w in words):
        count = sum(w.words == text for w in words)
        yield Told(file=name, want=want).finding(f"Of the words '{text}' on {layer} {count} strokes are missing.")
    lost = [w for w in matched.missing if not w.words]
    if lost and not here:
        if not _elsewhere(want, layer, by_layer):
            yield Told(file=name, want=want).finding(
                f"The layer {layer} is missing, with {len(lost)} contours.",
                subject=lost[0].subject,
                step=lost[0].step,
            )
    else:
        for w in lost:
            x0, y0, x1, y1 = w.seen.contour(w.design).bounds
            yield Told(file=name, want=want).finding(
                f"On {layer} a contour of {w.step or w.subject} is missing, {x1 - x0:.3f} by {y1 - y0:.3f} mm.",
                at=((x0 + x1) / 2, (y0 + y1) / 2),
                subject=w.subject,
                step=w.step,
            )
    for e in matched.extra:
        if layer == theirs("TEXT", want.shop.layers):
            continue  # the frame of the words, where a shop has words and lines on one layer
        assert e.contour is not None
        twin = _twin(e, here, matching)
        yield Told(file=name, want=want, line=e.line).finding(
            f"On {layer} a contour is drawn twice." if twin else f"On {layer} a contour is too many.", at=_spot(e)
        )


def _twin(e: Entity, here: list[Entity], matching: Matching) -> bool:
    """True when another entity of the layer draws the same line."""
    from pipeline.proof.compare import off

    assert e.contour is not None
    box = e.contour.bounds
    for other in here:
        if other is e or other.contour is None or other.contour.closed != e.contour.closed:
            continue
        near = max(abs(a - b) for a, b in zip(box, other.contour.bounds, strict=True)) <= SAME_MM
        if near and off(e.contour, other.contour).mm <= SAME_MM:
            return True
    return False


def _pair(want: Expected, layer: str, e: Entity, w: Wanted, matching: Matching, name: str) -> Iterator[Finding]:
    """One contour against its own of the design."""
    assert e.contour is not None
    told = Told(file=name, want=want, line=e.line)
    kind = w.ours
    if e.contour.closed != w.design.closed:
        if kind.work not in CLOSED:  # there it is told already
            yield told.finding(
                f"On {layer} a line is {'closed' if e.contour.closed else 'open'} and shouldn't be."
            )
        return
    away = matching.distance(e.contour, w, name)
    limit = matching.limit_for(w)
    if away.mm > limit:
        yield told.finding(
            f"On {layer} the contour of {w.step or w.words or w.subject} is {away.mm:.4f} mm off the design's.",
            at=away.at,
            subject=w.subject,
            step=w.step,
            measured=away.mm,
            limit=limit,
        )
        return
    if not w.grown_mm and _retraced(e, w):
        yield told.finding(
            f"On {layer} the contour of {w.step or w.words or w.subject} is {e.contour.length:.2f} mm long, not "
            f"{w.design.length:.2f}: it runs over itself or takes another way.",
            at=_spot(e),
            subject=w.subject,
            step=w.step,
            measured=e.contour.length,
            limit=w.design.length,
        )
    smooth = not w.design.free.any()
    if smooth and not w.words and not w.grown_mm and w.design.closed and w.design.circle() and not e.is_circle:
        yield told.finding(f"On {layer} a circle of the design is drawn as a {e.kind}.", at=_spot(e))
    if kind.work not in CLOSED or w.grown_mm or e.is_circle:
        return
    many = len(e.contour)
    if (many > SEGMENTS and e.contour.length / many < MEAN_MM) or (smooth and many > 2 * len(w.design)):
        yield told.finding(
            f"On {layer} a contour is drawn as {many} short segments.",
            at=_spot(e),
            measured=float(many),
            unit="segments",
        )
    design = w.seen.contour(w.design)
    for kink in kinks(e.contour, design, max(0.02, 4 * matching.limit_mm)):
        yield told.finding(
            f"On {layer} a corner of {kink.degrees:.1f}° of the design is rounded off."
            if kink.lost
            else f"On {layer} the line breaks by {kink.degrees:.2f}° where the design is smooth.",
            at=kink.at,
            subject=w.subject,
            step=w.step,
            measured=kink.degrees,
            limit=0.1,
            unit="deg",
        )


def _retraced(e: Entity, w: Wanted) -> bool:
    """True when a contour lies on the design's and is longer, or encloses another area: it doubles back."""
    assert e.contour is not None
    long = abs(e.contour.length - w.design.length) > 0.1 + 1e-3 * w.design.length
    if not e.contour.closed:
        return long
    return long or abs(abs(e.contour.area) - abs(w.design.area)) > 0.1 + 0.02 * w.design.length


def _unwanted(
    want: Expected, layer: str, here: list[Entity], by_layer: dict[str, list[Entity]], name: str
) -> Iterator[Finding]:
    """A layer that has no business in this file: what was probably meant."""
    told = Told(file=name, want=want, line=here[0].line)
    said = parse(ours(layer, want.shop.layers))
    if said is None:
        yield told.finding(f"The layer '{layer}' says neither face nor work.", at=_spot(here[0]))
        return
    empty = [n for n in want.wanted if not by_layer.get(n)]
    for other in empty:
        meant = parse(ours(other, want.shop.layers))
        if meant is None or meant.work != said.work:
            continue
        if meant.face != said.face:
            yield told.finding(
                f"{layer} stands on the {said.face}; the design cuts this from the {meant.face} ({other}).",
                at=_spot(here[0]),
            )
        else:
            yield told.finding(
                f"{layer} doesn't say what the design says: {other} ({_numbers(said)}, not {_numbers(meant)}).",
                at=_spot(here[0]),
            )
        return
    yield told.finding(f"Nothing of this file belongs on {layer} ({len(here)} entities).", at=_spot(here[0]))


def _elsewhere(want: Expected, layer: str, by_layer: dict[str, list[Entity]]) -> bool:
    """True when an unwanted layer of the same work stands in for a missing one; that one is told instead."""
    meant = parse(ours(layer, want.shop.layers))
    others = [parse(ours(n, want.shop.layers)) for n in by_layer if n not in want.wanted]
    return any(o is not None and meant is not None and o.work == meant.work for o in others)


def _numbers(layer: Layer) -> str:
    parts = [f"Ø {layer.diameter}"] if layer.diameter else []
    parts += [f"{layer.depth} deep"] if layer.depth else []
    parts += [f"to {layer.deep}"] if layer.deep else []
    return ", ".join([*parts, *(["through"] if layer.through else [])]) or "no number"
