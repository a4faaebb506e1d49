"""Mass and centre of mass of the finished object: blanks less what is taken off them by hand, panels, bought
parts.

A blank is exact: region times thickness less its cuts, sloped floors too (`steps/solids.py`), and so is what is
cut by hand with templates. What edges lose counts with the mass that the stack tells (an even bevel: its volume,
as wood of the outer lamination), at the middle of the edge shifted inward by the centre of its section. Hollows
at an edge tell no volume and don't count; `left_out` says so. Carved laminations count as they are sawn, steps
and all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from pipeline.core.recipe import Recipe
from pipeline.core.text import listed
from pipeline.geometry.contour import Contour
from pipeline.steps.values import Blank, Derived, Piece

OBJECT_ROLES = ("panel", "cover")
"""Pieces that are part of the object; laminations count in their blank, templates and gauges never."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One thing that has mass: ``mass_g`` of one object's worth, ``at_mm`` its centre where known."""

    name: str
    mass_g: float | None
    at_mm: tuple[float, float, float] | None


def composite(shares: Iterable[tuple[float, tuple[float, float, float]]]) -> tuple[float, float, float]:
    """Centre of several masses, Σ m r / Σ m; a hole is a negative mass. ValueError when they sum to 0."""
    listed = list(shares)
    total = sum(m for m, _ in listed)
    if not total:
        raise ValueError("masses that sum to nothing have no centre")
    x, y, z = (sum(m * at[k] for m, at in listed) / total for k in range(3))
    return x, y, z


def shares(derived: Derived) -> tuple[Share, ...]:
    """Everything that one finished object is made of: blanks, panels, covers, bought parts. What is taken off a
    blank after it was weighed is a share of its own with a negative mass."""
    recipe = derived.recipe
    found: list[Share] = []
    for b in derived.blanks:
        each = b.count / recipe.make
        found.append(Share(name=b.name, mass_g=_times(b.mass_g, each), at_mm=b.centre_mm))
        if b.mass_g is not None:
            found += [
                Share(name=v.name, mass_g=_times(v.mass_g, each), at_mm=v.at_mm) for v in taken_off(derived, b)
            ]
    kept = [p for p in derived.pieces if p.role in OBJECT_ROLES]
    lone = len(kept) == 1 and not derived.blanks
    found += [
        Share(name=p.name, mass_g=_times(p.mass_g, p.count / recipe.make), at_mm=_centre(derived, p, lone))
        for p in kept
    ]
    found += [
        Share(name=name, mass_g=part.mass * part.count, at_mm=part.at)
        for name, part in recipe.hardware.items()
        if part.mass
    ]
    return tuple(found)


def left_out(derived: Derived) -> tuple[str, ...]:
    """What the mass leaves out, a sentence each."""
    return tuple(
        f"The hollow on the {row['face']} edge of {b.name} is not counted: carve it, and weigh what is left."
        for b in derived.blanks
        for row in derived.results[b.step].numbers.get("edge", ())
        if row.get("removed_mm3") is None
    )


def mass_and_centre(derived: Derived) -> tuple[float | None, tuple[float, float, float] | None]:
    """(mass in g, centre in mm) of one object; None for what can't be known.

    The mass needs every density; the centre needs a place for everything that has mass.
    """
    found = shares(derived)
    if not found or any(s.mass_g is None for s in found):
        return None, None
    mass = sum(s.mass_g or 0.0 for s in found)
    placed = [(s.mass_g or 0.0, s.at_mm) for s in found if s.mass_g and s.at_mm is not None]
    if not placed or len(placed) < sum(bool(s.mass_g) for s in found):
        return mass, None
    return mass, composite((m, at) for m, at in placed if at is not None)


def unknown(derived: Derived) -> tuple[str, ...]:
    """Why mass or centre of mass can't be stated, a sentence each."""
    found = shares(derived)
    told = [f"The mass of {s.name} is not known: its sheet has no density." for s in found if s.mass_g is None]
    lost = [s.name for s in found if s.mass_g and s.at_mm is None]
    for names, where in (
        ([n for n in lost if n not in derived.recipe.hardware], "`balance: {pieces: …}`"),
        ([n for n in lost if n in derived.recipe.hardware], "`at:` in `hardware`"),
    ):
        if names:
            has = "has a mass but no place" if len(names) == 1 else "have a mass but no places"
            they = "it lies" if len(names) == 1 else "they lie"
            told.append(
                f"{listed(names, 'and')} {has}, so the centre of mass can't be told. Say where {they}: {where}."
            )
    return tuple(told)


def _times(mass: float | None, factor: float) -> float | None:
    return None if mass is None else mass * factor


# -- blanks --------------------------------------------------------------------------------------------
def taken_off(derived: Derived, blank: Blank) -> tuple[Share, ...]:
    """What a blank loses after its own mass was told: by hand with templates, and at its edges."""
    return (*_by_hand(derived, blank), *_edges(derived, blank))


