"""What is asked of a router: every shape it shall cut, with its depth, its neighbours and its shop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.checks.flat import (
    SLIVER_MM2,
    Narrow,
    Residue,
    closed,
    filled,
    narrows,
    opened,
    outer,
    residues,
    thin,
)
from pipeline.core.shop import Cutter, Shop
from pipeline.graph.watch import shared
from pipeline.steps.values import Blank, Cut, Derived, Piece

SPARE_MM = 2.0
"""A cutter goes to its usable length less this (trade.md 8, fault 6)."""
SHRUNK_MM = 0.003
"""Cutters are taken so much thinner: a slot as wide as the cutter is cut, and must not vanish by rounding."""
MEETS_MM = 0.02
"""Walls nearer than this meet."""


@dataclass(frozen=True, eq=False)
class Job:
    """One shape that a router shall cut in one piece or blank.

    ``shape`` is what goes; ``field`` is ``shape`` with all that is cut beside it at least as deep (the cutter
    may stand there too); ``counts`` is where wood that is left would matter. ``edge`` is an outer edge
    that the cutter follows from outside; ``shape`` and ``field`` are then the air round it.
    """

    step: str
    piece: str
    face: str
    shop: Shop
    depth_mm: float
    shape: BaseGeometry
    field: BaseGeometry
    counts: BaseGeometry
    fit: str = ""
    edge: BaseGeometry | None = None

    @shared
    def reaching(self) -> tuple[Cutter, ...]:
        """The shop's flat cutters that get down there, the smallest first."""
        return tuple(c for c in self.shop.end_cutters if reach(c) >= self.depth_mm - 1e-9)

    @shared
    def smallest(self) -> Cutter | None:
        """The smallest cutter that gets down there, else the smallest there is."""
        return (self.reaching or self.shop.end_cutters or (None,))[0]

    @shared
    def made(self) -> BaseGeometry:
        """What the smallest cutter makes of ``field``."""
        return self.made_by(self.smallest) if self.smallest else self.field

    @shared
    def narrows(self) -> tuple[Narrow, ...]:
        """Where the smallest cutter doesn't fit between two walls."""
        if self.smallest is None or self.counts.is_empty or self.lost(self.smallest) <= SLIVER_MM2:
            return ()
        near = shapely.buffer(self.counts, 0.05)
        return tuple(
            n for n in narrows(self.field, self.made, self.smallest.DC) if near.covers(shapely.Point(n.at_mm))
        )

    @shared
    def corners(self) -> tuple[Residue, ...]:
        """What the smallest cutter leaves in corners, deepest first; narrow places are not among them."""
        if self.smallest is None or self.counts.is_empty or self.lost(self.smallest) <= SLIVER_MM2:
            return ()
        left = residues(self.shape, self.made, self.counts)
        return tuple(r for r in left if r.depth_mm > 0.02 and not any(r.holds(n.at_mm) for n in self.narrows))

    def lost(self, cutter: Cutter) -> float:
        """Area in mm² of what a cutter leaves where it counts; an opening lies inside its shape."""
        if self.edge is not None:
            return 0.0 if self.counts.is_empty else float(self.closed_by(cutter).area - self.edge.area)
        made = self.made if cutter is self.smallest else self.made_by(cutter)
        if self.counts.area >= self.field.area - 1e-6:
            return float(self.field.area - made.area)
        return float(shapely.difference(self.counts, made).area)

    def closed_by(self, cutter: Cutter) -> BaseGeometry:
        """An outer edge as a cutter leaves it that goes all round."""
        assert self.edge is not None
        return closed(self.edge, max(cutter.DC / 2 - SHRUNK_MM, 1e-3))

    def made_by(self, cutter: Cutter) -> BaseGeometry:
        radius = max(cutter.DC / 2 - SHRUNK_MM, 1e-3)
        if self.edge is not None:
            return shapely.difference(self.field, self.closed_by(cutter))
        return opened(self.field, radius)


