"""The cut, simulated from the files alone: what the shop's cutter leaves standing, against what the design wants.

A machinist has nothing but the files: layers say face, work and depth, contours say where. So each set-up's file
is cut in thought (a contour followed by the cutter or beam that the shop's profile would take, a pocket cleared by
it, a hole bored, a slope by its table), the set-ups of a piece are turned back over and united, and the solid is
compared with the piece's own shape at every height. Areas are of flattened forms; how far a line is off is
measured on the exact curves elsewhere (`compare`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.core.findings import Finding
from pipeline.proof.alike import alike
from pipeline.proof.cutter import Bench
from pipeline.proof.dxf import Drawn
from pipeline.proof.expect import Expected
from pipeline.proof.loops import NOTHING, SLIVER_MM, middle, thick, united
from pipeline.proof.matching import Told
from pipeline.proof.seen import Seen, on_sheet
from pipeline.proof.solids import Solid, as_cut, as_designed, levels
from pipeline.steps.values import Derived, Nest

Read = Sequence[tuple[Expected, Drawn]]
DEPTH_MM = 0.012
"""How far two slopes whose tables hold two decimals can be apart at one place."""
FREE = 1e-3
"""A through contour that has less than this share of itself in wood frees nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """The cut of one piece or sheet: ``stands_mm2`` is what stands at mid height, ``residue_mm2`` what no cutter
    of the shop reaches (checks speak of it), ``off_mm2`` the largest area that differs from the design."""

    subject: str
    stands_mm2: float
    residue_mm2: float
    off_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Difference:
    """An area between two heights that stands or is gone against the design."""

    gone: bool
    shape: BaseGeometry
    z0: float
    z1: float
    island: bool = False


def cut_pieces(
    derived: Derived, read: Read, benches: Mapping[str, Bench]
) -> tuple[list[Finding], dict[str, Solid], list[Simulated]]:
    """Simulate the cut of every piece that has files of its own: findings, solids by piece, and what came out."""
    findings: list[Finding] = []
    solids: dict[str, Solid] = {}
    rows: list[Simulated] = []
    for piece in derived.pieces:
        files = [(w, d) for w, d in read if w.kind == "set-up" and not w.blank and w.subjects == (piece.name,)]
        if not files or len(files) != len(piece.set_ups):
            continue  # a file that is missing or broken is told already
        bench = benches[files[0][0].shop.name]
        design = as_designed(piece, Seen(), laser=bench.shop.process == "laser")
        cut = joined([as_cut(w, d, bench, piece.thickness_mm, turned_back=True) for w, d in files])
        told = Told(file=files[0][0].path, want=files[0][0])
        found, off = compared(told, piece.name, cut, design, piece.thickness_mm, turned_back=True)
        findings += found
        solids[piece.name] = cut
        rows.append(_row(piece.name, cut, piece.thickness_mm, off))
    return findings, solids, rows


def cut_sheets(
    derived: Derived, read: Read, nests: Sequence[Nest], benches: Mapping[str, Bench]
) -> tuple[list[Finding], list[Simulated]]:
    """Simulate the cut of every nested sheet: all its parts at once, in the sheet's own frame."""
    pieces = {p.name: p for p in derived.pieces}
    turn_over = derived.recipe.frame.turn_over if derived.recipe.frame else "x"
    findings: list[Finding] = []
    rows: list[Simulated] = []
    for want, drawn in read:
        nest = next((n for n in nests if want.kind == "nest" and want.nest == (n.sheet, n.letter, n.number)), None)
        if nest is None:
            continue
        bench = benches[want.shop.name]
        parts = [
            as_designed(
                pieces[p.piece],
                on_sheet(pieces[p.piece].set_ups[0].face, turn_over, p),
                laser=bench.shop.process == "laser",
            )
            for p in nest.placements
            if len(pieces[p.piece].set_ups) == 1
        ]
        cut = as_cut(want, drawn, bench, nest.thickness_mm, turned_back=False)
        told = Told(file=want.path, want=want)
        found, off = compared(told, "the sheet", cut, joined(parts), nest.thickness_mm, turned_back=False)
        findings += found
        findings += _neighbours(told, cut, bench)
        rows.append(_row(want.path, cut, nest.thickness_mm, off))
    return findings, rows


# -- comparing -----------------------------------------------------------------------------------------
def differences(cut: Solid, design: Solid, thick_mm: float) -> list[Difference]:
    """Where the cut and the design differ by more than a sliver, the largest of each kind."""
    if alike(cut, design):
        return []
    worst: dict[bool, Difference] = {}
    spared = shapely.buffer(cut.residue, 2 * SLIVER_MM, quad_segs=2) if not cut.residue.is_empty else NOTHING
    for z0, z1 in levels(thick_mm, cut, design):
        z = (z0 + z1) / 2
        stands, wanted = cut.at(z, thick_mm), design.at(z, thick_mm)
        sliver = max([SLIVER_MM, *(DEPTH_MM / s for t in design.taken if (s := t.slope_at(z, thick_mm)))])
        gone = shapely.difference(wanted, stands)
        left = shapely.difference(shapely.difference(stands, wanted), spared)
        for kind, area in ((True, gone), (False, left)):
            core = thick(area, sliver)
            if core.is_empty:
                continue
            if kind not in worst or area.area > worst[kind].shape.area * 1.001:
                island = kind and any(
                    shapely.covers(shapely.buffer(area, 0.1), p) for p in shapely.get_parts(wanted)
                )
                shape = shapely.intersection(area, shapely.buffer(core, 1.5 * sliver))
                worst[kind] = Difference(gone=kind, shape=shape, z0=z0, z1=z1, island=island)
    return list(worst.values())