def _by_hand(derived: Derived, blank: Blank) -> Iterable[Share]:
    """The difference that the cuts of ``by_hand`` make, exactly; nothing where a density is unknown."""
    steps, results, sheets = derived.recipe.steps, derived.results, derived.recipe.sheets
    spec = steps[blank.step].spec
    cuts = [c for n in getattr(spec, "by_hand", ()) if n in results for c in results[n].cuts if not c.index]
    density = [sheets[v.sheet].density for v in blank.laminations if v.sheet in sheets]
    if not cuts or blank.mass_g is None or len(density) < len(blank.laminations):
        return
    from pipeline.steps.heights import Span, floor_of
    from pipeline.steps.solids import body

    total = blank.laminations[-1].z1
    tops = [v.z0 for v in blank.laminations[1:]] + [total]
    layers = [
        (Span(number=v.number, z0=v.z0, z1=top), d)
        for v, top, d in zip(blank.laminations, tops, density, strict=True)
        if d is not None
    ]
    other = [n for n in (*spec.cut, *spec.cut_blank) if n != spec.outline]
    machined = [c for n in other for c in results[n].cuts if not c.index] + list(results[blank.step].cuts)
    before = body(blank.region, layers, [floor_of(c, total) for c in machined])
    after = body(blank.region, layers, [floor_of(c, total) for c in (*machined, *cuts)])
    gone = before.mass_g - after.mass_g
    if gone > 1e-9:
        at = composite(((before.mass_g, before.centre_mm), (-after.mass_g, after.centre_mm)))
        yield Share(name=f"{blank.name}, cut by hand", mass_g=-gone, at_mm=at)


ROUND_IN = (10 - 3 * math.pi) / (12 - 3 * math.pi)
"""How far the centre of a square corner less its quarter circle lies from either side, by its radius: 0.2234."""


def _edges(derived: Derived, blank: Blank) -> Iterable[Share]:
    """What rounding and bevels take, by face and kind. The centre of what goes lies from the edge toward the inner
    line by a share of their distance (a third for a triangle), and as far below the face."""
    gone: dict[tuple[str, str], float] = {}
    for row in derived.results[blank.step].numbers.get("edge", ()):
        key = row["face"], row["kind"]
        mass = row.get("removed_g")
        if mass is None:
            mass = row.get("removed_mm3", 0.0) * 1e-6 * (_density(derived, blank, row["face"]) or 0.0)
        gone[key] = gone.get(key, 0.0) + mass
    for (face, kind), mass in gone.items():
        runs = [r for r in blank.edges if (r.face, r.kind) == (face, kind)]
        if not mass or not runs:
            continue
        share = ROUND_IN if kind == "round" else 1 / 3
        edge = composite(_wire(r.edge) for r in runs)
        lines = [c for r in runs for c in r.lines]
        inner = composite(_wire(c) for c in lines) if lines else edge
        deep = share * sum(r.size_mm * r.edge.length for r in runs) / sum(r.edge.length for r in runs)
        x, y = (a + share * (b - a) for a, b in zip(edge[:2], inner[:2], strict=True))
        z = blank.thickness_mm - deep if face == "front" else deep
        word = {"round": "rounding", "bevel": "bevel", "scoop": "hollow"}[kind]
        yield Share(name=f"{blank.name}, {face} {word}", mass_g=-mass, at_mm=(x, y, z))


def _density(derived: Derived, blank: Blank, face: str) -> float | None:
    """The density of the lamination on a face."""
    sheet = blank.laminations[-1 if face == "front" else 0].sheet
    return derived.recipe.sheets[sheet].density if sheet in derived.recipe.sheets else None


def _wire(contour: Contour) -> tuple[float, tuple[float, float, float]]:
    """(length, middle) of a line as if it were a wire."""
    points = contour.flatten(0.01)[0]
    ends = np.roll(points, -1, axis=0) if contour.closed else points[1:]
    starts = points if contour.closed else points[:-1]
    long = np.hypot(*(ends - starts).T)
    x, y = ((starts + ends) / 2 * long[:, None]).sum(axis=0) / long.sum()
    return float(long.sum()), (float(x), float(y), 0.0)


# -- panels --------------------------------------------------------------------------------------------
def _centre(derived: Derived, piece: Piece, lone: bool) -> tuple[float, float, float] | None:
    """Where a panel or cover sits: as `balance.pieces` says; else a lone panel lies on z = 0, a cover in the face
    of its cavity. How several panels stand to one another nothing else says, so theirs is unknown.
    """
    balance = derived.recipe.balance
    told = balance.pieces.get(piece.name) if balance else None
    if isinstance(told, tuple):
        return told
    x, y, z = _own_centre(derived, piece)
    if told is not None:
        return x, y, told + z
    if lone:
        return x, y, z
    if piece.role == "cover" and derived.blanks:
        face = _face(derived.recipe, piece)
        if face:
            half = piece.thickness_mm / 2
            return x, y, half if face == "back" else derived.blanks[0].thickness_mm - half
    return None


def _own_centre(derived: Derived, piece: Piece) -> tuple[float, float, float]:
    """The centre of a panel that lies on z = 0 as drawn, less what is cut into it part of the way."""
    x, y = piece.region.centroid
    if not piece.partial or piece.step not in derived.recipe.steps:
        return x, y, piece.thickness_mm / 2
    from pipeline.steps.heights import Span, floor_of
    from pipeline.steps.solids import body

    names = getattr(derived.recipe.steps[piece.step].spec, "cut", ())
    cuts = [c for n in names if n in derived.results for c in derived.results[n].cuts]
    floors = [floor_of(c, piece.thickness_mm) for c in cuts if c.depth.rule in ("depth", "floor")]
    whole = ((Span(number=1, z0=0.0, z1=piece.thickness_mm), 1000.0),)
    return body(piece.region, whole, floors).centre_mm


def _face(recipe: Recipe, piece: Piece) -> str:
    """The face of the cavity that a cover closes, empty where no step it needs has one."""
    needs = recipe.steps[piece.step].needs if piece.step in recipe.steps else {}
    faces = (getattr(recipe.steps[n].spec, "face", "") for n in needs if n in recipe.steps)
    return next((str(f) for f in faces if f in ("front", "back")), "")