def reach(cutter: Cutter) -> float:
    """How deep a cutter can work, in mm: to its usable length less SPARE_MM, and no deeper than its edge
    where its shank is as thick as itself or thicker, because the shank would rub (trade.md 8, fault 6)."""
    free = cutter.LU - SPARE_MM
    return min(free, cutter.APMX) if cutter.DMM >= cutter.DC else free


def jobs(derived: Derived) -> tuple[Job, ...]:
    """All router work of a design: laminations, other pieces, glued blanks."""
    shops = {s.name: s for s in derived.recipe.shops.values()}
    stacked = {lam.piece: b for b in derived.blanks for lam in b.laminations}
    found: list[Job] = []
    for piece in derived.pieces:
        shop = shops.get(piece.shop)
        if shop is None or shop.process != "router":
            continue
        found += _piece_jobs(derived, piece, shop, stacked.get(piece.name))
    for blank in derived.blanks:
        shop = shops.get(blank.shop)
        if shop is not None and shop.process == "router":
            found += _blank_jobs(derived, blank, shop)
    return _once(found)


def _once(found: list[Job]) -> tuple[Job, ...]:
    """The same shape asked for in several laminations counts once, where it is deepest."""
    deepest: dict[tuple[str, str, bytes, bytes], Job] = {}
    for job in found:
        key = (job.step, job.shop.name, shapely.to_wkb(job.shape), shapely.to_wkb(job.field))
        if key not in deepest or job.depth_mm > deepest[key].depth_mm + 1e-9:
            deepest[key] = job
    return tuple(deepest.values())