def compared(
    told: Told, subject: str, cut: Solid, design: Solid, thick_mm: float, *, turned_back: bool
) -> tuple[list[Finding], float]:
    """What is off in a cut, and the largest area of it; ``turned_back`` tells that it is in the design's frame."""
    findings = list(_through(told, subject, cut, turned_back))
    off = 0.0
    for d in differences(cut, design, thick_mm):
        off = max(off, d.shape.area)
        what = (
            f"takes {d.shape.area:.2f} mm² that the design keeps" + (", an island of it whole" if d.island else "")
            if d.gone
            else f"leaves {d.shape.area:.2f} mm² that the design takes away"
        )
        where = (
            "all through" if d.z1 - d.z0 >= thick_mm - 1e-9 else f"from {d.z0:.2f} to {d.z1:.2f} above its back"
        )
        findings.append(
            told.finding(
                f"Cut as these files say, {subject} isn't the design's: the cut {what}, {where}.",
                at=_spot(told, middle(d.shape), turned_back),
                subject="" if subject == "the sheet" else subject,
                measured=d.shape.area,
                limit=0.0,
                unit="mm²",
            )
        )
    return findings, off


def _through(told: Told, subject: str, cut: Solid, turned_back: bool) -> Iterator[Finding]:
    """Through contours that free nothing, or stand on the wrong side: inside for outside."""
    if not cut.outer and cut.inner:
        yield told.finding(f"No outside contour frees {subject}; all its through contours are inside ones.")
        return
    whole = united(cut.outer)
    for k, shape in enumerate(cut.outer):
        around = [o for i, o in enumerate(cut.outer) if i != k and o.area > shape.area and o.covers(shape)]
        host = [o for o in cut.inner if o.area > shape.area * (1 + 1e-6) and o.covers(shape)]
        if around and not host:
            yield told.finding(
                f"An outside contour lies within another, in its wood: what it encloses would stay in {subject} "
                "or fall out of it; an inside contour belongs there.",
                at=_spot(told, middle(shape), turned_back),
            )
    if not cut.outer:
        return
    for k, shape in enumerate(cut.inner):
        swapped = [o for o in cut.outer if shape.covers(o)]
        if swapped and not any(o.area > shape.area and o.covers(shape) for o in cut.outer):
            yield told.finding(
                "An inside contour runs round an outside one in no wood: the two stand for each other.",
                at=_spot(told, middle(shape), turned_back),
            )
            continue
        others = united([o for i, o in enumerate(cut.inner) if i != k and o.covers(shape)])
        wood = shapely.difference(shapely.intersection(shape, whole), others)
        if wood.area < FREE * shape.area:
            yield told.finding(
                f"An inside contour lies in no wood of {subject}; following it frees nothing.",
                at=_spot(told, middle(shape), turned_back),
            )


def _neighbours(told: Told, cut: Solid, bench: Bench) -> Iterator[Finding]:
    """Parts so near each other that the cut round one takes from the next."""
    wide = bench.narrowest_mm
    if len(cut.outer) < 2 or not wide:
        return
    net = [shapely.difference(o, united([h for h in cut.inner if o.covers(h)])) for o in cut.outer]
    tree = shapely.STRtree(net)
    for i, j in tree.query(net, predicate="dwithin", distance=wide - SLIVER_MM).T.tolist():
        if i < j:
            apart = float(net[i].distance(net[j]))
            yield told.finding(
                f"Two parts lie {apart:.2f} mm apart; a cut {wide:.2f} wide between them takes from one of the "
                "two.",
                at=middle(net[i]),
                measured=apart,
                limit=wide,
            )


# -- small -----------------------------------------------------------------------------------------------
def joined(solids: Sequence[Solid]) -> Solid:
    """Several set-ups, or several parts, as one."""
    found = solids[0]
    for more in solids[1:]:
        found = found.and_(more)
    return found


def _spot(told: Told, at: tuple[float, float], turned_back: bool) -> tuple[float, float]:
    """A place as the file has it."""
    return told.want.seen.point(*at) if turned_back and told.want else at


def _row(subject: str, cut: Solid, thick_mm: float, off: float) -> Simulated:
    return Simulated(
        subject=subject,
        stands_mm2=float(cut.at(thick_mm / 2, thick_mm).area),
        residue_mm2=float(cut.residue.area),
        off_mm2=off,
    )
