"""What stands beside the part in a shop file: check square, cross at zero, words."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence

from pipeline.core.findings import Finding
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected, prefix
from pipeline.proof.groups import Entity
from pipeline.proof.layer import NOT_CUT, Layer, ours, parse, theirs
from pipeline.proof.matching import Matching, Told

SQUARE_MM = 100.0


# -- what stands beside ------------------------------------------------------------------------------
def wrong_beside(want: Expected, by_layer: Mapping[str, Sequence[Entity]], name: str) -> Iterator[Finding]:
    """The check square and the cross at zero."""
    told = Told(file=name, want=want)
    square = [e for e in by_layer.get(theirs("CHECK_SQUARE", want.shop.layers), []) if e.contour is not None]
    shares = theirs("CHECK_SQUARE", want.shop.layers) in want.wanted
    if len(square) != 1 and not shares:
        yield told.finding(f"It has {len(square)} check squares; one belongs beside the part.")
    elif not any(_is_square(e) for e in square):
        c = square[0].contour
        assert c is not None
        x0, y0, x1, y1 = c.bounds
        yield told.finding(
            f"The check square measures {x1 - x0:.3f} by {y1 - y0:.3f} mm, not 100.00.",
            at=(x0, y0),
            measured=max(abs(x1 - x0 - SQUARE_MM), abs(y1 - y0 - SQUARE_MM)),
            limit=0.0,
        )
    arms = [e.contour for e in by_layer.get(theirs("DATUM", want.shop.layers), []) if e.contour is not None]
    middles = [tuple((c.xy.min(axis=0) + c.xy.max(axis=0)) / 2) for c in arms if len(c) == 1]
    if sum(math.hypot(*m) <= 1e-5 for m in middles) < 2:
        yield told.finding("No cross stands at the file's zero.", at=(0.0, 0.0))
    # Two lines make the cross, one frame goes round the words.
    for work, most in (("DATUM", 2), ("TEXT", 1)):
        layer = theirs(work, want.shop.layers)
        drawn = [e for e in by_layer.get(layer, []) if e.contour is not None]
        shared = [n for n in ("DATUM", "TEXT", "CHECK_SQUARE") if theirs(n, want.shop.layers) == layer]
        if len(drawn) > most and layer not in want.wanted and len(shared) == 1:
            yield told.finding(f"On {layer} {len(drawn) - most} lines are too many.", at=_first(drawn[-1]))


def _first(e: Entity) -> tuple[float, float] | None:
    if e.contour is None:
        return None
    x, y = e.contour.xy[0].tolist()
    return x, y


def _is_square(e: Entity) -> bool:
    c = e.contour
    if c is None or not c.closed or len(c) != 4 or c.bulge.any():
        return False
    x0, y0, x1, y1 = c.bounds
    corners = {(round(x, 5), round(y, 5)) for x, y in c.xy.tolist()}
    box = {(round(x, 5), round(y, 5)) for x in (x0, x1) for y in (y0, y1)}
    return corners == box and abs(x1 - x0 - SQUARE_MM) <= 2e-6 and abs(y1 - y0 - SQUARE_MM) <= 2e-6


# -- words -------------------------------------------------------------------------------------------
def wrong_words(want: Expected, drawn: Drawn, matching: Matching, name: str) -> Iterator[Finding]:
    """Revision, compensation and labels; lines that were wrapped are read as one."""
    told = Told(file=name, want=want)
    layer = theirs("TEXT", want.shop.layers)
    texts = [e for e in drawn.entities if e.kind in ("TEXT", "MTEXT") and e.layer == layer]
    # Lines of one column from top to bottom, in whatever order they are written.
    texts.sort(key=lambda e: (round(e.at[0], 3), -e.at[1]) if e.at else (0.0, 0.0))
    said = " ".join(" ".join(e.text.split()) for e in texts)
    recipe = matching.recipe
    revisions = re.findall(r"\brevision (\S+)", said)
    if not revisions or any(r.rstrip(".,;") != recipe.revision for r in revisions):
        yield told.finding(
            f"Its words speak of revision {', '.join(revisions) or 'nothing'}; its name says {prefix(recipe)}."
        )
    half = want.shop.kerf if want.shop.compensation == "kerf" else 0.0
    if half and "kerf included" not in said:
        yield told.finding("Half a kerf is in its lines, and its words don't say so.")
    if not half and "ompensation: none" not in said:
        yield told.finding("Nothing is compensated in its lines, and its words don't say so.")
    for allowance in want.allowances_mm:
        if f"{allowance:.2f} allowance included" not in said:
            yield told.finding(f"Its words don't say that {allowance:.2f} of allowance is included.")
    yield from _legend(want, told, said)
    for words in want.words:
        near = [
            e
            for e in texts
            if e.at
            and math.dist(e.at, words.at) <= 0.01
            and abs((e.turn_deg - words.turn_deg + 180) % 360 - 180) <= 0.01
            and bare(e.text) == bare(words.text)
        ]
        if not near:
            yield told.finding(f"The words '{words.text}' don't stand where they belong.", at=words.at)
    for e in texts:
        if not any(e.at and math.dist(e.at, w.at) <= 0.01 for w in want.words) and abs(e.turn_deg % 360) > 1e-6:
            yield told.finding(f"The text '{e.text}' stands askew.", at=e.at)


def _legend(want: Expected, told: Told, said: str) -> Iterator[Finding]:
    """What the words say of copies and of each layer that is cut: depths and how many contours."""
    for count in want.counts:
        stated = re.findall(r"\bcut (\d+)\b", said)
        if str(count) not in stated:
            yield told.finding(f"Its words say cut {', '.join(stated) or 'nothing'}; the design wants {count}.")
    for layer, wanted in want.wanted.items():
        meant = parse(ours(layer, want.shop.layers))
        if meant is None or meant.work in NOT_CUT:
            continue
        lines = re.findall(re.escape(layer) + r": ([^;:]*); (\d+) contours?\b", said)
        if sum(int(n) for _, n in lines) != len(wanted):
            yield told.finding(
                f"Its words count {sum(int(n) for _, n in lines)} contours on {layer}; {len(wanted)} belong there."
            )
        for text, _ in lines:
            if _depths(meant) and not text.endswith(_depths(meant)):
                yield told.finding(f"Its words say '{text}' of {layer}; the design says {_depths(meant)}.")


def _depths(layer: Layer) -> str:
    if layer.through:
        return "through"
    if layer.deep:
        return f"{layer.depth} to {layer.deep} deep"
    return f"{layer.depth} deep" if layer.depth else ""


def bare(text: str) -> str:
    """Letters and digits that every flavour of the format can spell."""
    return "".join(c for c in text if c.isascii() and c.isalnum())