# -- pieces ------------------------------------------------------------------------------------------
def _piece_jobs(derived: Derived, piece: Piece, shop: Shop, blank: Blank | None) -> Iterator[Job]:
    wanted = outer(thin(piece.region.polygon)) if blank is None else outer(thin(blank.region.polygon))
    # What is cut larger, or has ears, gets its finished edge later: there corners don't count yet.
    finished = piece.allowance_mm == 0.0
    yield _around(piece.step, piece.name, shop, piece.thickness_mm, wanted, finished=finished)
    if blank is None:
        cuts = list(_op_cuts(derived, piece.set_ups, piece.step, piece.thickness_mm))
        yield from _placed(cuts, [], piece.name, shop, wanted)
        return
    later = [thin(c.region.polygon) for c in _stack_cuts(derived, blank)]
    yield from _placed(list(_lamination_cuts(derived, blank, piece)), later, piece.name, shop, wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Taken:
    step: str
    face: str
    depth: float
    shape: BaseGeometry
    fit: str
    through: bool


def _lamination_cuts(derived: Derived, blank: Blank, piece: Piece) -> Iterator[_Taken]:
    """What a stack says it cuts in one lamination: merged openings lose their step, its numbers don't."""
    rows: Sequence[Mapping[str, Any]] = derived.results[blank.step].numbers.get("laminations", ())
    work = next((r["work"] for r in rows if r["piece"] == piece.name), ())
    for row in work:
        cut = cut_named(derived, row["step"], row["cut"], blank.step)
        if cut is None or cut.diameter_mm is not None or row["action"] not in ("through", "pocket", "ramp"):
            continue
        yield _Taken(
            step=cut.step,
            face=cut.face,
            depth=max(row["depth_mm"], row["deep_mm"]),
            shape=thin(cut.region.polygon),
            fit=cut.fit,
            through=row["action"] == "through",
        )


def _op_cuts(derived: Derived, set_ups: Sequence[Any], step: str, thickness: float) -> Iterator[_Taken]:
    """What the set-ups of a piece or blank cut inside its edge."""
    for set_up in set_ups:
        for op in set_up.ops:
            if op.work not in ("POCKET", "RAMP", "CUT_INSIDE"):
                continue
            through = op.work == "CUT_INSIDE"
            name = op.step or step
            yield _Taken(
                step=name,
                face=op.face,
                depth=thickness if through else max(op.depth_mm or 0.0, op.deep_mm or 0.0),
                shape=filled(op.contours),
                fit=next((c.fit for c in _cuts(derived, name) if c.fit), ""),
                through=through,
            )


def _blank_jobs(derived: Derived, blank: Blank, shop: Shop) -> Iterator[Job]:
    wanted = outer(thin(blank.region.polygon))
    for op in (op for s in blank.set_ups for op in s.ops if op.work == "CUT_OUTSIDE"):
        yield _around(op.step or blank.step, blank.name, shop, blank.thickness_mm, wanted)
    others = [thin(c.region.polygon) for c in _stack_cuts(derived, blank)]
    cuts = list(_op_cuts(derived, blank.set_ups, blank.step, blank.thickness_mm))
    yield from _placed(cuts, others, blank.name, shop, wanted)


def _stack_cuts(derived: Derived, blank: Blank) -> Iterator[Cut]:
    """All that a stack takes out of its blank, whenever it does: cavities that another one opens into."""
    for row in derived.results[blank.step].numbers.get("cuts", ()):
        cut = cut_named(derived, row["step"], row["cut"], blank.step)
        if cut is not None and cut.diameter_mm is None:
            yield cut


def _placed(
    cuts: list[_Taken], others: list[BaseGeometry], piece: str, shop: Shop, wanted: BaseGeometry
) -> Iterator[Job]:
    """Jobs with what lies open beside them: the other cuts of the piece that go as deep, and ``others`` that
    a cut ends at (it shares their wall, and what a corner keeps there is gone with them)."""
    for cut in cuts:
        beside = [
            c.shape
            for c in cuts
            if c is not cut and c.depth >= cut.depth - 1e-9 and (c.face == cut.face or c.through)
        ]
        beside += [
            s for s in others if 0 < shapely.distance(s, cut.shape) < MEETS_MM or _shares_wall(s, cut.shape)
        ]
        yield Job(
            step=cut.step,
            piece=piece,
            face=cut.face,
            shop=shop,
            depth_mm=cut.depth,
            shape=cut.shape,
            # Thinned walls that meet may leave a hair between them.
            field=closed(shapely.union_all([cut.shape, *beside]), MEETS_MM) if beside else cut.shape,
            counts=shapely.intersection(cut.shape, wanted),
            fit=cut.fit,
        )


def _shares_wall(a: BaseGeometry, b: BaseGeometry) -> bool:
    """True when two shapes touch along their walls without covering one another."""
    return bool(shapely.intersects(a, b)) and shapely.intersection(a, b).area < 0.5


def _around(
    step: str, piece: str, shop: Shop, thickness: float, edge: BaseGeometry, *, finished: bool = True
) -> Job:
    """The outer edge: the cutter stands in the air around it, as far as it needs."""
    room = 4 * max((c.DC for c in shop.end_cutters), default=6.0)
    x0, y0, x1, y1 = edge.bounds
    air = shapely.difference(shapely.box(x0 - room, y0 - room, x1 + room, y1 + room), edge)
    return Job(
        step=step,
        piece=piece,
        face="front",
        shop=shop,
        depth_mm=thickness,
        shape=air,
        field=air,
        counts=air if finished else shapely.Polygon(),
        edge=edge,
    )


# -- looking up --------------------------------------------------------------------------------------
def _cuts(derived: Derived, step: str) -> tuple[Cut, ...]:
    result = derived.results.get(step)
    return result.cuts if result else ()


def cut_named(derived: Derived, step: str, name: str, stack: str) -> Cut | None:
    """The plan rule of this name that a step gives; chambers are solved by the stack that cuts them."""
    found = (*_cuts(derived, step), *_cuts(derived, stack))
    return next((c for c in found if c.step == step and c.name == name), None)
