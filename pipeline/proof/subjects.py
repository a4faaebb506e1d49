"""What the files of one piece or blank must agree on among themselves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pipeline.core.findings import Finding
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected, Wanted
from pipeline.proof.groups import Entity
from pipeline.proof.layer import Layer, ours, parse
from pipeline.proof.matching import Matching, Told, paired
from pipeline.proof.seen import Seen
from pipeline.steps.values import Derived, Piece

TOGETHER_MM = 0.02
"""How near index holes of two set-ups must fall together (trade.md 2.2)."""
ELSEWHERE_MM = 1.0
"""A through contour whose box is further off than this is another one."""

Read = Sequence[tuple[Expected, Drawn]]


def wrong_between_files(derived: Derived, read: Read, matching: Matching) -> Iterator[Finding]:
    """Index holes that don't fall together, and through contours that stand in no or in several set-ups."""
    by_subject: dict[str, list[tuple[Expected, Drawn]]] = {}
    for want, drawn in read:
        if want.kind == "set-up":
            by_subject.setdefault(want.subjects[0], []).append((want, drawn))
    for files in by_subject.values():
        if len(files) > 1:
            yield from _index(files)
    for piece in derived.pieces:
        files = by_subject.get(piece.name, [])
        if files and len(files) == len(piece.set_ups) and files[0][0].shop.compensation != "kerf":
            yield from _through(derived, piece, files, matching)


def _is_index(derived: Derived, hole: tuple[float, float, float]) -> bool:
    """True when a circle of the design stands where an index hole of that diameter does."""
    for cut in (c for r in derived.results.values() for c in r.cuts if c.index):
        x, y = cut.region.centroid
        if math.dist((x, y), hole[:2]) <= TOGETHER_MM and abs((cut.diameter_mm or 0.0) - 2 * hole[2]) <= 0.005:
            return True
    return False


def _layers(want: Expected, drawn: Drawn) -> Iterator[tuple[Layer, Entity]]:
    for e in drawn.entities:
        layer = parse(ours(e.layer, want.shop.layers))
        if layer is not None and e.contour is not None:
            yield layer, e


def _holes(want: Expected, drawn: Drawn, works: tuple[str, ...]) -> list[tuple[float, float, float]]:
    """(x, y, diameter) of circles on these works, turned back to the design."""
    found: list[tuple[float, float, float]] = []
    for layer, e in _layers(want, drawn):
        assert e.contour is not None
        round_one = e.contour.circle() if layer.work in works and e.contour.closed else None
        if round_one:
            found.append((*want.seen.back(*round_one[:2]), 2 * round_one[2]))
    return found


def _index(files: list[tuple[Expected, Drawn]]) -> Iterator[Finding]:
    """Each hole on INDEX has its like in every other set-up of the same piece or blank, at the same place."""
    for want, drawn in files:
        for x, y, diameter in _holes(want, drawn, ("INDEX",)):
            for other, other_drawn in files:
                if other is want:
                    continue
                there = _holes(other, other_drawn, ("INDEX", "DRILL", "CUT_INSIDE"))
                apart = min((math.dist((x, y), h[:2]) for h in there), default=math.inf)
                alike = [h for h in there if math.dist((x, y), h[:2]) <= TOGETHER_MM]
                told = Told(file=want.path, want=want)
                if not alike:
                    gap = f"{apart:.3f} mm away" if apart < 1e6 else "nowhere"
                    yield told.finding(
                        f"The index hole at ({x:.2f}, {y:.2f}) of the design doesn't fall on one of {other.path} "
                        f"when that is turned back; the nearest is {gap}.",
                        at=want.seen.point(x, y),
                        measured=apart if apart < 1e6 else None,
                        limit=TOGETHER_MM,
                    )
                elif min(abs(h[2] - diameter) for h in alike) > 0.005:
                    yield told.finding(
                        f"The index hole at ({x:.2f}, {y:.2f}) of the design is {diameter:.2f} wide here and "
                        f"{alike[0][2]:.2f} in {other.path}.",
                        at=want.seen.point(x, y),
                        measured=diameter,
                        limit=alike[0][2],
                    )


def _through(
    derived: Derived, piece: Piece, files: list[tuple[Expected, Drawn]], matching: Matching
) -> Iterator[Finding]:
    """All through contours of all set-ups together are the edge and openings of the piece, each once.

    Bored holes and index holes may stand beside them: a piece's own shape need not show those.
    """
    cut: list[Entity] = []
    bored: list[Entity] = []
    for want, drawn in files:
        for layer, e in _layers(want, drawn):
            assert e.contour is not None
            here = Entity(
                kind=e.kind, layer=e.layer, line=e.line, contour=want.seen.contour_back(e.contour), at=e.at
            )
            if layer.work in ("CUT_OUTSIDE", "CUT_INSIDE"):
                cut.append(here)
            elif layer.work == "DRILL" and layer.through:
                bored.append(here)
    wanted = [
        Wanted(design=c, seen=Seen(), ours=Layer(work="CUT_INSIDE"), subject=piece.name)
        for c in piece.cut.contours
    ]
    matched = paired([*cut, *bored], wanted, ELSEWHERE_MM)
    told = Told(file=files[0][0].path, want=files[0][0])
    for e, w in matched.pairs:
        assert e.contour is not None
        away = matching.measured(e.contour, w)
        if away.mm > matching.limit_mm:
            yield told.finding(
                f"A through contour on {e.layer} is {away.mm:.4f} mm off the edge that {piece.name} shall have.",
                subject=piece.name,
                measured=away.mm,
                limit=matching.limit_mm,
            )
    for w in matched.missing:
        x0, y0, x1, y1 = w.design.bounds
        yield told.finding(
            f"An edge of {piece.name}, {x1 - x0:.2f} by {y1 - y0:.2f} mm about ({(x0 + x1) / 2:.2f}, "
            f"{(y0 + y1) / 2:.2f}) of the design, is cut in none of its set-ups.",
            subject=piece.name,
        )
    for e in matched.extra:
        assert e.contour is not None
        round_one = e.contour.circle()
        if any(e is b for b in bored) or (round_one and _is_index(derived, round_one)):
            continue
        x0, y0, x1, y1 = e.contour.bounds
        yield told.finding(
            f"Through contours of {piece.name} stand in more than one set-up, or one is too many: on {e.layer} "
            f"about ({(x0 + x1) / 2:.2f}, {(y0 + y1) / 2:.2f}) of the design.",
            subject=piece.name,
        )
